package transfer

import (
	"strings"
	"testing"

	"calsplice/tables"
)

// What is missing or contradicts itself is one line that says what to supply.
func TestErrors(t *testing.T) {
	dp := func(points ...float64) *tables.Axis { return axis(t, tables.DifferentialPressure, "kPa", points...) }
	vac := axis(t, tables.ManifoldVacuum, "kPa", 0, 40)
	volts := axis(t, tables.BatteryVoltage, "V", 10, 14)
	flow := func(x *tables.Axis, values ...float64) *tables.Table {
		return table(t, tables.InjectorFlow, "g/s", 0, x, nil, values...)
	}
	offset := func(x, y *tables.Axis, values ...float64) *tables.Table {
		return table(t, tables.InjectorOffset, "ms", 0, x, y, values...)
	}
	good := flow(dp(250, 350), 2, 2.4)
	second, err := tables.NewTable(tables.Fields{ID: "flow.2", Role: tables.InjectorFlow, Unit: "g/s", Values: []float64{1}})
	if err != nil {
		t.Fatal(err)
	}
	fuel := func(stoich, density float64) *tables.Engine {
		e := engineOf(0, "", density)
		e.StoichAFR = stoich
		return e
	}
	gauge := &tables.Engine{RailPressure: &tables.RailPressure{Value: 300, Unit: "kPa(a)", RelativeTo: tables.Atmosphere}}
	for _, c := range []struct {
		why              string
		donor, recipient *tables.Calibration
		opt              Options
		want             string
	}{
		{"a member that the recipient lacks", calibration(t, nil, good, offset(volts, nil, 1, 2)), calibration(t, nil, good), Options{},
			"r.json: there is no table of role injector.offset, and the donor has one (injector.offset): give it, or --partial to leave that one where it is"},
		{"a member that the donor lacks", calibration(t, nil, good), calibration(t, nil, good, offset(volts, nil, 1, 2)), Options{},
			"d.json: there is no table of role injector.offset, and the recipient has one (injector.offset): give it, or --partial to leave that one where it is"},
		{"no flow anywhere", calibration(t, nil), calibration(t, nil), Options{},
			"d.json: there is no table of role injector.flow, nor in the recipient: expected the injector's flow, or --partial to move the rest"},
		{"nothing in common", calibration(t, nil, good), calibration(t, nil), Options{Partial: true},
			"d.json: no table of the injector's group is on both sides: there is nothing to transfer"},
		{"two flows", calibration(t, nil, good, second), calibration(t, nil, good), Options{},
			"d.json: table flow.2: a second table of role injector.flow (injector.flow is the first): two sets of injectors are not modelled; where there is one, give the other table another role"},
		{"zero flow", calibration(t, nil, flow(dp(250, 350), 0, 2)), calibration(t, nil, good), Options{},
			"d.json: table injector.flow: flow at [0, 0] is 0 g/s: expected more than 0"},
		{"negative flow", calibration(t, nil, flow(dp(250, 350), 1, -2)), calibration(t, nil, good), Options{},
			"d.json: table injector.flow: flow at [0, 1] is -2 g/s: expected more than 0"},
		{"vacuum without a rail", calibration(t, nil, good), calibration(t, nil, flow(vac, 1, 1)), Options{},
			"r.json: table injector.flow: its axis of manifold vacuum tells no differential pressure without the rail pressure: give the recipient's engine rail_pressure"},
		{"below vacuum", calibration(t, nil, good), calibration(t, engineOf(300, tables.Absolute, 0), flow(axis(t, tables.ManifoldVacuum, "kPa", 0, 110), 1, 1)), Options{},
			"r.json: table injector.flow: breakpoint 1 of manifold vacuum is below vacuum: 110 kPa at a barometer of 101.325 kPa"},
		{"a manifold above the rail", calibration(t, nil, good), calibration(t, engineOf(300, tables.Absolute, 0), flow(axis(t, tables.ManifoldPressure, "kPa", 50, 350), 1, 1)), Options{},
			"r.json: table injector.flow: breakpoint 1 of manifold pressure leaves a differential pressure of -50 kPa: expected the manifold below the rail"},
		{"a scalar that holds nowhere", calibration(t, nil, flow(nil, 2)), calibration(t, nil, good), Options{},
			"d.json: table injector.flow: a scalar flow needs the differential pressure at which it holds: give a table of role injector.reference_pressure, or the donor's engine rail_pressure relative to the manifold"},
		{"a reference of nothing", calibration(t, nil, flow(nil, 2), table(t, tables.InjectorReferencePressure, "kPa", 0, nil, nil, 0)), calibration(t, nil, good), Options{},
			"d.json: table injector.reference_pressure: reference pressure is 0 kPa, expected more than 0"},
		{"an axis that means nothing", calibration(t, nil, flow(axis(t, "coolant temperature", "degC", 0, 80), 1, 2)), calibration(t, nil, good), Options{},
			`d.json: table injector.flow: an axis of "coolant temperature" means nothing for injector.flow here: expected differential pressure, manifold vacuum or manifold pressure`},
		{"an axis in a unit that is not known", calibration(t, nil, flow(axis(t, tables.DifferentialPressure, "clicks", 0, 80), 1, 2)), calibration(t, nil, good), Options{},
			`d.json: table injector.flow: axis "differential pressure": unit "clicks" is not known, so nothing can be computed with it`},
		{"an axis in a unit of something else", calibration(t, nil, flow(axis(t, tables.DifferentialPressure, "V", 0, 80), 1, 2)), calibration(t, nil, good), Options{},
			`d.json: table injector.flow: axis "differential pressure" is in "V", which does not measure it`},
		{"values in a unit that is not known", calibration(t, nil, table(t, tables.InjectorFlow, "drops", 0, dp(250, 350), nil, 1, 2)), calibration(t, nil, good), Options{},
			`d.json: table injector.flow: unit "drops" is not known, so nothing can be computed with it`},
		{"values in a unit of something else", calibration(t, nil, table(t, tables.InjectorFlow, "ms", 0, dp(250, 350), nil, 1, 2)), calibration(t, nil, good), Options{},
			"d.json: table injector.flow: ms (time) is no unit for injector.flow"},
		{"volume to mass without a density", calibration(t, nil, table(t, tables.InjectorFlow, "cc/min", 0, dp(250, 350), nil, 1, 2)), calibration(t, nil, good), Options{},
			"d.json: table injector.flow: cc/min to g/s needs a fuel density: give the donor's engine fuel_density, or --donor-density"},
		{"another fuel of unknown density", calibration(t, fuel(9, 0.789), good), calibration(t, fuel(14.7, 0), good), Options{},
			"r.json: donor and recipient run different fuels (stoichiometric ratio 9 in the donor, 14.7 in the recipient): give both fuel densities (engine fuel_density, or --donor-density and --density)"},
		{"a rating on test fluid for a fuel of unknown density", calibration(t, nil, good), calibration(t, nil, good), Options{RatedDensity: 0.684},
			"r.json: a flow rated at 0.684 kg/L is turned to the fuel's density, and neither side gives one: give engine fuel_density, or --density"},
		{"an offset map for a curve", calibration(t, nil, good, offset(volts, dp(250, 350), 1, 2, 3, 4)), calibration(t, nil, good, offset(volts, nil, 1, 2)), Options{},
			"r.json: table injector.offset: it has no axis of differential pressure, along which the donor's table injector.offset changes: give --pressure KPA to take the values at, or the recipient's engine rail_pressure relative to the manifold"},
		{"an offset curve for a scalar", calibration(t, nil, good, offset(volts, nil, 1, 2)), calibration(t, nil, good, offset(nil, nil, 1)), Options{},
			"r.json: table injector.offset: it has no axis of battery voltage, along which the donor's table injector.offset changes: give --voltage V to take the values at"},
		{"an offset along speed", calibration(t, nil, good, offset(axis(t, tables.EngineSpeed, "r/min", 0, 9), nil, 1, 2)), calibration(t, nil, good, offset(volts, nil, 1, 2)), Options{},
			`d.json: table injector.offset: an axis of "engine speed" means nothing for injector.offset here: expected battery voltage, differential pressure, manifold vacuum or manifold pressure`},
		{"a curve that its own regulator contradicts", calibration(t, engineOf(300, tables.Manifold, 0), flow(vac, 1, 2)), calibration(t, nil, good), Options{},
			"d.json: table injector.flow: it changes with manifold vacuum, but with a regulator that follows the manifold the differential pressure is 300 kPa everywhere: one of the two is wrong"},
		{"flow as a map", calibration(t, nil, flow(nil, 1)), calibration(t, nil, table(t, tables.InjectorFlow, "g/s", 0, dp(1, 2), volts, 1, 2, 3, 4)), Options{},
			"d.json: table injector.flow: a scalar flow needs the differential pressure at which it holds: give a table of role injector.reference_pressure, or the donor's engine rail_pressure relative to the manifold"},
		{"a rail that is its own contradiction", calibration(t, gauge, good), calibration(t, nil, good), Options{},
			"d.json: engine rail_pressure: kPa(a) is not relative to atmosphere"},
	} {
		c.opt.DonorName, c.opt.RecipientName = "d.json", "r.json"
		r, err := Run(c.donor, c.recipient, c.opt)
		if err == nil {
			t.Errorf("%s: no error, flow %v", c.why, r.Members)
			continue
		}
		if got := err.Error(); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.why, got, c.want)
		}
	}
}

// Several faults are as many lines.
func TestFaultsTogether(t *testing.T) {
	volts := axis(t, tables.BatteryVoltage, "V", 10, 14)
	donor := calibration(t, nil, table(t, tables.InjectorFlow, "drops", 0, nil, nil, 1), table(t, tables.InjectorOffset, "ms", 0, volts, nil, 1, 2))
	recipient := calibration(t, nil, table(t, tables.InjectorFlow, "g/s", 0, nil, nil, 1), table(t, tables.InjectorOffset, "ms", 0, nil, nil, 2))
	_, err := Run(donor, recipient, Options{})
	if err == nil || strings.Count(err.Error(), "\n") != 1 {
		t.Errorf("want two lines: %v", err)
	}
}

// With --partial what both have moves, and what stays is said.
func TestPartial(t *testing.T) {
	x := axis(t, tables.DifferentialPressure, "kPa", 250, 350)
	donor := calibration(t, nil, table(t, tables.InjectorFlow, "g/s", 0, x, nil, 2, 2.4), table(t, tables.InjectorMinPulse, "ms", 0, nil, nil, 0.5))
	recipient := calibration(t, nil, table(t, tables.InjectorFlow, "g/s", 0, x, nil, 1, 1.2))
	r, err := Run(donor, recipient, Options{Partial: true})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Members) != 1 || len(r.Left) != 1 || !strings.Contains(strings.Join(r.Cautions, "\n"), "injector.min_pulse is left behind") {
		t.Errorf("members %d, left %v", len(r.Members), r.Left)
	}
}

// An offset map whose pressure the recipient fixes is sliced there; one that has
// no pressure axis serves at every pressure. Both are said.
func TestOffsetShapes(t *testing.T) {
	x := axis(t, tables.DifferentialPressure, "kPa", 250, 350)
	flow := table(t, tables.InjectorFlow, "g/s", 0, x, nil, 2, 2.4)
	volts := axis(t, tables.BatteryVoltage, "V", 10, 14)
	millivolts := axis(t, tables.BatteryVoltage, "mV", 9000, 12000)
	bar := axis(t, tables.DifferentialPressure, "bar", 2, 4)
	asMap := table(t, tables.InjectorOffset, "ms", 0, volts, bar, 1.6, 0.9, 2, 1.3)
	transposed := table(t, tables.InjectorOffset, "us", 1, bar, millivolts, 1, 1, 1, 1)
	curve := table(t, tables.InjectorOffset, "us", 1, millivolts, nil, 1, 1)
	for _, c := range []struct {
		why       string
		src, dst  *tables.Table
		rail      *tables.Engine
		opt       Options
		want      []float64
		cautioned string
	}{
		{"a slice at the regulator's 300 kPa: halfway", asMap, curve, engineOf(300, tables.Manifold, 0), Options{}, []float64{1800, 1450}, "at a differential pressure of 300 kPa"},
		{"a slice where the person says", asMap, curve, nil, Options{Pressure: 200}, []float64{1600, 1250}, "at a differential pressure of 200 kPa (--pressure)"},
		{"the axes the other way round", asMap, transposed, nil, Options{}, []float64{1600, 2000, 1250, 1650}, "its edge value is held"},
		{"a curve at every pressure", table(t, tables.InjectorOffset, "ms", 0, volts, nil, 1.6, 0.9), transposed, nil, Options{}, []float64{1600, 1600, 1250, 1250}, "gets the same at every breakpoint"},
		{"one voltage, held", table(t, tables.InjectorOffset, "ms", 0, axis(t, tables.BatteryVoltage, "V", 13), nil, 1.1), curve, nil, Options{}, []float64{1100, 1100}, "has one breakpoint of battery voltage, 13 V"},
	} {
		r, err := Run(calibration(t, nil, flow, c.src), calibration(t, c.rail, flow, c.dst), c.opt)
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		got := r.Members[1].After.Values()
		for i := range c.want {
			if got[i] != c.want[i] {
				t.Errorf("%s: %v, want %v", c.why, got, c.want)
				break
			}
		}
		if !strings.Contains(strings.Join(r.Cautions, "\n"), c.cautioned) {
			t.Errorf("%s: cautions %q do not say %q", c.why, r.Cautions, c.cautioned)
		}
	}
}

// The caution names the pressures at which flow is inferred, and no range that
// the donor's table knows.
func TestInferredAt(t *testing.T) {
	donor := calibration(t, nil, table(t, tables.InjectorFlow, "g/s", 0, axis(t, tables.DifferentialPressure, "kPa", 300, 360), nil, 2.4, 2.6))
	for _, c := range []struct {
		points []float64
		want   string
	}{
		{[]float64{200, 300, 330, 450}, "flow at 200 and 450 kPa of"},
		{[]float64{200, 250, 330, 450, 500}, "flow at 200 to 250 and 450 to 500 kPa of"},
		{[]float64{330, 400, 450}, "flow at 400 to 450 kPa of"},
		{[]float64{100, 200}, "flow at 100 to 200 kPa of"},
		{[]float64{310, 330}, ""},
	} {
		r, err := Run(donor, calibration(t, nil, table(t, tables.InjectorFlow, "g/s", 0, axis(t, tables.DifferentialPressure, "kPa", c.points...), nil, make([]float64, len(c.points))...)), Options{})
		if err != nil {
			t.Fatal(err)
		}
		said := strings.Join(r.Cautions, "\n")
		if c.want == "" && strings.Contains(said, "inferred") || !strings.Contains(said, c.want) {
			t.Errorf("%v: cautions %q, want %q", c.points, said, c.want)
		}
	}
}
