package propose

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/cells"
	"calsplice/interp/cells/sift"
	"calsplice/interp/drive"
	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/merge"
	"calsplice/merge/cause"
	"calsplice/merge/testdrive"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// moment is one instant of a log as a collector sees it.
type moment struct {
	time, speed, manifold, trim float64
	stretch                     int
	why                         sift.Reason
	stale                       bool
}

// collected are the blocks of a log of these instants.
func collected(t *testing.T, list []moment) *settled {
	t.Helper()
	d := newSettled(calWith(t), &engine.Injector{}, byTrim)
	c := &collector{d: d, broken: true, mean: drive.Nothing(), limits: sift.NewLimiter(0, []uint8{0}, [4]int{-1, -1, -1, -1}),
		columns: drive.Ask(func(string) bool { return true }, drive.Speed, drive.Manifold, drive.Trim)}
	f := &drivelog.Frame{N: len(list), Columns: make([]drivelog.Column, 3)}
	var why []sift.Reason
	for i, m := range list {
		f.Line, f.Time, f.Stretch, why = append(f.Line, i+2), append(f.Time, m.time), append(f.Stretch, m.stretch), append(why, m.why)
		for k, v := range []float64{m.speed, m.manifold, m.trim} {
			f.Columns[k].Value, f.Columns[k].Fresh = append(f.Columns[k].Value, v), append(f.Columns[k].Fresh, !m.stale)
		}
	}
	f.Since = f.Time
	if err := c.frame(f, why); err != nil {
		t.Fatal(err)
	}
	c.flush()
	return d
}

// TestBlocksEnd: a block holds three seconds at one operating point. What moves, or takes
// longer, begins another; what is left out, or a clock that starts anew, ends the visit too.
func TestBlocksEnd(t *testing.T) {
	first := moment{0, 2000, 50, 2, 0, sift.Kept, false}
	for _, c := range []struct {
		why  string
		how  func(m *moment) // of the second
		want string          // samples and visit of each block
		trim float64         // of the last, in per cent
	}{
		{"at one place", func(*moment) {}, "2 in 1", 3},
		{"3 s later", func(m *moment) { m.time = 3 }, "2 in 1", 3},
		{"3.1 s later", func(m *moment) { m.time = 3.1 }, "1 in 1, 1 in 1", 4},
		{"120 r/min faster", func(m *moment) { m.speed = 2120 }, "2 in 1", 3},
		{"121 r/min slower", func(m *moment) { m.speed = 1879 }, "1 in 1, 1 in 1", 4},
		{"4 kPa more", func(m *moment) { m.manifold = 54 }, "2 in 1", 3},
		{"4.1 kPa less", func(m *moment) { m.manifold = 45.9 }, "1 in 1, 1 in 1", 4},
		{"without a trim", func(m *moment) { m.trim = math.NaN() }, "1 in 1", 2},
		{"with a trim that was not read anew", func(m *moment) { m.stale = true }, "1 in 1", 2},
		{"left out", func(m *moment) { m.why = sift.Unread }, "1 in 1", 2},
		{"after a restart", func(m *moment) { m.stretch = 1 }, "1 in 1, 1 in 2", 4},
	} {
		second := first
		second.time, second.trim = 1, 4
		c.how(&second)
		var got []string
		d := collected(t, []moment{first, second})
		for _, b := range d.blocks {
			got = append(got, fmt.Sprintf("%v in %d", b.n, b.run))
		}
		if last := d.blocks[len(d.blocks)-1]; strings.Join(got, ", ") != c.want || !agree(100*last.trim, c.trim) {
			t.Errorf("%s: %s of %v %%, want %s of %v", c.why, strings.Join(got, ", "), 100*last.trim, c.want, c.trim)
		}
	}
	third := first
	third.time = 2
	left := first
	left.why = sift.Unread
	if d := collected(t, []moment{first, left, third}); len(d.blocks) != 2 || d.blocks[1].run != 2 || d.samples != 2 || d.blocks[1].after != 1 {
		t.Errorf("about what is left out: %+v", d.blocks)
	}
}

// TestOffsetByAnyAxis: the offset is read where each sample is, whatever its table goes by:
// 5 ms less an offset of 1 where the axis is at its middle, of 2 at its end. By a wideband sensor nothing is read.
func TestOffsetByAnyAxis(t *testing.T) {
	for _, c := range []struct {
		x     *tables.Axis
		plain bool
		k     kind
		want  float64 // samples
	}{
		{axis(tables.BatteryVoltage, "V", 8, 16), true, byTrim, 2},
		{axis(tables.DifferentialPressure, "kPa", 8, 16), true, byTrim, 2},
		{axis(tables.ManifoldPressure, "kPa", 8, 16), false, byTrim, 2},
		{axis(tables.EngineSpeed, "r/min", 8, 16), false, byTrim, 2},
		{axis(tables.BatteryVoltage, "V", 8, 16), true, byLambda, 0},
	} {
		d := newSettled(calWith(t), injectorOf(t, calWith(t, tables.Fields{ID: "offset", Role: tables.InjectorOffset, Unit: "ms", X: c.x, Values: []float64{0, 2}})), c.k)
		if d.plainOffset() != c.plain {
			t.Errorf("by %s: by voltage and pressure alone is %v", c.x.Quantity(), !c.plain)
		}
		at := drivelog.Column{Value: []float64{12, 14, 16}}
		col := &collector{d: d, plain: d.plainOffset(), line: make([]int, 3), taken: []int{0, 2},
			columns: drive.Ask(func(string) bool { return true }, drive.Battery, drive.Delta, drive.Manifold, drive.Speed, drive.Trim, drive.Pulse)}
		col.columns.Take(&drivelog.Frame{N: 3, Columns: []drivelog.Column{at, at, at, at, {Value: []float64{0, 50, 0}}, {Value: []float64{5, 7, 5}}}})
		if col.add(); !agree(col.inverse.Sum, c.want*(1/4.+1/3.)/2) || col.inverse.Weight != c.want || !agree(col.sums[drive.Battery].Sum, 28) || len(col.taken) != 0 {
			t.Errorf("by %s: %+v, %+v", c.x.Quantity(), col.inverse, col.sums)
		}
	}
}

// TestHighestLoad: the highest manifold pressure of an engine that turns, with the pulse and
// the learned trim there: 11 ms less an offset of 1 are 8 ms without a trim of 25 %.
func TestHighestLoad(t *testing.T) {
	nan := math.NaN()
	j := injectorOf(t, calWith(t, tables.Fields{ID: "offset", Role: tables.InjectorOffset, Unit: "ms", Values: []float64{1}}))
	for _, c := range []struct {
		why                        string
		manifold, speed            [2]float64
		long, pulse                float64
		inj                        *engine.Injector
		wantManifold, wantP, wantL float64
	}{
		{"the higher", [2]float64{60, 90}, [2]float64{2000, 2000}, 25, 11, j, 90, 8, 25},
		{"the first", [2]float64{95, 90}, [2]float64{2000, 2000}, 25, 11, j, 95, 8, 25},
		{"no learned trim", [2]float64{60, 90}, [2]float64{2000, 2000}, nan, 11, j, 90, 10, nan},
		{"no pulse left", [2]float64{60, 90}, [2]float64{2000, 2000}, 25, 1, j, 90, nan, 25},
		{"no injector", [2]float64{60, 90}, [2]float64{2000, 2000}, 25, 11, &engine.Injector{}, 90, nan, 25},
		{"an engine that stands", [2]float64{60, 100}, [2]float64{2000, 400}, 25, 11, j, 60, 8, 25},
		{"one that just turns", [2]float64{60, 100}, [2]float64{2000, 401}, 25, 11, j, 100, 8, 25},
		{"none read", [2]float64{nan, nan}, [2]float64{2000, 2000}, 25, 11, j, nan, 0, nan},
		{"one not read", [2]float64{nan, 40}, [2]float64{2000, 2000}, 25, 11, j, 40, 8, 25},
	} {
		col := &collector{d: newSettled(calWith(t), c.inj, byTrim)}
		for i := range 2 {
			col.fullLoad(&drive.Instant{drive.Speed: c.speed[i], drive.Manifold: c.manifold[i], drive.Long1: c.long, drive.Pulse: c.pulse})
		}
		if at := col.d.most; !agree(at.Manifold, c.wantManifold) || !agree(at.Pulse, c.wantP) || !agree(col.d.long, c.wantL) {
			t.Errorf("%s: %v kPa, %v ms, %v %%; want %v, %v, %v", c.why, at.Manifold, at.Pulse, col.d.long, c.wantManifold, c.wantP, c.wantL)
		}
	}
}

// TestBlocksJoinByPulse: without a manifold pressure, blocks of one millisecond of pulse
// are of one operating point; with one, blocks of 4 kPa, whatever their pulse.
func TestBlocksJoinByPulse(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		why      string
		manifold [2]float64
		pulse    [2]float64
		blocks   int
	}{
		{"alike in pulse", [2]float64{nan, nan}, [2]float64{2.1, 2.9}, 1},
		{"in another", [2]float64{nan, nan}, [2]float64{2.9, 3.1}, 2},
		{"alike in pressure", [2]float64{40.5, 43.5}, [2]float64{2.9, 3.1}, 1},
		{"in another", [2]float64{43.5, 44.5}, [2]float64{2.1, 2.9}, 2},
	} {
		d := &settled{}
		for i := range 2 {
			d.blocks = append(d.blocks, block{n: 1, pulse: c.pulse[i], at: lookup.Point{Speed: 2000, Manifold: c.manifold[i]}})
		}
		if d.joinWithin(512); len(d.blocks) != c.blocks {
			t.Errorf("%s: %d blocks, want %d", c.why, len(d.blocks), c.blocks)
		}
	}
}

// TestMeansOfACell: the mean operating point of a cell's blocks by samples, without those
// that are no evidence or have no place.
func TestMeansOfACell(t *testing.T) {
	target := calWith(t, tables.Fields{ID: "air", Role: tables.AirMeter, Unit: "g/s", X: axis(tables.AirFlow, "g/s", 10, 20, 30), Values: []float64{10, 20, 30}}).Table("air")
	place, err := placesOf(target)
	if err != nil {
		t.Fatal(err)
	}
	d := &settled{}
	for _, b := range []struct {
		n, flow, v float64
		out        bool
	}{{10, 10, 100, false}, {30, 12, 200, false}, {50, 10, 900, true}, {20, math.NaN(), 900, false}, {5, 30, 400, false}} {
		d.blocks = append(d.blocks, block{n: b.n, out: b.out, at: lookup.Point{AirFlow: b.flow, Speed: b.v, Manifold: b.v + 1, Barometer: b.v + 2, Delta: b.v + 3, Battery: b.v + 4, Charge: b.v + 5, Load: b.v + 6}})
	}
	at := d.means(place)
	for cell, want := range [][2]float64{{175, 11.5}, {}, {400, 30}} {
		v := want[0]
		p, ok := at(cell)
		if ok != (v > 0) || ok && p != (lookup.Point{AirFlow: want[1], Speed: v, Manifold: v + 1, Barometer: v + 2, Delta: v + 3, Battery: v + 4, Charge: v + 5, Load: v + 6}) {
			t.Errorf("cell %d: %+v, %v; want %v at %v g/s", cell, p, ok, v, want[1])
		}
	}
}

// TestAirIsReadBySpark: air 10 % higher moves a charge of 300 mg by 30, over which a table
// that falls by 10 deg in 400 mg has 0.75 deg less.
func TestAirIsReadBySpark(t *testing.T) {
	air := tables.Fields{ID: "air", Role: tables.AirMeter, Unit: "g/s", X: axis("meter frequency", "Hz", 1, 2, 3), Values: []float64{2, 4, 6}}
	spark := tables.Fields{ID: "spark", Role: tables.SparkAdvance, Unit: "deg", X: axis(tables.AirCharge, "mg", 100, 500), Values: []float64{30, 20}}
	for _, c := range []struct {
		why    string
		tables []tables.Fields
		known  bool // where
		spark  float64
		notes  string
	}{
		{"with a table of spark", []tables.Fields{air, spark}, true, -0.75, "air is read by more than the fuel: load moves with it, and with load the spark; each visited cell tells by how much"},
		{"at no known place", []tables.Fields{air, spark}, false, math.NaN(), "air is read by more than the fuel: load moves with it, and with load the spark; each visited cell tells by how much"},
		{"without one", []tables.Fields{air}, true, math.NaN(), "air is read by more than the fuel: load moves with it; each visited cell tells by how much"},
	} {
		cal := calWith(t, c.tables...)
		list := []Cell{{Evidence: Evidence{Count: 9}, From: 2, To: 2.2, Load: unknown, Spark: unknown}, {Load: unknown, From: 4, To: 4.4}, {Evidence: Evidence{Count: 9}, Load: unknown, From: 0, To: 4}}
		notes := shifts(cal, cal.Table("air"), list, func(int) (lookup.Point, bool) { return lookup.Point{Charge: 300, AirFlow: 5, Load: 50}, c.known })
		if !agree(float64(list[0].Load), 10) || !near(float64(list[0].Spark), c.spark, 1e-9) || strings.Join(notes, "\n") != c.notes {
			t.Errorf("%s: load %v, spark %v, %q", c.why, float64(list[0].Load), float64(list[0].Spark), notes)
		}
		if list[1].Load.Known() || list[2].Load.Known() {
			t.Errorf("%s: a cell without evidence, or of 0, moves load", c.why)
		}
		if shifts(cal, cal.Table("air"), list[1:], nil) != nil {
			t.Errorf("%s: nothing was visited, and is noted", c.why)
		}
	}
}

// TestPlaceOfACell: a cell by its own breakpoints. Half a litre filled to 80 % at 50 kPa and
// 25 degC holds 1000 · 0.8 · 50 · 0.5/(0.28705 · 298.15) = 233.69 mg of air.
func TestPlaceOfACell(t *testing.T) {
	nan := math.NaN()
	map2 := func(role tables.Role, unit, x, xu, y, yu string) tables.Fields {
		return tables.Fields{ID: "t", Role: role, Unit: unit, X: axis(x, xu, 1000, 2000), Y: axis(y, yu, 40, 50), Values: []float64{70, 70, 70, 80}}
	}
	displaced := &tables.Engine{Cylinders: 4, Displacement: &tables.Measure{Value: 2000, Unit: "cm3"}}
	for _, c := range []struct {
		why                           string
		f                             tables.Fields
		e                             *tables.Engine
		speed, manifold, charge, load float64
	}{
		{"efficiency", map2(tables.AirVolumetricEfficiency, "%", tables.EngineSpeed, "r/min", tables.ManifoldPressure, "kPa"), displaced, 2000, 50, 233.6925, nan},
		{"of no known size", map2(tables.AirVolumetricEfficiency, "%", tables.EngineSpeed, "r/min", tables.ManifoldPressure, "kPa"), &tables.Engine{Cylinders: 4}, 2000, 50, nan, nan},
		{"of no engine", map2(tables.AirVolumetricEfficiency, "%", tables.EngineSpeed, "r/min", tables.ManifoldPressure, "kPa"), nil, 2000, 50, nan, nan},
		{"over charge", map2(tables.AirMeter, "g/s", tables.EngineSpeed, "r/min", tables.AirCharge, "mg"), displaced, 2000, nan, 50, nan},
		{"a curve", tables.Fields{ID: "t", Role: tables.AirMeter, Unit: "g/s", X: axis(tables.EngineSpeed, "r/min", 1000, 2000), Values: []float64{1, 2}}, nil, 2000, nan, nan, nan},
		{"over load", map2(tables.AirMeter, "g/s", tables.EngineSpeed, "r/min", tables.Load, "%"), displaced, 2000, nan, nan, 50},
	} {
		cal := calWith(t, c.f)
		contents := cal.Contents()
		contents.Engine = c.e
		cal, err := tables.NewCalibration(contents)
		if err != nil {
			t.Fatal(err)
		}
		last := len(c.f.Values) - 1
		p, ok := breakpoints(cal, cal.Table("t"))(last)
		if !ok || !agree(p.Speed, c.speed) || !agree(p.Manifold, c.manifold) || !agree(p.Load, c.load) || !near(p.Charge, c.charge, 0.01) {
			t.Errorf("%s: %+v", c.why, p)
		}
	}
}

// TestMeterIsPlacedByItsFlow: an air meter whose own signal no log gives is placed by the
// air flow that the table made of it, in any unit, as long as that rises.
func TestMeterIsPlacedByItsFlow(t *testing.T) {
	meter := func(unit string, values ...float64) tables.Fields {
		return tables.Fields{ID: "m", Role: tables.AirMeter, Unit: unit, X: axis("meter frequency", "Hz", 1, 2, 3), Values: values}
	}
	other := meter("g/s", 10, 20, 30)
	other.Role = tables.InjectorFlow
	wide := meter("g/s", 10, 20, 30, 40, 50, 60)
	wide.Y = axis("mood", "", 1, 2)
	for _, c := range []struct {
		why  string
		f    tables.Fields
		want int // of 16 g/s; −1 where refused
	}{
		{"rising", meter("g/s", 10, 20, 30), 1},
		{"in kg/h", meter("kg/h", 36, 72, 108), 1},
		{"level", meter("g/s", 10, 10, 30), -1},
		{"falling", meter("g/s", 30, 20, 10), -1},
		{"of no flow", meter("hoops", 10, 20, 30), -1},
		{"no meter", other, -1},
		{"a map", wide, -1},
	} {
		p, err := placesOf(calWith(t, c.f).Table("m"))
		if (err != nil) != (c.want < 0) {
			t.Errorf("%s: %v", c.why, err)
		} else if err == nil && p.Cell(&lookup.Point{AirFlow: 16}) != c.want {
			t.Errorf("%s: cell %d", c.why, p.Cell(&lookup.Point{AirFlow: 16}))
		}
	}
}

// TestTrimsThatFollowThePulse: trims that move by 0.1 ms over 1/pulse within one cell are an
// offset's, once that is more than 1.5 % and there are twenty stretches.
func TestTrimsThatFollowThePulse(t *testing.T) {
	place, err := placesOf(calWith(t, tables.Fields{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s", Values: []float64{2}}).Table("flow"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		why     string
		n       int
		spread  float64 // of 1/pulse
		noise   float64
		verdict string
		how     func(b *block)
		want    bool
	}{
		{"1.6 %", 20, 0.16, 1e-4, Proposed, func(*block) {}, true},
		{"1.4 %", 20, 0.14, 1e-4, Proposed, func(*block) {}, false},
		{"nineteen", 19, 0.16, 1e-4, Proposed, func(*block) {}, false},
		{"in noise", 20, 0.16, 0.1, Proposed, func(*block) {}, false},
		{"where nothing is corrected", 20, 0.16, 1e-4, InDeadBand, func(*block) {}, false},
		{"of another calibration", 20, 0.16, 1e-4, Proposed, func(b *block) { b.out = true }, false},
		{"without pulses", 20, 0.16, 1e-4, Proposed, func(b *block) { b.inverse = math.NaN() }, false},
	} {
		d := &settled{}
		for i := range c.n {
			b := block{n: 10, run: i, inverse: 0.2 + c.spread*float64(i%2)}
			b.trim = 0.03 + 0.1*b.inverse + c.noise*float64(i/2%2*2-1)
			c.how(&b)
			d.blocks = append(d.blocks, b)
		}
		got := d.pulseWarning(place, []Cell{{Verdict: c.verdict}})
		if (got != "") != c.want || c.want && !strings.Contains(got, "an injector offset wrong by about +0.10 ms") {
			t.Errorf("%s: %q", c.why, got)
		}
	}
}

// TestMapsAreNotInferred: a curve's breakpoint without evidence follows its neighbour; a
// map's cell, and that of a table of air, stays as it is.
func TestMapsAreNotInferred(t *testing.T) {
	curve := tables.Fields{ID: "t", Role: tables.InjectorFlow, Unit: "g/s", Resolution: 0.001, X: axis(tables.DifferentialPressure, "kPa", 200, 300), Values: []float64{2, 2.5}}
	wide, air := curve, curve
	wide.Y, wide.Values = axis(tables.BatteryVoltage, "V", 12, 14), []float64{2, 2.5, 2, 2.5}
	air.Role, air.X = tables.AirMeter, axis(tables.AirFlow, "g/s", 200, 300)
	for _, c := range []struct {
		why  string
		f    tables.Fields
		s    correctionRule
		want string
	}{{"a curve", curve, divide, Inferred}, {"a map", wide, divide, NoSamples}, {"air", air, multiply, NoSamples}} {
		cal := calWith(t, c.f)
		g := &grid{channel: "trim", cells: make([]Evidence, len(c.f.Values))}
		g.cells[0] = good(5)
		opt := Defaults()
		r := newFuelReport(cal.Table("t"), "cells")
		r.byCells(cal.Table("t"), c.s, g, &opt)
		p := r.proposal(cal)
		if w, a := p.Report.Within5, p.Report.After; w == nil || a == nil || w.Mean != 5 || !(a.Mean < 0.1) {
			t.Errorf("%s: %+v before, %+v after", c.why, w, a)
		}
		if got := p.Report.Cells[1]; got.Verdict != c.want || (got.To == got.From) != (c.want == NoSamples) || p.Report.Cells[0].Verdict != Proposed {
			t.Errorf("%s: %+v", c.why, got)
		}
	}
}

// TestNearestEvidence: the nearest cell that has some, and halfway the higher one; what was
// itself inferred is none.
func TestNearestEvidence(t *testing.T) {
	x := []float64{200, 250, 300, 350, 420}
	for _, c := range []struct {
		verdicts []string
		i, want  int
	}{
		{[]string{NoSamples, Proposed, NoSamples, Proposed, NoSamples}, 2, 3},
		{[]string{NoSamples, Proposed, NoSamples, NoSamples, Proposed}, 2, 1},
		{[]string{Inferred, NoSamples, Proposed, NoSamples, NoSamples}, 0, 2},
		{[]string{NoSamples, Inferred, NoSamples, NoSamples, InDeadBand}, 2, 4},
		{[]string{FewSamples, FewVisits, Uncertain, NoSamples, Inferred}, 2, -1},
	} {
		var list []Cell
		for _, v := range c.verdicts {
			list = append(list, Cell{Verdict: v})
		}
		if got := nearest(list, x, c.i); got != c.want {
			t.Errorf("%q: %d, want %d", c.verdicts, got, c.want)
		}
	}
}

// TestVerdictsAddUp: whatever became of a cell, it is counted.
func TestVerdictsAddUp(t *testing.T) {
	var cells []Cell
	for _, v := range []string{Proposed, Inferred, NoSamples, FewSamples, FewVisits, InDeadBand, Uncertain, NoCause, BelowResolution, AtTableLimit,
		NotPositive, NotPersistent, AfterLift, Lean, NoAdvance, Decaying, Unplaced, Elsewhere} {
		cells = append(cells, Cell{Verdict: v}, Cell{Verdict: v})
	}
	list, all := count(cells), 0
	for _, c := range list {
		all += c.Cells
	}
	if all != len(cells) || len(list) != len(cells)/2 {
		t.Errorf("%d of %d cells are counted: %v", all, len(cells), list)
	}
}

// TestNotesJoin: with a semicolon where there are two.
func TestNotesJoin(t *testing.T) {
	for _, c := range [][3]string{{"a", "b", "a; b"}, {"a", "", "a"}, {"", "b", "b"}, {"", "", ""}} {
		if got := join(c[0], c[1]); got != c[2] {
			t.Errorf("%q and %q: %q", c[0], c[1], got)
		}
	}
}

// TestWithinFivePercent: by cells and by samples, of those that have evidence.
func TestWithinFivePercent(t *testing.T) {
	at := func(n int, mean float64) Cell { return Cell{Evidence: Evidence{Count: n, Mean: tables.Number(mean)}} }
	list := []Cell{at(10, 5), at(30, -5.1), at(0, 1), at(10, math.NaN())}
	mean := func(c *Cell) tables.Number { return c.Mean }
	if w := within(list, mean); w == nil || w.Cells != 0.5 || w.Time != 0.25 || !agree(w.Mean, (50+153)/40.0) {
		t.Errorf("%+v, want half of the cells, a quarter of the time, 5.075 %%", w)
	}
	if w := within(list[2:], mean); w != nil {
		t.Errorf("%+v without evidence", w)
	}
}

// TestWhatFollowsEdits: what to do after applying stands where there is something to apply,
// and is of fuel; a report without edits has a list of none. Trims at a limit in 2 % of a
// cell's samples are a caution.
func TestWhatFollowsEdits(t *testing.T) {
	cal := calWith(t, curves()...)
	for _, c := range []struct {
		why, command   string
		to, limit      float64
		next, cautions int
	}{
		{"an edit of fuel", "propose fuel", 2.1, 0, 2, 0},
		{"no edit", "propose fuel", 2, 0, 0, 0},
		{"an edit of spark", "propose spark", 2.1, 0, 0, 0},
		{"at the limit", "propose fuel", 2, merge.CensoredShare, 0, 1},
		{"hardly ever at it", "propose fuel", 2, 0.99 * merge.CensoredShare, 0, 0},
	} {
		p := (&Report{Command: c.command, Target: "flow", title: "title", Cells: []Cell{{Evidence: Evidence{AtLimit: c.limit}, Table: "flow", From: 2, To: c.to}}}).proposal(cal)
		r := &p.Report
		if r.Edits == nil || (len(r.Edits) == 1) != (c.to != 2) || len(r.Next) != c.next || len(r.Cautions) != c.cautions || p.Changes.Title != "title" {
			t.Errorf("%s: edits %v, next %q, cautions %q", c.why, r.Edits, r.Next, r.Cautions)
		}
		if c.cautions > 0 && !strings.HasPrefix(r.Cautions[0], "flow: in 1 cell the trim stood at its limit") {
			t.Errorf("%s: %q", c.why, r.Cautions)
		}
	}
}

// TestFullLoadFromCells: a flow of 2 g/s made 2.2 takes 1/11 of the fuel away, against a mean
// trim of (10 · 5 + 30 · 1)/40 = 2 % by samples.
func TestFullLoadFromCells(t *testing.T) {
	cal := calWith(t, tables.Fields{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s", Values: []float64{2}})
	list := []Cell{{Evidence: Evidence{Count: 10, Mean: 5}, Table: "flow", From: 2, To: 2.2}, {Evidence: Evidence{Count: 30, Mean: 1}}, {Evidence: Evidence{Mean: 99}}, {Evidence: Evidence{Count: 9, Mean: unknown}}}
	f := nominalFullLoad(cal, cal.Table("flow"), list, divide)
	if f == nil || f.Place != "manifold at 101.3 kPa" || !agree(f.Table, -100./11) || !agree(float64(f.Learned), 2) || !agree(float64(f.Change), 100*(10./11/1.02-1)) ||
		f.Against != "the drive's mean trim, if that is learned and applied there," {
		t.Errorf("%+v", f)
	}
	if f = nominalFullLoad(cal, cal.Table("flow"), list[3:], divide); f == nil || f.Learned.Known() || f.Change.Known() {
		t.Errorf("without a trim: %+v", f)
	}
}

// TestWhatStandsBeforeEdits: what looks like a flow scale asks for the rail's pressure and
// the fuel; a volumetric efficiency does not, nor what a fit corrects. To go on despite a
// cause is said where there is one that no table holds. A column of zeros has none.
func TestWhatStandsBeforeEdits(t *testing.T) {
	const unconfirmed = "cause not confirmed until the rail pressure (a rail_pressure channel in the log, or --rail-pressure) and the fuel (stoich_afr and fuel_density in the calibration) are given"
	const despite = "continued because of --despite-cause"
	known := &tables.Engine{StoichAFR: 14.5, FuelDensity: &tables.Measure{Value: 0.75, Unit: "kg/L"}}
	for _, c := range []struct {
		why    string
		cause  *verdict
		opt    Options
		trim   float64
		engine *tables.Engine
		rail   bool
		want   string // after the headline
	}{
		{"a flow scale", explained(true, cause.FlowScale), Options{}, 0.05, nil, false, unconfirmed},
		{"with the pressure", explained(true, cause.FlowScale), Options{}, 0.05, nil, true, "cause not confirmed until the fuel (stoich_afr and fuel_density in the calibration) is given"},
		{"with a gauge's", explained(true, cause.FlowScale), Options{RailPressure: 300}, 0.05, nil, false, "cause not confirmed until the fuel"},
		{"with the fuel", explained(true, cause.FlowScale), Options{}, 0.05, known, false, "cause not confirmed until the rail pressure"},
		{"with both", explained(true, cause.FlowScale), Options{}, 0.05, known, true, ""},
		{"an efficiency", explained(true, cause.VolumetricEfficiency), Options{}, 0.05, nil, false, ""},
		{"flow and offset", explained(true, cause.FlowScale, cause.InjectorOffset), Options{}, 0.05, nil, false, ""},
		{"a leak", explained(true, cause.UnmeteredAir), Options{}, 0.05, nil, false, ""},
		{"a leak, despite it", explained(true, cause.UnmeteredAir), Options{DespiteCause: true}, 0.05, nil, false, despite},
		{"an efficiency, despite it", explained(true, cause.VolumetricEfficiency), Options{DespiteCause: true}, 0.05, nil, false, ""},
		{"none, despite it", explained(true, cause.None), Options{DespiteCause: true}, 0.05, nil, false, ""},
		{"zeros", explained(true, cause.FlowScale), Options{}, 0, nil, false, "every trim in the log is 0"},
	} {
		contents := calWith(t).Contents()
		contents.Engine = c.engine
		cal, err := tables.NewCalibration(contents)
		if err != nil {
			t.Fatal(err)
		}
		d := &settled{kind: byTrim, cal: cal, blocks: []block{{trim: 0}, {trim: c.trim}}, lacks: map[string]error{}}
		if !c.rail {
			d.lacks["rail_pressure"] = errors.New("none")
		}
		v := gate(&fuelEvidence{drive: d, cause: c.cause.res}, &c.opt)
		first := v.first
		if c.trim != 0 {
			first = first[1:]
		}
		if got := strings.Join(first, "\n"); !strings.HasPrefix(got, c.want) || (got == "") != (c.want == "") || v.always != nil {
			t.Errorf("%s: %q, %v; want %q", c.why, v.first, v.always, c.want)
		}
	}
}

// TestOptionsHaveBounds: each at its bound, and just past it.
func TestOptionsHaveBounds(t *testing.T) {
	for _, c := range []struct {
		why  string
		how  func(o *Options)
		want string // "" where valid
	}{
		{"defaults", func(*Options) {}, ""},
		{"all of it", func(o *Options) { o.Gain = 1 }, ""},
		{"more", func(o *Options) { o.Gain = 1.01 }, "--gain is 1.01"},
		{"none of it", func(o *Options) { o.Gain = 0 }, "--gain is 0"},
		{"50 %", func(o *Options) { o.Bound = 50 }, ""},
		{"51 %", func(o *Options) { o.Bound = 51 }, "--bound is 51"},
		{"0 %", func(o *Options) { o.Bound = 0 }, "--bound is 0"},
		{"no dead band", func(o *Options) { o.DeadBand = 0 }, ""},
		{"everything", func(o *Options) { o.DeadBand = 100 }, ""},
		{"more than that", func(o *Options) { o.DeadBand = 101 }, "--dead-band is 101"},
		{"less than none", func(o *Options) { o.DeadBand = -1 }, "--dead-band is "},
		{"no number", func(o *Options) { o.DeadBand = math.NaN() }, "--dead-band is "},
		{"one sample", func(o *Options) { o.MinCount = 1 }, ""},
		{"no sample", func(o *Options) { o.MinCount = 0 }, "--min-count is 0"},
		{"one visit", func(o *Options) { o.MinVisits = 1 }, ""},
		{"no visit", func(o *Options) { o.MinVisits = 0 }, "--min-visits is 0"},
	} {
		o := Defaults()
		c.how(&o)
		if err := o.Validate(); (err == nil) != (c.want == "") || err != nil && !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.why, err, c.want)
		}
	}
}

// TestValuesThatStay: a value that is not above 0, or past a limit already, is not corrected;
// one that a limit holds goes up to it, and says so; one that is rounded back stays.
func TestValuesThatStay(t *testing.T) {
	table, err := tables.NewTable(tables.Fields{ID: "t", Unit: "1", Resolution: 0.1, Limits: &tables.Limits{Low: 1, High: 4}, Values: []float64{2}})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		why           string
		from, share   float64
		to            float64
		verdict, note string
	}{
		{"corrected", 2, 0.1, 2.2, Proposed, ""},
		{"nothing", 0, 0.1, 0, NotPositive, ""},
		{"less than nothing", -2, 0.1, -2, NotPositive, ""},
		{"past its limit", 5, 0.1, 5, AtTableLimit, ""},
		{"past its limit, and back", 5, -0.1, 5, AtTableLimit, ""},
		{"under it", 0.5, 0.1, 0.5, AtTableLimit, ""},
		{"up to it", 3.9, 0.1, 4, Proposed, "held at the table's limit"},
		{"at it", 4, 0.1, 4, AtTableLimit, ""},
		{"away from it", 4, -0.1, 3.6, Proposed, ""},
		{"under half a step", 2, 0.02, 2, BelowResolution, ""},
	} {
		if to, verdict, note := apply(table, c.from, c.share, 0.15, multiply); !agree(to, c.to) || verdict != c.verdict || note != c.note {
			t.Errorf("%s: %v, %s, %q; want %v, %s, %q", c.why, to, verdict, note, c.to, c.verdict, c.note)
		}
	}
}

// TestCellsOfAGrid: what a cells document has of a channel. A cell without a sample says
// nothing, whatever stands in it, and one sample is one; without a standard error the
// deviation over the root of the visits stands in for it: 3/√9 = 1.
func TestCellsOfAGrid(t *testing.T) {
	nan := math.NaN()
	x := axis(tables.EngineSpeed, "r/min", 1000, 2000, 3000, 4000)
	values := map[string][]float64{"mean": {4, 5, nan, 7}, "count": {30, 1, 30, 0}, "visits": {9, 1, 9, 9}, "sd": {3, 2, 3, 3}, "p95": {6, 7, 8, 9}, "max": {8, 9, 10, 11}, "at_limit": {0.1, nan, 0.2, 0.3}}
	for _, c := range []struct {
		se   []float64
		want []float64
		note bool
	}{{nil, []float64{1, 2, nan, nan}, true}, {[]float64{0.5, nan, 0.5, 0.5}, []float64{0.5, nan, nan, nan}, false}} {
		values["se"] = c.se
		var list []*tables.Table
		for _, name := range []string{"mean", "count", "visits", "se", "sd", "p95", "max", "at_limit"} {
			if values[name] == nil {
				continue
			}
			table, err := tables.NewTable(tables.Fields{ID: "trim." + name, Unit: "%", X: x, Values: values[name]})
			if err != nil {
				t.Fatal(err)
			}
			list = append(list, table)
		}
		doc, err := tables.NewCalibration(tables.Contents{Kind: tables.Cells, Tables: list})
		if err != nil {
			t.Fatal(err)
		}
		g := &grid{}
		got, err := g.read(doc, "trim")
		if err != nil {
			t.Fatal(err)
		}
		for i, e := range got {
			number := func(name string) tables.Number { return tables.Number(values[name][i]) }
			want := Evidence{Mean: number("mean"), Count: int(values["count"][i]), Visits: int(values["visits"][i]), P95: number("p95"), max: values["max"][i], SE: tables.Number(c.want[i])}
			if n := number("at_limit"); n.Known() {
				want.AtLimit = float64(n)
			}
			if i >= 2 {
				want = Evidence{Mean: unknown, P95: unknown, max: nan, SE: unknown}
			}
			if e.Count != want.Count || e.Visits != want.Visits || !agree(e.Mean, want.Mean) || !agree(e.SE, want.SE) || !agree(e.P95, want.P95) || !agree(e.max, want.max) || e.AtLimit != want.AtLimit {
				t.Errorf("cell %d: %+v, want %+v", i, e, want)
			}
		}
		if (len(g.notes) == 1) != c.note || c.note && !strings.HasPrefix(g.notes[0], "cells have no trim.se: the standard deviation over the root of the visits") {
			t.Errorf("notes %q", g.notes)
		}
	}
}

// TestVapourIsACaution: trims that take fuel away at low air flow may be the tank's, unless
// the purge valve is logged.
func TestVapourIsACaution(t *testing.T) {
	cal := calWith(t, curves()...)
	for _, c := range []struct {
		of    kind
		purge bool
		trim  float64
		want  bool
	}{{byTrim, false, -0.03, true}, {byTrim, true, -0.03, false}, {byTrim, false, 0.03, false}, {byLambda, false, -0.03, false}} {
		d := &settled{kind: c.of, cal: cal, inj: injectorOf(t, cal), blocks: stretches(30, 2, 8), lacks: map[string]error{}}
		if !c.purge {
			d.lacks["purge"] = errors.New("none")
		}
		for i := range d.blocks {
			d.blocks[i].at.AirFlow, d.blocks[i].trim = float64(i), c.trim
		}
		opt := Defaults()
		p, err := proposed(cal, cal.Table("flow"), "cells", func(r *Report) error { return r.byDrive(cal.Table("flow"), divide, &fuelEvidence{drive: d}, &opt) })
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(strings.Join(p.Report.Cautions, "\n"), "purge is not logged: the negative trims at low air flow may be the tank's vapour"); got != c.want {
			t.Errorf("%+v: %q", c, p.Report.Cautions)
		}
	}
}

// TestPurgeIsLogged: a drive has a channel where each of its logs has it, purge among them.
func TestPurgeIsLogged(t *testing.T) {
	cal := testdrive.Four()
	with := logged(t, cal, testdrive.Plant{Truth: cal}, testdrive.DriveOptions{Minutes: 3, Purge: true})
	without := logged(t, cal, testdrive.Plant{Truth: cal}, testdrive.DriveOptions{Minutes: 3, Seed: 1, Without: []string{"purge"}})
	for _, c := range []struct {
		why  string
		logs []cells.Log
		want bool
	}{{"logged", with, true}, {"not logged", without, false}, {"in one of two", append(slices.Clone(with), without...), false}, {"in the other", append(slices.Clone(without), with...), false}} {
		d := newSettled(cal, injectorOf(t, cal), byTrim)
		cells.Read(context.Background(), c.logs, d)
		if (d.lacks["purge"] == nil) != c.want || d.lacks["pulse_width"] != nil {
			t.Errorf("%s: %v", c.why, d.lacks)
		}
	}
}

// TestNominalFullLoad: the manifold at standard atmosphere, and over the injectors what the
// rail has against it; of the rest nothing is known.
func TestNominalFullLoad(t *testing.T) {
	for _, c := range []struct {
		why  string
		e    *tables.Engine
		want float64
	}{
		{"no engine", nil, math.NaN()},
		{"no rail", &tables.Engine{}, math.NaN()},
		{"300 kPa over the manifold", &tables.Engine{RailPressure: &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Manifold}}, 300},
	} {
		at, _ := NominalFullLoad(c.e)
		if at.Manifold != 101.325 || at.Barometer != 101.325 || !agree(at.Delta, c.want) || at.Speed == at.Speed || at.Battery == at.Battery || at.Pulse == at.Pulse {
			t.Errorf("%s: %+v", c.why, at)
		}
	}
}

// TestErrorOfVisits: by hand. Ten samples of 4 in one visit and thirty of 8 in another have the
// mean 7; the visits' sums lie 30 off it each way, so √(2 · 900 / (40² − 10² − 30²)) = √3. One
// visit has no error.
func TestErrorOfVisits(t *testing.T) {
	place, err := placesOf(calWith(t, curves()...).Table("flow"))
	if err != nil {
		t.Fatal(err)
	}
	d := &settled{blocks: []block{
		{time: 0, n: 10, trim: 0.04, limited: 10, run: 1, at: lookup.Point{Delta: 200}},
		{time: 100, n: 3, trim: 0.007, run: 1, at: lookup.Point{Delta: 300}},
		{time: 110, n: 900, trim: 0.5, out: true, run: 1, at: lookup.Point{Delta: 300}},
		{time: 900, n: 20, trim: 0.08, run: 1, at: lookup.Point{Delta: 200}},
		{time: 903, n: 10, trim: 0.08, run: 1, at: lookup.Point{Delta: 200}},
		{time: 906, n: 10, trim: 0.08, run: 1, at: lookup.Point{Delta: math.NaN()}},
	}}
	cells := d.onto(place).cells
	if e := cells[0]; e.Count != 40 || e.Visits != 2 || e.Mean != 7 || !agree(e.SE, math.Sqrt(3)) || e.AtLimit != 0.25 {
		t.Errorf("two visits: %+v", e)
	}
	if e := cells[2]; e.Count != 3 || e.Visits != 1 || !agree(e.Mean, 0.7) || e.SE == e.SE {
		t.Errorf("one: %+v", e)
	}
	if e := cells[3]; e.Count != 0 || e.Mean == e.Mean || e.SE == e.SE {
		t.Errorf("none: %+v", e)
	}
}

// TestWhatTheInjectorIs: a volume flow names the density that makes it a mass, and a table that
// cannot be computed with is named.
func TestWhatTheInjectorIs(t *testing.T) {
	j := injectorOf(t, calWith(t, curves()...))
	if said := injectorSaid(j); said != nil {
		t.Errorf("a mass flow: %q", said)
	}
	j.Density, j.Faults = 0.75, []error{errors.New("why not")}
	if said := strings.Join(injectorSaid(j), "\n"); said != "table flow is a volume flow: the calibration's fuel density of 0.75 kg/L makes it a mass\nnot computed with: why not" {
		t.Errorf("a volume flow: %q", said)
	}
	if j.FlowTable = nil; len(injectorSaid(j)) != 1 {
		t.Error("no flow has a density")
	}
}

// TestOneLogIsRead: where logs are given they are what counts, also one alone.
func TestOneLogIsRead(t *testing.T) {
	cal := calWith(t, append(curves(), sparkTables(nil)...)...)
	gone := errors.New("no such drive")
	logs := []cells.Log{{Name: "drive.csv", Open: func() (*drivelog.Log, error) { return nil, gone }}}
	for name, propose := range map[string]func(*Input) (*Proposal, error){"fuel": Fuel, "spark": Spark} {
		if _, err := propose(&Input{Context: context.Background(), Cal: cal, Logs: logs, Options: Defaults()}); err == nil || err.Error() != "drive.csv: no such drive" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestNoSampleIsLeft is an error in the words of what was read, behind the reader's own.
func TestNoSampleIsLeft(t *testing.T) {
	for _, c := range []struct {
		k      kind
		blocks []block
		err    error
		want   string
	}{
		{byTrim, nil, nil, "no settled closed-loop sample is left"},
		{byLambda, nil, nil, "no steady sample of lambda is left"},
		{byTrim, nil, errors.New("unreadable"), "unreadable"},
		{byTrim, []block{{n: 1}}, nil, ""},
	} {
		d := newSettled(calWith(t), nil, c.k)
		d.blocks = c.blocks
		if err := d.usable(c.err); (err == nil) != (c.want == "") || err != nil && err.Error() != c.want {
			t.Errorf("%+v: %v, want %q", c, err, c.want)
		}
	}
}

// TestWhatIsReplayed: without flow, offset or the fuel's facts there is no pulse to compare.
func TestWhatIsReplayed(t *testing.T) {
	known := &tables.Engine{Cylinders: 4, StoichAFR: 14.5}
	for _, c := range []struct {
		why    string
		tables []tables.Fields
		e      *tables.Engine
		want   bool
	}{{"all", curves(), known, true}, {"no flow", curves()[1:], known, false}, {"no offset", curves()[:1], known, false}, {"no engine", curves(), nil, false}} {
		contents := calWith(t, c.tables...).Contents()
		contents.Engine = c.e
		cal, err := tables.NewCalibration(contents)
		if err != nil {
			t.Fatal(err)
		}
		if got := pulseReplay(cal, injectorOf(t, cal)) != nil; got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestNumbersOfJSON: what is no number, or has no end, is null, or left out where it may be.
func TestNumbersOfJSON(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		n := tables.Number(v)
		b, err := json.Marshal(Cell{Evidence: Evidence{Mean: n, SE: n, P95: n}, Predicted: n, Delivered: n, Load: n, Spark: n})
		if want := `{"table":"","at":[0,0],"count":0,"visits":0,"mean":null,"se":null,"at_limit":0,"from":0,"to":0,"verdict":""}`; err != nil || string(b) != want {
			t.Errorf("%v: %s, %v, want %s", v, b, err, want)
		}
	}
	b, err := json.Marshal(Cell{})
	if want := `{"table":"","at":[0,0],"count":0,"visits":0,"mean":0,"se":0,"p95":0,"at_limit":0,"from":0,"to":0,"verdict":"","predicted":0,"delivered":0,"load_shift":0,"spark_shift":0}`; err != nil || string(b) != want {
		t.Errorf("0 is none: %s, %v", b, err)
	}
}

// TestLongStaysWantTheLog: ten times the samples that a cell needs in too few visits are noted
// with the cell, one sample less is not.
func TestLongStaysWantTheLog(t *testing.T) {
	cal := calWith(t, flowCurve())
	for count, want := range map[int]bool{300: true, 299: false} {
		list := []Evidence{good(0), good(0), {Count: count, Visits: 2, Mean: 7, SE: 0.1}, good(0), good(0)}
		p, err := fuelFromAverages(cal, cellsOn(t, cal.Tables()[0], "trim", list), Defaults())
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(strings.Join(p.Report.Notes, "\n"), "cell [0, 2] holds 300 samples of 2 visits: means of one long stay have no error"); got != want {
			t.Errorf("%d samples: %q", count, p.Report.Notes)
		}
	}
}

// TestScalarTakesAllCells: a number is corrected by all cells together, on whatever axes.
func TestScalarTakesAllCells(t *testing.T) {
	on := calWith(t, flowCurve()).Tables()[0]
	number := calWith(t, tables.Fields{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s", Values: []float64{2}}).Tables()[0]
	g, err := readGrid(cellsOn(t, on, "trim", []Evidence{good(4), {}, good(6), {}, {}}), number, "trim")
	if err != nil || len(g.cells) != 1 || g.cells[0].Count != 1000 || !agree(g.cells[0].Mean, 5) {
		t.Errorf("%+v, %v; want 1000 samples of 5 %%", g, err)
	}
}

// TestPulseIsReplayed: 580 mg of air by 14.5 are 40 mg of fuel; at 200 kPa and 2 mg/ms they take
// 20 ms and an offset of 1. A controller that trusts its rail of 300 kPa reads 2.4 mg/ms, and
// whichever is nearer counts. A pulse may stand 4 % and 0.03 ms from that.
func TestPulseIsReplayed(t *testing.T) {
	rail := &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Manifold}
	for _, c := range []struct {
		rail                  *tables.RailPressure
		pulse, trim, off, tol float64
	}{
		{nil, 21.5, 0, 0.5, 0.89}, {nil, 20, 0, -1, 0.83}, {nil, 23, 0.1, 0, 0.95},
		{rail, 21.5, 0, 0.5, 0.89}, {rail, 18, 0, 17 - 40/2.4, 0.75}, {nil, 18, 0, -3, 0.75},
	} {
		contents := calWith(t, curves()...).Contents()
		contents.Engine = &tables.Engine{Cylinders: 4, StoichAFR: 14.5, RailPressure: c.rail}
		cal, err := tables.NewCalibration(contents)
		if err != nil {
			t.Fatal(err)
		}
		off, tol := pulseReplay(cal, injectorOf(t, cal))(&block{pulse: c.pulse, trim: c.trim, at: lookup.Point{Charge: 580, Speed: 3000, Delta: 200, Battery: 14, Manifold: 50, Barometer: 100}})
		if !near(off, c.off, 1e-9) || !near(tol, c.tol, 1e-9) {
			t.Errorf("%+v: off by %v ms of %v", c, off, tol)
		}
	}
}

// TestAirFromCellsNamesItsReaders: a correction of air by cells says what else moves.
func TestAirFromCellsNamesItsReaders(t *testing.T) {
	air := tables.Fields{ID: "air", Role: tables.AirMeter, Unit: "g/s", Resolution: 0.01, X: axis(tables.AirFlow, "g/s", 10, 20), Values: []float64{10, 20}}
	for _, c := range []struct {
		f    tables.Fields
		want bool
	}{{air, true}, {flowCurve(), false}} {
		cal, opt := calWith(t, c.f), Defaults()
		opt.Target = c.f.ID
		p, err := fuelFromAverages(cal, cellsOn(t, cal.Tables()[0], "trim", slices.Repeat([]Evidence{good(5)}, len(c.f.Values))), opt)
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(strings.Join(p.Report.Notes, "\n"), "is read by more than the fuel"); got != c.want {
			t.Errorf("%s: %q", c.f.ID, p.Report.Notes)
		}
	}
}

// TestVisitsOfACell: a visit ends where the drive leaves the cell, and where its evidence is
// broken.
func TestVisitsOfACell(t *testing.T) {
	place, err := placesOf(calWith(t, curves()...).Table("flow"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		why    string
		deltas [3]float64
		runs   [3]int
		visits int // of the first cell
	}{
		{"one", [3]float64{200, 200, 200}, [3]int{1, 1, 1}, 1},
		{"left and come back", [3]float64{200, 300, 200}, [3]int{1, 1, 1}, 2},
		{"broken", [3]float64{200, 200, 200}, [3]int{1, 2, 2}, 2},
	} {
		d := &settled{}
		for i := range 3 {
			d.blocks = append(d.blocks, block{n: 10, run: c.runs[i], trim: 0.05, limited: 5, at: lookup.Point{Delta: c.deltas[i]}})
		}
		if e := d.onto(place).cells[0]; e.Visits != c.visits || e.Mean != 5 || e.AtLimit != 0.5 {
			t.Errorf("%s: %+v, want %d visits", c.why, e, c.visits)
		}
	}
}

// TestLimitIsNoted: a trim at its limit in 80 % of a cell's samples is noted with its share.
func TestLimitIsNoted(t *testing.T) {
	target := calWith(t, curves()...).Table("flow")
	g := &grid{cells: []Evidence{good(5), good(5), good(5), good(5)}}
	g.cells[1].AtLimit = 0.8
	opt := Defaults()
	list := judgeCells(target, divide, g, &opt)
	if list[0].Note != "" || list[1].Note != "trim stood at its limit in 80 % of samples: the sign is evidence, the size a lower bound" {
		t.Errorf("%q, %q", list[0].Note, list[1].Note)
	}
}

// TestFullLoadNamesItsPlace: by pressure and speed.
func TestFullLoadNamesItsPlace(t *testing.T) {
	target := calWith(t, tables.Fields{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s", Values: []float64{2}}).Tables()[0]
	d := &settled{most: lookup.Point{Manifold: 95, Barometer: 100, Speed: 3000}, long: math.NaN()}
	if f := d.fullLoad(target, []Cell{{Table: "flow", From: 2, To: 2.2}}, divide); f == nil || f.Place != "95 kPa manifold pressure and 3000 r/min" || !agree(f.Table, -100./11) {
		t.Errorf("%+v", f)
	}
}
