package cells

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/logtest"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

const logDir = "../../testdata/logs"

// edges of bins as breakpoints: each halfway between two of them is an edge.
func centres(first float64, edges []float64) []float64 {
	list := []float64{first}
	for _, e := range edges[1 : len(edges)-1] {
		list = append(list, 2*e-list[len(list)-1])
	}
	return list
}

// gatherFile gathers one log, or several.
func gatherFile(t testing.TB, spec Spec, files ...string) *Grid {
	t.Helper()
	var logs []Log
	for _, f := range files {
		logs = append(logs, Log{Name: filepath.Base(f), Open: func() (*drivelog.Log, error) {
			return drivelog.Open(f, nil, drivelog.Options{Let: spec.Let})
		}})
	}
	g, _, err := Gather(context.Background(), logs, spec)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// binned is the question that testdata/logs/expected.json answers for a real
// log with exact rational sums: short plus long trim of a warm engine, in bins
// of speed and manifold pressure, whose edges halfway points of breakpoints
// are.
func binned(t testing.TB, rpm, kpa []float64) Spec {
	x, err := tables.NewAxis("engine speed", "r/min", centres(rpm[0]+(rpm[1]-rpm[0])/2, rpm))
	if err != nil {
		t.Fatal(err)
	}
	y, err := tables.NewAxis("manifold pressure", "kPa", centres(kpa[0]+(kpa[1]-kpa[0])/2, kpa))
	if err != nil {
		t.Fatal(err)
	}
	return Spec{X: &axes.Axis{Channel: "engine_speed", Axis: x}, Y: &axes.Axis{Channel: "manifold_pressure", Axis: y}, Values: []string{"sum"},
		Let:   []drivelog.Definition{{Name: "sum", Expr: "short_trim_1 + long_trim_1"}},
		Where: "coolant >= 70 && engine_speed >= 400 && engine_speed < 2800 && manifold_pressure >= 10 && manifold_pressure < 110"}
}

func TestRealLog(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join(logDir, "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		Binned map[string]struct {
			RPM   []float64 `json:"rpm_edges"`
			KPa   []float64 `json:"map_kPa_edges"`
			Used  int       `json:"rows_used"`
			Cells []struct {
				RPM  int `json:"rpm_bin"`
				KPa  int `json:"map_bin"`
				N    float64
				Mean float64
				SD   *float64
			}
		}
	}
	if err := json.Unmarshal(raw, &want); err != nil {
		t.Fatal(err)
	}
	if len(want.Binned) == 0 {
		t.Fatal("nothing to compare with")
	}
	for file, b := range want.Binned {
		g := gatherFile(t, binned(t, b.RPM, b.KPa), filepath.Join(logDir, file))
		d := document(t, g)
		if got := d.Contents().Source[0].Kept; got != b.Used {
			t.Errorf("%s: %d rows kept, want %d", file, got, b.Used)
		}
		filled := 0
		for _, n := range d.Table("sum.count").Values() {
			if n > 0 {
				filled++
			}
		}
		if filled != len(b.Cells) {
			t.Errorf("%s: %d cells have samples, want %d", file, filled, len(b.Cells))
		}
		for _, c := range b.Cells {
			n, mean, sd := d.Table("sum.count").At(c.KPa, c.RPM), d.Table("sum.mean").At(c.KPa, c.RPM), d.Table("sum.sd").At(c.KPa, c.RPM)
			if n != c.N || math.Abs(mean-c.Mean) > 1e-12 || c.SD != nil && math.Abs(sd-*c.SD) > 1e-12 {
				t.Errorf("%s [%d, %d]: count %v, mean %v, sd %v, want %+v", file, c.KPa, c.RPM, n, mean, sd, c)
			}
		}
	}
}

// pandas computes the cells of the same log from the file itself, with code of
// its own: pandas.cut, groupby, quantile.
func TestPandas(t *testing.T) {
	python := logtest.Python(t, "pandas")
	rpm, kpa := []float64{400, 800, 1200, 1600, 2000, 2400, 2800}, []float64{10, 20, 30, 40, 50, 60, 70, 80, 90, 110}
	script := `
import sys, json, pandas as pd
d = pd.read_csv(sys.argv[1], index_col=False, skipinitialspace=True)
d = d[d["COOLANT_TEMPERATURE ()"] >= 70]
v = d["SHORT_TERM_FUEL_TRIM_BANK_1 ()"] + d["LONG_TERM_FUEL_TRIM_BANK_1 ()"]
x = pd.cut(d["ENGINE_RPM ()"], ` + floats(rpm) + `, right=False, labels=False)
y = pd.cut(d["INTAKE_MANIFOLD_PRESSURE ()"], ` + floats(kpa) + `, right=False, labels=False)
out = []
for (r, c), g in v.groupby([y, x]):
    out.append([float(n) for n in (r, c, len(g), g.mean(), g.std(), g.min(), g.max(), g.quantile(.95))])
print(json.dumps(out))
`
	file := filepath.Join(logDir, "log-a.csv")
	raw, err := exec.Command(python, "-c", script, file).Output()
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]*float64
	if err := json.Unmarshal([]byte(strings.ReplaceAll(string(raw), "NaN", "null")), &rows); err != nil {
		t.Fatal(err)
	}
	if len(rows) < 20 {
		t.Fatalf("%d cells from pandas", len(rows))
	}
	d := document(t, gatherFile(t, binned(t, rpm, kpa), file))
	for _, row := range rows {
		r, c := int(*row[0]), int(*row[1])
		for i, name := range []string{"count", "mean", "sd", "min", "max", "p95"} {
			got, want := d.Table("sum."+name).At(r, c), math.NaN()
			if row[2+i] != nil {
				want = *row[2+i]
			}
			if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > 1e-9 {
				t.Errorf("[%d, %d] %s is %v, pandas has %v", r, c, name, got, want)
			}
		}
	}
}

func floats(list []float64) string {
	var s []string
	for _, v := range list {
		s = append(s, tables.FormatValue(v))
	}
	return "[" + strings.Join(s, ",") + "]"
}

// Law 6 on real logs: three of them combined are the three read at once, on any
// number of workers and in any order, to the byte.
func TestRealLogsCombine(t *testing.T) {
	spec := binned(t, []float64{400, 1200, 2000, 2800}, []float64{10, 30, 50, 110})
	spec.Values, spec.Let, spec.Where = []string{"trim", "coolant"}, nil, ""
	var files []string
	for _, f := range []string{"log-a.csv", "log-b.csv", "log-c.csv"} {
		files = append(files, filepath.Join(logDir, f))
	}
	for _, w := range []Weight{Nearest, Spread} {
		spec.Weight, spec.Workers = w, 1
		want := document(t, gatherFile(t, spec, files...))
		spec.Workers = 3
		back := slices.Clone(files)
		slices.Reverse(back)
		if got := document(t, gatherFile(t, spec, back...)); !got.Equal(want) {
			t.Errorf("%v: three workers in another order give other cells", w)
		}
		var parts []*tables.Calibration
		for _, f := range back {
			parts = append(parts, document(t, gatherFile(t, spec, f)))
		}
		got, err := Combine(parts...)
		if err != nil {
			t.Fatal(err)
		}
		if !got.Equal(want) {
			t.Errorf("%v: combined cells are not those of one reading", w)
		}
		if _, err := Combine(append(parts, parts[1])...); err == nil || !strings.Contains(err.Error(), "is the same as") {
			t.Errorf("a log combined twice: %v", err)
		}
	}
}
