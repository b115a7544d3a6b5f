package transfer

import (
	"slices"

	"calsplice/interp"
	"calsplice/tables"
	"calsplice/tables/unit"
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

// unitOf is the unit that a quantity is computed in.
func unitOf(k kind, dim unit.Dimension) string {
	switch {
	case k == voltage:
		return "V"
	case k == pulse:
		return "ms"
	case dim == unit.GaugePressure:
		return "kPa(g)"
	case dim == unit.AbsolutePressure:
		return "kPa(a)"
	}
	return "kPa"
}

// scale is an axis of a side's table, read as one of the kinds. Breakpoint i
// stands at at[i]. For pressure that is the differential pressure, which rises
// with vacuum and falls with manifold pressure, and under a regulator that
// follows the manifold is the same everywhere.
type scale struct {
	kind kind
	axis *tables.Axis
	at   []float64
	flat bool // every breakpoint stands at one place, though there are several
}

// readAxis reads an axis of a table. wanted says which kinds that table may have.
func (s *side) readAxis(t *tables.Table, a *tables.Axis, wanted ...kind) (*scale, error) {
	k, ok := kindOf[a.Quantity()]
	if !ok || !slices.Contains(wanted, k) {
		return nil, s.fault(t, "an axis of %s means nothing for %s here: want %s", tables.Quote(a.Quantity()), t.Role(), wantedWords(wanted))
	}
	u, known := unit.Parse(a.Unit())
	if !known {
		return nil, s.fault(t, "its axis of %s is in %s, which is not known, so nothing can be computed with it", a.Quantity(), tables.Quote(a.Unit()))
	}
	if !unit.Fits(a.Quantity(), a.Unit()) {
		return nil, s.fault(t, "%s (%s) does not measure %s", a.Unit(), u.Dimension(), a.Quantity())
	}
	c, err := unit.Find(a.Unit(), unitOf(k, u.Dimension()))
	if err != nil {
		return nil, s.fault(t, "its axis of %s: %v", a.Quantity(), err)
	}
	sc := &scale{kind: k, axis: a}
	for i, p := range a.Points() {
		v := c.Apply(p)
		if k == pressure {
			if v, err = s.delta(t, a.Quantity(), v, i); err != nil {
				return nil, err
			}
		}
		sc.at = append(sc.at, v)
	}
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
func (s *side) delta(t *tables.Table, quantity string, v float64, i int) (float64, error) {
	dp, manifold := v, 0.0
	if quantity != tables.DifferentialPressure {
		r, err := s.useRail(t, quantity)
		if err != nil {
			return 0, err
		}
		if manifold = v; quantity == tables.ManifoldVacuum {
			manifold = s.useBaro() - v
		}
		if manifold < -1e-9 {
			return 0, s.fault(t, "breakpoint %d of %s is below vacuum: %s kPa at a barometer of %s kPa", i, quantity, tables.FormatValue(v), tables.FormatValue(s.useBaro()))
		}
		switch r.relative {
		case tables.Manifold:
			dp = r.kPa
		case tables.Absolute:
			dp = r.kPa - manifold
		case tables.Atmosphere:
			if quantity == tables.ManifoldVacuum {
				dp = r.kPa + v // the barometer cancels: say the sum that a person would
			} else {
				dp = r.kPa + (s.useBaro() - manifold)
			}
		}
	}
	if dp < 0 {
		return 0, s.fault(t, "breakpoint %d of %s leaves a differential pressure of %s kPa: want the manifold below the rail", i, quantity, tables.FormatValue(dp))
	}
	return dp, nil
}

// coordinate is where a place of the scale's kind falls on its axis, in the
// axis's own unit; past says that it is past the ends. A scale whose breakpoints
// all stand at one place is read at its first: see [scale.flat].
func (sc *scale) coordinate(v float64) (at float64, past bool) {
	n := len(sc.at)
	if sc.flat || n == 1 {
		return sc.axis.At(0), interp.Snap(sc.at[:1], v) != sc.at[0]
	}
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
	if w == 1 {
		return sc.axis.At(i + 1), past
	}
	return sc.axis.At(i) + float64(w*(sc.axis.At(i+1)-sc.axis.At(i))), past
}

// on reports whether a coordinate is a breakpoint of the axis.
func (sc *scale) on(at float64) bool { return sc.axis.Find(at) >= 0 }
