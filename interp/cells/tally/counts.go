package tally

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
	"sort"
	"sync"
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

// counts is how often each value occurred, as a weight in units of [whole]. The
// zero counts is empty.
type counts struct {
	level   int      // index into levels
	list    []slot   // by ascending bits
	bins    bins     // whole samples that are not yet in the list; while all values are told apart
	samples []uint64 // the bits of others
	waiting []slot   // what weighs more or less than one sample, and is not yet in the list
	moments *moments // of whole samples; nil where nobody asks for them
}

// mostWaiting values wait at most until they are sorted into the list: more of them
// cost memory in each cell, fewer of them time.
const mostWaiting = 2048

type slot struct{ bits, weight uint64 }

// most is how many values wait until they are sorted into the list: as many as it
// has, so that each is moved a few times only.
func (c *counts) most() int { return min(max(len(c.list), 128), mostWaiting) }

// add counts values.
func (c *counts) add(list []slot) {
	for len(list) > 0 {
		n := min(len(list), c.most()-len(c.waiting)-len(c.samples))
		c.waiting = append(c.waiting, list[:n]...)
		if list = list[n:]; len(c.waiting)+len(c.samples) == c.most() {
			c.flush()
		}
	}
}

// addSamples counts the values of samples.
func (c *counts) addSamples(list []sample) {
	for len(list) > 0 {
		left := c.most() - len(c.waiting) - len(c.samples)
		samples := slices.Grow(c.samples, min(len(list), left))
		n, b := 0, c.bins // a copy, which the processor can keep at hand
		for ; n < len(list) && left > 0; n++ {
			p := &list[n]
			if i := b.find(p.value); i >= 0 {
				if b.count[i]++; b.count[i] == 0 {
					c.waiting = append(c.waiting, slot{math.Float64bits(p.value), full * whole})
					left--
				}
				continue
			}
			if weight := uint64(p.weight * whole); weight == whole {
				samples = append(samples, math.Float64bits(p.value))
			} else if weight > 0 {
				c.waiting = append(c.waiting, slot{math.Float64bits(p.value), weight})
			} else {
				continue
			}
			left--
		}
		list, c.samples = list[n:], samples
		if left == 0 {
			c.flush()
		}
	}
}

// mask keeps the bits of a double that a level tells apart.
func mask(level int) uint64 { return ^uint64(0) << (53 - levels[level]) }

// sorted is the list, of everything that was counted.
func (c *counts) sorted() []slot {
	c.flush()
	return c.list
}

// flush brings what is not in the list into it.
func (c *counts) flush() {
	if len(c.waiting)+len(c.samples) == 0 && c.bins.count == nil {
		return
	}
	r := rooms.Get().(*room)
	defer rooms.Put(r)
	if c.bins.count != nil {
		r.values = slices.Grow(r.values[:0], mostBins+1)
		c.bring(c.bins.drain(r.values[:mostBins+1]), r)
	}
	if len(c.waiting) > 0 {
		if c.level > 0 {
			c.moments.take(c.waiting)
		}
		c.bring(c.sortWaiting(r), r)
		c.waiting = c.waiting[:0]
	}
	if len(c.samples) > 0 {
		if c.level > 0 {
			c.moments.takeWhole(c.samples)
		}
		values := c.sortSamples(r)
		c.samples = c.samples[:0]
		if c.bring(values, r); c.level == 0 && c.moments != nil {
			c.bins.cover(values)
		}
	}
}

// sortWaiting is what waits with a weight, in order, at the level of the list.
func (c *counts) sortWaiting(r *room) []slot {
	words, keep := r.forWords(len(c.waiting)), mask(c.level)
	for i := range c.waiting {
		c.waiting[i].bits &= keep
		words[i] = c.waiting[i].bits>>coarse<<coarse | uint64(i)
	}
	r.values = r.values[:0]
	for _, w := range r.sort(words, coarse) {
		r.values = append(r.values, c.waiting[w&(1<<coarse-1)])
	}
	c.sortClose(r.values)
	return r.values
}

// sortSamples is the samples that wait, in order, at the level of the list; those that
// follow each other with one value are counted.
func (c *counts) sortSamples(r *room) []slot {
	words, keep := r.forWords(len(c.samples)), mask(c.level)
	for i, bits := range c.samples {
		words[i] = bits & keep
	}
	values, k := slices.Grow(r.values[:0], len(words))[:len(words)], -1
	for last, bits := range r.sort(words, max(coarse, 53-uint(levels[c.level]))) {
		if last == 0 || bits != values[k].bits {
			k++
			values[k] = slot{bits, 0}
		}
		values[k].weight += whole
	}
	r.values = values[:k+1]
	c.sortClose(r.values)
	return r.values
}

// room is for sorting and merging.
type room struct {
	values, merged []slot
	words          []uint64
}

// forWords is room for words that are then sorted.
func (r *room) forWords(n int) []uint64 {
	r.words = slices.Grow(r.words[:0], 2*n)[:2*n]
	return r.words[:n]
}

var rooms = sync.Pool{New: func() any { return new(room) }}

// bring merges sorted values into the list, and goes on to the level that has room
// for them.
func (c *counts) bring(sorted []slot, r *room) {
	r.merged = slices.Grow(r.merged[:0], len(c.list)+len(sorted)+1)
	list := merge(r.merged[:cap(r.merged)], c.list, sorted)
	if len(list) > distinct && c.level == 0 {
		c.moments.take(list)
		c.bins = bins{}
	}
	for ; len(list) > distinct && c.level < len(levels)-1; list = join(list, c.level) {
		c.level++
	}
	if n := len(list); cap(c.list) < n {
		const step = distinct / 4 // so that no list has room for more than are told apart
		c.list = make([]slot, 0, (n+step-1)/step*step)
	}
	c.list = append(c.list[:0], list...)
}

// coarse is the lowest bit that any level but the first keeps.
const coarse = 37

// sort sorts [room.forWords] by the bits from one on, digit by digit from the last.
func (r *room) sort(list []uint64, shift uint) []uint64 {
	const digit, size = 11, 1 << 11 // mostly two digits are what a level keeps
	room := r.words[len(list):]
	for ; shift < 64; shift += digit {
		var start [size]int32
		for _, w := range list {
			start[w>>shift%size]++
		}
		if int(start[list[0]>>shift%size]) == len(list) {
			continue // all have the same
		}
		at := int32(0)
		for k, n := range start {
			start[k], at = at, at+n
		}
		for _, w := range list {
			k := w >> shift % size
			room[start[k]] = w
			start[k]++
		}
		list, room = room, list
	}
	return list
}

// sortClose sorts those that differ in bits below [coarse] only: few, where a cell's
// values are many.
func (c *counts) sortClose(list []slot) {
	if c.level > 0 {
		return
	}
	for from := 0; from < len(list); {
		to, same := from+1, list[from].bits>>coarse
		for to < len(list) && list[to].bits>>coarse == same {
			to++
		}
		if to > from+1 {
			slices.SortFunc(list[from:to], func(a, b slot) int { return cmp.Compare(a.bits, b.bits) })
		}
		from = to
	}
}

// merge merges two lists that are in order, each value once, into the room, which is
// longer than both mostWaiting. Which of them is next can't be foreseen, so that there is
// no branch for it.
func merge(room, a, b []slot) []slot {
	end := slot{bits: math.MaxUint64} // past any number
	var last slot
	n, i, j := 0, 0, 0
	for range len(a) + len(b) {
		x, y := end, end
		if i < len(a) {
			x = a[i]
		}
		if j < len(b) {
			y = b[j]
		}
		_, second := bits.Sub64(y.bits, x.bits, 0) // 1 where it is the less
		next := slot{x.bits ^ (x.bits^y.bits)&-second, x.weight ^ (x.weight^y.weight)&-second}
		i, j = i+1-int(second), j+int(second)
		room[n] = last
		_, same := bits.Sub64(next.bits^last.bits, 1, 0)
		n += 1 - int(same)
		last = slot{next.bits, next.weight + last.weight&-same}
	}
	room[n] = last
	list := room[:n+1]
	if list[0].weight == 0 {
		list = list[1:] // before the first there was none
	}
	return list
}

// join cuts the values of a list in order to the bits that a level keeps, and makes one of
// those that are the same then: which are can't be foreseen, so that there is no branch for it.
func join(list []slot, level int) []slot {
	n, keep := 0, mask(level)
	last := slot{bits: list[0].bits & keep}
	for _, s := range list {
		list[n] = last
		s.bits &= keep
		_, same := bits.Sub64(s.bits^last.bits, 1, 0)
		n += 1 - int(same)
		last = slot{s.bits, s.weight + last.weight&-same}
	}
	list[n] = last
	return list[:n+1]
}

// raise goes on to a level that is not below another's.
func (c *counts) raise(level int) {
	if level > c.level {
		list := c.sorted()
		if c.level = max(c.level, level); len(list) > 0 {
			c.list = join(list, c.level)
		}
	}
}

// merge adds another cell's counts.
func (c *counts) merge(o *counts) {
	c.raise(o.level)
	c.add(o.sorted())
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

// downTo is the value from which on, upwards, there is enough weight; NaN where there
// never is. A value of a coarse bin is the bin's middle.
func (c *counts) downTo(enough func(weight uint64) bool) float64 {
	half := uint64(0)
	if p := levels[c.level]; p < 53 {
		half = 1 << (52 - p)
	}
	list, sum := c.sorted(), uint64(0)
	place := ascending(list)
	for k := len(list) - 1; k >= 0; k-- {
		s := list[place(k)]
		if sum += s.weight; !enough(sum) {
			continue
		}
		if s.bits<<1 == 0 {
			return 0 // zero is zero at every level
		}
		return math.Float64frombits(s.bits | half)
	}
	return math.NaN()
}

// total is the weight of everything that was counted.
func (c *counts) total() (sum uint64) {
	for _, s := range c.sorted() {
		sum += s.weight
	}
	return sum
}

// quantile of whole samples: linear between the order statistics around
// position q·(n − 1), type 7 of Hyndman and Fan, "Sample quantiles in
// statistical packages" (The American Statistician 50, 1996); the usual default
// of data tools. The weight of one sample is unit.
func (c *counts) quantile(q float64, unit uint64) float64 {
	samples := c.total() / unit
	if samples == 0 {
		return math.NaN()
	}
	place := float64(q * float64(samples-1))
	rank := uint64(place)
	at := func(rank uint64) float64 {
		return c.downTo(func(weight uint64) bool { return weight/unit >= samples-rank })
	}
	low := at(rank)
	return low + float64((at(min(rank+1, samples-1))-low)*(place-float64(rank)))
}

// share is the smallest value at which the weight up to it reaches the share q
// of all: the quantile of weighted samples.
func (c *counts) share(q float64) float64 {
	total := c.total()
	return c.downTo(func(weight uint64) bool { return float64(total-weight) < q*float64(total) })
}
