package plausible

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"calsplice/tables"
)

// TestBounds: each bound of a rule, and the value just inside it.
func TestBounds(t *testing.T) {
	for _, c := range []struct {
		why, old, new string
		want          string // the finding; "" for none
	}{
		{"24 cylinders", `"cylinders": 4`, `"cylinders": 24`, ""},
		{"25 cylinders", `"cylinders": 4`, `"cylinders": 25`, "cylinders: engine has 25 cylinders, expected 24 at most"},
		{"a ratio of 5", `"stoich_afr": 14.7`, `"stoich_afr": 5`, "stoich: engine stoich_afr is 5, expected one between 5 and 20"},
		{"a ratio of 5.1", `"stoich_afr": 14.7`, `"stoich_afr": 5.1`, ""},
		{"a ratio of 9", `"stoich_afr": 14.7`, `"stoich_afr": 9`, ""},
		{"a ratio of 20", `"stoich_afr": 14.7`, `"stoich_afr": 20`, "stoich: engine stoich_afr is 20, expected one between 5 and 20"},
		{"no rail pressure at all", `"value": 380, "unit": "kPa"`, `"value": 0, "unit": "kPa"`, "rail-pressure: engine rail_pressure is 0 kPa, expected one above 0"},
		{"49 kPa", `"value": 380, "unit": "kPa"`, `"value": 49, "unit": "kPa"`, "rail-pressure: engine rail_pressure is 49 kPa, expected 50 kPa at least"},
		{"50 kPa", `"value": 380, "unit": "kPa"`, `"value": 50, "unit": "kPa"`, ""},
		{"0.02 L", `"value": 2.5, "unit": "L"`, `"value": 0.02, "unit": "L"`, ""},
		{"30.1 L", `"value": 2.5, "unit": "L"`, `"value": 30.1, "unit": "L"`, "displacement: engine displacement is 30.1 L, expected one from 0.02 to 30 L"},
		{"spark at −10", "[0,2,4.5", "[-10,2,4.5", ""},
		{"spark at 60", "38,38,37]", "38,38,60]", ""},
		{"a hundredth of a step", "2.62, 2.8", "2.620009, 2.8", ""},
		{"more than that", "2.62, 2.8", "2.62002, 2.8", "resolution injector.flow[0, 2]: 2.62002 g/s is not a multiple of the resolution 0.001 g/s: the controller would store 2.62 (at 350 kPa)"},
		{"an efficiency of 5 %", "[70, 88, 82]", "[5, 88, 82]", "efficiency air.ve[0, 0]: 5 % is not between 5 and 250 % (at 1000 r/min)"},
		{"an efficiency of 5.1 %", "[70, 88, 82]", "[5.1, 88, 82]", ""},
		{"a pulse of 3 ms", `"ms", "values": 0.4`, `"ms", "values": 3`, "min-pulse injector.min_pulse[0, 0]: 3 ms is not between 0 and 3 ms"},
		{"a fallback half a step above", "[10,17,27,29]", "[10,17,31.2,29]", ""},
	} {
		text := strings.Replace(van, c.old, c.new, 1)
		if text == van {
			t.Fatalf("%s: nothing to change", c.why)
		}
		findings, _ := Check(read(t, text))
		var got []string
		for _, l := range lines(findings) {
			if !strings.HasPrefix(l, "flow-root") && !strings.HasPrefix(l, "resolution spark") {
				got = append(got, l)
			}
		}
		if strings.Join(got, "\n") != c.want {
			t.Errorf("%s: %q, want %q", c.why, got, c.want)
		}
	}
	const spark = `{"format": "calsplice/1", "tables": [{"id": "s", "role": "spark.advance", "unit": "deg", "values": %v}]}`
	for v, want := range map[float64]int{-20: 0, -20.1: 1, -39: 1, 70: 0, 70.1: 1} {
		if findings, _ := Check(read(t, fmt.Sprintf(spark, v))); len(findings) != want {
			t.Errorf("spark at %v: %q", v, lines(findings))
		}
	}
}

// TestListedAtMost: twelve findings of a rule are listed, and one more is counted.
func TestListedAtMost(t *testing.T) {
	for n, want := range map[int]string{most: "", most + 1: "and 1 more cells like that"} {
		f := tables.Fields{ID: "t", Unit: "deg", Limits: &tables.Limits{Low: 0, High: 1}}
		var p []float64
		for i := range n {
			p, f.Values = append(p, float64(i)), append(f.Values, 5)
		}
		f.X, _ = tables.NewAxis("load", "%", p)
		table, _ := tables.NewTable(f)
		doc, _ := tables.NewCalibration(tables.Contents{Tables: []*tables.Table{table}})
		findings, _ := Check(doc)
		last := findings[len(findings)-1]
		if last.At == nil && last.Text != want || last.At != nil && want != "" || len(findings) != n && want == "" {
			t.Errorf("%d cells: %d findings, the last %q", n, len(findings), last.Text)
		}
	}
}

// TestMeasurementsAreNotJudged: cell averages are measured, whatever they are.
func TestMeasurementsAreNotJudged(t *testing.T) {
	table, err := tables.NewTable(tables.Fields{ID: "spark.mean", Unit: "deg", Limits: &tables.Limits{Low: 0, High: 1}, Values: []float64{99}})
	if err != nil {
		t.Fatal(err)
	}
	for kind, want := range map[tables.Kind]bool{tables.Calibrated: true, tables.Cells: false} {
		doc, err := tables.NewCalibration(tables.Contents{Kind: kind, Tables: []*tables.Table{table}})
		if err != nil {
			t.Fatal(err)
		}
		if findings, notes := Check(doc); (len(findings)+len(notes) > 0) != want {
			t.Errorf("%v: %q, %q", kind, lines(findings), notes)
		}
	}
}

// TestFlowRules: which flows the rules of pressure are about: also along the
// differential pressure of a regulator that follows the manifold, and not at no
// pressure; three values tell which is off the square-root law, two do not.
func TestFlowRules(t *testing.T) {
	const doc = `{"format": "calsplice/1", %s "tables": [{"id": "o", "role": "injector.offset", "unit": "ms", "values": 0.9},
	 {"id": "f", "role": "injector.flow", "unit": "g/s", "x": {"quantity": "%s", "unit": "%s", "points": [%s]}, "values": [%s]}]}`
	engine := func(kpa int, to string) string {
		return fmt.Sprintf(`"engine": {"rail_pressure": {"value": %d, "unit": "kPa", "relative_to": "%s"}},`, kpa, to)
	}
	root := func(dp ...float64) string {
		var s []string
		for _, v := range dp {
			s = append(s, fmt.Sprintf("%.4f", 0.15*math.Sqrt(v)))
		}
		return strings.Join(s, ", ")
	}
	for _, c := range []struct{ why, engine, quantity, unit, points, values, want string }{
		{"falls along the differential, on a rail that follows the manifold", engine(300, "manifold"), "differential pressure", "kPa", "200, 300", "2, 1.9", "flow-pressure[0, 1]"},
		{"stays along it", engine(300, "manifold"), "differential pressure", "kPa", "200, 300", "2, 2", "flow-pressure[0, 1]"},
		{"nothing at no pressure", "", "differential pressure", "kPa", "0, 100, 200, 300", "0, " + root(100, 200, 300), ""},
		{"nothing at some pressure", "", "differential pressure", "kPa", "50, 100, 200, 300", "0, " + root(100, 200, 300), "flow-size[0, 0]"},
		{"nothing at no pressure nor at some", "", "differential pressure", "kPa", "0, 100, 200, 300", "0, 0, " + root(200, 300), "flow-size[0, 1] flow-pressure[0, 1]"},
		{"a third off the law", "", "differential pressure", "kPa", "200, 250, 300", "2.1213, 2.5, 2.5981", "flow-root[0, 1]"},
		{"one of two off the law", "", "differential pressure", "kPa", "200, 300", "2, 3", ""},
		{"four, the median of which lies between", "", "differential pressure", "kPa", "100, 200, 300, 400", "1.5, 2.1213, 2.8, 3.23", ""},
		{"4.9 % off", "", "differential pressure", "kPa", "100, 200, 300", "1.5, 2.225, 2.5981", ""},
		{"5.1 % off", "", "differential pressure", "kPa", "100, 200, 300", "1.5, 2.2295, 2.5981", "flow-root[0, 1]"},
		{"in bar", "", "differential pressure", "bar", "1, 2, 3", root(100, 200, 300), ""},
		{"along vacuum without a rail pressure", "", "manifold vacuum", "kPa", "0, 40, 80", "1, 2, 9", ""},
		{"along vacuum", engine(300, "atmosphere"), "manifold vacuum", "kPa", "0, 40, 80", root(300, 340, 380), ""},
		{"along vacuum, off the law", engine(300, "atmosphere"), "manifold vacuum", "kPa", "0, 40, 80", "2.598, 2.766, 3.1", "flow-root[0, 2]"},
		{"along vacuum, absolute", engine(401, "absolute"), "manifold vacuum", "kPa", "0, 40, 280", root(299.7, 339.7, 579.7), ""},
		{"along manifold pressure, absolute", engine(401, "absolute"), "manifold pressure", "kPa", "20, 100, 300", root(381, 301, 101), ""},
		{"along manifold pressure, off the law", engine(401, "absolute"), "manifold pressure", "kPa", "20, 100, 300", "2.9279, 2.6024, 1.7", "flow-root[0, 2]"},
	} {
		findings, _ := Check(read(t, fmt.Sprintf(doc, c.engine, c.quantity, c.unit, c.points, c.values)))
		var got []string
		for _, f := range findings {
			got = append(got, fmt.Sprintf("%s[%d, %d]", f.Rule, f.At[0], f.At[1]))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: %q, want %s\n%s", c.why, got, c.want, strings.Join(lines(findings), "\n"))
		}
	}
	// A single flow needs a reference pressure, or a rail that keeps one.
	for to, want := range map[string]int{"atmosphere": 1, "absolute": 1, "manifold": 0} {
		findings, _ := Check(read(t, `{"format": "calsplice/1", `+engine(300, to)+` "tables": [{"id": "o", "role": "injector.offset", "unit": "ms", "values": 0.9}, {"id": "f", "role": "injector.flow", "unit": "g/s", "values": 2}]}`))
		if len(findings) != want {
			t.Errorf("one flow, on a rail relative to %s: %q", to, lines(findings))
		}
	}
}

// TestOutlierOf: of two neighbours the one without which the others run straighter, in
// proportion where all are above 0; among fewer than four the second.
func TestOutlierOf(t *testing.T) {
	for _, c := range []struct {
		why    string
		values []float64
		i, out int
	}{
		{"the second of three", []float64{1, 5, 3}, 1, 2},
		{"the first of four, at the start", []float64{9, 2, 3, 4}, 0, 0},
		{"the second, at the start", []float64{1, 9, 3, 4}, 0, 1},
		{"the first, at the end", []float64{1, 2, 9, 4}, 2, 2},
		{"the second, at the end", []float64{1, 2, 4, 4}, 2, 3},
		{"the first, amid", []float64{1, 9, 3, 4, 5}, 1, 1},
		{"the second, amid", []float64{1, 2, 9, 4, 5}, 1, 2},
		{"in proportion", []float64{1, 2, 4, 16, 16}, 2, 3},
		{"as they are, with one that is none", []float64{-1, 0, 9, 2, 3}, 1, 2},
		{"the first as they are", []float64{0, 9, 2, 3, 4}, 1, 1},
	} {
		l := line{values: c.values}
		for i := range c.values {
			l.at, l.points = append(l.at, i), append(l.points, float64(i))
		}
		if got := l.outlierOf(c.i); got != c.out {
			t.Errorf("%s: %d, want %d", c.why, got, c.out)
		}
	}
	// A cell that a finding is about already is the outlier of the next one too.
	table, _ := tables.NewTable(tables.Fields{ID: "t", Values: []float64{1}})
	l := line{at: []int{10, 11}, points: []float64{0, 1}, values: []float64{1, 2}}
	for _, c := range []struct {
		met  map[int]bool
		want int
	}{{map[int]bool{10: true}, 10}, {map[int]bool{11: true}, 11}, {map[int]bool{10: true, 11: true}, 11}, {nil, 11}} {
		k := &checker{met: map[*tables.Table]map[int]bool{table: c.met}}
		if got := k.outlierOf(table, l, 0); got != c.want {
			t.Errorf("met %v: %d, want %d", c.met, got, c.want)
		}
	}
}

// TestSmallNumbers: the steps in which values are written, medians, spreads, and the way
// numbers are printed.
func TestSmallNumbers(t *testing.T) {
	for _, c := range []struct {
		values     []float64
		resolution float64
		want       float64
	}{{[]float64{1, 2}, 0, 1}, {[]float64{1, 2.25}, 0, 0.01}, {[]float64{0.5, 2.125}, 0, 0.001}, {[]float64{1.23456789}, 0, 1e-6}, {[]float64{1.5}, 0.25, 0.25}} {
		f := tables.Fields{ID: "t", Resolution: c.resolution, Values: c.values}
		var p []float64
		for i := range c.values {
			p = append(p, float64(i))
		}
		f.X, _ = tables.NewAxis("load", "%", p)
		table, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		if got := step(table); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%v are written in steps of %v, want %v", c.values, got, c.want)
		}
	}
	for _, c := range []struct{ values, want []float64 }{{[]float64{3}, []float64{3, 0}}, {[]float64{4, 1}, []float64{2.5, 1.4826 * 1.5}}, {[]float64{9, 1, 2}, []float64{2, 1.4826}}, {[]float64{1, 2, 3, 100}, []float64{2.5, 1.4826}}} {
		if m, s := median(c.values), spread(c.values); m != c.want[0] || math.Abs(s-c.want[1]) > 1e-12 {
			t.Errorf("%v: median %v, spread %v, want %v", c.values, m, s, c.want)
		}
	}
	if spread(nil) != 0 {
		t.Error("nothing is spread")
	}
	for unit, want := range map[string]string{"": "2.5", "1": "2.5", "ms": "2.5 ms"} {
		if got := amount(2.5, unit); got != want {
			t.Errorf("%q: %s", unit, got)
		}
	}
}

// TestSpikesOnAMap: a cell that stands out along both axes is a slip; along one of them
// only where the other has too few values to tell, and the lines beside it have none.
func TestSpikesOnAMap(t *testing.T) {
	grid := func(nx, ny int, f func(x, y int) float64) *tables.Table {
		var px, py []float64
		for i := range nx {
			px = append(px, float64(i))
		}
		for i := range ny {
			py = append(py, float64(i))
		}
		fields := tables.Fields{ID: "t", Unit: "deg"}
		fields.X, _ = tables.NewAxis("load", "%", px)
		fields.Y, _ = tables.NewAxis("throttle", "%", py)
		for y := range ny {
			for x := range nx {
				fields.Values = append(fields.Values, f(x, y))
			}
		}
		table, err := tables.NewTable(fields)
		if err != nil {
			t.Fatal(err)
		}
		return table
	}
	slope := func(x, y int) float64 { return float64(2*x + 3*y) }
	at := func(cx, cy int, by float64) func(x, y int) float64 {
		return func(x, y int) float64 {
			if (x == cx || cx < 0) && (y == cy || cy < 0) {
				return slope(x, y) + by
			}
			return slope(x, y)
		}
	}
	for _, c := range []struct {
		why   string
		table *tables.Table
		want  string
	}{
		{"a slip on a map", grid(8, 8, at(4, 4, 12)), "[4 4]"},
		{"a ridge along y", grid(8, 8, at(4, -1, 12)), ""},
		{"a ridge along x", grid(8, 8, at(-1, 4, 12)), ""},
		{"a slip where y has three values", grid(8, 3, at(4, 1, 12)), "[1 4]"},
		{"a ridge where y has three values", grid(8, 3, at(4, -1, 12)), ""},
		{"a slip in the first of three rows", grid(8, 3, at(4, 0, 12)), "[0 4]"},
		{"a slip in the last of three rows", grid(8, 3, at(4, 2, 12)), "[2 4]"},
		{"a slip where x has three values", grid(3, 8, at(1, 4, 12)), "[4 1]"},
		{"a ridge where x has three values", grid(3, 8, at(-1, 4, 12)), ""},
		{"a slip in the first of three columns", grid(3, 8, at(0, 4, 12)), "[4 0]"},
		{"a slip in the last of three columns", grid(3, 8, at(2, 4, 12)), "[4 2]"},
		{"too few values either way", grid(4, 4, at(1, 1, 12)), ""},
		{"hardly more than a step", grid(8, 8, at(4, 4, 5)), ""},
		{"a twentieth of the span", grid(8, 30, at(4, 14, 5)), ""},
		{"nothing at all", grid(8, 8, func(x, y int) float64 { return 7 }), ""},
	} {
		doc, err := tables.NewCalibration(tables.Contents{Tables: []*tables.Table{c.table}})
		if err != nil {
			t.Fatal(err)
		}
		findings, _ := Check(doc)
		var got []string
		for _, f := range findings {
			got = append(got, fmt.Sprint(f.At))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s: %q, want %s", c.why, got, c.want)
		}
	}
}

// TestAloneByHand: a spike's neighbours bend the other way, by more than a fifth of what
// it does; beside an end there is one to tell, and by less than four fifths.
func TestAloneByHand(t *testing.T) {
	of := func(values ...float64) line {
		l := line{values: values}
		for i := range values {
			l.at, l.points = append(l.at, i), append(l.points, float64(i))
		}
		return l
	}
	for _, c := range []struct {
		why  string
		l    line
		i    int
		want bool
	}{
		{"a spike", of(0, 0, 0, 1, 0, 0, 0), 3, true},
		{"a step", of(0, 0, 0, 1, 1, 1, 1), 3, false},
		{"a kink", of(0, 0, 0, 0, 1, 2, 3), 3, false},
		{"a spike beside the first", of(0, 1, 0, 0, 0), 1, true},
		{"a step at the first", of(0, 1, 1, 1, 1), 1, false},
		{"a spike beside the last", of(0, 0, 0, 1, 0), 3, true},
		{"a step at the last", of(0, 0, 0, 0, 1), 3, false},
		{"one of three", of(0, 1, 0), 1, false},
		{"all but a step beside the first", of(0, 1, 0.8, 0.8, 0.8), 1, false},
		{"bends of a fifth to one side", of(0, 0, 0.6, 1, 0, 0, 0), 3, false},
	} {
		if got := c.l.alone(c.i); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestFallbackIsHeldAgainstOne: only one table against one, on axes of one kind.
func TestFallbackIsHeldAgainstOne(t *testing.T) {
	const (
		advance  = `{"id": "a%d", "role": "spark.advance", "unit": "deg", "x": {"quantity": "load", "unit": "%%", "points": [10, 20]}, "values": [10, 20]}`
		curve    = `{"id": "f%d", "role": "spark.fallback", "unit": "deg", "x": {"quantity": "load", "unit": "%%", "points": [15]}, "values": [%v]}`
		other    = `{"id": "g%d", "role": "spark.fallback", "unit": "deg", "x": {"quantity": "engine speed", "unit": "r/min", "points": [15]}, "values": [%v]}`
		scalar   = `{"id": "h%d", "role": "spark.fallback", "unit": "deg", "values": %v}`
		onTwo    = `{"id": "i%d", "role": "spark.fallback", "unit": "deg", "x": {"quantity": "load", "unit": "%%", "points": [15]}, "y": {"quantity": "engine speed", "unit": "r/min", "points": [900]}, "values": [[%v]]}`
		inShares = `{"id": "j%d", "role": "spark.fallback", "unit": "deg", "x": {"quantity": "load", "unit": "1", "points": [0.15]}, "values": [%v]}`
	)
	f := func(s string, args ...any) string { return fmt.Sprintf(s, args...) }
	for _, c := range []struct {
		why, tables string
		findings    int
		note        string
	}{
		{"above", f(advance, 1) + "," + f(curve, 1, 15.1), 1, ""},
		{"as high", f(advance, 1) + "," + f(curve, 1, 15), 0, ""},
		{"above, on an axis in another unit", f(advance, 1) + "," + f(inShares, 1, 15.1), 1, ""},
		{"as high, on an axis in another unit", f(advance, 1) + "," + f(inShares, 1, 15), 0, ""},
		{"on another axis", f(advance, 1) + "," + f(other, 1, 99), 1, `g1 was not held against a1: an axis of "engine speed" does not stand for one of "load"`},
		{"without an axis", f(advance, 1) + "," + f(scalar, 1, 99), 1, "h1 was not held against a1: one has an axis that the other has not"},
		{"on one more axis", f(advance, 1) + "," + f(onTwo, 1, 99), 1, "i1 was not held against a1: one has an axis that the other has not"},
		{"nothing to hold it against", f(curve, 1, 15.1), 0, ""},
		{"two to hold it against", f(advance, 1) + "," + f(advance, 2) + "," + f(curve, 1, 15.1), 1, ""},
		{"two to hold", f(advance, 1) + "," + f(curve, 1, 15.1) + "," + f(curve, 2, 15.1), 1, ""},
	} {
		findings, notes := Check(read(t, `{"format": "calsplice/1", "tables": [`+c.tables+`]}`))
		if len(findings) != c.findings || strings.Join(notes, "\n") != c.note {
			t.Errorf("%s: %q, noted %q", c.why, lines(findings), notes)
		}
	}
}

// TestMeterRules: a meter's curve may stay but not fall, from its first value to its last.
func TestMeterRules(t *testing.T) {
	const doc = `{"format": "calsplice/1", "tables": [{"id": "m", "role": "air.meter", "unit": "g/s", "resolution": 0.5, "x": {"quantity": "meter signal", "unit": "V", "points": [1, 2, 3, 4]}, "values": [%s]}]}`
	for values, want := range map[string]string{"1, 2, 2, 9": "", "3, 2, 4, 9": "[0 0]", "1, 2, 9, 8": "[0 2]", "1, 2, 4, 3": "[0 3]", "1, 2, 9, 8.75": "", "1, 4, 3, 9": "[0 1]"} {
		findings, _ := Check(read(t, fmt.Sprintf(doc, values)))
		got := ""
		for _, f := range findings {
			if f.Rule == "meter" {
				got += fmt.Sprint(f.At)
			}
		}
		if got != want {
			t.Errorf("%s: %s, want %s\n%q", values, got, want, lines(findings))
		}
	}
}
