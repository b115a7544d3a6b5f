package tally

import (
	"calsplice/interp/cells/exact"
)

// Cell holds the evidence of one channel in one cell. All its sums are exact,
// so that they do not depend on which visit came first or was read by whom.
type Cell struct {
	visits   int64
	min, max float64
	sum      [sums]exact.Num
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
	nn, ns, ss exact.Num // Σ n², Σ n·s, Σ s²
}

// Merge adds another cell's evidence.
func (c *Cell) Merge(o *Cell) {
	if o.visits == 0 {
		return
	}
	if c.visits == 0 {
		c.min, c.max = o.min, o.max
	}
	c.min, c.max = min(c.min, o.min), max(c.max, o.max)
	c.visits += o.visits
	for i := range c.sum {
		c.sum[i] = c.sum[i].Add(o.sum[i])
	}
	was := c.cluster
	for i := range c.cluster {
		a, b := &c.cluster[i], &o.cluster[i]
		if i > 0 && was[i] == was[i-1] && *b == o.cluster[i-1] {
			*a = c.cluster[i-1] // most often no visits are near each other, and all spans are one
			continue
		}
		a.k += b.k
		a.nn, a.ns, a.ss = a.nn.Add(b.nn), a.ns.Add(b.ns), a.ss.Add(b.ss)
	}
	c.counts.merge(&o.counts)
}

// Visits is how many separate stays the cell has samples of.
func (c *Cell) Visits() int64 { return c.visits }

// AddLimit counts samples that stood at a trim's limit.
func (c *Cell) AddLimit(weight float64) {
	c.sum[sumLimit] = c.sum[sumLimit].Add(exact.Of(weight))
}
