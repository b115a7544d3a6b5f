package propose

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tableunit"
)

// cellsOn is a cells document of one channel on a table's axes; a count of 0 is
// an empty cell.
func cellsOn(t testing.TB, target *tables.Table, channel string, cells []Evidence) *tables.Calibration {
	t.Helper()
	statistic := func(name string, of func(e *Evidence) float64) *tables.Table {
		f := tables.Fields{ID: channel + "." + name, Unit: drivelog.ChannelUnit(channel), X: target.X(), Y: target.Y()}
		for i := range cells {
			v := math.NaN()
			if cells[i].Count > 0 {
				v = of(&cells[i])
			}
			f.Values = append(f.Values, v)
		}
		table, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		return table
	}
	doc, err := tables.NewCalibration(tables.Contents{Kind: tables.Cells, Tables: []*tables.Table{
		statistic("count", func(e *Evidence) float64 { return float64(e.Count) }),
		statistic("visits", func(e *Evidence) float64 { return float64(e.Visits) }),
		statistic("mean", func(e *Evidence) float64 { return float64(e.Mean) }),
		statistic("se", func(e *Evidence) float64 { return float64(e.SE) }),
		statistic("max", func(e *Evidence) float64 { return e.max }),
		statistic("p95", func(e *Evidence) float64 { return float64(e.P95) }),
		statistic("at_limit", func(e *Evidence) float64 { return e.AtLimit }),
	}})
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

func calWith(t testing.TB, f ...tables.Fields) *tables.Calibration {
	t.Helper()
	var list []*tables.Table
	for _, f := range f {
		table, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, table)
	}
	c, err := tables.NewCalibration(tables.Contents{Name: "Fell rescue van", Tables: list})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func axis(quantity, unit string, points ...float64) *tables.Axis {
	a, err := tables.NewAxis(quantity, unit, points)
	if err != nil {
		panic(err)
	}
	return a
}

func flowCurve() tables.Fields {
	return tables.Fields{ID: "injector.flow", Role: tables.InjectorFlow, Unit: "g/s", Resolution: 0.001,
		Limits: &tables.Limits{Low: 0.5, High: 12},
		X:      axis(tables.DifferentialPressure, "kPa", 250, 300, 350, 400, 450),
		Values: []float64{2.214, 2.425, 2.62, 2.8, 2.97}}
}

// good is well-founded evidence of a mean.
func good(mean tables.Number) Evidence {
	return Evidence{Count: 500, Visits: 30, Mean: mean, SE: 0.1, max: float64(mean) + 3, P95: mean + 2}
}

func TestFuelByCells(t *testing.T) {
	thin := Evidence{Count: 12, Visits: 2, Mean: 7, SE: 0.1}
	wide := Evidence{Count: 400, Visits: 4, Mean: 3, SE: 2}
	limit := good(24)
	limit.AtLimit = 0.8
	for _, row := range []struct {
		name     string
		cells    [5]Evidence
		opt      func(o *Options)
		want     [5]float64
		verdicts string
	}{
		{name: "division, by the algebra", cells: [5]Evidence{good(7), good(7), good(7), good(7), good(7)},
			want: [5]float64{2.069, 2.266, 2.449, 2.617, 2.776}, verdicts: "proposed proposed proposed proposed proposed"},
		{name: "no trim, no proposal", cells: [5]Evidence{good(0), good(0.7), good(-0.7), good(0.9), good(-0.9)},
			want: [5]float64{2.214, 2.425, 2.62, 2.8, 2.97}},
		{name: "empty, thin and wide breakpoints follow the nearest evidence", cells: [5]Evidence{{}, good(7), thin, wide, good(0)},
			want: [5]float64{2.069, 2.266, 2.449, 2.8, 2.97}, verdicts: "inferred proposed inferred interval includes zero within the dead band"},
		{name: "halfway the higher breakpoint is followed", cells: [5]Evidence{good(7), {}, {Count: 400, Visits: 20, Mean: 3, SE: 0.1}, {}, good(7)},
			want: [5]float64{2.069, 2.354, 2.544, 2.617, 2.776}, verdicts: "proposed inferred proposed inferred proposed"},
		{name: "unless told to leave them", cells: [5]Evidence{{}, good(7), thin, wide, good(0)}, opt: func(o *Options) { o.OnlyVisited = true },
			want: [5]float64{2.214, 2.266, 2.62, 2.8, 2.97}, verdicts: "no samples proposed too few samples interval includes zero within the dead band"},
		{name: "adding is held at the bound, removing at half of it", cells: [5]Evidence{good(30), good(-30), good(-4), good(0), good(0)},
			want: [5]float64{1.926, 2.606, 2.729, 2.8, 2.97}},
		{name: "gain", cells: [5]Evidence{good(8), good(0), good(0), good(0), good(0)}, opt: func(o *Options) { o.Gain = 0.5 },
			want: [5]float64{2.129, 2.425, 2.62, 2.8, 2.97}},
		{name: "a censored cell still has a sign", cells: [5]Evidence{limit, good(0), good(0), good(0), good(0)},
			want: [5]float64{1.926, 2.425, 2.62, 2.8, 2.97}},
	} {
		cal := calWith(t, flowCurve())
		opt := Defaults()
		if row.opt != nil {
			row.opt(&opt)
		}
		p, err := fuelFromAverages(cal, cellsOn(t, cal.Tables()[0], "trim", row.cells[:]), opt)
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		got, err := merge.Apply(cal, p.Changes)
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		var verdicts []string
		for _, c := range p.Report.Cells {
			verdicts = append(verdicts, c.Verdict)
		}
		if v := got.Tables()[0].Values(); fmt.Sprint(v) != fmt.Sprint(row.want[:]) {
			t.Errorf("%s: flow is %v, want %v (%s)", row.name, v, row.want, strings.Join(verdicts, ", "))
		}
		if row.verdicts != "" && strings.Join(verdicts, " ") != row.verdicts {
			t.Errorf("%s: %s, want %s", row.name, strings.Join(verdicts, " "), row.verdicts)
		}
	}
}

// TestCensoredIsSaid: a trim at its limit is a lower bound, and both the edit
// and the cautions say so.
func TestCensoredIsSaid(t *testing.T) {
	cal := calWith(t, flowCurve())
	e := good(24)
	e.AtLimit, e.SE = 0.8, 0
	cells := []Evidence{e, {}, {}, {}, {}}
	p, err := fuelFromAverages(cal, cellsOn(t, cal.Tables()[0], "trim", cells), Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Changes.Edits) == 0 || p.Changes.Edits[0].(*merge.CellEdit).Why.AtLimit != 0.8 {
		t.Fatalf("edits %+v do not carry at_limit", p.Changes.Edits)
	}
	if text := strings.Join(p.Changes.Cautions, "\n"); !strings.Contains(text, "limit") {
		t.Errorf("cautions do not say limit: %s", text)
	}
}

// TestCensoredFromAShareThatCounts: one sample of thousands at the limit moves
// no mean, and nothing is said of it; two in a hundred at ±25 % could.
func TestCensoredFromAShareThatCounts(t *testing.T) {
	cal := calWith(t, flowCurve())
	for share, want := range map[float64]bool{1. / 9520: false, 0.0199: false, 0.02: true, 0.86: true} {
		e := good(9.9)
		e.AtLimit = share
		p, err := fuelFromAverages(cal, cellsOn(t, cal.Tables()[0], "trim", []Evidence{e, {}, {}, {}, {}}), Defaults())
		if err != nil {
			t.Fatal(err)
		}
		if why := p.Changes.Edits[0].(*merge.CellEdit).Why; why.AtLimit != share || strings.Contains(why.Note, "limit") != want {
			t.Errorf("%v at the limit: %v, %q", share, why.AtLimit, why.Note) // promise: never silent
		}
		if text := strings.Join(p.Report.Cautions, "\n"); strings.Contains(text, "stood at its limit") != want {
			t.Errorf("%v at the limit: %s", share, text)
		}
	}
}

func TestAirMultiplies(t *testing.T) {
	ve := tables.Fields{ID: "air.ve", Role: tables.AirVolumetricEfficiency, Unit: "%", Resolution: 0.1,
		X: axis(tables.EngineSpeed, "r/min", 1000, 2000), Y: axis(tables.ManifoldPressure, "kPa", 40, 80), Values: []float64{60, 70, 80, 90}}
	cal := calWith(t, ve)
	opt := Defaults()
	opt.Target = "air.ve"
	p, err := fuelFromAverages(cal, cellsOn(t, cal.Tables()[0], "trim", []Evidence{good(5), {}, good(0), good(-3)}), opt)
	if err != nil {
		t.Fatal(err)
	}
	got, err := merge.Apply(cal, p.Changes)
	if err != nil {
		t.Fatal(err)
	}
	if v := got.Tables()[0].Values(); fmt.Sprint(v) != "[63 70 80 87.3]" {
		t.Errorf("efficiency is %v: a map changes only where evidence is", v)
	}
}

func TestFuelRefuses(t *testing.T) {
	cal := calWith(t, flowCurve(), tables.Fields{ID: "spark", Role: tables.SparkAdvance, Unit: "deg", Values: []float64{10}})
	flow := cal.Tables()[0]
	trim := cellsOn(t, flow, "trim", make([]Evidence, 5))
	other := calWith(t, tables.Fields{ID: "other", Unit: "1", X: axis("engine_speed", "r/min", 800, 1600), Values: []float64{1, 2}}).Tables()[0]
	for _, row := range []struct {
		name  string
		cells *tables.Calibration
		opt   func(o *Options)
		want  string
	}{
		{"a target that is not there", trim, func(o *Options) { o.Target = "flow" }, `there is no table "flow", only injector.flow, spark`},
		{"a target of another role", trim, func(o *Options) { o.Target = "spark" }, "table spark has role spark.advance"},
		{"cells on other axes", cellsOn(t, other, "trim", make([]Evidence, 2)), nil, "gather them with --axes CAL:injector.flow"},
		{"cells of another channel", cellsOn(t, flow, "spark", make([]Evidence, 5)), nil, "cells have no trim.mean: gather with --value trim"},
		{"gain past 1", trim, func(o *Options) { o.Gain = 1.5 }, "--gain is 1.5"},
		{"no bound", trim, func(o *Options) { o.Bound = 0 }, "--bound is 0"},
	} {
		opt := Defaults()
		if row.opt != nil {
			row.opt(&opt)
		}
		if _, err := fuelFromAverages(cal, row.cells, opt); err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s: %v, want %q", row.name, err, row.want)
		}
	}
}

// lawSeven: no trim, no proposal; never past the bound, against the sign or out
// of the limits; and every cell has a verdict that is counted.
func lawSeven(t *rapid.T) {
	n := rapid.IntRange(1, 8).Draw(t, "breakpoints")
	f := tables.Fields{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s"}
	x := make([]float64, n)
	for i := range x {
		x[i] = 100 + 50*float64(i)
		f.Values = append(f.Values, rapid.OneOf(rapid.Float64Range(0.01, 20), rapid.SampledFrom([]float64{0, 1e-9, 2.62, 1})).Draw(t, "value"))
	}
	f.X = axis(tables.DifferentialPressure, "kPa", x...)
	f.Resolution = rapid.SampledFrom([]float64{0, 0, 0.001, 0.01, 0.5, 1.0 / 128}).Draw(t, "resolution")
	if rapid.Bool().Draw(t, "limited") {
		f.Limits = &tables.Limits{Low: 0.4, High: 5}
	}
	if air := rapid.Bool().Draw(t, "air"); air {
		f.Role, f.X = tables.AirVolumetricEfficiency, axis(tables.EngineSpeed, "r/min", x...)
	}
	cells := make([]Evidence, n)
	for i := range cells {
		cells[i] = Evidence{Count: rapid.SampledFrom([]int{0, 1, 29, 30, 1000}).Draw(t, "count"), Visits: rapid.IntRange(1, 9).Draw(t, "visits"),
			Mean: tables.Number(rapid.OneOf(rapid.Float64Range(-30, 30), rapid.SampledFrom([]float64{0, 0.78125, -0.78125, 25})).Draw(t, "mean")),
			SE:   tables.Number(rapid.SampledFrom([]float64{0, 0.01, 0.5, 10}).Draw(t, "se")), AtLimit: rapid.SampledFrom([]float64{0, 0.5}).Draw(t, "limit")}
	}
	opt := Defaults()
	opt.Target = "flow"
	opt.Bound = rapid.SampledFrom([]float64{0.5, 3, 10, 15, 50}).Draw(t, "bound")
	opt.Gain = rapid.SampledFrom([]float64{0.3, 1}).Draw(t, "gain")
	table, err := tables.NewTable(f)
	if err != nil {
		t.Fatal(err)
	}
	cal, err := tables.NewCalibration(tables.Contents{Tables: []*tables.Table{table}})
	if err != nil {
		t.Fatal(err)
	}
	s := divide
	if f.Role != tables.InjectorFlow {
		s = multiply
	}
	r := newFuelReport(table, "cells")
	r.byCells(table, s, &grid{channel: "trim", unit: "%", cells: cells}, &opt)
	p := r.proposal(cal)
	any := false
	for i, c := range p.Report.Cells {
		any = any || c.Verdict == Proposed
		if c.From == c.To {
			continue
		}
		fuel := c.From/c.To - 1
		if s == multiply {
			fuel = c.To/c.From - 1
		}
		if most := opt.Bound / 100 * (1 + 1e-9); math.Abs(c.To/c.From-1) > most || math.Abs(fuel) > most {
			t.Fatalf("cell %d: %v to %v passes the bound of %v %%", i, c.From, c.To, opt.Bound)
		}
		if fuel < -0.05-1e-9 && fuel < -opt.Bound/200-1e-9 {
			t.Fatalf("cell %d: removes %.2f %% of fuel, past half the bound of %v %%", i, 100*fuel, opt.Bound)
		}
		if c.Verdict == Proposed && fuel*float64(cells[i].Mean) <= 0 {
			t.Fatalf("cell %d: trim %v, fuel %v: against the sign", i, cells[i].Mean, fuel)
		}
		if table.Clamp(c.To) != c.To {
			t.Fatalf("cell %d: %v leaves the limits", i, c.To)
		}
		if c.Verdict == Inferred && s == multiply {
			t.Fatalf("cell %d: an air table is not inferred", i)
		}
	}
	if !any && len(p.Changes.Edits) > 0 {
		t.Fatalf("edits without any cell whose own evidence asks for one: %+v", p.Report.Cells)
	}
	told := 0
	for _, c := range p.Report.Counts {
		told += c.Cells
	}
	if told != n {
		t.Fatalf("%d cells have a verdict that is counted, of %d", told, n) // promise: never silent
	}
}

func TestLawSeven(t *testing.T) { rapid.Check(t, lawSeven) }

func FuzzLawSeven(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawSeven)) }

// TestMixtureErrorServesInCells: cells of both channels, as calsplice cells
// --value trim,mixture_error gathers them.
func TestMixtureErrorServesInCells(t *testing.T) {
	cal := calWith(t, flowCurve())
	flow := cal.Tables()[0]
	doc := cellsOn(t, flow, "trim", []Evidence{{}, {}, good(5), good(5), good(5)})
	for _, table := range cellsOn(t, flow, "mixture_error", []Evidence{good(8), {}, good(-9), {}, {}}).Tables() {
		var err error
		if doc, err = doc.WithTable(table); err != nil {
			t.Fatal(err)
		}
	}
	p, err := fuelFromAverages(cal, doc, Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if c := p.Report.Cells[0]; c.Verdict != Proposed || float64(c.Mean) != 8 || !strings.Contains(c.Note, "wideband") {
		t.Errorf("full load is %s with mean %v, want proposed from mixture_error", c.Verdict, float64(c.Mean))
	}
	if c := p.Report.Cells[2]; float64(c.Mean) != 5 {
		t.Errorf("mean %v stands where the trim has its own evidence, want 5", float64(c.Mean))
	}
}

// Cells in another unit are the same evidence; in one that is no trim's, none.
func TestCellsInAnotherUnit(t *testing.T) {
	cal := calWith(t, flowCurve())
	flow := cal.Table("injector.flow")
	list := make([]Evidence, len(flow.Values()))
	for i := range list {
		list[i] = Evidence{Count: 400, Visits: 20, Mean: 6 + tables.Number(i), SE: 0.3, P95: 9, max: 10}
	}
	doc := cellsOn(t, flow, "trim", list)
	ratio := doc
	for _, name := range []string{"mean", "se"} {
		var err error
		if ratio, _, err = tableunit.Convert(ratio, "trim."+name, "1"); err != nil {
			t.Fatal(err)
		}
	}
	want, err := readGrid(doc, flow, "trim")
	if err != nil {
		t.Fatal(err)
	}
	got, err := readGrid(ratio, flow, "trim")
	if err != nil {
		t.Fatal(err)
	}
	for i, e := range got.cells {
		if !near(e.Mean, want.cells[i].Mean, 1e-12) || !near(e.SE, want.cells[i].SE, 1e-12) {
			t.Errorf("cell %d: %v ± %v, want %v ± %v", i, e.Mean, e.SE, want.cells[i].Mean, want.cells[i].SE)
		}
	}
	f := doc.Table("trim.mean").Fields()
	f.Unit = "kPa"
	odd, err := tables.NewTable(f)
	if err != nil {
		t.Fatal(err)
	}
	if doc, err = doc.WithTable(odd); err != nil {
		t.Fatal(err)
	}
	if _, err := readGrid(doc, flow, "trim"); err == nil || err.Error() != `table trim.mean is in "kPa", expected "%"` {
		t.Errorf("error is %v", err)
	}
}
