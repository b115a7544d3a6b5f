package engine

import (
	"math"
	"testing"

	"calsplice/interp/lookup"
	"calsplice/tables"
)

// TestCorrected: a correction in a unit of time is added in ms, a share is added to the
// pulse, and a plain number multiplies it.
func TestCorrected(t *testing.T) {
	for unit, want := range map[string]float64{"ms": 6, "us": 2.004, "%": 2.08, "1": 8} {
		if got := Corrected(unit, 2, 4); math.Abs(got-want) > 1e-12 {
			t.Errorf("2 ms corrected by 4 %s are %v ms, want %v", unit, got, want)
		}
	}
}

// TestWithoutTables: what a calibration does not have is not read, and a correction that
// is no curve over the pulse says nothing of where it ends; a rail pressure that is not
// given is the usual one.
func TestWithoutTables(t *testing.T) {
	j, err := NewInjector(calibration(t, &tables.Engine{Cylinders: 4}, tables.Fields{ID: "n", Role: tables.InjectorNonlinear, Unit: "ms", Values: []float64{0.1}}))
	if err != nil || len(j.Faults) > 0 {
		t.Fatal(err, j.Faults)
	}
	at := &lookup.Point{Battery: 12}
	if !math.IsNaN(j.Offset(at)) || !math.IsNaN(j.Flow(at)) || j.MinPulse != 0 || j.LinearFrom != 0 || j.RailGiven || j.Rail.Pressure != UsualRail {
		t.Errorf("%+v", j)
	}
}

// TestFaultyTables: a table that cannot be computed with is left out, and said.
func TestFaultyTables(t *testing.T) {
	odd := axis(t, "mood", "", 1, 2)
	for _, f := range []tables.Fields{
		{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s", X: odd, Values: []float64{1, 2}},
		{ID: "flow", Role: tables.InjectorFlow, Unit: "ticks", Values: []float64{1}},
		{ID: "offset", Role: tables.InjectorOffset, Unit: "ms", X: odd, Values: []float64{1, 2}},
		{ID: "offset", Role: tables.InjectorOffset, Unit: "kPa", Values: []float64{1}},
		{ID: "min", Role: tables.InjectorMinPulse, Unit: "kPa", Values: []float64{1}},
		{ID: "nonlinear", Role: tables.InjectorNonlinear, Unit: "ms", X: axis(t, tables.EffectivePulse, "kPa", 1, 2), Values: []float64{1, 0}},
	} {
		j, err := NewInjector(calibration(t, nil, f))
		if err != nil || len(j.Faults) != 1 || j.FlowTable != nil || j.OffsetTable != nil || j.MinPulse != 0 || j.LinearFrom != 0 {
			t.Errorf("%s in %s: %+v, %v", f.ID, f.Unit, j, err)
		}
	}
	if _, err := NewInjector(calibration(t, &tables.Engine{RailPressure: &tables.RailPressure{Value: 3, Unit: "furlong", RelativeTo: tables.Atmosphere}})); err == nil {
		t.Error("a rail pressure in a unit of something else")
	}
}
