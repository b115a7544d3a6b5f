package transfer

import (
	"slices"

	"calsplice/interp/lookup"
	"calsplice/tables"
)

// kind is what an axis tells about an operating point, however it is spelled.
type kind int

const (
	pressure kind = iota // differential pressure, kPa
	voltage              // battery voltage, V
	pulse                // effective pulse, ms
	anything             // what no table depends on: 0 at every place
)

// quantities are those that tell each kind, the plainest first.
var quantities = [anything][]string{
	pressure: {tables.DifferentialPressure, tables.ManifoldVacuum, tables.ManifoldPressure},
	voltage:  {tables.BatteryVoltage},
	pulse:    {tables.EffectivePulse},
}

func (k kind) String() string { return quantities[k][0] }

// kindOf is what an axis of a table tells, of what a table of its role may depend on.
func kindOf(t *tables.Table, a *tables.Axis) (kind, bool) {
	for _, k := range rules[t.Role()].axes {
		if slices.Contains(quantities[k], a.Quantity()) {
			return k, true
		}
	}
	return anything, false
}

// scale is what an axis of a side's table tells, read as one of the kinds; or, with
// no axis, the one pressure at which a scalar flow holds. Breakpoint i stands at
// at[i]. For pressure that is the differential pressure, which rises with vacuum and
// falls with manifold pressure, and under a regulator that follows the manifold is
// the same everywhere.
type scale struct {
	kind kind
	at   []float64
}

// flat reports whether every breakpoint stands at one place, though there are
// several: such an axis orders nothing.
func (sc *scale) flat() bool { return len(sc.at) > 1 && sc.at[0] == sc.at[len(sc.at)-1] }

// everywhere is the scale of no axis, or of one along which nothing changes.
var everywhere = &scale{anything, []float64{0}}

// readAxis reads an axis of a table as what a table of its role may depend on.
func (s *side) readAxis(t *tables.Table, a *tables.Axis) *scale {
	k, ok := kindOf(t, a)
	if !ok {
		var wanted []string
		for _, k := range rules[t.Role()].axes {
			wanted = append(wanted, quantities[k]...)
		}
		s.refuse(t, "an axis of %s means nothing for %s here: expected %s", tables.Quote(a.Quantity()), t.Role(), tables.Listed(wanted, "or"))
	}
	// From here on all is in kPa, V and ms.
	points, err := lookup.Points(a)
	s.need(t, err)
	if k == pressure {
		for i, v := range points {
			points[i] = s.delta(t, a.Quantity(), v, i)
		}
	}
	return &scale{k, points}
}

// delta is the differential pressure at a breakpoint of a pressure axis, all in
// kPa: rail minus manifold, both above vacuum.
func (s *side) delta(t *tables.Table, quantity string, v float64, i int) float64 {
	dp := v
	if quantity != tables.DifferentialPressure {
		dp = s.deltaAt(t, quantity, v, i)
	}
	if dp < 0 {
		s.refuse(t, "breakpoint %d of %s leaves a differential pressure of %s kPa: expected the manifold below the rail", i, quantity, tables.FormatValue(dp))
	}
	return dp
}

// deltaAt is the differential pressure at a manifold's vacuum or pressure.
func (s *side) deltaAt(t *tables.Table, quantity string, v float64, i int) float64 {
	r := s.useRail(t, quantity)
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
		s.refuse(t, "breakpoint %d of %s is below vacuum: %s kPa at a barometer of %s kPa", i, quantity, tables.FormatValue(v), tables.FormatValue(s.useBaro()))
	}
	if vacuum && gauge {
		return r.Pressure + v // the barometer cancels: say the sum that a person would
	}
	return r.Delta(manifold, barometer)
}
