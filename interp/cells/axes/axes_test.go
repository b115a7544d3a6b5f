package axes

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"calsplice/tables"
)

// FuzzParse: any text is an axis whose breakpoints rise, or one line.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"engine_speed: 600,800,1200", "engine speed [rpm]: 1, 2", "load:1", ":", "x: 1,1", "x: NaN", "x [: 1", "x [kPa: 1,2", "a:b:c", "x: 1e999"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := Parse(s)
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("more than a line: %v", err)
			}
			return
		}
		last := math.Inf(-1)
		for _, v := range a.Points() {
			if !(v > last) || math.IsInf(v, 0) {
				t.Fatalf("%q has breakpoints %v", s, a.Points())
			}
			last = v
		}
		r, err := NewRuler(a, 1)
		if err != nil {
			return
		}
		for i, v := range a.Points() {
			if got := r.nearest(v); int(got) != i {
				t.Errorf("%q: nearest to breakpoint %d is %d", s, i, got)
			}
		}
	})
}

// A reading goes to the breakpoint that a search from the first one finds.
func checkIndex(t *rapid.T) {
	most := rapid.SampledFrom([]float64{1e4, 1e4, 1e300, math.MaxFloat64}).Draw(t, "most")
	points := rapid.SliceOfNDistinct(rapid.Float64Range(-most, most), 1, 12, rapid.ID[float64]).Draw(t, "points")
	slices.Sort(points)
	axis, err := tables.NewAxis("engine speed", "", points)
	if err != nil {
		t.Fatal(err)
	}
	r, err := NewRuler(&Axis{"engine_speed", axis}, 1)
	if err != nil {
		t.Fatal(err)
	}
	at := append(points, r.half...)
	v := rapid.SampledFrom(at).Draw(t, "near")
	if rapid.Bool().Draw(t, "anywhere") {
		v = rapid.OneOf(rapid.Float64Range(-2e4, 2e4), rapid.SampledFrom([]float64{math.Inf(1), math.Inf(-1)})).Draw(t, "v")
	}
	for range rapid.IntRange(0, 2).Draw(t, "steps") {
		v = math.Nextafter(v, math.Inf(rapid.SampledFrom([]int{-1, 1}).Draw(t, "to")))
	}
	if r.scale > 0 { // beside that, by less than one of the ruler's parts
		v += rapid.SampledFrom([]float64{0, 0, -0.9, -0.4, -0.1, 0.1, 0.9}).Draw(t, "parts") / r.scale
	}
	if got, want := r.Index(v), r.nearest(v); got != want {
		t.Errorf("%v goes to breakpoint %d of %v, want %d", v, got, points, want)
	}
}

func TestIndex(t *testing.T) { rapid.Check(t, checkIndex) }
func FuzzIndex(f *testing.F) { f.Fuzz(rapid.MakeFuzz(checkIndex)) }
