package transfer

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablejson"
)

func read(t *testing.T, name string) *tables.Calibration {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("../../testdata/transfer", name))
	if err != nil {
		t.Fatal(err)
	}
	c, err := tablejson.Parse(data, name)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The transfer of testdata/transfer/README.md, worked by hand there with its
// formulas and sources: exact values to 1e-13 of themselves, rounded ones to the
// bit.
func TestWorkedByHand(t *testing.T) {
	recipient := read(t, "recipient.json")
	r, err := Run(read(t, "donor.json"), recipient, Options{RatedDensity: 0.684, FuelMass: []float64{20}, Voltages: []float64{14},
		Demand: Demand{AirMass: 450, Speed: 5000, From: "stated"}})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		table          string
		exact, rounded []float64
	}{
		{"injector.flow", []float64{6.204575993198701, 5.979602163707936, 5.655063886184827}, []float64{6.205, 5.98, 5.655}},
		{"injector.offset", []float64{1.635113213190628, 1.403090570552502, 0.9140452852762511, 1.796181141105004, 1.535150950920837, 0.9880905705525021},
			[]float64{1.64, 1.4, 0.91, 1.8, 1.54, 0.99}},
		{"injector.nonlinear", []float64{0.08, 0.055, 0.012, 0}, []float64{0.08, 0.055, 0.012, 0}},
		{"injector.min_pulse", []float64{0.85}, []float64{0.85}},
	} {
		m := member(t, r, c.table)
		for i := range c.exact {
			if math.Abs(m.Exact[i]-c.exact[i]) > 1e-13*math.Abs(c.exact[i]) {
				t.Errorf("%s %d: %.16g, by hand %.16g", c.table, i, m.Exact[i], c.exact[i])
			}
			if m.After.Values()[i] != c.rounded[i] {
				t.Errorf("%s %d: rounded %v, by hand %v", c.table, i, m.After.Values()[i], c.rounded[i])
			}
		}
	}
	for _, o := range member(t, r, "injector.flow").Origin {
		if o != Inferred {
			t.Errorf("flow from a single rating is %v, want inferred", o)
		}
	}
	if !unmoved(recipient, r.Changed, moved...) {
		t.Error("a table outside the group moved")
	}
	full := r.Points[len(r.Points)-1]
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"pressure at full load", full.Pressure, 350},
		{"pulse for 20 mg", float64(full.After), 4.486693191865606},
		{"period", r.Duty.Period, 24},
		{"fuel at the highest demand", r.Duty.Fuel, 36.01440576230492},
		{"duty", float64(r.Duty.After), 30.49414659763095},
		{"power", float64(r.Power.After), 216.9851055434997},
	} {
		if math.Abs(c.got-c.want) > 1e-13*c.want {
			t.Errorf("%s: %.16g, by hand %.16g", c.what, c.got, c.want)
		}
	}
	if len(r.Review) != 1 || r.Review[0].Table != "prime.pulse" {
		t.Errorf("for review: %+v", r.Review)
	}
	// At idle, 35 kPa, a sixth of the way from 30 to 60; and at full load.
	idle, full2 := (3.6-0.1/6)/(6.205-0.225/6), 3.3/5.655
	if v := r.Review[0]; math.Abs(float64(v.Low)-idle) > 1e-12 || math.Abs(float64(v.High)-full2) > 1e-12 {
		t.Errorf("priming wants × %v to %v, want %v to %v", v.Low, v.High, idle, full2)
	}
}

func member(t *testing.T, r *Result, id string) Member {
	t.Helper()
	for _, m := range r.Members {
		if m.Table == id {
			return m
		}
	}
	t.Fatalf("no member %s", id)
	return Member{}
}

// Example 2 of injector-facts.md: the fuel of a pulse, 3.02394913 g/s and 0.9 ms
// of offset, turned round: the pulse for the fuel.
func TestPulseMass(t *testing.T) {
	c := calibration(t, engineOf(300, tables.Manifold, 0.745),
		table(t, tables.InjectorFlow, "lb/h", 0, nil, nil, 24), table(t, tables.InjectorOffset, "ms", 0, nil, nil, 0.9))
	n := &notes{}
	s, faults := newSide("recipient", "", c, 0, "", n)
	if faults != nil {
		t.Fatal(faults)
	}
	i := s.newInjector()
	for _, e := range []struct{ ms, mg, kPa float64 }{{2, 3.32634405, 300}, {3, 6.35029318, 300}, {6, 15.4221406, 300}, {10, 27.5179370, 300}, {3, 7.33268695, 400}} {
		if got, _ := i.pulse(e.mg, place{pressure: e.kPa}); math.Abs(got-e.ms) > 1e-7 {
			t.Errorf("%v mg at %v kPa take %v ms, want %v", e.mg, e.kPa, got, e.ms)
		}
	}
}

// Example 5 of injector-facts.md: 200 hp, 0.50 lb/(hp h), six injectors, 90 %
// duty want 18.5185 lb/h each; so that flow supports 200 hp.
func TestSupports(t *testing.T) {
	const lb, hp = 453.59237, 0.745699871582270 // g, kW (NIST SP 811)
	flow := 200 * 0.5 / (6 * 0.9) * lb / 3600
	if got := supports(flow, 6, 0.9, 0, 0.5*lb/hp); math.Abs(got-200*hp) > 1e-9 {
		t.Errorf("%v kW, want %v", got, 200*hp)
	}
	if got := supports(1, 1, 0.85, 0.9, 300); got != 0 {
		t.Errorf("an offset longer than the duty leaves %v kW", got)
	}
}

// Pulses under the minimum and below the linear range are marked; the linear
// range begins where nothing is corrected any more.
func TestMarks(t *testing.T) {
	pulse := axis(t, tables.EffectivePulse, "ms", 0.2, 0.5, 1, 2)
	c := calibration(t, engineOf(300, tables.Manifold, 0.745),
		table(t, tables.InjectorFlow, "g/s", 0, nil, nil, 4), table(t, tables.InjectorOffset, "ms", 0, nil, nil, 0.5),
		table(t, tables.InjectorNonlinear, "%", 0, pulse, nil, 20, 10, 0, 0), table(t, tables.InjectorMinPulse, "us", 0, nil, nil, 900))
	r, err := Run(c, c, Options{FuelMass: []float64{1, 3, 8}, Voltages: []float64{13}, IdleFuel: 3})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Point{
		{After: tables.Number(0.25*(1+0.2-0.1*0.05/0.3) + 0.5), UnderMinimum: true, BelowLinear: true},
		{After: tables.Number(0.75*1.05 + 0.5), BelowLinear: true},
		{After: 2.5},
	} {
		got := r.Points[i]
		if math.Abs(float64(got.After-want.After)) > 1e-12 || got.UnderMinimum != want.UnderMinimum || got.BelowLinear != want.BelowLinear {
			t.Errorf("point %d: %+v, want %+v", i, got, want)
		}
	}
	if r.Idle == nil || r.Idle.LinearFrom != 1 || r.Idle.Minimum != 0.9 || !r.Idle.Points[0].BelowLinear {
		t.Errorf("idle %+v", r.Idle)
	}
}

// The highest demand of a log is the instant with the most air: 90 g/s at 5400
// r/min over four cylinders of a four-stroke is 90000·60·2/(5400·4) = 500 mg.
func TestFindDemand(t *testing.T) {
	log := "time (s),RPM,MAF (g/s),MAP (kPa),battery (V)\n0,800,3,35,13.5\n1,5400,90,98,13.9\n2,5600,80,97,14\n"
	l, err := drivelog.Open("-", strings.NewReader(log), drivelog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	d, _, err := FindDemand(context.Background(), l, &tables.Engine{Cylinders: 4, Strokes: 4})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(d.AirMass-500) > 1e-9 || d.Speed != 5400 || d.Manifold != 98 || d.Battery != 13.9 || !strings.Contains(d.From, "line 3") {
		t.Errorf("demand %+v", d)
	}
}

// What FindDemand takes where the log or the engine says less, and what it says
// then: an air charge is a cylinder's already; no strokes are four.
func TestFindDemandGuards(t *testing.T) {
	four := &tables.Engine{Cylinders: 4, Strokes: 4}
	const flow = "time (s),Engine speed (rpm),MAF (g/s)\n0,800,3\n1,5400,90\n2,5600,80\n3,0,200\n"
	for _, c := range []struct {
		why, log   string
		engine     *tables.Engine
		air, speed float64
		said, err  string
	}{
		{"a flow", flow, four, 500, 5400, "", ""},
		{"a flow, two strokes", flow, &tables.Engine{Cylinders: 4, Strokes: 2}, 250, 5400, "", ""},
		{"a flow, strokes not given", flow, &tables.Engine{Cylinders: 4}, 500, 5400, "4 strokes assumed, to share the log's air flow out", ""},
		{"a flow, no cylinders", flow, nil, 0, 0, "", "the highest demand needs the recipient's engine cylinders, to share the air flow out"},
		{"a charge", "time (s),Engine speed (rpm),Air charge (mg)\n0,800,100\n1,5400,480\n2,5600,470\n3,800,600\n", nil, 470, 5600, "", ""},
		{"neither", "time (s),Engine speed (rpm),MAP\n0,800,30\n1,5400,98\n", four, 0, 0, "", "the highest demand needs air_flow or air_charge, and the log has neither"},
		{"a standing engine", "time (s),Engine speed (rpm),MAF (g/s)\n0,0,3\n1,0,90\n", four, 0, 0, "", "no instant has both engine speed and air"},
		{"a flow without its unit", "time (s),Engine speed (rpm),MAF\n0,800,3\n1,5400,90\n", four, 500, 5400, "the log gives no unit; assumed: air_flow g/s", ""},
	} {
		l, err := drivelog.Open("-", strings.NewReader(c.log), drivelog.Options{})
		if err != nil {
			t.Fatal(err)
		}
		d, said, err := FindDemand(context.Background(), l, c.engine)
		l.Close()
		if (err == nil) != (c.err == "") || err != nil && !strings.Contains(err.Error(), c.err) {
			t.Errorf("%s: %v, want %q", c.why, err, c.err)
			continue
		}
		if got := strings.Join(said, "\n"); (c.said == "") != (got == "") || !strings.Contains(got, c.said) {
			t.Errorf("%s: said %q, want %q", c.why, got, c.said)
		}
		if err == nil && (math.Abs(d.AirMass-c.air) > 1e-9 || d.Speed != c.speed) {
			t.Errorf("%s: %+v", c.why, d)
		}
	}
}

// A recipient that holds no flow yet gets one; the report says what it cannot
// show, and shows the rest.
func TestBlankRecipient(t *testing.T) {
	x := axis(t, tables.DifferentialPressure, "kPa", 250, 350)
	donor := calibration(t, nil, table(t, tables.InjectorFlow, "g/s", 0, x, nil, 2, 2.4))
	r, err := Run(donor, calibration(t, engineOf(300, tables.Manifold, 0), table(t, tables.InjectorFlow, "g/s", 0, x, nil, 0, 0)), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.NotShown) == 0 || !strings.Contains(r.NotShown[0], "pulse widths before") || len(r.Points) == 0 || r.Points[0].Before.Known() || !r.Points[0].After.Known() {
		t.Errorf("not shown %q, points %+v", r.NotShown, r.Points)
	}
	if _, err := json.Marshal(r); err != nil {
		t.Error(err)
	}
}
