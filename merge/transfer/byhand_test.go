package transfer

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// TestDemandByHand: the instant of a log at which the most air flows: 2,000 r/min of four
// cylinders and four strokes have 66.67 intakes a second, so that 60 g/s are 900 mg each.
func TestDemandByHand(t *testing.T) {
	four := &tables.Engine{Cylinders: 4}
	for _, c := range []struct {
		why, log string
		e        *tables.Engine
		mass     float64
		line     int
		notes    int // of what was assumed
		want     string
	}{
		{"the most air", "time,RPM,MAF (g/s)\n0,1000,10\n1,2000,60\n2,4000,50\n", four, 900, 3, 1, ""},
		{"the first of two alike", "time,RPM,MAF (g/s)\n0,1000,60\n1,2000,60\n", four, 1800, 2, 1, ""},
		{"strokes that are given", "time,RPM,MAF (g/s)\n0,2000,60\n1,1000,5\n", &tables.Engine{Cylinders: 4, Strokes: 2}, 450, 2, 0, ""},
		{"an engine that stands", "time,RPM,MAF (g/s)\n0,0,90\n1,2000,60\n", four, 900, 3, 1, ""},
		{"an engine that hardly turns", "time,RPM,MAF (g/s)\n0,0.5,90\n1,2000,60\n", four, 90 * 1000 * 120 / (0.5 * 4), 2, 1, ""},
		{"by charge", "time,RPM,Air charge (mg)\n0,1000,500\n1,3000,200\n2,500,900\n", nil, 200, 3, 0, ""},
		{"no air at all", "time,RPM,MAF (g/s)\n0,1000,0\n1,2000,0\n", four, 0, 0, 0, "no instant has both engine speed and air"},
		{"little air", "time,RPM,MAF (g/s)\n0,1000,0.5\n1,2000,0.4\n", four, 15, 2, 1, ""},
		{"no channel of air", "time,RPM,ECT\n0,1000,0\n1,2000,0\n", four, 0, 0, 0, "needs air_flow or air_charge"},
		{"no cylinders", "time,RPM,MAF (g/s)\n0,1000,10\n1,2000,60\n", nil, 0, 0, 0, "needs the recipient's engine cylinders"},
	} {
		log, err := drivelog.Open("-", strings.NewReader(c.log), drivelog.Options{})
		if err != nil {
			t.Fatal(err)
		}
		d, notes, err := FindDemand(context.Background(), log, c.e)
		log.Close()
		if c.want != "" {
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: %v", c.why, err)
			}
			continue
		}
		assumed := 0
		for _, n := range notes {
			if strings.Contains(n, "strokes assumed") {
				assumed++
			}
		}
		if err != nil || math.Abs(d.AirMass-c.mass) > 1e-9*c.mass || !strings.HasSuffix(d.From, fmt.Sprintf("line %d", c.line)) || assumed != c.notes {
			t.Errorf("%s: %+v, %q, %v; want %v mg", c.why, d, notes, err, c.mass)
		}
	}
	log, err := drivelog.Open("-", strings.NewReader("time,RPM,MAF (g/s),MAP,Battery (V),Lambda cmd\n0,1000,10,40,12,1\n1,2000,60,95,0.5,0.85\n"), drivelog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close()
	if d, _, err := FindDemand(context.Background(), log, four); err != nil || d.Manifold != 95 || d.Battery != 0.5 || d.Lambda != 0.85 || d.Speed != 2000 {
		t.Errorf("%+v, %v", d, err)
	}
}

// TestTwoDigits: fuel masses are looked at in round numbers.
func TestTwoDigits(t *testing.T) {
	for v, want := range map[float64]float64{1234: 1200, 1250: 1300, 99: 99, 9.87: 9.9, 6.74: 6.7, 0.0676: 0.068, 0.01234: 0.012, 100: 100, 1: 1} {
		if got := twoDigits(v); got != want {
			t.Errorf("%v: %v, want %v", v, got, want)
		}
	}
	for _, v := range []float64{0, math.Inf(1)} {
		if got := twoDigits(v); got != v {
			t.Errorf("%v: %v", v, got)
		}
	}
	if v := twoDigits(-3); v != -3 {
		t.Errorf("−3: %v", v)
	}
}

// TestVacuumIsARoundSum: a rail of 300 kPa over the atmosphere and 20 kPa of vacuum are
// 320 kPa to the bit, whatever the barometer.
func TestVacuumIsARoundSum(t *testing.T) {
	for _, baro := range []float64{0, 98.7} {
		donor := calibration(t, engineOf(0, "", density), table(t, tables.InjectorFlow, "g/s", 0, axis(t, tables.DifferentialPressure, "kPa", 300, 320.1, 340), nil, 3, 3.1, 3.2))
		recipient := calibration(t, engineOf(300, tables.Atmosphere, density), table(t, tables.InjectorFlow, "g/s", 0, axis(t, tables.ManifoldVacuum, "kPa", 0, 20.1, 40), nil, 1, 1, 1))
		r, err := Run(donor, recipient, Options{Barometer: baro})
		if err != nil {
			t.Fatal(err)
		}
		if m := r.Members[0]; m.Pressure[1] != 320.1 || m.After.At(0, 1) != 3.1 || m.Origin[1] != AtBreakpoint {
			t.Errorf("at a barometer of %v: %+v", baro, m)
		}
	}
}

// TestWhereCorrectionEnds: the pulse from which nothing is corrected, along either axis; a
// correction to its end has none.
func TestWhereCorrectionEnds(t *testing.T) {
	pulses, volts := axis(t, tables.EffectivePulse, "ms", 0.4, 0.8, 1.2), axis(t, tables.BatteryVoltage, "V", 10, 14)
	for _, c := range []struct {
		why    string
		x, y   *tables.Axis
		values []float64
		want   float64
	}{
		{"along x", pulses, nil, []float64{0.1, 0.05, 0}, 1.2},
		{"nothing to correct", pulses, nil, []float64{0, 0, 0}, math.NaN()},
		{"to its end", pulses, nil, []float64{0, 0, 0.1}, math.NaN()},
		{"the row that corrects longest", pulses, volts, []float64{0.1, 0, 0, 0.1, 0.1, 0}, 1.2},
		{"along y", volts, pulses, []float64{0.1, 0.1, 0, 0, 0, 0}, 0.8},
		{"along voltage alone", volts, nil, []float64{0.1, 0}, math.NaN()},
	} {
		s, faults := newSide("donor", "d.json", calibration(t, engineOf(300, tables.Manifold, density),
			table(t, tables.InjectorNonlinear, "ms", 0, c.x, c.y, c.values...)), 0, "--density", &notes{})
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		r := s.read(s.member[tables.InjectorNonlinear])
		if got := (injector{tables.InjectorNonlinear: r}).linearFrom(); got != c.want && !(got != got && c.want != c.want) {
			t.Errorf("%s: %v, want %v", c.why, got, c.want)
		}
	}
	if got := (injector{}).linearFrom(); got == got {
		t.Errorf("without a table: %v", got)
	}
}

// TestNamesOfSides: a side without a file is called by what it is; and a side that looks at
// other tables leaves its own as they are.
func TestNamesOfSides(t *testing.T) {
	flow := table(t, tables.InjectorFlow, "g/s", 0, nil, nil, 2)
	for file, want := range map[string]string{"": "donor: ", "d.json": "d.json: "} {
		s, _ := newSide("donor", file, calibration(t, engineOf(300, tables.Manifold, density), flow), 0, "--density", &notes{})
		if err := s.fault(nil, "x"); !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%q: %v", file, err)
		}
		other := table(t, tables.InjectorFlow, "g/s", 0, nil, nil, 9)
		if c := s.with([]Member{{Role: tables.InjectorFlow, After: other}}, &notes{}); c.member[tables.InjectorFlow] != other || s.member[tables.InjectorFlow] == other || c.notes == s.notes {
			t.Errorf("%+v", c)
		}
	}
}

// TestCoordinates: where a pressure falls on an axis, rising or falling with it, at one
// breakpoint and past the ends.
func TestCoordinates(t *testing.T) {
	for _, c := range []struct {
		why    string
		at     []float64 // kPa, of each breakpoint
		values []float64
		v      float64
		want   float64
		origin Origin
	}{
		{"between", []float64{200, 300, 400}, []float64{0, 1, 2}, 350, 1.5, Between},
		{"on a breakpoint", []float64{200, 300, 400}, []float64{0, 1, 2}, 300, 1, AtBreakpoint},
		{"at the first", []float64{200, 300, 400}, []float64{0, 1, 2}, 200, 0, AtBreakpoint},
		{"at the last", []float64{200, 300, 400}, []float64{0, 1, 2}, 400, 2, AtBreakpoint},
		{"below", []float64{200, 300, 400}, []float64{0, 1, 2}, 199, 0, Held},
		{"above", []float64{200, 300, 400}, []float64{0, 1, 2}, 401, 2, Held},
		{"falling", []float64{400, 300, 200}, []float64{0, 1, 2}, 350, 0.5, Between},
		{"falling, on a breakpoint", []float64{400, 300, 200}, []float64{0, 1, 2}, 300, 1, AtBreakpoint},
		{"falling, above", []float64{400, 300, 200}, []float64{0, 1, 2}, 401, 0, Held},
		{"falling, below", []float64{400, 300, 200}, []float64{0, 1, 2}, 199, 2, Held},
		{"one breakpoint", []float64{300}, []float64{7}, 300, 7, AtBreakpoint},
		{"beside the one", []float64{300}, []float64{7}, 301, 7, Held},
		{"the one, up to rounding", []float64{300}, []float64{7}, 300 * (1 + 1e-15), 7, AtBreakpoint},
		{"the same everywhere", []float64{300, 300}, []float64{7, 7}, 300, 7, AtBreakpoint},
		{"beside the same everywhere", []float64{300, 300}, []float64{7, 7}, 301, 7, Held},
	} {
		x := axis(t, tables.ManifoldPressure, "kPa", []float64{0, 1, 2}[:len(c.values)]...)
		r := reading{t: table(t, tables.InjectorOffset, "ms", 0, x, nil, c.values...), along: [2]*scale{{pressure, c.at}, everywhere}}
		(&side{notes: &notes{}}).lay(&r)
		if v, origin := r.at(place{pressure: c.v}); math.Abs(v-c.want) > 1e-12 || origin != c.origin {
			t.Errorf("%s: %v, %v; want %v, %v", c.why, v, origin, c.want, c.origin)
		}
	}
}

// TestReferenceThatIsNone: a reference pressure of nothing holds no flow.
func TestReferenceThatIsNone(t *testing.T) {
	for kPa, want := range map[float64]bool{0: false, -1: false, 0.5: true} {
		donor := calibration(t, engineOf(0, "", density), table(t, tables.InjectorFlow, "g/s", 0, nil, nil, 2), table(t, tables.InjectorReferencePressure, "kPa", 0, nil, nil, kPa))
		recipient := calibration(t, engineOf(300, tables.Manifold, density), table(t, tables.InjectorFlow, "g/s", 0, nil, nil, 1))
		if _, err := Run(donor, recipient, Options{}); (err == nil) != want || err != nil && !strings.Contains(err.Error(), "expected more than 0") {
			t.Errorf("%v kPa: %v", kPa, err)
		}
	}
}

// TestWhyOfEachCell: each edit of a map says where its own value comes from, in every row.
func TestWhyOfEachCell(t *testing.T) {
	donor := calibration(t, engineOf(300, tables.Manifold, density), table(t, tables.InjectorFlow, "g/s", 0, nil, nil, 2),
		table(t, tables.InjectorOffset, "ms", 0, axis(t, tables.BatteryVoltage, "V", 8, 14), nil, 2, 1))
	recipient := calibration(t, engineOf(300, tables.Manifold, density), table(t, tables.InjectorFlow, "g/s", 0, nil, nil, 2),
		table(t, tables.InjectorOffset, "ms", 0, axis(t, tables.DifferentialPressure, "kPa", 200, 300), axis(t, tables.BatteryVoltage, "V", 8, 11, 16), 9, 9, 9, 9, 9, 9))
	r, err := Run(donor, recipient, Options{})
	if err != nil {
		t.Fatal(err)
	}
	m := r.Members[1]
	seen := 0
	for _, e := range r.Changes.Edits {
		c := e.(*merge.CellEdit)
		want := map[Origin]string{AtBreakpoint: "donor's injector.offset", Between: "between", Held: "held"}[m.Origin[2*c.Row+c.Column]]
		if m.Origin[2*c.Row+c.Column] != []Origin{AtBreakpoint, Between, Held}[c.Row] || !strings.Contains(c.Why.Note, want) || c.Row < 2 && strings.Contains(c.Why.Note, "held") {
			t.Errorf("[%d, %d]: %s, %q", c.Row, c.Column, m.Origin[2*c.Row+c.Column], c.Why.Note)
		}
		seen++
	}
	if seen != 6 {
		t.Errorf("%d edits", seen)
	}
}

// TestBothAxes: two axes that tell one thing contradict each other, unless the values
// change with one of them or neither.
func TestBothAxes(t *testing.T) {
	dp, vacuum := axis(t, tables.DifferentialPressure, "kPa", 250, 300), axis(t, tables.ManifoldVacuum, "kPa", 0, 50)
	for _, c := range []struct {
		values []float64
		want   string
	}{
		{[]float64{1, 2, 3, 4}, "d.json: table injector.offset: both axes tell the differential pressure"},
		{[]float64{1, 2, 1, 2}, ""},
		{[]float64{1, 1, 1, 1}, ""},
	} {
		offset := table(t, tables.InjectorOffset, "ms", 0, dp, vacuum, c.values...)
		s, faults := newSide("donor", "d.json", calibration(t, engineOf(300, tables.Atmosphere, density), offset), 0, "--density", &notes{})
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		got := ""
		if fault := attempt(func() { s.read(offset) }); fault != nil {
			got = fault.Error()
		}
		if got != c.want {
			t.Errorf("%v: %q, want %q", c.values, got, c.want)
		}
	}
}
