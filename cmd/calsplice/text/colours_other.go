//go:build !windows

package text

import "os"

// enableColours reports whether a terminal takes escape codes; all but old
// Windows consoles do.
func enableColours(*os.File) bool { return true }
