package surface

import (
	"fmt"
	"math"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

func axisOf(unit string, points ...float64) *tables.Axis {
	return tabletest.Must(tables.NewAxis("load", unit, points))
}

// TestWalk: a breakpoint in both lists is the same one; as many for as many
// between the same neighbours have moved, and others were added or removed.
func TestWalk(t *testing.T) {
	for _, c := range []struct {
		why      string
		old, now []float64
		want     string // kept, moved, removed, added
	}{
		{"nothing", []float64{1, 2, 3}, []float64{1, 2, 3}, "3 [] [] []"},
		{"one more within", []float64{1, 3}, []float64{1, 2, 3}, "2 [] [] [2]"},
		{"one less at the end", []float64{1, 2, 3}, []float64{1, 2}, "2 [] [3] []"},
		{"one moved at the front", []float64{1, 2, 3}, []float64{0, 2, 3}, "2 [[1 0]] [] []"},
		{"two moved between the same two", []float64{1, 2, 3, 9}, []float64{1, 4, 5, 9}, "2 [[2 4] [3 5]] [] []"},
		{"two for one", []float64{1, 2, 9}, []float64{1, 4, 5, 9}, "2 [] [2] [4 5]"},
		{"all others", []float64{1, 2}, []float64{3, 4}, "0 [[1 3] [2 4]] [] []"},
	} {
		f := Walk(axisOf("%", c.old...), axisOf("%", c.now...))
		if got := fmt.Sprint(f.Kept, f.Moved, f.Removed, f.Added); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// TestSameDigits: numbers are others rounded where they are within half of what
// the others show, and the others are more than rounding.
func TestSameDigits(t *testing.T) {
	for _, c := range []struct {
		why      string
		v, shown []float64
		half     float64
		want     bool
	}{
		{"rounded to the decimals shown", []float64{1.234, 20.06}, []float64{1.2, 20.1}, 0, true},
		{"half a decimal off", []float64{1.25, 20.06}, []float64{1.2, 20.1}, 0, true},
		{"more", []float64{1.26, 20.06}, []float64{1.2, 20.1}, 0, false},
		{"to a resolution", []float64{1.4, 20}, []float64{1, 20}, 0.5, true},
		{"half of it off", []float64{1.5, 20}, []float64{1, 20}, 0.5, true},
		{"more than that", []float64{1.51, 20}, []float64{1, 20}, 0.5, false},
		{"no larger than the rounding", []float64{1.4, 5}, []float64{1, 5}, 0.5, false},
		{"a little larger", []float64{1.4, 5.01}, []float64{1, 5.01}, 0.5, true},
		{"empty in both", []float64{math.NaN(), 20}, []float64{math.NaN(), 20}, 0, true},
		{"empty in one", []float64{1, 20}, []float64{math.NaN(), 20}, 0, false},
		{"ten decimals are not rounded", []float64{1.23456789011, 2}, []float64{1.2345678901, 2}, 0, true},
		{"nor read as if they were", []float64{1.2345679, 2}, []float64{1.2345678901, 2}, 0, false},
	} {
		if got := SameDigits(c.v, c.shown, c.half); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestSameBreakpoints: in one unit or in another, but of one quantity.
func TestSameBreakpoints(t *testing.T) {
	other := tabletest.Must(tables.NewAxis("pressure", "bar", []float64{1, 2}))
	for _, c := range []struct {
		why  string
		a, b *tables.Axis
		want bool
	}{
		{"none", nil, nil, true},
		{"one of two", axisOf("kPa", 100, 200), nil, false},
		{"and the other", nil, axisOf("kPa", 100, 200), false},
		{"the same", axisOf("kPa", 100, 200), axisOf("kPa", 100, 200), true},
		{"converted", axisOf("kPa", 100, 2500), axisOf("bar", 1, 25), true},
		{"not quite", axisOf("kPa", 100, 2560), axisOf("bar", 1, 25), false},
		{"of another number", axisOf("kPa", 100, 200), axisOf("bar", 1, 2, 3), false},
		{"in one unit and others", axisOf("kPa", 100, 200), axisOf("kPa", 100, 210), false},
		{"of another quantity", axisOf("kPa", 100, 200), other, false},
		{"in a unit that does not convert", axisOf("kPa", 100, 200), axisOf("V", 1, 2), false},
	} {
		if got := SameBreakpoints(c.a, c.b); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestClashOnAConvertedAxis: where one side gave an axis in another unit, a clash
// is named in the unit of the merged axis, by which it is found again.
func TestClashOnAConvertedAxis(t *testing.T) {
	table := func(y *tables.Axis, columns int, values ...float64) *tables.Table {
		x := tabletest.Must(tables.NewAxis("speed", "r/min", []float64{1000, 2000, 3000}[:columns]))
		return tabletest.Must(tables.NewTable(tables.Fields{ID: "t", X: x, Y: y, Values: values}))
	}
	kPa := tabletest.Must(tables.NewAxis("pressure", "kPa", []float64{20, 40}))
	bar := tabletest.Must(tables.NewAxis("pressure", "bar", []float64{0.2, 0.4}))
	s := Sides{Base: table(kPa, 3, 1, 2, 3, 4, 5, 6), Ours: table(kPa, 2, 1, 2, 4, 5), Theirs: table(bar, 3, 1, 2, 3, 4, 5, 9),
		Settle: func(_, _, _ float64) (float64, bool) { return 0, false }}
	m, failed := s.Merge()
	if failed != "" || m.Y.Unit() != "bar" || len(m.Clashes) != 1 {
		t.Fatalf("%s %+v", failed, m)
	}
	if c := m.Clashes[0]; *c.X != 3000 || *c.Y != 0.4 || c.In != "base" || c.Row != 1 || c.Column != 2 {
		t.Errorf("the clash is %+v, want it at 3000 r/min, 0.4 bar, [1, 2] of the base", c)
	}
}

// TestBeyondNumbers: where a difference is too large for a number, the axis is named as
// what cannot be merged; a little less is carried.
func TestBeyondNumbers(t *testing.T) {
	table := func(values []float64, points ...float64) *tables.Table {
		return tabletest.Must(tables.NewTable(tables.Fields{ID: "t", X: axisOf("%", points...), Values: values}))
	}
	for by, want := range map[float64]string{1.7e308: "x", 1e300: ""} {
		s := Sides{Base: table([]float64{-by, 0}, 1, 2), Ours: table([]float64{-by, 0, 0}, 1, 2, 3), Theirs: table([]float64{by, 0}, 1, 2)}
		if _, failed := s.Merge(); failed != want {
			t.Errorf("%v: %q, want %q", by, failed, want)
		}
	}
}
