package tally

import (
	"encoding/binary"
	"math"
	"math/bits"
	"slices"
)

// A logger writes a channel with so many decimals: then the values are written
// as whole numbers of the last one, whose steps are small.
const (
	mostPlaces  = 6
	mostDecimal = 1 << 50 // so that no two whole numbers are one value
)

// numbers are the values as whole numbers of their last decimal, in the order
// of list, with the least number of decimals for which that is what they are;
// −1 where there is none.
func (c *counts) numbers(list []slot) (numbers []int64, places int) {
	if c.level > 0 {
		return nil, -1
	}
	numbers = make([]int64, len(list))
	for places <= mostPlaces {
		power, fits := math.Pow10(places), true
		for i := 0; i < len(list) && fits; i++ {
			v := math.Float64frombits(list[i].bits)
			n := v * power
			if fits = math.Abs(n) <= mostDecimal; fits {
				n = math.RoundToEven(n)
				numbers[i], fits = int64(n), n/power == v
			}
		}
		if fits {
			return numbers, places
		}
		places++
	}
	return nil, -1
}

// append encodes the counts, so that equal counts have equal bytes: the level,
// or with the top bit set the decimals of the values; how many bits are off;
// the number of values; and for each value the step from the one before and the
// weight. Steps are in units of the last decimal and in order of value, or over
// the bits that the level keeps and in order of these.
func (c *counts) append(b []byte) []byte {
	list := c.sorted()
	b = slices.Grow(b, 4*len(list)+16)
	// The last bits that no value and no weight has need not be written.
	last := slot{1 << 63, 1 << 63}
	for _, s := range list {
		last.bits, last.weight = last.bits|s.bits, last.weight|s.weight
	}
	spare, light := bits.TrailingZeros64(last.bits), bits.TrailingZeros64(last.weight)
	numbers, places := c.numbers(list)
	if places < 0 {
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
	b = append(b, byte(places)|decimals, 0, byte(light))
	b = binary.AppendUvarint(b, uint64(len(list)))
	var before int64
	place := ascending(list)
	for k := range list {
		i := place(k)
		b = binary.AppendVarint(b, numbers[i]-before)
		b = binary.AppendUvarint(b, list[i].weight>>light)
		before = numbers[i]
	}
	return b
}

// decimals marks counts whose values are written as whole numbers.
const decimals = 0x80

// read takes counts from their encoding.
func (c *counts) read(r *reader) {
	if len(r.b) < 4 {
		r.bad = true
		return
	}
	kind, spare, light := r.b[0], r.b[1], r.b[2]
	r.took(3)
	n := r.uvarint()
	written := c.readBits
	switch places := kind &^ decimals; {
	case n > distinct || n > uint64(len(r.b)) || spare > 63 || light > 63:
		r.bad = true
		return
	case kind == places && int(kind) < len(levels):
		c.level = int(kind)
	case kind != places && places <= mostPlaces && spare == 0:
		spare, written = places, c.readDecimals
	default:
		r.bad = true
		return
	}
	c.list = make([]slot, n)
	written(r, spare)
	for i := range c.list {
		s := &c.list[i]
		s.weight <<= light
		r.bad = r.bad || s.weight == 0
	}
}

// readBits reads values over the bits that their level keeps, in order of these.
func (c *counts) readBits(r *reader, spare byte) {
	var at uint64
	for k := range c.list {
		before := at
		at += r.uvarint()
		s := slot{at << spare, r.uvarint()}
		v := math.Float64frombits(s.bits)
		if at < before || k > 0 && at == before || at > math.MaxUint64>>spare || v-v != 0 || s.bits&^mask(c.level) != 0 {
			r.bad = true
			return
		}
		c.list[k] = s
	}
}

// readDecimals reads values as whole numbers of a decimal, in order of value.
func (c *counts) readDecimals(r *reader, places byte) {
	var at int64
	negative, power := 0, math.Pow10(int(places))
	for k := range c.list {
		step := r.varint()
		if k > 0 && step <= 0 || step > 2*mostDecimal || step < -mostDecimal || at+step > mostDecimal {
			r.bad = true
			return
		}
		if at += step; at < 0 {
			negative++
		}
		c.list[k] = slot{math.Float64bits(float64(at) / power), r.uvarint()}
	}
	// By bits those below zero stand behind, from the largest.
	slices.Reverse(c.list[negative:])
	slices.Reverse(c.list)
}
