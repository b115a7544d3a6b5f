package propose

import (
	"context"
	"math"
	"testing"

	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// By hand: a flow of 2 g/s made 2.2 takes 1/11 of the fuel away, and 0.4 ms
// more at an effective pulse of 14.4 ms adds 1/36.
func TestFullLoadCountsFlowAndOffset(t *testing.T) {
	cal := calWith(t,
		tables.Fields{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s", Values: []float64{2}},
		tables.Fields{ID: "offset", Role: tables.InjectorOffset, Unit: "us", X: axis(tables.BatteryVoltage, "V", 12, 14), Values: []float64{1200, 1000}})
	j, err := engine.NewInjector(cal)
	if err != nil {
		t.Fatal(err)
	}
	flow := Cell{Table: "flow", From: 2, To: 2.2}
	low, high := Cell{Table: "offset", From: 1200, To: 1600}, Cell{Table: "offset", At: [2]int{0, 1}, From: 1000, To: 1400}
	for _, c := range []struct {
		list  []Cell
		pulse float64
		want  float64
	}{
		{nil, math.NaN(), 0},
		{[]Cell{flow}, math.NaN(), -100. / 11},
		{[]Cell{low, high}, 14.4, 100. / 36},
		{[]Cell{flow, low, high}, 14.4, 100./36 - 100./11},
		{[]Cell{flow, high}, 14.4, 100./72 - 100./11}, // 13 V: half of it
		{[]Cell{low, high}, math.NaN(), math.NaN()},
	} {
		f := (&FullLoad{At: lookup.Point{Battery: 13, Pulse: c.pulse}}).compute(cal.Table("flow"), c.list, divide, j)
		if math.IsNaN(c.want) {
			if f != nil {
				t.Errorf("%v without a pulse: %+.3f %%", c.list, f.Table)
			}
			continue
		}
		if f == nil || math.Abs(f.Table-c.want) > 1e-9 {
			t.Errorf("%v: %+v, want %+.3f %%", c.list, f, c.want)
		}
	}
}

// An offset that is too small: the fit moves it, and what that adds at full
// load and past the pressures that were visited is told.
func TestFitTellsTheFuelOfItsOffset(t *testing.T) {
	if testing.Short() {
		t.Skip("drives for seconds")
	}
	cal := testdrive.Four()
	plant := testdrive.Plant{Truth: cal, Fault: testdrive.Fault{Offset: 0.3}}
	opt := testdrive.DriveOptions{Seed: 5, Minutes: 15, SteadyBattery: true}
	p, err := fuelFrom(context.Background(), cal, logged(t, cal, plant, opt), "fit", Defaults())
	if err != nil {
		t.Fatal(err)
	}
	d := testdrive.Drive(cal, plant, opt)
	top, pulse := 0, d.Column("pulse_width")
	for i, v := range d.Column("manifold_pressure") {
		if v > d.Column("manifold_pressure")[top] {
			top = i
		}
	}
	was, now := cal.Table("injector.offset"), applied(t, cal, p).Table("injector.offset")
	for i, v := range cal.Table("injector.flow").Values() {
		if w := applied(t, cal, p).Table("injector.flow").Values()[i]; w != v {
			t.Fatalf("flow moves from %v to %v", v, w)
		}
	}
	moved := now.At(1, 3) - was.At(1, 3) // the whole curve
	want := 100 * moved / (pulse[top] - was.At(1, 3))
	if f := p.Report.FullLoad; moved < 0.2 || f == nil || math.Abs(f.Table/want-1) > 0.1 {
		t.Errorf("full load %+v, want about %+.2f %% for %+.3f ms in %.2f ms", f, want, moved, pulse[top])
	}
	for _, c := range p.Report.Cells {
		if c.Table == "injector.flow" && c.Count == 0 && !(float64(c.Delivered) > 0) {
			t.Errorf("flow %v without evidence: delivered %v", c.At, float64(c.Delivered))
		}
	}
}
