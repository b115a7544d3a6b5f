package drivelog

import (
	"bytes"
	"slices"
)

// slot is one column that is wanted.
type slot struct {
	col   *column
	at    int   // its place in the batch
	skip  int   // delimiters between the slot before and this one's cell; −1 where both are one cell
	shape shape // of most of its cells
	words bool  // its cells are times in words
}

// rowParser turns lines of a wide log into batches. It is shared by workers
// and holds no state of its own.
type rowParser struct {
	*dialect
	width  int    // fields in the header
	slots  []slot // in the order of the log's fields
	again  *heads // to know another header
	delims []byte // the delimiter
}

// newRowParser parses columns of a wide log, which keep their order in the batch.
func newRowParser(d *dialect, cols []*column) *rowParser {
	p := &rowParser{dialect: d, width: len(d.header), again: newHeads(d, false), delims: []byte{d.delim}}
	for i, c := range cols {
		p.slots = append(p.slots, slot{col: c, at: i, shape: newShape(c.places, c.decimal), words: c.clock != nil && c.clock.words != nil})
	}
	slices.SortStableFunc(p.slots, func(a, b slot) int { return a.col.index - b.col.index })
	before := -1 // the delimiter behind a cell is passed with it
	for i := range p.slots {
		s := &p.slots[i]
		s.skip, before = s.col.index-before-1, s.col.index
	}
	return p
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
	b.read = b.n
	b.end()
	p.dropVacuum(b)
}

// dropVacuum takes absolute pressures of zero or less for no readings.
func (p *rowParser) dropVacuum(b *batch) {
	for k := range p.slots {
		c, at := p.slots[k].col, p.slots[k].at
		if !c.absolute {
			continue
		}
		for i, v := range b.vals[at] {
			if v <= 0 {
				b.vals[at][i], b.full[at] = noReading, false
				b.faults.noPressure(c, v, int(b.line[i]))
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
	b.faults.note(ragged, no, "with %d fields under %d", fields, p.width)
}

// noCells says of the slots from next on that the row is too short for them.
func (p *rowParser) noCells(next int, b *batch) {
	for _, s := range p.slots[next:] {
		b.vals[s.at][b.n] = noCell
		b.full[s.at] = false
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

// row reads one record; unended says that the log stops in it.
func (p *rowParser) row(line []byte, no int, unended bool, b *batch) {
	if t := trimBlanks(line); len(t) == 0 || unended && len(t) == 1 && t[0] == 0x1a {
		return
	}
	if bytes.Equal(line, p.headerRaw) {
		b.faults.add(headerAgain, no)
		return
	}
	b.line[b.n] = int32(no)
	rest, more := line, true
	fields, next := 0, 0
	var f []byte
	for more {
		f, rest, more = nextField(rest, p.delim)
		if !more && unended && fields+1 < p.usual { // the field in which the log is cut off is no reading
			b.faults.add(torn, no)
			if fields == 0 {
				return
			}
			p.noCells(next, b)
			break
		}
		for ; next < len(p.slots) && fields == p.slots[next].col.index; next++ {
			if s := &p.slots[next]; p.cell(f, s, b.n, b) == readText && s.col.clock != nil {
				p.wordyTime(line, no, b)
			}
		}
		if fields++; !more && !p.asWide(fields, len(f) == 0) {
			p.raggedRow(fields, next, no, b)
		}
	}
	b.n++
}

// asWide reports whether a row has as many fields as the header, or one empty
// one more where that is the logger's habit.
func (p *rowParser) asWide(fields int, lastEmpty bool) bool {
	return fields == p.width || p.trailing && lastEmpty && fields == p.width+1
}

// cell reads what a cell of any kind holds, blanks already off.
func (p *rowParser) cell(f []byte, s *slot, row int, b *batch) readKind {
	v, kind := s.col.value(f)
	switch kind {
	case readNumber:
		b.vals[s.at][row] = v
		return kind
	case readEmpty:
		v = emptyCell
	default:
		v = noReading
		b.faults.cell(kind, s.col, f, p.enc, int(b.line[row]))
	}
	b.vals[s.at][row] = v
	b.full[s.at] = false
	return kind
}

// wordyTime looks at a row whose time is a word: another log may begin in it.
func (p *rowParser) wordyTime(line []byte, no int, b *batch) {
	if b.other < 0 && p.again.others(splitFields(line, p.delim)) {
		b.other = no
	}
}
