package interp

import (
	"fmt"

	"calsplice/tables"
)

// Like gives a table the breakpoints of another's axes, matched by quantity (so
// that x may stand for y) and converted into the table's own units, which its
// controller expects. said tells each conversion.
func Like(t, other *tables.Table) (x, y *tables.Axis, notes []string, err error) {
	take := func(name string, own *tables.Axis) *tables.Axis {
		if own == nil || err != nil {
			return nil
		}
		for _, a := range []*tables.Axis{other.X(), other.Y()} {
			if a == nil || a.Quantity() != own.Quantity() {
				continue
			}
			var points []float64
			if points, err = pointsIn(a, own); err != nil {
				return nil
			}
			if !tables.SameBits(points, a.Points()) {
				notes = append(notes, fmt.Sprintf("table %s: %s breakpoints of %s converted from %s to %s", t.ID(), name, other.ID(), a.Unit(), own.Unit()))
			}
			var n *tables.Axis
			n, err = own.WithPoints(points)
			return n
		}
		err = fmt.Errorf("table %s has no axis of %s, which is the %s axis of %s", other.ID(), tables.Quote(own.Quantity()), name, t.ID())
		return nil
	}
	x, y = take("x", t.X()), take("y", t.Y())
	if err == nil && t.X() == nil && other.X() != nil {
		err = fmt.Errorf("table %s is a scalar and %s is not: a scalar has no axis to rescale", t.ID(), other.ID())
	}
	return x, y, notes, err
}
