package tally

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// distinct is how many distinct values a cell tells apart before it makes them
// coarser.
const distinct = 4096

// levels are the significant bits at which values are told apart: all of them
// first, fewer where a cell holds more than [distinct] values. A coarser level
// cuts bits off, so that the values of one bin at a level stay in one bin at
// every coarser one; that makes the level, and so every count, a function of
// the samples alone and not of their order.
var levels = [...]uint8{53, 16, 14, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1}

// counts is how often each value occurred, as a weight in units of [whole]: a
// list by the bits of the values, and while more come an open hash table. The
// zero counts is empty.
type counts struct {
	level   int    // index into levels
	list    []slot // by ascending bits; nil while there is a table
	used    int
	table   []slot // a power of two of them; a slot with weight 0 is free
	waiting []slot // values not yet in the table
}

// together is how many values wait for one visit to the table: its places are
// far apart in memory, and the processor fetches several at once when nothing
// stands between.
const together = 128

type slot struct{ bits, weight uint64 }

// add counts a value. Weight 0 counts nothing.
func (c *counts) add(v float64, weight uint64) {
	if weight > 0 {
		c.addLater(math.Float64bits(v), weight)
	}
}

func (c *counts) addLater(bits, weight uint64) {
	if c.waiting == nil {
		c.waiting = make([]slot, 0, together)
	}
	c.waiting = append(c.waiting, slot{bits, weight})
	if len(c.waiting) == together {
		c.flush()
	}
}

// flush puts what waits into the table. Whoever reads the table calls it first.
func (c *counts) flush() {
	if len(c.waiting) == 0 {
		return
	}
	c.tabulate()
	for _, s := range c.waiting {
		c.addBits(s.bits, s.weight)
	}
	c.waiting = c.waiting[:0]
}

// tabulate makes a table of the list.
func (c *counts) tabulate() {
	if list := c.list; list != nil {
		size := 16
		for 3*size <= 4*len(list) {
			size *= 2
		}
		c.list, c.used, c.table = nil, 0, make([]slot, size)
		for _, s := range list {
			c.addBits(s.bits, s.weight)
		}
	}
}

// sorted makes a list of the table and of what waits, and is the list.
func (c *counts) sorted() []slot {
	c.flush()
	if c.table != nil {
		list := make([]slot, 0, c.used)
		for _, s := range c.table {
			if s.weight != 0 {
				list = append(list, s)
			}
		}
		slices.SortFunc(list, func(a, b slot) int { return cmp.Compare(a.bits, b.bits) })
		c.list, c.table, c.waiting = list, nil, nil
	}
	return c.list
}

func (c *counts) addBits(bits, weight uint64) {
	bits &= mask(c.level)
	if 4*c.used >= 3*len(c.table) {
		c.rehash(max(16, 2*len(c.table)))
	}
	i := c.find(bits)
	if c.table[i].weight == 0 {
		c.used++
	}
	c.table[i] = slot{bits, c.table[i].weight + weight}
	if c.used > distinct {
		c.coarsen(c.level + 1)
	}
}

// mask keeps the bits of a exact.Double that a level tells apart.
func mask(level int) uint64 { return ^uint64(0) << (53 - levels[level]) }

// find is the slot of a value, or the free slot where it belongs.
func (c *counts) find(bits uint64) int {
	last := uint64(len(c.table) - 1)
	i := hash(bits) & last
	for c.table[i].weight != 0 && c.table[i].bits != bits {
		i = (i + 1) & last
	}
	return int(i)
}

// hash is a place for a value: the top of the product depends on every bit
// (Fibonacci hashing).
func hash(bits uint64) uint64 { return (bits ^ bits>>32) * 0x9e3779b97f4a7c15 >> 40 }

func (c *counts) rehash(size int) {
	old := c.table
	c.table, c.used = make([]slot, size), 0
	for _, s := range old {
		if s.weight != 0 {
			s.bits &= mask(c.level)
			i := c.find(s.bits)
			if c.table[i].weight == 0 {
				c.used++
			}
			c.table[i] = slot{s.bits, c.table[i].weight + s.weight}
		}
	}
}

// coarsen goes on to a level at which no more than [distinct] values are left.
func (c *counts) coarsen(level int) {
	for c.level = level; ; c.level++ {
		c.rehash(len(c.table))
		if c.used <= distinct || c.level == len(levels)-1 {
			return
		}
	}
}

// raise goes on to a level that is not below another's.
func (c *counts) raise(level int) {
	if level > c.level {
		c.tabulate()
		c.level = level
		c.rehash(max(16, len(c.table)))
	}
}

// merge adds another cell's counts.
func (c *counts) merge(o *counts) {
	theirs := o.sorted()
	if len(c.list) == 0 && c.table == nil && len(c.waiting) == 0 {
		c.level, c.list = o.level, theirs // a list is never written to
		return
	}
	c.flush()
	c.tabulate()
	c.raise(o.level)
	for _, s := range theirs {
		c.addBits(s.bits, s.weight)
	}
}

// ascending is the place, in a list by bits, of the k-th smallest value: those
// below zero stand behind, from the largest.
func ascending(list []slot) (place func(k int) int) {
	below := len(list) - sort.Search(len(list), func(i int) bool { return list[i].bits>>63 != 0 })
	return func(k int) int {
		if k < below {
			return len(list) - 1 - k
		}
		return k - below
	}
}

// ordered is a list of values and weights in increasing order of value, by
// position. A value of a coarse bin is the bin's middle.
func (c *counts) ordered() (n int, at func(k int) (v float64, weight uint64)) {
	half := uint64(0)
	if p := levels[c.level]; p < 53 {
		half = 1 << (52 - p)
	}
	list := c.sorted()
	place := ascending(list)
	return len(list), func(k int) (float64, uint64) {
		s := list[place(k)]
		if s.bits<<1 == 0 {
			return 0, s.weight // zero is zero at every level
		}
		return math.Float64frombits(s.bits | half), s.weight
	}
}

// quantile of whole samples: linear between the order statistics around
// position q·(n − 1), type 7 of Hyndman and Fan, "Sample quantiles in
// statistical packages" (The American Statistician 50, 1996); the usual default
// of data tools. The weight of one sample is unit.
func (c *counts) quantile(q float64, unit uint64) float64 {
	var samples uint64
	for _, s := range c.sorted() {
		samples += s.weight / unit
	}
	if samples == 0 {
		return math.NaN()
	}
	place := float64(q * float64(samples-1))
	rank := uint64(place)
	n, at := c.ordered()
	// From above, where high quantiles are near.
	k, below, high := n, samples, math.NaN()
	for {
		k--
		v, w := at(k)
		below -= w / unit
		if math.IsNaN(high) && below <= rank+1 {
			high = v
		}
		if below <= rank {
			return v + float64((high-v)*(place-float64(rank)))
		}
	}
}

// share is the smallest value at which the weight up to it reaches the share q
// of all: the quantile of weighted samples.
func (c *counts) share(q float64) float64 {
	var total, below uint64
	for _, s := range c.sorted() {
		total += s.weight
	}
	n, at := c.ordered()
	for k := range n {
		v, w := at(k)
		if below += w; float64(below) >= q*float64(total) {
			return v
		}
	}
	return math.NaN()
}
