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
	eachZero = 0x3030303030303030
)

// matches marks the bytes of w that equal the byte repeated in pattern.
func matches(w, pattern uint64) uint64 {
	x := w ^ pattern
	return ^((x&lowBits + lowBits) | x | lowBits)
}

// smallNumber reads a plain decimal of up to eight digits and mark in
// buf[start:end] without a branch on its digits. It is not ok where number has
// to look.
func smallNumber(buf []byte, start, end int, mark uint64) (float64, bool) {
	if start >= end {
		return 0, false
	}
	neg := 0 // signs come and go, so they take no branch
	if buf[start] == '-' {
		neg = 1
	}
	n := end - start - neg
	if uint(n-1) > 7 || end < 8 {
		return 0, false
	}
	w := binary.LittleEndian.Uint64(buf[end-8 : end])
	keep := ^uint64(0) << (64 - 8*uint(n))
	w = w&keep | eachZero&^keep
	frac := 0
	if dot := matches(w, mark); dot != 0 {
		if n == 1 {
			return 0, false
		}
		k := uint(bits.TrailingZeros64(dot)) >> 3
		frac = 7 - int(k)
		before := uint64(1)<<(8*k) - 1
		after := ^(uint64(1)<<(8*k+8) - 1)
		w = w&before<<8 | w&after | '0'
	}
	w ^= eachZero
	if (w+0x7676767676767676|w)&topBits != 0 {
		return 0, false
	}
	w = w * 2561 >> 8
	w = w & 0x00ff00ff00ff00ff * 6553601 >> 16
	w = w & 0x0000ffff0000ffff * 42949672960001 >> 32
	v := float64(w) / powersOf10[frac&7]
	return math.Float64frombits(math.Float64bits(v) ^ uint64(neg)<<63), true
}
