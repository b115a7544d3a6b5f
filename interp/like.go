package interp

import (
	"fmt"

	"calsplice/tables"
)

// Like gives a table the breakpoints of another's axes, matched by quantity (so
// that x may stand for y) and converted into the table's own units, which its
// controller expects. said tells each conversion.
func Like(t, other *tables.Table) (axes tables.Axes, notes []string, err error) {
	theirs := other.Axes()
	for i, own := range t.Axes().All() {
		k := theirs.Of(own.Quantity())
		if k < 0 {
			return axes, nil, fmt.Errorf("table %s has no axis of %s, which is the %s axis of %s", other.ID(), tables.Quote(own.Quantity()), "xy"[i:i+1], t.ID())
		}
		a := theirs[k]
		points, err := pointsIn(a, own)
		if err == nil {
			axes[i], err = own.WithPoints(points)
		}
		if err != nil {
			return axes, nil, err
		}
		if !tables.SameBits(points, a.Points()) {
			notes = append(notes, fmt.Sprintf("table %s: %s breakpoints of %s converted from %s to %s", t.ID(), "xy"[i:i+1], other.ID(), a.Unit(), own.Unit()))
		}
	}
	if t.X() == nil && other.X() != nil {
		err = fmt.Errorf("table %s is a scalar and %s is not: a scalar has no axis to rescale", t.ID(), other.ID())
	}
	return axes, notes, err
}
