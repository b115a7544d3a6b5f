package propose

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"calsplice/interp"
	"calsplice/merge"
	"calsplice/tables"
)

func sparkTables(fallback []float64) []tables.Fields {
	x := axis(tables.EngineSpeed, "r/min", 1000, 2000, 3000)
	y := axis(tables.AirCharge, "mg", 200, 500)
	list := []tables.Fields{{ID: "spark.advance", Role: tables.SparkAdvance, Unit: "deg", Resolution: 0.25, Limits: &tables.Limits{Low: -10, High: 50},
		X: x, Y: y, Values: []float64{20, 25, 30, 10, 14, 18}}}
	if fallback != nil {
		list = append(list, tables.Fields{ID: "spark.fallback", Role: tables.SparkFallback, Unit: "deg", Resolution: 0.5, X: x, Y: y, Values: fallback})
	}
	return list
}

// retard is well-founded evidence of knock.
func retard(mean, p95, most float64) Evidence {
	return Evidence{Count: 300, Visits: 12, Mean: tables.Number(mean), SE: 0.1, P95: tables.Number(p95), max: most}
}

func TestSparkByCells(t *testing.T) {
	none := Evidence{Count: 300, Visits: 12}
	thin := Evidence{Count: 5, Visits: 3, Mean: 2, P95: 4, max: 4}
	for _, row := range []struct {
		name  string
		cells [6]Evidence
		want  string
		first string
	}{
		{"no knock, no proposal", [6]Evidence{none, none, none, none, none, {}}, "[20 25 30 10 14 18]", ""},
		{"noise below a degree is left alone", [6]Evidence{none, none, none, none, retard(0.3, 0.8, 1.2), none}, "[20 25 30 10 14 18]", ""},
		{"a blip now and then has no mean", [6]Evidence{none, none, none, none, retard(0.05, 1.5, 3), none}, "[20 25 30 10 14 18]", ""},
		{"persistent knock takes p95 away", [6]Evidence{none, none, none, none, retard(0.9, 1.6, 2.5), none}, "[20 25 30 10 12.5 18]", ""},
		{"two degrees a pass", [6]Evidence{none, none, none, none, retard(3, 4.4, 4.9), none}, "[20 25 30 10 12 18]", ""},
		{"too little evidence", [6]Evidence{none, none, none, none, thin, none}, "[20 25 30 10 14 18]", ""},
		{"one large event at high load is told, and no more", [6]Evidence{none, none, none, none, retard(0.1, 0, 6.5), none}, "[20 25 30 10 14 18]",
			"stop, inspect: knock took 6.5 deg away at high load in cell [1, 1], engine speed 2000 r/min, air charge 500 mg"},
		{"one at low load is not", [6]Evidence{none, retard(0.1, 0, 6.5), none, none, none, none}, "[20 25 30 10 14 18]", ""},
	} {
		cal := calWith(t, sparkTables(nil)...)
		p, err := sparkFromAverages(cal, cellsOn(t, cal.Tables()[0], "knock_retard", row.cells[:]), SparkDefaults())
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		got, err := merge.Apply(cal, p.Changes)
		if err != nil {
			t.Errorf("%s: %v", row.name, err)
			continue
		}
		if v := fmt.Sprint(got.Tables()[0].Values()); v != row.want {
			t.Errorf("%s: advance is %v, want %v", row.name, v, row.want)
		}
		if first := strings.Join(p.Report.First, "; "); first != row.first {
			t.Errorf("%s: first %q, want %q", row.name, first, row.first)
		}
	}
}

// TestSparkWhereLean: a lean mixture knocks; fuel first.
func TestSparkWhereLean(t *testing.T) {
	cal := calWith(t, sparkTables(nil)...)
	target := cal.Tables()[0]
	cells := []Evidence{{}, {}, {}, {}, retard(1.5, 3, 4), {}}
	for _, row := range []struct {
		channel string
		mean    float64
		want    string
	}{
		{"lambda", 1.05, Lean}, {"lambda", 1.02, Proposed}, {"mixture_error", 4, Lean}, {"trim", 5, Lean}, {"trim", -5, Proposed},
	} {
		doc := cellsOn(t, target, "knock_retard", cells)
		more := cellsOn(t, target, row.channel, []Evidence{{}, {}, {}, {}, {Count: 100, Visits: 9, Mean: tables.Number(row.mean)}, {}})
		for _, table := range more.Tables() {
			var err error
			if doc, err = doc.WithTable(table); err != nil {
				t.Fatal(err)
			}
		}
		p, err := sparkFromAverages(cal, doc, SparkDefaults())
		if err != nil {
			t.Fatal(err)
		}
		if got := p.Report.Cells[4].Verdict; got != row.want {
			t.Errorf("%s %v: %s, want %s", row.channel, row.mean, got, row.want)
		}
	}
}

// lawSpark: never more advance, never past the bound, and the fallback stays
// below the advance.
func lawSpark(t *rapid.T) {
	degrees := rapid.Custom(func(t *rapid.T) float64 { return math.Round(rapid.Float64Range(-12, 52).Draw(t, "v")*4) / 4 })
	list := sparkTables(rapid.SliceOfN(degrees, 6, 6).Draw(t, "fallback"))
	list[0].Values = rapid.SliceOfN(degrees, 6, 6).Draw(t, "advance")
	list[0].Resolution = rapid.SampledFrom([]float64{0, 0.25, 1, 3}).Draw(t, "resolution")
	if rapid.Bool().Draw(t, "other axes") {
		list[1].X, list[1].Values = axis(tables.EngineSpeed, "r/min", 800, 2500), list[1].Values[:4]
	}
	cal := calWith(discard{}, list...)
	cells := make([]Evidence, 6)
	for i := range cells {
		cells[i] = Evidence{Count: rapid.SampledFrom([]int{0, 3, 400}).Draw(t, "count"), Visits: rapid.IntRange(1, 5).Draw(t, "visits"),
			Mean: tables.Number(rapid.Float64Range(0, 4).Draw(t, "mean")), P95: tables.Number(rapid.Float64Range(0, 9).Draw(t, "p95")), max: rapid.Float64Range(0, 12).Draw(t, "max")}
	}
	opt := SparkDefaults()
	opt.Bound = rapid.SampledFrom([]float64{0.3, 1, 2, 5}).Draw(t, "bound")
	p, err := sparkFromAverages(cal, cellsOn(discard{}, cal.Tables()[0], "knock_retard", cells), opt)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range p.Report.Cells {
		if c.To > c.From {
			t.Fatalf("cell %v of %s: %v to %v adds advance", c.At, c.Table, c.From, c.To)
		}
		if c.Table == "spark.advance" && c.From-c.To > opt.Bound+1e-9 {
			t.Fatalf("cell %v: %v to %v passes the bound of %v", c.At, c.From, c.To, opt.Bound)
		}
	}
	after, err := merge.Apply(cal, p.Changes)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Report.Edits) == 0 {
		return
	}
	advance, fallback := after.Tables()[0], after.Tables()[1]
	most, err := interp.Lay(advance, fallback.Axes())
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range fallback.Values() {
		if v > most[i]+1e-9 {
			t.Fatalf("fallback %v at %s stands above the advance %v", v, fallback.Place(i), most[i])
		}
	}
}

func TestLawSpark(t *testing.T) { rapid.Check(t, lawSpark) }

func FuzzLawSpark(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawSpark)) }

// discard stands where a rapid property calls a helper that cannot fail there.
type discard struct{ testing.TB }

func (discard) Helper()           {}
func (discard) Fatal(args ...any) { panic(fmt.Sprint(args...)) }
