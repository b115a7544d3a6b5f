package drivelog

import (
	"bytes"
	"fmt"

	"calsplice/tables"
)

// batch is what one piece of a log becomes: the needed columns of its rows.
type batch struct {
	n      int
	line   []int32     // of each row, counted from the piece's first line
	vals   [][]float64 // by slot; a cell without a reading is one of two NaNs
	full   []bool      // by slot: every cell is a reading
	lines  int         // line ends in the piece
	tail   int         // where a record begins that the piece does not end; -1
	found  int         // last rows whose cells are found but not read
	places []places    // where these are, by slot
	other  int         // a line on which the header of another log stands; −1
	faults tally
	err    error
	events []event // long form; the fields and the key are of the row being read
	fields [][]byte
	key    []byte
	text   []byte // the lines themselves
}

// event is one reading of the long form.
type event struct {
	line    int
	channel int
	time    float64
	value   float64
}

// slot is one column that is wanted.
type slot struct {
	col   *column
	index int
	skip  int    // delimiters between the slot before and this one's cell; −1 where both are one cell
	mark  uint64 // the column's decimal mark, in each byte
	shape shape  // of most of its cells
	plain bool   // no conversion
	bare  bool   // its cells are numbers, not times in words
}

// rowParser turns lines of a wide log into batches. It is shared by workers
// and holds no state of its own.
type rowParser struct {
	delim, eol byte
	delims     []byte // the delimiter
	width      int    // fields in the header
	usual      int    // fields that a complete row has
	trailing   bool   // a delimiter too many ends each row
	slots      []slot // by ascending index
	missing    []string
	enc        encoding
	header     []byte // the header line as it stands, to know it again
	heads      *heads // to know another log's
}

func (b *batch) begin(slots, rows int) {
	b.n, b.lines, b.tail, b.found, b.other, b.err = 0, 0, -1, 0, -1, nil
	b.faults.reset()
	for len(b.vals) < slots {
		b.vals = append(b.vals, nil)
		b.full = append(b.full, true)
		b.places = append(b.places, places{})
	}
	b.vals, b.full = b.vals[:slots], b.full[:slots]
	for i := range b.full {
		b.full[i] = true
		b.vals[i] = b.vals[i][:cap(b.vals[i])]
	}
	b.line = b.line[:cap(b.line)]
	b.room(rows)
}

// room makes place for rows.
func (b *batch) room(rows int) {
	if len(b.line) < rows {
		b.line = append(make([]int32, 0, rows), b.line[:b.n]...)[:rows]
	}
	for i, v := range b.vals {
		if len(v) < rows {
			b.vals[i] = append(make([]float64, 0, rows), v[:min(b.n, len(v))]...)[:rows]
		}
	}
}

// end cuts the columns to the rows that were read.
func (b *batch) end() {
	b.line = b.line[:b.n]
	for i := range b.vals {
		b.vals[i] = b.vals[i][:b.n]
	}
}

// parse reads whole lines. last says that buf ends the log, so that its last
// line may lack an end.
func (p *rowParser) parse(buf []byte, last bool, b *batch) {
	b.begin(len(p.slots), len(buf)/(p.width+1)+16)
	quote := nextQuote(buf, 0)
	for pos := 0; pos < len(buf) && b.tail < 0; {
		if b.n == len(b.line) {
			b.room(2 * b.n)
		}
		if quote < pos {
			quote = nextQuote(buf, pos)
		}
		bare := quote == len(buf)
		if !bare {
			end, _ := lineEnd(buf, pos, p.eol)
			bare = end < quote
		}
		if bare {
			if next := p.fastRow(buf, pos, b); next > 0 {
				pos = next
				continue
			}
		}
		p.readFound(buf, b)
		pos = p.slowLine(buf, pos, last, b)
	}
	p.readFound(buf, b)
	b.end()
	p.dropVacuum(b)
}

// dropVacuum takes absolute pressures of zero or less for no readings.
func (p *rowParser) dropVacuum(b *batch) {
	for k := range p.slots {
		c := p.slots[k].col
		if !c.absolute {
			continue
		}
		for i, v := range b.vals[k] {
			if v <= 0 {
				b.vals[k][i], b.full[k] = noReading, false
				b.faults.note(noPressure, int(b.line[i]), "%s kPa in %s", short(v), tables.Quote(c.text))
			}
		}
	}
}

// nextQuote is where the next quote stands, or the end.
func nextQuote(buf []byte, pos int) int {
	if i := bytes.IndexByte(buf[pos:], '"'); i >= 0 {
		return pos + i
	}
	return len(buf)
}

// raggedRow counts a row that is not as wide as the header; its slots from
// next on have no cell.
func (p *rowParser) raggedRow(fields, next, no int, b *batch) {
	p.noCells(next, b)
	if b.faults[ragged].note == "" {
		b.faults.note(ragged, no, "with %d fields under %d", fields, p.width)
	} else {
		b.faults.add(ragged, no)
	}
}

// noCells says of the slots from next on that the row is too short for them.
func (p *rowParser) noCells(next int, b *batch) {
	for ; next < len(p.slots); next++ {
		b.vals[next][b.n] = noCell
		b.full[next] = false
	}
}

// slowLine reads one record in the ways of RFC 4180 and returns where the next
// begins. A quoted field may hold line ends.
func (p *rowParser) slowLine(buf []byte, pos int, last bool, b *batch) int {
	no := b.lines
	end, next, open, cut := recordEnd(buf, pos, p.delim, p.eol)
	if open && cut && !last {
		b.tail = pos
		return len(buf)
	}
	if open {
		b.faults.add(quoteOpen, no)
	}
	ended := next > end
	b.lines += bytes.Count(buf[pos:end], []byte{p.eol})
	p.row(trimEnd(buf[pos:end]), no, last && !ended, b)
	if ended {
		b.lines++
	}
	return next
}

// trimEnd takes carriage returns off a line's end.
func trimEnd(line []byte) []byte {
	for len(line) > 0 && line[len(line)-1] == '\r' {
		line = line[:len(line)-1]
	}
	return line
}

// lineEnd is where the line at pos ends, and where the next begins.
func lineEnd(buf []byte, pos int, eol byte) (end, next int) {
	if i := bytes.IndexByte(buf[pos:], eol); i >= 0 {
		return pos + i, pos + i + 1
	}
	return len(buf), len(buf)
}

// row reads one record; unended says that the log stops in it.
func (p *rowParser) row(line []byte, no int, unended bool, b *batch) {
	if t := trimBlanks(line); len(t) == 0 || unended && len(t) == 1 && t[0] == 0x1a {
		return
	}
	if len(line) == len(p.header) && bytes.Equal(line, p.header) {
		b.faults.add(headerAgain, no)
		return
	}
	rest, more, cut := line, true, false
	fields, next := 0, 0
	var f []byte
	for more && !cut {
		f, rest, more = nextField(rest, p.delim)
		if cut = !more && unended && fields+1 < p.usual; cut {
			break // the field in which the log is cut off is no reading
		}
		for ; next < len(p.slots) && fields == p.slots[next].index; next++ {
			if p.cell(f, next, b.n, no, b) == readText && p.slots[next].col.clock != nil {
				p.textTime(line, no, b)
			}
		}
		fields++
	}
	switch {
	case cut:
		b.faults.add(torn, no)
		if fields == 0 {
			return
		}
		p.noCells(next, b)
	case !p.asWide(fields, len(f) == 0):
		p.raggedRow(fields, next, no, b)
	}
	b.line[b.n] = int32(no)
	b.n++
}

// asWide reports whether a row has as many fields as the header, or one empty
// one more where that is the logger's habit.
func (p *rowParser) asWide(fields int, lastEmpty bool) bool {
	return fields == p.width || p.trailing && lastEmpty && fields == p.width+1
}

// cell reads what a cell of any kind holds, blanks already off.
func (p *rowParser) cell(f []byte, slot, row, line int, b *batch) readKind {
	c := p.slots[slot].col
	v, kind := c.read(f, p.missing)
	switch kind {
	case readNumber:
		b.vals[slot][row] = c.conv.Apply(v)
		return kind
	case readEmpty:
		v = emptyCell
	case readMissing:
		v = noReading
	case readTwoWays:
		v = noReading
		b.faults.note(twoWaysCell, line, "in %s, %s", tables.Quote(c.text), twoWays(p.enc.text(f)))
	default:
		v = noReading
		if c.clock == nil && !c.wordy {
			b.faults.note(textCell, line, "%s in %s", tables.Quote(p.enc.text(f)), tables.Quote(c.text))
		}
	}
	b.vals[slot][row] = v
	b.full[slot] = false
	return kind
}

// textTime looks at a row whose time is a word: another log may begin in it.
func (p *rowParser) textTime(line []byte, no int, b *batch) {
	if b.other < 0 && p.heads.others(splitFields(line, p.delim)) {
		b.other = no
	}
}

func lineTooLong(name string, line, most int) error {
	return &tables.Fault{File: name, Line: line, What: fmt.Sprintf("the line is longer than %d bytes: --max-line", most)}
}
