package cells

import (
	"math"

	"calsplice/interp/cells/exact"
)

// visit is one unbroken stay in one cell, for one channel, while it lasts. Its
// sums are in double-double arithmetic: within a visit the order of samples is
// the log's own, so they are the same each time, and they hold 106 bits.
type visit struct {
	n        float64 // Σ weight
	w2       float64 // Σ weight²
	s, sLow  float64 // Σ weight·value
	q, qLow  float64 // Σ weight·value²
	min, max float64
	last     float64 // value and
	repeats  uint64  // weight not yet counted: a run of one value is counted once
	start    float64 // seconds, of its first sample
}

// twoSum is a + b and what rounding took from it (Knuth).
func twoSum(a, b float64) (s, low float64) {
	s = a + b
	t := s - a
	return s, (a - (s - t)) + (b - t)
}

// add takes one sample of weight 1.
func (v *visit) add(c *cell, x float64) {
	if v.n == 0 {
		v.min, v.max, v.last = x, x, x
	}
	v.n++
	v.w2++
	var low float64
	v.s, low = twoSum(v.s, x)
	v.sLow += low
	xx := x * x
	v.q, low = twoSum(v.q, xx)
	v.qLow += low + math.FMA(x, x, -xx)
	v.min, v.max = min(v.min, x), max(v.max, x)
	if x != v.last {
		c.counts.add(v.last, v.repeats)
		v.last, v.repeats = x, 0
	}
	v.repeats += whole
}

// addWeighted takes one sample of a weight above 0.
func (v *visit) addWeighted(c *cell, x, weight float64) {
	if v.n == 0 {
		v.min, v.max = x, x
	}
	v.n += weight
	v.w2 += weight * weight
	wx := weight * x
	var low float64
	v.s, low = twoSum(v.s, wx)
	v.sLow += low + math.FMA(weight, x, -wx)
	wxx := wx * x
	v.q, low = twoSum(v.q, wxx)
	v.qLow += low
	v.min, v.max = min(v.min, x), max(v.max, x)
	c.counts.add(x, uint64(weight*whole))
}

// whole is the weight of one whole sample in a cell's counts of values.
const whole = 1 << 20

// cell holds the evidence of one channel in one cell. All its sums are exact,
// so that they do not depend on which visit came first or was read by whom.
type cell struct {
	visits   int64
	min, max float64
	sum      [sums]exact.Sum
	cluster  [len(spans)]clusters
	counts   counts
}

// The sums of a cell.
const (
	sumN     = iota // Σ weight: the count
	sumW2           // Σ weight²
	sumX            // Σ weight·value
	sumXX           // Σ weight·value²
	sumLimit        // Σ weight of samples at the trim's limit
	sums
)

// spans are the seconds for which a cluster of visits stays open: visits of one
// cell that begin within that time of the cluster's first are one cluster. With
// the first, every visit is a cluster of its own. See [channel.errors].
var spans = [...]float64{0, 2, 8, 32, 128, 512}

// clusters are the sums that the standard error of a mean needs, over clusters
// of visits with count n and sum s each.
type clusters struct {
	k          int64     // clusters
	nn, ns, ss exact.Sum // Σ n², Σ n·s, Σ s²
}

func (c *clusters) add(n, s float64) {
	c.k++
	c.nn.AddProduct(n, n)
	c.ns.AddProduct(n, s)
	c.ss.AddProduct(s, s)
}

// batch is a cluster of visits that is not closed yet.
type batch struct{ start, n, s float64 }

// batches are the open clusters of one channel in one cell, for all spans but
// the first.
type batches [len(spans) - 1]batch

// close ends a visit: its sums are rounded once and added exactly.
func (c *cell) close(v *visit, open *batches) {
	if v.repeats > 0 {
		c.counts.add(v.last, v.repeats)
	}
	if c.visits == 0 {
		c.min, c.max = v.min, v.max
	}
	c.min, c.max = min(c.min, v.min), max(c.max, v.max)
	c.visits++
	s, low := twoSum(v.s, v.sLow)
	c.sum[sumN].Add(v.n)
	c.sum[sumW2].Add(v.w2)
	c.sum[sumX].Add(s)
	c.sum[sumX].Add(low)
	c.sum[sumXX].Add(v.q)
	c.sum[sumXX].Add(v.qLow)
	c.cluster[0].add(v.n, s)
	for i := range open {
		b := &open[i]
		if b.n > 0 && v.start >= b.start && v.start < b.start+spans[i+1] {
			b.n += v.n
			b.s += s
			continue
		}
		if b.n > 0 {
			c.cluster[i+1].add(b.n, b.s)
		}
		*b = batch{v.start, v.n, s}
	}
}

// closeBatches ends the clusters that are open when the log ends.
func (c *cell) closeBatches(open *batches) {
	for i, b := range open {
		if b.n > 0 {
			c.cluster[i+1].add(b.n, b.s)
		}
	}
}

// merge adds another cell's evidence.
func (c *cell) merge(o *cell) {
	if o.visits == 0 {
		return
	}
	if c.visits == 0 {
		c.min, c.max = o.min, o.max
	}
	c.min, c.max = min(c.min, o.min), max(c.max, o.max)
	c.visits += o.visits
	for i := range c.sum {
		c.sum[i].AddSum(&o.sum[i])
	}
	for i := range c.cluster {
		a, b := &c.cluster[i], &o.cluster[i]
		a.k += b.k
		a.nn.AddSum(&b.nn)
		a.ns.AddSum(&b.ns)
		a.ss.AddSum(&b.ss)
	}
	c.counts.merge(&o.counts)
}
