package strictcsv

import (
	"io"
	"strings"
	"unicode/utf8"

	"calsplice/tables"
)

// Writer writes rows, as a [calsplice/tables/sheet.Writer] does, in large pieces.
type Writer struct {
	w   io.Writer
	b   []byte
	any bool // a row has begun
	err error
}

// NewWriter begins a file.
func NewWriter(w io.Writer) *Writer { return &Writer{w: w} }

// Name begins a row with its first field.
func (w *Writer) Name(name string) {
	w.end()
	w.b = appendField(w.b, Safe(name))
}

// First writes a number as the first field of a row that [Writer.Name] began
// with nothing.
func (w *Writer) First(v float64) { w.b = tables.AppendValue(w.b, v) }

// Text writes a field that a person may have written, quoted where it must be
// and [Safe].
func (w *Writer) Text(text string) { w.b = appendField(append(w.b, ','), Safe(text)) }

// Word writes a short text, which CSV holds as any other.
func (w *Writer) Word(word string) { w.Text(word) }

// JSON writes a field as it is, quoted where it must be.
func (w *Writer) JSON(value string) { w.b = appendField(append(w.b, ','), value) }

// Number writes a number; the empty cell, NaN, is an empty field.
func (w *Writer) Number(v float64) { w.b = tables.AppendValue(append(w.b, ','), v) }

// Numbers writes numbers.
func (w *Writer) Numbers(list []float64) {
	for _, v := range list {
		w.Number(v)
	}
}

// Row writes a row of short texts.
func (w *Writer) Row(name string, words ...string) {
	w.Name(name)
	for _, word := range words {
		w.Word(word)
	}
}

// Blank writes an empty line.
func (w *Writer) Blank() {
	w.end()
}

// end ends the row before the next one.
func (w *Writer) end() {
	if w.any {
		w.b = append(w.b, '\n')
	}
	if w.any = true; len(w.b) >= 1<<16 {
		w.flush()
	}
}

func (w *Writer) flush() {
	if w.err == nil {
		_, w.err = w.w.Write(w.b)
	}
	w.b = w.b[:0]
}

// Close ends the last row and writes what is left.
func (w *Writer) Close() error {
	w.end()
	w.flush()
	return w.err
}

// appendField appends a field, quoted where it must be.
func appendField(b []byte, s string) []byte {
	if !strings.ContainsAny(s, "\",\n\r;\t") && strings.TrimSpace(s) == s {
		return append(b, s...)
	}
	b = append(append(b, '"'), strings.ReplaceAll(s, `"`, `""`)...)
	return append(b, '"')
}

// Safe puts an apostrophe before text that a spreadsheet would take for a
// formula or a command (it begins with = + - @, their full-width forms, a tab
// or a line end: OWASP, CSV Injection), and before such text behind
// apostrophes, so that [Unsafe] gives every text back as it was.
func Safe(s string) string {
	if risky(s) {
		return "'" + s
	}
	return s
}

// Unsafe undoes [Safe]. An apostrophe that stands before anything else is the
// text's own.
func Unsafe(s string) string {
	if strings.HasPrefix(s, "'") && risky(s) {
		return s[1:]
	}
	return s
}

func risky(s string) bool {
	s = strings.TrimLeft(s, "'")
	c, _ := utf8.DecodeRuneInString(s)
	return s != "" && strings.ContainsRune("=+-@\t\r\n＝＋－＠", c)
}
