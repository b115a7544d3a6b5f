package text

import (
	"slices"
	"strings"

	"github.com/rivo/uniseg"

	"calsplice/cmd/calsplice/view"
)

// table is what is set in columns: the first heads the rows, and stands again in
// every panel.
type table struct {
	headed bool // the first line is headings
	lines  [][]view.Cell
	gap    int // between columns
	right  func(column int) bool
	words  bool // the last column holds words, which may go below their row
}

// Grid writes a grid as wide as the window: where it is wider, its columns go
// on in further panels, each with the row headings again.
func (p *Printer) Grid(g view.Grid) {
	names := g.XName
	if g.YName != "" {
		names = g.YName + " down, " + g.XName + " across"
	}
	if g.Name != "" {
		names = strings.TrimSuffix(g.Name+": "+names, ": ")
	}
	if names != "" {
		p.Wrap("  ", names)
	}
	t := table{gap: 1, right: func(int) bool { return true }}
	if g.X != nil {
		t.head(append([]string{""}, g.X...))
	}
	trails := slices.ContainsFunc(g.Cells, func(row []view.Cell) bool { return slices.ContainsFunc(row, view.Cell.Trails) })
	for r, row := range g.Cells {
		line := make([]view.Cell, 1, len(row)+1)
		if r < len(g.Y) {
			line[0].Text = g.Y[r]
		}
		for _, c := range row {
			c.Text = c.Marked()
			if trails && !c.Trails() {
				c.Text += " " // so that figures stand below each other
			}
			line = append(line, c)
		}
		t.lines = append(t.lines, line)
	}
	p.columns(t)
}

// Rows prints a table in columns. A last column of words that does not fit goes
// below its row; where the others do not fit either, they go on in further
// panels, each with the first column again.
func (p *Printer) Rows(r *view.Rows) {
	if r.Caption != "" {
		p.Wrap("", r.Caption)
	}
	t := table{gap: 2, right: r.Number}
	if len(r.Head) > 0 {
		t.head(r.Head)
	}
	for _, line := range r.Lines {
		t.lines = append(t.lines, texts(line))
	}
	if len(t.lines) > 0 {
		last := len(t.lines[0]) - 1
		t.words = last > 0 && !r.Number(last)
		p.columns(t)
	}
	if r.More != "" {
		p.Wrap("", r.More)
	}
}

func (t *table) head(words []string) { t.headed, t.lines = true, [][]view.Cell{texts(words)} }

func texts(words []string) []view.Cell {
	line := make([]view.Cell, len(words))
	for i, s := range words {
		line[i].Text = s
	}
	return line
}

// remark is the least room that a last column of words is set in.
const remark = 20

// widths are those of the columns; a column of words without any has none.
func (t *table) widths() []int {
	widths := make([]int, len(t.lines[len(t.lines)-1]))
	for i := len(t.lines) - 1; i >= 0; i-- {
		for c, cell := range t.lines[i] {
			if i > 0 || !t.headed || !t.words || c < len(widths)-1 || widths[c] > 0 {
				widths[c] = max(widths[c], uniseg.StringWidth(cell.Text))
			}
		}
	}
	return widths
}

func (p *Printer) columns(t table) {
	if len(t.lines) == 0 {
		return
	}
	widths := t.widths()
	last, end := len(widths)-1, len(widths) // of the columns that are aligned
	if t.words {
		end = last
	}
	for first := 1; ; {
		next, used := first, widths[0]
		for next < end && (next == first || used+t.gap+widths[next] <= p.Width) {
			used += t.gap + widths[next]
			next++
		}
		below := t.words && next == end
		beside := below && widths[last] > 0 && used+t.gap+min(widths[last], remark) <= p.Width
		for i, line := range t.lines {
			s := p.set(&t, widths, line, 0)
			for c := first; c < next; c++ {
				s += strings.Repeat(" ", t.gap) + p.set(&t, widths, line, c)
			}
			if beside {
				p.Wrap(s+strings.Repeat(" ", t.gap), line[last].Text)
				continue
			}
			p.Line("%s", strings.TrimRight(s, " "))
			if below && line[last].Text != "" && (i > 0 || !t.headed) {
				p.Wrap("    ", line[last].Text)
			}
		}
		if next >= end {
			return
		}
		p.Line("")
		first = next
	}
}

// set is a cell in its column.
func (p *Printer) set(t *table, widths []int, line []view.Cell, c int) string {
	s, blanks := line[c].Text, ""
	if room := widths[c] - uniseg.StringWidth(s); room > 0 {
		blanks = strings.Repeat(" ", room)
	}
	if t.right(c) {
		return p.Paint(blanks+s, line[c])
	}
	return p.Paint(s, line[c]) + blanks
}
