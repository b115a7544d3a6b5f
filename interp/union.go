package interp

import (
	"fmt"
	"math"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// Union is the axis with the breakpoints of both, in a's unit. Either may be
// nil, an axis that a table does not have. It is an error where the two measure
// different quantities, or in units that do not convert.
func Union(a, b *tables.Axis) (*tables.Axis, error) {
	if a == nil || b == nil || a == b {
		if a == nil {
			return b, nil
		}
		return a, nil
	}
	points, err := pointsIn(b, a)
	if err != nil {
		return nil, err
	}
	return tables.NewAxisExtra(a.Quantity(), a.Unit(), merged(a.Points(), points), a.Extra())
}

// merged is the sorted list of the numbers in either of two sorted lists.
func merged(a, b []float64) []float64 {
	out := make([]float64, 0, len(a)+len(b))
	for len(a) > 0 || len(b) > 0 {
		switch {
		case len(b) == 0 || len(a) > 0 && a[0] < b[0]:
			out, a = append(out, a[0]), a[1:]
		case len(a) == 0 || b[0] < a[0]:
			out, b = append(out, b[0]), b[1:]
		default:
			out, a, b = append(out, a[0]), a[1:], b[1:]
		}
	}
	return out
}

// pointsIn are the breakpoints of a in the unit of like. One that lands within
// rounding of a breakpoint of like is that one.
func pointsIn(a, like *tables.Axis) ([]float64, error) {
	if a == nil || like == nil || a == like {
		if a == nil {
			return nil, nil
		}
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
		points[i] = snap(c.Apply(v), like.Points())
		if i > 0 && !(points[i-1] < points[i]) {
			return nil, fmt.Errorf("axis %s: breakpoints %s and %s %s fall together in %s", tables.Quote(a.Quantity()),
				tables.FormatValue(a.At(i-1)), tables.FormatValue(v), a.Unit(), like.Unit())
		}
	}
	return points, nil
}

// conversionNoise is what two conversions may leave of a number, relative.
const conversionNoise = 8 * 0x1p-52

func snap(v float64, to []float64) float64 {
	i, w := Weights(to, v)
	if w > 0.5 {
		i++
	}
	if math.Abs(v-to[i]) <= conversionNoise*math.Abs(to[i]) {
		return to[i]
	}
	return v
}

// Snap is v, or the breakpoint that it misses by no more than the rounding of a
// unit conversion.
func Snap(points []float64, v float64) float64 { return snap(v, points) }
