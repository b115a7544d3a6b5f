package text

import (
	"strings"

	"github.com/rivo/uniseg"

	"calsplice/tables"
	"calsplice/tables/shade"
)

// Grid is a table of short texts with its axes.
type Grid struct {
	XName, YName string   // such as "engine speed [r/min]"; "" where there is no axis
	X, Y         []string // headings
	Cells        [][]Cell
}

// Cell is one place. What colour says, Text must say too.
type Cell struct {
	Text  string
	Shade *shade.RGB // nil for none
	Dim   bool
	Bold  bool
}

// Grid writes a grid as wide as the window: where it is wider, its columns go
// on in further panels, each with the row headings again.
func (p *Printer) Grid(g Grid) {
	head := 0
	for _, y := range g.Y {
		head = max(head, uniseg.StringWidth(y))
	}
	if len(g.Y) == 0 && g.X != nil {
		head = 0
	}
	widths := columnWidths(g)
	names := g.XName
	if g.YName != "" {
		names = g.YName + " down, " + g.XName + " across"
	}
	for first := 0; first < len(widths); {
		last, used := first, head
		for last < len(widths) && (last == first || used+1+widths[last] <= p.Width) {
			used += 1 + widths[last]
			last++
		}
		if names != "" && first == 0 {
			p.Wrap("  ", tables.Clean(names))
		}
		if first > 0 {
			p.Line("")
		}
		p.panel(g, head, widths, first, last)
		first = last
	}
}

func (p *Printer) panel(g Grid, head int, widths []int, first, last int) {
	var b strings.Builder
	if g.X != nil {
		b.WriteString(strings.Repeat(" ", head))
		for c := first; c < last; c++ {
			b.WriteString(" " + right(g.X[c], widths[c]))
		}
		b.WriteString("\n")
	}
	for r, row := range g.Cells {
		h := ""
		if r < len(g.Y) {
			h = g.Y[r]
		}
		b.WriteString(right(h, head))
		for c := first; c < last; c++ {
			b.WriteString(" " + p.Paint(right(row[c].Text, widths[c]), row[c]))
		}
		b.WriteString("\n")
	}
	for line := range strings.SplitSeq(strings.TrimSuffix(b.String(), "\n"), "\n") {
		p.Line("%s", strings.TrimRight(line, " "))
	}
}

func columnWidths(g Grid) []int {
	n := len(g.X)
	if len(g.Cells) > 0 {
		n = max(n, len(g.Cells[0]))
	}
	widths := make([]int, n)
	for c, x := range g.X {
		widths[c] = uniseg.StringWidth(x)
	}
	for _, row := range g.Cells {
		for c, cell := range row {
			widths[c] = max(widths[c], uniseg.StringWidth(cell.Text))
		}
	}
	return widths
}

func right(s string, width int) string {
	return strings.Repeat(" ", max(width-uniseg.StringWidth(s), 0)) + s
}

// TableGrid is a table as a grid, whose cells cell writes.
func TableGrid(t *tables.Table, cell func(row, column int) Cell) Grid {
	g := Grid{XName: t.X().Label(), YName: t.Y().Label(), X: headings(t.X()), Y: headings(t.Y())}
	for r := range t.Rows() {
		row := make([]Cell, t.Columns())
		for c := range row {
			row[c] = cell(r, c)
		}
		g.Cells = append(g.Cells, row)
	}
	return g
}

// Values is a table's values shaded by size: exact, or where digits is above 0
// with so many significant ones, as statistics are read.
func Values(t *tables.Table, digits int) Grid {
	low, high := Range(t.Values())
	return TableGrid(t, func(r, c int) Cell {
		v := t.At(r, c)
		return Cell{Text: orDot(v, digits), Shade: Size(v, low, high)}
	})
}

func headings(a *tables.Axis) []string {
	if a == nil {
		return nil
	}
	list := make([]string, a.Len())
	for i, v := range a.Points() {
		list[i] = tables.FormatValue(v)
	}
	return list
}
