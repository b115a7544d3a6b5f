package interp

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// TestGuards: what resampling tells of a table, each from an input that makes it
// and beside one that does not.
func TestGuards(t *testing.T) {
	x := func(points ...float64) *tables.Axis { return axis(t, "load", "%", points...) }
	peak := func(f tables.Fields) *tables.Table {
		f.ID, f.Unit = "t", "deg"
		if f.X == nil {
			f.X = x(10, 20, 30)
		}
		if f.Values == nil {
			f.Values = []float64{1, 4, 2}
		}
		tab, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		return tab
	}
	limits := &tables.Limits{Low: 0, High: 5}
	for _, c := range []struct {
		why     string
		t       *tables.Table
		to      *tables.Axis
		method  Method
		outside Outside
		values  []float64
		said    string // lines; "" for none
	}{
		{"breakpoints added", peak(tables.Fields{}), x(10, 15, 20, 30), Sample, Hold, []float64{1, 2.5, 4, 2}, ""},
		{"one value rounded", peak(tables.Fields{Resolution: 1}), x(10, 15, 20, 30), Sample, Hold, []float64{1, 3, 4, 2},
			"table t: 1 value rounded to its resolution of 1 deg, by 0.5 at most"},
		{"two values rounded", peak(tables.Fields{Resolution: 1}), x(10, 15, 20, 24, 30), Sample, Hold, []float64{1, 3, 4, 3, 2},
			"table t: 2 values rounded to its resolution of 1 deg, by 0.5 at most"},
		{"values that are whole steps are not rounded", peak(tables.Fields{Resolution: 0.5}), x(10, 15, 20, 30), Sample, Hold, []float64{1, 2.5, 4, 2}, ""},
		{"past the high end, held", peak(tables.Fields{}), x(10, 20, 30, 40), Sample, Hold, []float64{1, 4, 2, 2},
			"table t: x 40 % past the old axis (10 to 30 %): the edge value is held"},
		{"past both ends, extended", peak(tables.Fields{}), x(0, 10, 20, 30, 40, 50), Sample, Extend, []float64{-2, 1, 4, 2, 0, -2},
			"table t: x 0 % past the old axis (10 to 30 %): the last two breakpoints' line is extended\n" +
				"table t: x 40 and 50 % past the old axis (10 to 30 %): the last two breakpoints' line is extended"},
		{"extended past a limit", peak(tables.Fields{Limits: limits}), x(0, 10, 20, 30), Sample, Extend, []float64{0, 1, 4, 2},
			"table t: 1 value clamped to its limits, 0 to 5\ntable t: x 0 % past the old axis (10 to 30 %): the last two breakpoints' line is extended"},
		{"extended past a limit twice", peak(tables.Fields{Limits: limits}), x(0, 10, 20, 30, 50), Sample, Extend, []float64{0, 1, 4, 2, 0},
			"table t: 2 values clamped to its limits, 0 to 5\ntable t: x 0 % past the old axis (10 to 30 %): the last two breakpoints' line is extended\n" +
				"table t: x 50 % past the old axis (10 to 30 %): the last two breakpoints' line is extended"},
		{"a limit that is met and not passed", peak(tables.Fields{Limits: &tables.Limits{Low: -2, High: 5}}), x(0, 10, 20, 30), Sample, Extend, []float64{-2, 1, 4, 2},
			"table t: x 0 % past the old axis (10 to 30 %): the last two breakpoints' line is extended"},
		{"one breakpoint cannot be extended", peak(tables.Fields{X: x(10), Values: []float64{7}}), x(10, 20), Sample, Extend, []float64{7, 7},
			"table t: x 20 % past the old axis (10 to 10 %): its one value is held, since one breakpoint has no line to extend"},
		{"seven breakpoints past the end", peak(tables.Fields{}), x(10, 20, 30, 31, 32, 33, 34, 35, 36, 37), Sample, Hold, []float64{1, 4, 2, 2, 2, 2, 2, 2, 2, 2},
			"table t: x 31 to 37 (7 breakpoints) % past the old axis (10 to 30 %): the edge value is held"},
		{"the peak is lost", peak(tables.Fields{}), x(10, 15, 30), Sample, Hold, []float64{1, 2.5, 2},
			"table t: its highest value is lost: it was 4 at [0, 1], and is 2.5 now"},
		{"a valley is lost, and the monotony of what is left is none", peak(tables.Fields{Values: []float64{4, 1, 2}}), x(10, 15, 30), Sample, Hold, []float64{4, 2.5, 2},
			"table t: its lowest value is lost: it was 1 at [0, 1], and is 2 now"},
		{"a peak lost by less than half a step", peak(tables.Fields{Resolution: 8, Values: []float64{0, 8, 8}}), x(10, 19, 30), Sample, Hold, []float64{0, 8, 8}, "table t: 1 value rounded to its resolution of 8 deg, by 0.8 at most"},
		{"rounding turns a row that rose", peak(tables.Fields{Resolution: 1, Values: []float64{0.4, 0.6, 0.8}}), x(10, 15, 20, 30), Sample, Hold, []float64{0.4, 1, 0.6, 0.8},
			"table t: 1 value rounded to its resolution of 1 deg, by 0.5 at most\ntable t: 1 rows or columns rose or fell throughout, and no longer do"},
		{"a fit past the ends, extended", peak(tables.Fields{X: x(10, 20, 30, 40), Values: []float64{1, 2, 3, 4}}), x(0, 10, 40, 50), Fit, Extend, []float64{0, 1, 4, 5},
			"table t: x 0 % past the old axis (10 to 40 %): the last two breakpoints' line is extended\n" +
				"table t: x 50 % past the old axis (10 to 40 %): the last two breakpoints' line is extended"},
		{"a fit past the ends, held", peak(tables.Fields{X: x(10, 20, 30, 40), Values: []float64{2, 2, 2, 2}}), x(0, 10, 40), Fit, Hold, []float64{2, 2, 2},
			"table t: x 0 % past the old axis (10 to 40 %): the edge value is held"},
	} {
		r, err := Resample(c.t, tables.Axes{c.to, nil}, c.method, c.outside)
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		if got := r.Table.Values(); !slices.EqualFunc(got, c.values, func(a, b float64) bool { return a-b < 1e-9 && b-a < 1e-9 }) {
			t.Errorf("%s: values %v, want %v", c.why, got, c.values)
		}
		if got := strings.Join(r.Notes, "\n"); got != c.said {
			t.Errorf("%s: tells\n%s\nwant\n%s", c.why, got, c.said) // promise: never silent
		}
	}
}

// TestResampleRefuses: each refusal, beside what is not refused.
func TestResampleRefuses(t *testing.T) {
	x, y := axis(t, "load", "%", 10, 20), axis(t, "engine speed", "r/min", 800, 1600)
	past, moved := axis(t, "load", "%", 10, 30), axis(t, "load", "%", 10, 15)
	curve, grid := table(t, x, nil, 0, 1, 2), table(t, x, y, 0, 1, 2, 3, 4)
	empty, err := tables.NewTable(tables.Fields{ID: "t", Unit: "ms", X: x, Values: []float64{1, math.NaN()}})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		t       *tables.Table
		x, y    *tables.Axis
		method  Method
		outside Outside
		want    string
	}{
		{curve, x, nil, Sample, Refuse, ""},
		{curve, moved, nil, Sample, Refuse, ""},
		{curve, past, nil, Sample, Refuse, "x 30 is past its axis (10 to 20 %)"},
		{curve, nil, nil, Sample, Hold, "table t is a curve and stays one: it needs an x axis and no y axis"},
		{curve, x, y, Sample, Hold, "table t is a curve and stays one: it needs an x axis and no y axis"},
		{grid, x, nil, Sample, Hold, "table t is a map and stays one: it needs an x and a y axis"},
		{table(t, nil, nil, 0, 1), x, nil, Sample, Hold, "table t is a scalar and stays one: it needs no axis"},
		{curve, y, nil, Sample, Hold, `an axis of "engine speed" does not stand for one of "load"`},
		{empty, moved, nil, Sample, Hold, ""},
		{empty, x, nil, Fit, Hold, ""},
		{empty, moved, nil, Fit, Hold, "table t is empty at [0, 1]: a fit needs a value in every cell, sampling does not"},
	} {
		_, err := Resample(c.t, tables.Axes{c.x, c.y}, c.method, c.outside)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: want %q", err, c.want)
		}
	}
}

// TestLike takes another table's breakpoints by quantity, in the table's own
// units, and says what it converted.
func TestLike(t *testing.T) {
	loads, speeds := axis(t, "load", "%", 10, 20), axis(t, "engine speed", "r/min", 800, 1600)
	own := table(t, axis(t, "load", "%", 1, 2), axis(t, "engine speed", "r/min", 3, 4), 0, 1, 2, 3, 4)
	krpm := table(t, axis(t, "engine speed", "krpm", 0.8, 1.6), loads, 0, 1, 2, 3, 4)
	for _, c := range []struct {
		why      string
		t, other *tables.Table
		x, y     []float64
		said     string
		err      string
	}{
		{"as they are", own, table(t, loads, speeds, 0, 1, 2, 3, 4), []float64{10, 20}, []float64{800, 1600}, "", ""},
		{"the other way round, in another unit", own, krpm, []float64{10, 20}, []float64{800, 1600}, "table t: y breakpoints of t converted from krpm to r/min", ""},
		{"a curve of a map", table(t, axis(t, "load", "%", 1, 2), nil, 0, 1, 2), krpm, []float64{10, 20}, nil, "", ""},
		{"a quantity that is not there", own, table(t, loads, nil, 0, 1, 2), nil, nil, "", `table t has no axis of "engine speed", which is the y axis of t`},
		{"another quantity alone", table(t, loads, nil, 0, 1, 2), table(t, speeds, nil, 0, 1, 2), nil, nil, "", `table t has no axis of "load", which is the x axis of t`},
		{"a unit that is none", table(t, loads, nil, 0, 1, 2), table(t, axis(t, "load", "furlong", 1, 2), nil, 0, 1, 2), nil, nil, "", `"furlong"`},
		{"a scalar", table(t, nil, nil, 0, 1), table(t, loads, nil, 0, 1, 2), nil, nil, "", "table t is a scalar and t is not: a scalar has no axis to rescale"},
		{"two scalars", table(t, nil, nil, 0, 1), table(t, nil, nil, 0, 2), nil, nil, "", ""},
	} {
		got, said, err := Like(c.t, c.other)
		if (err == nil) != (c.err == "") || err != nil && !strings.Contains(err.Error(), c.err) {
			t.Errorf("%s: %v, want %q", c.why, err, c.err)
			continue
		}
		points := func(a *tables.Axis) []float64 {
			if a == nil {
				return nil
			}
			return a.Points()
		}
		if err == nil && (!slices.Equal(points(got[0]), c.x) || !slices.Equal(points(got[1]), c.y) || strings.Join(said, "\n") != c.said) {
			t.Errorf("%s: %v %v %q, want %v %v %q", c.why, points(got[0]), points(got[1]), said, c.x, c.y, c.said)
		}
	}
}

// TestMapsTurnAndReach: what is said of rows and x is said of columns and y.
func TestMapsTurnAndReach(t *testing.T) {
	x := axis(t, "load", "%", 10, 20)
	grid := table(t, x, axis(t, "engine speed", "r/min", 800, 1600, 2400), 1, 0.4, 5, 0.6, 5, 0.8, 5)
	r, err := Resample(grid, tables.Axes{x, axis(t, "engine speed", "r/min", 800, 1200, 1600, 2400, 3200)}, Sample, Hold)
	if err != nil {
		t.Fatal(err)
	}
	said := strings.Join(r.Notes, "\n")
	if !strings.Contains(said, "table t: y 3200 r/min past the old axis (800 to 2400 r/min): the edge value is held") || !strings.Contains(said, "table t: 1 rows or columns rose or fell throughout, and no longer do") {
		t.Errorf("said\n%s", said)
	}
}

// TestSampledCells: a cell that was there is as it was, others hold the surface as it is, at
// the table's resolution.
func TestSampledCells(t *testing.T) {
	axis := func(quantity string, points ...float64) *tables.Axis {
		return tabletest.Must(tables.NewAxis(quantity, "", points))
	}
	f := tables.Fields{ID: "t", X: axis("load", 10, 30), Y: axis("speed", 1, 2), Values: []float64{1, 3, 5, 9}, Resolution: 0.5}
	for _, c := range []struct {
		why  string
		x, y []float64
		want string
	}{
		{"a column", []float64{10, 20, 30}, []float64{1, 2}, "[1 2 3 5 7 9]"},
		{"rounded between", []float64{10, 16, 30}, []float64{1, 2}, "[1 1.5 3 5 6 9]"},
		{"a row", []float64{10, 30}, []float64{1, 1.5, 2}, "[1 3 3 6 5 9]"},
		{"past both ends", []float64{10, 30, 40}, []float64{1, 2, 3}, "[1 3 3 5 9 9 5 9 9]"},
		{"a column less", []float64{30}, []float64{1, 2}, "[3 9]"},
		{"as it is", []float64{10, 30}, []float64{1, 2}, "[1 3 5 9]"},
	} {
		r, err := Resample(tabletest.Must(tables.NewTable(f)), tables.Axes{axis("load", c.x...), axis("speed", c.y...)}, Sample, Hold)
		if err != nil || fmt.Sprint(r.Table.Values()) != c.want {
			t.Errorf("%s: %v, want %s (%v)", c.why, r, c.want, err)
		}
	}
}
