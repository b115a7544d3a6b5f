package tables

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// FormatValue writes a number as every calsplice document does: the shortest
// decimal that reads back the same, plain between 1e-6 and 1e21 and with an
// exponent beyond, as ECMA-262 writes numbers and RFC 8259 reads them. NaN, the
// empty cell, is "".
func FormatValue(v float64) string {
	return string(AppendValue(make([]byte, 0, 24), v))
}

// Shown writes a value exactly for a person: as [FormatValue], with a minus sign
// in place of the hyphen.
func Shown(v float64) string { return minus(FormatValue(v)) }

// Digits writes a value for a person with so many significant digits, whole
// numbers below 1e15 whole.
func Digits(v float64, digits int) string {
	if v == math.Trunc(v) && math.Abs(v) < 1e15 {
		return Shown(v)
	}
	return Shown(Significant(v, digits))
}

// Significant is a value with so many significant digits, or itself where those are
// more than a double holds.
func Significant(v float64, digits int) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', digits, 64), 64)
	if err != nil {
		return v
	}
	return rounded
}

// Fixed writes a value for a person with so many decimals. What rounds to
// nothing has no sign.
func Fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return minus(s)
}

// Signed writes a difference for a person, with its sign and so many decimals.
// What rounds to nothing has no direction: it is +0.00, never −0.00.
func Signed(v float64, decimals int) string {
	s := Fixed(v, decimals)
	if strings.HasPrefix(s, "−") || math.IsNaN(v) || math.IsInf(v, 1) {
		return s
	}
	return "+" + s
}

// minus writes a negative number, and a negative exponent, with a minus sign.
func minus(s string) string { return strings.ReplaceAll(s, "-", "−") }

// Number is a value that may not be known, in JSON as documents write it: null then.
type Number float64

// Known reports whether there is a number.
func (n Number) Known() bool { return n-n == 0 }

// IsZero has JSON leave out, where it may, a number that is not known.
func (n Number) IsZero() bool { return !n.Known() }

// MarshalJSON implements json.Marshaler.
func (n Number) MarshalJSON() ([]byte, error) {
	if !n.Known() {
		return []byte("null"), nil
	}
	return AppendValue(nil, float64(n)), nil
}

// String is the number as a report shows it.
func (n Number) String() string {
	if !n.Known() {
		return "–"
	}
	return Digits(float64(n), 4)
}

// AppendValue appends [FormatValue] of v to b.
func AppendValue(b []byte, v float64) []byte {
	if math.IsNaN(v) {
		return b
	}
	abs := math.Abs(v)
	if abs != 0 && (abs < 1e-6 || abs >= 1e21) {
		b = strconv.AppendFloat(b, v, 'e', -1, 64)
		// e-09 to e-9, as ECMA-262 has it.
		if n := len(b); n >= 4 && b[n-4] == 'e' && b[n-3] == '-' && b[n-2] == '0' {
			b[n-2] = b[n-1]
			b = b[:n-1]
		}
		return b
	}
	if n := uint64(float64(min(abs, mostShort)*1000) + 0.5); float64(n)/1000 == abs {
		return appendThousandths(b, math.Signbit(v), n)
	}
	return strconv.AppendFloat(b, v, 'f', -1, 64)
}

// mostShort is less than any number whose thousandths have more than 15 digits.
const mostShort = 1e12 - 1

// appendThousandths appends n/1000, as most numbers of a calibration are, in half the
// time of the general way. Decimals of up to 15 digits all stand for different
// doubles, so the one that gives v is the shortest.
func appendThousandths(b []byte, negative bool, n uint64) []byte {
	if negative {
		b = append(b, '-')
	}
	b = strconv.AppendUint(b, n/1000, 10)
	if n %= 1000; n == 0 {
		return b
	}
	b = append(b, '.', byte('0'+n/100), byte('0'+n/10%10), byte('0'+n%10))
	for b[len(b)-1] == '0' {
		b = b[:len(b)-1]
	}
	return b
}

// ParseValue reads a plain decimal number: an optional sign, digits with an
// optional point, an optional exponent. It refuses what Go's own parser takes
// beyond that (hexadecimal, underscores, "inf", "nan") and numbers that a double
// does not hold: see [Double].
func ParseValue(s string) (float64, error) {
	for i := range len(s) {
		if s[i]-'0' > 9 && strings.IndexByte("+-.eE", s[i]) < 0 {
			return 0, fmt.Errorf("%s is not a number", Quote(s))
		}
	}
	v, what := Double(s)
	if what != "" {
		return 0, fmt.Errorf("%s is %s", Quote(s), what)
	}
	return v, nil
}

// Double is the number that a decimal spelling stands for, and what is wrong
// where a double does not hold it: it is too large, it would become 0, or it is
// a whole number that would become another one.
func Double(s string) (v float64, wrong string) {
	v, err := strconv.ParseFloat(s, 64)
	switch {
	case errors.Is(err, strconv.ErrRange):
		return 0, "too large for a number"
	case err != nil:
		return 0, "not a number"
	case v == 0:
		mantissa, _, _ := strings.Cut(strings.ToLower(s), "e")
		if strings.ContainsAny(mantissa, "123456789") {
			return 0, "too small for a number, and would be read as 0"
		}
	case math.Abs(v) >= 1<<53 && !strings.ContainsAny(s, ".eE"):
		if read := strconv.FormatFloat(math.Abs(v), 'f', -1, 64); read != strings.TrimLeft(s, "+-0") {
			return 0, "too long for a number, and would be read as " + read
		}
	}
	return v, ""
}

// Decimals is how many digits v has behind its decimal mark as people write it,
// and 99 where that is with an exponent.
func Decimals(v float64) int {
	s := FormatValue(v)
	if strings.ContainsRune(s, 'e') {
		return 99
	}
	if i := strings.IndexByte(s, '.'); i >= 0 {
		return len(s) - i - 1
	}
	return 0
}

// Range is the lowest and the highest of the values that are not empty; low is above
// high where all are.
func Range(lists ...[]float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, list := range lists {
		for _, v := range list {
			if !math.IsNaN(v) {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	return low, high
}

// Brief is a computed figure in six digits, for a sentence.
func Brief(v float64) float64 { return Significant(v, 6) }

// Each is what a function makes of each of a list, nil of none.
func Each[V, W any](list []V, of func(V) W) (made []W) {
	made = slices.Grow(made, len(list))
	for _, v := range list {
		made = append(made, of(v))
	}
	return made
}

// Listed are words with commas between them, and the last after a word of its own: "and",
// or "or".
func Listed(words []string, last string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " " + last + " " + words[n-1]
	}
	return strings.Join(words, "")
}

// Thousands writes a count as people read it: 52,031.
func Thousands(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// Plural is a number of things in words: "1 cell", "3 cells". many is the plural
// where that is not the word with an s.
func Plural(n int, one string, many ...string) string {
	switch {
	case n == 1:
	case many != nil:
		one = many[0]
	default:
		one += "s"
	}
	return strconv.Itoa(n) + " " + one
}

// Quote puts foreign text into an error line or onto a terminal: quoted,
// control characters and bytes that are not UTF-8 escaped, cut at 60
// characters.
func Quote(s string) string {
	const most = 60
	n := 0
	for i := range s {
		if n++; n > most {
			return strconv.Quote(s[:i] + "…")
		}
	}
	return strconv.Quote(s)
}

// Steers tells the characters that could steer a terminal or hide text: control
// characters, line and paragraph separators, and the marks that turn the
// direction of writing.
func Steers(r rune) bool {
	return r < 0x20 || r >= 0x7f && r < 0xa0 || r == 0x061c || r >= 0x200e && r <= 0x200f ||
		r >= 0x2028 && r <= 0x202e || r >= 0x2066 && r <= 0x2069
}

// Clean is s with everything escaped that [Steers], and bytes that are no text.
// It is what titles, names and notes pass through on their way to a person.
func Clean(s string) string {
	dirty := func(r rune) bool { return r == utf8.RuneError || Steers(r) }
	if strings.IndexFunc(s, dirty) < 0 {
		return s
	}
	var b strings.Builder
	for _, r := range s {
		if dirty(r) {
			q := strconv.QuoteRuneToASCII(r)
			b.WriteString(q[1 : len(q)-1])
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}
