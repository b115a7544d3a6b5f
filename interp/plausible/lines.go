package plausible

import (
	"math"

	"calsplice/interp"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// line is one row or column of a table: where its values stand in the table and
// their breakpoints.
type line struct {
	at     []int
	points []float64
	values []float64
}

func (l line) len() int { return len(l.at) }

// alongX are a table's rows, none where it has no x axis.
func alongX(t *tables.Table) []line { return linesOf(t, t.X(), interp.Lines(t)[:t.Rows()]) }

// alongY are its columns, none where it has no y axis.
func alongY(t *tables.Table) []line { return linesOf(t, t.Y(), interp.Lines(t)[t.Rows():]) }

func linesOf(t *tables.Table, a *tables.Axis, along []interp.Line) (lines []line) {
	if a == nil {
		return nil
	}
	for _, l := range along {
		own := line{points: a.Points()}
		for i := range l.N {
			at := l.First + i*l.Step
			own.at, own.values = append(own.at, at), append(own.values, t.Values()[at])
		}
		lines = append(lines, own)
	}
	return lines
}

// along finds the axis that measures a quantity, by name, and its lines. Where
// its unit is not known or does not fit there is none.
func along(t *tables.Table, quantity string) (*tables.Axis, []line) {
	usable := func(a *tables.Axis) bool {
		if a == nil || a.Quantity() != quantity || !unit.Fits(quantity, a.Unit()) {
			return false
		}
		_, known := unit.Parse(a.Unit())
		return known
	}
	switch {
	case usable(t.X()):
		return t.X(), alongX(t)
	case usable(t.Y()):
		return t.Y(), alongY(t)
	}
	return nil, nil
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
