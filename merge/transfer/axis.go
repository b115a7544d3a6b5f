package transfer

import (
	"math"
	"slices"

	"calsplice/interp"
	"calsplice/interp/lookup"
	"calsplice/tables"
)

// kind is what an axis tells about an operating point, however it is spelled.
type kind int

const (
	pressure kind = iota // differential pressure, kPa
	voltage              // battery voltage, V
	pulse                // effective pulse, ms
	kinds
)

var kindOf = map[string]kind{
	tables.DifferentialPressure: pressure, tables.ManifoldVacuum: pressure, tables.ManifoldPressure: pressure,
	tables.BatteryVoltage: voltage, tables.EffectivePulse: pulse,
}

func (k kind) String() string {
	return [...]string{"differential pressure", "battery voltage", "effective pulse"}[k]
}

// scale is an axis of a side's table, read as one of the kinds; or, with no axis,
// the one pressure at which a scalar flow holds. Breakpoint i stands at at[i]. For pressure that is the differential pressure, which rises
// with vacuum and falls with manifold pressure, and under a regulator that
// follows the manifold is the same everywhere.
type scale struct {
	kind kind
	axis *tables.Axis
	at   []float64
	flat bool // every breakpoint stands at one place, though there are several
}

// readAxis reads an axis of a table as what a table of its role may depend on.
func (s *side) readAxis(t *tables.Table, a *tables.Axis) (*scale, error) {
	wanted := rules[t.Role()].axes
	k, ok := kindOf[a.Quantity()]
	if !ok || !slices.Contains(wanted, k) {
		return nil, s.fault(t, "an axis of %s means nothing for %s here: expected %s", tables.Quote(a.Quantity()), t.Role(), wantedWords(wanted))
	}
	// From here on all is in kPa, V and ms; the axis keeps its own unit, in which the
	// table itself is interpolated, so that a breakpoint is hit exactly.
	points, err := lookup.Points(a)
	if err != nil {
		return nil, s.fault(t, "%v", err)
	}
	sc := &scale{kind: k, axis: a, at: points}
	for i, v := range points {
		if k == pressure {
			if sc.at[i], err = s.delta(t, a.Quantity(), v, i); err != nil {
				return nil, err
			}
		}
	}
	// Under a regulator that follows the manifold, every vacuum means one differential
	// pressure. Such an axis orders nothing.
	sc.flat = len(sc.at) > 1 && sc.at[0] == sc.at[len(sc.at)-1]
	return sc, nil
}

// wantedWords names the quantities of kinds.
func wantedWords(list []kind) string {
	words := ""
	for i, k := range list {
		switch {
		case i > 0 && i == len(list)-1:
			words += " or "
		case i > 0:
			words += ", "
		}
		if k == pressure {
			words += "differential pressure, manifold vacuum or manifold pressure"
		} else {
			words += k.String()
		}
	}
	return words
}

// delta is the differential pressure at a breakpoint of a pressure axis, all in
// kPa: rail minus manifold, both above vacuum.
func (s *side) delta(t *tables.Table, quantity string, v float64, i int) (dp float64, err error) {
	if dp = v; quantity != tables.DifferentialPressure {
		if dp, err = s.deltaAt(t, quantity, v, i); err != nil {
			return 0, err
		}
	}
	if dp < 0 {
		return 0, s.fault(t, "breakpoint %d of %s leaves a differential pressure of %s kPa: expected the manifold below the rail", i, quantity, tables.FormatValue(dp))
	}
	return dp, nil
}

// deltaAt is the differential pressure at a manifold's vacuum or pressure.
func (s *side) deltaAt(t *tables.Table, quantity string, v float64, i int) (float64, error) {
	r, err := s.useRail(t, quantity)
	if err != nil {
		return 0, err
	}
	vacuum, gauge := quantity == tables.ManifoldVacuum, r.RelativeTo == tables.Atmosphere
	manifold, barometer := v, 0.0
	if vacuum || gauge {
		barometer = s.useBaro()
	}
	if vacuum {
		manifold = barometer - v
	}
	// What rounding leaves below 0 is vacuum.
	if manifold < -1e-9 {
		return 0, s.fault(t, "breakpoint %d of %s is below vacuum: %s kPa at a barometer of %s kPa", i, quantity, tables.FormatValue(v), tables.FormatValue(s.useBaro()))
	}
	if vacuum && gauge {
		return r.Pressure + v, nil // the barometer cancels: say the sum that a person would
	}
	return r.Delta(manifold, barometer), nil
}

// coordinate is where a place of the scale's kind falls on its axis, in the
// axis's own unit; past says that it is past the ends. A scale whose breakpoints
// all stand at one place is read at its first: see [scale.flat].
func (sc *scale) coordinate(v float64) (at float64, past bool) {
	n := len(sc.at)
	if sc.axis == nil {
		return 0, interp.Snap(sc.at, v) != sc.at[0]
	}
	if sc.alone() {
		return sc.axis.At(0), interp.Snap(sc.at[:1], v) != sc.at[0]
	}
	// Differential pressure falls as manifold pressure rises, so that an axis may run
	// either way. It is looked up the way it rises.
	rising, points := sc.at[0] < sc.at[n-1], sc.at
	if !rising {
		points = slices.Clone(sc.at)
		slices.Reverse(points)
	}
	v = interp.Snap(points, v)
	past = v < points[0] || v > points[n-1]
	i, w := interp.Weights(points, v)
	if !rising { // point i of the reversed list is n−1−i of the axis
		i, w = n-2-i, 1-w
	}
	if w == 0 {
		return sc.axis.At(i), past
	}
	// On a breakpoint the axis's own number, and not a sum that rounds to nearly that.
	if w == 1 {
		return sc.axis.At(i + 1), past
	}
	return sc.axis.At(i) + float64(w*(sc.axis.At(i+1)-sc.axis.At(i))), past
}

// on reports whether a coordinate is a breakpoint of the axis.
func (sc *scale) on(at float64) bool { return sc.axis == nil || sc.axis.Find(at) >= 0 }

// end is where the end of the axis stands that is nearer to a place.
func (sc *scale) end(v float64) float64 {
	first, last := sc.at[0], sc.at[len(sc.at)-1]
	if math.Abs(v-first) <= math.Abs(v-last) {
		return first
	}
	return last
}

// alone reports whether the scale tells one place only, beside which nothing is
// known.
func (sc *scale) alone() bool { return sc.flat || len(sc.at) == 1 }
