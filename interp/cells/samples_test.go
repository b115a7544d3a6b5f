package cells

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"calsplice/tables/drivelog"
)

// Counting by a value's number is counting by the value: channels of few
// decimals and of many, neighbours within a thousandth, more values than have
// numbers, on both sides of zero.
func checkSamples(t *rapid.T) {
	step := rapid.SampledFrom([]float64{1, 0.25, 0.01, 0.78125, 1e-4, 1.0 / 3, 100}).Draw(t, "step")
	span := rapid.SampledFrom([]int{3, 60, 2 * distinct}).Draw(t, "span")
	n := rapid.SampledFrom([]int{1, 50, 200, 3 * distinct}).Draw(t, "samples")
	r := rapid.Uint64().Draw(t, "seed")
	const size = 3
	f, want := newSamples(size), make([]counts, size)
	var cells []int
	var values []float64
	var take []bool
	for range n {
		r = r*6364136223846793005 + 1442695040888963407 // Knuth, MMIX
		v := math.Round(float64(int(r>>33)%span-span/2)*step*1e6) / 1e6
		cells, values, take = append(cells, int(r>>60)%size), append(values, v), append(take, r>>50&7 > 0)
	}
	for i := range values {
		if take[i] {
			want[cells[i]].add(values[i], whole)
		}
	}
	cut := rapid.IntRange(0, n).Draw(t, "cut")
	f.add(cells[:cut], values[:cut], take[:cut])
	f.add(cells[cut:], values[cut:], take[cut:])
	got := []*cell{{}, {}, {}}
	f.into(got)
	for i := range want {
		a, b := want[i].append(nil), got[i].counts.append(nil)
		if !slices.Equal(a, b) {
			t.Errorf("cell %d: counts by number differ from those by value", i)
		}
		var back counts
		if rest, err := back.addEncoded(b); err != nil || len(rest) > 0 || !slices.Equal(back.sorted(), want[i].sorted()) {
			t.Errorf("cell %d: counts read back differ: %v", i, err)
		}
	}
}

func TestSamples(t *testing.T) { rapid.Check(t, checkSamples) }
func FuzzSamples(f *testing.F) { f.Fuzz(rapid.MakeFuzz(checkSamples)) }

// Looking only at the instants that come near a limit finds what looking at
// each instant does.
func checkNear(t *rapid.T) {
	runs := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) [3]int {
		return [3]int{rapid.SampledFrom([]int{-12, -9, -7, 0, 7, 9, 12}).Draw(t, "trim"), rapid.IntRange(1, 40).Draw(t, "instants"), rapid.IntRange(0, 5).Draw(t, "gap")}
	}), 1, 12).Draw(t, "runs")
	limit := rapid.SampledFrom([]float64{0, 0, 9}).Draw(t, "limit")
	var f drivelog.Frame
	var trim drivelog.Column
	stretch := 0
	for _, run := range runs {
		if run[2] == 0 {
			stretch++
		}
		for range run[1] {
			f.Time, f.Stretch = append(f.Time, float64(f.N)/5), append(f.Stretch, stretch)
			trim.Value, trim.Fresh = append(trim.Value, float64(run[0])), append(trim.Fresh, true)
			f.N++
		}
	}
	size := rapid.IntRange(1, f.N).Draw(t, "frame")
	at := func(watch func(p *placer, f *drivelog.Frame, i int)) float64 {
		g := newGrid(settings{}, mustAxis(&testing.T{}, "engine_speed", 1000), nil, []string{"short_trim_1"})
		p := placer{limits: newLimiter(limit, []uint8{1}, [4]int{0, -1, -1, -1}), take: [][]bool{slices.Repeat([]bool{true}, size)}}
		for from := 0; from < f.N; from += size {
			end := min(from+size, f.N)
			part := drivelog.Frame{N: end - from, Time: f.Time[from:end], Stretch: f.Stretch[from:end],
				Columns: []drivelog.Column{{Value: trim.Value[from:end], Fresh: trim.Fresh[from:end]}}}
			p.limits.begin(&part)
			for i := range part.N {
				watch(&p, &part, i)
			}
			p.stretch = part.Stretch[part.N-1]
		}
		p.limits.finish(g)
		return g.at(0, 0).sum[sumLimit].Float64()
	}
	here := []share{{0, 1}}
	last := 0
	want := at(func(p *placer, f *drivelog.Frame, i int) {
		p.limits.next(f, i, f.Stretch[i] != last)
		last = f.Stretch[i]
		if p.limits.standing > 0 {
			p.limits.sample(0, 0, 1)
		}
	})
	got := at(func(p *placer, f *drivelog.Frame, i int) {
		if p.limits.near[i] || p.limits.standing > 0 {
			p.watch(f, i, here)
		}
	})
	if got != want {
		t.Errorf("%v samples at a limit, want %v", got, want)
	}
}

func TestNear(t *testing.T) { rapid.Check(t, checkNear) }
func FuzzNear(f *testing.F) { f.Fuzz(rapid.MakeFuzz(checkNear)) }

// A large value may not be written with as many decimals as one behind it.
func TestLargeBesideDecimals(t *testing.T) {
	for _, values := range [][]float64{{1e14, -0.25}, {0.25, 1e14}, {1e14, -1e14, 0}, {-0.01, 0, 0.01}, {1e-7, 1}} {
		var c, back counts
		for _, v := range values {
			c.add(v, whole)
		}
		if rest, err := back.addEncoded(c.append(nil)); err != nil || len(rest) > 0 || !slices.Equal(back.sorted(), c.sorted()) {
			t.Errorf("%v came back as %v: %v", values, back.sorted(), err)
		}
	}
}

// A value that comes more often than a number's counter holds is counted on.
func TestManyOfOneValue(t *testing.T) {
	const n = 3*(math.MaxUint16+1) + 5
	s := newSamples(2)
	s.add(slices.Repeat([]int{1}, n), slices.Repeat([]float64{0.25}, n), slices.Repeat([]bool{true}, n))
	s.add([]int{1}, []float64{-3}, []bool{true})
	cells := []*cell{nil, {}}
	s.into(cells)
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

// The quantile of Student's t is the library's, on both sides of where a series
// takes over.
func TestQuantile975(t *testing.T) {
	for _, freedom := range []float64{0.5, 1, 2.5, 49.9, 50, 50.5, 99, 1e3, 1e7} {
		want := distuv.StudentsT{Sigma: 1, Nu: freedom}.Quantile(0.975)
		if got := quantile975(freedom); math.Abs(got-want) > 2e-9*want {
			t.Errorf("t(0.975, %v) is %v, want %v", freedom, got, want)
		}
	}
}
