// Package exact adds doubles without rounding, so that a sum does not depend
// on the order of its terms or on who added which of them.
//
// A [Num] is an integer times a power of two, which any double is: sums and products
// of such numbers are others, and only [Num.Float64], [Quo] and [SqrtQuo] round, once,
// at the end. A sum has one encoding, whatever its terms were. A [Double] is for a
// million terms in one order: it keeps 106 bits, as fast as a few additions of doubles.
package exact

import (
	"encoding/binary"
	"math"
	"math/big"
	"slices"
)

const (
	// words of 32 bits hold all finite doubles, and the carries of very many.
	words = 68
	// bias is the exponent of the lowest bit of the lowest word.
	bias = -1075
)

// Num is an integer times a power of two: any double, and any sum, difference
// or product of such numbers, without rounding. It is immutable; the zero Num is 0.
type Num struct {
	m *big.Int // nil is 0
	e int
}

// integer is a new one, with room for four words beside it: most sums of a drive need
// no more, and millions of them are added where a season's documents are combined.
func integer() *big.Int {
	p := new(struct {
		big.Int
		room [4]big.Word
	})
	return p.SetBits(p.room[:0])
}

// Int is an integer as a Num.
func Int(v int64) Num { return Num{big.NewInt(v), 0} }

// Of is a finite double as a Num. It panics at an infinity or NaN, which is none.
func Of(v float64) Num {
	if v-v != 0 {
		panic("exact: sum of a number that is not finite")
	}
	if v == 0 {
		return Num{}
	}
	share, e := math.Frexp(v)
	return Num{big.NewInt(int64(share * (1 << 53))), e - 53}
}

// Mul is a·b.
func (a Num) Mul(b Num) Num {
	if a.m == nil || b.m == nil {
		return Num{}
	}
	return Num{new(big.Int).Mul(a.m, b.m), a.e + b.e}
}

// Add is a + b.
func (a Num) Add(b Num) Num {
	switch {
	case a.m == nil:
		return b
	case b.m == nil:
		return a
	case a.e < b.e:
		a, b = b, a
	}
	m := integer()
	if a.e > b.e {
		a.m = m.Lsh(a.m, uint(a.e-b.e))
	}
	return Num{m.Add(a.m, b.m), b.e}
}

// Sub is a − b.
func (a Num) Sub(b Num) Num { return a.Add(b.Mul(Int(-1))) }

// Sign is −1, 0 or 1.
func (a Num) Sign() int {
	if a.m == nil {
		return 0
	}
	return a.m.Sign()
}

// Append appends the one encoding of a sum of doubles: how many words it takes and its
// sign, the place of the lowest one that is not zero, and the words.
func (a Num) Append(b []byte) []byte {
	if a.Sign() == 0 {
		return append(b, 0)
	}
	place := a.e - bias
	first := (place + int(a.m.TrailingZeroBits())) / 32
	size := new(big.Int).Abs(a.m)
	if up := place - 32*first; up >= 0 {
		size.Lsh(size, uint(up))
	} else {
		size.Rsh(size, uint(-up))
	}
	count := (size.BitLen() + 31) / 32
	head := uint64(count) << 1
	if a.m.Sign() < 0 {
		head |= 1
	}
	b = append(binary.AppendUvarint(b, head), byte(first))
	from := len(b)
	b = append(b, make([]byte, 4*count)...)
	size.FillBytes(b[from:])
	slices.Reverse(b[from:]) // the lowest first
	return b
}

// Decode reads a sum from its encoding, and returns the bytes behind it; it is not ok
// where [Num.Append] wrote no such bytes.
func Decode(b []byte) (sum Num, rest []byte, ok bool) {
	head, n := binary.Uvarint(b)
	if n <= 0 || head>>1 > words {
		return Num{}, nil, false
	}
	b = b[n:]
	count := int(head >> 1)
	if count == 0 {
		return Num{}, b, true
	}
	if len(b) < 1+4*count || int(b[0])+count > words {
		return Num{}, nil, false
	}
	var size [4 * words]byte // the highest first
	for i, digit := range b[1 : 1+4*count] {
		size[4*count-1-i] = digit
	}
	m := integer().SetBytes(size[:4*count])
	if head&1 != 0 {
		m.Neg(m)
	}
	return Num{m, 32*int(b[0]) + bias}, b[1+4*count:], true
}

// precision of the one rounding before the last: far past a double's 53 bits.
const precision = 160

func (a Num) float() *big.Float {
	f := new(big.Float).SetPrec(precision)
	if a.m == nil {
		return f
	}
	f.SetPrec(uint(max(a.m.BitLen(), precision))).SetInt(a.m)
	return f.SetMantExp(f, a.e)
}

// Float64 is the double nearest to a.
func (a Num) Float64() float64 {
	v, _ := a.float().Float64()
	return v
}

// Quo is the double nearest to a/b. b must not be 0.
func Quo(a, b Num) float64 {
	v, _ := new(big.Float).SetPrec(precision).Quo(a.float(), b.float()).Float64()
	return v
}

// SqrtQuo is the double nearest to √(a/b), and 0 where the quotient is below 0.
func SqrtQuo(a, b Num) float64 {
	q := new(big.Float).SetPrec(precision).Quo(a.float(), b.float())
	if q.Sign() <= 0 {
		return 0
	}
	v, _ := q.Sqrt(q).Float64()
	return v
}
