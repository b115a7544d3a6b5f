package dialect

import (
	"bytes"
	"math"
	"strconv"
)

// Quiet NaNs tell apart cells without a reading: an empty one, which in a log of
// held values means "as above", one that holds a missing mark or text, and one
// that a row is too short to have.
var (
	EmptyBits  = math.Float64bits(math.NaN()) ^ 0x10
	EmptyCell  = math.Float64frombits(EmptyBits)
	NoReading  = math.NaN()
	NoCellBits = math.Float64bits(math.NaN()) ^ 0x20
	NoCell     = math.Float64frombits(NoCellBits)
	PowersOf10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}
)

// Number reads a plain decimal number: an optional sign, digits with an
// optional decimal mark, an optional exponent; nothing around it. Up to 15
// digits are exact without strconv (Clinger's fast path: a mantissa below 2^53
// over a power of ten that a double holds exactly is rounded once).
func Number(b []byte, mark byte) (float64, bool) {
	i := 0
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		i = 1
	}
	mant, digits := digitsOf(0, b[i:])
	frac := 0
	if i += digits; i < len(b) && b[i] == mark && mark != Undecided {
		mant, frac = digitsOf(mant, b[i+1:])
		i, digits = i+1+frac, digits+frac
	}
	switch {
	case digits == 0:
		return 0, false
	case i < len(b) || digits > 15:
		return slowNumber(b, mark, b[i:])
	}
	v := float64(mant) / PowersOf10[frac]
	if b[0] == '-' {
		v = -v
	}
	return v, true
}

// digitsOf puts the digits at the beginning of b behind those of a number, and
// counts them.
func digitsOf(mant uint64, b []byte) (uint64, int) {
	n := 0
	for n < len(b) && b[n]-'0' <= 9 {
		mant = mant*10 + uint64(b[n]-'0')
		n++
	}
	return mant, n
}

// leadingDigits counts the digits at the beginning of b.
func leadingDigits(b []byte) int {
	_, n := digitsOf(0, b)
	return n
}

// slowNumber reads a number with an exponent or many digits; rest is what stands
// behind the digits of the mantissa.
func slowNumber(b []byte, mark byte, rest []byte) (float64, bool) {
	if len(rest) > 0 {
		exponent := rest[1:]
		if len(exponent) > 0 && (exponent[0] == '+' || exponent[0] == '-') {
			exponent = exponent[1:]
		}
		if rest[0] != 'e' && rest[0] != 'E' || len(exponent) == 0 || leadingDigits(exponent) < len(exponent) {
			return 0, false
		}
	}
	if len(b) > 400 {
		return 0, false
	}
	if mark != '.' {
		b = bytes.Replace(b, []byte{mark}, []byte{'.'}, 1)
	}
	v, err := strconv.ParseFloat(string(b), 64)
	return v, err == nil
}
