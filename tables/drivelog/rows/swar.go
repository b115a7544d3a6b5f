package rows

import (
	"encoding/binary"
	"math"
	"math/bits"

	"calsplice/tables/drivelog/dialect"
)

// Eight bytes are looked at in one word: the trade calls it SWAR. Each mask
// has the top bit of every byte that matches set, and is exact: no carry runs
// from one byte into the next.

const (
	eachByte = 0x0101010101010101
	topBits  = 0x8080808080808080
	lowBits  = 0x7f7f7f7f7f7f7f7f
	eachZero = 0x3030303030303030 // digits
)

// matches marks the bytes of w that equal the byte repeated in pattern.
func matches(w, pattern uint64) uint64 {
	x := w ^ pattern
	return ^((x&lowBits + lowBits) | x | lowBits)
}

// bitmap marks the bytes of a block that equal the byte repeated in pattern, a
// bit a byte.
func bitmap(block *[64]byte, pattern uint64) uint64 {
	return ^(others(block[0:8], pattern) | others(block[8:16], pattern)<<8 |
		others(block[16:24], pattern)<<16 | others(block[24:32], pattern)<<24 |
		others(block[32:40], pattern)<<32 | others(block[40:48], pattern)<<40 |
		others(block[48:56], pattern)<<48 | others(block[56:64], pattern)<<56)
}

// others marks the bytes of eight that differ from that in pattern, a bit a byte:
// the product brings the top bits together.
func others(b []byte, pattern uint64) uint64 {
	x := binary.LittleEndian.Uint64(b) ^ pattern
	return ((x&lowBits + lowBits) | x) & topBits >> 7 * 0x0102040810204080 >> 56
}

// shape is how the numbers of a column are written as a rule: with so many
// decimals behind the mark.
type shape struct {
	mark, markMask uint64 // the decimal mark in its place among the last eight bytes
	before, after  uint64 // the places of the digits before and behind it
	scale          float64
	decimal        byte // the mark itself
}

// newShape is the shape of numbers with so many decimals.
func newShape(decimals int, mark byte) shape {
	if decimals == 0 {
		return shape{after: ^uint64(0), scale: 1, decimal: mark}
	}
	at := 56 - 8*min(decimals, 7)
	return shape{mark: uint64(mark^'0') << at, markMask: 0xff << at, before: 1<<at - 1, after: ^uint64(0) << (at + 8),
		scale: dialect.PowersOf10[min(decimals, 7)], decimal: mark}
}

// numbers reads the numbers in buf[from[i]:to[i]]: those of this shape and at most
// eight characters without a branch on them, others as [wordNumber] does. It marks
// the empty cells, and those in which it finds no number; their values are open.
func (s shape) numbers(buf []byte, from, to []int32, out []float64) (empty, odd uint64) {
	to, out = to[:len(from)], out[:len(from)]
	mark, markMask, before, after, scale := s.mark, s.markMask, s.before, s.after, s.scale
	var lastW, lastNeg uint64
	last := math.NaN() // the number before: slow channels repeat
	for i, start := range from {
		w, neg, ok := lastEight(buf, int(start), int(to[i]))
		if ok && w == lastW && neg == lastNeg && last == last {
			out[i] = last
			continue
		}
		digits := w&before<<8 | w&after
		if !ok || (w^mark)&markMask|notDigits(digits) != 0 {
			v, ok := wordNumber(buf, int(start), int(to[i]), s.decimal)
			switch {
			case ok:
				out[i] = v
			case start == to[i]:
				empty |= 1 << i
			default:
				odd |= 1 << i
			}
			continue
		}
		last = signed(number8(digits)/scale, neg)
		lastW, lastNeg, out[i] = w, neg, last
	}
	return empty, odd
}

// lastEight is the cell in buf[start:end] as a word, its last byte on top, with
// '0' taken off each byte, so that there are zeros before it; neg is 1 for a
// minus sign, which is not in the word. It is not ok for an empty cell or one of
// more characters.
func lastEight(buf []byte, start, end int) (w, neg uint64, ok bool) {
	if start >= end || end < 8 {
		return 0, 0, false
	}
	if buf[start] == '-' { // signs come and go, so they take no branch
		neg = 1
	}
	n := uint(end-start) - uint(neg)
	if n-1 > 7 {
		return 0, 0, false
	}
	w = binary.LittleEndian.Uint64(buf[end-8:end]) ^ eachZero
	return w &^ (1<<((64-8*n)&63) - 1), neg, true
}

// signed gives a number its sign, minus where neg is 1.
func signed(v float64, neg uint64) float64 {
	return math.Float64frombits(math.Float64bits(v) ^ neg<<63)
}

// number8 is the number that eight digits spell, the first in the lowest byte.
func number8(w uint64) float64 {
	w = w * 2561 >> 8
	w = w & 0x00ff00ff00ff00ff * 6553601 >> 16
	w = w & 0x0000ffff0000ffff * 42949672960001 >> 32
	return float64(w)
}

// notDigits is not 0 where a byte of a word is above 9.
func notDigits(w uint64) uint64 { return (w + 0x7676767676767676 | w) & topBits }

// wordNumber reads a plain decimal of up to 15 digits and a mark, in
// buf[start:end], a word at a time: such as a clock's 10000.000. It is not ok where
// [dialect.Number] has to look.
func wordNumber(buf []byte, start, end int, mark byte) (float64, bool) {
	if start >= end || end < 16 {
		return 0, false
	}
	neg := uint64(0)
	if buf[start] == '-' {
		neg = 1
	}
	n := end - start - int(neg)
	if n < 1 || n > 16 {
		return 0, false
	}
	low := binary.LittleEndian.Uint64(buf[end-8:end]) ^ eachZero
	high := binary.LittleEndian.Uint64(buf[end-16:end-8]) ^ eachZero
	if n <= 8 {
		low, high = low&^(1<<((64-8*n)&63)-1), 0
	} else {
		high &^= 1<<((128-8*n)&63) - 1
	}
	low, inLow := withoutMark(low, mark)
	inHigh := -1
	if inLow < 0 {
		high, inHigh = withoutMark(high, mark)
	}
	weight, frac, digits := 1e8, 0, n
	// The digits behind a mark in the low word are the last seven; those of the high
	// word count for so much more.
	switch {
	case inLow >= 0:
		weight, frac, digits = 1e7, 7-inLow, n-1
	case inHigh >= 0:
		frac, digits = 15-inHigh, n-1
	}
	if notDigits(low)|notDigits(high) != 0 || digits == 0 || digits > 15 {
		return 0, false
	}
	v := float64(number8(high)*weight) + number8(low) // whole numbers below 1e15: exact
	return signed(v/dialect.PowersOf10[frac], neg), true
}

// withoutMark takes the first decimal mark out of a word; it is at that byte, or at
// −1 where there is none.
func withoutMark(w uint64, mark byte) (digits uint64, at int) {
	found := matches(w, eachByte*uint64(mark)^eachZero)
	if found == 0 || mark == dialect.Undecided {
		return w, -1
	}
	at = bits.TrailingZeros64(found) >> 3
	before := uint64(1)<<(8*at) - 1
	after := ^before &^ (0xff << (8 * at))
	return w&before<<8 | w&after, at
}
