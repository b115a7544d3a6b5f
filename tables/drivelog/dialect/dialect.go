package dialect

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"calsplice/tables"
)

// Dialect is how a log is written, as far as its beginning tells.
type Dialect struct {
	Enc        Encoding
	EOL        byte
	Delim      byte
	Decimal    byte
	HeaderLine int   // file line, from 1
	FirstLine  int   // of the first data row
	DataStart  int64 // its offset in bytes, decoded
	Header     []string
	HeaderRaw  []byte   // the line as it stands
	Units      []string // of a units row; nil where there is none
	Sample     [][][]byte
	Usual      int  // fields that a complete row has
	Trailing   bool // each row ends with a delimiter too many: a last field, always empty
	OpenHeader bool // a quote of the header does not close on its line
	Whole      bool // the sample is the whole log
	Why        []string
	cells      [][]byte
}

const (
	maxColumns  = 20000
	sampleRows  = 2000
	headerReach = 400 // lines in which a header is looked for
)

// Asked is how a person says that a log is written, in words that somebody checked but
// for the delimiter; what is left empty is detected.
type Asked struct {
	Delimiter  string // one character, or its name
	Decimal    string // "." or ","
	UnitsRow   string // yes or no
	HeaderLine int    // from 1
	MaxLine    int    // bytes
}

// delimiters are tried in this order; of equals the first is taken.
var delimiters = []byte{',', ';', '\t', '|'}

// delimiterNames are what people call them.
var delimiterNames = map[byte]string{',': "comma", ';': "semicolon", '\t': "tab", '|': "bar"}

// delimiterName is what people call a delimiter.
func delimiterName(d byte) string { return cmp.Or(delimiterNames[d], strconv.Quote(string(d))) }

// delims are the delimiters that a log may have.
func (a *Asked) delims() ([]byte, error) {
	s := strings.ToLower(a.Delimiter)
	for _, d := range delimiters {
		if s == delimiterNames[d] || s == `\t` && d == '\t' {
			return []byte{d}, nil
		}
	}
	switch {
	case s == "":
		return delimiters, nil
	case len(s) != 1 || s[0] >= 0x80 || s == `"` || s == "\n" || s == "\r":
		return nil, fmt.Errorf("delimiter %s is not one character, or tab", tables.Quote(a.Delimiter))
	}
	return []byte{a.Delimiter[0]}, nil
}

// Head is the beginning of a log, decoded and without its byte-order mark.
type Head struct {
	Text  []byte
	Enc   Encoding
	Mark  int      // bytes of the mark, decoded
	AtEnd bool     // this is all of the log
	Why   []string // how it is packed and encoded
}

// Detect reports how a log is written from its beginning.
func Detect(head *Head, ask *Asked) (*Dialect, error) {
	d := &Dialect{Enc: head.Enc, EOL: '\n', Whole: head.AtEnd}
	if bytes.IndexByte(head.Text, '\n') < 0 && bytes.IndexByte(head.Text, '\r') >= 0 {
		d.EOL = '\r'
	}
	all := headLines(head.Text, d.EOL, head.AtEnd)
	switch {
	case len(all) == 0 && head.AtEnd:
		return nil, fault(0, "the log is empty")
	case len(all) == 0:
		return nil, fault(1, "the line is longer than %d bytes: --max-line", ask.MaxLine)
	}
	// A preamble may be long; a header that a person names may stand below all that is looked
	// at otherwise.
	lines := all[:min(len(all), max(headerReach, ask.HeaderLine+50))]
	delims, err := ask.delims()
	if err != nil {
		return nil, err
	}
	best := bestLayout(lines, delims, ask)
	switch {
	case best.score == 0:
		return nil, noHeader(lines, delims)
	case best.data < 0:
		return nil, fault(best.header+1, "there are no rows under the header")
	}
	d.take(&best)
	if len(d.Header) > maxColumns {
		return nil, fault(d.HeaderLine, "the header has %d columns: up to %d are read", len(d.Header), maxColumns)
	}
	d.takeSample(head.Text)
	d.findWidth()
	// An open quote swallows names. Where the rows are as wide as the header all the same,
	// nothing was swallowed.
	if _, _, d.OpenHeader, _ = RecordEnd(d.HeaderRaw, 0, d.Delim, d.EOL); d.OpenHeader && !d.Trailing && d.Usual != len(d.Header) {
		return nil, fault(d.HeaderLine, "a quote of the header does not close, and the rows have %d fields under its %d", d.Usual, len(d.Header))
	}
	d.DataStart += int64(head.Mark)
	if ask.Decimal != "" {
		d.Decimal = ask.Decimal[0]
	}
	return d, nil
}

// takeSample splits the first rows.
func (d *Dialect) takeSample(head []byte) {
	// Unless the head is all of the log, its last row may be cut off and is not taken.
	whole := d.Whole
	for pos := int(d.DataStart); pos < len(head); {
		end, next, _, cut := RecordEnd(head, pos, d.Delim, d.EOL)
		if !whole && (cut || next == end) || len(d.Sample) == sampleRows {
			d.Whole = false
			return
		}
		if row := head[pos:end]; len(TrimBlanks(row)) > 0 {
			d.Sample = append(d.Sample, AppendFields(make([][]byte, 0, len(d.Header)+1), row, d.Delim))
		}
		pos = next
	}
}

// findWidth reports how many fields a complete row has: as the header, unless most
// of the rows agree on another number.
func (d *Dialect) findWidth() {
	d.Usual = len(d.Header)
	counts, empty := map[int]int{}, 0
	for _, row := range d.Sample {
		n := len(row)
		if counts[n]++; n == len(d.Header)+1 && len(row[n-1]) == 0 {
			empty++
		}
	}
	// A field too many that is always empty is a delimiter at the end of each row: a habit of
	// the logger and no field.
	d.Trailing = 2*empty > len(d.Sample)
	for n, count := range counts {
		if 2*count > len(d.Sample) && n <= len(d.Header) {
			d.Usual = n
		}
	}
	if d.Trailing {
		d.Usual = len(d.Header) + 1
	}
}

// Cells is one column of the sample, until another is asked for; a cell that a row is too
// short for is nil.
func (d *Dialect) Cells(i int) [][]byte {
	d.cells = d.cells[:0]
	for _, row := range d.Sample {
		var cell []byte
		if i < len(row) {
			cell = row[i]
		}
		d.cells = append(d.cells, cell)
	}
	return d.cells
}

// HeaderList is the header for a sentence.
func (d *Dialect) HeaderList() string {
	q := tables.Each(d.Header[:min(len(d.Header), 8)], tables.Quote)
	if len(d.Header) > 8 {
		q = append(q, "…")
	}
	return strings.Join(q, ", ")
}

// Misplaced says why the numbers of the rows may stand under the wrong headings:
// most rows have more of them. "" where they do not.
func (d *Dialect) Misplaced() string {
	width, more, fields := len(d.Header), 0, 0
	for _, row := range d.Sample {
		if len(row) > width && slices.ContainsFunc(row[width:], func(f []byte) bool { return len(f) > 0 }) {
			more, fields = more+1, len(row)
		}
	}
	if 2*more <= len(d.Sample) {
		return ""
	}
	return fmt.Sprintf("the rows have %d fields under %d headings, so which number is whose cannot be told: --delimiter or --header-line", fields, width)
}

// take keeps what a layout says, with the reasons.
func (d *Dialect) take(l *layout) {
	d.Delim = l.delim
	d.HeaderLine, d.HeaderRaw = l.header+1, bytes.Clone(withoutEnd(l.lines[l.header]))
	for _, f := range SplitFields(d.HeaderRaw, d.Delim) {
		d.Header = append(d.Header, d.Enc.Text(f))
	}
	origin := ", from the rows"
	if l.asked.Delimiter != "" {
		origin = ", as told"
	}
	d.Why = append(d.Why, "fields end at a "+delimiterName(d.Delim)+origin)
	why := fmt.Sprintf("header on line %d", d.HeaderLine)
	if d.HeaderLine > 1 {
		why += fmt.Sprintf(" after %d of preamble", d.HeaderLine-1)
	}
	if l.units >= 0 {
		for _, f := range SplitFields(withoutEnd(l.lines[l.units]), d.Delim) {
			d.Units = append(d.Units, strings.TrimSpace(strings.Trim(Mend(d.Enc.Text(f)), "()[]{}")))
		}
		why += fmt.Sprintf(", units on line %d", l.units+1)
	}
	d.Why = append(d.Why, why)
	d.FirstLine = l.data + 1
	for _, line := range l.lines[:l.data] {
		d.DataStart += int64(len(line))
	}
}
