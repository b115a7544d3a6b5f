package strictjson

import (
	"math"

	"calsplice/tables"
)

// AppendText appends s as a JSON string: quotes, backslashes and control
// characters escaped, everything else as it is.
func AppendText(b []byte, s string) []byte {
	const hex = "0123456789abcdef"
	b = append(b, '"')
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '"' || c == '\\':
			b = append(b, '\\', c)
		case c == '\n':
			b = append(b, `\n`...)
		case c == '\r':
			b = append(b, `\r`...)
		case c == '\t':
			b = append(b, `\t`...)
		case c < 0x20 || c == 0x7f:
			b = append(b, '\\', 'u', '0', '0', hex[c>>4], hex[c&15])
		default:
			b = append(b, c)
		}
	}
	return append(b, '"')
}

// AppendNumber appends a number as every document writes it, and null for NaN.
func AppendNumber(b []byte, v float64) []byte {
	if math.IsNaN(v) {
		return append(b, "null"...)
	}
	return tables.AppendValue(b, v)
}

// AppendNumbers appends a list of numbers on one line.
func AppendNumbers(b []byte, values []float64) []byte {
	b = append(b, '[')
	for i, v := range values {
		if i > 0 {
			b = append(b, ", "...)
		}
		b = AppendNumber(b, v)
	}
	return append(b, ']')
}

// Format is the text under the key "format" of a document's outermost object;
// "" where the input is no JSON object or has none. It looks no further than
// it must and reports no faults: that is for the reader of the format.
func Format(data []byte) string {
	r := New(data, "")
	found := ""
	if r.Kind() != '{' {
		return ""
	}
	r.pos++
	r.members('}', func(int) {
		key := r.key()
		if key == "format" && r.Kind() == '"' {
			found = r.str()
			r.done = true
			return
		}
		r.Skip()
	})
	return found
}
