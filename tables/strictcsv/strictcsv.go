// Package strictcsv reads and writes delimited text with places: RFC 4180, and
// what spreadsheets set to other languages make of it.
//
// It reads fields as they stand, line ends inside quotes included, and says of
// each at which line and column it began. It guesses nothing: the delimiter is
// told to it. Text that a spreadsheet would run as a formula is written behind
// an apostrophe, which reading takes away again: see [Safe] and [Unsafe].
//
// The standard library's reader passes over blank lines, which end a table here, and
// takes the carriage returns out of quoted text, which is a person's.
package strictcsv

import (
	"bytes"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/unicode"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// Reader reads records from text in memory. Fields are parts of that text and not
// copied: whoever keeps one of many keeps the whole.
type Reader struct {
	data  string
	pos   int
	line  int
	start int // of the line that is being read
	at    int // up to where columns are counted
	col   int // characters from start to at
	file  string
	comma byte
	stops [256]bool // what a field without quotes ends at, or must not hold
	// Loose takes a quote inside a field that is not quoted for a character
	// like any other, as the clipboard has it.
	Loose bool
}

// New starts on clean text: see [Text].
func New(data []byte, file string, comma byte) *Reader {
	r := &Reader{data: string(data), line: 1, file: file, comma: comma, stops: [256]bool{'\n': true, '\r': true, '"': true}}
	r.stops[comma] = true
	return r
}

// Text takes the byte-order mark off an input, turns UTF-16 that begins with
// one into UTF-8, and refuses bytes that are no text.
func Text(data []byte, file string) ([]byte, error) {
	data = FromUTF16(data)
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if at, what := tables.NotText(data, "text"); what != "" {
		line, column := tables.LineOf(data, at)
		return nil, &tables.Fault{File: file, Line: line, Column: column, What: what}
	}
	return data, nil
}

// FromUTF16 turns text that begins with the byte-order mark of UTF-16 into
// UTF-8 and leaves any other as it is.
func FromUTF16(data []byte) []byte {
	if !bytes.HasPrefix(data, []byte("\xff\xfe")) && !bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return data
	}
	text, err := unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM).NewDecoder().Bytes(data)
	if err != nil {
		return data // which is refused as no text
	}
	return text
}

// Begin starts on a file of calsplice, whose first line is calsplice, 1 and the
// kind of what follows, one of those that are wanted. It takes any delimiter. The reader
// that is to take the rows in ends at anything else.
func Begin(to *sheet.Reader, data []byte, kinds ...string) (r *Reader, kind string) {
	data, err := Text(data, to.File)
	comma, ok := Delimiter(data)
	r = New(data, to.File, comma)
	var row sheet.Row
	if err == nil && ok {
		row, err = r.Next(nil)
	}
	start, version, is := sheet.Cell{Row: 1, Column: 1}, row.At(2), row.At(3)
	first, _, _ := bytes.Cut(data, []byte("\n"))
	switch {
	case err != nil:
		to.Break(err)
	case !ok && bytes.HasPrefix(first, []byte("table,y,x,value")):
		to.Fault(start, "this is the long form, which carries no units and is not read back")
	case !ok:
		to.Fault(start, "found %s, expected calsplice,1,%s", tables.Quote(string(bytes.TrimSpace(first))), kinds[0])
	case version.Text != "1":
		to.Fault(version, "version is %s: this program reads version 1", tables.Quote(version.Text))
	case !slices.Contains(kinds, is.Text):
		to.Fault(is, "found %s, expected %s", tables.Quote(is.Text), tables.Listed(kinds, "or"))
	default:
		return r, is.Text
	}
	to.Stop()
	return r, ""
}

// Rows hands on every row of a file of calsplice, blank ones too and a blank one at
// its end, up to the last line "end", and sets up the reader that takes them in. A
// fault that ends the text is the reader's last. A caution says where the line is
// missing.
func (r *Reader) Rows(to *sheet.Reader, each func(sheet.Row)) {
	var numbers Numbers
	to.Parse, to.Words = numbers.Parse, Unsafe
	ended := false
	var row sheet.Row
	for !to.Full() {
		var err error
		if row, err = r.Next(row); err == io.EOF {
			break
		}
		switch {
		case err != nil:
			to.Break(err)
		case sheet.Remark(row[0].Text):
		case ended && row.Width() > 0:
			to.Fault(row[0], `more follows after the line "end"`)
			to.Stop()
		case row[0].Text == "end":
			ended = true
			to.Rest(row, 2)
		default:
			each(row)
		}
	}
	each(nil)
	// Between commas, one inside a number can only have been quoted: by a spreadsheet
	// that writes decimal commas, or by one that separates thousands.
	if c, unsure := numbers.Unsure(','); unsure && r.comma == ',' {
		to.Fault(c, "%s may have a decimal mark or a thousands separator: expected a point in numbers, or semicolons between them", tables.Quote(c.Text))
	}
	if !ended {
		to.Caution(sheet.Cell{}, `the last line "end" is missing: the file may have been cut`)
	}
}

// Delimiter is the character behind the word with which every file of calsplice
// begins, and whether the text begins with it at all.
func Delimiter(data []byte) (byte, bool) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	for _, word := range []string{"calsplice", `"calsplice"`} {
		if rest, ok := bytes.CutPrefix(data, []byte(word)); ok && len(rest) > 0 && strings.IndexByte(",;\t", rest[0]) >= 0 {
			return rest[0], true
		}
	}
	return 0, false
}

// Next reads one record into dst, or returns [io.EOF]. An empty line is a record
// of one empty field.
func (r *Reader) Next(dst sheet.Row) (sheet.Row, error) {
	if r.pos >= len(r.data) {
		return nil, io.EOF
	}
	dst = dst[:0]
	for {
		f, err := r.field(len(dst) + 1)
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
	r.col += utf8.RuneCountInString(r.data[r.at:pos])
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
func (r *Reader) field(at int) (f sheet.Cell, err error) {
	f = sheet.Cell{Row: int32(r.line), At: int32(at), Column: int32(r.column(r.pos)), Kind: sheet.Text}
	quoted := r.pos < len(r.data) && r.data[r.pos] == '"'
	if quoted {
		if f.Text, err = r.quoted(f); err != nil && !r.Loose {
			return f, err
		}
	}
	if !quoted || err != nil {
		if f.Text, err = r.bare(f); err != nil {
			return f, err
		}
	}
	if f.Text == "" {
		f.Kind = sheet.Empty
	}
	return f, nil
}

// bare reads a field that is not in quotes.
func (r *Reader) bare(f sheet.Cell) (string, error) {
	end := r.pos
	for end < len(r.data) && (!r.stops[r.data[end]] || r.data[end] == '"' && r.Loose) {
		end++
	}
	text := r.data[r.pos:end]
	switch {
	case len(text) > tables.MaxText:
		return "", r.tooLong(f)
	case end < len(r.data) && r.data[end] == '"':
		return "", &tables.Fault{File: r.file, Line: r.line, Column: r.column(end), What: "quote inside a field that does not begin with one"}
	}
	r.pos = end
	return text, nil
}

func (r *Reader) tooLong(f sheet.Cell) error {
	return &tables.Fault{File: r.file, Line: int(f.Row), Column: int(f.Column), What: tables.TooLongText()}
}

// quoted reads a field in quotes. Where it is none after all, the reader stands
// where it stood.
func (r *Reader) quoted(f sheet.Cell) (string, error) {
	pos, line, start := r.pos+1, r.line, r.start
	double := false // quotes stand doubled in it
	for pos < len(r.data) {
		c := r.data[pos]
		pos++
		if c == '\n' || c == '\r' && !(pos < len(r.data) && r.data[pos] == '\n') {
			line, start = line+1, pos
		}
		if pos-r.pos-2 > tables.MaxText && !double {
			return "", r.tooLong(f)
		}
		if c != '"' {
			continue
		}
		if pos < len(r.data) && r.data[pos] == '"' {
			double = true
			pos++
			continue
		}
		if pos < len(r.data) && r.data[pos] != r.comma && r.data[pos] != '\n' && r.data[pos] != '\r' {
			return "", &tables.Fault{File: r.file, Line: line, Column: utf8.RuneCountInString(r.data[start:pos]) + 1,
				What: "text after a closing quote, expected a delimiter or the line's end"}
		}
		text := r.data[r.pos+1 : pos-1]
		if double {
			text = strings.ReplaceAll(text, `""`, `"`)
		}
		if len(text) > tables.MaxText {
			return "", r.tooLong(f)
		}
		r.pos, r.line, r.start = pos, line, start
		return text, nil
	}
	return "", &tables.Fault{File: r.file, Line: int(f.Row), Column: int(f.Column), What: "quote that is never closed"}
}
