package text

import (
	"os"

	"golang.org/x/sys/windows"
)

// enableColours switches a Windows console to escape codes, and reports whether
// it could.
func enableColours(f *os.File) bool {
	h := windows.Handle(f.Fd())
	var mode uint32
	if windows.GetConsoleMode(h, &mode) != nil {
		return false
	}
	return windows.SetConsoleMode(h, mode|windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING) == nil
}
