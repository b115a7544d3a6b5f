package exact

import "math/big"

// Num is an integer times a power of two: any double, and any sum, difference
// or product of such numbers, without rounding. It is immutable.
type Num struct {
	m *big.Int
	e int
}

// Int is an integer as a Num.
func Int(v int64) Num { return Num{big.NewInt(v), 0} }

// Mul is a·b.
func (a Num) Mul(b Num) Num {
	return Num{new(big.Int).Mul(a.m, b.m), a.e + b.e}
}

// Add is a + b.
func (a Num) Add(b Num) Num {
	if a.e < b.e {
		a, b = b, a
	}
	m := new(big.Int).Lsh(a.m, uint(a.e-b.e))
	return Num{m.Add(m, b.m), b.e}
}

// Sub is a − b.
func (a Num) Sub(b Num) Num {
	return a.Add(Num{new(big.Int).Neg(b.m), b.e})
}

// Sign is −1, 0 or 1.
func (a Num) Sign() int { return a.m.Sign() }

// precision of the one rounding before the last: far past a double's 53 bits.
const precision = 160

func (a Num) float() *big.Float {
	f := new(big.Float).SetPrec(uint(max(a.m.BitLen(), precision))).SetInt(a.m)
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
