// Package strictcsv reads and writes delimited text with places: RFC 4180, and
// what spreadsheets set to other languages make of it.
//
// It reads fields as they stand, line ends inside quotes included, and says of
// each at which line and column it began. It guesses nothing: the delimiter is
// told to it. Text that a spreadsheet would run as a formula is written behind
// an apostrophe, which reading takes away again: see [Safe] and [Unsafe].
package strictcsv

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"calsplice/tables"
)

// Field is one field with the place of its first character.
type Field struct {
	Text   string
	Line   int // from 1
	Column int // from 1, in characters
	Quoted bool
}

// Reader reads records from text in memory.
type Reader struct {
	data  []byte
	pos   int
	line  int
	start int // of the line that is being read
	at    int // up to where columns are counted
	col   int // characters from start to at
	file  string
	comma byte
	// Loose takes a quote inside a field that is not quoted for a character
	// like any other, as the clipboard has it.
	Loose bool
}

// New starts on clean text: see [Text].
func New(data []byte, file string, comma byte) *Reader {
	return &Reader{data: data, line: 1, file: file, comma: comma}
}

// Text takes the byte-order mark off an input, turns UTF-16 that begins with
// one into UTF-8, and refuses bytes that are no text.
func Text(data []byte, file string) ([]byte, error) {
	data = FromUTF16(data)
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	fault := func(at int, what string) error {
		line, column := place(data, at)
		return &tables.Fault{File: file, Line: line, Column: column, What: what}
	}
	if i := bytes.IndexByte(data, 0); i >= 0 {
		return nil, fault(i, "NUL byte: this is not text")
	}
	if utf8.Valid(data) {
		return data, nil
	}
	for i := 0; i < len(data); {
		c, n := utf8.DecodeRune(data[i:])
		if c == utf8.RuneError && n <= 1 {
			return nil, fault(i, fmt.Sprintf("byte 0x%02x is not UTF-8", data[i]))
		}
		i += n
	}
	return data, nil
}

// FromUTF16 turns text that begins with the byte-order mark of UTF-16 into
// UTF-8 and leaves any other as it is.
func FromUTF16(data []byte) []byte {
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xfe")):
		order = binary.LittleEndian
	case bytes.HasPrefix(data, []byte("\xfe\xff")):
		order = binary.BigEndian
	default:
		return data
	}
	units := make([]uint16, 0, len(data)/2)
	for i := 2; i+1 < len(data); i += 2 {
		units = append(units, order.Uint16(data[i:]))
	}
	return []byte(string(utf16.Decode(units)))
}

func place(data []byte, at int) (line, column int) {
	before := data[:at]
	return bytes.Count(before, []byte("\n")) + 1, utf8.RuneCount(before[bytes.LastIndexByte(before, '\n')+1:]) + 1
}

// Next reads one record into dst, or returns [io.EOF]. An empty line is a record
// of one empty field.
func (r *Reader) Next(dst []Field) ([]Field, error) {
	if r.pos >= len(r.data) {
		return nil, io.EOF
	}
	dst = dst[:0]
	for {
		f, err := r.field()
		if err != nil {
			return nil, err
		}
		dst = append(dst, f)
		if r.pos >= len(r.data) {
			return dst, nil
		}
		c := r.data[r.pos]
		r.pos++
		if c == r.comma {
			continue
		}
		r.newline(c)
		return dst, nil
	}
}

// column is the column of a place in the line that is being read. Places are
// asked for in order, so that a long line is counted once.
func (r *Reader) column(pos int) int {
	if r.at < r.start || r.at > pos {
		r.at, r.col = r.start, 0
	}
	r.col += utf8.RuneCount(r.data[r.at:pos])
	r.at = pos
	return r.col + 1
}

// newline counts a line end whose first byte was just passed.
func (r *Reader) newline(c byte) {
	if c == '\r' && r.pos < len(r.data) && r.data[r.pos] == '\n' {
		r.pos++
	}
	r.line++
	r.start = r.pos
}

// field reads up to, and not past, the delimiter or line end behind a field.
func (r *Reader) field() (Field, error) {
	f := Field{Line: r.line, Column: r.column(r.pos)}
	if r.pos < len(r.data) && r.data[r.pos] == '"' {
		text, err := r.quoted(f)
		if err == nil || !r.Loose {
			f.Text, f.Quoted = text, true
			return f, err
		}
	}
	end := r.pos
	for end < len(r.data) && r.data[end] != r.comma && r.data[end] != '\n' && r.data[end] != '\r' {
		if end-r.pos > tables.MaxText {
			return f, r.tooLong(f)
		}
		if r.data[end] == '"' && !r.Loose {
			return f, &tables.Fault{File: r.file, Line: r.line, Column: r.column(end), What: "quote inside a field that does not begin with one"}
		}
		end++
	}
	f.Text = string(r.data[r.pos:end])
	r.pos = end
	return f, nil
}

func (r *Reader) tooLong(f Field) error {
	return &tables.Fault{File: r.file, Line: f.Line, Column: f.Column, What: tables.TooLongText()}
}

// quoted reads a field in quotes. Where it is none after all, the reader stands
// where it stood.
func (r *Reader) quoted(f Field) (string, error) {
	var out []byte
	pos, line, start := r.pos+1, r.line, r.start
	for pos < len(r.data) {
		c := r.data[pos]
		pos++
		if c == '\n' || c == '\r' && !(pos < len(r.data) && r.data[pos] == '\n') {
			line, start = line+1, pos
		}
		if len(out) > tables.MaxText {
			return "", r.tooLong(f)
		}
		if c != '"' {
			out = append(out, c)
			continue
		}
		if pos < len(r.data) && r.data[pos] == '"' {
			out = append(out, '"')
			pos++
			continue
		}
		if pos < len(r.data) && r.data[pos] != r.comma && r.data[pos] != '\n' && r.data[pos] != '\r' {
			return "", &tables.Fault{File: r.file, Line: line, Column: utf8.RuneCount(r.data[start:pos]) + 1,
				What: "text after a closing quote, want a delimiter or the line's end"}
		}
		r.pos, r.line, r.start = pos, line, start
		return string(out), nil
	}
	return "", &tables.Fault{File: r.file, Line: f.Line, Column: f.Column, What: "quote that is never closed"}
}

// Trim takes the empty fields off a record's end, as spreadsheets pad every
// line to the widest.
func Trim(record []Field) []Field {
	for len(record) > 0 && record[len(record)-1].Text == "" {
		record = record[:len(record)-1]
	}
	return record
}

// AppendField appends a field, quoted where it must be.
func AppendField(b []byte, s string) []byte {
	if !strings.ContainsAny(s, "\",\n\r;\t") && strings.TrimSpace(s) == s {
		return append(b, s...)
	}
	b = append(b, '"')
	for i := 0; i < len(s); i++ {
		if s[i] == '"' {
			b = append(b, '"')
		}
		b = append(b, s[i])
	}
	return append(b, '"')
}

// AppendText appends a person's text: [Safe], and quoted where it must be.
func AppendText(b []byte, s string) []byte { return AppendField(b, Safe(s)) }

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
