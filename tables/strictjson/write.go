package strictjson

import (
	"bytes"
	"encoding/json"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"calsplice/tables"
)

// AppendText appends s as a JSON string: quotes, backslashes and whatever could
// steer a terminal escaped, everything else as it is.
func AppendText(b []byte, s string) []byte {
	b = append(b, '"')
	if strings.IndexFunc(s, func(r rune) bool { return r < ' ' || r > '~' || r == '"' || r == '\\' }) < 0 {
		return append(append(b, s...), '"')
	}
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b = append(b, '\\', byte(r))
		case r == '\n':
			b = append(b, `\n`...)
		case r == '\r':
			b = append(b, `\r`...)
		case r == '\t':
			b = append(b, `\t`...)
		case tables.Steers(r):
			b = appendEscape(b, r)
		default:
			b = utf8.AppendRune(b, r)
		}
	}
	return append(b, '"')
}

// appendEscape appends a character of the basic plane by its number.
func appendEscape(b []byte, r rune) []byte {
	const hex = "0123456789abcdef"
	return append(b, '\\', 'u', hex[r>>12], hex[r>>8&15], hex[r>>4&15], hex[r&15])
}

// Print writes a result for machines, indented. A terminal may show it too, so
// that nothing in it can steer one.
func Print(w io.Writer, v any) error {
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(v); err != nil {
		return err
	}
	var b []byte
	for _, r := range text.String() {
		if r != '\n' && tables.Steers(r) {
			b = appendEscape(b, r)
		} else {
			b = utf8.AppendRune(b, r)
		}
	}
	_, err := w.Write(b)
	return err
}

// AppendNumber appends a number as every document writes it, and null for NaN.
func AppendNumber(b []byte, v float64) []byte {
	if math.IsNaN(v) {
		return append(b, "null"...)
	}
	return tables.AppendValue(b, v)
}

// AppendNumbers appends a list of numbers on one line.
func AppendNumbers(b []byte, values []float64) []byte { return AppendList(b, values, AppendNumber) }

// AppendTexts appends a list of texts on one line.
func AppendTexts(b []byte, texts []string) []byte { return AppendList(b, texts, AppendText) }

// AppendList appends a list on one line, as canonical JSON has every list of
// numbers: a line tool then shows a row of a table as a line.
func AppendList[V any](b []byte, list []V, one func([]byte, V) []byte) []byte {
	b = append(b, '[')
	for i, v := range list {
		if i > 0 {
			b = append(b, ", "...)
		}
		b = one(b, v)
	}
	return append(b, ']')
}

// Format is the text under the key "format" of a document's outermost object;
// "" where the input is no JSON object or has none. It looks no further than
// it must and reports no faults: that is for the reader of the format.
func Format(data []byte) (format string) {
	r := New(data, "")
	if r.ahead([]string{"format"}) != "" {
		r.done = false
		format, _ = r.Text()
	}
	return format
}

// First is the first of some keys that the object here has, "" where it has none.
// Nothing is read, and nothing that is wrong is recorded: reading does both. Where
// writers put the key that matters first, little is looked at twice.
func (r *Reader) First(keys []string) string {
	before := *r
	defer func() { *r = before }()
	r.path = nil
	return r.ahead(keys)
}

// ahead looks for the first of some keys that the object here has, and ends reading at
// its value.
func (r *Reader) ahead(keys []string) (found string) {
	if r.Kind() != '{' {
		return ""
	}
	r.pos++
	r.members('}', func(int) {
		if key := r.key(); slices.Contains(keys, key) {
			found, r.done = key, true
			return
		}
		r.Skip()
	})
	return found
}
