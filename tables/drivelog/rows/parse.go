package rows

import (
	"bytes"
	"slices"

	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/dialect"
)

// slot is one column that is wanted.
type slot struct {
	col   *channel.Column
	at    int   // its place in the batch
	shape shape // of most of its cells
	words bool  // its cells are times in words
}

// rowParser turns lines of a wide log into batches. It is shared by workers
// and holds no state of its own.
type rowParser struct {
	*dialect.Dialect
	delim  byte // as the dialect's, like the line end: near at hand
	eol    byte
	header []byte
	width  int            // fields in the header
	slots  []slot         // in the order of the log's fields
	again  *channel.Heads // to know another header
}

// NewRowParser parses columns of a wide log, which keep their order in the batch.
func NewRowParser(d *dialect.Dialect, cols []*channel.Column) *rowParser {
	p := &rowParser{Dialect: d, delim: d.Delim, eol: d.EOL, header: d.HeaderRaw, width: len(d.Header), again: channel.NewHeads(d, false)}
	for i, c := range cols {
		p.slots = append(p.slots, slot{col: c, at: i, shape: newShape(c.Places, c.Decimal), words: c.Clock != nil && c.Clock.Words != nil})
	}
	slices.SortStableFunc(p.slots, func(a, b slot) int { return a.col.Index - b.col.Index })
	return p
}

// Parse reads whole lines. last says that buf ends the log, so that its last
// line may lack an end.
func (p *rowParser) Parse(buf []byte, last bool, b *Batch) {
	b.begin(len(p.slots), len(buf)/(p.width+1)+16)
	for pos := 0; pos < len(buf) && b.tail < 0; {
		pos = p.someLines(buf, pos, last, b)
	}
	b.Read = b.N
	p.dropVacuum(b)
	b.end()
}

// dropVacuum takes absolute pressures of zero or less for no readings.
func (p *rowParser) dropVacuum(b *Batch) {
	for k := range p.slots {
		c, at := p.slots[k].col, p.slots[k].at
		if !c.Absolute {
			continue
		}
		for i, v := range b.Vals[at][:b.N] {
			if v <= 0 {
				b.gap(at, i, dialect.NoReading)
				b.Faults.noPressure(c, v, int(b.Line[i]))
			}
		}
	}
}

// raggedRow counts a row that is not as wide as the header; its slots from
// next on have no cell.
func (p *rowParser) raggedRow(fields, next, no int, b *Batch) {
	p.noCells(next, b)
	b.Faults.Note(ragged, no, "with %d fields under %d", fields, p.width)
}

// noCells says of the slots from next on that the row is too short for them.
func (p *rowParser) noCells(next int, b *Batch) {
	for _, s := range p.slots[next:] {
		b.gap(s.at, b.N, dialect.NoCell)
	}
}

// slowLine reads one record in the ways of RFC 4180 and returns where the next
// begins. A quoted field may hold line ends.
func (p *rowParser) slowLine(buf []byte, pos int, last bool, b *Batch) int {
	no := b.lines
	end, next, open, cut := dialect.RecordEnd(buf, pos, p.delim, p.eol)
	if open && cut && !last {
		b.tail = pos
		return len(buf)
	}
	if open {
		b.Faults.add(QuoteOpen, no)
	}
	ended := next > end
	b.lines += bytes.Count(buf[pos:end], []byte{p.eol})
	p.row(dialect.TrimEnd(buf[pos:end]), no, last && !ended, b)
	if ended {
		b.lines++
	}
	return next
}

// row reads one record; unended says that the log stops in it.
func (p *rowParser) row(line []byte, no int, unended bool, b *Batch) {
	// Old editors end a file with the character 0x1a: as a last line it is no row.
	if t := dialect.TrimBlanks(line); len(t) == 0 || unended && len(t) == 1 && t[0] == 0x1a {
		return
	}
	if bytes.Equal(line, p.header) {
		b.Faults.add(headerAgain, no)
		return
	}
	b.Line[b.N] = int32(no)
	rest, more := line, true
	fields, next := 0, 0
	var f []byte
	for more {
		f, rest, more = dialect.NextField(rest, p.delim)
		if !more && unended && fields+1 < p.Usual { // the field in which the log is cut off is no reading
			b.Faults.add(torn, no)
			if fields == 0 {
				return
			}
			p.noCells(next, b)
			break
		}
		for ; next < len(p.slots) && fields == p.slots[next].col.Index; next++ {
			if s := &p.slots[next]; p.cell(f, s, b.N, b) == dialect.ReadText && s.col.Clock != nil {
				p.wordyTime(line, no, b)
			}
		}
		if fields++; !more && !p.asWide(fields, len(f) == 0) {
			p.raggedRow(fields, next, no, b)
		}
	}
	b.N++
}

// asWide reports whether a row has as many fields as the header, or one empty
// one more where that is the logger's habit.
func (p *rowParser) asWide(fields int, lastEmpty bool) bool {
	return fields == p.width || p.Trailing && lastEmpty && fields == p.width+1
}

// cell reads what a cell of any kind holds, blanks already off.
func (p *rowParser) cell(f []byte, s *slot, row int, b *Batch) dialect.ReadKind {
	v, kind := s.col.Value(f)
	switch kind {
	case dialect.ReadNumber:
		b.Vals[s.at][row] = v
		return kind
	case dialect.ReadEmpty:
		v = dialect.EmptyCell
	default:
		v = dialect.NoReading
		b.Faults.cell(kind, s.col, f, p.Enc, int(b.Line[row]))
	}
	b.gap(s.at, row, v)
	return kind
}

// wordyTime looks at a row whose time is a word: another log may begin in it.
func (p *rowParser) wordyTime(line []byte, no int, b *Batch) {
	if b.other < 0 && p.again.Others(dialect.SplitFields(line, p.delim)) {
		b.other = no
	}
}
