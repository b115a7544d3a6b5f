package page

import (
	"math"

	"calsplice/tables"
)

// most is the largest number of cells that a page prints in the grids of one
// section: a page of 3 MB, which opens in a second or two.
const most = 40_000

// Fits reports whether a page prints so many grids of rows and columns cell by
// cell.
func Fits(rows, columns, grids int) bool { return rows*columns*grids <= most }

// NewGrid is a table as a grid, whose cells cell writes and classes. The
// address is row and column, from 0.
func NewGrid(name string, t *tables.Table, cell func(row, column int) Cell) Grid {
	return AxesGrid(name, t.Unit(), t.X(), t.Y(), cell)
}

// AxesGrid is [NewGrid] for values that stand in no table.
func AxesGrid(name, unit string, x, y *tables.Axis, cell func(row, column int) Cell) Grid {
	g := Grid{Name: name, Unit: unit, XName: x.Label(), YName: y.Label(), X: headings(x), Y: headings(y)}
	for r := range max(len(g.Y), 1) {
		cells := make([]Cell, max(len(g.X), 1))
		for c := range cells {
			cells[c] = cell(r, c)
		}
		g.Cells = append(g.Cells, cells)
	}
	return g
}

// TableGrid is a table shaded by the size of its values.
func TableGrid(name string, t *tables.Table) Grid {
	low, high := Range(t.Values())
	return NewGrid(name, t, func(r, c int) Cell {
		v := t.At(r, c)
		return Cell{Text: tables.FormatValue(v), Class: Sequential(v, low, high)}
	})
}

// Range is the lowest and the highest of the values that are not empty.
func Range(values ...[]float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, list := range values {
		for _, v := range list {
			if !math.IsNaN(v) {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	return low, high
}

func headings(a *tables.Axis) []string {
	if a == nil {
		return nil
	}
	list := make([]string, a.Len())
	for i, p := range a.Points() {
		list[i] = tables.FormatValue(p)
	}
	return list
}

// Signed writes a difference with its sign, so that it reads without colour;
// nothing is "·".
func Signed(v float64) string {
	switch {
	case math.IsNaN(v):
		return ""
	case v == 0:
		return "·"
	case v > 0:
		return "+" + tables.FormatValue(v)
	}
	return "−" + tables.FormatValue(-v)
}
