package interp

import (
	"cmp"
	"fmt"
	"math"

	"calsplice/tables"
)

// At is what the readers of many points are held to: the table's value at x and y, in the units of its own axes; a curve
// ignores y, a scalar both. inside reports whether the point lies within the
// axes. It is an error only where the point is not a number, or lies outside
// and out is [Refuse].
func At(t *tables.Table, x, y float64, out Outside) (v float64, inside bool, err error) {
	bx, err := locate("x", t.X(), x, out)
	by, err2 := locate("y", t.Y(), y, out)
	if err := cmp.Or(err, err2); err != nil {
		return 0, false, fmt.Errorf("table %s: %w", t.ID(), err)
	}
	return mix(bx.of(t.Row(by.lo)), bx.of(t.Row(by.hi)), by.w), max(bx.status, by.status) < Extrapolated, nil
}

// locate is the bracket of a coordinate on an axis; one that a table lacks has a single
// place, whatever the coordinate is.
func locate(name string, a *tables.Axis, v float64, out Outside) (bracket, error) {
	if a == nil {
		return bracket{w: nothing}, nil
	}
	if math.IsNaN(v) {
		return bracket{}, fmt.Errorf("%s is not a number", name)
	}
	b := find(a.Points(), v, out)
	if b.status == Extrapolated && out == Refuse {
		return b, fmt.Errorf("%s %s is past its axis (%s to %s %s)", name, tables.FormatValue(v),
			tables.FormatValue(a.At(0)), tables.FormatValue(a.At(a.Len()-1)), a.Unit())
	}
	return b, nil
}
