package rows

import (
	"bytes"
	"encoding/binary"
	"math/bits"

	"calsplice/tables/drivelog/dialect"
)

// Most lines of most logs are plain: a number in each cell that is wanted, and no
// quotes but around whole cells. They are read in three steps, many lines at a time:
// where their fields end, where the cells are that are wanted, and what these hold,
// column by column. So each step is one tight loop.

// together are the rows whose cells are read at a time.
const together = 64

// cells are those of one slot, by row: the places of the end before a cell and of its
// own, as in [ends], so many bytes behind those of the row before.
type cells struct {
	places []byte
	step   int
}

// at is the cell of a row.
func (c *cells) at(row int) uint32 { return binary.LittleEndian.Uint32(c.places[row*c.step:]) }

// from are the cells from a row on.
func (c *cells) from(row int) *cells { return &cells{c.places[row*c.step:], c.step} }

// found are the cells of one slot that were found: among the ends of fields, where lines
// are regular, and in a list of its own else.
type found struct {
	cells
	own [4 * together]byte
	odd uint64 // rows whose cell is no plain number
}

// put puts a row's cell into the list.
func (f *found) put(row int, cell uint32) {
	f.cells = cells{f.own[:], 4}
	binary.LittleEndian.PutUint32(f.own[4*row:], cell)
}

// noCell is of a row that is too short: it ends before it begins, in the window.
const noCell = margin<<16 | margin + 1

// bounds are the places at which a cell begins and ends.
func bounds(cell uint32) (from, to int) { return int(uint16(cell) + 1), int(cell >> 16) }

// someLines reads lines from a place on, as many as a stretch holds and at least one,
// and returns where the next begins.
func (p *rowParser) someLines(buf []byte, pos int, last bool, b *Batch) int {
	before := margin + b.look(buf, pos)
	behind := b.ends.find(b.window, before, p.delim, p.eol)
	if behind == margin { // a long line, or one without an end
		return p.slowRow(buf, pos, last, b)
	}
	end, text := b.begins+behind, b.window[margin:behind]
	quotes := bytes.IndexByte(text, '"') >= 0
	if !quotes && p.regular(text, &b.ends) {
		p.findRegular(b)
		return end
	}
	for first := 0; pos < end && b.tail < 0; {
		for b.begins+b.ends.at(first) < pos { // of a record of several lines
			first++
		}
		fields := 1
		for b.window[b.ends.at(first+fields-1)] != p.eol {
			fields++
		}
		next := p.findLine(pos, quotes, first, fields, b)
		if next == 0 {
			next = p.slowRow(buf, pos, last, b)
		}
		pos, first = next, first+fields
	}
	p.readFound(b)
	return pos
}

// look makes a window of the text from a place on, of the piece itself where that goes
// on for long enough, and returns for how many bytes fields can end in it.
func (b *Batch) look(buf []byte, pos int) int {
	b.begins = pos - margin
	if b.begins >= 0 && len(buf) >= b.begins+len(b.window) {
		b.window = (*window)(buf[b.begins:])
		return stretch
	}
	if b.copy == nil {
		b.copy = new(window)
	}
	b.window = b.copy
	return copy(b.copy[margin:margin+stretch], buf[pos:])
}

// slowRow reads a record in the slow way, behind the rows that were found before it.
func (p *rowParser) slowRow(buf []byte, pos int, last bool, b *Batch) int {
	p.readFound(b)
	b.need(1)
	return p.slowLine(buf, pos, last, b)
}

// regular reports whether lines, whose fields end there, have as many of them as the
// header, and none is the header again, or perhaps blank.
func (p *rowParser) regular(text []byte, ends *ends) bool {
	lines := ends.fields() / p.width
	if lines*p.width != ends.fields() || ends.lines != lines {
		return false
	}
	for begin, last := 0, p.width-1; begin < len(text); last += p.width {
		eol := ends.at(last) - margin
		if c := text[begin]; text[eol] != p.eol || c <= ' ' || c == p.header[0] && bytes.Equal(dialect.TrimEnd(text[begin:eol]), p.header) {
			return false
		}
		begin = eol + 1
	}
	return true
}

// findRegular finds the cells that are wanted of regular lines.
func (p *rowParser) findRegular(b *Batch) {
	for first, lines := 0, b.ends.fields()/p.width; first < lines; {
		rows := min(lines-first, together)
		for k := range p.slots {
			f, at := &b.found[k], p.slots[k].col.Index
			f.cells = cells{b.ends.places[2*(first*p.width+at):], 2 * p.width}
			if at < p.width-1 {
				continue
			}
			for r, ends := 0, f.cells; r < rows; r++ {
				cell := ends.at(r)
				if b.window[cell>>16-1] == '\r' {
					cell -= 1 << 16
				}
				f.put(r, cell)
			}
		}
		first += rows
		p.count(rows, b)
		p.readFound(b)
	}
}

// count counts rows whose cells are found, one a line.
func (p *rowParser) count(rows int, b *Batch) {
	b.need(rows)
	for i := range b.Line[b.N : b.N+rows] {
		b.Line[b.N+i] = int32(b.lines + i)
	}
	b.N, b.lines, b.rows = b.N+rows, b.lines+rows, b.rows+rows
}

// findLine finds the cells that are wanted of one line, which has so many fields from
// one on, and returns where the next line begins; 0 leaves it to the slow way.
func (p *rowParser) findLine(pos int, quotes bool, first, fields int, b *Batch) int {
	begin, eol := pos-b.begins, b.ends.at(first+fields-1)
	line := bytes.TrimSuffix(b.window[begin:eol], []byte{'\r'})
	if len(dialect.TrimBlanks(line)) == 0 || bytes.Equal(line, p.header) {
		return 0
	}
	ends, offset := &b.ends, 0
	if quotes = quotes && bytes.IndexByte(line, '"') >= 0; quotes {
		if !p.findQuoted(line, b) {
			return 0
		}
		ends, first, offset = b.quoted, 0, begin-margin
		fields = ends.fields()
	}
	if fields == 1 {
		return 0 // blank, perhaps
	}
	b.need(1)
	row, next := b.rows, 0
	for ; next < len(p.slots) && p.slots[next].col.Index < fields; next++ {
		from, to := bounds(ends.pair(first + p.slots[next].col.Index))
		from, to = from+offset, min(to+offset, begin+len(line))
		if quotes && from < to && b.window[from] == '"' {
			from, to = from+1, to-1
		}
		b.found[next].put(row, uint32(from-1)|uint32(to)<<16)
	}
	for k := next; k < len(p.slots); k++ {
		b.found[k].put(row, noCell)
	}
	from, _ := bounds(ends.pair(first + fields - 1))
	if !p.asWide(fields, len(dialect.TrimBlanks(line[offset+from-begin:])) == 0) {
		p.raggedRow(fields, next, b.lines, b)
	}
	if p.count(1, b); b.rows == together {
		p.readFound(b)
	}
	return b.begins + eol + 1
}

// findQuoted finds where the fields end of a line with quotes, which stand around whole
// cells that hold none; it does not for any other line.
func (p *rowParser) findQuoted(line []byte, b *Batch) bool {
	if b.masked == nil {
		b.masked, b.quoted = new(window), new(ends)
	}
	line = b.masked[margin : margin+copy(b.masked[margin:], line)]
	for at := 0; ; {
		i := bytes.IndexByte(line[at:], '"')
		if i < 0 {
			break
		}
		opening := at + i
		closing := opening + 1 + bytes.IndexByte(line[opening+1:], '"')
		if closing == opening || opening > 0 && line[opening-1] != p.delim || closing+1 < len(line) && line[closing+1] != p.delim {
			return false
		}
		// Quotes in place of what is quoted: they are no delimiters, and are not found again.
		for at = opening; at <= closing; at++ {
			line[at] = '"'
		}
	}
	b.masked[margin+len(line)] = p.eol
	b.quoted.find(b.masked, margin+len(line)+1, p.delim, p.eol)
	return true
}

// readFound reads the cells that were found, of the last rows of the batch. What is
// no plain number is read afterwards, row by row, so that the first fault is the
// log's first.
func (p *rowParser) readFound(b *Batch) {
	first, rows := b.N-b.rows, b.rows
	if b.rows = 0; rows == 0 {
		return
	}
	any := uint64(0) // rows with an odd cell
	for k := range p.slots {
		s, f := &p.slots[k], &b.found[k]
		f.odd = 1<<rows - 1
		if !s.words {
			f.odd = readColumn(s, &f.cells, first, b)
		}
		any |= f.odd
	}
	for ; any != 0; any &= any - 1 {
		i := bits.TrailingZeros64(any)
		for k := range p.slots {
			if f := &b.found[k]; f.odd>>i&1 != 0 && f.at(i) != noCell {
				p.oddCell(f.at(i), &p.slots[k], first+i, b)
			}
		}
	}
}

// readColumn reads one column of the cells that were found, from a row on, and marks
// those in which it finds no number.
func readColumn(s *slot, c *cells, first int, b *Batch) (odd uint64) {
	out := b.Vals[s.at][first:b.N]
	empty, odd := s.shape.numbers(b.window, c, out)
	if conv := s.col.Conv; !conv.Identity() {
		for i, v := range out {
			out[i] = conv.Apply(v)
		}
	}
	for ; empty != 0; empty &= empty - 1 {
		b.gap(s.at, first+bits.TrailingZeros64(empty), dialect.EmptyCell)
	}
	return odd
}

// oddCell reads a cell that is no plain number, or a time in words.
func (p *rowParser) oddCell(cell uint32, s *slot, row int, b *Batch) {
	from, to := bounds(cell)
	if p.cell(dialect.TrimBlanks(b.window[from:to]), s, row, b) == dialect.ReadText && s.col.Clock != nil {
		end, _ := dialect.LineEnd(b.window[:], to, p.eol)
		p.wordyTime(dialect.TrimEnd(b.window[bytes.LastIndexByte(b.window[:from], p.eol)+1:end]), int(b.Line[row]), b)
	}
}
