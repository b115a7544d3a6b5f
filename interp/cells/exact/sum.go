// Package exact adds doubles without rounding, so that a sum does not depend
// on the order of its terms or on who added which of them.
//
// A [Sum] is a fixed-point number wide enough for every double: the small
// superaccumulator of Radford M. Neal, "Fast exact summation using small and
// large superaccumulators" (2015, arXiv:1505.05571), with 32-bit words. A [Num]
// is what is computed from sums afterwards: integers times powers of two, still
// without rounding, until one [Num.Float64] or [Quo] at the end.
package exact

import (
	"encoding/binary"
	"errors"
	"math"
	"math/big"
)

const (
	// words of 32 bits hold the significands of all finite doubles, 2046 + 53
	// bits, and two words of carries.
	words = 68
	// bias is the exponent of the lowest bit of the lowest word: a double is
	// its significand times 2^(e − 1075), with e from 1.
	bias = -1075
	// most additions between two carries: each adds less than 2^53 to a word
	// that carrying leaves below 2^32.
	most = 1000
)

// Sum is an exact sum of doubles. The zero Sum is 0. It holds the words
// between its lowest and its highest bit only: most sums need few of them, and
// have room for these in themselves. So a Sum that was added to must not be
// copied.
type Sum struct {
	first int32   // index of word[0]
	added int32   // since the last carry
	word  []int64 // all but the last below 2^32 after carrying; the last has the sign
	room  [5]int64
}

// Add adds one finite double. It panics at an infinity or NaN, which no sum
// can hold.
func (s *Sum) Add(v float64) {
	b := math.Float64bits(v)
	e := int(b>>52) & 0x7ff
	m := b & (1<<52 - 1)
	switch e {
	case 0:
		if m == 0 {
			return
		}
		e = 1
	case 0x7ff:
		panic("exact: sum of a number that is not finite")
	default:
		m |= 1 << 52
	}
	i, shift := e>>5-int(s.first), uint(e&31)
	if i < 0 || i+1 >= len(s.word) {
		s.hold(e>>5, e>>5+2)
		i = e>>5 - int(s.first)
	}
	low, high := int64(m<<shift&0xffffffff), int64(m>>(32-shift))
	if b>>63 != 0 {
		low, high = -low, -high
	}
	s.word[i] += low
	s.word[i+1] += high
	if s.added++; s.added >= most {
		s.carry()
	}
}

// hold makes room for the words from low to high, and one of carries.
func (s *Sum) hold(low, high int) {
	high = min(high+1, words)
	if len(s.word) > 0 {
		if low >= int(s.first) && high <= int(s.first)+len(s.word) {
			return
		}
		low, high = min(low, int(s.first)), max(high, int(s.first)+len(s.word))
	}
	var word []int64
	if spare := len(s.room) - (high - low); spare >= 0 && len(s.word) == 0 {
		low = max(min(low-spare/2, words-len(s.room)), 0) // what is spare, on both sides
		word = s.room[:]
	} else {
		word = make([]int64, high-low)
		if len(s.word) > 0 {
			copy(word[int(s.first)-low:], s.word)
		}
	}
	s.first, s.word = int32(low), word
}

// AddSum adds another sum.
func (s *Sum) AddSum(o *Sum) {
	if len(o.word) == 0 {
		return
	}
	o.carry()
	s.carry()
	low, high := 0, len(o.word)
	for low < high && o.word[low] == 0 {
		low++
	}
	for low < high && o.word[high-1] == 0 {
		high--
	}
	if low == high {
		return
	}
	s.hold(int(o.first)+low, int(o.first)+high)
	for i, w := range o.word[low:high] {
		s.word[int(o.first-s.first)+low+i] += w
	}
	s.added = 2
}

// carry brings every word but the last into [0, 2^32), and the last one's size
// below it.
func (s *Sum) carry() {
	for i := 0; i < len(s.word); i++ {
		c := s.word[i] >> 32
		if i == len(s.word)-1 {
			if c == 0 || c == -1 {
				break
			}
			s.word = append(s.word, 0)
		}
		s.word[i] -= c << 32
		s.word[i+1] += c
	}
	s.added = 1
}

// magnitude is the sum's sign and the words of its size, lowest first, without
// zero words at either end; first is the index of words[0].
func (s *Sum) magnitude() (negative bool, first int, size []uint32) {
	s.carry()
	m := Sum{first: s.first, word: append([]int64(nil), s.word...)}
	last := len(m.word) - 1
	for last >= 0 && m.word[last] == 0 {
		last--
	}
	if last < 0 {
		return false, 0, nil
	}
	if m.word[last] < 0 {
		negative = true
		for i := range m.word {
			m.word[i] = -m.word[i]
		}
		m.carry()
		for last = len(m.word) - 1; m.word[last] == 0; last-- {
		}
	}
	low := 0
	for m.word[low] == 0 {
		low++
	}
	size = make([]uint32, last-low+1)
	for i := range size {
		size[i] = uint32(m.word[low+i])
	}
	return negative, int(m.first) + low, size
}

// Append appends the sum's one encoding: the same bytes for the same value,
// whatever its terms were.
func (s *Sum) Append(b []byte) []byte {
	negative, first, size := s.magnitude()
	head := uint64(len(size)) << 1
	if negative {
		head |= 1
	}
	b = binary.AppendUvarint(b, head)
	if len(size) == 0 {
		return b
	}
	b = append(b, byte(first))
	for _, w := range size {
		b = binary.LittleEndian.AppendUint32(b, w)
	}
	return b
}

// ErrEncoding says that bytes are not what [Sum.Append] wrote.
var ErrEncoding = errors.New("not an exact sum")

// AddEncoded adds a sum from its encoding and returns the bytes behind it.
func (s *Sum) AddEncoded(b []byte) ([]byte, error) {
	head, n := binary.Uvarint(b)
	if n <= 0 {
		return nil, ErrEncoding
	}
	b = b[n:]
	count := int(head >> 1)
	if count == 0 {
		return b, nil
	}
	if head>>1 > words || len(b) < 1+4*count || int(b[0])+count > words {
		return nil, ErrEncoding
	}
	if s.added++; s.added >= most {
		s.carry()
	}
	first := int(b[0])
	if first < int(s.first) || first+count >= int(s.first)+len(s.word) {
		s.hold(first, first+count)
	}
	first -= int(s.first)
	for i := range count {
		w := int64(binary.LittleEndian.Uint32(b[1+4*i:]))
		if head&1 != 0 {
			w = -w
		}
		s.word[first+i] += w
	}
	return b[1+4*count:], nil
}

// Peek is about the sum that an encoding holds, to 15 digits, and the bytes
// behind it.
func Peek(b []byte) (about float64, rest []byte, err error) {
	head, n := binary.Uvarint(b)
	if n <= 0 {
		return 0, nil, ErrEncoding
	}
	b = b[n:]
	count := int(head >> 1)
	if count == 0 {
		return 0, b, nil
	}
	if head>>1 > words || len(b) < 1+4*count || int(b[0])+count > words {
		return 0, nil, ErrEncoding
	}
	least := max(0, count-4) // what is below them is below a double's last place
	for i := count - 1; i >= least; i-- {
		about = float64(about*(1<<32)) + float64(binary.LittleEndian.Uint32(b[1+4*i:]))
	}
	if head&1 != 0 {
		about = -about
	}
	return math.Ldexp(about, 32*(int(b[0])+least)+bias), b[1+4*count:], nil
}

// Num is the sum as a number to compute with.
func (s *Sum) Num() Num {
	negative, first, size := s.magnitude()
	m := new(big.Int)
	be := make([]byte, 4*len(size))
	for i, w := range size {
		binary.BigEndian.PutUint32(be[4*(len(size)-1-i):], w)
	}
	m.SetBytes(be)
	if negative {
		m.Neg(m)
	}
	return Num{m, 32*first + bias}
}

// Float64 is the double nearest to the sum.
func (s *Sum) Float64() float64 { return s.Num().Float64() }
