// Package strictcsv reads and writes delimited text with places: RFC 4180, and
// what spreadsheets set to other languages make of it.
//
// It reads fields as they stand, line ends inside quotes included, and says of
// each where it began. It guesses nothing: the delimiter is
// told to it. Text that a spreadsheet would run as a formula is written behind
// an apostrophe, which reading takes away again: see [Safe] and [Unsafe].
//
// The standard library's reader passes over blank lines, which end a table here, and
// takes the carriage returns out of quoted text, which is a person's.
package strictcsv

import (
	"bytes"
	"slices"
	"strings"

	"golang.org/x/text/encoding/unicode"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// Reader reads records from text in memory. Fields are parts of that text and not
// copied: whoever keeps one of many keeps the whole.
type Reader struct {
	to    *sheet.Reader // to which what ends reading is a fault
	data  string
	pos   int
	comma byte
	stops [256]bool // what a field without quotes ends at, or must not hold
	// Loose takes a quote inside a field that is not quoted for a character
	// like any other, as the clipboard has it.
	Loose bool
}

// New starts on the text that [Text] gave a reader of cells.
func New(to *sheet.Reader, comma byte) *Reader {
	r := &Reader{to: to, data: to.Source, comma: comma, stops: [256]bool{'\n': true, '\r': true, '"': true}}
	r.stops[comma] = true
	return r
}

// Text gives a reader of cells the text of an input: it takes the byte-order mark off,
// turns UTF-16 that begins with one into UTF-8, and ends reading at bytes that are no
// text.
func Text(to *sheet.Reader, data []byte) string {
	data = bytes.TrimPrefix(FromUTF16(data), []byte("\xef\xbb\xbf"))
	to.Source = string(data)
	if at, what := tables.NotText(data, "text"); what != "" {
		to.BreakAt(at, what)
	}
	return to.Source
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
	text := Text(to, data)
	comma, ok := Delimiter(text)
	r = New(to, comma)
	var row sheet.Row
	if ok {
		row = r.Next(nil)
	}
	start, version, is := sheet.Cell{Pos: 1}, row.At(2), row.At(3)
	first, _, _ := strings.Cut(text, "\n")
	switch {
	case to.Full():
	case !ok && strings.HasPrefix(first, "table,y,x,value"):
		to.Fault(start, "this is the long form, which carries no units and is not read back")
	case !ok:
		to.Fault(start, "found %s, expected calsplice,1,%s", tables.Quote(strings.TrimSpace(first)), kinds[0])
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
// caution says where the line is missing.
func (r *Reader) Rows(each func(sheet.Row)) {
	to := r.to
	var numbers Numbers
	to.Parse = numbers.Parse
	ended := false
	for row := r.Next(nil); row != nil; row = r.Next(row) {
		for i, c := range row {
			row[i].Text = Unsafe(c.Text)
		}
		switch {
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
func Delimiter(text string) (byte, bool) {
	text = strings.TrimPrefix(text, "\ufeff")
	for _, word := range []string{"calsplice", `"calsplice"`} {
		if rest, ok := strings.CutPrefix(text, word); ok && len(rest) > 0 && strings.IndexByte(",;\t", rest[0]) >= 0 {
			return rest[0], true
		}
	}
	return 0, false
}

// Next reads one record into dst: nil at the end, and once reading ends. An empty line
// is a record of one empty field.
func (r *Reader) Next(dst sheet.Row) sheet.Row {
	if r.pos >= len(r.data) {
		return nil
	}
	for dst = dst[:0]; !r.to.Full(); {
		dst = append(dst, r.field(len(dst)+1))
		if r.pos >= len(r.data) {
			return dst
		}
		end := r.data[r.pos]
		if r.pos++; end == r.comma {
			continue
		}
		if end == '\r' && strings.HasPrefix(r.data[r.pos:], "\n") {
			r.pos++
		}
		return dst
	}
	return nil
}

// field reads up to, and not past, the delimiter or line end behind a field.
func (r *Reader) field(at int) sheet.Cell {
	c := sheet.Cell{At: int32(at), Pos: int32(r.pos + 1), Kind: sheet.Text}
	text, end, wrong := "", r.pos, ""
	quoted := strings.HasPrefix(r.data[r.pos:], `"`)
	if quoted {
		text, end, wrong = r.quoted()
	}
	if !quoted || wrong != "" && r.Loose {
		text, end, wrong = r.bare()
	}
	switch {
	case wrong != "":
		r.to.BreakAt(end, wrong)
	case len(text) > tables.MaxText:
		r.to.BreakAt(r.pos, tables.TooLongText())
	case text == "":
		c.Kind = sheet.Empty
	}
	c.Text, r.pos = text, end
	return c
}

// bare is a field that is not in quotes, and the place behind it, or of what is wrong.
func (r *Reader) bare() (text string, end int, wrong string) {
	end = r.pos
	for end < len(r.data) && (!r.stops[r.data[end]] || r.data[end] == '"' && r.Loose) {
		end++
	}
	if end < len(r.data) && r.data[end] == '"' {
		wrong = "quote inside a field that does not begin with one"
	}
	return r.data[r.pos:end], end, wrong
}

// quoted is a field in quotes, as bare is another.
func (r *Reader) quoted() (text string, end int, wrong string) {
	for end = r.pos + 1; ; end++ { // past each of two quotes that stand for one
		i := strings.IndexByte(r.data[end:], '"')
		if i < 0 {
			return "", r.pos, "quote that is never closed"
		}
		if end += i + 1; !strings.HasPrefix(r.data[end:], `"`) {
			break
		}
	}
	if end < len(r.data) && r.data[end] != r.comma && r.data[end] != '\n' && r.data[end] != '\r' {
		return "", end, "text after a closing quote, expected a delimiter or the line's end"
	}
	return strings.ReplaceAll(r.data[r.pos+1:end-1], `""`, `"`), end, ""
}
