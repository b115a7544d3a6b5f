package tables

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

func axisOf(t *testing.T, quantity, unit string, points ...float64) *Axis {
	t.Helper()
	a, err := NewAxis(quantity, unit, points)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func tableOf(t *testing.T, f Fields) *Table {
	t.Helper()
	table, err := NewTable(f)
	if err != nil {
		t.Fatal(err)
	}
	return table
}

// told is an error's text, "" where there is none.
func told(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

// TestKeptGuards: what no file could carry, or would not read back as it was.
func TestKeptGuards(t *testing.T) {
	deep := func(n int) string { return strings.Repeat(`{"a":[`, n/2) + strings.Repeat("]}", n/2) }
	long := `"` + strings.Repeat("a", MaxText) + `"`
	for _, c := range []struct{ key, value, want string }{
		{"x-a", "1", ""},
		{"a", "1", `unknown key "a"`},
		{"x-\x00", "1", `key is "x-\x00", expected clean UTF-8 text`},
		{"x-\xff", "1", `key is "x-\xff", expected clean UTF-8 text`},
		{"x-a", "", `key "x-a" holds "", expected JSON`},
		{"x-a", "[1, 2]", `key "x-a" holds "[1, 2]", expected compact JSON`},
		{"x-a", "[1,\t2]", `key "x-a" holds "[1,\t2]", expected compact JSON`},
		{"x-a", `["\"]}",{}]`, ""},
		{"x-a", `" "`, ""}, {"x-a", `"~"`, ""}, {"x-a", `"é"`, ""}, {"x-a", `["a b"]`, ""},
		{"x-a", `"\"`, `key "x-a" holds "\"\\\"", expected JSON`},
		{"x-a", "\"\x1f\"", `key "x-a" holds "\"\x1f\"", expected JSON`},
		{"x-a", `'a"`, `key "x-a" holds "'a\"", expected JSON`}, {"x-a", `"a'`, `key "x-a" holds "\"a'", expected JSON`},
		{"x-a", deep(MaxExtraDepth), ""},
		{"x-a", "[" + deep(MaxExtraDepth) + "]", `key "x-a" nests deeper than 32 levels`},
		{"x-a", "[" + strings.Repeat("[],", 40) + "[]]", ""},
		{"x-a", long, `key "x-a": text is longer than 16 MiB`},
		{"x-a", long[:MaxText-1] + `"`, ""},
	} {
		err := Extra{c.key: c.value}.Validate()
		if got := told(err); got != c.want {
			t.Errorf("%q: %.80q gives %q, want %q", c.key, c.value, got, c.want)
		}
	}
	for _, bad := range []Extra{{"x-b": "1", "a": "2"}, {"x-b": "1", "x-a": ""}} {
		if _, err := NewTable(Fields{ID: "a", Values: []float64{1}, Extra: bad}); err == nil {
			t.Errorf("a table keeps %v", bad)
		}
	}
	var order []string
	for key, value := range (Extra{"x-b": "1", "x-a": "2", "x-c": "3"}).Sorted() {
		if order = append(order, key+value); key == "x-b" {
			break
		}
	}
	if !slices.Equal(order, []string{"x-a2", "x-b1"}) {
		t.Errorf("in their order the keys are %v", order)
	}
	for _, c := range []struct {
		state Extra
		want  string
	}{
		{Extra{"b": "1", "c": "2"}, ""},
		{Extra{"": "1"}, `state: key "" has no name`},
		{Extra{"b": "x"}, `state: key "b" holds "x", expected JSON`},
	} {
		if _, err := NewCalibration(Contents{Kind: Cells, State: c.state}); told(err) != c.want {
			t.Errorf("%v: %v, want %s", c.state, err, c.want)
		}
	}
	for text, want := range map[string]string{
		strings.Repeat("a", MaxText): "", strings.Repeat("a", MaxText+1): `name is "` + strings.Repeat("a", 60) + `…": text is longer than 16 MiB`,
		"\xff": `name is "\xff", expected clean UTF-8 text`,
	} {
		if _, err := NewCalibration(Contents{Name: text}); told(err) != want {
			t.Errorf("a name of %d bytes: %v, want %s", len(text), err, want)
		}
	}
}

// TestIDGuards: an id can stand in a file's name, a path and a command line.
func TestIDGuards(t *testing.T) {
	for id, want := range map[string]string{
		"a": "", "z": "", "0": "", "9": "", "._-": "", "": "id is empty",
		"`": "`", "{": "{", "/": "/", ":": ":", "A": "A", " ": " ", "é": "\xc3",
	} {
		if want != "" && id != "" {
			want = fmt.Sprintf("id %q has %q, expected lower-case letters, digits, '.', '_' and '-' only", id, want)
		}
		if got := told(ValidID(id)); got != want {
			t.Errorf("%q: %q, want %q", id, got, want)
		}
	}
}

// TestTableGuards: the numbers that a table cannot have.
func TestTableGuards(t *testing.T) {
	x := axisOf(t, "load", "%", 1, 2)
	inf := math.Inf(1)
	for _, c := range []struct {
		f    Fields
		want string
	}{
		{Fields{Values: []float64{1}, Limits: &Limits{2, 2}}, ""},
		{Fields{Values: []float64{1}, Limits: &Limits{2, 1.5}}, "limits are 2 and 1.5, expected a lower and a higher number"},
		{Fields{Values: []float64{1}, Limits: &Limits{-inf, 1}}, "limits are -Inf and 1, expected a lower and a higher number"},
		{Fields{Values: []float64{1}, Limits: &Limits{1, inf}}, "limits are 1 and +Inf, expected a lower and a higher number"},
		{Fields{Values: []float64{1}, Limits: &Limits{math.NaN(), 1}}, "limits are NaN and 1, expected a lower and a higher number"},
		{Fields{Y: x, Values: []float64{1, 2}}, "table has a y axis and no x axis"},
		{Fields{X: x, Values: []float64{1}}, "table has 1 values, its axes need 2"},
		{Fields{X: x, Y: x, Values: []float64{1, 2, 3, -inf}}, "value at [1, 1] is infinite, expected a finite number"},
		{Fields{Values: []float64{1}, Resolution: -0.5}, "resolution is -0.5, expected a number above 0"},
		{Fields{Values: []float64{1}, Resolution: inf}, "resolution is +Inf, expected a number above 0"},
	} {
		c.f.ID = "a"
		if _, err := NewTable(c.f); told(err) != c.want {
			t.Errorf("%+v: %v, want %s", c.f, err, c.want)
		}
	}
	minus := math.Copysign(0, -1)
	if r := tableOf(t, Fields{ID: "a", Resolution: minus, Values: []float64{1}}).Resolution(); math.Signbit(r) {
		t.Error("a resolution of −0 is another than none")
	}
	limits := &Limits{1, 2}
	a := tableOf(t, Fields{ID: "a", Limits: limits, Values: []float64{1}})
	if limits.Low = 0; a.Limits().Low != 1 {
		t.Error("limits change with those that were given")
	}
	for _, points := range [][]float64{{1, 1}, {2, 1}, {1, math.NaN()}, {math.NaN()}, {-inf, 1}, {1, inf}, nil} {
		if _, err := NewAxis("load", "%", points); err == nil {
			t.Errorf("an axis of %v", points)
		}
	}
	own := []float64{1, 2}
	made := axisOf(t, "load", "%", own...)
	if own[0] = 5; made.At(0) != 1 {
		t.Error("breakpoints change with those that were given")
	}
}

// TestTableParts looks at a map, a curve and a scalar from each side.
func TestTableParts(t *testing.T) {
	x, y := axisOf(t, "load", "%", 10, 20, 30), axisOf(t, "engine speed", "r/min", 600, 800)
	m := tableOf(t, Fields{ID: "m", X: x, Y: y, Values: []float64{1, 2, 3, 4, 5, 6}, Resolution: 0.5, Limits: &Limits{2, 5}})
	curve := tableOf(t, Fields{ID: "c", X: x, Values: []float64{1, 2, 3}})
	scalar := tableOf(t, Fields{ID: "s", Values: []float64{7}})
	for _, c := range []struct {
		table         *Table
		rows, columns int
		last          []float64
		place, where  string
	}{
		{m, 2, 3, []float64{4, 5, 6}, "[1, 2]", "load 30 %, engine speed 800 r/min"},
		{curve, 1, 3, []float64{1, 2, 3}, "[0, 2]", "load 30 %"},
		{scalar, 1, 1, []float64{7}, "[0, 0]", ""},
	} {
		n := len(c.table.Values()) - 1
		if c.table.Rows() != c.rows || c.table.Columns() != c.columns || !slices.Equal(c.table.Row(c.rows-1), c.last) ||
			c.table.At(c.rows-1, c.columns-1) != c.last[c.columns-1] || c.table.Place(n) != c.place || c.table.Where(n) != c.where {
			t.Errorf("%s has %d rows of %d, the last %v, and its last cell at %s, %q", c.table.ID(), c.table.Rows(), c.table.Columns(),
				c.table.Row(c.rows-1), c.table.Place(n), c.table.Where(n))
		}
	}
	if m.Where(1) != "load 20 %, engine speed 600 r/min" || m.At(1, 0) != 4 || m.Tolerance() != 0.25 || scalar.Tolerance() != 0 {
		t.Errorf("%q, %v, %v", m.Where(1), m.At(1, 0), m.Tolerance())
	}
	for v, want := range map[float64]float64{1: 2, 2: 2, 3: 3, 5: 5, 6: 5} {
		if got := m.Clamp(v); got != want {
			t.Errorf("%v within 2 to 5 is %v", v, got)
		}
	}
	if scalar.Clamp(-99) != -99 {
		t.Error("a table without limits has some")
	}
	n, err := m.WithValues([]float64{6, 5, 4, 3, 2, 1})
	if err != nil || n.At(0, 0) != 6 || n.X() != x || m.At(0, 0) != 1 || m.Equal(n) || !m.Equal(m) || m.Equal(nil) || (*Table)(nil).Equal(m) {
		t.Errorf("with other values it is %v (%v)", n, err)
	}
	if same := tableOf(t, m.Fields()); !m.Equal(same) {
		t.Error("a table is not another one that is the same")
	}
}

// TestRoundGuards: where a step cannot be counted, a value stays as it is.
func TestRoundGuards(t *testing.T) {
	third := 1.0 / 3
	for _, c := range []struct{ resolution, v, want float64 }{
		{0.001, 1.2345, 1.235}, {0.001, -1.2345, -1.235}, {0.1, 0.7, 0.7}, {0.1, 2.06, 2.1}, {0.3, 1, 0.8999999999999999},
		{third, 1, 1}, {0.7, 3, 2.8}, {2, 3, 4}, {2, 1, 2}, {5, 12, 10}, {0.25, 0.3, 0.25},
		{1, 1 << 53, 1 << 53}, {1, 1<<53 - 1, 1<<53 - 1}, {2, 1<<54 - 6, 1<<54 - 6}, {0.001, 1e16, 1e16}, {1e-300, 1e10, 1e10}, {1e-320, 1e-3, 1e-3}, {2, 1<<54 + 6, 1<<54 + 6},
	} {
		table := tableOf(t, Fields{ID: "a", Resolution: c.resolution, Values: []float64{0}})
		if got := table.Round(c.v); got != c.want {
			t.Errorf("%v at %v: got %v, want %v", c.v, c.resolution, got, c.want)
		}
	}
	if v := tableOf(t, Fields{ID: "a", Resolution: 1, Values: []float64{0}}).Round(math.NaN()); !math.IsNaN(v) {
		t.Errorf("an empty cell is rounded to %v", v)
	}
}

// TestAxisParts looks at an axis from each side.
func TestAxisParts(t *testing.T) {
	a := axisOf(t, "load", "%", 10, 20, 30)
	for v, want := range map[float64]int{10: 0, 20: 1, 30: 2, 5: -1, 15: -1, 31: -1} {
		if got := a.Find(v); got != want {
			t.Errorf("%v stands at %d, want %d", v, got, want)
		}
	}
	twelve := make([]float64, 12)
	for i := range twelve {
		twelve[i] = float64(i)
	}
	for _, c := range []struct {
		a           *Axis
		label, text string
	}{
		{a, "load [%]", "load [%] 10, 20, 30"}, {axisOf(t, "gear", "", 1), "gear", "gear 1"}, {nil, "", "no axis"},
		{axisOf(t, "load", "%", twelve...), "load [%]", "load [%] 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11"},
	} {
		if c.a.Label() != c.label || c.a.Text() != c.text {
			t.Errorf("%q, %q, want %q, %q", c.a.Label(), c.a.Text(), c.label, c.text)
		}
	}
	same, other := axisOf(t, "speed", "km/h", 10, 20, 30), axisOf(t, "load", "%", 10, 20, 31)
	none := (*Axis)(nil)
	if !a.SamePoints(same) || a.SamePoints(other) || a.SamePoints(nil) || none.SamePoints(a) || !none.SamePoints(nil) {
		t.Error("the same breakpoints are others")
	}
	if a.Equal(nil) || none.Equal(a) || !none.Equal(nil) || !a.Equal(axisOf(t, "load", "%", 10, 20, 30)) || a.Equal(other) {
		t.Error("the same axis is another")
	}
	nan, minus := math.NaN(), math.Copysign(0, -1)
	if SameBit(0, minus) || !SameBit(nan, -nan) || SameBit(nan, 1) || SameBit(1, nan) || !SameBit(1, 1) || SameBits([]float64{1}, []float64{1, 2}) {
		t.Error("bits are compared as values")
	}
}

// TestNumbersInWords: each way to write a number, at its edges.
func TestNumbersInWords(t *testing.T) {
	for got, want := range map[string]string{
		Digits(1234.5678, 3): "1230", Digits(-0.012345, 2): "−0.012", Digits(1e14+1, 2): "100000000000001", Digits(1e15, 2): "1000000000000000",
		Digits(1e15+2, 3): "1000000000000000", Digits(math.Inf(1), 2): "+Inf", Digits(12345, 2): "12345", Digits(0.1, 5): "0.1",
		Shown(-2.5e-7): "−2.5e−7", Fixed(-0.001, 2): "0.00", Fixed(2.345, 1): "2.3", Fixed(-1.25, 1): "−1.2", Fixed(-10, 0): "−10",
		FormatValue(1e-10): "1e-10", FormatValue(-1e-6): "-0.000001", FormatValue(9.99e-7): "9.99e-7", FormatValue(-1e21): "-1e+21",
		FormatValue(1.5e300): "1.5e+300", FormatValue(1e-100): "1e-100",
		Plural(1, "cell"): "1 cell", Plural(0, "cell"): "0 cells", Plural(2, "axis", "axes"): "2 axes", Plural(1, "axis", "axes"): "1 axis",
		Quote("a\x1b"): `"a\x1b"`, Quote(strings.Repeat("é", 60)): `"` + strings.Repeat("é", 60) + `"`, Quote(strings.Repeat("é", 61)): `"` + strings.Repeat("é", 60) + `…"`,
		Clean("a\u0085b\x7f"): `a\u0085b\x7f`, Clean("\ufffd"): `\ufffd`,
		fmt.Sprint(Decimals(0.125), Decimals(-3), Decimals(1e-7), Decimals(1e21), Decimals(12.5), Decimals(0)): "3 0 99 99 1 0",
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	for s, want := range map[string]float64{"+1.5": 1.5, "-.5": -0.5, "5.": 5, "1E+2": 100, "1e-2": 0.01} {
		if v, err := ParseValue(s); err != nil || v != want {
			t.Errorf("%s is read as %v, %v", s, v, err)
		}
	}
	for _, s := range []string{"+", "1+2", "1e+", "e", "+e1", "1,5", "1-", "5e1.5", "1e1e1", "a1", "1:", "1/"} {
		if v, err := ParseValue(s); err == nil {
			t.Errorf("%s is read as %v", s, v)
		}
	}
}

// TestSteersAtTheEdges: of each range its ends, and what stands beside them.
func TestSteersAtTheEdges(t *testing.T) {
	for _, edges := range [][2]rune{{0, 0x1f}, {0x7f, 0x9f}, {0x061c, 0x061c}, {0x200e, 0x200f}, {0x2028, 0x202e}, {0x2066, 0x2069}} {
		if !Steers(edges[0]) || !Steers(edges[1]) || Steers(edges[0]-1) && edges[0] > 0 || Steers(edges[1]+1) {
			t.Errorf("%U to %U are not told from their neighbours", edges[0], edges[1])
		}
	}
}

// TestNearestAtTheEdges: how many letters may be wrong, and which of two is nearer.
func TestNearestAtTheEdges(t *testing.T) {
	long := strings.Repeat("a", 200)
	for _, c := range []struct {
		name string
		all  []string
		want string
	}{
		{"ab", []string{"ac"}, "ac"}, {"ab", []string{"cd"}, ""}, {"abc", []string{"abd"}, "abd"}, {"abc", []string{"ade"}, ""}, {"abc", []string{"xyz"}, ""}, {"abcdef", []string{"abcxyz"}, "abcxyz"}, {"abcdef", []string{"abwxyz"}, ""},
		{"abcdef", []string{"abcdxy"}, "abcdxy"}, {"abcd", []string{"abce", "abcd"}, "abcd"}, {"abcd", []string{"abcf", "abce"}, "abce"},
		{"abcd", []string{"xbcd", "abcx"}, "abcx"}, {long, []string{long + "b"}, long + "b"}, {long + "a", []string{long}, ""},
		{"abd", []string{"abcdefghijklmnop"}, ""}, {"abc", []string{"abcdefghijklmnop"}, "abcdefghijklmnop"}, {"ab", []string{"abcdefghijklmnop"}, ""},
		{"abc", []string{"abcx", "Abcyz"}, "abcx"}, {"abc", []string{"abcxyz", "abcuvw"}, ""}, {"xx", []string{"x"}, ""}, {"xx", []string{"xxy", "x"}, "xxy"}, {"ÄBC", []string{"äbc"}, "äbc"},
	} {
		if got := Nearest(c.name, c.all); got != c.want {
			t.Errorf("%.20s is near %.20q of %.60q, want %.20q", c.name, got, c.all, c.want)
		}
	}
}

// TestFormatsInWords: a newer version is told from another format.
func TestFormatsInWords(t *testing.T) {
	for found, want := range map[string]string{
		"calsplice/2":           `found "calsplice/2": this program reads calsplice/1, so the file needs a newer one`,
		"calsplice.cells/10":    `found "calsplice.cells/10": this program reads calsplice.cells/1, so the file needs a newer one`,
		"calsplice/0":           `found "calsplice/0", expected "calsplice/1" or "calsplice.cells/1"`,
		"calsplice/1":           `found "calsplice/1", expected "calsplice/1" or "calsplice.cells/1"`,
		"calsplice/02":          `found "calsplice/02", expected "calsplice/1" or "calsplice.cells/1"`,
		"calsplice/two":         `found "calsplice/two", expected "calsplice/1" or "calsplice.cells/1"`,
		"other/2":               `found "other/2", expected "calsplice/1" or "calsplice.cells/1"`,
		"":                      `found "", expected "calsplice/1" or "calsplice.cells/1"`,
		strings.Repeat("x", 70): `found "` + strings.Repeat("x", 60) + `…", expected "calsplice/1" or "calsplice.cells/1"`,
	} {
		if got := UnknownFormat(found, string(Calibrated), string(Cells)); got != want {
			t.Errorf("%s: %s, want %s", found, got, want)
		}
	}
}

// TestDocumentParts looks tables up, replaces and adds them.
func TestDocumentParts(t *testing.T) {
	one := func(id string, role Role, v float64) *Table {
		return tableOf(t, Fields{ID: id, Role: role, Values: []float64{v}})
	}
	a, b := one("a", Other, 1), one("b", SparkAdvance, 2)
	c, err := NewCalibration(Contents{Tables: []*Table{a, b}})
	if err != nil {
		t.Fatal(err)
	}
	if c.Table("b") != b || c.Table("c") != nil || !slices.Equal(c.IDs(), []string{"a", "b"}) || !slices.Equal(c.ByRole(SparkAdvance), []*Table{b}) || c.ByRole(AirMeter) != nil {
		t.Errorf("tables are not found: %v", c.IDs())
	}
	changed, err := c.WithTable(one("a", Other, 9))
	if err != nil || changed.Table("a").At(0, 0) != 9 || !slices.Equal(changed.IDs(), []string{"a", "b"}) || c.Table("a").At(0, 0) != 1 {
		t.Errorf("a table is not replaced: %v", err)
	}
	added, err := c.WithTable(one("0", Other, 9))
	if err != nil || !slices.Equal(added.IDs(), []string{"a", "b", "0"}) || len(c.IDs()) != 2 {
		t.Errorf("a table is not added: %v", err)
	}
	_, err = c.WithTable(one("c", Other, math.NaN()))
	if told(err) != "table c has no value at [0, 0]" {
		t.Errorf("an empty cell in a calibration: %v", err)
	}
	if _, err := NewCalibration(Contents{Tables: []*Table{a, b, a}}); told(err) != `tables[2] has the id "a" of tables[0]` {
		t.Errorf("an id that stands twice: %v", err)
	}
	s := Source{"monday.csv", "ab", 10, 8, []Dropped{{"cold", 2}}}
	for name, other := range map[string]Source{
		"name": {"tuesday.csv", "ab", 10, 8, s.Dropped}, "hash": {"monday.csv", "cd", 10, 8, s.Dropped}, "rows": {"monday.csv", "ab", 11, 8, s.Dropped},
		"kept rows": {"monday.csv", "ab", 10, 7, s.Dropped}, "reasons": {"monday.csv", "ab", 10, 8, []Dropped{{"cold", 3}}},
	} {
		if s.Equal(other) || !s.Equal(s) {
			t.Errorf("logs with other %s are the same", name)
		}
		x, err := NewCalibration(Contents{Kind: Cells, Source: []Source{s}})
		y, err2 := NewCalibration(Contents{Kind: Cells, Source: []Source{other}})
		if err != nil || err2 != nil || x.Equal(y) {
			t.Errorf("cell averages of logs with other %s are the same (%v, %v)", name, err, err2)
		}
	}
}

// TestBoundsOfReaders are moved by what is above nothing, and named in refusals.
func TestBoundsOfReaders(t *testing.T) {
	defer SetMax(DefaultMaxBytes, int(DefaultMaxCells))
	for _, c := range []struct {
		bytes     int64
		cells     int
		wantBytes int64
		wantCells int
	}{{1 << 20, 7, 1 << 20, 7}, {0, 0, 1 << 20, 7}, {-1, -1, 1 << 20, 7}, {2 << 20, 0, 2 << 20, 7}, {0, 1, 2 << 20, 1}, {1, 1, 1, 1}} {
		if SetMax(c.bytes, c.cells); MaxBytes() != c.wantBytes || MaxCells() != c.wantCells {
			t.Errorf("set to %d and %d the bounds are %d and %d", c.bytes, c.cells, MaxBytes(), MaxCells())
		}
	}
	SetMax(3<<20, 5)
	if TooManyBytes() != "the input is larger than 3 MiB (the environment variable CALSPLICE_MAX_MIB sets the bound)" ||
		TooManyCells() != "the document has more than 5 cells (the environment variable CALSPLICE_MAX_CELLS sets the bound)" {
		t.Error(TooManyBytes(), TooManyCells())
	}
}

// TestFaultsInWords: a line for each, with as much of its place as is known.
func TestFaultsInWords(t *testing.T) {
	for want, f := range map[string]*Fault{
		"a.json:3: it":    {File: "a.json", Line: 3, What: "it"},
		"a.json:3:1: it":  {File: "a.json", Line: 3, Column: 1, What: "it"},
		"a.json: x: it":   {File: "a.json", Column: 7, Path: "x", What: "it"},
		"a.json: it":      {File: "a.json", What: "it"},
		"it":              {What: "it"},
		": x: it":         {Path: "x", What: "it"},
		"a.json:1:2:x\\n": nil,
	} {
		if f != nil && f.Error() != want {
			t.Errorf("%q, want %q", f.Error(), want)
		}
	}
	if (Faults{}).Err() != nil || Faults(nil).Err() != nil {
		t.Error("no faults are an error")
	}
	two := Faults{{File: "a", What: "it"}, {File: "b", What: "that"}}
	if told(two.Err()) != "a: it\nb: that" {
		t.Errorf("%q", two.Err())
	}
	plain := errors.New("it")
	for want, err := range map[string]error{"": nil, "c:4:5: x: it": plain, "a: it": two[0], "a: it\nb: that": two} {
		if got := told(In("c", 4, 5, "x", err)); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// TestTyped: what a person types for a field is the field's text, and half of it
// is refused.
func TestTyped(t *testing.T) {
	for _, c := range []struct{ name, typed, want string }{
		{"engine.cylinders", "4", "4"}, {"engine.cylinders", " 4 ", "4"}, {"engine.cylinders", "", "nothing"},
		{"engine.cylinders", "4.5", "! 4.5, expected a whole number"}, {"engine.cylinders", "x", `! "x" is not a number`},
		{"engine.cylinders", "2147483647", "2147483647"}, {"engine.cylinders", "2147483648", "! 2147483648, expected a whole number"},
		{"engine.cylinders", "-1", "! found -1, expected a whole number above 0"}, {"engine.strokes", "3", "! found 3, expected 2 or 4"},
		{"engine.displacement", "2.5 L", "2.5 L"}, {"engine.displacement", "2.5L", "2.5 L"}, {"engine.displacement", "2.5\t L", "2.5 L"},
		{"engine.displacement", "2.5", `! 2.5 without a unit, expected one such as "2.5 L"`}, {"engine.displacement", "L", `! "" is not a number`},
		{"engine.displacement", "0 L", "! found 0, expected a number above 0"},
		{"engine.rail_pressure", "380 kPa atmosphere", "380 kPa relative to atmosphere"},
		{"engine.rail_pressure", "380 kPa relative to manifold", "380 kPa relative to manifold"},
		{"engine.rail_pressure", "380 inch water absolute", "380 inch water relative to absolute"},
		{"engine.rail_pressure", "380 kPa", `! "380 kPa", expected a pressure, its unit and atmosphere, manifold or absolute, such as "380 kPa atmosphere"`},
		{"engine.rail_pressure", "kPa absolute", `! "kPa" is not a number`},
		{"engine.rail_pressure", "380 kPa sea", `! found relative to "sea", expected "atmosphere", "manifold" or "absolute"`},
		{"engine.rail_pressure", "1001 kPa absolute", "! found 1001 kPa, above 1000 kPa: low-pressure port injection only"},
		{"name", " van ", `"van"`},
	} {
		f, ok := DocumentFields.Find(c.name)
		if !ok || !f.Typed() {
			t.Fatalf("%s is not typed", c.name)
		}
		before := &Engine{Cylinders: 6}
		doc := Contents{Name: "old", Engine: before}
		err := f.Parse(&doc, c.typed)
		got := f.Text(&doc)
		if inner, ok := strings.CutPrefix(c.name, "engine."); ok {
			g, _ := EngineFields.Find(inner)
			got = g.Text(doc.Engine)
		}
		if err != nil {
			got = "! " + err.Error()
		}
		if got != c.want || before.Cylinders != 6 {
			t.Errorf("%s typed as %q is %s, want %s", c.name, c.typed, got, c.want)
		}
	}
	for _, c := range []struct{ typed, want string }{
		{"0,12", "0 to 12"}, {" -1 , 1.5 ", "-1 to 1.5"}, {"12,0", "! limits are 12 and 0, expected a lower and a higher number"},
		{"1", `! "1", expected LOW,HIGH such as 0,12.5`}, {"1,2,3", `! "1,2,3", expected LOW,HIGH such as 0,12.5`}, {"a,2", `! "a" is not a number`}, {"1,b", `! "b" is not a number`},
	} {
		f, _ := TableFields.Find("limits")
		var table Fields
		got := told(f.Parse(&table, c.typed))
		if got = "! " + got; got == "! " {
			got = f.Text(&table)
		}
		if got != c.want {
			t.Errorf("limits typed as %q are %s, want %s", c.typed, got, c.want)
		}
	}
	want := []string{"name", "notes", "engine.cylinders", "engine.strokes", "engine.injectors", "engine.pulses_per_cycle", "engine.displacement",
		"engine.rail_pressure", "engine.stoich_afr", "engine.fuel_density"}
	if got := DocumentFields.Typed(); !slices.Equal(got, want) {
		t.Errorf("of a document are typed %q", got)
	}
	if got := TableFields.Typed(); !slices.Equal(got, []string{"title", "role", "unit", "resolution", "limits", "notes"}) {
		t.Errorf("of a table are typed %q", got)
	}
}

// TestPartsOfFields: what each field is made of, in which order, and that a field
// that is absent is made and not another's.
func TestPartsOfFields(t *testing.T) {
	var f Fields
	var e Engine
	var c Contents
	name := func(parts []Part) (s string) {
		for _, p := range parts {
			switch {
			case p.Number != nil:
				*p.Number = 1.5
				s += p.Name + " number;"
			case p.Whole != nil:
				*p.Whole = 2
				s += p.Name + " whole;"
			case p.Words != nil:
				*p.Text = p.Words[0]
				s += p.Name + " word;"
			default:
				*p.Text = "t"
				s += p.Name + " text;"
			}
		}
		return s
	}
	got := map[string]string{}
	for _, g := range TableFields.Of(&f) {
		got[g.Name] = name(g.Parts(&f))
	}
	for _, g := range EngineFields.Of(&e) {
		got[g.Name] = name(g.Parts(&e))
	}
	for _, g := range DocumentFields.Of(&c) {
		got["document "+g.Name] = name(g.Parts(&c))
	}
	for field, want := range map[string]string{
		"title": " text;", "role": " word;", "unit": " text;", "resolution": " number;", "limits": " number; number;", "x": "", "values": "",
		"cylinders": " whole;", "displacement": "value number;unit text;", "rail_pressure": "value number;unit text;relative_to word;",
		"stoich_afr": " number;", "document format": " word;", "document engine": "", "document source": "", "document state": "",
	} {
		if got[field] != want {
			t.Errorf("%s is made of %q, want %q", field, got[field], want)
		}
	}
	if f.Title != "t" || f.Role != InjectorFlow || *f.Limits != (Limits{1.5, 1.5}) || e.Cylinders != 2 || *e.Displacement != (Measure{1.5, "t"}) ||
		*e.RailPressure != (RailPressure{1.5, "t", Atmosphere}) || c.Kind != Calibrated {
		t.Errorf("the parts are not the fields' own: %+v %+v %+v", f, e, c)
	}
	limits := f.Limits
	if g, _ := TableFields.Find("limits"); g.Parts(&f)[0].Number != &limits.Low {
		t.Error("limits that are given are made again")
	}
}

// TestWrongParts: which part of a field is wrong, in both ways to say it.
func TestWrongParts(t *testing.T) {
	e := &Engine{RailPressure: &RailPressure{380, "kPa", "sea"}, Displacement: &Measure{1, "\x00"}, FuelDensity: &Measure{0, "kg/L"}}
	for name, want := range map[string]string{
		"rail_pressure": `2 rail_pressure is relative to "sea", expected "atmosphere", "manifold" or "absolute"`,
		"displacement":  `1 unit is "\x00", expected clean UTF-8 text`,
		"fuel_density":  "0 fuel_density is 0, expected a number above 0",
		"strokes":       "0 strokes is 0, expected 2 or 4",
		"x-a":           `0 key "x-a" holds "", expected JSON`,
	} {
		f, _ := EngineFields.Find(name)
		part, what := f.Wrong(e, true)
		if got := fmt.Sprint(part, " ", what); got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
		if _, bare := f.Wrong(e, false); strings.Replace(what, name+" is", "found", 1) != bare {
			t.Errorf("%s: %s beside its own name, %s", name, what, bare)
		}
	}
}

// TestNotesStandOnce: in the order in which each was first, whatever comes
// between.
func TestNotesStandOnce(t *testing.T) {
	var n Notes
	n.Add("b", "a", "b")
	n.Addf("%s", "a")
	n.Addf("%d more", 2)
	if want := (Notes{"b", "a", "2 more"}); !slices.Equal(n, want) {
		t.Errorf("%q, want %q", n, want)
	}
}
