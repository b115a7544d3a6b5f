package engine

import (
	"math"
	"strings"
	"testing"

	"calsplice/interp/lookup"
	"calsplice/tables"
)

func axis(t *testing.T, quantity, unit string, points ...float64) *tables.Axis {
	t.Helper()
	a, err := tables.NewAxis(quantity, unit, points)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func calibration(t *testing.T, e *tables.Engine, fields ...tables.Fields) *tables.Calibration {
	t.Helper()
	var list []*tables.Table
	for _, f := range fields {
		table, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, table)
	}
	c, err := tables.NewCalibration(tables.Contents{Engine: e, Tables: list})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestFacts: at 3,000 r/min a four-stroke engine has 25 cycles a second, a
// two-stroke one 50.
func TestFacts(t *testing.T) {
	for _, c := range []struct {
		why    string
		e      *tables.Engine
		want   Facts
		cycles float64
		period float64
	}{
		{"nothing is given", nil, Facts{Strokes: 4, Pulses: 1, Stoich: 14.7}, 25, 40},
		{"an injector a cylinder", &tables.Engine{Cylinders: 3, StoichAFR: 14.1}, Facts{4, 1, 3, 3, 0, 14.1, true}, 25, 40},
		{"all is given", &tables.Engine{Cylinders: 2, Injectors: 4, Strokes: 2, PulsesPerCycle: 2, Displacement: &tables.Measure{Value: 500, Unit: "cm3"}},
			Facts{2, 2, 2, 4, 0.5, 14.7, false}, 50, 10},
	} {
		f, err := NewFacts(c.e)
		if err != nil || f != c.want {
			t.Errorf("%s: %+v, %v, want %+v", c.why, f, err, c.want)
		}
		if got := [2]float64{f.Cycles(3000), f.Period(3000)}; got != [2]float64{c.cycles, c.period} {
			t.Errorf("%s: cycles and period are %v, want %v and %v", c.why, got, c.cycles, c.period)
		}
	}
	if _, err := NewFacts(&tables.Engine{Displacement: &tables.Measure{Value: 2, Unit: "kPa"}}); err == nil {
		t.Error("a displacement in kPa is taken")
	}
}

// TestLinearFrom: a correction changes nothing where it adds 0, adds 0 %, or
// multiplies by 1.
func TestLinearFrom(t *testing.T) {
	pulses := func() *tables.Axis { return axis(t, tables.EffectivePulse, "us", 400, 800, 1200, 1600) }
	volts := axis(t, tables.BatteryVoltage, "V", 10, 14)
	for _, c := range []struct {
		why    string
		fields tables.Fields
		want   float64
	}{
		{"time", tables.Fields{Unit: "ms", X: pulses(), Values: []float64{.1, .05, 0, 0}}, 1.2},
		{"share", tables.Fields{Unit: "%", X: pulses(), Values: []float64{9, 0, 0, 0}}, 0.8},
		{"factor", tables.Fields{Unit: "1", X: pulses(), Values: []float64{1.2, 1.1, 1, 1}}, 1.2},
		{"to its end", tables.Fields{Unit: "ms", X: pulses(), Values: []float64{.1, .1, .1, .1}}, 1.6},
		{"nothing", tables.Fields{Unit: "ms", X: pulses(), Values: []float64{0, 0, 0, 0}}, 0},
		{"the voltage that corrects longest", tables.Fields{Unit: "ms", X: pulses(), Y: volts, Values: []float64{.1, 0, 0, 0, .1, .1, 0, 0}}, 1.2},
		{"down the rows", tables.Fields{Unit: "ms", X: volts, Y: pulses(), Values: []float64{.1, .1, 0, .1, 0, 0, 0, 0}}, 1.2},
		{"not by pulse", tables.Fields{Unit: "ms", X: volts, Values: []float64{.1, 0}}, 0},
	} {
		c.fields.ID, c.fields.Role = "nonlinear", tables.InjectorNonlinear
		j, err := NewInjector(calibration(t, nil, c.fields))
		if err != nil || len(j.Faults) > 0 || j.LinearFrom != c.want {
			t.Errorf("%s: linear from %v ms (%v, %v), want %v", c.why, j.LinearFrom, err, j.Faults, c.want)
		}
	}
}

// TestInjector reads a volume flow at its fuel's density, an offset in µs and
// the longest of the minimum pulses.
func TestInjector(t *testing.T) {
	volts := axis(t, tables.BatteryVoltage, "V", 10, 14)
	flow := tables.Fields{ID: "flow", Role: tables.InjectorFlow, Unit: "mL/min", Values: []float64{240}}
	offset := tables.Fields{ID: "offset", Role: tables.InjectorOffset, Unit: "us", X: volts, Values: []float64{1500, 500}}
	minimum := tables.Fields{ID: "min", Role: tables.InjectorMinPulse, Unit: "ms", X: volts, Values: []float64{1.6, 1.2}}
	e := &tables.Engine{FuelDensity: &tables.Measure{Value: 750, Unit: "kg/m3"}, RailPressure: &tables.RailPressure{Value: 4, Unit: "bar", RelativeTo: tables.Absolute}}
	at := &lookup.Point{Battery: 12}
	j, err := NewInjector(calibration(t, e, flow, offset, minimum))
	if err != nil || len(j.Faults) > 0 {
		t.Fatal(err, j.Faults)
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{{"flow", j.Flow(at), 3}, {"offset", j.Offset(at), 1}, {"minimum", j.MinPulse, 1.6}, {"density", j.Density, 0.75}, {"rail", j.Rail.Pressure, 400}} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("%s is %v, want %v", c.what, c.got, c.want)
		}
	}
	second := flow
	second.ID = "second"
	j, err = NewInjector(calibration(t, e, flow, second, offset))
	if err != nil || len(j.Faults) != 1 || !strings.Contains(j.Faults[0].Error(), "table second is a second one of role injector.flow (flow is the first)") {
		t.Errorf("two flows: %v, %v", err, j.Faults)
	}
	if !math.IsNaN(j.Flow(at)) || j.Offset(at) != 1 {
		t.Error("two flows: one is read, or the offset is not")
	}
	j, err = NewInjector(calibration(t, nil, flow))
	if err != nil || len(j.Faults) != 1 || !strings.Contains(j.Faults[0].Error(), "needs a fuel density") || j.FlowTable != nil {
		t.Errorf("a volume flow without a density: %v, %v", err, j.Faults)
	}
	if j.RailGiven || j.Rail != (lookup.Rail{Pressure: UsualRail, RelativeTo: tables.Manifold}) {
		t.Errorf("no rail pressure: %+v", j.Rail)
	}
}

// TestOneSet: more injectors than cylinders are refused; as many, fewer and not
// known are not.
func TestOneSet(t *testing.T) {
	for _, e := range []*tables.Engine{nil, {}, {Cylinders: 4}, {Injectors: 8}, {Cylinders: 4, Injectors: 4}, {Cylinders: 4, Injectors: 1}} {
		if err := OneSet(e); err != nil {
			t.Errorf("%+v: %v", e, err)
		}
	}
	if err := OneSet(&tables.Engine{Cylinders: 4, Injectors: 8}); err == nil || !strings.Contains(err.Error(), "engine has 8 injectors for 4 cylinders") {
		t.Errorf("two injectors a cylinder: %v", err)
	}
}

// Compressible flow against published values: NACA Report 1135 (1953), table I,
// for air: at Mach 0.5, 0.6 and 0.8 the pressure ratio is 0.8430, 0.7840 and
// 0.6560 and the area ratio A/A* 1.3398, 1.1882 and 1.0382; the flow through a
// hole against the choked one is the inverse of that (values from memory).
func TestOrifice(t *testing.T) {
	for _, c := range []struct {
		ratio, want float64
		why         string
	}{
		{0.2, 1, "far below the critical ratio"},
		{0.5282, 1, "at the critical ratio"},
		{0.8430, 1 / 1.3398, "Mach 0.5"},
		{0.7840, 1 / 1.1882, "Mach 0.6"},
		{0.6560, 1 / 1.0382, "Mach 0.8"},
		{1, 0, "equal pressures"},
		{1 / 0.8430, -1 / 1.3398 / 0.8430, "boost leaks out, by the higher pressure"},
	} {
		if got := Orifice(c.ratio); math.Abs(got-c.want) > 2e-4 {
			t.Errorf("%s: ψ(%.4f) is %.4f, want %.4f", c.why, c.ratio, got, c.want)
		}
	}
}
