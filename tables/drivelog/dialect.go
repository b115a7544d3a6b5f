package drivelog

import (
	"bytes"
	"fmt"
	"math"
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

// sampleLine is one line of the beginning.
type headLine struct {
	no  int
	off int64
	b   []byte
}

const (
	maxColumns  = 20000
	sampleRows  = 2000
	headerReach = 400 // lines in which a header is looked for
)

var missingMarks = []string{"NaN", "nan", "N/A", "n/a", "-", "--", "null"}

func delimiterName(d byte) string {
	switch d {
	case '\t':
		return "tab"
	case ',':
		return "comma"
	case ';':
		return "semicolon"
	case '|':
		return "bar"
	}
	return strconv.Quote(string(d))
}

func parseDelimiter(s string) (byte, error) {
	switch strings.ToLower(s) {
	case "tab", `\t`:
		return '\t', nil
	case "comma":
		return ',', nil
	case "semicolon":
		return ';', nil
	}
	if len(s) != 1 || s[0] >= 0x80 || s == `"` || s == "\n" || s == "\r" {
		return 0, fmt.Errorf("delimiter %s is not one character, or tab", tables.Quote(s))
	}
	return s[0], nil
}

// headLines cuts the head of a log into lines; a last line without its end is
// left out unless the head is the whole log.
func headLines(head []byte, eol byte, atEnd bool) []headLine {
	var lines []headLine
	off := int64(0)
	for no := 1; len(head) > 0; no++ {
		i := bytes.IndexByte(head, eol)
		if i < 0 {
			if atEnd {
				lines = append(lines, headLine{no, off, bytes.TrimRight(head, "\r")})
			}
			break
		}
		lines = append(lines, headLine{no, off, bytes.TrimRight(head[:i], "\r")})
		off += int64(i + 1)
		head = head[i+1:]
	}
	return lines
}

// cellKind is what a cell looks like.
type cellKind int

const (
	cellEmpty cellKind = iota
	cellMissing
	cellNumber
	cellTime
	cellGlued // a number with its unit: "24,77g/s"
	cellText
)

func kindOf(b []byte) cellKind {
	if len(b) == 0 {
		return cellEmpty
	}
	if isMissing(b, missingMarks) {
		return cellMissing
	}
	if _, _, ok := proves(b); ok {
		return cellNumber
	}
	for _, read := range []func([]byte) (float64, bool){timeOfDay, minutesSeconds, isoTime} {
		if _, ok := read(b); ok {
			return cellTime
		}
	}
	if _, u := splitGlued(b); u != "" && (isUnit(u)) {
		return cellGlued
	}
	return cellText
}

func isMissing(b []byte, marks []string) bool {
	for _, m := range marks {
		if string(b) == m {
			return true
		}
	}
	return false
}

// splitGlued cuts a cell after its number.
func splitGlued(b []byte) (num []byte, rest string) {
	i := numberEnd(b)
	if i == 0 || i == len(b) {
		return nil, ""
	}
	return b[:i], strings.TrimSpace(string(b[i:]))
}

// numberEnd is where what may be a number at the beginning of a cell ends: a
// separator belongs to it where a digit follows.
func numberEnd(b []byte) int {
	i := 0
	for i < len(b) {
		switch sep := separatorAt(b[i:]); {
		case b[i]-'0' <= 9, b[i] == '.', b[i] == ',', (b[i] == '-' || b[i] == '+') && i == 0:
			i++
		case sep != "" && i > 0 && leadingDigits(b[i+len(sep):]) > 0:
			i += len(sep)
		default:
			return i
		}
	}
	return i
}

// looksLikeData reports whether at least a share of a row's filled cells are
// numbers or times.
func looksLikeData(fields [][]byte, share float64) bool {
	filled, good := 0, 0
	for _, f := range fields {
		switch kindOf(f) {
		case cellEmpty:
		case cellNumber, cellTime, cellGlued:
			filled++
			good++
		case cellMissing:
			good++
			filled++
		default:
			filled++
		}
	}
	return filled > 0 && float64(good) >= share*float64(filled)
}

// looksLikeUnits reports whether a line under a header holds units.
func looksLikeUnits(fields [][]byte) bool {
	filled, units := 0, 0
	for _, f := range fields {
		s := strings.ToLower(string(f))
		if s == "" {
			continue
		}
		filled++
		switch bare := strings.TrimSpace(strings.Trim(s, "()[]{}")); {
		case isUnit(bare), bare == "", bare == "-", bare == "#", bare == "hh:mm:ss", bare == "hh:mm:ss.fff", bare == "none",
			bare == "status", bare == "text", bare == "enum", bare == "bool", bare == "time":
			units++
		}
	}
	return units > 0 && 2*units > filled
}

// layout is what one delimiter makes of a log's beginning.
type layout struct {
	delim               byte
	header, units, data int // indexes of lines; units -1 where there is none
	score               float64
}

// tryDelimiter finds the header and the first row under a delimiter.
func tryDelimiter(lines []headLine, delim byte, share float64, opt *Options) (layout, bool) {
	headerLine := opt.HeaderLine
	isUnits := func(fields [][]byte) bool {
		return opt.UnitsRow != "no" && (opt.UnitsRow == "yes" || looksLikeUnits(fields))
	}
	l := layout{delim: delim, header: -1, units: -1, data: -1}
	fields := make([][][]byte, len(lines))
	isData := make([]bool, len(lines))
	for i, ln := range lines {
		fields[i] = splitFields(ln.b, delim)
		isData[i] = len(fields[i]) > 1 && looksLikeData(fields[i], share)
	}
	text := func(i int) bool { return len(fields[i]) > 1 && !isData[i] }
	before := func(i int) int { // the nearest line above that is not blank
		for i--; i >= 0 && len(trimBlanks(lines[i].b)) == 0; i-- {
		}
		return i
	}
	usual := usualWidth(fields, isData)
	for i := range lines {
		switch {
		case headerLine > 0 && lines[i].no == headerLine:
			l.header = i
		case l.header >= 0 && headerLine > 0:
			if len(trimBlanks(lines[i].b)) == 0 {
				continue
			}
			if l.units < 0 && !isData[i] && isUnits(fields[i]) {
				l.units = i
				continue
			}
			l.data = i
		case headerLine == 0 && isData[i] && 5*len(fields[i]) >= 3*usual:
			h := before(i)
			if h < 0 || !text(h) {
				continue
			}
			if up := before(h); up >= 0 && text(up) && isUnits(fields[h]) && near(len(fields[up]), len(fields[h])) {
				l.units, h = h, up
			}
			if near(len(fields[h]), len(fields[i])) {
				l.header, l.data = h, i
			} else {
				l.units = -1
			}
		}
		if l.data >= 0 {
			break
		}
	}
	if l.header < 0 || l.data < 0 && headerLine == 0 {
		return l, false
	}
	l.score = fit(fields[max(l.data, 0):], len(fields[l.header]))
	return l, true
}

// near reports whether two counts of fields may belong together.
func near(a, b int) bool {
	return math.Abs(float64(a-b)) <= math.Max(1, 0.4*float64(max(a, b)))
}

// usualWidth is the commonest count of fields among the rows.
func usualWidth(fields [][][]byte, isData []bool) int {
	counts := map[int]int{}
	best := 0
	for i, f := range fields {
		if isData[i] {
			counts[len(f)]++
			if c, b := counts[len(f)], counts[best]; c > b || c == b && len(f) > best {
				best = len(f)
			}
		}
	}
	return best
}

// fit scores rows under a header: the share of cells that are numbers or times
// times the share of rows as wide as the header; wider headers win ties.
func fit(rows [][][]byte, width int) float64 {
	var cells, good, wide, n float64
	for _, r := range rows {
		if len(r) == 1 && len(r[0]) == 0 {
			continue
		}
		n++
		if near(len(r), width) {
			wide++
		}
		for _, f := range r {
			switch kindOf(f) {
			case cellEmpty:
				continue
			case cellText:
			default:
				good++
			}
			cells++
		}
	}
	if n == 0 || cells == 0 {
		return 0.001 * float64(width)
	}
	return good / cells * wide / n * (1 - 1/float64(1+width))
}

// detect reads a log's beginning. head is decoded text; atEnd says that it is
// all there is.
func detect(name string, head []byte, atEnd bool, enc encoding, opt *Options) (*dialect, error) {
	d := &dialect{enc: enc, eol: '\n', whole: atEnd}
	fault := func(line int, format string, args ...any) error {
		return &tables.Fault{File: name, Line: line, What: fmt.Sprintf(format, args...)}
	}
	if bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		d.eol = '\r'
	}
	all := headLines(head, d.eol, atEnd)
	if len(all) == 0 {
		if atEnd {
			return nil, fault(0, "the log is empty")
		}
		return nil, fault(1, "the line is longer than %d bytes: --max-line", opt.maxLine())
	}
	lines := all[:min(len(all), max(headerReach, opt.HeaderLine+50))]
	delims := []byte{',', ';', '\t', '|'}
	switch opt.UnitsRow {
	case "", "yes", "no":
	default:
		return nil, fmt.Errorf("units row %s is neither yes nor no", tables.Quote(opt.UnitsRow))
	}
	if opt.Delimiter != "" {
		b, err := parseDelimiter(opt.Delimiter)
		if err != nil {
			return nil, err
		}
		delims = []byte{b}
	}
	var best layout
	for _, share := range []float64{0.5, 0.15} { // rows of many words are taken only where there are no others
		for _, c := range delims {
			if l, ok := tryDelimiter(lines, c, share, opt); ok && l.score > best.score {
				best = l
			}
		}
		if best.score > 0 {
			break
		}
	}
	if best.score == 0 {
		return nil, noHeader(fault, lines, delims)
	}
	if best.data < 0 {
		return nil, fault(lines[best.header].no, "there are no rows under the header")
	}
	d.take(best, lines, opt)
	if len(d.header) > maxColumns {
		return nil, fault(d.headerLine, "the header has %d columns: up to %d are read", len(d.header), maxColumns)
	}
	d.takeSample(head)
	d.findWidth()
	if _, _, d.openHeader, _ = recordEnd(d.headerRaw, 0, d.delim, d.eol); d.openHeader && !d.trailing && d.usual != len(d.header) {
		return nil, fault(d.headerLine, "a quote of the header does not close, and the rows have %d fields under its %d", d.usual, len(d.header))
	}
	var err error
	d.decimal, err = toldDecimal(opt)
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

// noHeader says why a log's columns cannot be told.
func noHeader(fault func(int, string, ...any) error, lines []headLine, delims []byte) error {
	if first := trimBlanks(lines[0].b); bytes.HasPrefix(first, []byte("{")) || bytes.HasPrefix(first, []byte("calsplice,")) {
		return fault(lines[0].no, "this is a document, not a drive log: a drive log is rows of channels over time")
	}
	for i, ln := range lines {
		if len(trimBlanks(ln.b)) == 0 {
			continue
		}
		for _, c := range delims {
			f := splitFields(ln.b, c)
			if len(f) > 1 && looksLikeData(f, 0.5) {
				return fault(ln.no, "there is no header above the first row of numbers, so the channels cannot be told")
			}
			if len(f) > 1 && i == len(lines)-1 {
				return fault(ln.no, "there are no rows of numbers under the header")
			}
		}
	}
	hint := ""
	if len(lines) >= headerReach {
		hint = ": --header-line LINE if it stands further down"
	}
	return fault(lines[0].no, "no header and rows of a drive log are found in the first %d lines%s", len(lines), hint)
}

func (d *dialect) take(l layout, lines []headLine, opt *Options) {
	d.delim = l.delim
	d.headerLine, d.headerRaw = lines[l.header].no, lines[l.header].b
	for _, f := range splitFields(lines[l.header].b, d.delim) {
		d.header = append(d.header, d.enc.text(f))
	}
	told := ", from the rows"
	if opt.Delimiter != "" {
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

// toldDecimal is the decimal mark that the person gave, undecided where none.
func toldDecimal(opt *Options) (byte, error) {
	switch opt.Decimal {
	case "":
		return undecided, nil
	case ".", "point", "dot":
		return '.', nil
	case ",", "comma":
		return ',', nil
	}
	return undecided, fmt.Errorf("decimal mark %s is neither . nor ,", tables.Quote(opt.Decimal))
}
