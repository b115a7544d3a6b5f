package tally

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Counting by a value's number is counting by the value: channels of few
// decimals and of many, neighbours within a thousandth, more values than have
// numbers, on both sides of zero.
func checkTally(t *rapid.T) {
	steps := rapid.SampledFrom([]float64{1, 0.25, 0.01, 0.78125, 1e-4, 1.0 / 3, 100})
	step, seldom := steps.Draw(t, "step"), steps.Draw(t, "seldom")
	span := rapid.SampledFrom([]int{3, 60, 2 * distinct, 20 * distinct}).Draw(t, "span")
	n := rapid.SampledFrom([]int{1, 50, 200, 3 * distinct, 12 * distinct}).Draw(t, "samples")
	r := rapid.Uint64().Draw(t, "seed")
	const size = 3
	f, want := New(size), make([]counts, size)
	var cells []int32
	var values []float64
	for range n {
		r = r*6364136223846793005 + 1442695040888963407 // Knuth, MMIX
		v := float64(int(r>>33)%span - span/2)
		if r>>20%16 > 0 {
			v *= step
		} else {
			v *= seldom
		}
		v = math.Round(v*1e6) / 1e6
		cells, values = append(cells, int32(r>>60)%size), append(values, v)
	}
	for i := range values {
		want[cells[i]].add([]slot{{math.Float64bits(values[i] + 0), whole}})
	}
	cut := rapid.IntRange(0, n).Draw(t, "cut")
	all := func(n int) []bool { return slices.Repeat([]bool{true}, n) }
	part := func(f *Log, from, to int) {
		n := to - from
		f.Add(&Shares{Places: 1, Cell: cells[from:to], Stay: make([]int32, n)}, make([]float64, n), values[from:to], all(n))
	}
	part(f, 0, cut)
	part(f, cut, n)
	one := New(size)
	for i := range values {
		part(one, i, i+1)
	}
	got, each := []*Cell{{}, {}, {}}, []*Cell{{}, {}, {}}
	f.Into(func(at int) *Cell { return got[at] })
	one.Into(func(at int) *Cell { return each[at] })
	for i := range want {
		for k := range got[i].sum {
			if a, b := got[i].sum[k].Append(nil), each[i].sum[k].Append(nil); !slices.Equal(a, b) {
				t.Errorf("cell %d, sum %d: many at a time give another than one at a time", i, k)
			}
		}
		a, b := want[i].append(nil), got[i].counts.append(nil)
		if !slices.Equal(a, b) {
			t.Errorf("cell %d: counts by number differ from those by value", i)
		}
		if back := readCounts(t, b); !slices.Equal(back.sorted(), want[i].sorted()) {
			t.Errorf("cell %d: counts read back differ", i)
		}
	}
}

func TestTally(t *testing.T) { rapid.Check(t, checkTally) }
func FuzzTally(f *testing.F) { f.Fuzz(rapid.MakeFuzz(checkTally)) }

// A large value may not be written with as many decimals as one behind it.
func TestLargeBesideDecimals(t *testing.T) {
	for _, values := range [][]float64{{1e14, -0.25}, {0.25, 1e14}, {1e14, -1e14, 0}, {-0.01, 0, 0.01}, {1e-7, 1}} {
		var c counts
		for _, v := range values {
			c.add([]slot{{math.Float64bits(v), whole}})
		}
		if back := readCounts(t, c.append(nil)); !slices.Equal(back.sorted(), c.sorted()) {
			t.Errorf("%v came back as %v", values, back.sorted())
		}
	}
}

// Sums, extremes and counts of a value that comes very often, and of one that comes once.
func TestManyOfOneValue(t *testing.T) {
	const n = 3*(math.MaxUint16+1) + 5
	s := New(2)
	add := func(n int, v float64) {
		s.Add(&Shares{Places: 1, Cell: slices.Repeat([]int32{1}, n), Stay: make([]int32, n)}, make([]float64, n), slices.Repeat([]float64{v}, n), slices.Repeat([]bool{true}, n))
	}
	add(n, 0.25)
	add(1, -3)
	cells := []*Cell{nil, {}}
	s.Into(func(at int) *Cell { return cells[at] })
	got := cells[1]
	if list := got.counts.sorted(); len(list) != 2 || list[0] != (slot{math.Float64bits(0.25), n * whole}) {
		t.Errorf("counts are %v", list)
	}
	for i, want := range map[int]float64{sumN: n + 1, sumW2: n + 1, sumX: n/4. - 3, sumXX: n/16. + 9} {
		if sum := got.sum[i].Float64(); sum != want {
			t.Errorf("sum %d is %v, want %v", i, sum, want)
		}
	}
	if got.min != -3 || got.max != 0.25 {
		t.Errorf("from %v to %v, want -3 to 0.25", got.min, got.max)
	}
}

// A value that comes more often than a bin holds is counted on.
func TestFullBin(t *testing.T) {
	l := newCellLog(0.25, false)
	add := func(n int, v float64) { l.add(slices.Repeat([]sample{{value: v, weight: 1}}, n), false) }
	add(128, 0.25) // sorted into the list, and the bins lie around them
	add(full-1, 0.25)
	if len(l.counts.waiting) != 0 {
		t.Errorf("%d values wait before a bin is full", len(l.counts.waiting))
	}
	if add(1, 0.25); len(l.counts.waiting) != 1 || l.counts.waiting[0].weight != full*whole {
		t.Errorf("%v wait where a bin is full, want %d samples", l.counts.waiting, full)
	}
	add(3, 0.25)
	if list := l.counts.sorted(); len(list) != 1 || list[0] != (slot{math.Float64bits(0.25), (128 + full + 3) * whole}) {
		t.Errorf("counts are %v", list)
	}
}

// TestManyValues: a log's samples of many values are counted as those with weights are, at the first
// coarser level, where values are close together, and at others, on both sides of zero.
func TestManyValues(t *testing.T) {
	for _, c := range []struct {
		why        string
		base, step float64
		level      int
	}{{"close together", 2000, 1e-4, 1}, {"wide apart", -3000, 0.3, 6}, {"of all sizes", -3e6, 307.3, 6}} {
		var slots counts
		f, cell, again := New(1), new(Cell), new(Cell)
		one := &Shares{Places: 1, Cell: []int32{0}, Stay: []int32{0}}
		for i := range 5 * distinct {
			v := []float64{c.base + float64(i*7919%20_000)*c.step}
			slots.add([]slot{{math.Float64bits(v[0]), whole}})
			f.Add(one, []float64{0}, v, []bool{true})
		}
		f.Into(func(int) *Cell { return cell })
		f.Into(func(int) *Cell { return again })
		got, want := cell.counts.append(nil), slots.append(nil)
		if !slices.Equal(got, want) || slots.level != c.level {
			t.Errorf("%s: %d bytes of counts, want the %d of weights; levels %d and %d, want %d", c.why, len(got), len(want), cell.counts.level, slots.level, c.level)
		}
		if a, b := cell.counts.quantile(0.95, whole), slots.quantile(0.95, whole); a != b {
			t.Errorf("%s: percentile %v, want %v", c.why, a, b)
		}
		cell.Merge(again)
		slots.merge(&slots)
		if !slices.Equal(cell.counts.append(nil), slots.append(nil)) {
			t.Errorf("%s: samples merge otherwise than weights", c.why)
		}
	}
}
