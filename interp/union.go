package interp

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// union is the axis with the breakpoints of both, in a's unit. Either may be
// nil, an axis that a table does not have. It is an error where the two measure
// different quantities, or in units that do not convert.
func union(a, b *tables.Axis) (*tables.Axis, error) {
	switch {
	case a == nil:
		return b, nil
	case b == nil || a == b:
		return a, nil
	}
	points, err := pointsIn(b, a)
	if err != nil {
		return nil, err
	}
	return a.WithPoints(merged(a.Points(), points))
}

// merged is the sorted list of the numbers in either of two sorted lists; of −0 and 0
// the one in the first.
func merged(a, b []float64) []float64 {
	return slices.Compact(slices.SortedStableFunc(slices.Values(slices.Concat(a, b)), cmp.Compare))
}

// pointsIn are the breakpoints of a in the unit of like, which may be nil. One that lands within
// rounding of a breakpoint of like is that one.
func pointsIn(a, like *tables.Axis) ([]float64, error) {
	switch {
	case a == nil:
		return nil, nil
	case like == nil || a == like:
		return a.Points(), nil
	}
	if a.Quantity() != like.Quantity() {
		return nil, fmt.Errorf("an axis of %s does not stand for one of %s", tables.Quote(a.Quantity()), tables.Quote(like.Quantity()))
	}
	c, err := unit.Find(a.Unit(), like.Unit())
	if err != nil {
		return nil, fmt.Errorf("axis %s: %w", tables.Quote(a.Quantity()), err)
	}
	if c.Identity() {
		return a.Points(), nil
	}
	points := make([]float64, a.Len())
	for i, v := range a.Points() {
		points[i] = Snap(like.Points(), c.Apply(v))
		if i > 0 && !(points[i-1] < points[i]) {
			return nil, fmt.Errorf("axis %s: breakpoints %s and %s %s fall together in %s", tables.Quote(a.Quantity()),
				tables.FormatValue(a.At(i-1)), tables.FormatValue(v), a.Unit(), like.Unit())
		}
	}
	return points, nil
}

// nodes are the breakpoints along x and y at which a table is read, in the units of its
// own axes.
type nodes [2][]float64

// nodesOn are the breakpoints of axes, along which a table is to be read.
func nodesOn(t *tables.Table, axes tables.Axes) (p nodes, err error) {
	for i, a := range axes {
		own := t.Axes()[i]
		if a == nil && own != nil {
			return p, fmt.Errorf("table %s has an axis that it is not read along", t.ID())
		}
		if p[i], err = pointsIn(a, own); err != nil {
			return p, err
		}
	}
	return p, nil
}

// conversionNoise is what two conversions may leave of a number, relative.
const conversionNoise = 8 * 0x1p-52

// Snap is v, or the breakpoint that it misses by no more than the rounding of a
// unit conversion.
func Snap(points []float64, v float64) float64 {
	i, w := Weights(points, v)
	if w > 0.5 {
		i++
	}
	if math.Abs(v-points[i]) <= conversionNoise*math.Abs(points[i]) {
		return points[i]
	}
	return v
}
