package tally

import (
	"math"
	"math/bits"
	"slices"
)

// A log's whole samples in a cell of many values are counted in words: above the value's
// bits that a coarser level keeps, below how many samples have them. That is half the
// memory of slots, and a word sorts as it is.

// number are the bits of a word that count samples: no log has so many.
const number = 1<<coarse - 1

// packed are slots of whole samples at a coarser level as words.
func packed(list []slot) []uint64 {
	words := make([]uint64, len(list), distinct)
	for i, s := range list {
		words[i] = s.bits | s.weight/whole
	}
	return words
}

// slots is the list, of everything that was counted; it may be in the room.
func (c *counts) slots(r *room) []slot {
	if c.flush(); c.packed == nil {
		return c.list
	}
	r.values = r.values[:0]
	for _, w := range c.packed {
		r.values = append(r.values, slot{w &^ number, w & number * whole})
	}
	return r.values
}

// unpack makes a list of words, to which any weight can be added.
func (c *counts) unpack() {
	if c.packed != nil {
		c.list = slices.Clone(c.slots(new(room)))
		c.packed = nil
	}
}

// addPacked takes samples, as many as there is room for, and returns the others.
func (c *counts) addPacked(list []sample) []sample {
	n := min(len(list), mostWaiting-len(c.samples))
	for i := range list[:n] {
		c.samples = append(c.samples, math.Float64bits(list[i].value))
	}
	if len(c.samples) == mostWaiting {
		c.flush()
	}
	return list[n:]
}

// pack brings the samples that wait into the words, and goes on to the level that has
// room for them.
func (c *counts) pack(r *room) {
	c.moments.takeWhole(c.samples)
	keep, n := mask(c.level), len(c.samples)
	r.words = slices.Grow(r.words[:0], 3*n+len(c.packed)+1)
	all := r.words[:cap(r.words)]
	for i, bits := range c.samples {
		all[i] = bits&keep | 1
	}
	list := mergeWords(all[2*n:], c.packed, sortWords(all[:n], all[n:2*n], 53-uint(levels[c.level])))
	for ; len(list) > distinct && c.level < len(levels)-1; list = joinWords(list) {
		c.level++
		for i := range list {
			list[i] &= mask(c.level) | number
		}
	}
	c.packed, c.samples = append(c.packed[:0], list...), c.samples[:0]
}

// sortWords is [sortSlots] of words, by the bits from one on.
func sortWords(list, room []uint64, shift uint) []uint64 {
	const digit, size = 11, 1 << 11 // mostly two digits are what a level keeps
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

// mergeWords is [merge] of words.
func mergeWords(room, a, b []uint64) []uint64 {
	const end = math.MaxUint64 // past any number
	last, n, i, j := uint64(0), 0, 0, 0
	for range len(a) + len(b) {
		x, y := uint64(end), uint64(end)
		if i < len(a) {
			x = a[i]
		}
		if j < len(b) {
			y = b[j]
		}
		_, second := bits.Sub64(y, x, 0) // 1 where it is the less
		next := x ^ (x^y)&-second
		i, j = i+1-int(second), j+int(second)
		room[n] = last
		_, same := bits.Sub64((next^last)>>coarse, 1, 0)
		n += 1 - int(same)
		last = next + last&number&-same
	}
	room[n] = last
	if list := room[:n+1]; list[0]&number > 0 {
		return list
	}
	return room[1 : n+1] // before the first there was none
}

// joinWords makes one of those that are of the same bits, in a list in order.
func joinWords(list []uint64) []uint64 {
	n := 0
	for _, w := range list[1:] {
		if (w^list[n])>>coarse == 0 {
			list[n] += w & number
			continue
		}
		n++
		list[n] = w
	}
	return list[:n+1]
}
