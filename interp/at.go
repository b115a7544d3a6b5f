package interp

import (
	"fmt"
	"math"

	"calsplice/tables"
)

// At is the table's value at x and y, in the units of its own axes; a curve
// ignores y, a scalar both. inside reports whether the point lies within the
// axes. It is an error only where the point is not a number, or lies outside
// and out is [Refuse].
func At(t *tables.Table, x, y float64, out Outside) (v float64, inside bool, err error) {
	bx, err := locate(t, "x", t.X(), x, out)
	if err != nil {
		return 0, false, err
	}
	by, err := locate(t, "y", t.Y(), y, out)
	if err != nil {
		return 0, false, err
	}
	return mix(bx.of(t.Row(by.lo)), bx.of(t.Row(by.hi)), by.w), max(bx.status, by.status) < Extrapolated, nil
}

func locate(t *tables.Table, name string, a *tables.Axis, v float64, out Outside) (bracket, error) {
	if a == nil {
		return bracket{}, nil
	}
	if math.IsNaN(v) {
		return bracket{}, fmt.Errorf("table %s: %s is not a number", t.ID(), name)
	}
	b := find(a.Points(), v, out)
	if b.status == Extrapolated && out == Refuse {
		return b, pastError(t, name, a, v)
	}
	return b, nil
}

func pastError(t *tables.Table, name string, a *tables.Axis, v float64) error {
	return fmt.Errorf("table %s: %s %s is past its axis (%s to %s %s)", t.ID(), name, tables.FormatValue(v),
		tables.FormatValue(a.At(0)), tables.FormatValue(a.At(a.Len()-1)), a.Unit())
}
