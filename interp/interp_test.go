package interp

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/interp"
	"pgregory.net/rapid"

	"calsplice/tables"
)

func axis(t testing.TB, quantity, unit string, points ...float64) *tables.Axis {
	t.Helper()
	a, err := tables.NewAxis(quantity, unit, points)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func table(t testing.TB, x, y *tables.Axis, resolution float64, values ...float64) *tables.Table {
	t.Helper()
	tab, err := tables.NewTable(tables.Fields{ID: "t", Unit: "ms", Resolution: resolution, X: x, Y: y, Values: values})
	if err != nil {
		t.Fatal(err)
	}
	return tab
}

// drawAxis makes axes that are awkward: one point, neighbours an ulp apart,
// spans of 1e-300 and 1e6.
func drawAxis(t *rapid.T, label string) *tables.Axis {
	scale := rapid.SampledFrom([]float64{1, 1, 1, 1e-300, 1e6}).Draw(t, label+" scale")
	points := rapid.SliceOfNDistinct(rapid.Float64Range(-10, 10), 1, 12, rapid.ID).Draw(t, label)
	for i := range points {
		points[i] *= scale
	}
	if rapid.Bool().Draw(t, label+" close") {
		points = append(points, math.Nextafter(points[0], math.Inf(1)))
	}
	slices.Sort(points)
	a, err := tables.NewAxis(label, "", slices.Compact(points))
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func drawTable(t *rapid.T, x, y *tables.Axis) *tables.Table {
	values := rapid.SliceOfN(rapid.OneOf(rapid.Float64Range(-100, 100), rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1, 1e-300, 7})),
		x.Len()*y.Len(), x.Len()*y.Len()).Draw(t, "values")
	tab, err := tables.NewTable(tables.Fields{ID: "t", Unit: "ms", X: x, Y: y, Values: values,
		Resolution: rapid.SampledFrom([]float64{0, 0, 0.01, 0.75}).Draw(t, "resolution")})
	if err != nil {
		t.Fatal(err)
	}
	return tab
}

// drawShape makes the axes of a scalar, a curve or a map.
func drawShape(t *rapid.T) (x, y *tables.Axis) {
	switch rapid.IntRange(0, 4).Draw(t, "shape") {
	case 0:
		return nil, nil
	case 1:
		return drawAxis(t, "x"), nil
	}
	return drawAxis(t, "x"), drawAxis(t, "y")
}

// more is the axis with breakpoints added, within and past its ends.
func more(t *rapid.T, a *tables.Axis) *tables.Axis {
	if a == nil {
		return nil
	}
	low, high := a.At(0), a.At(a.Len()-1)
	span := max(high-low, math.Abs(low), 1e-300)
	extra := rapid.SliceOfN(rapid.Float64Range(-0.5, 1.5), 0, 6).Draw(t, "added")
	for i := range extra {
		extra[i] = low + extra[i]*span
	}
	slices.Sort(extra)
	b, err := tables.NewAxis(a.Quantity(), a.Unit(), merged(a.Points(), slices.Compact(extra)))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Law 5: on its own axes a table is itself, to the bit, by either method.
func lawIdentity(t *rapid.T) {
	x, y := drawShape(t)
	tab := drawTable(t, x, y)
	for _, m := range []Method{Sample, Fit} {
		r, err := Resample(tab, tables.Axes{x, y}, m, rapid.SampledFrom([]Outside{Hold, Extend, Refuse}).Draw(t, "outside"))
		if err != nil {
			t.Fatal(err)
		}
		if !r.Table.Equal(tab) || r.Loss.Largest != 0 || len(r.Notes) > 0 {
			t.Fatalf("%v: own axes give %v, loss %v, said %v", m, r.Table.Values(), r.Loss.Largest, r.Notes)
		}
	}
}

// Law 5: with breakpoints added the surface stays where it is, up to half a
// resolution step; and taking them away again gives the table back, to the bit.
func lawRefinement(t *rapid.T) {
	x, y := drawShape(t)
	tab := drawTable(t, x, y)
	for _, m := range []Method{Sample, Fit} {
		fine, err := Resample(tab, tables.Axes{more(t, x), more(t, y)}, m, Hold)
		if err != nil {
			t.Fatal(err)
		}
		noise := 1e-12 * size(tab)
		if !(fine.Loss.Largest <= tab.Tolerance()+noise) {
			t.Fatalf("%v: loss %v on a superset, resolution %v", m, fine.Loss.Largest, tab.Resolution())
		}
		if d, err := Compare(tab, fine.Table); err != nil || !(d.Largest <= tab.Tolerance()+noise) {
			t.Fatalf("%v: compared with its refinement: %v %v", m, d.Largest, err)
		}
		back, err := Resample(fine.Table, tables.Axes{x, y}, Sample, Refuse)
		if err != nil {
			t.Fatal(err)
		}
		if !back.Table.Equal(tab) {
			t.Fatalf("%v: there and back gives %v, was %v", m, back.Table.Values(), tab.Values())
		}
		if tab.Resolution() > 0 { // a fit to rounded values is another table's
			continue
		}
		if back, err = Resample(fine.Table, tables.Axes{x, y}, Fit, Refuse); err != nil || !back.Table.Equal(tab) {
			t.Fatalf("%v: there and fitted back gives %v, was %v (%v)", m, back.Table.Values(), tab.Values(), err)
		}
	}
}

func size(t *tables.Table) float64 {
	var s float64
	for _, v := range t.Values() {
		s = max(s, math.Abs(v))
	}
	return s
}

// The three ways of reading a table give the same bits.
func lawReadersAgree(t *rapid.T) {
	x, y := drawShape(t)
	tab := drawTable(t, x, y)
	at := func(a *tables.Axis, label string) float64 {
		if a == nil {
			return 0
		}
		f := rapid.Float64Range(-0.2, 1.2).Draw(t, label)
		return a.At(0) + f*(a.At(a.Len()-1)-a.At(0))
	}
	px, py := at(x, "px"), at(y, "py")
	v, _, err := At(tab, px, py, Hold)
	if err != nil {
		t.Fatal(err)
	}
	if s := NewSurface(tab).At(px, py); s != v {
		t.Fatalf("surface %v, at %v", s, v)
	}
	bx, by := brackets(x, []float64{px}, Hold), brackets(y, []float64{py}, Hold)
	if got := grid([]float64{math.NaN(), 7}, tab.Values(), tab.Columns(), bx, by); got[0] != v {
		t.Fatalf("grid %v, at %v", got[0], v)
	}
}

// The largest difference stands on a node: no point anywhere is farther.
func lawLargestIsLargest(t *rapid.T) {
	x, y := drawAxis(t, "x"), drawAxis(t, "y")
	a := drawTable(t, x, y)
	bx, by := more(t, x), drawAxis(t, "y")
	b := drawTable(t, bx, by)
	d, err := Compare(a, b)
	if err != nil {
		t.Fatal(err)
	}
	sa, sb := NewSurface(a), NewSurface(b)
	if got := math.Abs(sb.At(d.At[0], d.At[1]) - sa.At(d.At[0], d.At[1])); got != d.Largest {
		t.Fatalf("largest %v, but %v where it is said to be", d.Largest, got)
	}
	for range 20 {
		px := rapid.Float64Range(-12, 12).Draw(t, "px") * math.Abs(x.At(0)+1e-9)
		py := rapid.Float64Range(-12, 12).Draw(t, "py") * math.Abs(y.At(0)+1e-9)
		if got := math.Abs(sb.At(px, py) - sa.At(px, py)); got > d.Largest*(1+1e-12)+1e-12*(size(a)+size(b)) {
			t.Fatalf("%v at (%v, %v) is more than the largest, %v", got, px, py, d.Largest)
		}
	}
	if math.Abs(d.Mean) > d.RMS*(1+1e-9)+1e-150 || d.RMS > d.Largest*(1+1e-9) {
		t.Fatalf("mean %v, rms %v, largest %v", d.Mean, d.RMS, d.Largest)
	}
}

// A fit is the nearest: moving any one of its values makes it worse. (The
// distance is a convex quadratic, so that no single move helps is the proof
// that none at all does.)
func lawFitIsNearest(t *rapid.T) {
	points := func(label string) *tables.Axis {
		p := rapid.SliceOfNDistinct(rapid.IntRange(0, 40), 1, 9, rapid.ID).Draw(t, label)
		slices.Sort(p)
		f := make([]float64, len(p))
		for i, v := range p {
			f[i] = float64(v)
		}
		a, _ := tables.NewAxis(label[:1], "", f)
		return a
	}
	x, y := points("x old"), points("y old")
	n := x.Len() * y.Len()
	tab, _ := tables.NewTable(tables.Fields{ID: "t", X: x, Y: y,
		Values: rapid.SliceOfN(rapid.Float64Range(-10, 10), n, n).Draw(t, "values")})
	r, err := Resample(tab, tables.Axes{points("x new"), points("y new")}, Fit, Hold)
	if err != nil {
		t.Fatal(err)
	}
	sampled, err := Resample(tab, tables.Axes{r.Table.X(), r.Table.Y()}, Sample, Hold)
	if err != nil {
		t.Fatal(err)
	}
	const noise = 1e-7
	if r.Loss.RMS > sampled.Loss.RMS+noise {
		t.Fatalf("fit's rms %v, sampling's %v", r.Loss.RMS, sampled.Loss.RMS)
	}
	for i := range r.Table.Values() {
		for _, step := range []float64{-0.01, 0.01} {
			v := slices.Clone(r.Table.Values())
			v[i] += step
			moved, _ := r.Table.WithValues(v)
			if d, _ := Compare(tab, moved); d.RMS < r.Loss.RMS-noise {
				t.Fatalf("rms %v, but %v with value %d moved by %v", r.Loss.RMS, d.RMS, i, step)
			}
		}
	}
}

var laws = []struct {
	name string
	law  func(*rapid.T)
}{
	{"identity", lawIdentity}, {"refinement", lawRefinement}, {"readers agree", lawReadersAgree},
	{"largest is largest", lawLargestIsLargest}, {"fit is nearest", lawFitIsNearest},
}

func TestLaws(t *testing.T) {
	for _, l := range laws {
		t.Run(l.name, rapid.MakeCheck(l.law))
	}
}

func FuzzIdentity(f *testing.F)     { f.Fuzz(rapid.MakeFuzz(lawIdentity)) }
func FuzzRefinement(f *testing.F)   { f.Fuzz(rapid.MakeFuzz(lawRefinement)) }
func FuzzReadersAgree(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawReadersAgree)) }
func FuzzLargest(f *testing.F)      { f.Fuzz(rapid.MakeFuzz(lawLargestIsLargest)) }
func FuzzFitIsNearest(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawFitIsNearest)) }

// Gonum's piecewise-linear interpolation is the judge of curves.
func TestGonum(t *testing.T) {
	xs := []float64{8, 9.5, 10, 12, 13, 16}
	ys := []float64{2.1, 1.7, 1.5, 1.12, 1.0, 0.7}
	var judge interp.PiecewiseLinear
	if err := judge.Fit(xs, ys); err != nil {
		t.Fatal(err)
	}
	s := NewSurface(table(t, axis(t, "battery voltage", "V", xs...), nil, 0, ys...))
	for x := 7.0; x <= 17; x += 0.01 {
		if got, want := s.At(x, 0), judge.Predict(x); math.Abs(got-want) > 1e-14 {
			t.Errorf("at %v: %v, gonum %v", x, got, want)
		}
	}
}

func TestOutside(t *testing.T) {
	tab := table(t, axis(t, "x", "", 0, 10), axis(t, "y", "", 0, 2), 0, 1, 3, 5, 11)
	for _, c := range []struct {
		why        string
		x, y       float64
		out        Outside
		want       float64
		wantInside bool
	}{
		{"on a node", 10, 2, Refuse, 11, true},
		{"in the middle, the mean of the four", 5, 1, Refuse, 5, true},
		{"held past a corner", 99, -99, Hold, 3, false},
		{"extended along x: 1 + 0.2·20", 20, 0, Extend, 5, false},
		{"extended along both: bilinear, not planar", 20, 4, Extend, 29, false},
	} {
		got, inside, err := At(tab, c.x, c.y, c.out)
		if err != nil || got != c.want || inside != c.wantInside {
			t.Errorf("%s: %v %v %v, want %v %v", c.why, got, inside, err, c.want, c.wantInside)
		}
	}
	if _, _, err := At(tab, 10.5, 0, Refuse); err == nil || err.Error() != "table t: x 10.5 is past its axis (0 to 10 )" {
		t.Errorf("refused with %v", err)
	}
}

// The exact integrals against the closed form of a simple pair: the difference
// is x·y on the unit square: mean 1/4, mean square 1/9, largest 1.
func TestCompareIntegrals(t *testing.T) {
	x, y := axis(t, "x", "", 0, 1), axis(t, "y", "", 0, 1)
	flat := table(t, x, y, 0, 2, 2, 2, 2)
	finer := axis(t, "x", "", 0, 0.25, 0.5, 1)
	bent := table(t, finer, y, 0, 2, 2, 2, 2, 2, 2.25, 2.5, 3)
	d, err := Compare(flat, bent)
	if err != nil {
		t.Fatal(err)
	}
	if d.Largest != 1 || d.At != (tables.Coordinates{1, 1}) || math.Abs(d.Mean-0.25) > 1e-15 || math.Abs(d.RMS-1.0/3) > 1e-15 {
		t.Errorf("largest %v at %v, mean %v, rms %v", d.Largest, d.At, d.Mean, d.RMS)
	}
	if back, err := Compare(bent, flat); err != nil || d.Status[0] != Measured || d.Status[1] != Interpolated || back.Status[1] != Interpolated {
		t.Errorf("node (0.25, 0), which one of the two has, is %v and %v: %v", d.Status[1], back.Status[1], err)
	}
}

// Axes in other units are the same axes; axes of other quantities are not.
func TestUnits(t *testing.T) {
	a := table(t, axis(t, "differential pressure", "kPa", 250, 300, 350), nil, 0, 1, 2, 4)
	b := table(t, axis(t, "differential pressure", "bar", 2.5, 3, 3.5), nil, 0, 1, 2, 4)
	d, err := Compare(a, b)
	if err != nil || d.Largest != 0 || d.Axes[0].Len() != 3 || len(d.Notes) != 1 {
		t.Errorf("in bar: %+v %v", d, err)
	}
	c := table(t, axis(t, "manifold vacuum", "kPa", 250, 300, 350), nil, 0, 1, 2, 4)
	if _, err := Compare(a, c); err == nil {
		t.Error("a vacuum axis stood for a differential one")
	}
}

// Empty cells of cell averages stay empty and spoil no neighbour.
func TestEmptyCells(t *testing.T) {
	x := axis(t, "x", "", 0, 1, 2)
	tab := table(t, x, nil, 0, 1, math.NaN(), 3)
	r, err := Resample(tab, tables.Axes{axis(t, "x", "", 0, 0.5, 2), nil}, Sample, Hold)
	if err != nil {
		t.Fatal(err)
	}
	if v := r.Table.Values(); v[0] != 1 || !math.IsNaN(v[1]) || v[2] != 3 {
		t.Errorf("values %v", v)
	}
	if r.Loss.Empty != 2 {
		t.Errorf("%d empty nodes, want those at 0.5 and 1", r.Loss.Empty)
	}
	if _, err := Resample(tab, tables.Axes{axis(t, "x", "", 0, 2), nil}, Fit, Hold); err == nil {
		t.Error("a fit through an empty cell")
	}
}
