package interp

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"calsplice/tables"
)

// A peak between the new breakpoints comes back with the one breakpoint that
// carries it; flat stretches ask for none.
func TestAdvisePeak(t *testing.T) {
	x := axis(t, "engine speed", "r/min", 1000, 2000, 3000, 4000, 5000, 6000)
	tab := table(t, x, nil, 0.1, 10, 10, 18, 10, 10, 10)
	a, err := onto(t, tab, axis(t, "engine speed", "r/min", 1000, 2000, 4000, 6000), nil).Advise(0.1)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(a.X, []float64{3000}) || a.Loss != 0 || !a.Met {
		t.Errorf("advice %+v, want 3000 alone", a)
	}
}

// On a map where both axes lose, one breakpoint of each is found.
func TestAdviseMap(t *testing.T) {
	x, y := axis(t, "engine speed", "krpm", 1, 2, 3, 4), axis(t, "load", "%", 10, 20, 30, 40)
	v := make([]float64, 16)
	v[2*4+1] = 5
	tab := table(t, x, y, 0, v...)
	a, err := onto(t, tab, axis(t, "engine speed", "r/min", 1000, 3000, 4000), axis(t, "load", "%", 10, 20, 40)).Advise(1e-9)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(a.X, []float64{2000}) || !slices.Equal(a.Y, []float64{30}) || !a.Met {
		t.Errorf("advice %+v, want 2000 r/min and 30 %%", a)
	}
}

// Empty cells of cell averages have no say, and the peak beside them is found.
func TestAdviseEmptyCells(t *testing.T) {
	tab := table(t, axis(t, "x", "", 1, 2, 3, 4, 5), nil, 0, 0, math.NaN(), 0, 8, 0)
	a, err := onto(t, tab, axis(t, "x", "", 1, 3, 5), nil).Advise(1)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(a.X, []float64{4}) || !a.Met {
		t.Errorf("advice %+v, want 4 alone", a)
	}
}

// No smaller set of a curve's breakpoints meets the bound: every one is tried.
func lawAdviceIsFewest(t *rapid.T) {
	x := drawAxis(t, "x")
	tab := drawTable(t, x, nil)
	f := tab.Fields()
	f.Resolution = 0
	tab, _ = tables.NewTable(f)
	var some []float64
	for _, p := range x.Points() {
		if rapid.IntRange(0, 2).Draw(t, "keep") == 0 {
			some = append(some, p)
		}
	}
	if some == nil {
		some = []float64{x.At(x.Len() / 2)}
	}
	thin, err := tables.NewAxis(x.Quantity(), "", some)
	if err != nil {
		t.Fatal(err)
	}
	bound := rapid.Float64Range(0, 60).Draw(t, "bound")
	r := onto(t, tab, thin, nil)
	a, err := r.Advise(bound)
	if err != nil {
		t.Fatal(err)
	}
	if !a.Met || a.Loss > bound {
		t.Fatalf("loss %v with all that was advised, bound %v", a.Loss, bound)
	}
	var free []float64
	for _, p := range x.Points() {
		if thin.Find(p) < 0 {
			free = append(free, p)
		}
	}
	for set := range 1 << len(free) {
		var try []float64
		for i, p := range free {
			if set&(1<<i) != 0 {
				try = append(try, p)
			}
		}
		if len(try) >= len(a.X) {
			continue
		}
		if loss, _ := r.lossWith(try, nil); loss <= bound {
			t.Fatalf("%v advised, but %v is enough for %v", a.X, try, bound)
		}
	}
}

func TestAdviceIsFewest(t *testing.T) { rapid.Check(t, lawAdviceIsFewest) }

func FuzzAdviceIsFewest(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawAdviceIsFewest)) }

// onto is a table sampled at other breakpoints.
func onto(t interface{ Fatal(...any) }, of *tables.Table, x, y *tables.Axis) *Resampled {
	r, err := Resample(of, tables.Axes{x, y}, Sample, Hold)
	if err != nil {
		t.Fatal(err)
	}
	return r
}
