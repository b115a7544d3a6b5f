package drivelog

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"calsplice/tables"
)

// dialect is how a log is written, as far as its beginning tells.
type dialect struct {
	enc        encoding
	eol        byte
	delim      byte
	decimal    byte
	headerLine int   // file line, from 1
	unitsLine  int   // 0: none
	firstLine  int   // of the first data row
	dataStart  int64 // its offset in bytes, decoded
	header     []string
	headerRaw  []byte   // the line as it stands
	units      []string // of a units row; nil where there is none
	sample     [][][]byte
	usual      int  // fields that a complete row has
	trailing   bool // each row ends with a delimiter too many: a last field, always empty
	openHeader bool // a quote of the header does not close on its line
	whole      bool // the sample is the whole log
	why        []string
}

const (
	maxColumns  = 20000
	sampleRows  = 2000
	headerReach = 400 // lines in which a header is looked for
)

// asked is how a person says that a log is written; what is left empty is
// detected.
type asked struct {
	delimiter  string // one character, or its name
	decimal    string // "." or ","
	unitsRow   string // yes or no
	headerLine int    // from 1
	maxLine    int    // bytes
}

var delimiters = []struct {
	char byte
	name string
}{{',', "comma"}, {';', "semicolon"}, {'\t', "tab"}, {'|', "bar"}}

func delimiterName(d byte) string {
	for _, known := range delimiters {
		if known.char == d {
			return known.name
		}
	}
	return strconv.Quote(string(d))
}

// delims are the delimiters that a log may have.
func (a *asked) delims() (list []byte, err error) {
	s := strings.ToLower(a.delimiter)
	for _, known := range delimiters {
		if s == known.name || s == `\t` && known.char == '\t' {
			return []byte{known.char}, nil
		}
		list = append(list, known.char)
	}
	switch {
	case s == "":
		return list, nil
	case len(s) != 1 || s[0] >= 0x80 || s == `"` || s == "\n" || s == "\r":
		return nil, fmt.Errorf("delimiter %s is not one character, or tab", tables.Quote(a.delimiter))
	}
	return []byte{a.delimiter[0]}, nil
}

// decimalMark is the decimal mark, undecided where none is asked for.
func (a *asked) decimalMark() (byte, error) {
	switch a.decimal {
	case "":
		return undecided, nil
	case ".", "point", "dot":
		return '.', nil
	case ",", "comma":
		return ',', nil
	}
	return undecided, fmt.Errorf("decimal mark %s is neither . nor ,", tables.Quote(a.decimal))
}

// yesOrNo reads an answer, "" for none.
func yesOrNo(what, s string) (yes, given bool, err error) {
	switch strings.ToLower(s) {
	case "":
		return false, false, nil
	case "yes", "no":
		return strings.EqualFold(s, "yes"), true, nil
	}
	return false, false, fmt.Errorf("%s %s is neither yes nor no", what, tables.Quote(s))
}

// head is the beginning of a log, decoded and without its byte-order mark.
type head struct {
	text  []byte
	enc   encoding
	mark  int      // bytes of the mark, decoded
	atEnd bool     // this is all of the log
	why   []string // how it is packed and encoded
}

// detect tells how a log is written from its beginning.
func detect(head *head, ask *asked) (*dialect, error) {
	d := &dialect{enc: head.enc, eol: '\n', whole: head.atEnd}
	if bytes.IndexByte(head.text, '\n') < 0 && bytes.IndexByte(head.text, '\r') >= 0 {
		d.eol = '\r'
	}
	all := headLines(head.text, d.eol, head.atEnd)
	switch {
	case len(all) == 0 && head.atEnd:
		return nil, fault(0, "the log is empty")
	case len(all) == 0:
		return nil, fault(1, "the line is longer than %d bytes: --max-line", ask.maxLine)
	}
	lines := all[:min(len(all), max(headerReach, ask.headerLine+50))]
	delims, err := ask.delims()
	if err != nil {
		return nil, err
	}
	if _, _, err := yesOrNo("units row", ask.unitsRow); err != nil {
		return nil, err
	}
	best := bestLayout(lines, delims, ask)
	switch {
	case best.score == 0:
		return nil, noHeader(lines, delims)
	case best.data < 0:
		return nil, fault(lines[best.header].no, "there are no rows under the header")
	}
	d.take(best, lines, ask)
	if len(d.header) > maxColumns {
		return nil, fault(d.headerLine, "the header has %d columns: up to %d are read", len(d.header), maxColumns)
	}
	d.takeSample(head.text)
	d.findWidth()
	if _, _, d.openHeader, _ = recordEnd(d.headerRaw, 0, d.delim, d.eol); d.openHeader && !d.trailing && d.usual != len(d.header) {
		return nil, fault(d.headerLine, "a quote of the header does not close, and the rows have %d fields under its %d", d.usual, len(d.header))
	}
	d.dataStart += int64(head.mark)
	d.decimal, err = ask.decimalMark()
	return d, err
}

// takeSample splits the first rows.
func (d *dialect) takeSample(head []byte) {
	whole := d.whole
	for pos := int(d.dataStart); pos < len(head); {
		end, next, _, cut := recordEnd(head, pos, d.delim, d.eol)
		if !whole && (cut || next == end) || len(d.sample) == sampleRows {
			d.whole = false
			return
		}
		if row := head[pos:end]; len(trimBlanks(row)) > 0 {
			d.sample = append(d.sample, appendFields(make([][]byte, 0, len(d.header)+1), row, d.delim))
		}
		pos = next
	}
}

// findWidth tells how many fields a complete row has: as the header, unless most
// of the rows agree on another number.
func (d *dialect) findWidth() {
	d.usual = len(d.header)
	counts, empty := map[int]int{}, 0
	for _, row := range d.sample {
		n := len(row)
		if counts[n]++; n == len(d.header)+1 && len(row[n-1]) == 0 {
			empty++
		}
	}
	d.trailing = 2*empty > len(d.sample)
	for n, count := range counts {
		if 2*count > len(d.sample) && n <= len(d.header) {
			d.usual = n
		}
	}
	if d.trailing {
		d.usual = len(d.header) + 1
	}
}

// cells is one column of the sample; a cell that a row is too short for is nil.
func (d *dialect) cells(i int) [][]byte {
	cells := make([][]byte, len(d.sample))
	for k, row := range d.sample {
		if i < len(row) {
			cells[k] = row[i]
		}
	}
	return cells
}

// headerList is the header for a sentence.
func (d *dialect) headerList() string {
	var q []string
	for _, h := range d.header[:min(len(d.header), 8)] {
		q = append(q, tables.Quote(h))
	}
	if len(d.header) > 8 {
		q = append(q, "…")
	}
	return strings.Join(q, ", ")
}

// misplaced says why the numbers of the rows may stand under the wrong headings:
// most rows have more of them. "" where they do not.
func (d *dialect) misplaced() string {
	width, more, fields := len(d.header), 0, 0
	for _, row := range d.sample {
		if len(row) > width && slices.ContainsFunc(row[width:], func(f []byte) bool { return len(f) > 0 }) {
			more, fields = more+1, len(row)
		}
	}
	if 2*more <= len(d.sample) {
		return ""
	}
	return fmt.Sprintf("the rows have %d fields under %d headings, so which number is whose cannot be told: --delimiter or --header-line", fields, width)
}

func (d *dialect) take(l layout, lines []headLine, ask *asked) {
	d.delim = l.delim
	d.headerLine, d.headerRaw = lines[l.header].no, bytes.Clone(lines[l.header].b)
	for _, f := range splitFields(lines[l.header].b, d.delim) {
		d.header = append(d.header, d.enc.text(f))
	}
	told := ", from the rows"
	if ask.delimiter != "" {
		told = ", as told"
	}
	d.why = append(d.why, "fields end at a "+delimiterName(d.delim)+told)
	why := fmt.Sprintf("header on line %d", d.headerLine)
	if d.headerLine > 1 {
		why += fmt.Sprintf(" after %d of preamble", d.headerLine-1)
	}
	if l.units >= 0 {
		d.unitsLine = lines[l.units].no
		for _, f := range splitFields(lines[l.units].b, d.delim) {
			d.units = append(d.units, strings.TrimSpace(strings.Trim(mend(d.enc.text(f)), "()[]{}")))
		}
		why += fmt.Sprintf(", units on line %d", d.unitsLine)
	}
	d.why = append(d.why, why)
	d.firstLine, d.dataStart = lines[l.data].no, lines[l.data].off
}
