package view

import (
	"math"
	"slices"
	"strconv"

	"calsplice/tables"
)

// most is the largest number of cells that a page prints in the grids of one
// part: a page of 3 MB, which opens in a second or two.
const most = 40_000

// fits reports whether a page prints so many grids of rows and columns cell by
// cell.
func fits(rows, columns, grids int) bool { return rows*columns*grids <= most }

// newGrid is a grid on a pair of axes, whose cells cell writes; the address is
// row and column, from 0.
func newGrid(name, unit string, x, y *tables.Axis, cell func(row, column int) Cell) Grid {
	g := Grid{Name: name, Unit: unit, XName: x.Label(), YName: y.Label()}
	if x != nil {
		g.Head = append([]string{""}, headings(x)...)
	}
	rows, columns := headings(y), length(x)
	g.Numbers = slices.Repeat([]bool{true}, columns+1)
	for r := range length(y) {
		line := make([]Cell, 1, columns+1)
		if rows != nil {
			line[0].Text = rows[r]
		}
		for c := range columns {
			line = append(line, cell(r, c))
		}
		g.Lines = append(g.Lines, line)
	}
	return g
}

func tableGrid(name string, t *tables.Table, cell func(row, column int) Cell) Grid {
	return newGrid(name, t.Unit(), t.X(), t.Y(), cell)
}

// valueGrid is a table shaded by the size of its values, as write writes each.
func valueGrid(name string, t *tables.Table, write func(v float64) string) Grid {
	s := sizes(t.Values())
	g := tableGrid(name, t, func(r, c int) Cell { return s.cell(t.At(r, c), write(t.At(r, c))) })
	g.Legend = s.legend()
	return g
}

func headings(a *tables.Axis) []string {
	if a == nil {
		return nil
	}
	return tables.Each(a.Points(), tables.Shown)
}

// span is the lowest and the highest of some values.
type span struct{ low, high float64 }

func sizes(values ...[]float64) span {
	low, high := tables.Range(values...)
	return span{low, high}
}

// add takes a value in, unless it is empty.
func (s *span) add(v float64) {
	if !math.IsNaN(v) {
		s.low, s.high = min(s.low, v), max(s.high, v)
	}
}

// signed is the span in words, of changes that have signs.
func (s span) signed(places int, unit string) string {
	low, high := tables.Signed(s.low, places), tables.Signed(s.high, places)
	if low != high {
		low += " to " + high
	}
	return low + unit
}

// largest is the largest size in the span; 0 where nothing is.
func (s span) largest() float64 { return max(0, -s.low, s.high) }

// cell is a value shaded by its place in the span; an empty one is faint.
func (s span) cell(v float64, text string) Cell {
	switch {
	case math.IsNaN(v):
		return empty
	case s.high > s.low:
		return Cell{Text: text, Scale: BySize, Level: (v - s.low) / (s.high - s.low)}
	}
	return Cell{Text: text}
}

// legend is what the shades of values from low to high begin at.
func (s span) legend() []Cell {
	if !(s.high > s.low) {
		return nil
	}
	const parts = 6
	list := make([]Cell, parts+1)
	for i := range list {
		v := s.low + float64((s.high-s.low)*float64(i)/parts)
		list[i] = s.cell(v, tables.Digits(v, 3))
	}
	return list
}

// bySign shades differences up to one size on both sides of zero.
func bySign(most float64) scale {
	if !(most > 0) {
		return nil
	}
	list := make(scale, 3)
	for i := range list {
		list[i], _ = strconv.ParseFloat(strconv.FormatFloat(float64(most*float64(i+1)/3), 'g', 2, 64), 64)
	}
	return list
}

// A scale is the sizes, on either side of zero, at which the next shade begins.
// One that has a meaning is the same in every drive, whatever the data.
type scale []float64

var (
	trimScale  = scale{1, 2.5, 5, 10, 20}  // %: trims within ±5 are normal
	knockScale = scale{0.25, 0.5, 1, 2, 4} // deg: about 1° now and then is sensor noise
)

// cell is a value shaded by the step that it has reached.
func (s scale) cell(v float64, text string) Cell {
	if math.IsNaN(v) {
		return empty
	}
	reached := 0
	for _, from := range s {
		if math.Abs(v) >= from*(1-1e-9) {
			reached++
		}
	}
	if reached == 0 {
		return Cell{Text: text}
	}
	return Cell{Text: text, Scale: BySign, Level: math.Copysign(float64(reached)/float64(len(s)), v)}
}

// legend is what the shades begin at; oneSided leaves out those below zero.
func (s scale) legend(oneSided bool) (list []Cell) {
	for i := len(s) - 1; i >= 0 && !oneSided; i-- {
		list = append(list, s.cell(-s[i], tables.Shown(-s[i])))
	}
	list = append(list, Cell{Text: "0"})
	plus := "+"
	if oneSided {
		plus = ""
	}
	for _, v := range s {
		list = append(list, s.cell(v, plus+tables.Shown(v)))
	}
	return list
}

// signed is a value shaded by its sign and its share of the largest.
func signed(v, largest float64, text string) Cell {
	switch {
	case math.IsNaN(v):
		return empty
	case v != 0 && largest > 0:
		return Cell{Text: text, Scale: BySign, Level: v / largest}
	}
	return Cell{Text: text}
}

var empty = Cell{Text: "·", Mark: Faint}
