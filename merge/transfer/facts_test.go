package transfer

import (
	"strings"
	"testing"

	"calsplice/tables"
)

// TestFactsThatPlayNoPart: what a transfer does not need is neither asked for nor listed.
func TestFactsThatPlayNoPart(t *testing.T) {
	dp := axis(t, tables.DifferentialPressure, "kPa", 250, 350)
	flow := func(unit string, values ...float64) *tables.Table {
		return table(t, tables.InjectorFlow, unit, 0, dp, nil, values...)
	}
	with := func(kg, stoich float64, injectors int) *tables.Engine {
		e := engineOf(0, "", kg)
		e.StoichAFR, e.Injectors = stoich, injectors
		return e
	}
	for _, c := range []struct {
		why              string
		donor, recipient *tables.Engine
		unit             string // of the recipient's flow; the donor's is in g/s
		word             string
		listed           bool
	}{
		{"one kind of flow, the donor's density not known", with(0, 0, 0), with(0.745, 0, 0), "lb/h", "fuel density", false},
		{"one kind of flow, the recipient's not known", with(0.745, 0, 0), with(0, 0, 0), "lb/h", "fuel density", false},
		{"another kind of flow", with(0, 0, 0), with(0.745, 0, 0), "mL/min", "fuel density", true},
		{"a ratio that one side does not give", with(0, 0, 0), with(0, 14.7, 0), "g/s", "different fuels", false},
		{"a ratio that the other does not give", with(0, 14.7, 0), with(0, 0, 0), "g/s", "different fuels", false},
		{"two kinds of fuel", with(0.789, 9, 0), with(0.745, 14.7, 0), "g/s", "different fuels", true},
		{"an injector for each cylinder, given", with(0, 0, 0), with(0, 0, 4), "g/s", "assumed: one injector per cylinder", false},
		{"an injector for each cylinder, not given", with(0, 0, 0), with(0, 0, 0), "g/s", "assumed: one injector per cylinder", true},
	} {
		r, err := Run(calibration(t, c.donor, flow("g/s", 2, 2.4)), calibration(t, c.recipient, flow(c.unit, 20, 24)),
			Options{Pressure: 300, Demand: Demand{AirMass: 500, Speed: 6000}})
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		said := strings.Join(r.Cautions, "\n")
		for _, a := range r.Assumed {
			said += "\n" + a.String()
		}
		if strings.Contains(said, c.word) != c.listed {
			t.Errorf("%s: %q is listed: %v, want %v\n%s", c.why, c.word, !c.listed, c.listed, said)
		}
	}
	one := with(0, 0, 1)
	one.Cylinders = 1
	r, err := Run(calibration(t, nil, flow("g/s", 2, 2.4)), calibration(t, one, flow("g/s", 1, 1)), Options{Pressure: 300, Demand: Demand{AirMass: 500, Speed: 6000}})
	if err != nil || r.Power == nil || r.Power.Injectors != 1 {
		t.Fatalf("one injector: %v, %+v", err, r)
	}
	for _, a := range r.Assumed {
		if a.Name == "injectors" {
			t.Errorf("one injector is given, and assumed: %s", a)
		}
	}
}

// TestAxisThatMeansNothing: a table that is the same along an axis of some other quantity
// is refused like one that changes with it: nobody knows what it was to follow.
func TestAxisThatMeansNothing(t *testing.T) {
	flow := table(t, tables.InjectorFlow, "g/s", 0, axis(t, tables.DifferentialPressure, "kPa", 250, 350), nil, 2, 2.4)
	volts := table(t, tables.InjectorOffset, "ms", 0, axis(t, tables.BatteryVoltage, "V", 10, 14), nil, 1, 1)
	speed := table(t, tables.InjectorOffset, "ms", 0, axis(t, tables.EngineSpeed, "r/min", 1000, 2000), nil, 1, 1)
	for _, c := range []struct {
		donor, recipient *tables.Table
		whose            string
	}{{speed, volts, "table injector.offset: an axis of \"engine speed\" means nothing"}, {volts, speed, "table injector.offset: an axis of \"engine speed\" means nothing"}, {volts, volts, ""}} {
		_, err := Run(calibration(t, nil, flow, c.donor), calibration(t, nil, flow, c.recipient), Options{})
		if (err == nil) != (c.whose == "") || err != nil && !strings.Contains(err.Error(), c.whose) {
			t.Errorf("%v, want %q", err, c.whose)
		}
	}
}
