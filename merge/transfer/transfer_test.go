package transfer

import (
	"fmt"
	"math"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
)

func axis(t testing.TB, quantity, unit string, points ...float64) *tables.Axis {
	t.Helper()
	a, err := tables.NewAxis(quantity, unit, points)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func table(t testing.TB, role tables.Role, unit string, resolution float64, x, y *tables.Axis, values ...float64) *tables.Table {
	t.Helper()
	tab, err := tables.NewTable(tables.Fields{ID: string(role), Role: role, Unit: unit, Resolution: resolution, X: x, Y: y, Values: values})
	if err != nil {
		t.Fatal(err)
	}
	return tab
}

func calibration(t testing.TB, e *tables.Engine, list ...*tables.Table) *tables.Calibration {
	t.Helper()
	c, err := tables.NewCalibration(tables.Contents{Name: "test", Engine: e, Tables: list})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func engineOf(kPa float64, relative tables.Reference, density float64) *tables.Engine {
	e := &tables.Engine{Cylinders: 4}
	if kPa > 0 {
		e.RailPressure = &tables.RailPressure{Value: kPa, Unit: "kPa", RelativeTo: relative}
	}
	if density > 0 {
		e.FuelDensity = &tables.Measure{Value: density, Unit: "kg/L"}
	}
	return e
}

// spelling is a way to write one flow law: q(Δp) = 2.4 g/s · √(Δp/300 kPa) of
// petrol at 0.745 kg/L.
type spelling struct {
	name   string
	engine *tables.Engine
	x      *tables.Axis
	extra  []*tables.Table
	delta  func(v float64) float64 // kPa at a breakpoint in the axis's unit, from the definitions
}

const density = 0.745

func law(dp float64) float64 { return 2.4 * math.Sqrt(dp/300) }

func spellings(t testing.TB) []spelling {
	const psi = 6.894757293168361 // kPa, NIST SP 811
	return []spelling{
		{"scalar at a reference pressure", engineOf(0, "", density), nil,
			[]*tables.Table{table(t, tables.InjectorReferencePressure, "bar", 0, nil, nil, 3.5)}, func(float64) float64 { return 350 }},
		{"scalar at a manifold-referenced rail", engineOf(380, tables.Manifold, density), nil, nil, func(float64) float64 { return 380 }},
		{"differential pressure", engineOf(0, "", density), axis(t, tables.DifferentialPressure, "kPa", 240, 260, 280, 300, 330, 360, 400, 450), nil,
			func(v float64) float64 { return v }},
		{"differential pressure in psi", engineOf(0, "", density), axis(t, tables.DifferentialPressure, "psi", 40, 45, 50, 55, 60), nil,
			func(v float64) float64 { return v * psi }},
		{"vacuum, gauge rail", engineOf(300, tables.Atmosphere, density), axis(t, tables.ManifoldVacuum, "kPa", -50, 0, 20, 40, 60, 80), nil,
			func(v float64) float64 { return 300 + v }},
		{"vacuum, absolute rail", engineOf(420, tables.Absolute, density), axis(t, tables.ManifoldVacuum, "kPa", 0, 20, 40, 60, 80), nil,
			func(v float64) float64 { return 420 - (101.325 - v) }},
		{"vacuum, manifold rail", engineOf(320, tables.Manifold, density), axis(t, tables.ManifoldVacuum, "kPa", 0, 40, 80), nil,
			func(float64) float64 { return 320 }},
		{"manifold pressure, gauge rail", engineOf(400, tables.Atmosphere, density), axis(t, tables.ManifoldPressure, "kPa", 20, 40, 60, 80, 101.325, 150, 200), nil,
			func(v float64) float64 { return 400 + 101.325 - v }},
		{"manifold pressure, absolute rail", engineOf(450, tables.Absolute, density), axis(t, tables.ManifoldPressure, "kPa(a)", 20, 60, 100, 150), nil,
			func(v float64) float64 { return 450 - v }},
		{"one breakpoint", engineOf(0, "", density), axis(t, tables.DifferentialPressure, "kPa", 300), nil, func(v float64) float64 { return v }},
	}
}

// flowUnits are grams a second of petrol in each unit (NIST SP 811).
var flowUnits = map[string]float64{"g/s": 1, "lb/h": 453.59237 / 3600, "cc/min": density / 60, "kg/h": 1 / 3.6}

func (s spelling) table(t testing.TB, unit string, resolution float64, q func(dp float64) float64) *tables.Table {
	points := []float64{0}
	if s.x != nil {
		points = s.x.Points()
	}
	values := make([]float64, len(points))
	for i, v := range points {
		values[i] = q(s.delta(v)) / flowUnits[unit]
	}
	return table(t, tables.InjectorFlow, unit, resolution, s.x, nil, values...)
}

// Between every pair of spellings and of units the transferred flow is the law's
// within half a step of the recipient's resolution, and where the donor's curve
// bends between breakpoints within that of a straight line there: the donor's
// breakpoints stand close enough for a hundredth of the flow.
func TestEveryPairOfSpellings(t *testing.T) {
	for _, from := range spellings(t) {
		for _, to := range spellings(t) {
			for _, du := range []string{"g/s", "lb/h", "cc/min"} {
				for _, ru := range []string{"g/s", "cc/min", "kg/h"} {
					name := fmt.Sprintf("%s in %s to %s in %s", from.name, du, to.name, ru)
					const step = 0.001
					donor := calibration(t, from.engine, append(from.extra, from.table(t, du, 0, law))...)
					recipient := calibration(t, to.engine, append(to.extra, to.table(t, ru, step, func(float64) float64 { return 1 }))...)
					r, err := Run(donor, recipient, Options{})
					if err != nil {
						t.Errorf("%s: %v", name, err)
						continue
					}
					m := r.Members[0]
					if len(r.Members) != 1 || !unmoved(recipient, r.Changed, tables.InjectorFlow) {
						t.Errorf("%s: something else moved", name)
					}
					for i, got := range m.After.Values() {
						dp := m.Pressure[i]
						want := law(dp)
						if m.Origin[i] == Between { // the donor's line between its own breakpoints, by definition
							want = chord(from, dp)
						}
						if math.Abs(got-want/flowUnits[ru]) > step/2*(1+1e-9) {
							t.Errorf("%s: %v at %v kPa (%v), want %v", name, got, dp, m.Origin[i], want/flowUnits[ru])
						}
						if to.x != nil && math.Abs(dp-to.delta(to.x.At(i))) > 1e-9 {
							t.Errorf("%s: breakpoint %d stands at %v kPa, want %v", name, i, dp, to.delta(to.x.At(i)))
						}
					}
				}
			}
		}
	}
}

// chord is the straight line between the donor's neighbours of a pressure.
func chord(s spelling, dp float64) float64 {
	for i := 1; i < s.x.Len(); i++ {
		a, b := s.delta(s.x.At(i-1)), s.delta(s.x.At(i))
		if w := (dp - a) / (b - a); w >= 0 && w <= 1 {
			return law(a) + w*(law(b)-law(a))
		}
	}
	return math.NaN()
}

func unmoved(a, b *tables.Calibration, but ...tables.Role) bool {
	for _, t := range a.Tables() {
		skip := false
		for _, r := range but {
			skip = skip || t.Role() == r
		}
		if !skip && !t.Equal(b.Table(t.ID())) {
			return false
		}
	}
	return true
}

// A donor that is the recipient changes nothing, to the bit.
func TestSelf(t *testing.T) {
	for _, s := range spellings(t) {
		c := calibration(t, s.engine, append(s.extra, s.table(t, "g/s", 0.001, law),
			table(t, tables.InjectorOffset, "ms", 0.01, axis(t, tables.BatteryVoltage, "V", 8, 12, 16), nil, 2.1234, 1.1, 0.7))...)
		r, err := Run(c, c, Options{})
		if err != nil {
			t.Fatalf("%s: %v", s.name, err)
		}
		if !r.Changed.Equal(c) || len(r.Changes.Edits) != 0 {
			t.Errorf("%s: %d edits", s.name, len(r.Changes.Edits))
		}
	}
}

// The change set makes the changed calibration, and its reverse the recipient.
func TestChangeSet(t *testing.T) {
	list := spellings(t)
	donor := calibration(t, list[2].engine, list[2].table(t, "lb/h", 0, law))
	recipient := calibration(t, list[7].engine, list[7].table(t, "g/s", 0.001, func(float64) float64 { return 1 }))
	r, err := Run(donor, recipient, Options{})
	if err != nil {
		t.Fatal(err)
	}
	got, err := merge.Apply(recipient, r.Changes)
	if err != nil || !got.Equal(r.Changed) {
		t.Errorf("applied: %v", err)
	}
	for _, e := range r.Changes.Edits {
		if c, ok := e.(*merge.CellEdit); !ok || c.Table != "injector.flow" || c.Why == nil || c.Why.Note == "" {
			t.Errorf("edit %+v", e)
		}
	}
}

// The published factors of injector-facts.md, section 1: a 300 kPa rating at
// other pressures, to 1e-12.
func TestOrificeFactors(t *testing.T) {
	r := reading{t: table(t, tables.InjectorFlow, "g/s", 0, nil, nil, 1), along: [2]*scale{{pressure, []float64{300}}, everywhere}, orifice: true}
	(&side{notes: &notes{}}).lay(&r)
	for _, c := range []struct{ dp, factor float64 }{
		{200, 0.816496580927726}, {250, 0.9128709291752769}, {270, 0.9486832980505138}, {300, 1}, {350, 1.0801234497346435},
		{380, 1.1254628677422756}, {400, 1.1547005383792515}, {450, 1.224744871391589}, {500, 1.2909944487358056},
		{550, 1.35400640077266}, {600, 1.4142135623730951}, {1200, 2},
	} {
		if got, _ := r.at(place{pressure: c.dp}); math.Abs(got-c.factor) > 1e-12*c.factor {
			t.Errorf("%v kPa: %v, want %v", c.dp, got, c.factor)
		}
	}
}

// Worked examples of injector-facts.md, section 2.
func TestWorkedExamples(t *testing.T) {
	scalar := func(unit string, v, ref, density float64) *tables.Calibration {
		return calibration(t, engineOf(0, "", density), table(t, tables.InjectorFlow, unit, 0, nil, nil, v),
			table(t, tables.InjectorReferencePressure, "kPa", 0, nil, nil, ref))
	}
	for _, c := range []struct {
		why              string
		donor, recipient *tables.Calibration
		opt              Options
		want, digits     float64
	}{
		{"example 1: 24 lb/h at 300 kPa, run at 400", scalar("lb/h", 24, 300, 0), scalar("g/s", 1, 400, 0), Options{}, 3.49175569, 1e-8},
		{"example 1 in its own unit", scalar("lb/h", 24, 300, 0), scalar("lb/h", 1, 400, 0), Options{}, 27.7128129, 1e-7},
		{"example 3: 440 mL/min of test fluid, as mass of petrol", scalar("mL/min", 440, 300, 0.745), scalar("g/s", 1, 300, 0.745), Options{RatedDensity: 0.684}, 5.016 * 1.0436384846055207, 1e-12},
		{"example 3 as volume of petrol", scalar("mL/min", 440, 300, 0.745), scalar("mL/min", 1, 300, 0.745), Options{RatedDensity: 0.684}, 440 * 0.9581862060002364, 1e-10},
		{"example 4: 39.15 psi moved to 43.5 psi", scalar("cc/min", 100, 269.93, 0), scalar("cc/min", 1, 269.93*10/9, 0), Options{}, 105.40925533894598, 1e-11},
	} {
		r, err := Run(c.donor, c.recipient, c.opt)
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		if got := r.Members[0].After.At(0, 0); math.Abs(got-c.want) > c.digits {
			t.Errorf("%s: %v, want %v", c.why, got, c.want)
		}
	}
}
