package interp

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// smallMap draws a map, or a curve, with few breakpoints.
func smallMap(t *rapid.T) *tables.Table {
	axis := func(name string, least int) *tables.Axis {
		n := rapid.IntRange(least, 7).Draw(t, name)
		points, at := make([]float64, n), 0.0
		for i := range points {
			at += rapid.SampledFrom([]float64{1, 10, 100, 250}).Draw(t, name+" step")
			points[i] = at
		}
		return tabletest.Must(tables.NewAxis(name, "V", points))
	}
	f := tables.Fields{ID: "a", Unit: "V", X: axis("x", 2)}
	if rapid.Bool().Draw(t, "map") {
		f.Y = axis("y", 1)
	}
	if rapid.Bool().Draw(t, "steps") {
		f.Resolution = rapid.SampledFrom([]float64{0.1, 0.5, 4}).Draw(t, "resolution")
	}
	n := f.X.Len()
	if f.Y != nil {
		n *= f.Y.Len()
	}
	for range n {
		v := rapid.Float64Range(-20, 20).Draw(t, "value")
		if f.Resolution > 0 {
			v = math.Round(v/f.Resolution) * f.Resolution
		}
		f.Values = append(f.Values, v)
	}
	return tabletest.Must(tables.NewTable(f))
}

// choices are all ways to keep n of some points, the first and the last among
// them.
func choices(points []float64, n int) (all [][]float64) {
	for mask := range 1 << len(points) {
		var kept []float64
		for i, p := range points {
			if mask>>i&1 == 1 {
				kept = append(kept, p)
			}
		}
		if len(kept) == n && kept[0] == points[0] && kept[n-1] == points[len(points)-1] {
			all = append(all, kept)
		}
	}
	return all
}

// TestPlaceLaw: no choice of as many old breakpoints loses less, along either
// axis; the ends stay.
func TestPlaceLaw(t *testing.T) { rapid.Check(t, placeLaw) }

func FuzzPlace(f *testing.F) { f.Fuzz(rapid.MakeFuzz(placeLaw)) }

func placeLaw(t *rapid.T) {
	table := smallMap(t)
	along := 1
	if table.Y() == nil || rapid.Bool().Draw(t, "along x") {
		along = 0
	}
	own, other := table.Axes()[along], table.Axes()[1-along]
	n := rapid.IntRange(min(2, own.Len()), own.Len()).Draw(t, "n")
	loss := func(points []float64) float64 {
		axes := table.Axes()
		axes[along] = tabletest.Must(tables.NewAxis(own.Quantity(), own.Unit(), points))
		return tabletest.Must(Resample(table, axes, Sample, Hold)).Loss.Largest
	}
	a, err := Place(table, along, n, other, nil)
	if err != nil {
		t.Fatal(err)
	}
	if a.Len() != n || a.At(0) != own.At(0) || a.At(n-1) != own.At(own.Len()-1) {
		t.Fatalf("placed %v, want %d from %v to %v", a.Points(), n, own.At(0), own.At(own.Len()-1))
	}
	got := loss(a.Points())
	for _, kept := range choices(own.Points(), n) {
		if best := loss(kept); got > best+1e-9*math.Max(1, best) {
			t.Fatalf("%v loses %v, the old breakpoints %v only %v", a.Points(), got, kept, best)
		}
	}
}

// TestPlaceByHand: the bend keeps its breakpoint; where most is lost decides, or
// where the weight is.
func TestPlaceByHand(t *testing.T) {
	curve := func(values ...float64) *tables.Table {
		points := make([]float64, len(values))
		for i := range points {
			points[i] = float64(i)
		}
		return tabletest.Must(tables.NewTable(tables.Fields{ID: "a", Unit: "V", Values: values, X: tabletest.Must(tables.NewAxis("x", "V", points))}))
	}
	for _, c := range []struct {
		why   string
		table *tables.Table
		n     int
		w     Weight
		want  []float64
	}{
		{"one bend", curve(0, 1, 2, 3, 2, 1, 0), 3, nil, []float64{0, 3, 6}},
		{"all of them", curve(0, 5, 1), 3, nil, []float64{0, 1, 2}},
		{"a straight line needs none", curve(0, 1, 2, 3), 2, nil, []float64{0, 3}},
		{"the larger of two bends, and a line that halves the smaller", curve(0, 9, 0, 0, 0, 4, 0), 4, nil, []float64{0, 1, 1.75, 6}},
		{"the smaller, where only that was visited", curve(0, 9, 0, 0, 0, 4, 0), 4, func(x, _ float64) float64 {
			if x > 3 {
				return 1
			}
			return 0.01
		}, nil},
	} {
		a := tabletest.Must(Place(c.table, 0, c.n, nil, c.w))
		if c.want != nil && !slices.Equal(a.Points(), c.want) {
			t.Errorf("%s: %v, want %v", c.why, a.Points(), c.want)
		}
		if c.want == nil && a.Find(5) < 0 {
			t.Errorf("%s: %v does not keep 5", c.why, a.Points())
		}
	}
	for _, c := range []struct {
		n, along int
		want     string
	}{{1, 0, "1 breakpoint for x of table a, expected 2 at least"}, {8, 0, "x of table a has 3 breakpoints: 8 would be more"}, {2, 1, "table a has no y axis"}} {
		if _, err := Place(curve(0, 5, 1), c.along, c.n, nil, nil); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%d along %d: %v, want %s", c.n, c.along, err, c.want)
		}
	}
}
