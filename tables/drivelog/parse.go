package drivelog

import (
	"bytes"
	"fmt"
	"math/bits"

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
	ends   []int32     // of the fields of the row being read
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
	slots      []slot // by ascending index
	missing    []string
	enc        encoding
	header     []byte // the header line as it stands, to know it again
}

func (b *batch) begin(slots, rows int) {
	b.n, b.lines, b.tail, b.err = 0, 0, -1, nil
	b.faults.reset()
	for len(b.vals) < slots {
		b.vals = append(b.vals, nil)
		b.full = append(b.full, true)
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
	if most := p.width + 64 + 8 + 2; len(b.ends) < most {
		b.ends = make([]int32, most)
	}
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
		pos = p.slowLine(buf, pos, last, b)
	}
	b.end()
}

// nextQuote is where the next quote stands, or the end.
func nextQuote(buf []byte, pos int) int {
	if i := bytes.IndexByte(buf[pos:], '"'); i >= 0 {
		return pos + i
	}
	return len(buf)
}

// fastRow reads one line without quotes, eight bytes at a time, and returns
// where the next begins; 0 leaves it to the slow way.
func (p *rowParser) fastRow(buf []byte, pos int, b *batch) int {
	n := bytes.IndexByte(buf[pos:], p.eol)
	if n < 1 || pos+n+64 > len(buf) || len(p.slots) == 0 {
		return 0 // blank, or too near the end to look at 64 bytes
	}
	eol := pos + n
	stop := eol
	if buf[stop-1] == '\r' {
		stop--
	}
	if stop-pos == len(p.header) && bytes.Equal(buf[pos:stop], p.header) {
		return 0
	}
	found := p.fieldEnds(buf, pos, stop, b)
	fields := found
	if last := int(b.ends[found]); last < stop {
		fields += 1 + bytes.Count(buf[last+1:stop], p.delims) // no cell behind is wanted
	}
	if fields == 1 {
		return 0 // blank, perhaps
	}
	next := 0
	for ; next < len(p.slots) && p.slots[next].index < found; next++ {
		s := &p.slots[next]
		start, end := int(b.ends[s.index])+1, int(b.ends[s.index+1])
		for start < end && buf[start] == ' ' {
			start++
		}
		if s.bare {
			v, ok := s.shape.number(buf, start, end)
			if !ok {
				v, ok = smallNumber(buf, start, end, s.mark)
			}
			if ok {
				if !s.plain {
					v = s.col.conv.Apply(v)
				}
				b.vals[next][b.n] = v
				continue
			}
		}
		p.cell(trimBlanks(buf[start:end]), next, b)
	}
	if fields != p.width {
		p.raggedRow(fields, next, b.lines, b)
	}
	b.line[b.n] = int32(b.lines)
	b.n++
	b.lines++
	return eol + 1
}

// fieldEnds finds where the fields of a line end, at least up to the last that
// is wanted, and how many these are: field k lies between b.ends[k], exclusive,
// and b.ends[k+1].
func (p *rowParser) fieldEnds(buf []byte, pos, stop int, b *batch) (found int) {
	last := p.slots[len(p.slots)-1].index
	delims := eachByte * uint64(p.delim)
	ends := b.ends
	ends[0] = int32(pos - 1)
	for at := pos; at < stop && found <= last; at += 64 {
		d := bitmap((*[64]byte)(buf[at:]), delims)
		if left := stop - at; left < 64 {
			d &= 1<<uint(left) - 1
		}
		n := bits.OnesCount64(d)
		// Four at a time, more than there are: so the branch is foreseen.
		for k := 0; k < n; k += 4 {
			e := (*[4]int32)(ends[found+k+1:])
			e[0] = int32(at + bits.TrailingZeros64(d))
			d &= d - 1
			e[1] = int32(at + bits.TrailingZeros64(d))
			d &= d - 1
			e[2] = int32(at + bits.TrailingZeros64(d))
			d &= d - 1
			e[3] = int32(at + bits.TrailingZeros64(d))
			d &= d - 1
		}
		found += n
	}
	if found <= last {
		found++
		ends[found] = int32(stop)
	}
	return found
}

// raggedRow counts a row that is not as wide as the header; its slots from
// next on have no cell.
func (p *rowParser) raggedRow(fields, next, no int, b *batch) {
	for ; next < len(p.slots); next++ {
		b.vals[next][b.n] = noReading
		b.full[next] = false
	}
	if b.faults[ragged].note == "" {
		b.faults.note(ragged, no, "with %d fields under %d", fields, p.width)
	} else {
		b.faults.add(ragged, no)
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
	rest, more := line, true
	field, next := 0, 0
	lines := b.lines
	b.lines = no
	for more {
		var f []byte
		f, rest, more = nextField(rest, p.delim)
		if !more && unended && field+1 < p.width { // the field in which the log is cut off is no reading
			if f = nil; field == 0 {
				b.faults.add(torn, no)
				b.lines = lines
				return
			}
		}
		for ; next < len(p.slots) && field == p.slots[next].index; next++ {
			p.cell(f, next, b)
		}
		field++
	}
	b.lines = lines
	if tornRow := unended && field < p.width; tornRow || field == p.width {
		for ; next < len(p.slots); next++ {
			b.vals[next][b.n] = noReading
			b.full[next] = false
		}
		if tornRow {
			b.faults.add(torn, no)
		}
	} else {
		p.raggedRow(field, next, no, b)
	}
	b.line[b.n] = int32(no)
	b.n++
}

func (p *rowParser) cell(f []byte, slot int, b *batch) {
	c := p.slots[slot].col
	v, kind := c.read(f, p.missing)
	switch kind {
	case readNumber:
		b.vals[slot][b.n] = c.conv.Apply(v)
		return
	case readEmpty:
		v = emptyCell
	case readMissing:
		v = noReading
	default:
		v = noReading
		if c.clock == nil && !c.wordy {
			b.faults.note(textCell, b.lines, "%s in %s", tables.Quote(p.enc.text(f)), tables.Quote(c.text))
		}
	}
	b.vals[slot][b.n] = v
	b.full[slot] = false
}

func lineTooLong(name string, line, most int) error {
	return &tables.Fault{File: name, Line: line, What: fmt.Sprintf("the line is longer than %d bytes: --max-line", most)}
}
