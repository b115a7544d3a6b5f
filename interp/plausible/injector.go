package plausible

import (
	"math"
	"slices"

	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// offset judges dead time: it falls as voltage rises, by less and less, and
// does not fall with pressure.
func (k *checker) offset(t *tables.Table) {
	for _, l := range over(t, tables.BatteryVoltage) {
		k.ordered(t, l, ordered{"offset-voltage", practice, "offset does not fall as voltage rises", func(step float64) bool { return !(step < 0) }})
		k.convex(t, l)
	}
	k.pressure(t, "offset-pressure", "an injector opens no faster against more pressure; "+practice, false)
}

// ordered is how a table's values go along an axis.
type ordered struct {
	rule, basis, what string
	wrong             func(step float64) bool // of two neighbours
}

// ordered reports neighbours on a line whose values go the wrong way.
func (k *checker) ordered(t *tables.Table, l line, o ordered) {
	for i := range l.len() - 1 {
		if o.wrong(l.values[i+1] - l.values[i]) {
			k.cell(t, k.outlierOf(t, l, i), o.rule, o.basis, "%s: %s at %s, %s at %s", o.what,
				amount(l.values[i], t.Unit()), l.place(i), amount(l.values[i+1], t.Unit()), l.place(i+1))
		}
	}
}

// convex hints where offset falls faster at a higher voltage: by half as much
// again, beyond what rounding makes.
func (k *checker) convex(t *tables.Table, l line) {
	s := step(t)
	for i := 1; i < l.len()-1; i++ {
		before := (l.values[i-1] - l.values[i]) / (l.points[i] - l.points[i-1])
		after := (l.values[i] - l.values[i+1]) / (l.points[i+1] - l.points[i])
		rounding := s/(l.points[i]-l.points[i-1]) + s/(l.points[i+1]-l.points[i])
		if before > 0 && after > float64(1.5*before)+rounding {
			k.cell(t, l.at[i], "offset-convex", practice, "offset falls faster above %s than below it: usually it falls by less and less", l.place(i))
		}
	}
}

// pressure judges how values go with the pressure across the injector, by
// whichever axis gives it: up with the differential pressure and with manifold
// vacuum, down with manifold pressure. Strictly, or only not the other way.
func (k *checker) pressure(t *tables.Table, rule, basis string, strict bool) {
	for _, l := range over(t, pressures...) {
		quantity, sign := l.axis.Quantity(), 1.0
		if quantity != tables.DifferentialPressure && k.follows() {
			continue // a regulator that follows the manifold holds the differential still
		}
		if quantity == tables.ManifoldPressure {
			sign = -1
		}
		word, least := map[bool]string{true: "rise", false: "fall"}[sign > 0], 0.0
		if !strict {
			word, least = word+" or stay", -t.Tolerance()
		}
		k.ordered(t, l, ordered{rule, basis, "does not " + word + " as " + quantity + " rises", func(step float64) bool {
			return !(step*sign >= least) || strict && step == 0
		}})
	}
}

// pressures are the quantities that give the pressure across an injector.
var pressures = []string{tables.DifferentialPressure, tables.ManifoldVacuum, tables.ManifoldPressure}

// follows reports whether the pressure regulator follows the manifold.
func (k *checker) follows() bool {
	e := k.doc.Engine()
	return e != nil && e.RailPressure != nil && e.RailPressure.RelativeTo == tables.Manifold
}

const orifice = "incompressible orifice, Q ∝ √Δp (Bernoulli)"

// flow judges an injector's flow: above zero, rising with pressure, and near
// the square-root law.
func (k *checker) flow(t *tables.Table) {
	for i, v := range t.Values() {
		if !(v > 0) && !k.noPressure(t, i) {
			k.cell(t, i, "flow-size", "an injector that is open lets fuel through", "%s is not above 0", amount(v, t.Unit()))
		}
	}
	k.pressure(t, "flow-pressure", orifice, true)
	for _, l := range over(t, pressures...) {
		k.rootLine(t, k.differential(l.axis), l)
	}
}

// noPressure reports whether a cell stands at no differential pressure, where
// nothing flows.
func (k *checker) noPressure(t *tables.Table, i int) bool {
	return slices.ContainsFunc(over(t, tables.DifferentialPressure), func(l line) bool {
		j := slices.Index(l.at, i)
		return j >= 0 && l.points[j] <= 0
	})
}

// rootTolerance is how far a flow may stand from the square-root law through
// the others of its line. Real injectors stay within a few percent; a pump or
// regulator that sags bends the curve further, and shows.
const rootTolerance = 0.05

// rootLine holds one line against the square-root law, by the differential pressure at
// each of its breakpoints; none where the document does not tell.
func (k *checker) rootLine(t *tables.Table, across []float64, l line) {
	var factors []float64 // flow over the root of its pressure
	var at []int
	for i, dp := range across {
		if dp > 0 && l.values[i] > 0 {
			factors, at = append(factors, l.values[i]/math.Sqrt(dp)), append(at, i)
		}
	}
	if len(factors) < 3 {
		return // two points do not tell which of them is off
	}
	middle := median(factors)
	for j, i := range at {
		if off := factors[j]/middle - 1; math.Abs(off) > rootTolerance {
			k.cell(t, l.at[i], "flow-root", orifice+"; the tolerance of 5 % is "+practice,
				"%s is %+.1f %% from the square-root law through the other values (5 %% is allowed)", amount(l.values[i], t.Unit()), off*100)
		}
	}
}

// differential is the differential pressure in kPa at each breakpoint of an axis of
// pressures, nil where the document does not tell. A barometer of 101.325 kPa is
// assumed.
func (k *checker) differential(a *tables.Axis) []float64 {
	points, err := lookup.Points(a)
	if err != nil || a.Quantity() == tables.DifferentialPressure {
		return points
	}
	e := k.doc.Engine()
	if e == nil || e.RailPressure == nil || k.follows() {
		return nil
	}
	rail, err := lookup.NewRail(e.RailPressure)
	if err != nil {
		return nil
	}
	for i, manifold := range points {
		if a.Quantity() == tables.ManifoldVacuum {
			manifold = unit.Atmosphere - manifold
		}
		points[i] = rail.Delta(manifold, unit.Atmosphere)
	}
	return points
}

// median is the middle value; of an even number, halfway between the two in the middle.
func median(values []float64) float64 {
	s, n := slices.Sorted(slices.Values(values)), len(values)
	return s[(n-1)/2]/2 + s[n/2]/2
}
