package rows

import (
	"math/bits"

	"calsplice/tables/drivelog/dialect"
)

// Eight bytes are looked at in one word: the trade calls it SWAR.

const (
	eachByte = 0x0101010101010101
	topBits  = 0x8080808080808080
	lowBits  = 0x7f7f7f7f7f7f7f7f
	eachZero = 0x3030303030303030 // digits
)

// shape is how the numbers of a column are written as a rule: with so many
// decimals behind the mark. Its words are for the last eight characters of a number,
// the very last in the top byte.
type shape struct {
	mark    uint64     // what makes digits of characters, and 0 of the decimal mark in its place
	before  uint64     // the bytes before the mark
	least   uint64     // added to digits, and 0 for the mark, it sets no byte's top bit; else one
	fewest  uint       // characters of a number
	span    uint       // how many more it may have
	shift   uint64     // less one, moves a byte to the next place
	scales  [2]float64 // what its digits are divided by; the second below zero
	above   float64    // what the digits before the last eight characters count for
	decimal byte       // the mark itself
}

// newShape is the shape of numbers with so many decimals.
func newShape(decimals int, mark byte) shape {
	s := shape{mark: eachZero, least: notNine, fewest: 1, span: 7, shift: 255, scales: [2]float64{1, -1}, above: 1e8, decimal: mark}
	if decimals > 0 {
		decimals = min(decimals, 7)
		at := 56 - 8*decimals
		s.mark, s.before, s.least = s.mark^uint64(mark^'0')<<at, 1<<at-1, s.least|0x7f<<at
		s.fewest, s.span, s.above, s.scales[0] = uint(decimals)+1, 7-uint(decimals), 1e7, dialect.PowersOf10[decimals]
		s.scales[1] = -s.scales[0]
	}
	return s
}

// numbers reads the numbers in cells, and marks those that are empty, or odd: no plain
// number. The first one tells how long they are as a rule, as in a clock's column.
func (s *shape) numbers(text *window, c *cells, out []float64) (empty, odd uint64) {
	read := s.short
	if from, to := bounds(c.at(0)); to-from > 8 {
		read = s.long
	}
	for rest := read(text, c, out); rest != 0; rest &= rest - 1 {
		i := bits.TrailingZeros64(rest)
		from, to := bounds(c.at(i))
		if from == to {
			empty |= 1 << i
		} else if v, ok := dialect.Number(text[min(from, to):to], s.decimal); ok {
			out[i] = v
		} else {
			odd |= 1 << i
		}
	}
	return empty, odd
}

// plain reads the numbers of this shape and at most eight characters, and marks the
// other cells, in a loop that is nothing else.
func (s *shape) plain(text *window, c *cells, out []float64) (rest uint64) {
	for i := range out {
		cell := c.at(i)
		from, to := uint(uint16(cell)+1), uint(cell>>16)
		neg := uint(0)
		if text[from&inWindow] == '-' { // signs come and go, so they take no branch
			neg = 1
		}
		n := to - from - neg
		w := (text.word(to-8) ^ s.mark) & lasts[n&15]
		if n-s.fewest > s.span || (w+s.least|w)&topBits != 0 {
			rest |= 1 << (i & 63)
			continue
		}
		out[i] = number8(w+w&s.before*s.shift) / s.scales[neg&1]
	}
	return rest
}

// lasts are masks of the last bytes of a word, by their number.
var lasts = func() (list [16]uint64) {
	for n := range uint(9) {
		list[n] = ^uint64(0) << (64 - 8*n)
	}
	return list
}()

// plainLong is [shape.plain] for numbers of 9 to 16 characters: of so many digits a double is their
// nearest.
func (s *shape) plainLong(text *window, c *cells, out []float64) (rest uint64) {
	for i := range out {
		cell := c.at(i)
		from, to := uint(uint16(cell)+1), uint(cell>>16)
		neg := uint(0)
		if text[from&inWindow] == '-' {
			neg = 1
		}
		n := to - from - neg - 8
		low, high := text.word(to-8)^s.mark, (text.word(to-16)^eachZero)&lasts[n&15]
		if n-1 > 7 || ((low+s.least|low)|(high+notNine|high))&topBits != 0 {
			rest |= 1 << (i & 63)
			continue
		}
		out[i] = (float64(number8(high)*s.above) + number8(low+low&s.before*s.shift)) / s.scales[neg&1]
	}
	return rest
}

// number8 is the number that eight digits spell, the first in the lowest byte.
func number8(w uint64) float64 {
	w = w * 2561 >> 8
	w = w & 0x00ff00ff00ff00ff * 6553601 >> 16
	w = w & 0x0000ffff0000ffff * 42949672960001 >> 32
	return float64(int64(w))
}

// notNine is what sets the top bit of a byte above 9 when it is added.
const notNine = 0x7676767676767676
