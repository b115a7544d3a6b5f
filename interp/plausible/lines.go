package plausible

import (
	"math"
	"slices"

	"calsplice/interp"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// line is one row or column of a table: the axis that it runs along, and where its
// values stand in the table.
type line struct {
	axis   *tables.Axis
	at     []int
	points []float64
	values []float64
}

func (l line) len() int { return len(l.at) }

// place is a breakpoint in words.
func (l line) place(i int) string { return amount(l.points[i], l.axis.Unit()) }

// along are a table's rows, which run along x, its axis 0, or its columns, along y, 1.
// There are none where it has no such axis.
func along(t *tables.Table, axis int) (lines []line) {
	a, all := t.Axes()[axis], interp.Lines(t)
	if a == nil {
		return nil
	}
	for _, l := range [][]interp.Line{all[:t.Rows()], all[t.Rows():]}[axis] {
		own := line{axis: a, points: a.Points()}
		for i := range l.N {
			at := l.First + i*l.Step
			own.at, own.values = append(own.at, at), append(own.values, t.Values()[at])
		}
		lines = append(lines, own)
	}
	return lines
}

// over are a table's lines along an axis that measures one of some quantities, in a unit
// that is known to.
func over(t *tables.Table, quantities ...string) (lines []line) {
	for i, a := range t.Axes().All() {
		if _, known := unit.Parse(a.Unit()); known && slices.Contains(quantities, a.Quantity()) && unit.Fits(a.Quantity(), a.Unit()) {
			lines = append(lines, along(t, i)...)
		}
	}
	return lines
}

// bend is how far a line's i-th value, not at an end, stands above the straight
// line between its neighbours.
func (l line) bend(i int) float64 { return l.above(i-1, i, i+1, l.values) }

// above is how far the value at b stands above the line from a to c.
func (l line) above(a, b, c int, v []float64) float64 {
	w := (l.points[b] - l.points[a]) / (l.points[c] - l.points[a])
	return v[b] - (v[a] + float64(w*(v[c]-v[a])))
}

// outlierOf chooses which of two neighbours, i and i+1, is the outlier: the
// one without which the rest runs straighter. Where all are above zero
// straight is meant in proportion, as flows and dead times run. Where there
// are too few others to tell it is the second.
func (l line) outlierOf(i int) int {
	v := make([]float64, l.len())
	for j, u := range l.values {
		if v[j] = math.Log(u); !(u > 0) {
			v = l.values
			break
		}
	}
	var with, without float64 // how bent the line is with i in it and i+1 not, and the other way round
	switch n := l.len(); {
	case n < 4:
		return i + 1
	case i == 0:
		with, without = l.above(0, 2, 3, v), l.above(1, 2, 3, v)
	case i == n-2:
		with, without = l.above(i-2, i-1, i, v), l.above(i-2, i-1, i+1, v)
	default:
		with, without = l.above(i-1, i, i+2, v), l.above(i-1, i+1, i+2, v)
	}
	if math.Abs(without) < math.Abs(with) {
		return i
	}
	return i + 1
}

// step is the smallest step that a table's values are written in: its
// resolution, or the last decimal of the value with the most.
func step(t *tables.Table) float64 {
	if r := t.Resolution(); r > 0 {
		return r
	}
	decimals := 0
	for _, v := range t.Values() {
		decimals = max(decimals, min(tables.Decimals(v), 6))
	}
	return math.Pow10(-decimals)
}
