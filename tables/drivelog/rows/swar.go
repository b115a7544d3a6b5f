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
}

func newShape(decimals int, mark byte) shape {
	if decimals == 0 {
		return shape{after: ^uint64(0), scale: 1}
	}
	at := 56 - 8*min(decimals, 7)
	return shape{mark: uint64(mark^'0') << at, markMask: 0xff << at, before: 1<<at - 1, after: ^uint64(0) << (at + 8),
		scale: dialect.PowersOf10[min(decimals, 7)]}
}

// numbers reads plain decimals of this shape and at most eight characters, in
// buf[from[i]:to[i]], without a branch on them. It marks those that are not of
// the shape as odd, and is false where there are any.
func (s shape) numbers(buf []byte, from, to []int32, out []float64, odd []bool) bool {
	to, out, odd = to[:len(from)], out[:len(from)], odd[:len(from)]
	mark, markMask, before, after, scale := s.mark, s.markMask, s.before, s.after, s.scale
	all := true
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
			odd[i], all = true, false
			continue
		}
		last = math.Float64frombits(math.Float64bits(number8(digits)/scale) ^ neg<<63)
		lastW, lastNeg, out[i] = w, neg, last
	}
	return all
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

// number8 is the number that eight digits spell, the first in the lowest byte.
func number8(w uint64) float64 {
	w = w * 2561 >> 8
	w = w & 0x00ff00ff00ff00ff * 6553601 >> 16
	w = w & 0x0000ffff0000ffff * 42949672960001 >> 32
	return float64(w)
}

// notDigits is not 0 where a byte of a word is above 9.
func notDigits(w uint64) uint64 { return (w + 0x7676767676767676 | w) & topBits }

// smallNumber reads a plain decimal of up to eight digits and a mark, in
// buf[start:end], without a branch on its digits. It is not ok where number has to
// look.
func smallNumber(buf []byte, start, end int, mark byte) (float64, bool) {
	w, neg, ok := lastEight(buf, start, end)
	if !ok {
		return 0, false
	}
	frac := 0
	if dot := matches(w, eachByte*uint64(mark)^eachZero); dot != 0 {
		if end-start-int(neg) == 1 || mark == dialect.Undecided {
			return 0, false
		}
		k := uint(bits.TrailingZeros64(dot)) >> 3
		frac = 7 - int(k)
		before := uint64(1)<<(8*k) - 1
		after := ^(uint64(1)<<(8*k+8) - 1)
		w = w&before<<8 | w&after
	}
	if notDigits(w) != 0 {
		return 0, false
	}
	v := number8(w) / dialect.PowersOf10[frac&7]
	return math.Float64frombits(math.Float64bits(v) ^ neg<<63), true
}
