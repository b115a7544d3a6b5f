package propose

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/merge/caution"
	"calsplice/tables"
)

// TestPoolByHand: 30 readings about 4 and 10 about 8 have the mean 5. Their means
// lie apart by what 0.75²·1² + 0.25²·3² = 1.125 twice over gives, 1.5, which is
// more than their own errors; where it is less, those count.
func TestPoolByHand(t *testing.T) {
	for _, c := range []struct {
		why   string
		cells []Evidence
		want  Evidence
	}{
		{"far apart", []Evidence{{Count: 30, Visits: 3, Mean: 4, SE: 0.1, AtLimit: 0.2}, {Mean: unknown, SE: unknown}, {Count: 10, Visits: 2, Mean: 8, SE: 0.1}}, Evidence{Count: 40, Visits: 5, Mean: 5, SE: 1.5, AtLimit: 0.15}},
		{"uncertain themselves", []Evidence{{Count: 30, Visits: 3, Mean: 4, SE: 4}, {Count: 10, Visits: 2, Mean: 4, SE: 16}}, Evidence{Count: 40, Visits: 5, Mean: 4, SE: 5}},
		{"an error that is not known", []Evidence{{Count: 30, Visits: 3, Mean: 4, SE: unknown}, {Count: 10, Visits: 1, Mean: 4, SE: 16}}, Evidence{Count: 40, Visits: 4, Mean: 4, SE: 4}},
		{"one cell alone", []Evidence{{}, {Count: 30, Visits: 3, Mean: 4, SE: 0.25}}, Evidence{Count: 30, Visits: 3, Mean: 4, SE: 0.25}},
		{"one cell alone, of one visit", []Evidence{{Mean: unknown, SE: unknown}, {Count: 30, Visits: 1, Mean: 4, SE: unknown}}, Evidence{Count: 30, Visits: 1, Mean: 4, SE: unknown}},
		{"none", []Evidence{{}, {}}, Evidence{Mean: unknown, SE: unknown}},
	} {
		got := pool(c.cells)
		if got.Count != c.want.Count || got.Visits != c.want.Visits || !agree(got.Mean, c.want.Mean) || !agree(got.SE, c.want.SE) || !agree(got.AtLimit, c.want.AtLimit) || got.P95 == got.P95 {
			t.Errorf("%s: %+v, want %+v", c.why, got, c.want)
		}
	}
}

func agree[A ~float64, B ~float64 | ~int](a A, b B) bool {
	return near(a, b, 1e-12*max(1, math.Abs(float64(b))))
}

// near reports whether two numbers lie no further apart, or both are none.
func near[A ~float64, B ~float64 | ~int](a A, b B, apart float64) bool {
	return a != a && b != b || math.Abs(float64(a)-float64(b)) <= apart
}

// TestAlign: cells lie on a table's breakpoints in either order of the axes and
// in whatever unit, or they are refused and both are named.
func TestAlign(t *testing.T) {
	table := func(x, y *tables.Axis) *tables.Table {
		n := x.Len()
		if y != nil {
			n *= y.Len()
		}
		out, err := tables.NewTable(tables.Fields{ID: "t", Unit: "%", X: x, Y: y, Values: make([]float64, n)})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	speed, load := axis("engine speed", "r/min", 1000, 2000, 3000), axis("load", "%", 20, 80)
	target := table(speed, load)
	for _, c := range []struct {
		why   string
		cells *tables.Table
		want  []int // nil where refused
	}{
		{"as they are", table(speed, load), []int{0, 1, 2, 3, 4, 5}},
		{"as channels name them", table(axis("engine_speed", "rpm", 1000, 2000, 3000), load), []int{0, 1, 2, 3, 4, 5}},
		{"in another unit", table(axis("engine speed", "krpm", 1, 2, 3), load), []int{0, 1, 2, 3, 4, 5}},
		{"in no unit", table(axis("engine speed", "", 1000, 2000, 3000), load), []int{0, 1, 2, 3, 4, 5}},
		{"turned", table(load, speed), []int{0, 2, 4, 1, 3, 5}},
		{"a breakpoint elsewhere", table(axis("engine speed", "r/min", 1000, 2000, 3001), load), nil},
		{"one less", table(axis("engine speed", "r/min", 1000, 2000), load), nil},
		{"one more", table(axis("engine speed", "r/min", 1000, 2000, 3000, 4000), load), nil},
		{"another quantity", table(axis("air flow", "g/s", 1000, 2000, 3000), load), nil},
		{"one axis alone", table(speed, nil), nil},
		{"in a unit of another kind", table(axis("engine speed", "kPa", 1000, 2000, 3000), load), nil},
	} {
		got, err := align(c.cells, target)
		if !slices.Equal(got, c.want) || (err == nil) != (c.want != nil) || err != nil && !strings.Contains(err.Error(), "gather them with --axes CAL:t") {
			t.Errorf("%s: %v, %v", c.why, got, err)
		}
	}
}

// TestPredictByHand: a trim of +10 % over a flow that goes from 2 to 2.2 is
// 1.1 · 1.1 − 1 = +21 %, and over air that does 1.1/1.1 − 1 = 0; where no evidence
// is, what the injector brings changes by the inverse.
func TestPredictByHand(t *testing.T) {
	for _, c := range []struct {
		why                  string
		cell                 Cell
		s                    correctionRule
		predicted, delivered float64 // NaN for none
	}{
		{"a flow", Cell{Evidence: Evidence{Count: 9, Mean: 10}, From: 2, To: 2.2}, divide, 21, math.NaN()},
		{"air", Cell{Evidence: Evidence{Count: 9, Mean: 10}, From: 2, To: 2.2}, multiply, 0, math.NaN()},
		{"a flow without evidence", Cell{From: 2, To: 2.2}, divide, math.NaN(), 100 * (1/1.1 - 1)},
		{"air without evidence", Cell{From: 2, To: 2.2}, multiply, math.NaN(), 10},
		{"inferred beside little evidence", Cell{Evidence: Evidence{Count: 1, Mean: 10}, From: 2, To: 2.2, Verdict: Inferred}, divide, 21, 100 * (1/1.1 - 1)},
		{"one that stays", Cell{Evidence: Evidence{Count: 9, Mean: 10}, From: 2, To: 2}, divide, 10, math.NaN()},
		{"a small flow", Cell{Evidence: Evidence{Count: 9, Mean: 10}, From: 0.5, To: 0.55}, divide, 21, math.NaN()},
		{"from nothing", Cell{Evidence: Evidence{Count: 9, Mean: 10}, From: 0, To: 2}, divide, math.NaN(), math.NaN()},
		{"to nothing", Cell{Evidence: Evidence{Count: 9, Mean: 10}, From: 2, To: 0}, divide, math.NaN(), math.NaN()},
	} {
		predict(&c.cell, c.s)
		if !agree(float64(c.cell.Predicted), c.predicted) || !agree(float64(c.cell.Delivered), c.delivered) {
			t.Errorf("%s: predicted %v, delivered %v", c.why, float64(c.cell.Predicted), float64(c.cell.Delivered))
		}
	}
}

// proposed is the proposal of a report that is filled.
func proposed(cal *tables.Calibration, target *tables.Table, by string, fill func(r *Report) error) (*Proposal, error) {
	r := newFuelReport(target, by)
	if err := fill(r); err != nil {
		return nil, err
	}
	return r.proposal(cal), nil
}

// TestSetsCarryTheirCautions: a change set says all that its report does, what
// comes first first.
func TestSetsCarryTheirCautions(t *testing.T) {
	cal := calWith(t, flowCurve())
	p, err := proposed(cal, cal.Tables()[0], "cells", func(r *Report) error {
		opt := Defaults()
		r.byCells(cal.Tables()[0], divide, &grid{channel: "trim", cells: []Evidence{good(7), good(7), good(7), good(7), good(7)}}, &opt)
		r.First, r.Cautions = []string{"before all"}, []string{"first"}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	want := slices.Concat(p.Report.First, p.Report.Cautions, p.Report.Next, caution.Standing)
	if len(p.Report.Next) == 0 || !slices.Equal(p.Changes.Cautions, want) {
		t.Errorf("%q, want %q", p.Changes.Cautions, want)
	}
}

// TestWaysAreCells: by cells, by fit, or by neither; a fit and a gauge's pressure want the log.
func TestWaysAreCells(t *testing.T) {
	cal := calWith(t, flowCurve())
	doc := cellsOn(t, cal.Tables()[0], "trim", []Evidence{good(7), good(7), good(7), good(7), good(7)})
	for by, want := range map[string]string{"": "", "cells": "", "fit": "--by fit needs the drive log", "fits": `--by is "fits", expected cells or fit`} {
		_, err := Fuel(&Input{Cal: cal, Cells: []*tables.Calibration{doc}, By: by, Options: Defaults()})
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("by %q: %v, want %q", by, err, want)
		}
	}
	opt := Defaults()
	opt.RailPressure = 300
	if p, err := fuelFromAverages(cal, doc, opt); err != nil || !strings.HasPrefix(strings.Join(p.Report.First, "\n"), "--rail-pressure is not used: ") {
		t.Errorf("a gauge's pressure beside cells: %v", err)
	}
	if p, err := fuelFromAverages(cal, doc, Defaults()); err != nil || len(p.Report.First) > 0 {
		t.Errorf("no pressure beside cells: %v", err)
	}
}

// TestCellsWithoutFilters: averages of trims that were gathered without filters say which; those
// of a wideband sensor need no closed loop, and what does not say how it was gathered is
// taken as it is.
func TestCellsWithoutFilters(t *testing.T) {
	const all = "closed-loop warm overrun enrichment purge rates settled cycles"
	cal := calWith(t, flowCurve())
	for _, c := range []struct{ channel, state, want string }{
		{"trim", "", ""},
		{"trim", `"asked":"filters ` + all + `"`, ""},
		{"trim", `"asked":"where engine_speed > 0; filters ` + all + ` warm-at=60; delay from steps"`, ""},
		{"trim", `"asked":""`, "closed-loop, warm, overrun, enrichment, purge, rates, settled, cycles"},
		{"trim", `"asked":"where closed-loop; filters closed-loop overrun enrichment purge rates settled; let warm = 1"`, "warm, cycles"},
		{"mixture_error", `"asked":""`, ""},
	} {
		f := cellsOn(t, cal.Tables()[0], c.channel, []Evidence{good(7), good(7), good(7), good(7), good(7)}).Contents()
		if c.state != "" {
			f.State = tables.Extra{"settings": `{"version":1,"x":"differential_pressure","weight":"nearest",` + c.state + `}`}
		}
		doc, err := tables.NewCalibration(f)
		if err != nil {
			t.Fatal(err)
		}
		p, err := fuelFromAverages(cal, doc, Defaults())
		if err != nil {
			t.Fatal(err)
		}
		got := strings.Join(p.Report.Cautions, "\n")
		if c.want != "" {
			c.want = "the cells were gathered without the filters " + c.want + ": cold, open-loop or unsteady samples may count here; gather them with calsplice cells --steady, or give the drive log"
		}
		if got != c.want {
			t.Errorf("%s %s: cautions %q, want %q", c.channel, c.state, got, c.want)
		}
	}
}

// TestRetardWithFilters: averages of retard that were gathered with filters of trims say which.
func TestRetardWithFilters(t *testing.T) {
	cal := calWith(t, sparkTables(nil)...)
	for asked, want := range map[string]string{"": "", "filters warm overrun": "", "where coolant > 0; filters closed-loop warm rates": "closed-loop, rates"} {
		f := cellsOn(t, cal.Tables()[0], "knock_retard", make([]Evidence, 6)).Contents()
		f.State = tables.Extra{"settings": `{"version":1,"x":"engine_speed","y":"air_charge","weight":"nearest","asked":"` + asked + `"}`}
		doc, err := tables.NewCalibration(f)
		if err != nil {
			t.Fatal(err)
		}
		p, err := sparkFromAverages(cal, doc, SparkDefaults())
		if err != nil {
			t.Fatal(err)
		}
		if want != "" {
			want = "the cells were gathered with the filters " + want + ", which leave knock out at full load and as the engine speeds up; gather retard without them, or give the drive log"
		}
		if got := strings.Join(p.Report.Cautions, "\n"); got != want {
			t.Errorf("%q: %q, want %q", asked, got, want)
		}
	}
}

// TestCountsHaveNoUnit: the counts of cells are numbers in whatever unit stands
// beside them, and a mean in a unit of another kind is refused.
func TestCountsHaveNoUnit(t *testing.T) {
	cal := calWith(t, flowCurve())
	doc := cellsOn(t, cal.Tables()[0], "trim", []Evidence{good(7), good(7), good(7), good(7), good(7)})
	in := func(doc *tables.Calibration, unit string, statistics ...string) *tables.Calibration {
		for _, s := range statistics {
			f := doc.Table("trim." + s).Fields()
			f.Unit = unit
			table, err := tables.NewTable(f)
			if err != nil {
				t.Fatal(err)
			}
			if doc, err = doc.WithTable(table); err != nil {
				t.Fatal(err)
			}
		}
		return doc
	}
	for _, unit := range []string{"", "1", "samples"} {
		p, err := fuelFromAverages(cal, in(doc, unit, "count", "visits", "at_limit"), Defaults())
		if err != nil || p.Report.Cells[0].Count != 500 || p.Report.Cells[0].Visits != 30 || p.Report.Cells[0].Verdict != Proposed {
			t.Errorf("in %q: %v", unit, err)
		}
	}
	if _, err := fuelFromAverages(cal, in(doc, "ms", "mean"), Defaults()); err == nil || !strings.Contains(err.Error(), `table trim.mean is in "ms"`) {
		t.Errorf("a trim in ms: %v", err)
	}
}

// TestVapourByHand: fuel that no injector brought is there where the third of the
// drive with the least air flow has a trim under one step below 0, each block for
// its samples.
func TestVapourByHand(t *testing.T) {
	drive := func(low, high, more float64) *settled {
		d := &settled{}
		for i, flow := range []float64{5, 20, 3, 40, 4, 30} {
			b := block{n: 10, at: lookup.Point{AirFlow: flow}, trim: high}
			switch {
			case i == 2:
				b.trim, b.n = low, more
			case flow <= 5:
				b.trim = low / 2
			}
			d.blocks = append(d.blocks, b)
		}
		return d
	}
	for _, c := range []struct {
		why             string
		low, high, more float64
		want            bool
	}{
		{"rich at low flow", -0.04, 0.05, 10, true},
		{"rich everywhere", -0.04, -0.04, 10, true},
		{"rich at high flow alone", 0, -0.05, 10, false},
		{"half a step", -0.006, 0, 10, false},
		{"one that counts for little", -0.014, 0, 1, false}, // (10 · 0.7 · 2 + 1.4)/21 = 0.73 %
		{"one that counts for much", -0.014, 0, 100, true},  // (14 + 140)/120 = 1.28 %
	} {
		if got := drive(c.low, c.high, c.more).vapour(); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestRailCheckByHand: a logged rail pressure more than 5 % from the one that the
// calibration gives is named, each block for its samples; without one, what a gauge reads.
func TestRailCheckByHand(t *testing.T) {
	for _, c := range []struct {
		why   string
		rails [2]float64
		given bool
		want  string // "" for nothing
		gauge float64
	}{
		{"as given", [2]float64{300, 300}, true, "", 0},
		{"4.9 % high", [2]float64{314.7, 314.7}, true, "", 0},
		{"6 % high", [2]float64{318, 318}, true, "rail pressure is 318 kPa in the log and 300 in the calibration (+6.0 %)", 0},
		{"8 % low", [2]float64{276, 276}, true, "rail pressure is 276 kPa in the log and 300 in the calibration (−8.0 %)", 0},
		{"low for most of the drive", [2]float64{300, 270}, true, "rail pressure is 278 kPa in the log and 300 in the calibration (−7.5 %)", 0}, // 1 : 3
		{"not read all the time", [2]float64{math.NaN(), 270}, true, "rail pressure is 270 kPa in the log", 0},
		{"not read", [2]float64{math.NaN(), math.NaN()}, true, "", 0},
		{"not given", [2]float64{270, 270}, false, "", 0},
		{"not read, a gauge 8 % low", [2]float64{math.NaN(), math.NaN()}, true, "rail pressure is 276 kPa by --rail-pressure and 300 in the calibration (−8.0 %)", 276},
		{"not read, a gauge 4.9 % high", [2]float64{math.NaN(), math.NaN()}, true, "", 314.7},
		{"read, beside a gauge", [2]float64{300, 300}, true, "", 276},
	} {
		d := &settled{inj: &engine.Injector{RailGiven: c.given}, blocks: []block{{n: 10, rail: c.rails[0]}, {n: 30, rail: c.rails[1]}}}
		d.inj.Rail.Pressure = 300
		if got := strings.Join(d.railCheck(c.gauge), "\n"); !strings.HasPrefix(got, c.want) || (got == "") != (c.want == "") {
			t.Errorf("%s: %q, want %q", c.why, got, c.want)
		}
	}
}

// TestFuelOfAir: 580 mg of air a cylinder by a ratio of 14.5 are 40 mg of fuel; a
// rich mixture wants more, a second injector halves it, and two pulses do too. Air
// by a table is no air to go by unless it is metered.
func TestFuelOfAir(t *testing.T) {
	engine := func(how func(e *tables.Engine)) *tables.Engine {
		e := &tables.Engine{Cylinders: 4, StoichAFR: 14.5}
		how(e)
		return e
	}
	meter := tables.Fields{ID: "m", Role: tables.AirMeter, Unit: "g/s", X: axis("meter frequency", "Hz", 1, 2), Values: []float64{1, 2}}
	filling := tables.Fields{ID: "v", Role: tables.AirVolumetricEfficiency, Unit: "%", X: axis("engine speed", "r/min", 1, 2), Values: []float64{80, 90}}
	same := func(*tables.Engine) {}
	charge, flow := block{at: lookup.Point{Charge: 580, Speed: 3000}}, block{at: lookup.Point{Charge: math.NaN(), AirFlow: 58, Speed: 3000}}
	rich := charge
	rich.commanded = 0.8
	for _, c := range []struct {
		why    string
		engine *tables.Engine
		tables []tables.Fields
		b      block
		want   float64 // NaN where it cannot be told
	}{
		{"by charge", engine(same), nil, charge, 40},
		{"by flow: 25 cycles a second of 4 cylinders", engine(same), nil, flow, 40},
		{"two strokes: 50 cycles", engine(func(e *tables.Engine) { e.Strokes = 2 }), nil, flow, 20},
		{"rich", engine(same), nil, rich, 50},
		{"eight injectors", engine(func(e *tables.Engine) { e.Injectors = 8 }), nil, charge, 20},
		{"two pulses a cycle", engine(func(e *tables.Engine) { e.PulsesPerCycle = 2 }), nil, charge, 20},
		{"no ratio", engine(func(e *tables.Engine) { e.StoichAFR = 0 }), nil, charge, math.NaN()},
		{"no cylinders", engine(func(e *tables.Engine) { e.Cylinders = 0 }), nil, charge, math.NaN()},
		{"no engine", nil, nil, charge, math.NaN()},
		{"air by a table", engine(same), []tables.Fields{filling}, charge, math.NaN()},
		{"a meter beside it", engine(same), []tables.Fields{filling, meter}, charge, 40},
	} {
		cal := calWith(t, append([]tables.Fields{flowCurve()}, c.tables...)...)
		contents := cal.Contents()
		contents.Engine = c.engine
		cal, err := tables.NewCalibration(contents)
		if err != nil {
			t.Fatal(err)
		}
		got := math.NaN()
		if of := fuelOf(cal); of != nil {
			got = of(&c.b)
		}
		if !agree(got, c.want) {
			t.Errorf("%s: %v mg, want %v", c.why, got, c.want)
		}
	}
}

// TestWidebandFills: a wideband sensor serves where it has evidence enough and
// the trims have not, or stood at their limit for more than half of it.
func TestWidebandFills(t *testing.T) {
	opt := Defaults()
	enough := func(how func(e *Evidence)) Evidence {
		e := good(7)
		how(&e)
		return e
	}
	same := func(*Evidence) {}
	for _, c := range []struct {
		why          string
		trim, lambda Evidence
		filled       bool
	}{
		{"trims that serve", enough(same), enough(same), false},
		{"too few of them", enough(func(e *Evidence) { e.Count = opt.MinCount - 1 }), enough(same), true},
		{"in too few visits", enough(func(e *Evidence) { e.Visits = opt.MinVisits - 1 }), enough(same), true},
		{"at their limit", enough(func(e *Evidence) { e.AtLimit = 0.6 }), enough(same), true},
		{"at it for half of the time", enough(func(e *Evidence) { e.AtLimit = 0.5 }), enough(same), false},
		{"just enough of them", enough(func(e *Evidence) { e.Count, e.Visits = opt.MinCount, opt.MinVisits }), enough(same), false},
		{"just enough of the sensor", Evidence{}, enough(func(e *Evidence) { e.Count, e.Visits = opt.MinCount, opt.MinVisits }), true},
		{"nothing of either", Evidence{}, Evidence{}, false},
		{"too few of both", Evidence{}, enough(func(e *Evidence) { e.Count = opt.MinCount - 1 }), false},
		{"too few visits of both", Evidence{}, enough(func(e *Evidence) { e.Visits = opt.MinVisits - 1 }), false},
	} {
		c.lambda.Mean = 9
		g := &grid{cells: []Evidence{c.trim}}
		g.fill(&grid{cells: []Evidence{c.lambda}}, &opt)
		if got := g.cells[0].Mean == 9; got != c.filled || got != strings.Contains(g.cells[0].note, "wideband") {
			t.Errorf("%s: filled %v", c.why, got)
		}
	}
}

// TestPlaceInAMap: row and column of the nearest breakpoints; none where the
// drive does not say.
func TestPlaceInAMap(t *testing.T) {
	table, err := tables.NewTable(tables.Fields{ID: "v", Unit: "%", Role: tables.AirVolumetricEfficiency, X: axis("engine speed", "r/min", 1000, 2000, 3000),
		Y: axis("manifold pressure", "kPa", 20, 60), Values: make([]float64, 6)})
	if err != nil {
		t.Fatal(err)
	}
	p, err := placesOf(table)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		speed, manifold float64
		want            int
	}{{900, 10, 0}, {1500, 39, 1}, {1499, 40, 3}, {9000, 90, 5}, {math.NaN(), 40, -1}, {1000, math.NaN(), -1}} {
		if got := p.Cell(&lookup.Point{Speed: c.speed, Manifold: c.manifold}); got != c.want {
			t.Errorf("%v r/min at %v kPa: %d, want %d", c.speed, c.manifold, got, c.want)
		}
	}
}

// TestReplayOneByHand: where half of a drive or more is off by more than the
// tolerance, that is said with its share of the time, and those blocks are no
// evidence; what cannot be asked is left alone.
func TestReplayOneByHand(t *testing.T) {
	for _, c := range []struct {
		why      string
		mismatch []float64
		said     string
		out      string
	}{
		{"none off", []float64{0, 1, -1, 0}, "", "[false false false false]"},
		{"one of four", []float64{0, 2, 0, 1}, "", "[false false false false]"},
		{"three of four", []float64{2, -2, 1, 3}, "pulse and log disagree in 75 % of settled time", "[true true false true]"},
		{"two of three that can be asked", []float64{2, math.NaN(), 1, 3}, "pulse and log disagree in 67 % of settled time", "[true false false true]"},
		{"two of three by their tolerance", []float64{2, 99, 1, 3}, "pulse and log disagree in 67 % of settled time", "[true false false true]"},
		{"none that can", []float64{math.NaN(), math.NaN(), math.NaN(), math.NaN()}, "", "[false false false false]"},
	} {
		d := &settled{}
		for i := range c.mismatch {
			d.blocks = append(d.blocks, block{n: 10, run: i})
		}
		said := strings.Join(d.replayOne("pulse", func(b *block) (float64, float64) {
			if c.mismatch[b.run] == 99 {
				return 99, math.NaN()
			}
			return c.mismatch[b.run], 1
		}), "")
		var out []bool
		for _, b := range d.blocks {
			out = append(out, b.out)
		}
		if !strings.Contains(said, c.said) || (said == "") != (c.said == "") || fmt.Sprint(out) != c.out {
			t.Errorf("%s: %q, out %v", c.why, said, out)
		}
	}
}
