package tally

import (
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"sort"
	"testing"

	"calsplice/interp/cells/exact"
)

// model is a cell by its definitions, one sample after the other, in 400 bits.
type model struct {
	samples  []sample
	clusters [len(spans)][]cluster
}

type cluster struct {
	start float64 // seconds
	n, s  float64
}

// newModel gathers a cell's samples into visits, and these into clusters of clusters.
func newModel(samples []sample) *model {
	m := &model{samples: samples}
	stay := int32(-1)
	for _, p := range samples {
		if p.stay != stay {
			stay = p.stay
			m.clusters[0] = append(m.clusters[0], cluster{start: p.time})
		}
		last := &m.clusters[0][len(m.clusters[0])-1]
		last.n += p.weight
		last.s += p.weight * p.value
	}
	for i := 1; i < len(spans); i++ {
		for _, c := range m.clusters[i-1] {
			list := m.clusters[i]
			if n := len(list); n > 0 && c.start-list[n-1].start < float64(spans[i])/1e6 {
				list[n-1].n += c.n
				list[n-1].s += c.s
				continue
			}
			m.clusters[i] = append(list, c)
		}
	}
	return m
}

func wide(v float64) *big.Float { return new(big.Float).SetPrec(400).SetFloat64(v) }

// sums are those of a cell but the last: Σ weight, Σ weight², Σ weight·value, Σ
// weight·value².
func (m *model) sums() (all [4]*big.Float) {
	for i := range all {
		all[i] = wide(0)
	}
	add := func(i int, factors ...float64) {
		p := wide(1)
		for _, f := range factors {
			p.Mul(p, wide(f))
		}
		all[i].Add(all[i], p)
	}
	for _, p := range m.samples {
		add(sumN, p.weight)
		add(sumW2, p.weight, p.weight)
		add(sumX, p.weight, p.value)
		add(sumXX, p.weight, p.value, p.value)
	}
	return all
}

// near reports whether a sum is a value to within a part of it.
func near(s exact.Num, want *big.Float, part float64) bool {
	high := s.Float64()
	got := wide(high)
	got.Add(got, wide(s.Sub(exact.Of(high)).Float64()))
	off, _ := got.Sub(got, want).Float64()
	size, _ := want.Float64()
	return math.Abs(off) <= part*math.Abs(size)
}

// variance is that of a mean over clusters, and its degrees of freedom: Cochran's
// ratio of sums, in plain doubles.
func variance(list []cluster, n, mean float64) (v, freedom float64) {
	squares := 0.0
	for _, c := range list {
		v += (c.s - mean*c.n) * (c.s - mean*c.n)
		squares += c.n * c.n
	}
	return v / (n*n - squares), max(n*n/squares-0.5, 0.5)
}

// errors are the standard errors of cells and their degrees of freedom.
func errorsOf(cells []*model) (se, freedom []float64) {
	type entry struct{ n, v, freedom float64 }
	all := make([][len(spans)]entry, len(cells))
	known := func(m *model) bool { return m != nil && len(m.clusters[0]) > 1 }
	for at, m := range cells {
		if !known(m) {
			continue
		}
		n, x := m.sums()[sumN], m.sums()[sumX]
		count, _ := n.Float64()
		mean, _ := new(big.Float).Quo(x, n).Float64()
		for i, list := range m.clusters {
			v, f := variance(list, count, mean)
			all[at][i] = entry{count, v, f}
		}
	}
	span, grows := 0, [len(spans)]float64{}
	for i := range len(spans) - 1 {
		var shorter, longer float64
		for at, m := range cells {
			if known(m) && len(m.clusters[i+1]) >= fewClusters {
				shorter += all[at][i].v * all[at][i].n * all[at][i].n
				longer += all[at][i+1].v * all[at][i].n * all[at][i].n
			}
		}
		if grows[i] = longer / shorter; grows[i] > moreVariance {
			span = i + 1
		}
	}
	for at, m := range cells {
		if !known(m) {
			se, freedom = append(se, math.NaN()), append(freedom, 0)
			continue
		}
		i, factor := span, 1.0
		for ; i > 0 && len(m.clusters[i]) < fewClusters; i-- {
			factor *= max(1, grows[i-1])
		}
		se = append(se, math.Sqrt(all[at][i].v*factor))
		freedom = append(freedom, min(all[at][i].freedom, float64(len(m.clusters[0])-1)))
	}
	return se, freedom
}

// drive is samples of cells as a log has them: a point that wanders, a value that
// swings slowly, so that visits near each other are alike; quiet cells are seldom
// visited. Some shares are parts where they are shared.
func drive(seed uint64, cells, n int, step, swing float64, shared bool) []sample {
	r := rand.New(rand.NewPCG(seed, 7))
	var list []sample
	stay, cell, time, value := int32(0), int32(0), 0.0, 0.0
	for range n {
		time += 0.02 + 0.04*r.Float64()
		if r.IntN(4) == 0 {
			stay++
			cell = min(int32(r.ExpFloat64()*1.2), int32(cells-1))
			time += swing * r.ExpFloat64()
		}
		value = math.Exp(-0.05*swing)*value + r.NormFloat64()
		p := sample{time, 100 + value, 1, cell, stay}
		if step > 0 {
			p.value = math.Round(p.value/step) * step
		}
		if shared {
			p.weight = []float64{1, 0.5, 0.3, r.Float64(), 1e-9}[r.IntN(5)]
		}
		list = append(list, p)
	}
	return list
}

// gather is the cells of samples, so many of them at a time.
func gather(size int, list []sample, together int, shared bool) []*Cell {
	l := New(size)
	for list := range slices.Chunk(list, together) {
		at := &Shares{Places: 1}
		if shared {
			at = &Shares{Places: 2, Weight: []float64{}} // and each second place empty
		}
		var time, value []float64
		var take []bool
		add := func(p sample, is bool) {
			at.Cell, at.Stay = append(at.Cell, p.cell), append(at.Stay, p.stay)
			if shared {
				at.Cell, at.Stay, at.Weight = append(at.Cell, -1), append(at.Stay, 0), append(at.Weight, p.weight, 0)
			}
			time, value, take = append(time, p.time), append(value, p.value), append(take, is)
		}
		for _, p := range list {
			add(p, true)
			add(sample{p.time, 1e9, 1, p.cell, p.stay + 1e6}, false) // no sample
		}
		l.Add(at, time, value, take)
	}
	cells := make([]*Cell, size)
	l.Into(func(at int) *Cell { cells[at] = new(Cell); return cells[at] })
	return cells
}

// TestAgainstDefinitions: sums, clusters, extremes, percentiles and standard errors
// are what their definitions give, for channels of few and of many values, that swing
// fast and slowly, in whole and in shared samples; and they do not depend on how many
// samples come at a time, nor on the parts in which a drive comes.
func TestAgainstDefinitions(t *testing.T) {
	const size = 6
	for _, c := range []struct {
		why         string
		n           int
		step, swing float64
		shared      bool
	}{
		{"far from zero", 3000, 0, 0.3, false}, {"few decimals", 9000, 0.25, 0.3, false}, {"a swing of minutes", 3000, 0.01, 3, false},
		{"of seconds", 3000, 0, 0.05, false}, {"more values than are told apart", 12_000, 0, 0.02, false},
		{"few samples", 60, 0.5, 1, false}, {"shared", 9000, 0.25, 0.3, true}, {"shared, many values", 12_000, 0, 0.02, true},
	} {
		list := drive(uint64(c.n), size, c.n, c.step, c.swing, c.shared)
		if c.why == "far from zero" {
			for i := range list {
				list[i].value += 3e7 // its square has more digits than a double
			}
		}
		cells := gather(size, list, 5000, c.shared)
		by := make([][]sample, size)
		for _, p := range list {
			by[p.cell] = append(by[p.cell], p)
		}
		models := make([]*model, size)
		for at, list := range by {
			if len(list) == 0 {
				if cells[at] != nil {
					t.Errorf("%s: cell %d has no samples and is there", c.why, at)
				}
				continue
			}
			m := newModel(list)
			models[at] = m
			checkCell(t, c.why, cells[at], m, !c.shared)
			if one := gather(size, list, 37, c.shared)[at]; !slices.Equal(one.Append(nil), cells[at].Append(nil)) {
				t.Errorf("%s: cell %d depends on how many samples come at a time", c.why, at)
			}
		}
		checkErrors(t, c.why, cells, models)
		checkMerge(t, c.why, cells[0], cells[1])
	}
}

// checkMerge: cells add up, in any order, merged or from their bytes; and the other one
// stays as it was.
func checkMerge(t *testing.T, why string, a, b *Cell) {
	t.Helper()
	ab, ba := new(Cell), new(Cell)
	theirs := b.Append(nil)
	ab.Merge(a)
	ab.Merge(b)
	ab.Merge(new(Cell))
	for _, c := range []*Cell{b, a} {
		read, err := Decode(c.Append(nil))
		if err != nil {
			t.Fatalf("%s: %v", why, err)
		}
		ba.Merge(read)
	}
	if !slices.Equal(ab.Append(nil), ba.Append(nil)) || !slices.Equal(theirs, b.Append(nil)) {
		t.Errorf("%s: cells that are merged differ from the same read from bytes, or the other was changed", why)
	}
	weight := func(c *Cell) (n uint64) {
		for _, s := range c.counts.sorted() {
			n += s.weight
		}
		return n
	}
	if ab.visits != a.visits+b.visits || ab.min != min(a.min, b.min) || ab.max != max(a.max, b.max) || weight(ab) != weight(a)+weight(b) {
		t.Errorf("%s: %d visits from %v to %v of %d, of %d and %d", why, ab.visits, ab.min, ab.max, weight(ab), a.visits, b.visits)
	}
	checkCounts(t, why, &ab.counts, max(a.counts.level, b.counts.level), slices.Concat(a.counts.sorted(), b.counts.sorted()))
}

// checkCounts: counts are those of the finest level from one on that has room for them.
func checkCounts(t *testing.T, why string, c *counts, level int, values []slot) {
	t.Helper()
	for list := c.sorted(); ; level++ {
		want := map[uint64]uint64{}
		for _, s := range values {
			want[s.bits&mask(level)] += s.weight
		}
		if len(want) > distinct {
			continue
		}
		if level != c.level || len(want) != len(list) {
			t.Errorf("%s: level %d has %d values, want level %d with %d", why, c.level, len(list), level, len(want))
		}
		for i, s := range list {
			if want[s.bits] != s.weight || i > 0 && s.bits <= list[i-1].bits {
				t.Errorf("%s: %x weighs %d, want %d, after %x", why, s.bits, s.weight, want[s.bits], list[max(i-1, 0)].bits)
				break
			}
		}
		return
	}
}

// TestBins: bins lie around values of one last decimal that are no further apart than
// there are bins, and give back what was counted, once.
func TestBins(t *testing.T) {
	slots := func(values ...float64) (list []slot) {
		for _, v := range values {
			list = append(list, slot{math.Float64bits(v), whole})
		}
		return list
	}
	for _, c := range []struct {
		why    string
		values []float64
		fits   bool
	}{
		{"whole numbers", []float64{3, -2, 0}, true}, {"four decimals", []float64{0.0001, -0.0003}, true},
		{"five", []float64{0.00001}, false}, {"a third", []float64{1. / 3, 1}, false}, {"a third behind", []float64{1, 1. / 3}, false},
		{"as far apart as there are bins", []float64{-5, -5 + mostBins - 1}, true},
		{"one further", []float64{-5, -5 + mostBins}, false},
		{"decimals as far apart", []float64{10.5, 10.5 + (mostBins-1)/2.}, false},
		{"tenths as far apart", []float64{0.1, mostBins / 10.}, true}, {"tenths further", []float64{0, mostBins / 10.}, false},
		{"large", []float64{1<<40 - 1}, true}, {"larger", []float64{1 << 40}, false}, {"below zero", []float64{-1 << 40}, false},
	} {
		var b bins
		b.cover(slots(7))
		b.cover(slots(c.values...))
		if got := b.count != nil; got != c.fits {
			t.Errorf("%s: bins %v, want %v", c.why, got, c.fits)
		}
		for _, v := range c.values {
			if c.fits && b.find(v) < 0 || !c.fits && b.find(v) >= 0 {
				t.Errorf("%s: %v is in bin %d", c.why, v, b.find(v))
			}
		}
	}
	var b bins
	b.cover(slots(-0.5, 0.5)) // tenths
	first, last := b.low/b.scale, (b.low+mostBins-1)/b.scale
	if b.find(first) != 0 || b.find(last) != mostBins-1 || b.find(first-0.1) >= 0 || b.find(last+0.1) >= 0 || b.find(0.25) >= 0 || b.find(math.Nextafter(0.5, 1)) >= 0 {
		t.Errorf("bins from %v to %v: %d %d", first, last, b.find(first), b.find(last))
	}
	for _, v := range []float64{last, 0, -0.1, 0.1, first, 0.1} {
		b.count[b.find(v)]++
	}
	want := slots(0, 0.1, last, -0.1, first)
	want[1].weight = 2 * whole
	room := make([]slot, mostBins+1)
	if got := b.drain(room); !slices.Equal(got, want) {
		t.Errorf("drained %v, want %v", got, want)
	}
	if got := b.drain(room); len(got) > 0 {
		t.Errorf("drained twice: %v", got)
	}
	for _, low := range []float64{3, -5000} { // all on one side of zero
		b := bins{low: low, scale: 1, count: make([]uint8, mostBins)}
		b.count[0], b.count[mostBins-1] = 1, 2
		want := []slot{{math.Float64bits(low), whole}, {math.Float64bits(low + mostBins - 1), 2 * whole}}
		if low < 0 {
			slices.Reverse(want)
		}
		if got := b.drain(room); !slices.Equal(got, want) {
			t.Errorf("from %v: drained %v, want %v", low, got, want)
		}
	}
}

// TestLevels: values are told apart by as many bits as there is room for, whatever
// way they come in: one value more than there is room for makes them coarser, values
// in close groups stay apart, and parts that are coarser make the whole so.
func TestLevels(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, c := range []struct {
		why   string
		n     int
		value func(i int) float64
	}{
		{"as many as there is room for", distinct, func(i int) float64 { return math.Sqrt(float64(i)) }},
		{"one more", distinct + 1, func(i int) float64 { return math.Sqrt(float64(i)) }},
		{"close groups", 3000, func(i int) float64 { return float64(1+i%3) + float64(i/3%500)*0x1p-50 }},
		{"many orders of size", 20_000, func(i int) float64 { return math.Ldexp(r.Float64()-0.5, r.IntN(2000)-1000) }},
		{"all sizes", 20_000, func(i int) float64 { return math.Ldexp(1+r.Float64(), i%2040-1020) * float64(1-i/2040%2*2) }},
		{"decimals far apart", 20_000, func(i int) float64 { return float64(i / 2) }},
		{"few and then many", 9000, func(i int) float64 { return float64(min(i, 3000)%50) + float64(max(i-3000, 0))/7 }},
	} {
		var values []slot
		var direct, a, b counts
		l := newCellLog(0, false)
		for i := range c.n {
			v := c.value(i) + 0
			s := slot{math.Float64bits(v), whole}
			values = append(values, s)
			l.add([]sample{{value: v, weight: 1}}, false)
			if i%5 > 0 {
				a.add([]slot{s})
			} else {
				b.add([]slot{s})
			}
		}
		direct.add(values)
		checkCounts(t, c.why, &direct, 0, values)
		checkCounts(t, c.why+", as samples", &l.counts, 0, values)
		if len(direct.sorted()) > distinct || c.n <= distinct && direct.level > 0 {
			t.Errorf("%s: level %d with %d values", c.why, direct.level, len(direct.sorted()))
		}
		small := counts{}
		small.add(values[:1])
		small.merge(&a)
		small.merge(&b)
		b.merge(&a)
		b.sorted()
		small.sorted()
		var fine counts
		near := []slot{{math.Float64bits(1), whole}, {math.Float64bits(1) + 1, whole}} // one value at any coarser level
		fine.add(near)
		for _, c := range []*counts{&a, &direct} {
			fine.merge(readCounts(t, c.append(nil)))
		}
		checkCounts(t, c.why+", read", &fine, direct.level, slices.Concat(near, a.sorted(), direct.sorted()))
		if b.level != direct.level || !slices.Equal(b.sorted(), direct.sorted()) || small.level != direct.level {
			t.Errorf("%s: in parts level %d, want %d", c.why, b.level, direct.level)
		}
	}
}

// TestMicroseconds: to the nearest, and none for what is no time.
func TestMicroseconds(t *testing.T) {
	for s, want := range map[float64]int64{0: 0, 1.5: 1_500_000, 0.0000004: 0, 0.0000006: 1, 1e13: 0, -1e13: 0, 9e11: 9e17, math.Inf(1): 0} {
		if got := microseconds(s); got != want {
			t.Errorf("%v s are %d µs, want %d", s, got, want)
		}
	}
	if got := microseconds(math.NaN()); got != 0 {
		t.Errorf("no time is %d µs", got)
	}
}

// TestShares: each instant's shares end where its places do, or where one is empty.
func TestShares(t *testing.T) {
	s := &Shares{Places: 2, Cell: []int32{-1, -1, 0, -1, 4, 5}, Weight: []float64{0, 0, 1, 0, 0.25, 0.75}}
	for i, want := range [][2]int{{0, 0}, {2, 3}, {4, 6}} {
		if from, to := s.Of(i); from != want[0] || to != want[1] || s.Known(i) != (to > from) {
			t.Errorf("instant %d has places %d to %d, known %v, want %v", i, from, to, s.Known(i), want)
		}
	}
	if s.Weighs(4) != 0.25 || (&Shares{}).Weighs(4) != 1 {
		t.Error("a share weighs otherwise than it says")
	}
}

// TestNoEvidence: what a cell has no evidence for is no number.
func TestNoEvidence(t *testing.T) {
	for _, c := range []*Cell{nil, {}} {
		for i, v := range c.Statistics(true, 1) {
			if !math.IsNaN(v) {
				t.Errorf("%s of nothing is %v", Statistics[i], v)
			}
		}
	}
	c := gather(1, []sample{{time: 1, value: 5, weight: 1}}, 1, false)[0]
	c.AddLimit(0.5)
	for i, want := range []float64{1, 1, 5, math.NaN(), 2, 5, 5, 5, 0.5} {
		if got := c.Statistics(true, 2)[i]; got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("%s of one sample is %v, want %v", Statistics[i], got, want)
		}
	}
	se, freedom := PlainErrors([]*Cell{nil, c})
	if !math.IsNaN(se[0]) || !math.IsNaN(se[1]) || !math.IsNaN(Errors([]*Cell{c})[0]) || freedom[1] != 0 {
		t.Errorf("errors of one visit are %v, %v", se, freedom)
	}
	if v := new(counts).quantile(0.95, whole); !math.IsNaN(v) {
		t.Errorf("the percentile of nothing is %v", v)
	}
	if v := new(counts).share(0.95); !math.IsNaN(v) {
		t.Errorf("the share of nothing is %v", v)
	}
	if !math.IsNaN(HalfInterval(1, 1)) || !(math.Abs(HalfInterval(2, 2)-25.4124) < 1e-3) {
		t.Errorf("half intervals are %v and %v", HalfInterval(1, 1), HalfInterval(2, 2))
	}
	var coarse counts
	coarse.level = 3
	coarse.add([]slot{{0, whole}})
	if v := coarse.quantile(0.5, whole); v != 0 {
		t.Errorf("a coarse zero is %v", v)
	}
	if b := coarse.append(nil); b[0] != 3 {
		t.Errorf("coarse counts are written with %x", b[0])
	} else if back := readCounts(t, b); !slices.Equal(back.sorted(), coarse.sorted()) { // all bits off but one
		t.Errorf("a coarse zero is read back as %v", back.sorted())
	}
	if n := len(c.Append(nil)); n != 77 {
		t.Errorf("a cell whose spans are all the same takes %d bytes", n)
	}
	zero := gather(1, []sample{{value: 0, weight: 1}, {value: math.Copysign(0, -1), weight: 1}}, 2, false)[0]
	if list := zero.counts.sorted(); len(list) != 1 || list[0] != (slot{0, 2 * whole}) {
		t.Errorf("zero and its negative are counted as %v", list)
	}
}

func checkCell(t *testing.T, why string, c *Cell, m *model, counted bool) {
	t.Helper()
	for i, want := range m.sums() {
		part := 0x1p-90
		if i == sumW2 && !counted {
			part = 0x1p-50 // the square of a weight is rounded
		}
		if !near(c.sum[i], want, part) {
			t.Errorf("%s: sum %d is %v, want %v", why, i, c.sum[i].Float64(), want)
		}
	}
	for i, list := range m.clusters {
		var nn, ns, ss float64
		for _, k := range list {
			nn, ns, ss = nn+k.n*k.n, ns+k.n*k.s, ss+k.s*k.s
		}
		k := &c.cluster[i]
		if k.k != int64(len(list)) || !near(k.nn, wide(nn), 1e-12) || !near(k.ns, wide(ns), 1e-12) || !near(k.ss, wide(ss), 1e-12) {
			t.Errorf("%s: span %d has %d clusters, %v %v %v; want %d, %v %v %v", why, i, k.k, k.nn.Float64(), k.ns.Float64(), k.ss.Float64(), len(list), nn, ns, ss)
		}
	}
	sorted := slices.Clone(m.samples)
	sort.Slice(sorted, func(i, j int) bool { return sorted[i].value < sorted[j].value })
	got := c.Statistics(counted, 3)
	n, _ := m.sums()[sumN].Float64()
	p95, within := 0.0, 1e-12
	if at := 0.95 * (n - 1); counted {
		low := sorted[int(at)].value
		p95 = low + (sorted[int(at)+1].value-low)*(at-math.Floor(at))
	} else {
		below, want := 0.0, 0.95*n
		for _, p := range sorted {
			if below += math.Floor(p.weight*whole) / whole; below >= want-1e-3 {
				p95 = p.value
				break
			}
		}
	}
	switch {
	case !counted:
		within = 1e-3
	case c.counts.level > 0:
		within = math.Ldexp(1, -int(levels[c.counts.level])) // half a bin
	}
	want := map[int]float64{0: n, 1: float64(len(m.clusters[0])), 4: 3, 5: sorted[0].value, 6: sorted[len(sorted)-1].value, 7: p95, 8: 0}
	for i, w := range want {
		if !(math.Abs(got[i]-w) <= max(1e-12, within*math.Abs(w))) || i < 7 && i != 0 && got[i] != w {
			t.Errorf("%s: %s is %v, want %v", why, Statistics[i], got[i], w)
		}
	}
	for i, v := range c.Simple() {
		if want := got[[...]int{0, 2, 5, 6, 1}[i]]; !(math.Abs(v-want) <= 1e-14*math.Abs(want)) {
			t.Errorf("%s: simple statistic %d is %v, want %v", why, i, v, want)
		}
	}
}

func checkErrors(t *testing.T, why string, cells []*Cell, models []*model) {
	t.Helper()
	se, freedom := PlainErrors(cells)
	wide := Errors(cells)
	wantSe, wantFreedom := errorsOf(models)
	for at, c := range cells {
		if math.IsNaN(wantSe[at]) {
			if !math.IsNaN(se[at]) || !math.IsNaN(wide[at]) {
				t.Errorf("%s: the error of cell %d is %v (%v), want none", why, at, se[at], wide[at])
			}
			continue
		}
		factor := max(1, quantile975(wantFreedom[at])/quantile975(float64(c.visits-1)))
		if !(math.Abs(se[at]/wantSe[at]-1) < 1e-6 && math.Abs(freedom[at]-wantFreedom[at]) < 1e-6 && math.Abs(wide[at]/(wantSe[at]*factor)-1) < 1e-6) {
			t.Errorf("%s: the error of cell %d is %v (%v) with %v degrees of freedom, want %v (%v) with %v", why, at, se[at], wide[at], freedom[at], wantSe[at], wantSe[at]*factor, wantFreedom[at])
		}
	}
}

// TestDecimals: values are written as whole numbers of the least last decimal that all
// are, and by their bits where there is none.
func TestDecimals(t *testing.T) {
	for _, c := range []struct {
		kind   byte
		values []float64
	}{
		{decimals, []float64{3, -7}}, {decimals | 2, []float64{0.25, 1}}, {decimals | mostPlaces, []float64{1e-6, 2}}, {0, []float64{1e-7}},
		{decimals, []float64{mostDecimal, -mostDecimal}}, {0, []float64{mostDecimal + 1}}, {0, []float64{mostDecimal, 0.5}}, {0, []float64{1. / 3}},
	} {
		var l counts
		for _, v := range c.values {
			l.add([]slot{{math.Float64bits(v), whole}})
		}
		if b := l.append(nil); b[0] != c.kind {
			t.Errorf("%v are written as %#x, want %#x", c.values, b[0], c.kind)
		}
	}
}

// TestWaiting: samples are dealt out when there are many, so that a log of any length
// takes the room of some.
func TestWaiting(t *testing.T) {
	l := New(1)
	for range 5 {
		n := together - 1
		l.Add(&Shares{Places: 1, Cell: make([]int32, n), Stay: make([]int32, n)}, make([]float64, n), make([]float64, n), slices.Repeat([]bool{true}, n))
		if len(l.waiting) >= together {
			t.Errorf("%d samples wait", len(l.waiting))
		}
	}
}
