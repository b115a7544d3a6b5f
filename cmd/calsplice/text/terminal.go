package text

import (
	"io"
	"os"

	"golang.org/x/term"
)

// Terminal is the terminal that a writer writes to in the end, and its width in
// columns; nil where it is none. A writer that stands before another says so by
// an Unwrap method.
func Terminal(w io.Writer) (f *os.File, width int) {
	for {
		if before, ok := w.(interface{ Unwrap() io.Writer }); ok {
			w = before.Unwrap()
			continue
		}
		f, ok := w.(*os.File)
		if !ok || !term.IsTerminal(int(f.Fd())) {
			return nil, 0
		}
		if width, _, err := term.GetSize(int(f.Fd())); err == nil && width >= 20 {
			return f, width
		}
		return f, 80
	}
}
