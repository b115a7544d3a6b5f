package strictjson

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"calsplice/tables"
)

// Kind is the first character of the next value, with '0' for a number and
// 'n', 't' and 'f' for null, true and false; 'w' is a bare word that is none
// of these, and 0 is anything that no value begins with, or the end.
func (r *Reader) Kind() byte {
	if r.done {
		return 0
	}
	if r.space(); r.pos >= len(r.data) {
		return 0
	}
	switch c := r.data[r.pos]; {
	case c == '{' || c == '[' || c == '"':
		return c
	case wordByte(c):
		word := r.word()
		if n, _, _ := number(word); n == len(word) {
			return '0'
		}
		switch string(word) {
		case "null", "true", "false":
			return c
		}
		return 'w'
	}
	return 0
}

// wordByte reports what belongs to a bare word. It is wider than any JSON word, so
// that "0x1F" and "nan" are named whole in an error.
func wordByte(c byte) bool {
	return 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || '0' <= c && c <= '9' ||
		c == '+' || c == '-' || c == '.' || c == '_'
}

// word is the run of letters, digits and signs that begins here.
func (r *Reader) word() []byte {
	end := r.pos
	for end < len(r.data) && wordByte(r.data[end]) {
		end++
	}
	return r.data[r.pos:end]
}

// wrong records that the next value is not what the format wants, and skips
// it.
func (r *Reader) wrong(want string) {
	kind := r.Kind()
	if r.done {
		return
	}
	found := ""
	switch kind {
	case 0:
		r.unexpected(want)
		return
	case '{':
		found = "an object"
	case '[':
		found = "a list"
	case '"':
		found = "text"
	default:
		found = string(cut(r.word()))
	}
	r.Fault(r.pos, "", "found "+found+", expected "+want)
	if len(r.path) == 0 {
		r.done = true // the whole document is something else
		return
	}
	if kind == 'w' {
		r.pos += len(r.word())
		return
	}
	r.Skip()
}

// cut is as much of a word as an error line needs.
func cut(word []byte) []byte { return word[:min(len(word), 60)] }

// Null passes over a null and reports whether there was one.
func (r *Reader) Null() bool {
	if r.space(); r.done || !r.at('n') || string(r.word()) != "null" {
		return false
	}
	r.pos += len("null")
	return true
}

// Number reads a number. It reports false, with the fault recorded, where
// there is none. One of few digits is read where it stands.
func (r *Reader) Number() (float64, bool) {
	r.space()
	if r.done {
		return 0, false
	}
	n, v, sure := number(r.data[r.pos:])
	if end := r.pos + n; n == 0 || end < len(r.data) && wordByte(r.data[end]) {
		r.wrong("a number")
		return 0, false
	}
	wrong := ""
	switch word := r.data[r.pos : r.pos+n]; {
	case sure:
	case n > longestNumber:
		wrong = fmt.Sprintf("longer than %d characters", longestNumber)
	default:
		v, wrong = tables.Double(string(word))
	}
	if wrong != "" {
		r.Fault(r.pos, "", string(cut(r.data[r.pos:r.pos+n]))+" is "+wrong)
	}
	r.pos += n
	return v, wrong == ""
}

// longestNumber is more characters than any double is written with.
const longestNumber = 1100

// Whole reads a number from 0 without a fraction.
func (r *Reader) Whole() (int, bool) {
	at := r.Mark()
	v, ok := r.Number()
	if ok && !(v >= 0 && v == math.Trunc(v) && v < 1<<53) {
		r.Fault(at, "", fmt.Sprintf("found %s, expected a whole number", tables.FormatValue(v)))
		ok = false
	}
	return int(v), ok
}

// Texts reads a list of texts.
func (r *Reader) Texts() (list []string) {
	r.Array(func(int) {
		s, _ := r.Text()
		list = append(list, s)
	})
	return list
}

// number is the length of the JSON number that b begins with, 0 for none, and what
// it stands for where that is sure. The grammar (RFC 8259, section 6) is narrower than
// what the standard library's parser of numbers takes: no plus sign, no zero before
// other digits, and digits on both sides of a point.
//
// It is sure of few digits without an exponent: they, and the power of ten that divides
// them, are whole numbers that a double holds, so that one division rounds once.
func number(b []byte) (n int, v float64, sure bool) {
	start, sign := 0, 1.0
	if len(b) > 0 && b[0] == '-' {
		start, sign = 1, -1
	}
	i, digits := pass(b, start, 0)
	if i == start || b[start] == '0' && i > start+1 {
		return 0, 0, false
	}
	decimals := i // from where on
	if i < len(b) && b[i] == '.' {
		decimals++
		if i, digits = pass(b, decimals, digits); i == decimals {
			return 0, 0, false
		}
	}
	if i < len(b) && b[i]|0x20 == 'e' {
		e := i + 1
		if e < len(b) && (b[e] == '+' || b[e] == '-') {
			e++
		}
		n, _ = pass(b, e, 0)
		if n == e {
			return 0, 0, false
		}
		return n, 0, false
	}
	if i < len(powers) && digits < 1<<53 {
		return i, sign * float64(digits) / powers[i-decimals], true
	}
	return i, 0, false
}

// pass passes over the digits at a place, and takes them in behind those before.
func pass(b []byte, i int, before uint64) (end int, digits uint64) {
	for digits = before; i < len(b) && b[i]-'0' <= 9; i++ {
		digits = digits*10 + uint64(b[i]-'0')
	}
	return i, digits
}

// powers are the powers of ten by which digits are divided.
var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17}

// Text reads a string. It reports false, with the fault recorded, where there
// is none.
func (r *Reader) Text() (string, bool) {
	if r.Kind() != '"' {
		r.wrong("text")
		return "", false
	}
	s := r.str()
	return s, !r.done
}

// key reads a key and the colon behind it.
func (r *Reader) key() string {
	if r.space(); !r.at('"') {
		r.unexpected("a key in quotes")
		return ""
	}
	s := r.str()
	if r.space(); !r.done && !r.at(':') {
		r.unexpected("':'")
	}
	r.pos++
	return s
}

// str reads the string that begins here, which must end on its line. What stands
// between escapes is taken in pieces, and a string without any is copied once.
func (r *Reader) str() string {
	start := r.pos
	r.pos++
	var out []byte
	for !r.done {
		from := r.pos
		for r.pos < len(r.data) && r.data[r.pos] != '"' && r.data[r.pos] != '\\' && r.data[r.pos] >= 0x20 {
			r.pos++
		}
		piece := r.data[from:r.pos]
		switch {
		case len(out)+len(piece) > tables.MaxText:
			r.syntax(start, tables.TooLongText())
		case r.pos >= len(r.data):
			r.syntax(start, "text without a closing quote")
		case r.data[r.pos] == '"':
			if r.pos++; out == nil {
				return string(piece)
			}
			return string(append(out, piece...))
		case r.data[r.pos] == '\\':
			out = r.escape(append(out, piece...))
		case r.data[r.pos] == '\n' || r.data[r.pos] == '\r':
			r.syntax(start, "text without a closing quote on its line")
		default:
			r.syntax(r.pos, fmt.Sprintf("control character %q in text, expected it escaped", r.data[r.pos]))
		}
	}
	return ""
}

// escape reads one escape sequence.
func (r *Reader) escape(out []byte) []byte {
	at := r.pos
	if at+1 >= len(r.data) {
		r.pos = len(r.data)
		return out
	}
	r.pos += 2
	if r.data[at+1] == 'u' {
		return r.unicode(out, at)
	}
	if i := strings.IndexByte(`"\/bfnrt`, r.data[at+1]); i >= 0 {
		return append(out, "\"\\/\b\f\n\r\t"[i])
	}
	ch, _ := utf8.DecodeRune(r.data[at+1:])
	r.syntax(at, fmt.Sprintf("unknown escape \\%s in text", string(ch)))
	return out
}

// unicode reads the digits of a \u escape, and of a second one where they are
// half of a pair. Half a pair alone is refused: UTF-8 cannot carry it, and no
// spreadsheet could be given it.
func (r *Reader) unicode(out []byte, at int) []byte {
	c := r.hex4()
	if utf16.IsSurrogate(c) && r.pos+1 < len(r.data) && r.data[r.pos] == '\\' && r.data[r.pos+1] == 'u' {
		r.pos += 2
		c = utf16.DecodeRune(c, r.hex4())
	}
	switch {
	case r.done:
	case c < 0:
		r.syntax(at, `\u needs four hexadecimal digits`)
	case c == 0:
		r.syntax(at, "NUL in text")
	case c == utf8.RuneError || utf16.IsSurrogate(c):
		if c == utf8.RuneError && r.pos-at == 6 {
			break // U+FFFD itself, spelled out
		}
		r.syntax(at, "half of a surrogate pair in text")
	}
	return utf8.AppendRune(out, c)
}

// hex4 reads four hexadecimal digits; −1 where there are none.
func (r *Reader) hex4() rune {
	if r.pos+4 > len(r.data) {
		return -1
	}
	v, err := strconv.ParseUint(string(r.data[r.pos:r.pos+4]), 16, 32)
	if err != nil {
		return -1
	}
	r.pos += 4
	return rune(v)
}

// Raw reads any value and returns it as compact JSON: numbers and text as they
// stand, without the blanks between them.
func (r *Reader) Raw() (string, bool) {
	before, start := len(r.faults), r.Mark()
	r.Skip()
	if r.done || len(r.faults) > before {
		return "", false
	}
	raw := r.data[start:r.pos]
	if raw[0] != '{' && raw[0] != '[' {
		return string(raw), true
	}
	var b bytes.Buffer
	err := json.Compact(&b, raw)
	return b.String(), err == nil
}

// Skip reads any value and forgets it.
func (r *Reader) Skip() { r.skip(0) }

// skip reads a value that stands so deep within another, and holds it to all that
// is refused elsewhere but unknown keys. A key that stands twice is
// refused within kept values too: programs differ in which of the two they take.
func (r *Reader) skip(depth int) {
	kind := r.Kind()
	if depth >= tables.MaxExtraDepth && (kind == '{' || kind == '[') {
		r.syntax(r.pos, fmt.Sprintf("nested deeper than %d levels", tables.MaxExtraDepth))
		return
	}
	switch kind {
	case '{':
		r.Object(Keys{}, func(string) { r.skip(depth + 1) })
	case '[':
		r.Array(func(int) { r.skip(depth + 1) })
	case '"':
		r.str()
	case '0':
		word := r.word() // kept as it is written, however many digits it has
		if v, _ := strconv.ParseFloat(string(cut(word)), 64); math.IsInf(v, 0) || len(word) > longestNumber {
			r.Fault(r.pos, "", string(cut(word))+" is too large for a number")
		}
		r.pos += len(word)
	case 'n', 't', 'f':
		r.pos += len(r.word())
	default:
		r.wrong("a value")
	}
}
