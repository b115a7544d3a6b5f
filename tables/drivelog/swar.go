package drivelog

import (
	"encoding/binary"
	"math"
	"math/bits"
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
	return gathered(block[0:8], pattern) | gathered(block[8:16], pattern)<<8 |
		gathered(block[16:24], pattern)<<16 | gathered(block[24:32], pattern)<<24 |
		gathered(block[32:40], pattern)<<32 | gathered(block[40:48], pattern)<<40 |
		gathered(block[48:56], pattern)<<48 | gathered(block[56:64], pattern)<<56
}

// gathered is matches with its eight top bits brought together by a product.
func gathered(b []byte, pattern uint64) uint64 {
	return matches(binary.LittleEndian.Uint64(b), pattern) >> 7 * 0x0102040810204080 >> 56
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
		scale: powersOf10[min(decimals, 7)]}
}

// number reads a plain decimal of this shape and at most eight characters in
// buf[start:end] without a branch on them. It is not ok where another reader
// has to look.
func (s *shape) number(buf []byte, start, end int) (float64, bool) {
	w, neg, ok := lastEight(buf, start, end)
	if !ok || w&s.markMask != s.mark {
		return 0, false
	}
	v, ok := digits(w&s.before<<8 | w&s.after)
	v /= s.scale
	return math.Float64frombits(math.Float64bits(v) ^ neg<<63), ok
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

// digits is the number that eight digits spell, the first in the lowest byte.
func digits(w uint64) (float64, bool) {
	ok := (w+0x7676767676767676|w)&topBits == 0
	w = w * 2561 >> 8
	w = w & 0x00ff00ff00ff00ff * 6553601 >> 16
	w = w & 0x0000ffff0000ffff * 42949672960001 >> 32
	return float64(w), ok
}

// smallNumber reads a plain decimal of up to eight digits and a mark, which is
// given in each byte of a word, in buf[start:end] without a branch on its digits.
// It is not ok where number has to look.
func smallNumber(buf []byte, start, end int, mark uint64) (float64, bool) {
	w, neg, ok := lastEight(buf, start, end)
	if !ok {
		return 0, false
	}
	frac := 0
	if dot := matches(w, mark^eachZero); dot != 0 {
		if end-start-int(neg) == 1 {
			return 0, false
		}
		k := uint(bits.TrailingZeros64(dot)) >> 3
		frac = 7 - int(k)
		before := uint64(1)<<(8*k) - 1
		after := ^(uint64(1)<<(8*k+8) - 1)
		w = w&before<<8 | w&after
	}
	v, ok := digits(w)
	v /= powersOf10[frac&7]
	return math.Float64frombits(math.Float64bits(v) ^ neg<<63), ok
}
