package text

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/rivo/uniseg"

	"calsplice/cmd/calsplice/view"
)

// wide is a map of 30 columns.
func wide() view.Grid {
	g := view.Grid{XName: "engine speed [r/min]", YName: "air charge [mg]", Table: view.Table{Head: []string{""}, Numbers: slices.Repeat([]bool{true}, 31), Lines: [][]view.Cell{{{Text: "100"}}, {{Text: "1000"}}}}}
	for c := range 30 {
		g.Head = append(g.Head, fmt.Sprint(400*(c+1)))
		for r := range g.Lines {
			g.Lines[r] = append(g.Lines[r], view.Cell{Text: fmt.Sprintf("%d.25", 30*r+c), Scale: view.BySize, Level: float64(c) / 29})
		}
	}
	return g
}

// TestGridFitsTheWindow: at any width no line is longer, and no cell is lost.
func TestGridFitsTheWindow(t *testing.T) {
	g := wide()
	for _, width := range []int{20, 40, 80, 200} {
		var b bytes.Buffer
		p := &Printer{W: &b, Width: width}
		p.Grid(g)
		for line := range strings.Lines(b.String()) {
			if w := uniseg.StringWidth(strings.TrimSuffix(line, "\n")); w > width {
				t.Errorf("at %d columns a line has %d: %q", width, w, line)
			}
		}
		for _, cell := range slices.Concat(g.Lines...) {
			if !strings.Contains(b.String(), cell.Text) {
				t.Errorf("at %d columns %s is lost", width, cell.Text)
			}
		}
	}
}

// TestColourSaysNothingAlone: with the escape codes taken out, every depth
// prints the same.
func TestColourSaysNothingAlone(t *testing.T) {
	g := wide()
	plain := ""
	for _, d := range []Depth{None, TwoFiftySix, True} {
		var b bytes.Buffer
		(&Printer{W: &b, Width: 80, Depth: d}).Grid(g)
		s := stripped(b.String())
		if d == None {
			plain = s
			if s != b.String() {
				t.Error("escape codes without colour")
			}
		} else if strings.TrimSpace(s) != strings.TrimSpace(plain) || s == b.String() {
			t.Errorf("depth %d prints otherwise:\n%s\nwant\n%s", d, s, plain)
		}
	}
}

// TestInk: text has the colour that reads on what the terminal shows.
func TestInk(t *testing.T) {
	cell := view.Cell{Scale: view.BySize, Level: 0.41}
	for d, want := range map[Depth]string{TwoFiftySix: "\x1b[30;48;5;30ma\x1b[0m", True: "\x1b[97;48;2;41;123;142ma\x1b[0m"} {
		if got := (&Printer{Depth: d}).Paint("a", cell); got != want {
			t.Errorf("depth %d: %q, want %q", d, got, want)
		}
	}
}

func stripped(s string) string {
	var b strings.Builder
	for {
		i := strings.IndexByte(s, 0x1b)
		if i < 0 {
			return b.String() + s
		}
		b.WriteString(s[:i])
		s = s[i+strings.IndexByte(s[i:], 'm')+1:]
	}
}

func TestWrap(t *testing.T) {
	var b bytes.Buffer
	(&Printer{W: &b, Width: 20}).Wrap("- ", "one change at a time, and check the fuel first")
	want := "- one change at a\n  time, and check\n  the fuel first\n"
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}

// TestColorFlag: the flag decides before NO_COLOR, NO_COLOR before the terminal.
func TestColorFlag(t *testing.T) {
	t.Setenv("TERM", "xterm-256color")
	t.Setenv("COLORTERM", "")
	t.Setenv("WT_SESSION", "")
	t.Setenv("NO_COLOR", "1")
	for color, want := range map[string]Depth{"always": TwoFiftySix, "never": None, "auto": None, "": None} {
		if p := NewPrinter(&bytes.Buffer{}, color); p.Depth != want {
			t.Errorf("%q: got %v, want %v", color, p, want)
		}
	}
	for _, c := range []struct {
		no, clicolor, force string
		want                Depth
		why                 string
	}{
		{"", "", "", None, "no terminal"},
		{"", "1", "", TwoFiftySix, "forced without a terminal"},
		{"", "", "1", TwoFiftySix, "by the other variable"},
		{"", "0", "0", None, "0 forces nothing"},
		{"1", "1", "1", None, "NO_COLOR goes first"},
	} {
		t.Setenv("NO_COLOR", c.no)
		t.Setenv("CLICOLOR_FORCE", c.clicolor)
		t.Setenv("FORCE_COLOR", c.force)
		if p := NewPrinter(&bytes.Buffer{}, "auto"); p.Depth != c.want {
			t.Errorf("%s: depth %v", c.why, p.Depth)
		}
	}
}

// TestRows: numbers stand under their heading, a last column of words beside its row
// or below it, and a table that is wider than the window in panels.
func TestRows(t *testing.T) {
	rows := func(head []string, numbers []int, lines ...[]string) *view.Rows {
		for _, c := range numbers {
			head[c] = "#" + head[c]
		}
		r := view.NewRows(head...)
		for _, line := range lines {
			r.Line(line...)
		}
		return r
	}
	for _, c := range []struct {
		rows  *view.Rows
		width int
		want  string
		why   string
	}{
		{rows([]string{"Cause", "Largest"}, []int{1}, []string{"leak", "7 %"}, []string{"none", "11 %"}), 40,
			"Cause  Largest\nleak       7 %\nnone      11 %\n", "a heading wider than its numbers"},
		{rows([]string{"Log", "Rows", "Why"}, []int{1}, []string{"a.csv", "7", "not warm"}), 40,
			"Log    Rows  Why\na.csv     7  not warm\n", "words beside their row"},
		{rows([]string{"Log", "Rows", "Why"}, []int{1}, []string{"a.csv", "7", "not warm"}), 14,
			"Log    Rows\na.csv     7\n    not warm\n", "words below it"},
		{rows([]string{"Log", "Rows", "Not used, because"}, []int{1}, []string{"a.csv", "7", "hot"}), 18,
			"Log    Rows\na.csv     7\n    hot\n", "words below it whose heading has no room beside it"},
		{rows([]string{"Log", "Rows", "Used"}, []int{1, 2}, []string{"a.csv", "7", ""}), 14,
			"Log    Rows\na.csv     7\n\nLog    Used\na.csv\n", "a heading over no numbers"},
		{rows([]string{"Log", "Rows", "Why"}, []int{1}, []string{"a.csv", "7", ""}), 40,
			"Log    Rows\na.csv     7\n", "no words at all"},
		{rows([]string{"Log", "Rows", "Used"}, []int{1, 2}, []string{"a.csv", "7", "5"}), 14,
			"Log    Rows\na.csv     7\n\nLog    Used\na.csv     5\n", "panels"},
		{rows(nil, nil, []string{"spark.advance", "9 of 72 cells"}), 40, "spark.advance  9 of 72 cells\n", "no headings"},
		{&view.Rows{Caption: "Nothing"}, 40, "Nothing\n", "no lines"},
	} {
		var b bytes.Buffer
		(&Printer{W: &b, Width: c.width}).Rows(c.rows)
		if b.String() != c.want {
			t.Errorf("%s: got\n%s\nwant\n%s", c.why, b.String(), c.want)
		}
	}
}
