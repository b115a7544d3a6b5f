package text

import (
	"slices"
	"strings"

	"github.com/rivo/uniseg"

	"calsplice/cmd/calsplice/view"
)

// table is what is set in columns: the first heads the lines, and stands again in
// every panel.
type table struct {
	view.Table
	lines [][]view.Cell // the headings too
	words bool          // the last column holds words, which may go below their row
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
	t := view.Table{Head: g.Head, Numbers: g.Numbers}
	trails := slices.ContainsFunc(g.Lines, func(row []view.Cell) bool { return slices.ContainsFunc(row, view.Cell.Trails) })
	for _, line := range g.Lines {
		line = slices.Clone(line)
		for i, c := range line[1:] {
			text := c.Marked()
			if trails && !c.Trails() {
				text += " " // so that figures stand below each other
			}
			line[i+1].Text = text
		}
		t.Lines = append(t.Lines, line)
	}
	p.columns(t, 1)
}

// Rows prints a table in columns. A last column of words that does not fit goes
// below its row; where the others do not fit either, they go on in further
// panels, each with the first column again.
func (p *Printer) Rows(r *view.Rows) {
	if r.Caption != "" {
		p.Wrap("", r.Caption)
	}
	p.columns(r.Table, 2)
	if r.More != "" {
		p.Wrap("", r.More)
	}
}

// remark is the least room that a last column of words is set in.
const remark = 20

// widths are those of the columns; a column of words without any has none.
func (t *table) widths() []int {
	widths := make([]int, len(t.lines[len(t.lines)-1]))
	for i := len(t.lines) - 1; i >= 0; i-- {
		for c, cell := range t.lines[i] {
			if i > 0 || t.Head == nil || !t.words || c < len(widths)-1 || widths[c] > 0 {
				widths[c] = max(widths[c], uniseg.StringWidth(cell.Text))
			}
		}
	}
	return widths
}

// columns prints a table with so many blanks between its columns.
func (p *Printer) columns(of view.Table, gap int) {
	t := table{Table: of, lines: of.Lines}
	if of.Head != nil {
		t.lines = append([][]view.Cell{view.Texts(of.Head)}, of.Lines...)
	}
	if len(t.lines) == 0 {
		return
	}
	last := len(t.lines[0]) - 1
	end := last + 1 // of the columns that are aligned
	if t.words = last > 0 && !t.Number(last); t.words {
		end = last
	}
	widths := t.widths()
	for first := 1; ; {
		next, used := first, widths[0]
		for next < end && (next == first || used+gap+widths[next] <= p.Width) {
			used += gap + widths[next]
			next++
		}
		below := t.words && next == end
		beside := below && widths[last] > 0 && used+gap+min(widths[last], remark) <= p.Width
		for i, line := range t.lines {
			s := p.set(&t, widths, line, 0)
			for c := first; c < next; c++ {
				s += strings.Repeat(" ", gap) + p.set(&t, widths, line, c)
			}
			if beside {
				p.Wrap(s+strings.Repeat(" ", gap), line[last].Text)
				continue
			}
			p.Line("%s", strings.TrimRight(s, " "))
			if below && line[last].Text != "" && (i > 0 || t.Head == nil) {
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
	if t.Number(c) {
		return p.Paint(blanks+s, line[c])
	}
	return p.Paint(s, line[c]) + blanks
}
