package cells

import (
	"math"

	"calsplice/interp/cells/exact"
)

// double is a double-double sum: it holds 106 bits, and is used only where the
// order of its terms is always the same.
type double struct{ high, low float64 }

// twoSum is a + b and what rounding took from it (Knuth).
func twoSum(a, b float64) (s, low float64) {
	s = a + b
	t := s - a
	return s, (a - (s - t)) + (b - t)
}

func (d *double) add(v float64) {
	var low float64
	d.high, low = twoSum(d.high, v)
	d.low += low
}

func (d *double) addProduct(a, b float64) {
	p := float64(a * b) // rounded here: some processors would fuse it with the sum
	d.add(p)
	d.low += math.FMA(a, b, -p)
}

// into adds the sum, rounded to 106 bits, exactly.
func (d *double) into(s *exact.Sum) {
	s.Add(d.high)
	s.Add(d.low)
}

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

// clusters are the sums that the standard error of a mean needs, over clusters
// of visits with count n and sum s each.
type clusters struct {
	k          int64     // clusters
	nn, ns, ss exact.Sum // Σ n², Σ n·s, Σ s²
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
