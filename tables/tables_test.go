package tables

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

func axis(t *testing.T, points ...float64) *Axis {
	t.Helper()
	a, err := NewAxis("engine speed", "r/min", points)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestAxisRefuses(t *testing.T) {
	for _, c := range []struct {
		points []float64
		want   string
		why    string
	}{
		{nil, "no breakpoints", "an axis has at least one"},
		{[]float64{1, 1}, "not above the one before", "equal breakpoints bracket nothing"},
		{[]float64{2, 1}, "not above the one before", "they increase"},
		{[]float64{math.NaN()}, "expected a finite number", "NaN compares with nothing"},
		{[]float64{1, math.Inf(1)}, "expected a finite number", "nothing lies towards infinity"},
		{[]float64{math.Copysign(0, -1), 0}, "not above the one before", "−0 is not below 0"},
	} {
		if _, err := NewAxis("q", "u", c.points); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: got %v, want %q: %s", c.points, err, c.want, c.why)
		}
	}
}

func TestTableRefuses(t *testing.T) {
	x := axis(t, 1, 2)
	for _, c := range []struct {
		f    Fields
		want string
		why  string
	}{
		{Fields{ID: "A", Values: []float64{1}}, "lower-case", "ids are file and line names too"},
		{Fields{ID: "", Values: []float64{1}}, "id is empty", "a table is addressed by its id"},
		{Fields{ID: "a", Role: "x", Values: []float64{1}}, `there is no role "x", only injector.flow, `, "a role that means nothing computes nothing"},
		{Fields{ID: "a", Resolution: -1, Values: []float64{1}}, "resolution", "a step is a size"},
		{Fields{ID: "a", Resolution: math.NaN(), Values: []float64{1}}, "resolution", "NaN is no size"},
		{Fields{ID: "a", Limits: &Limits{2, 1}, Values: []float64{1}}, "limits", "nothing lies between"},
		{Fields{ID: "a", Y: x, Values: []float64{1, 2}}, "no x axis", "a curve runs along x"},
		{Fields{ID: "a", X: x, Values: []float64{1}}, "need 2", "a cell a breakpoint"},
		{Fields{ID: "a", X: x, Values: []float64{1, math.Inf(-1)}}, "[0, 1]", "the place is named"},
		{Fields{ID: "a", Title: "\xff", Values: []float64{1}}, "UTF-8", "no spelling can carry it"},
		{Fields{ID: "a", Notes: "a\x00b", Values: []float64{1}}, "UTF-8", "NUL is no text"},
	} {
		if _, err := NewTable(c.f); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: got %v, want %q: %s", c.f, err, c.want, c.why)
		}
	}
}

func TestCalibrationRefuses(t *testing.T) {
	one, _ := NewTable(Fields{ID: "a", Values: []float64{1}})
	hole, _ := NewTable(Fields{ID: "b", Values: []float64{math.NaN()}})
	for _, c := range []struct {
		c    Contents
		want string
		why  string
	}{
		{Contents{Tables: []*Table{one, one}}, `id "a"`, "ids are unique"},
		{Contents{Tables: []*Table{hole}}, "no value at [0, 0]", "a controller stores every cell"},
		{Contents{Kind: "calsplice/9"}, "found \"calsplice/9\"", "another version is not read as this one"},
		{Contents{Engine: &Engine{Strokes: 3}}, "strokes", "engines have two or four"},
		{Contents{Engine: &Engine{StoichAFR: -1}}, "stoich_afr", "a ratio of masses"},
		{Contents{Engine: &Engine{RailPressure: &RailPressure{300, "kPa", "gauge"}}}, "relative to", "the word is atmosphere"},
		{Contents{Source: []Source{{Name: "l"}}}, "cell averages", "a calibration was not gathered from logs"},
	} {
		if _, err := NewCalibration(c.c); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: got %v, want %q: %s", c.c, err, c.want, c.why)
		}
	}
	if _, err := NewCalibration(Contents{Kind: Cells, Tables: []*Table{hole}}); err != nil {
		t.Errorf("an empty cell of cell averages: %v", err)
	}
}

func TestFormatValue(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want string
	}{
		{2.62, "2.62"}, {0, "0"}, {math.Copysign(0, -1), "-0"}, {1e21, "1e+21"}, {1e20, "100000000000000000000"},
		{1e-6, "0.000001"}, {1e-7, "1e-7"}, {1e-300, "1e-300"}, {-1.5e-10, "-1.5e-10"}, {math.NaN(), ""}, {0.30000000000000004, "0.30000000000000004"},
	} {
		got := FormatValue(c.v)
		if got != c.want {
			t.Errorf("%v: got %q, want %q", c.v, got, c.want)
		}
		if got == "" {
			continue
		}
		if back, err := ParseValue(got); err != nil || !SameBit(back, c.v) {
			t.Errorf("%q reads back as %v, %v", got, back, err)
		}
	}
	r := rand.New(rand.NewPCG(1, 1))
	for range 50000 { // thousandths of up to 16 digits, and what is just beside them
		v := float64(r.Int64N(1+r.Int64N(1e16))) / 1000
		for _, v := range []float64{v, -v, math.Nextafter(v, 0), math.Nextafter(v, 1e20)} {
			if got, want := FormatValue(v), strconv.FormatFloat(v, 'f', -1, 64); v != 0 && math.Abs(v) > 1e-6 && got != want {
				t.Fatalf("%v: got %q, want %q", v, got, want)
			}
		}
	}
	for _, s := range []string{"", "0x1F", "1_000", "inf", "nan", "1e999", "1e", "--1", "1.2.3", "e5", ".", "1 2", "１"} {
		if v, err := ParseValue(s); err == nil {
			t.Errorf("%q was read as %v", s, v)
		}
	}
}

// TestDouble: a number that a double does not hold is told, and is none.
func TestDouble(t *testing.T) {
	for s, want := range map[string]string{
		"1e999": "too large for a number", "1e308": "",
		"1e-400": "too small for a number, and would be read as 0", "-0.1E-330": "too small for a number, and would be read as 0",
		"5e-324": "", "0e-400": "", "-0.000": "", "0": "",
		"9007199254740993":  "too long for a number, and would be read as 9007199254740992",
		"-9007199254740993": "too long for a number, and would be read as 9007199254740992",
		"9007199254740992":  "", "09007199254740994": "", "123456789012345678": "too long for a number, and would be read as 123456789012345680",
		"100000000000000000000000": "", "9007199254740993.0": "", "0.1000000000000000055511151231257827": "",
		"x": "not a number",
	} {
		if v, got := Double(s); got != want || got != "" && v != 0 {
			t.Errorf("%s is %v, %q; want %q", s, v, got, want) // promise: never silent
		}
	}
}

func TestRound(t *testing.T) {
	for _, c := range []struct{ resolution, v, want float64 }{
		{0.001, 2.5309, 2.531}, {0.001, 2.6205000001, 2.621}, {0.5, 10.3, 10.5}, {0, 1.23456, 1.23456},
		{0.78125, 1, 0.78125}, {0.1, 0.3000001, 0.3}, {1, -2.5, -3}, {0.01, 1e300, 1e300},
	} {
		table, err := NewTable(Fields{ID: "a", Resolution: c.resolution, Values: []float64{0}})
		if err != nil {
			t.Fatal(err)
		}
		if got := table.Round(c.v); got != c.want {
			t.Errorf("%v at %v: got %v, want %v", c.v, c.resolution, got, c.want)
		}
	}
}

// TestClean keeps escape sequences and direction marks off a terminal.
func TestClean(t *testing.T) {
	for in, want := range map[string]string{
		"plain – text °": "plain – text °", "a\x1b[31mb": `a\x1b[31mb`, "a\nb": `a\nb`, "x\u202ey": `x\u202ey`, "x\u2028y": `x\u2028y`, "\x9b1m": `\ufffd1m`,
	} {
		if got := Clean(in); got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
	}
}

func TestFaultIsOneLine(t *testing.T) {
	f := &Fault{File: "a\nb.json", Line: 3, Column: 7, Path: "tables[0].unit", What: "unit is 3, expected text"}
	if got, want := f.Error(), `a\nb.json:3:7: tables[0].unit: unit is 3, expected text`; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestKeptKeys(t *testing.T) {
	for _, c := range []struct{ value, want, why string }{
		{`"plain ASCII ~"`, "", "any JSON may be kept"},
		{`"a \" and a \\"`, "", "escapes and all"},
		{`{"a":[1,"b c"]}`, "", "nested, too"},
		{`"a"b"`, "expected JSON", "a text ends at its first quotation mark"},
		{`"a\"`, "expected JSON", "an escaped quotation mark ends nothing"},
		{"\"a\tb\"", "expected JSON", "control characters are escaped in JSON"},
		{`"`, "expected JSON", "one quotation mark is no text"},
		{`{"a": 1}`, "expected compact JSON", "blanks would not come back"},
		{"\"\xff\"", "expected JSON", "JSON is UTF-8"},
	} {
		_, err := NewCalibration(Contents{Extra: Extra{"x-kept": c.value}})
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%s: got %v, want %q: %s", c.value, err, c.want, c.why)
		}
	}
}

func TestSigned(t *testing.T) {
	for _, c := range []struct {
		v        float64
		decimals int
		want     string
	}{
		{1.234, 2, "+1.23"}, {-1.236, 2, "−1.24"}, {0, 2, "+0.00"}, {-0.004, 2, "+0.00"}, {math.Copysign(0, -1), 1, "+0.0"},
		{-0.05, 2, "−0.05"}, {-0.4, 0, "+0"}, {math.NaN(), 2, "NaN"}, {math.Inf(-1), 2, "−Inf"}, {math.Inf(1), 2, "+Inf"},
	} {
		if got := Signed(c.v, c.decimals); got != c.want {
			t.Errorf("Signed(%v, %d) is %q, want %q", c.v, c.decimals, got, c.want)
		}
	}
}

// TestRailKPa: what a rail pressure is relative to and what its unit says must
// not contradict each other.
func TestRailKPa(t *testing.T) {
	for _, c := range []struct {
		p    RailPressure
		want float64
		err  string
	}{
		{RailPressure{3, "bar", Manifold}, 300, ""}, {RailPressure{3, "bar(g)", Atmosphere}, 300, ""}, {RailPressure{400, "kPa(a)", Absolute}, 400, ""},
		{RailPressure{3, "bar(g)", Absolute}, 0, "rail_pressure: bar(g) is not relative to absolute"},
		{RailPressure{3, "bar(a)", Manifold}, 0, "rail_pressure: bar(a) is not relative to manifold"},
		{RailPressure{3, "V", Manifold}, 0, "rail_pressure: V is no unit of pressure"},
		{RailPressure{3, "furlong", Manifold}, 0, `rail_pressure: unit "furlong" is not known, so nothing can be computed with it`},
		{RailPressure{0, "bar", Manifold}, 0, "rail_pressure is 0 bar relative to manifold, expected more than 0"},
	} {
		got, err := c.p.KPa()
		if said := fmt.Sprint(err); got != c.want || c.err == "" && err != nil || c.err != "" && said != c.err {
			t.Errorf("%s: %v, %v, want %v, %s", c.p.Text(), got, err, c.want, c.err)
		}
	}
}

// TestRange: empty cells have no say, and where all are empty nothing lies between.
func TestRange(t *testing.T) {
	if low, high := Range([]float64{math.NaN(), 2, -1}, nil, []float64{math.NaN(), 5}); low != -1 || high != 5 {
		t.Errorf("from %v to %v, want −1 to 5", low, high)
	}
	if low, high := Range([]float64{math.NaN()}); low <= high {
		t.Errorf("of empty cells from %v to %v", low, high)
	}
}
