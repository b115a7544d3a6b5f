package propose

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/interp/lsq"
	"calsplice/merge"
	"calsplice/tables"
)

// curves are a flow over pressure and an offset over voltage that a fit corrects.
func curves() []tables.Fields {
	return []tables.Fields{
		{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s", Resolution: 0.001, Limits: &tables.Limits{Low: 0.5, High: 12},
			X: axis(tables.DifferentialPressure, "kPa", 200, 250, 300, 350), Values: []float64{2, 2.2, 2.4, 2.6}},
		{ID: "offset", Role: tables.InjectorOffset, Unit: "ms", Resolution: 0.001, Limits: &tables.Limits{Low: 0, High: 5},
			X: axis(tables.BatteryVoltage, "V", 10, 12, 14, 16), Values: []float64{1.4, 1.2, 1, 0.8}},
	}
}

func injectorOf(t *testing.T, cal *tables.Calibration) *engine.Injector {
	t.Helper()
	j, err := engine.NewInjector(cal)
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// stretches are blocks of one operating point, whose effective pulses lie between two
// lengths in ms.
func stretches(n int, short, long float64) (list []block) {
	for i := range n {
		b := block{run: i, n: 30, time: float64(10 * i), at: lookup.Point{Delta: 250 + float64(i%2)*50, Battery: 13}}
		b.inverse = 1 / (short + (long-short)*float64(i)/float64(n-1))
		b.trim = 0.05 + 0.001*float64(i%3-1)
		list = append(list, b)
	}
	return list
}

// TestFitRefusesWhatItCannotUse: each reason for which there is no fit, with its line; ten
// stretches are enough.
func TestFitRefusesWhatItCannotUse(t *testing.T) {
	nan := math.NaN()
	all := func(how func(b *block)) func(d *settled) {
		return func(d *settled) {
			for i := range d.blocks {
				how(&d.blocks[i])
			}
		}
	}
	none := errors.New("none")
	noPressure := all(func(b *block) { b.at.Delta = nan })
	for _, c := range []struct {
		why    string
		drive  func(d *settled)
		tables func(f []tables.Fields) []tables.Fields
		target string
		want   string // "" for none
	}{
		{"ten stretches", func(*settled) {}, nil, "flow", ""},
		{"nine", func(d *settled) { d.blocks = d.blocks[1:] }, nil, "flow", "only 9 stretches of the drive can be used"},
		{"one is of another calibration", func(d *settled) { d.blocks[4].out = true }, nil, "flow", "only 9 stretches"},
		{"one has no pulse", func(d *settled) { d.blocks[4].inverse = nan }, nil, "flow", "only 9 stretches"},
		{"one has no voltage", func(d *settled) { d.blocks[4].at.Battery = nan }, nil, "flow", "only 9 stretches"},
		{"one has no pressure", func(d *settled) { d.blocks[4].at.Delta = nan }, nil, "flow", "only 9 stretches"},
		{"no pulse is logged", func(d *settled) { d.lacks["pulse_width"] = none }, nil, "flow", "--by fit needs pulse_width and battery"},
		{"no battery is logged", func(d *settled) { d.lacks["battery"] = none }, nil, "flow", "--by fit needs pulse_width and battery"},
		{"another target", func(*settled) {}, nil, "offset", "table offset is not the calibration's one table with role injector.flow"},
		{"no flow", func(*settled) {}, func(f []tables.Fields) []tables.Fields { return f[1:] }, "offset", "table offset is not the calibration's one"},
		{"no offset", func(*settled) {}, func(f []tables.Fields) []tables.Fields { return f[:1] }, "flow", "--by fit needs a table with role injector.offset"},
		{"a map", func(*settled) {}, func(f []tables.Fields) []tables.Fields {
			f[0].Y, f[0].Values = axis(tables.BatteryVoltage, "V", 12, 14), []float64{2, 2.2, 2.4, 2.6, 2, 2.2, 2.4, 2.6}
			return f
		}, "flow", "table flow is a map: --by cells takes it"},
		{"no pressure is logged", func(d *settled) { noPressure(d); d.lacks["differential_pressure"] = none }, nil, "flow", "table flow is read by differential pressure, which the log does not give"},
		{"it is, and never read", noPressure, nil, "flow", "only 0 stretches"},
	} {
		f := curves()
		if c.tables != nil {
			f = c.tables(f)
		}
		cal := calWith(t, f...)
		d := &settled{inj: injectorOf(t, cal), blocks: stretches(10, 2, 8), lacks: map[string]error{}}
		c.drive(d)
		_, err := newFitting(d, cal.Table(c.target))
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.why, err, c.want)
		}
	}
}

// TestFitLaysOutItsColumns: one column of flow by breakpoint that was visited; one of offset
// by voltage where the battery spread by 1.5 V, else one for the curve; pressures are counted
// from their mean, by samples.
func TestFitLaysOutItsColumns(t *testing.T) {
	flat := curves()
	flat[0].X, flat[0].Values = nil, []float64{2}
	for _, c := range []struct {
		why   string
		f     []tables.Fields
		volts [2]float64
		flow  []int
		whole bool
	}{
		{"a curve, and 1.5 V", curves(), [2]float64{12, 13.5}, []int{0, 2}, false},
		{"a curve, and 1.4 V", curves(), [2]float64{12, 13.4}, []int{0, 2}, true},
		{"a number", flat, [2]float64{12, 14}, []int{0}, false},
	} {
		f := &fitting{j: injectorOf(t, calWith(t, c.f...))}
		for i := range 100 { // delta 200 kPa for 10 samples, 300 for 30: 275 by samples
			f.blocks = append(f.blocks, &block{n: 10 + 20*float64(i%2), at: lookup.Point{Delta: 200 + 100*float64(i%2), Battery: c.volts[i%2]}})
		}
		if f.axes(); !slices.Equal(f.flow.used, c.flow) || f.volts.whole() != c.whole || (f.volts.len() > 1) == c.whole || !near(f.delta, 275, 1e-9) || (f.flow.points == nil) != (c.f[0].X == nil) {
			t.Errorf("%s: flow %v, offset %v as a whole %v, centred on %v", c.why, f.flow.used, f.volts.used, f.volts.whole(), f.delta)
		}
	}
}

// TestFitSpreadsItsReadings: what a reading between two breakpoints says goes to both by
// nearness, and past the ends to the last.
func TestFitSpreadsItsReadings(t *testing.T) {
	h := linearBasis{points: []float64{200, 250, 300}, columns: []int{0, 1, 2}, used: []int{0, 1, 2}, of: func(at *lookup.Point) float64 { return at.Delta }}
	for delta, want := range map[float64]string{100: "[2 0 0]", 200: "[2 0 0]", 240: "[0.4 1.6 0]", 250: "[0 2 0]", 275: "[0 1 1]", 300: "[0 0 2]", 400: "[0 0 2]"} {
		row := make([]float64, 3)
		if h.spread(row, &lookup.Point{Delta: delta}, 2); fmt.Sprintf("%.3g", row) != want {
			t.Errorf("%v kPa: %v, want %s", delta, row, want)
		}
	}
	one, row := oneColumn(), []float64{1}
	if one.spread(row, &lookup.Point{}, 2); row[0] != 3 {
		t.Errorf("one column: %v, want 1 + 2", row)
	}
	penalties := (&linearBasis{points: []float64{200, 250, 350}, used: []int{0, 1, 2}, usual: 50}).steps(3, 0.7)
	if len(penalties) != 2 || !slices.Equal(penalties[0].Columns, []int{3, 4}) ||
		!slices.Equal(penalties[1].Columns, []int{4, 5}) || !agree(penalties[0].Factors[0], -0.7) || !agree(penalties[1].Factors[1], 0.35) || penalties[1].Weight != believed {
		t.Errorf("steps: %+v", penalties)
	}
}

// TestFitWritesItsRows: by hand, of 10 samples at pulses of 2 ms and 300 kPa, and of 30 at
// 4 ms and 200 kPa, about 250: a column each for flow, for 1/pulse, and for pressure.
func TestFitWritesItsRows(t *testing.T) {
	blocks := []*block{{n: 10, inverse: 0.5, trim: 0.03, at: lookup.Point{Delta: 300}}, {n: 30, inverse: 0.25, trim: 0.05, at: lookup.Point{Delta: 200}}}
	for _, c := range []struct {
		flow, off, slope bool
		want             []float64
	}{
		{true, true, true, []float64{1, 0.5, 0.25, 1, 0.25, -0.125}},
		{true, true, false, []float64{1, 0.5, 1, 0.25}},
		{false, true, true, []float64{0.5, 0.25, 0.25, -0.125}},
		{true, false, false, []float64{1, 1}},
		{false, true, false, []float64{0.5, 0.25}},
	} {
		f := &fitting{blocks: blocks, delta: 250}
		for basis, takesPart := range map[*linearBasis]bool{&f.flow: c.flow, &f.volts: c.off, &f.slope: c.slope} {
			if takesPart {
				*basis = oneColumn()
			}
		}
		p := f.problem()
		if !slices.Equal(p.X, c.want) || p.Columns != len(c.want)/2 || !slices.Equal(p.Y, []float64{0.03, 0.05}) || !slices.Equal(p.Weight, []float64{0.5, 1.5}) {
			t.Errorf("%+v: %+v", c, p)
		}
	}
}

// TestQuantilesOfADrive: what 2 and 98 of 100 samples lie below, in whatever order they came.
func TestQuantilesOfADrive(t *testing.T) {
	f := &fitting{}
	for i := range 100 {
		f.blocks = append(f.blocks, &block{n: 1, pulse: float64(i*37%100 + 1)})
	}
	of := func(b *block) float64 { return b.pulse }
	if low, high := f.quantiles(of); low != 2 || high != 98 {
		t.Errorf("1 to 100: %v and %v", low, high)
	}
	few := &fitting{blocks: []*block{{n: 30, pulse: 4}, {n: 1, pulse: 9}, {n: 3, pulse: 1}, {n: 30, pulse: 3}}}
	if low, high := few.quantiles(of); low != 1 || high != 4 {
		t.Errorf("four, one of which holds 1.6 %% of the samples: %v and %v", low, high)
	}
	few.blocks[1].n = 2
	if _, high := few.quantiles(of); high != 9 {
		t.Errorf("the same with 3.1 %%: %v", high)
	}
	f.blocks = f.blocks[:1]
	if low, high := f.quantiles(of); low != 1 || high != 1 {
		t.Errorf("one alone: %v and %v", low, high)
	}
}

// TestFitDoesNotSplitAlikePulses: where effective pulses hardly differ there is no fit, no
// edit, and the report says between which pulses; where they do there is.
func TestFitDoesNotSplitAlikePulses(t *testing.T) {
	cal := calWith(t, curves()...)
	for _, c := range []struct {
		why         string
		short, long float64
		want        string // "" for a fit
	}{
		{"2 to 12 ms", 2, 12, ""},
		{"4.0 to 4.1 ms", 4, 4.1, "effective pulses lie between 4.0 and 4.1 ms"},
		{"4 ms alone", 4, 4, "effective pulses lie between 4.0 and 4.0 ms"},
	} {
		d := &settled{cal: cal, inj: injectorOf(t, cal), blocks: stretches(60, c.short, c.long)}
		opt := Defaults()
		p, err := proposed(cal, cal.Table("flow"), "fit", func(r *Report) error { return r.byFit(cal.Table("flow"), d, &opt) })
		if err != nil {
			t.Fatal(err)
		}
		r := &p.Report
		if refused := strings.Join(r.First, "\n"); !strings.Contains(refused, c.want) || (refused == "") != (c.want == "") || (len(r.Edits) == 0) != (c.want != "") || (r.Fit.Rows == 0) != (c.want != "") {
			t.Errorf("%s: first %q, %d rows, edits %v", c.why, refused, r.Fit.Rows, r.Edits)
		}
		if want := map[bool]string{true: Uncertain, false: Proposed}[c.want != ""]; r.Cells[1].Verdict != want {
			t.Errorf("%s: %s, want %s", c.why, r.Cells[1].Verdict, want)
		}
	}
}

// TestFlowOfAFit: a flow that brings 5 % too little is divided by 1.05, one that brings 6 %
// too much by 0.94; breakpoints that were not visited follow the nearest.
func TestFlowOfAFit(t *testing.T) {
	cal := calWith(t, curves()...)
	old := []float64{2, 2.2, 2.4, 2.6}
	for _, c := range []struct {
		why      string
		half     float64
		how      func(f *fitting, o *Options)
		want     []float64
		verdicts []string
		note     string // of the first
	}{
		{"as fitted", 0.01, func(*fitting, *Options) {}, []float64{1.905, 2.095, 2.553, 2.766}, []string{Inferred, Proposed, Proposed, Inferred},
			"fitted flow error +5.00 ± 1.00 %; inferred from the nearest breakpoint with evidence, 250 kPa"},
		{"visited ones alone", 0.01, func(_ *fitting, o *Options) { o.OnlyVisited = true }, []float64{2, 2.095, 2.553, 2.6}, []string{NoSamples, Proposed, Proposed, NoSamples}, ""},
		{"a bound of 3 %", 0.01, func(_ *fitting, o *Options) { o.Bound = 3 }, []float64{1.942, 2.136, 2.436, 2.639}, []string{Inferred, Proposed, Proposed, Inferred},
			"fitted flow error +5.00 ± 1.00 %; held at the bound of 3 %; inferred from the nearest breakpoint with evidence, 250 kPa"},
		{"half of it", 0.01, func(_ *fitting, o *Options) { o.Gain = 0.5 }, []float64{1.951, 2.146, 2.474, 2.68}, []string{Inferred, Proposed, Proposed, Inferred},
			"fitted flow error +5.00 ± 1.00 %; inferred from the nearest breakpoint with evidence, 250 kPa"},
		{"a dead band of 5 %", 0.01, func(_ *fitting, o *Options) { o.DeadBand = 5 }, []float64{2, 2.2, 2.553, 2.766}, []string{InDeadBand, InDeadBand, Proposed, Inferred}, ""},
		{"± 5 %", 0.05, func(*fitting, *Options) {}, []float64{2, 2.2, 2.553, 2.766}, []string{Uncertain, Uncertain, Proposed, Inferred}, ""},
		{"no cause", 0.01, func(_ *fitting, o *Options) { o.none = true }, old, []string{NoCause, NoCause, NoCause, NoCause}, ""},
		{"an offset alone", 0.01, func(f *fitting, _ *Options) { f.flow = linearBasis{} }, old, []string{InDeadBand, InDeadBand, InDeadBand, InDeadBand}, ""},
	} {
		f := &fitting{j: injectorOf(t, cal), flow: linearBasis{points: []float64{200, 250, 300, 350}, columns: []int{0, 0, 1, 1}, used: []int{1, 2}}}
		opt := Defaults()
		c.how(f, &opt)
		list := f.flowCells(&lsq.Fit{Coef: []float64{0.05, -0.06}, Half: []float64{c.half, c.half}}, &opt)
		for i, l := range list {
			if l.To != c.want[i] || l.Verdict != c.verdicts[i] || l.From != old[i] {
				t.Errorf("%s, breakpoint %d: %v to %v, %s; want %v, %s", c.why, i, l.From, l.To, l.Verdict, c.want[i], c.verdicts[i])
			}
		}
		if list[0].Note != c.note {
			t.Errorf("%s: note %q, want %q", c.why, list[0].Note, c.note)
		}
	}
}

// TestOffsetOfAFit: 0.02 ms more at 12 V and 0.03 less at 14; other voltages move as the
// nearest. The bound is one of fuel at the shortest pulses, here of 2 ms.
func TestOffsetOfAFit(t *testing.T) {
	cal := calWith(t, curves()...)
	for _, c := range []struct {
		why      string
		coef     []float64
		half     float64
		how      func(f *fitting, o *Options)
		want     []float64
		verdicts []string
		note     string // of the first
	}{
		{"beside a flow", []float64{9, 0.02, -0.03}, 0.01, func(*fitting, *Options) {}, []float64{1.42, 1.22, 0.97, 0.77}, []string{Inferred, Proposed, Proposed, Inferred},
			"fitted offset error +0.020 ± 0.010 ms; moves as the nearest voltage with evidence"},
		{"alone", []float64{0.02, -0.03}, 0.01, func(f *fitting, _ *Options) { f.flow = linearBasis{} }, []float64{1.42, 1.22, 0.97, 0.77}, []string{Inferred, Proposed, Proposed, Inferred},
			"fitted offset error +0.020 ± 0.010 ms; moves as the nearest voltage with evidence"},
		{"half of it", []float64{9, 0.02, -0.03}, 0.01, func(_ *fitting, o *Options) { o.Gain = 0.5 }, []float64{1.41, 1.21, 0.985, 0.785}, []string{Inferred, Proposed, Proposed, Inferred},
			"fitted offset error +0.020 ± 0.010 ms; moves as the nearest voltage with evidence"},
		{"0.5 % is 0.01 ms", []float64{9, 0.02, -0.03}, 0.01, func(_ *fitting, o *Options) { o.Bound = 0.5 }, []float64{1.41, 1.21, 0.99, 0.79}, []string{Inferred, Proposed, Proposed, Inferred},
			"fitted offset error +0.020 ± 0.010 ms; moves as the nearest voltage with evidence; held at the bound of 0.010 ms"},
		{"as a whole", []float64{9, 0.02}, 0.01, func(f *fitting, _ *Options) { f.volts = oneColumn() }, []float64{1.42, 1.22, 1.02, 0.82}, []string{Proposed, Proposed, Proposed, Proposed},
			"fitted offset error +0.020 ± 0.010 ms"},
		{"as a whole, within its interval", []float64{9, 0.02}, 0.02, func(f *fitting, _ *Options) { f.volts = oneColumn() }, []float64{1.4, 1.2, 1, 0.8}, []string{BelowResolution, BelowResolution, BelowResolution, BelowResolution}, ""},
		{"several within theirs hold each other", []float64{9, 0.02, -0.03}, 0.05, func(*fitting, *Options) {}, []float64{1.42, 1.22, 0.97, 0.77}, []string{Inferred, Proposed, Proposed, Inferred},
			"fitted offset error +0.020 ± 0.050 ms; moves as the nearest voltage with evidence"},
		{"that would rise is held", []float64{9, -0.15, 0.15}, 0.01, func(*fitting, *Options) {}, []float64{1.25, 1.15, 1.15, 0.95}, []string{Inferred, Proposed, Proposed, Inferred},
			"fitted offset error −0.150 ± 0.010 ms; moves as the nearest voltage with evidence"},
		{"a flow alone", []float64{9}, 0.01, func(f *fitting, _ *Options) { f.volts = linearBasis{} }, nil, nil, ""},
	} {
		f := &fitting{j: injectorOf(t, cal), flow: oneColumn(), volts: linearBasis{points: []float64{10, 12, 14, 16}, columns: []int{0, 0, 1, 1}, used: []int{1, 2}}}
		for i := range 20 {
			f.blocks = append(f.blocks, &block{n: 3, run: i / 2, inverse: 0.5})
		}
		opt := Defaults()
		c.how(f, &opt)
		half := slices.Repeat([]float64{c.half}, len(c.coef))
		list := f.offsetCells(&lsq.Fit{Coef: c.coef, Half: half, SE: half}, &opt)
		if len(list) != len(c.want) {
			t.Fatalf("%s: %d cells, want %d", c.why, len(list), len(c.want))
		}
		for i, l := range list {
			count, visits := 60, 10
			if c.verdicts[i] == BelowResolution {
				count, visits = 0, 0
			}
			if !agree(l.To, c.want[i]) || l.Verdict != c.verdicts[i] || l.Count != count || l.Visits != visits || l.EvidenceUnit() != "ms" {
				t.Errorf("%s, voltage %d: %+v; want %v, %s", c.why, i, l, c.want[i], c.verdicts[i])
			}
		}
		if len(list) > 0 && list[0].Note != c.note {
			t.Errorf("%s: note %q, want %q", c.why, list[0].Note, c.note)
		}
	}
}

// TestOffsetOverPressure: 0.04 ms more by 100 kPa past the mean of 300, and outside of the
// pressures that were visited as at the nearest of them: 250 and 350 kPa.
func TestOffsetOverPressure(t *testing.T) {
	tall := curves()
	tall[1].Y, tall[1].Values = axis(tables.DifferentialPressure, "kPa", 200, 300, 340), slices.Repeat([]float64{1.4, 1.2, 1, 0.8}, 3)
	f := &fitting{j: injectorOf(t, calWith(t, tall...)), slope: oneColumn(), delta: 300, volts: oneColumn()}
	for i := range 100 {
		f.blocks = append(f.blocks, &block{n: 1, inverse: 0.5, at: lookup.Point{Delta: 250 + 100*float64(i%2)}})
	}
	opt := Defaults()
	list := f.offsetCells(&lsq.Fit{Coef: []float64{0.1, 0.04}, Half: []float64{0.01, 0.01}, SE: []float64{0.01, 0.01}}, &opt)
	for row, moved := range []float64{0.08, 0.1, 0.116} {
		se := math.Hypot(0.01, 0.01*[]float64{-0.5, 0, 0.4}[row])
		if c := list[4*row+2]; !agree(c.To, 1+moved) || c.At != [2]int{row, 2} || !agree(float64(c.Mean), moved) || !agree(float64(c.SE), se) ||
			c.Note != fmt.Sprintf("fitted offset error %+.3f ± %.3f ms", moved, se) {
			t.Errorf("row %d: %+v, want 1 to %v", row, c, 1+moved)
		}
	}
	if !f.offsetOverPressure() {
		t.Error("pressures that spread by 100 kPa do not count")
	}
	if f.j = injectorOf(t, calWith(t, curves()...)); f.offsetOverPressure() {
		t.Error("a curve over voltage follows the pressure")
	}
	f.j = injectorOf(t, calWith(t, tall...))
	for i := range f.blocks {
		f.blocks[i].at.Delta = 250 + 60*float64(i%2)
	}
	if f.offsetOverPressure() {
		t.Error("pressures that spread by 60 kPa count")
	}
}

// TestSlopeMustShow: four standard errors, and a variance under twenty times that of the
// term alone.
func TestSlopeMustShow(t *testing.T) {
	f := &fitting{}
	for _, c := range []struct {
		coef, se, vif float64
		want          bool
	}{{0.05, 0.01, 19, true}, {-0.05, 0.01, 19, true}, {0.04, 0.01, 19, false}, {0.05, 0.01, 20, false}} {
		if got := f.slopeShows(&lsq.Fit{Coef: []float64{9, c.coef}, SE: []float64{1, c.se}, VIF: []float64{99, c.vif}}); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
}

// TestOffsetIsRoundedTowardsWhatItWas, within the limits, and never against the sign.
func TestOffsetIsRoundedTowardsWhatItWas(t *testing.T) {
	for _, c := range []struct {
		why                        string
		resolution, from, to, want float64
	}{
		{"up to the step before", 0.01, 1, 1.026, 1.02},
		{"up to the nearest", 0.01, 1, 1.024, 1.02},
		{"down to the step before", 0.01, 1, 0.974, 0.98},
		{"no resolution", 0, 1, 0.974, 0.974},
		{"over the limit", 0.01, 1.5, 2.5, 2},
		{"under 0", 0.01, 0.5, -1, 0},
		{"between two steps", 0.01, 1.004, 1.006, 1.004},
		{"to a step that lies the other way", 0.01, 1.001, 1.003, 1.001},
		{"over a limit between two steps", 0.3, 1.5, 2.5, 1.8},
	} {
		table, err := tables.NewTable(tables.Fields{ID: "o", Unit: "ms", Resolution: c.resolution, Limits: &tables.Limits{Low: -3, High: 2}, Values: []float64{1}})
		if err != nil {
			t.Fatal(err)
		}
		if got := settleOffset(table, c.from, c.to); !agree(got, c.want) {
			t.Errorf("%s: %v to %v is %v, want %v", c.why, c.from, c.to, got, c.want)
		}
	}
}

// TestPredictOfAFit: by hand. A trim of +10 % at 1/p of 0.25 is a pulse of 4.4 ms less its
// offset; a flow 10 % higher and an offset 0.1 ms longer leave 1.1 · 1.1 · 4.3/4.4 − 1 =
// 18.25 %. At 300 kPa, where nobody was, fuel changes by 1/1.1 − 1, and by 0.1 in 4 ms.
func TestPredictOfAFit(t *testing.T) {
	f := curves()
	f[0].X, f[0].Values = axis(tables.DifferentialPressure, "kPa", 200, 300), []float64{2, 2.4}
	f[1].X, f[1].Values = nil, []float64{1}
	cal := calWith(t, f...)
	fit := &fitting{j: injectorOf(t, cal), blocks: []*block{{n: 10, trim: 0.9, inverse: 0.5, at: lookup.Point{Delta: math.NaN(), Battery: 13}}, {n: 10, trim: 0.1, inverse: 0.25, at: lookup.Point{Delta: 200, Battery: 13}}}}
	flow := []Cell{{Table: "flow", From: 2, To: 2.2, Predicted: unknown, Delivered: unknown}, {Table: "flow", At: [2]int{0, 1}, From: 2.4, To: 2.64, Predicted: unknown, Delivered: unknown}}
	if err := fit.predict(flow, []Cell{{Table: "offset", From: 1, To: 1.1}}); err != nil {
		t.Fatal(err)
	}
	if b := fit.nearest(1); b != fit.blocks[1] {
		t.Errorf("the nearest is %+v", b)
	}
	if got := float64(flow[0].Predicted); !near(got, 18.25, 1e-9) || flow[0].Delivered.Known() {
		t.Errorf("visited: %v, delivered %v; want 18.25", got, flow[0].Delivered)
	}
	if got, want := float64(flow[1].Delivered), 100*(1/1.1-1+0.1/4); !near(got, want, 1e-9) || flow[1].Predicted.Known() {
		t.Errorf("not visited: %v, want %v", got, want)
	}
}

// TestAxisThatNoLogGives: a table over what the log does not give is not placed, in the
// log's own words.
func TestAxisThatNoLogGives(t *testing.T) {
	cal := calWith(t, curves()...)
	opt := Defaults()
	for _, lacking := range []error{nil, errors.New("drive.csv: no differential pressure")} {
		d := &settled{cal: cal, inj: injectorOf(t, cal), blocks: stretches(30, 2, 8), lacks: map[string]error{"differential_pressure": lacking}}
		if err := newFuelReport(cal.Table("flow"), "cells").byDrive(cal.Table("flow"), divide, &fuelEvidence{drive: d}, &opt); err != lacking {
			t.Errorf("%v, want %v", err, lacking)
		}
	}
}

// TestFitOverALimit: a fit over trims that stood at their limit says so, as a correction by
// cells does, and a fit over others does not.
func TestFitOverALimit(t *testing.T) {
	cal := calWith(t, curves()...)
	for _, c := range []struct {
		limited float64 // of the 30 samples of each block
		share   float64
		caution bool
	}{{0, 0, false}, {24, 0.8, true}} {
		d := &settled{cal: cal, inj: injectorOf(t, cal), blocks: stretches(60, 2, 12)}
		for i := range d.blocks {
			d.blocks[i].limited = c.limited
		}
		opt := Defaults()
		p, err := proposed(cal, cal.Table("flow"), "fit", func(r *Report) error { return r.byFit(cal.Table("flow"), d, &opt) })
		if err != nil {
			t.Fatal(err)
		}
		got := strings.Contains(strings.Join(p.Changes.Cautions, "\n"), "trim stood at its limit: its sign is evidence, its size only a lower bound")
		share := 0.0
		for _, e := range p.Changes.Edits {
			share = max(share, e.(*merge.CellEdit).Why.AtLimit)
		}
		if got != c.caution || !agree(share, c.share) {
			t.Errorf("%v of 30 samples: %v at the limit, cautions %q", c.limited, share, p.Changes.Cautions)
		}
	}
}

// TestFitOfBoth: trims of 5 % and of 0.1 ms are found together and alone; a battery that
// hardly moves has the offset moved as a whole, which is noted; where the trims need no cause
// both are left.
func TestFitOfBoth(t *testing.T) {
	cal := calWith(t, curves()...)
	for _, c := range []struct {
		why          string
		flow, offset float64
		none         bool
		dropped      []string
		edits        int
	}{
		{"both", 0.05, 0.1, false, nil, 8},
		{"both over a range of voltages", 0.05, 0.1, false, nil, 8},
		{"an offset", 0, 0.1, false, []string{"flow"}, 4},
		{"a flow", 0.05, 0, false, []string{"offset"}, 4},
		{"neither", 0, 0, false, []string{"flow", "offset"}, 0},
		{"both, of no cause", 0.05, 0.1, true, []string{"flow", "offset"}, 0},
	} {
		d := &settled{cal: cal, inj: injectorOf(t, cal), blocks: stretches(60, 2, 12)}
		for i := range d.blocks {
			if strings.Contains(c.why, "voltages") {
				d.blocks[i].at.Battery = 12 + float64(i/2%2*2)
			}
			d.blocks[i].trim += c.flow - 0.05 + c.offset*d.blocks[i].inverse
		}
		opt := Defaults()
		opt.none = c.none
		p, err := proposed(cal, cal.Table("flow"), "fit", func(r *Report) error { return r.byFit(cal.Table("flow"), d, &opt) })
		if err != nil {
			t.Fatal(err)
		}
		r := &p.Report
		whole := slices.Contains(r.Notes, "battery voltage spread by less than 1.5 V: the offset moves as a whole curve")
		if len(r.Edits) != c.edits || whole == (slices.Contains(c.dropped, "offset") || strings.Contains(c.why, "voltages")) || !slices.Equal(r.Fit.Dropped, c.dropped) {
			t.Errorf("%s: edits %v, notes %q, dropped %q", c.why, r.Edits, r.Notes, r.Fit.Dropped)
		}
		if len(r.Fit.Flow) > 0 && !c.none && !near(r.Fit.Flow[0].V, 100*c.flow, 0.2) || len(r.Fit.Offset) > 0 && !near(r.Fit.Offset[0].V, c.offset, 0.01) {
			t.Errorf("%s: flow %+v, offset %+v", c.why, r.Fit.Flow, r.Fit.Offset)
		}
	}
}

// TestFitReports: flow in per cent at its pressures, offset in ms at its voltages, and the
// offset's rise with pressure last, each with its interval.
func TestFitReports(t *testing.T) {
	f := &fitting{j: injectorOf(t, calWith(t, curves()...)), slope: oneColumn(),
		flow:   linearBasis{points: []float64{200, 250, 300, 350}, used: []int{1}},
		volts:  linearBasis{points: []float64{10, 12, 14, 16}, used: []int{1, 2}},
		blocks: []*block{{run: 1}, {run: 1}, {run: 3}}}
	var r Fit
	f.report(&lsq.Fit{Coef: []float64{0.05, 0.02, -0.03, 0.04}, Half: []float64{0.01, 0.002, 0.003, 0.004}, Scale: 0.007}, &r)
	if r.Rows != 3 || r.Visits != 2 || !agree(r.Residual, 0.7) || len(r.Flow) != 1 || len(r.Offset) != 2 || r.Slope == nil {
		t.Fatalf("%+v", r)
	}
	for i, c := range []struct {
		got          Fitted
		at           float64
		v, low, high float64
	}{{r.Flow[0], 250, 5, 4, 6}, {r.Offset[0], 12, 0.02, 0.018, 0.022}, {r.Offset[1], 14, -0.03, -0.033, -0.027}, {*r.Slope, math.NaN(), 0.04, 0.036, 0.044}} {
		if !agree(float64(c.got.At), c.at) || !agree(c.got.V, c.v) || !agree(float64(c.got.Low), c.low) || !agree(float64(c.got.High), c.high) {
			t.Errorf("number %d: %v at %v, %v to %v", i, c.got.V, float64(c.got.At), float64(c.got.Low), float64(c.got.High))
		}
	}
}
