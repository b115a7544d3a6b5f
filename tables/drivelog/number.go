package drivelog

import (
	"bytes"
	"math"
	"strconv"
)

// Quiet NaNs tell apart cells without a reading: an empty one, which in a log of
// held values means "as above", one that holds a missing mark or text, and one
// that a row is too short to have.
var (
	emptyBits  = math.Float64bits(math.NaN()) ^ 0x10
	emptyCell  = math.Float64frombits(emptyBits)
	noReading  = math.NaN()
	noCellBits = math.Float64bits(math.NaN()) ^ 0x20
	noCell     = math.Float64frombits(noCellBits)
	powersOf10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
		1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}
)

// number reads a plain decimal number: an optional sign, digits with an
// optional decimal mark, an optional exponent; nothing around it. Up to 15
// digits are exact without strconv (Clinger's fast path: a mantissa below 2^53
// over a power of ten that a double holds exactly is rounded once).
func number(b []byte, mark byte) (float64, bool) {
	i, n := 0, len(b)
	if n == 0 {
		return 0, false
	}
	neg := b[0] == '-'
	if neg || b[0] == '+' {
		i++
	}
	var mant uint64
	first := i
	for i < n {
		d := b[i] - '0'
		if d > 9 {
			break
		}
		mant = mant*10 + uint64(d)
		i++
	}
	digits, frac := i-first, 0
	if i < n && b[i] == mark && mark != undecided {
		i++
		start := i
		for i < n {
			d := b[i] - '0'
			if d > 9 {
				break
			}
			mant = mant*10 + uint64(d)
			i++
		}
		frac = i - start
		digits += frac
	}
	if digits == 0 {
		return 0, false
	}
	if i < n || digits > 15 {
		return slowNumber(b, mark, i)
	}
	v := float64(mant) / powersOf10[frac]
	if neg {
		v = -v
	}
	return v, true
}

// slowNumber reads a number with an exponent or many digits; rest is where the
// digits of the mantissa ended.
func slowNumber(b []byte, mark byte, rest int) (float64, bool) {
	n := len(b)
	if i := rest; i < n {
		if b[i] != 'e' && b[i] != 'E' {
			return 0, false
		}
		i++
		if i < n && (b[i] == '+' || b[i] == '-') {
			i++
		}
		if i == n {
			return 0, false
		}
		for ; i < n; i++ {
			if b[i]-'0' > 9 {
				return 0, false
			}
		}
	}
	if n > 400 {
		return 0, false
	}
	s := string(b)
	if mark != '.' {
		s = string(bytes.Replace(b, []byte{mark}, []byte{'.'}, 1))
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// trimBlanks takes blanks and stray carriage returns off both ends.
func trimBlanks(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t' || b[len(b)-1] == '\r') {
		b = b[:len(b)-1]
	}
	return b
}
