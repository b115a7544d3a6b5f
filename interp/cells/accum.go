package cells

import (
	"math"

	"calsplice/interp/cells/exact"
)

// visit is one unbroken stay in one cell, for one channel, while it lasts. Its
// sums are in double-double arithmetic: within a visit the order of samples is
// the log's own, so they are the same each time, and they hold 106 bits.
type visit struct {
	cell     int32
	next     int32   // visit of the same cell, once it is over; −1 for none
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
	c.ns.AddProduct(n, s)
	c.ss.AddProduct(s, s)
	if n < 1<<25 && n == math.Trunc(n) {
		c.nn.AddWhole(n * n)
	} else {
		c.nn.AddProduct(n, n)
	}
}

// batch is a cluster of visits that is not closed yet.
type batch struct{ start, n, s float64 }

// batches are the open clusters of one channel in one cell, for all spans but
// the first.
type batches [len(spans) - 1]batch

// double is a double-double sum: it holds 106 bits, and is used only where the
// order of its terms is always the same.
type double struct{ high, low float64 }

func (d *double) add(v float64) {
	var low float64
	d.high, low = twoSum(d.high, v)
	d.low += low
}

func (d *double) addProduct(a, b float64) {
	p := a * b
	d.add(p)
	d.low += math.FMA(a, b, -p)
}

// into adds the sum, rounded to 106 bits, exactly.
func (d *double) into(s *exact.Sum) {
	s.Add(d.high)
	s.Add(d.low)
}

// group is the visits of one cell among a log's next few hundred visits. One
// log's visits come in one order, and are cut into the same groups each time;
// so their sums need not be exact, only what is added to the cell.
type group struct {
	n, w2, x, xx, nn, ns, ss double
	visits                   int64
	min, max                 float64
}

func (g *group) add(v *visit) {
	if g.visits == 0 {
		g.min, g.max = v.min, v.max
	}
	g.min, g.max = min(g.min, v.min), max(g.max, v.max)
	g.visits++
	g.n.add(v.n)
	g.w2.add(v.w2)
	g.x.add(v.s)
	g.x.low += v.sLow
	g.xx.add(v.q)
	g.xx.low += v.qLow
	g.nn.addProduct(v.n, v.n)
	g.ns.addProduct(v.n, v.s)
	g.ss.addProduct(v.s, v.s)
}

// add adds a group of visits, and goes on with the clusters that are open.
func (c *cell) add(g *group) {
	if c.visits == 0 {
		c.min, c.max = g.min, g.max
	}
	c.min, c.max = min(c.min, g.min), max(c.max, g.max)
	c.visits += g.visits
	g.n.into(&c.sum[sumN])
	g.w2.into(&c.sum[sumW2])
	g.x.into(&c.sum[sumX])
	g.xx.into(&c.sum[sumXX])
	k := &c.cluster[0]
	k.k += g.visits
	g.nn.into(&k.nn)
	g.ns.into(&k.ns)
	g.ss.into(&k.ss)
}

// goOn puts a visit into the open cluster of the first span (0), or begins a new
// one. A cluster that is over goes on in the one of the next span.
func (c *cell) goOn(open *batches, first int, start, n, s float64) {
	for i := first; i < len(open); i++ {
		b := &open[i]
		if b.n > 0 && start >= b.start && start < b.start+spans[i+1] {
			b.n += n
			b.s += s
			return
		}
		was := *b
		*b = batch{start, n, s}
		if was.n == 0 {
			return
		}
		c.cluster[i+1].add(was.n, was.s)
		start, n, s = was.start, was.n, was.s
	}
}

// closeBatches ends the clusters that are open when the log ends.
func (c *cell) closeBatches(open *batches) {
	for i := range open {
		b := &open[i]
		if b.n == 0 {
			continue
		}
		c.cluster[i+1].add(b.n, b.s)
		if i+1 < len(open) {
			c.goOn(open, i+1, b.start, b.n, b.s)
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
