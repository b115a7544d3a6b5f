package text

import (
	"bytes"
	"io"
	"strings"

	"github.com/rivo/uniseg"
)

// Folded is w for what is reported to a person line by line: where w is a terminal,
// a line that is wider goes on in the next, at a blank and indented. Elsewhere a
// line stays a line, for programs to read.
func Folded(w io.Writer) io.Writer {
	if f, width := Terminal(w); f != nil {
		return &folded{w, width}
	}
	return w
}

type folded struct {
	w     io.Writer
	width int
}

func (f *folded) Unwrap() io.Writer { return f.w }

func (f *folded) Write(b []byte) (int, error) {
	var out strings.Builder
	for line := range bytes.Lines(b) {
		out.WriteString(fold(string(line), f.width))
	}
	if _, err := io.WriteString(f.w, out.String()); err != nil {
		return 0, err
	}
	return len(b), nil
}

// fold breaks a line, which may have its end, at blanks, so that no part is
// wider than width; a word that is wider stands alone. What is drawn with escape
// codes has been fitted already.
func fold(line string, width int) string {
	text := strings.TrimSuffix(line, "\n")
	if uniseg.StringWidth(text) <= width || strings.Contains(text, "\x1b") {
		return line
	}
	indent := strings.Repeat(" ", min(len(text)-len(strings.TrimLeft(text, " "))+2, width/2))
	return strings.Join(broken("", indent, text, width), "\n") + line[len(text):]
}

// broken are the lines of a text that is broken at blanks, the first behind lead and the
// others behind indent, so that none is wider than width but for one word.
func broken(lead, indent, text string, width int) (list []string) {
	line, used, begun := lead, uniseg.StringWidth(lead), false
	for i, word := range strings.Split(text, " ") {
		w := uniseg.StringWidth(word)
		switch {
		case i == 0:
		case begun && used+1+w > width:
			list = append(list, strings.TrimRight(line, " "))
			line, used, begun = indent, len(indent), false
		default:
			line, used = line+" ", used+1
		}
		line, used, begun = line+word, used+w, begun || word != ""
	}
	return append(list, strings.TrimRight(line, " "))
}
