package cells

import (
	"math"

	"calsplice/interp/cells/exact"
)

// visit is one unbroken stay in one cell, for one channel, while it lasts. Its
// sums are in double-double arithmetic: within a visit the order of samples is
// the log's own, so they are the same each time, and they hold 106 bits.
type visit struct {
	n, w2    float64 // Σ weight, Σ weight²
	s, q     double  // Σ weight·value, Σ weight·value²
	min, max float64
	start    float64 // seconds, of its first sample
}

// add takes one sample of a weight above 0.
func (v *visit) add(now, x, weight float64) {
	if v.n == 0 {
		v.min, v.max, v.start = x, x, now
	}
	v.n += weight
	v.w2 += weight * weight
	wx := weight * x
	rest := math.FMA(weight, x, -wx) // what rounding took from the product
	v.s.add(wx)
	v.s.low += rest
	v.q.addProduct(wx, x)
	v.q.low += rest * x
	v.min, v.max = min(v.min, x), max(v.max, x)
}

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

func (d *double) addDouble(v double) {
	d.add(v.high)
	d.low += v.low
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

// cellLog is what one log adds to a cell, while it is read. A log's visits come
// in one order; so these sums need not be exact, only what is added to the cell
// when the log ends.
type cellLog struct {
	visits      int64
	min, max    float64
	n, w2, x, q double
	cluster     [len(spans)]clusterLog
	open        [len(spans) - 1]batch // clusters that are not closed yet, for all spans but the first
}

type clusterLog struct {
	k          int64
	nn, ns, ss double
}

// batch is a cluster of visits that is not closed yet.
type batch struct{ start, n, s float64 }

func (c *clusterLog) add(n, s float64) {
	c.k++
	c.nn.addProduct(n, n)
	c.ns.addProduct(n, s)
	c.ss.addProduct(s, s)
}

// add adds a visit that is over.
func (c *cellLog) add(v *visit) {
	if c.visits == 0 {
		c.min, c.max = v.min, v.max
	}
	if v.min < c.min {
		c.min = v.min
	}
	if v.max > c.max {
		c.max = v.max
	}
	c.visits++
	c.n.add(v.n)
	c.w2.add(v.w2)
	c.x.addDouble(v.s)
	c.q.addDouble(v.q)
	c.cluster[0].add(v.n, v.s.high)
	c.goOn(0, batch{v.start, v.n, v.s.high})
}

// goOn puts a visit into the open cluster of the first span, or begins a new
// one. A cluster that is over goes on in the one of the next span.
func (c *cellLog) goOn(first int, b batch) {
	for i := first; i < len(c.open); i++ {
		o := &c.open[i]
		if o.n > 0 && b.start >= o.start && b.start < o.start+spans[i+1] {
			o.n += b.n
			o.s += b.s
			return
		}
		b, *o = *o, b
		if b.n == 0 {
			return
		}
		c.cluster[i+1].add(b.n, b.s)
	}
}

// into ends the clusters that are open when the log ends, and adds everything
// to the cell.
func (c *cellLog) into(to *cell) {
	for i := range c.open {
		if b := c.open[i]; b.n > 0 {
			c.cluster[i+1].add(b.n, b.s)
			c.goOn(i+1, b)
		}
	}
	if to.visits == 0 {
		to.min, to.max = c.min, c.max
	}
	to.min, to.max = min(to.min, c.min), max(to.max, c.max)
	to.visits += c.visits
	c.n.into(&to.sum[sumN])
	c.w2.into(&to.sum[sumW2])
	c.x.into(&to.sum[sumX])
	c.q.into(&to.sum[sumXX])
	for i := range c.cluster {
		from, k := &c.cluster[i], &to.cluster[i]
		k.k += from.k
		from.nn.into(&k.nn)
		from.ns.into(&k.ns)
		from.ss.into(&k.ss)
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
