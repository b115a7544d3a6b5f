package propose

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"testing"

	"calsplice/tables"
)

// TestAlgebra drives the numbers of testdata/reference/injector-facts.md, section
// 2, example 1: an injector of 3.02394913 g/s and an offset of 0.9 ms delivers
// these masses in these pulses. The tables are wrong, closed loop delivers the
// same masses through them, and a fit gives the true tables back.
func TestAlgebra(t *testing.T) {
	const flowTrue, offsetTrue = 3.02394913, 0.9
	facts := [][2]float64{{2, 3.32634405}, {3, 6.35029318}, {6, 15.4221406}, {10, 27.5179370}} // ms, mg
	for _, wrong := range [][2]float64{{1.07, 0}, {0.97, 0.05}, {1.04, -0.06}} {
		flow, offset := flowTrue*wrong[0], offsetTrue+wrong[1]
		doc := calWith(t,
			tables.Fields{ID: "injector.flow", Role: tables.InjectorFlow, Unit: "g/s", X: axis(tables.DifferentialPressure, "kPa", 250, 350), Values: []float64{flow, flow}},
			tables.Fields{ID: "injector.offset", Role: tables.InjectorOffset, Unit: "ms", X: axis(tables.BatteryVoltage, "V", 12, 15), Values: []float64{offset, offset - 1e-9}})
		cal, err := tables.NewCalibration(tables.Contents{Tables: doc.Tables(), Engine: &tables.Engine{Cylinders: 4, Strokes: 4,
			RailPressure: &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Manifold}}})
		if err != nil {
			t.Fatal(err)
		}
		opt := Defaults()
		opt.Gain, opt.DespiteCause = 1, true
		p, err := fuelFrom(context.Background(), cal, asLog(cal, closedLoop(facts, flow, offset)), "fit", opt)
		if err != nil {
			t.Fatal(err)
		}
		now := applied(t, cal, p)
		for _, v := range now.Table("injector.flow").Values() {
			if math.Abs(v/flowTrue-1) > 0.002 {
				t.Errorf("tables × %v, %+v ms: flow is %v g/s, want %v", wrong[0], wrong[1], v, flowTrue)
			}
		}
		for _, v := range now.Table("injector.offset").Values() {
			if math.Abs(v-offsetTrue) > 0.005 {
				t.Errorf("tables × %v, %+v ms: the offset is %v ms, want %v", wrong[0], wrong[1], v, offsetTrue)
			}
		}
	}
}

// closedLoop is a log at ten readings a second that stays at each of the pulses
// in turn, with the trim that delivers each mass through the tables.
func closedLoop(facts [][2]float64, flow, offset float64) []byte {
	var b bytes.Buffer
	fmt.Fprintln(&b, "Time (s),Engine speed (rpm),MAP (kPa),Barometric pressure (kPa),Throttle (%),ECT (degC),Battery (V),Injector pulse width (ms),STFT (%),LTFT (%),Fuel status,Lambda commanded")
	for visit := range 48 {
		f := facts[visit%len(facts)]
		trim := flow*(f[0]-offset)/f[1] - 1
		for i := range 200 {
			// A hundredth of the trim swings, as every closed loop does.
			swing := 0.005 * math.Sin(float64(i)*2*math.Pi/20)
			fmt.Fprintf(&b, "%.1f,%d,%d,101.3,%d,90,13.8,%.6f,%.6f,0,2,1\n", float64(visit*200+i)/10, 1000+200*(visit%len(facts)),
				30+15*(visit%len(facts)), 10+10*(visit%len(facts)), offset+(f[0]-offset)*(1+trim+swing)/(1+trim), 100*(trim+swing))
		}
	}
	return b.Bytes()
}
