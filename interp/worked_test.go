package interp

import (
	"math"
	"slices"
	"testing"

	"calsplice/tables"
)

// TestWeights: a share of the way between neighbours, held at the ends, also
// where the way is longer than a double holds.
func TestWeights(t *testing.T) {
	for _, c := range []struct {
		points []float64
		v      float64
		i      int
		w      float64
	}{
		{[]float64{10, 20, 40}, 5, 0, 0},
		{[]float64{10, 20, 40}, 10, 0, 0},
		{[]float64{10, 20, 40}, 12.5, 0, 0.25},
		{[]float64{10, 20, 40}, 20, 1, 0},
		{[]float64{10, 20, 40}, 35, 1, 0.75},
		{[]float64{10, 20, 40}, 40, 1, 1},
		{[]float64{10, 20, 40}, 99, 1, 1},
		{[]float64{10}, 99, 0, 0},
		{[]float64{-1e308, 1e308}, 0, 0, 0.5},
		{[]float64{-1e308, 1.5e308}, 0.25e308, 0, 0.5},
		{[]float64{-1.5e308, 0.5e308, 1e308}, -1e308, 0, 0.25},
	} {
		if i, w := Weights(c.points, c.v); i != c.i || w != c.w {
			t.Errorf("%v in %v: %d and %v, want %d and %v", c.v, c.points, i, w, c.i, c.w)
		}
	}
}

// TestMix: between two ends, exactly an end where the other has no weight, were
// it empty, and where both are one.
func TestMix(t *testing.T) {
	for _, c := range [][4]float64{{3, math.NaN(), 0, 3}, {3, 5, 0.25, 3.5}, {0.1, 0.1, 0.3, 0.1}, {1e308, -1e308, 0.25, 0.5e308}, {math.Inf(1), math.Inf(1), 0.5, math.Inf(1)}} {
		if got := mix(c[0], c[1], c[2]); got != c[3] {
			t.Errorf("%v of the way from %v to %v is %v, want %v", c[2], c[0], c[1], got, c[3])
		}
	}
}

// TestSurfaceToTheBit: on its breakpoints a surface is the table's very values,
// between them it takes in all four corners, also where their differences are
// past what a double holds.
func TestSurfaceToTheBit(t *testing.T) {
	x, y := axis(t, "load", "%", 10, 20, 30), axis(t, "engine speed", "r/min", 800, 1600, 3200)
	wild := []float64{1e16, 1, -3, 0.1, 1e16, 7, 1, -1e16, 0.3}
	s := NewSurface(table(t, x, y, 0, wild...))
	for i, want := range wild {
		if got := s.At(x.At(i%3), y.At(i/3)); got != want {
			t.Errorf("at [%d, %d]: %v, want %v", i/3, i%3, got, want)
		}
	}
	x, y = axis(t, "load", "%", 0, 4), axis(t, "engine speed", "r/min", 0, 4)
	for _, c := range []struct{ x, y, want float64 }{{2, 2, 0}, {1, 1, 0.25e308}, {1, 3, -0.25e308}, {3, 1, -0.25e308}, {1, 4, -0.5e308}, {9, 1, -0.5e308}} {
		for name, v := range map[string][]float64{"huge": {1e308, -1e308, -1e308, 1e308}, "plain": {1, -1, -1, 1}} {
			want := c.want
			if name == "plain" {
				want /= 1e308
			}
			if got := NewSurface(table(t, x, y, 0, v...)).At(c.x, c.y); math.Abs(got-want) > 1e-12*math.Abs(v[0]) {
				t.Errorf("%s at %v, %v: %v, want %v", name, c.x, c.y, got, want)
			}
		}
	}
}

// TestWhereAnAxisStands: mean, root mean square and fit are the same wherever
// an axis begins: about 0, from 1 to 16, or far away.
func TestWhereAnAxisStands(t *testing.T) {
	type result struct{ mean, rms, middle float64 }
	at := func(from, to float64) result {
		p := func(share float64) float64 { return from*(1-share) + to*share }
		a := table(t, axis(t, "load", "%", p(0), p(0.25), p(0.5), p(1)), nil, 0, 1, 4, 2, 3)
		b := table(t, axis(t, "load", "%", p(0), p(0.5), p(1)), nil, 0, 1, 3, 3)
		d, err := Compare(a, b)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Resample(a, tables.Axes{b.X(), nil}, Fit, Hold)
		if err != nil {
			t.Fatal(err)
		}
		return result{d.Mean, d.RMS, r.Table.At(0, 1)}
	}
	// By hand: the difference is 0, −2, 1 and 0 at 0, 1/4, 1/2 and 1; so the mean
	// is −1/4 − 1/8 + 1/4 and the mean square 4/12 + (4 − 2 + 1)/12 + 1/6.
	want := at(0, 1)
	if math.Abs(want.mean+0.125) > 1e-12 || math.Abs(want.rms-math.Sqrt(9./12)) > 1e-12 {
		t.Errorf("mean %v, rms %v", want.mean, want.rms)
	}
	for _, span := range [][2]float64{{-10, 10}, {1, 16}, {-16, -1}, {1000, 1001}, {-1e308, 1e308}} {
		got := at(span[0], span[1])
		if math.Abs(got.mean-want.mean)+math.Abs(got.rms-want.rms)+math.Abs(got.middle-want.middle) > 1e-9 {
			t.Errorf("from %v to %v: %+v, want %+v", span[0], span[1], got, want)
		}
	}
}

// TestWhereNothingDiffers: the largest difference of none stands at the first
// node that has one.
func TestWhereNothingDiffers(t *testing.T) {
	x := axis(t, "load", "%", 10, 20, 30)
	for _, c := range []struct {
		values []float64
		at     float64
		empty  int
	}{{[]float64{1, 2, 3}, 10, 0}, {[]float64{math.NaN(), 2, 3}, 20, 1}, {[]float64{math.NaN(), math.NaN(), math.NaN()}, 10, 3}} {
		a := table(t, x, nil, 0, c.values...)
		d, err := Compare(a, a)
		if err != nil || d.Largest != 0 || d.At[0] != c.at || d.Empty != c.empty {
			t.Errorf("%v: %+v, %v", c.values, d, err)
		}
	}
}

// TestUnion: an axis that one lacks is the other's; in two units the breakpoints
// are the first's, and one that conversion missed by rounding is the same one.
func TestUnion(t *testing.T) {
	pressure := func(unit string, points ...float64) *tables.Axis {
		return axis(t, "manifold pressure", unit, points...)
	}
	a := pressure("kPa", 50, 100)
	for _, c := range []struct {
		why  string
		a, b *tables.Axis
		want []float64 // nil for none
		err  bool
	}{
		{"neither", nil, nil, nil, false},
		{"the second", nil, a, []float64{50, 100}, false},
		{"the first", a, nil, []float64{50, 100}, false},
		{"itself", a, a, []float64{50, 100}, false},
		{"between", a, pressure("kPa", 75, 100, 120), []float64{50, 75, 100, 120}, false},
		{"in another unit", a, pressure("bar", 0.5, 0.7, 1), []float64{50, 70, 100}, false},
		{"in another unit, the other way", pressure("bar", 0.5, 1), pressure("kPa", 50, 70), []float64{0.5, 0.7, 1}, false},
		{"missed by a thousandth", a, pressure("bar", 0.50001, 1), []float64{50, 50.001, 100}, false},
		{"another quantity", a, axis(t, "load", "%", 50, 100), nil, true},
		{"a unit of another kind", a, pressure("deg", 1, 2), nil, true},
	} {
		u, err := union(c.a, c.b)
		if (err != nil) != c.err {
			t.Errorf("%s: %v", c.why, err)
			continue
		}
		var got []float64
		if u != nil {
			got = u.Points()
		}
		if !slices.EqualFunc(got, c.want, func(p, q float64) bool { return math.Abs(p-q) < 1e-12*q }) {
			t.Errorf("%s: %v, want %v", c.why, got, c.want)
		}
	}
}

// TestAdviceAtTheEnds: the ends of an axis are breakpoints like others: kept
// where they carry something, and enough by themselves where nothing follows.
func TestAdviceAtTheEnds(t *testing.T) {
	x := axis(t, "load", "%", 1, 2, 3, 4)
	for _, c := range []struct {
		why    string
		values []float64
		given  []float64
		want   []float64
	}{
		{"the first alone is missed", []float64{9, 0, 0, 0}, []float64{2, 4}, []float64{1}},
		{"the first and one more", []float64{9, 0, 5, 0}, []float64{2, 4}, []float64{1, 3}},
		{"the last alone is missed", []float64{0, 0, 0, 9}, []float64{1, 3}, []float64{4}},
		{"both", []float64{9, 0, 0, 9}, []float64{2, 3}, []float64{1, 4}},
		{"a level table wants one", []float64{3, 3, 3, 3}, []float64{1}, nil},
		{"wherever it is", []float64{3, 3, 3, 3}, []float64{3}, nil},
		{"a level end beside the first", []float64{3, 3, 3, 8}, []float64{1}, []float64{3, 4}},
		{"a line wants its ends", []float64{1, 2, 3, 4}, []float64{2}, []float64{1, 4}},
		{"all", []float64{1, 5, 2, 9}, []float64{1}, []float64{2, 3, 4}},
	} {
		a, err := onto(t, table(t, x, nil, 0, c.values...), axis(t, "load", "%", c.given...), nil).Advise(1e-9)
		if err != nil || !a.Met || !slices.Equal(a.X, c.want) {
			t.Errorf("%s: %+v, %v, want %v", c.why, a, err, c.want)
		}
	}
}

// TestOneBreakpoint: along an axis of one breakpoint there is nothing to
// integrate: the mean is that of the rest.
func TestOneBreakpoint(t *testing.T) {
	one, two := axis(t, "load", "%", 50), axis(t, "engine speed", "r/min", 800, 1600)
	for why, c := range map[string]struct {
		a, b      *tables.Table
		mean, rms float64
	}{
		"a curve": {table(t, one, nil, 0, 2), table(t, one, nil, 0, 5), 3, 3},
		"a map":   {table(t, one, two, 0, 2, 2), table(t, one, two, 0, 5, 2), 1.5, math.Sqrt(3)},
		"a row":   {table(t, two, one, 0, 2, 2), table(t, two, one, 0, 5, 2), 1.5, math.Sqrt(3)},
	} {
		if d, err := Compare(c.a, c.b); err != nil || d.Mean != c.mean || math.Abs(d.RMS-c.rms) > 1e-12 {
			t.Errorf("%s: %+v, %v", why, d, err)
		}
	}
}

// TestSnap: what a conversion's rounding leaves on either side of a breakpoint
// is the breakpoint.
func TestSnap(t *testing.T) {
	points := []float64{50, 100, 200}
	for v, want := range map[float64]float64{math.Nextafter(100, 0): 100, math.Nextafter(100, 200): 100, math.Nextafter(50, 0): 50, math.Nextafter(200, 300): 200,
		100 * (1 + 1e-12): 100 * (1 + 1e-12), 100 * (1 - 1e-12): 100 * (1 - 1e-12), 75: 75} {
		if got := Snap(points, v); got != want {
			t.Errorf("%v becomes %v, want %v", v, got, want)
		}
	}
}

// TestMonotonic: a line rises or falls from end to end; level stretches do not
// count, one step the other way does.
func TestMonotonic(t *testing.T) {
	for _, c := range []struct {
		line []float64
		want bool
	}{{[]float64{1, 2, 3}, true}, {[]float64{3, 2, 1}, true}, {[]float64{1, 1, 2}, true}, {[]float64{2, 1, 1}, true}, {[]float64{1, 1}, true}, {[]float64{1}, true},
		{[]float64{1, 3, 2}, false}, {[]float64{3, 1, 2}, false}, {[]float64{1, 2, 1, 3}, false}, {[]float64{3, 2, 4, 1}, false}} {
		if monotonic(c.line) != c.want {
			t.Errorf("%v: %v", c.line, !c.want)
		}
	}
}

// TestValuesInAnotherUnit: a difference is in the first table's unit, and the
// conversion is said.
func TestValuesInAnotherUnit(t *testing.T) {
	in := func(unit string, values ...float64) *tables.Table {
		f := table(t, axis(t, "load", "%", 10, 20), nil, 0, values...).Fields()
		f.Unit = unit
		out, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	for _, c := range []struct {
		b    *tables.Table
		said int
	}{{in("us", 1500, 2750), 1}, {in("ms", 1.5, 2.75), 0}} {
		d, err := Compare(in("ms", 1, 2), c.b)
		if err != nil || !slices.Equal(d.Values, []float64{0.5, 0.75}) || len(d.Notes) != c.said {
			t.Errorf("%+v, %v", d, err)
		}
	}
	if _, err := Compare(in("ms", 1, 2), in("V", 1, 2)); err == nil {
		t.Error("volts compare with milliseconds")
	}
}
