package text

import (
	"slices"
	"strings"

	"github.com/rivo/uniseg"

	"calsplice/cmd/calsplice/view"
)

// Grid writes a grid as wide as the window: where it is wider, its columns go
// on in further panels, each with the row headings again.
func (p *Printer) Grid(g view.Grid) {
	head := 0
	for _, y := range g.Y {
		head = max(head, uniseg.StringWidth(y))
	}
	cells := marked(g)
	widths := columnWidths(g.X, cells)
	names := g.XName
	if g.YName != "" {
		names = g.YName + " down, " + g.XName + " across"
	}
	if g.Name != "" {
		names = strings.TrimSuffix(g.Name+": "+names, ": ")
	}
	for first := 0; first < len(widths); {
		last, used := first, head
		for last < len(widths) && (last == first || used+1+widths[last] <= p.Width) {
			used += 1 + widths[last]
			last++
		}
		if names != "" && first == 0 {
			p.Wrap("  ", names)
		}
		if first > 0 {
			p.Line("")
		}
		p.panel(g, cells, head, widths[first:last], first)
		first = last
	}
}

// marked are the texts of a grid's cells with their marks; where some end in a
// sign, the others end in a blank, so that figures stand below each other.
func marked(g view.Grid) [][]string {
	trails := slices.ContainsFunc(g.Cells, func(row []view.Cell) bool { return slices.ContainsFunc(row, view.Cell.Trails) })
	list := make([][]string, len(g.Cells))
	for r, row := range g.Cells {
		for _, c := range row {
			s := c.Marked()
			if trails && !c.Trails() {
				s += " "
			}
			list[r] = append(list[r], s)
		}
	}
	return list
}

// panel writes the columns from first on that the widths are of.
func (p *Printer) panel(g view.Grid, cells [][]string, head int, widths []int, first int) {
	if g.X != nil {
		line := strings.Repeat(" ", head)
		for i, w := range widths {
			line += " " + right(g.X[first+i], w)
		}
		p.Line("%s", line)
	}
	for r, row := range cells {
		h := ""
		if r < len(g.Y) {
			h = g.Y[r]
		}
		line := right(h, head)
		for i, w := range widths {
			line += " " + p.Paint(right(row[first+i], w), g.Cells[r][first+i])
		}
		p.Line("%s", strings.TrimRight(line, " "))
	}
}

func columnWidths(x []string, cells [][]string) []int {
	n := len(x)
	if len(cells) > 0 {
		n = max(n, len(cells[0]))
	}
	widths := make([]int, n)
	for _, row := range append([][]string{x}, cells...) {
		for c, s := range row {
			widths[c] = max(widths[c], uniseg.StringWidth(s))
		}
	}
	return widths
}

func right(s string, width int) string {
	return strings.Repeat(" ", max(width-uniseg.StringWidth(s), 0)) + s
}
