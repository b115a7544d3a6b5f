package propose

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/interp/lsq"
	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// TestLostHoseInBoostStops: where a boosted engine's rail has lost the manifold there is
// no proposal: no flag goes past that, and neither does a dead band that leaves no edit.
func TestLostHoseInBoostStops(t *testing.T) {
	cal := testdrive.Turbo()
	for lost, want := range map[bool]bool{true: true, false: false} {
		drive := logged(t, cal, testdrive.Plant{Truth: cal, Boost: 60, Fault: testdrive.Fault{HoseOff: lost}}, testdrive.DriveOptions{Seed: 6, Minutes: 8, Hz: 5})
		for _, deadBand := range []float64{1, 100} {
			opt := Defaults()
			opt.DespiteCause, opt.DeadBand = true, deadBand
			_, err := fuelFrom(context.Background(), cal, drive, "cells", opt)
			if got := err != nil && strings.Contains(err.Error(), "no flag goes past this"); got != want {
				t.Errorf("hose lost %v, dead band %v: %v", lost, deadBand, err)
			}
		}
	}
}

// TestFallingOffset: an offset that fell with voltage goes on falling: from the middle of
// what was visited outwards a value that would rise is held; one that did not fall is left
// as it is.
func TestFallingOffset(t *testing.T) {
	volts := axis(tables.BatteryVoltage, "V", 8, 10, 12, 14)
	delta := axis(tables.DifferentialPressure, "kPa", 200, 400)
	for _, c := range []struct {
		why            string
		x, y           *tables.Axis
		used           []int
		was, now, want []float64
	}{
		{"rises past the middle", volts, nil, []int{1}, []float64{2, 1.5, 1, 0.8}, []float64{2, 1.4, 1.45, 0.9}, []float64{2, 1.4, 1.4, 0.9}},
		{"rises before it", volts, nil, []int{2}, []float64{2, 1.5, 1, 0.8}, []float64{1.3, 1.4, 1.2, 0.9}, []float64{1.4, 1.4, 1.2, 0.9}},
		{"the middle of three", volts, nil, []int{0, 1, 3}, []float64{2, 1.5, 1, 0.8}, []float64{1, 1.4, 1.6, 1.7}, []float64{1.4, 1.4, 1.4, 1.4}},
		{"falls", volts, nil, []int{1}, []float64{2, 1.5, 1, 0.8}, []float64{2.1, 1.6, 1.1, 0.9}, []float64{2.1, 1.6, 1.1, 0.9}},
		{"never fell", volts, nil, []int{1}, []float64{2, 1.5, 1.6, 0.8}, []float64{2, 1.4, 1.45, 0.9}, []float64{2, 1.4, 1.45, 0.9}},
		{"each row of a map", volts, delta, []int{1}, []float64{2, 1.5, 1, 0.8, 2, 2.5, 1, 0.8}, []float64{2, 1.4, 1.45, 0.9, 2, 1.4, 1.45, 0.9}, []float64{2, 1.4, 1.4, 0.9, 2, 1.4, 1.45, 0.9}},
		{"the second row alone", volts, delta, []int{1}, []float64{2, 1.5, 1, 0.8, 2, 1.5, 1, 0.8}, []float64{2, 1.5, 1, 0.8, 2, 1.4, 1.45, 0.9}, []float64{2, 1.5, 1, 0.8, 2, 1.4, 1.4, 0.9}},
		{"each column of one", delta, volts, []int{1}, []float64{2, 3, 1.5, 2.5, 1, 2, 0.8, 1}, []float64{2, 3, 1.4, 2.4, 1.45, 2.6, 0.9, 1}, []float64{2, 3, 1.4, 2.4, 1.4, 2.4, 0.9, 1}},
	} {
		table, err := tables.NewTable(tables.Fields{ID: "o", Unit: "ms", X: c.x, Y: c.y, Values: c.was})
		if err != nil {
			t.Fatal(err)
		}
		bound, err := lookup.Bind(table)
		if err != nil {
			t.Fatal(err)
		}
		f := &fitting{j: &engine.Injector{OffsetTable: bound}, volts: linearBasis{points: volts.Points(), used: c.used}}
		if f.falling(c.was, c.now); !slices.Equal(c.now, c.want) {
			t.Errorf("%s: %v, want %v", c.why, c.now, c.want)
		}
	}
}

// TestShortPulsesTellNothing: a pulse at its minimum, or one that is still corrected, is in
// no mean of the inverse pulse; one that the offset leaves nothing of is a fault.
func TestShortPulsesTellNothing(t *testing.T) {
	cal := calWith(t,
		tables.Fields{ID: "offset", Role: tables.InjectorOffset, Unit: "ms", Values: []float64{1}},
		tables.Fields{ID: "min", Role: tables.InjectorMinPulse, Unit: "ms", Values: []float64{1.5}},
		tables.Fields{ID: "bent", Role: tables.InjectorNonlinear, Unit: "ms", X: axis(tables.EffectivePulse, "ms", 0.4, 0.8, 1.2), Values: []float64{0.1, 0.05, 0}})
	j, err := engine.NewInjector(cal)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		why         string
		pulse, trim float64
		want        float64 // of 1/p; 0 for none
		fault       string
	}{
		{"usual", 5, 0, 0.25, ""},
		{"with a trim", 6, 25, 0.25, ""},
		{"the minimum", 1.5, -60, 0, ""},
		{"the minimum, as a logger rounds it", 1.505, -60, 0, ""},
		{"past it", 1.51, -60, 1 / 1.275, ""},
		{"still corrected", 2.19, 0, 0, ""},
		{"no longer", 2.21, 0, 1 / 1.21, ""},
		{"a cut", 0, 0, 0, ""},
		{"nothing left of it", 1, 0, 0, "drive.csv:7: a pulse of 1 ms does not exceed table offset, 1 ms at 14 V"},
	} {
		col := &collector{d: newSettled(cal, j, byTrim), name: "drive.csv"}
		col.at.Battery = 14
		col.effective(7, c.pulse, c.trim)
		err := col.fault
		if math.Abs(col.inverse.Sum-c.want) > 1e-9 || (col.inverse.Weight == 1) != (c.want > 0) || (err != nil) != (c.fault != "") || err != nil && err.Error() != c.fault {
			t.Errorf("%s: %+v, %v; want %v", c.why, col.inverse, err, c.want)
		}
	}
}

// TestWhatIsEvidence: each reason for which a cell of a drive is left alone, and just past
// it none: a trim of one quantum, 0.78 %, is within any dead band.
func TestWhatIsEvidence(t *testing.T) {
	enough := Evidence{Count: 30, Visits: 3, Mean: 4, SE: 0.9} // ± 3.87 at 95 %
	for _, c := range []struct {
		why      string
		how      func(e *Evidence)
		deadBand float64
		none     bool
		want     string
	}{
		{"enough", func(*Evidence) {}, 1, false, Proposed},
		{"no sample", func(e *Evidence) { e.Count = 0 }, 1, false, NoSamples},
		{"29 samples", func(e *Evidence) { e.Count = 29 }, 1, false, FewSamples},
		{"two visits", func(e *Evidence) { e.Visits = 2 }, 1, false, FewVisits},
		{"the dead band", func(e *Evidence) { e.Mean, e.SE = 1, 0.01 }, 1, false, InDeadBand},
		{"past it", func(e *Evidence) { e.Mean, e.SE = 1.01, 0.01 }, 1, false, Proposed},
		{"one quantum, whatever the dead band", func(e *Evidence) { e.Mean, e.SE = -Quantum, 0.01 }, 0, false, InDeadBand},
		{"past one quantum", func(e *Evidence) { e.Mean, e.SE = -0.79, 0.01 }, 0, false, Proposed},
		{"an interval that holds 0", func(e *Evidence) { e.SE = 0.95 }, 1, false, Uncertain},
		{"no cause", func(*Evidence) {}, 1, true, NoCause},
	} {
		e, o := enough, Defaults()
		c.how(&e)
		o.DeadBand, o.none = c.deadBand, c.none
		share, verdict := o.judge(&e)
		want := 0.0
		if c.want == Proposed {
			want = float64(e.Mean) / 100
		}
		if verdict != c.want || share != want {
			t.Errorf("%s: %v, %s", c.why, share, verdict)
		}
	}
}

// TestInferenceAgainstEvidence: a breakpoint without enough evidence follows its neighbour,
// but not where what little there is speaks against it by more than a quantum.
func TestInferenceAgainstEvidence(t *testing.T) {
	target, err := tables.NewTable(tables.Fields{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s", X: axis(tables.DifferentialPressure, "kPa", 200, 300), Values: []float64{2, 2.5}})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		why   string
		count int
		mean  float64 // of what little there is
		want  string
	}{
		{"nothing", 0, 0, Inferred}, {"for it", 5, 3, Inferred}, {"against it, within a quantum", 5, -0.78, Inferred}, {"against it by a quantum", 5, -Quantum, Inferred}, {"against it", 5, -0.79, FewSamples}, {"nothing that was counted", 0, -9, Inferred},
	} {
		opt := Defaults()
		verdict := NoSamples
		if c.count > 0 {
			verdict = FewSamples
		}
		list := []Cell{{Evidence: Evidence{Count: c.count, Mean: tables.Number(c.mean)}, Table: "flow", At: [2]int{0, 0}, From: 2, To: 2, Verdict: verdict}, {Evidence: Evidence{Count: 99, Mean: 4}, Table: "flow", At: [2]int{0, 1}, From: 2.5, To: 2.4, Verdict: Proposed, share: 0.04, most: 0.15}}
		if infer(target, list, &opt); list[0].Verdict != c.want {
			t.Errorf("%s: %+v", c.why, list[0])
		}
		if (list[0].To != 2) != (c.want == Inferred) {
			t.Errorf("%s: to %v", c.why, list[0].To)
		}
	}
}

// TestInspectFromCells: one event of 5° at high load is to be inspected, of any average; one
// of 4.9°, or at low load, is not.
func TestInspectFromCells(t *testing.T) {
	target, err := tables.NewTable(tables.Fields{ID: "spark", Role: tables.SparkAdvance, Unit: "deg", X: axis(tables.EngineSpeed, "r/min", 2000), Y: axis(tables.AirCharge, "mg", 100, 300, 500), Values: []float64{30, 25, 20}})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		at   int
		e    Evidence
		want bool
	}{{2, Evidence{Count: 1, max: 5}, true}, {2, Evidence{Count: 1, max: 4.9}, false}, {1, Evidence{Count: 1, max: 5}, true}, {0, Evidence{Count: 1, max: 9}, false}, {2, Evidence{max: 9}, false}} {
		r := &Report{Cells: make([]Cell, 3)}
		g := &grid{cells: make([]Evidence, 3)}
		g.cells[c.at] = c.e
		if single(r, target, g); (len(r.First) == 1) != c.want {
			t.Errorf("row %d, %+v: %q", c.at, c.e, r.First)
		}
	}
}

// TestSparkIsReplayedAsBlended: the spark that a calibration commands is its table's, or
// between its two tables where a blend is logged, less what knock took.
func TestSparkIsReplayedAsBlended(t *testing.T) {
	cal := calWith(t, tables.Fields{ID: "spark", Role: tables.SparkAdvance, Unit: "deg", Resolution: 0.25, Values: []float64{30}}, tables.Fields{ID: "low", Role: tables.SparkFallback, Unit: "deg", Values: []float64{20}})
	nan := math.NaN()
	for _, c := range []struct{ spark, blend, retard, want float64 }{{30, nan, nan, 0}, {28, nan, 2, 0}, {27.5, 25, nan, 0}, {25.5, 25, 2, 0}, {30, 25, nan, 2.5}, {30, 0, nan, 0}} {
		if off, tolerance := sparkReplay(cal)(&block{spark: c.spark, blend: c.blend, retard: c.retard}); !near(off, c.want, 1e-9) || !agree(tolerance, 0.75) {
			t.Errorf("%+v: off by %v deg of %v", c, off, tolerance)
		}
	}
	if off, _ := sparkReplay(calWith(t, cal.Tables()[0].Fields()))(&block{spark: 30, blend: 25, retard: nan}); off != 0 {
		t.Errorf("a blend with one table: off by %v deg", off)
	}
	// A degree for 20 r/min: at 2000 r/min, what 2 % of the speed is worth is 2.
	steep := calWith(t, tables.Fields{ID: "spark", Role: tables.SparkAdvance, Unit: "deg", X: axis(tables.EngineSpeed, "r/min", 1000, 3000), Values: []float64{0, 100}})
	for spark, want := range map[float64]float64{50.4: 0.5, 52.4: 2.5, 47: 2.5} {
		if off, tolerance := sparkReplay(steep)(&block{spark: spark, blend: nan, retard: nan, at: lookup.Point{Speed: 2000}}); !agree(off, spark-50) || !agree(tolerance, want) {
			t.Errorf("on a steep table %v deg are off by %v deg of %v, want of %v", spark, off, tolerance, want)
		}
	}
	if sparkReplay(calWith(t)) != nil {
		t.Error("without a table of spark there is something to replay")
	}
}

// TestAFitAsks: flow asks for a correction past one quantum of the trim, an offset past
// what a quantum is at the shortest pulses, and both past their interval, which is wider
// where several numbers are looked at.
func TestAFitAsks(t *testing.T) {
	f := &fitting{flow: linearBasis{used: []int{0}}}
	for range 20 {
		f.blocks = append(f.blocks, &block{n: 1, inverse: 0.5}) // pulses of 2 ms: a quantum is 0.0156 ms
	}
	for _, c := range []struct {
		why          string
		flow, offset [2]float64 // coefficient and standard error
		asks         [2]bool
	}{
		{"both", [2]float64{0.05, 0.01}, [2]float64{-0.1, 0.02}, [2]bool{true, true}},
		{"neither is past its interval", [2]float64{0.05, 0.025}, [2]float64{-0.1, 0.05}, [2]bool{false, false}},
		{"past the interval of one number, not of two", [2]float64{0.05, 0.0235}, [2]float64{0, 0.05}, [2]bool{false, false}},
		{"past that of two", [2]float64{0.05, 0.0205}, [2]float64{0, 0.05}, [2]bool{true, false}},
		{"a quantum", [2]float64{0.0078, 1e-6}, [2]float64{0.0156, 1e-6}, [2]bool{false, false}},
		{"a quantum to the last digit", [2]float64{Quantum / 100, 1e-6}, [2]float64{Quantum / 50, 1e-6}, [2]bool{false, false}},
		{"past a quantum", [2]float64{-0.0079, 1e-6}, [2]float64{0.0157, 1e-6}, [2]bool{true, true}},
	} {
		fit := &lsq.Fit{Coef: []float64{c.flow[0], c.offset[0]}, SE: []float64{c.flow[1], c.offset[1]}, DOF: 30}
		if flow, off := f.asks(fit); [2]bool{flow, off} != c.asks {
			t.Errorf("%s: %v, %v", c.why, flow, off)
		}
	}
}
