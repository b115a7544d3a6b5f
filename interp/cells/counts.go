package cells

import (
	"encoding/binary"
	"math"
	"math/bits"
	"slices"
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

// counts is how often each value occurred: an open hash table from the bits of
// a value to a weight in units of [whole]. The zero counts is empty.
type counts struct {
	level   int // index into levels
	used    int
	slots   []slot // a power of two of them; a slot with weight 0 is free
	waiting []slot // values not yet in the table
}

// together is how many values wait for one visit to the table: its places are
// far apart in memory, and the processor fetches several at once when nothing
// stands between.
const together = 128

type slot struct{ bits, weight uint64 }

// add counts a value. Weight 0 counts nothing.
func (c *counts) add(v float64, weight uint64) {
	if weight == 0 {
		return
	}
	if c.waiting == nil {
		c.waiting = make([]slot, 0, together)
	}
	c.waiting = append(c.waiting, slot{math.Float64bits(v + 0), weight}) // −0 + 0 is 0
	if len(c.waiting) == together {
		c.flush()
	}
}

// flush puts what waits into the table. Whoever reads the table calls it first.
func (c *counts) flush() {
	for _, s := range c.waiting {
		c.addBits(s.bits, s.weight)
	}
	c.waiting = c.waiting[:0]
}

func (c *counts) addBits(bits, weight uint64) {
	bits &= c.mask()
	if 4*c.used >= 3*len(c.slots) {
		c.rehash(max(16, 2*len(c.slots)))
	}
	i := c.find(bits)
	if c.slots[i].weight == 0 {
		c.used++
	}
	c.slots[i] = slot{bits, c.slots[i].weight + weight}
	if c.used > distinct {
		c.coarsen(c.level + 1)
	}
}

// mask keeps the bits of a double that the level tells apart.
func (c *counts) mask() uint64 { return ^uint64(0) << (53 - levels[c.level]) }

// find is the slot of a value, or the free slot where it belongs.
func (c *counts) find(bits uint64) int {
	last := uint64(len(c.slots) - 1)
	// The top of the product depends on every bit (Fibonacci hashing).
	i := (bits ^ bits>>32) * 0x9e3779b97f4a7c15 >> 40 & last
	for c.slots[i].weight != 0 && c.slots[i].bits != bits {
		i = (i + 1) & last
	}
	return int(i)
}

func (c *counts) rehash(size int) {
	old := c.slots
	c.slots, c.used = make([]slot, size), 0
	for _, s := range old {
		if s.weight != 0 {
			s.bits &= c.mask()
			i := c.find(s.bits)
			if c.slots[i].weight == 0 {
				c.used++
			}
			c.slots[i] = slot{s.bits, c.slots[i].weight + s.weight}
		}
	}
}

// coarsen goes on to a level at which no more than [distinct] values are left.
func (c *counts) coarsen(level int) {
	for c.level = level; ; c.level++ {
		c.rehash(len(c.slots))
		if c.used <= distinct || c.level == len(levels)-1 {
			return
		}
	}
}

// merge adds another cell's counts.
func (c *counts) merge(o *counts) {
	o.flush()
	if o.level > c.level {
		c.level = o.level
		c.rehash(len(c.slots))
	}
	for _, s := range o.slots {
		if s.weight != 0 {
			c.addBits(s.bits, s.weight)
		}
	}
}

// sorted lists values and weights in increasing order. A value of a coarse bin
// is the bin's middle.
func (c *counts) sorted() (values []float64, weights []uint64) {
	c.flush()
	list := make([]slot, 0, c.used)
	for _, s := range c.slots {
		if s.weight != 0 {
			list = append(list, s)
		}
	}
	slices.SortFunc(list, func(a, b slot) int {
		if less(a.bits, b.bits) {
			return -1
		}
		return 1 // no two are equal
	})
	half := uint64(0)
	if p := levels[c.level]; p < 53 {
		half = 1 << (52 - p)
	}
	for _, s := range list {
		v := math.Float64frombits(s.bits | half)
		if s.bits<<1 == 0 {
			v = 0 // zero is zero at every level
		}
		values, weights = append(values, v), append(weights, s.weight)
	}
	return values, weights
}

func less(a, b uint64) bool {
	return math.Float64frombits(a) < math.Float64frombits(b)
}

// quantile of whole samples: linear between the order statistics around
// position q·(n − 1), type 7 of Hyndman and Fan, "Sample quantiles in
// statistical packages" (The American Statistician 50, 1996); the usual default
// of data tools. The weight of one sample is unit.
func (c *counts) quantile(q float64, unit uint64) float64 {
	values, weights := c.sorted()
	var n uint64
	for _, w := range weights {
		n += w / unit
	}
	if n == 0 {
		return math.NaN()
	}
	at := q * float64(n-1)
	rank := uint64(at)
	order := func(r uint64) float64 {
		var below uint64
		for i, w := range weights {
			if below += w / unit; r < below {
				return values[i]
			}
		}
		return values[len(values)-1]
	}
	low := order(rank)
	return low + (order(rank+1)-low)*(at-float64(rank))
}

// share is the smallest value at which the weight up to it reaches the share q
// of all: the quantile of weighted samples.
func (c *counts) share(q float64) float64 {
	values, weights := c.sorted()
	var total, below uint64
	for _, w := range weights {
		total += w
	}
	for i, w := range weights {
		if below += w; float64(below) >= q*float64(total) {
			return values[i]
		}
	}
	return math.NaN()
}

// append encodes the counts in order of value, so that equal counts have equal
// bytes: the level, the number of values, and for each value the step from the
// one before, over the bits that the level keeps, and the weight.
func (c *counts) append(b []byte) []byte {
	c.flush()
	list := make([]slot, 0, c.used)
	for _, s := range c.slots {
		if s.weight != 0 {
			list = append(list, s)
		}
	}
	slices.SortFunc(list, func(a, b slot) int {
		if a.bits < b.bits {
			return -1
		}
		return 1
	})
	// The last bits that no value and no weight has need not be written.
	spare, light := 63, 63
	for _, s := range list {
		spare, light = min(spare, bits.TrailingZeros64(s.bits)), min(light, bits.TrailingZeros64(s.weight))
	}
	b = append(b, byte(c.level), byte(spare), byte(light))
	b = binary.AppendUvarint(b, uint64(len(list)))
	var before uint64
	for _, s := range list {
		b = binary.AppendUvarint(b, s.bits>>spare-before)
		b = binary.AppendUvarint(b, s.weight>>light)
		before = s.bits >> spare
	}
	return b
}

// addEncoded adds counts from their encoding and returns the bytes behind them.
func (c *counts) addEncoded(b []byte) ([]byte, error) {
	if len(b) < 4 || int(b[0]) >= len(levels) || b[1] > 63 || b[2] > 63 {
		return nil, errState
	}
	level, spare, light := int(b[0]), b[1], b[2]
	n, b, err := uvarint(b[3:])
	if err != nil || n > distinct {
		return nil, errState
	}
	if level > c.level {
		c.level = level
		c.rehash(len(c.slots))
	}
	if c.used == 0 && n > 0 {
		size := 16
		for 3*size <= 4*int(n) {
			size *= 2
		}
		c.slots = make([]slot, max(size, len(c.slots)))
	}
	var at, step, weight uint64
	for range n {
		if step, b, err = uvarint(b); err != nil {
			return nil, err
		}
		if weight, b, err = uvarint(b); err != nil {
			return nil, err
		}
		at, weight = at+step, weight<<light
		if v := math.Float64frombits(at << spare); weight == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, errState
		}
		c.addBits(at<<spare, weight)
	}
	return b, nil
}
