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
	r := rooms.Get().(*room)
	defer rooms.Put(r)
	list := c.slots(r)
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

// addEncoded adds counts from their encoding and returns the bytes behind them.
func (c *counts) addEncoded(b []byte) ([]byte, error) {
	if len(b) < 4 || b[1] > 63 || b[2] > 63 {
		return nil, ErrState
	}
	kind, spare, light := b[0], b[1], b[2]
	n, b, err := uvarint(b[3:])
	if err != nil || n > distinct || n > uint64(len(b)) {
		return nil, ErrState
	}
	c.unpack()
	level, list := 0, c.waiting
	empty := c.empty()
	if empty {
		list = make([]slot, 0, n)
	}
	switch {
	case kind&decimals != 0 && kind&^decimals <= mostPlaces && spare == 0:
		list, b, err = readDecimals(list, b, n, int(kind&^decimals), light)
	case int(kind) < len(levels):
		level = int(kind)
		list, b, err = readBits(list, b, n, level, spare, light)
	default:
		err = ErrState
	}
	switch {
	case err != nil:
		return nil, err
	case empty:
		c.level, c.list = level, list
	default:
		if c.waiting = list; level > c.level || len(list) >= c.most() {
			c.raise(level)
		}
	}
	return b, nil
}

func readBits(list []slot, b []byte, n uint64, level int, spare, light byte) (_ []slot, _ []byte, err error) {
	var at, step, weight uint64
	for k := range n {
		if step, b, err = uvarint(b); err != nil {
			return nil, nil, err
		}
		if weight, b, err = uvarint(b); err != nil {
			return nil, nil, err
		}
		before := at
		at += step
		if at < before || k > 0 && step == 0 || at > math.MaxUint64>>spare {
			return nil, nil, ErrState // not in order
		}
		s := slot{at << spare, weight << light}
		if v := math.Float64frombits(s.bits); s.weight == 0 || math.IsNaN(v) || math.IsInf(v, 0) || s.bits&^mask(level) != 0 {
			return nil, nil, ErrState
		}
		list = append(list, s)
	}
	return list, b, nil
}

func readDecimals(list []slot, b []byte, n uint64, places int, light byte) (_ []slot, _ []byte, err error) {
	var at int64
	var weight uint64
	first, negative := len(list), 0
	for k := range n {
		step, size := binary.Varint(b)
		if size <= 0 || k > 0 && step <= 0 || step > 2*mostDecimal || step < -mostDecimal {
			return nil, nil, ErrState
		}
		if weight, b, err = uvarint(b[size:]); err != nil {
			return nil, nil, err
		}
		if at += step; at > mostDecimal || weight<<light == 0 {
			return nil, nil, ErrState
		}
		if at < 0 {
			negative++
		}
		list = append(list, slot{math.Float64bits(float64(at) / math.Pow10(places)), weight << light})
	}
	// By bits those below zero stand behind, from the largest.
	slices.Reverse(list[first+negative:])
	slices.Reverse(list[first:])
	return list, b, nil
}
