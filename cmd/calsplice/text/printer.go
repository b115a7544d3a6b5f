// Package text draws results on a terminal: grids with their axes that fit the
// window, shaded where the terminal has colours, and readable where it has none.
//
// Whatever a user wrote passes through [tables.Clean] on its way, so that no
// title steers a terminal.
package text

import (
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/rivo/uniseg"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables/shade"
)

// Depth is how many colours a terminal shows.
type Depth int

// The depths of colour. None is for pipes, NO_COLOR and dumb terminals.
const (
	None Depth = iota
	TwoFiftySix
	True
)

// Printer writes to one output, whose width and colours it knows.
type Printer struct {
	W     io.Writer
	Width int // columns
	Depth Depth

	begun bool // something was printed
}

// NewPrinter looks at the output: color, "always" or "never", decides
// first; then NO_COLOR (no-color.org); then CLICOLOR_FORCE
// (bixense.com/clicolors) and FORCE_COLOR (force-color.org); then whether w is a
// terminal. What is not a terminal is 80 columns wide.
func NewPrinter(w io.Writer, color string) *Printer {
	p := &Printer{W: w, Width: 80}
	terminal := false
	if f, width := Terminal(w); f != nil {
		p.Width = width
		terminal = enableColours(f)
	}
	switch color {
	case "always":
		p.Depth = max(depth(), TwoFiftySix)
	case "never":
	default:
		switch forced := isSet("CLICOLOR_FORCE") || isSet("FORCE_COLOR"); {
		case os.Getenv("NO_COLOR") != "":
		case forced:
			p.Depth = max(depth(), TwoFiftySix)
		case terminal:
			p.Depth = depth()
		}
	}
	return p
}

// isSet reports whether a variable of the environment says yes: anything but
// nothing and 0.
func isSet(name string) bool {
	v := os.Getenv(name)
	return v != "" && v != "0"
}

// depth is what the environment says of the terminal. One of fewer than 256 colours shows
// its nearest.
func depth() Depth {
	switch name := os.Getenv("TERM"); {
	case name == "dumb":
		return None
	case strings.Contains(os.Getenv("COLORTERM"), "truecolor"), strings.Contains(os.Getenv("COLORTERM"), "24bit"), os.Getenv("WT_SESSION") != "":
		return True
	}
	return TwoFiftySix
}

// Line writes one line of formatted text.
func (p *Printer) Line(format string, args ...any) {
	fmt.Fprintf(p.W, format+"\n", args...)
}

// Wrap writes text in lines no longer than the width; the first begins with
// lead, the others are indented as far.
func (p *Printer) Wrap(lead, s string) {
	indent := strings.Repeat(" ", min(uniseg.StringWidth(lead), p.Width/2))
	for _, line := range broken(lead, indent, s, p.Width) {
		fmt.Fprintln(p.W, line)
	}
}

// Paint puts s on a cell's shade, dim or bold, as far as the terminal can.
func (p *Printer) Paint(s string, c view.Cell) string {
	if p.Depth == None {
		return s
	}
	var codes []string
	if c.Mark&view.Changed != 0 {
		codes = append(codes, "1")
	}
	if c.Mark&(view.Faint|view.Thin|view.Inferred) != 0 {
		codes = append(codes, "2")
	}
	switch c.Scale {
	case view.BySize:
		codes = append(codes, p.background(shade.Size(c.Level, 0, 1)))
	case view.BySign:
		codes = append(codes, p.background(shade.Sign(c.Level, 1)))
	}
	if len(codes) == 0 {
		return s
	}
	return "\x1b[" + strings.Join(codes, ";") + "m" + s + "\x1b[0m"
}

// background is the escape code of a shade under the text that reads on it.
func (p *Printer) background(c shade.RGB) string {
	code := fmt.Sprintf("48;2;%d;%d;%d", c.R, c.G, c.B)
	if p.Depth == TwoFiftySix {
		var n int
		n, c = c.ANSI256()
		code = fmt.Sprintf("48;5;%d", n)
	}
	if c.Text() == shade.White {
		return "97;" + code
	}
	return "30;" + code
}
