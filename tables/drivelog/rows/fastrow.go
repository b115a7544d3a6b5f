package rows

import (
	"bytes"
	"math/bits"

	"calsplice/tables/drivelog/dialect"
)

// Most lines of most logs are plain: a number in each cell that is wanted, and no
// quotes but around whole cells. They are read in two steps, a few at a time: first
// where their cells are, then what these hold, column by column, so that each step
// is one tight loop.

// together are the rows that are read so.
const together = 64

// places are where the cells of one slot are in the text, by row. A cell that
// ends at −1 is none.
type places struct {
	from, to [together]int32
	odd      uint64 // rows whose cell is no plain number
}

// fastRow finds the cells of one line, and returns where the next line begins; 0
// leaves it to the slow way. quote is where the next quote is.
func (p *rowParser) fastRow(buf []byte, pos, quote int, b *Batch) int {
	// The machine finds one byte faster than several: so the line's end first.
	n := bytes.IndexByte(buf[pos:], p.eol)
	if n < 1 || pos+n+64 > len(buf) || len(p.slots) == 0 {
		return 0 // blank, or too near the end to look at 64 bytes
	}
	eol := pos + n
	stop := eol
	if buf[stop-1] == '\r' {
		stop--
	}
	if bytes.Equal(buf[pos:stop], p.header) {
		return 0
	}
	var next, fields int
	if quote < stop {
		next, fields = p.findQuoted(buf, pos, stop, b)
	} else {
		next, fields = p.findCells(buf, pos, stop, b)
	}
	if fields == 1 {
		return 0 // blank, perhaps
	}
	if fields != p.width && !p.asWide(fields, len(dialect.TrimBlanks(buf[bytes.LastIndexByte(buf[:stop], p.delim)+1:stop])) == 0) {
		for k := next; k < len(p.slots); k++ {
			b.places[k].to[b.found] = -1
		}
		p.raggedRow(fields, next, b.lines, b)
	}
	b.Line[b.N] = int32(b.lines)
	b.N++
	b.lines++
	if b.found++; b.found == together {
		p.readFound(buf, b)
	}
	return eol + 1
}

// findCells finds the cells that are wanted of a line, and returns how many of
// them there are, and how many fields the line has.
func (p *rowParser) findCells(buf []byte, pos, stop int, b *Batch) (next, fields int) {
	at, start, end := pos, pos, pos
	d := p.delimiters(buf, at, stop) // of 64 bytes, those that are still ahead
	for ; next < len(p.slots); next++ {
		// How many delimiters to pass is the same in each line, so that these
		// branches are foreseen.
		skip := p.slots[next].skip
		if skip > 0 {
			n := bits.OnesCount64(d)
			for ; n < skip && at+64 < stop; n = bits.OnesCount64(d) {
				skip -= n
				at += 64
				d = p.delimiters(buf, at, stop)
			}
			if n < skip {
				break
			}
			for ; skip > 1; skip-- {
				d &= d - 1
			}
			start = at + bits.TrailingZeros64(d) + 1
			d &= d - 1
		} else if skip == 0 && next > 0 {
			if start = end + 1; start > stop {
				break
			}
		}
		if skip >= 0 {
			for d == 0 && at+64 < stop {
				at += 64
				d = p.delimiters(buf, at, stop)
			}
			if end = stop; d != 0 {
				end = at + bits.TrailingZeros64(d)
				d &= d - 1
			}
		}
		c := &b.places[next]
		c.from[b.found], c.to[b.found] = int32(start), int32(end)
	}
	switch {
	case next < len(p.slots):
		return next, 1 + bytes.Count(buf[pos:stop], p.delims)
	case end < stop:
		// No cell behind is wanted: the delimiters are only counted.
		return next, p.slots[next-1].col.Index + 2 + bytes.Count(buf[end+1:stop], p.delims)
	}
	return next, p.slots[next-1].col.Index + 1
}

// delimiters marks those of the 64 bytes at a place that lie before stop.
func (p *rowParser) delimiters(buf []byte, at, stop int) uint64 {
	d := bitmap((*[64]byte)(buf[at:]), eachByte*uint64(p.delim))
	if left := stop - at; left < 64 {
		d &= 1<<uint(left) - 1
	}
	return d
}

// findQuoted is findCells of a line with quotes, which stand around whole cells
// that hold none; of any other line, and of one so long that the slow way gives a
// quote up, it finds one field. The cells are found in a copy in which what is
// quoted holds no delimiters.
func (p *rowParser) findQuoted(buf []byte, pos, stop int, b *Batch) (next, fields int) {
	line := append(b.masked[:0], buf[pos:stop]...)
	for at := 0; ; {
		i := bytes.IndexByte(line[at:], '"')
		if i < 0 {
			break
		}
		opening := at + i
		closing := opening + 1 + bytes.IndexByte(line[opening+1:], '"')
		if closing == opening || opening > 0 && line[opening-1] != p.delim || closing+1 < len(line) && line[closing+1] != p.delim ||
			len(line) > dialect.QuoteReach {
			return 0, 1
		}
		// Quotes in place of what is quoted: they are no delimiters, and are not found again.
		for at = opening; at <= closing; at++ {
			line[at] = '"'
		}
	}
	b.masked = append(line, make([]byte, 64)...)
	next, fields = p.findCells(b.masked, 0, len(line), b)
	for k := range next {
		c := &b.places[k]
		from, to := c.from[b.found]+int32(pos), c.to[b.found]+int32(pos)
		if from < to && buf[from] == '"' {
			from, to = from+1, to-1
		}
		c.from[b.found], c.to[b.found] = from, to
	}
	return next, fields
}

// readFound reads the cells that were found, of the last rows of the batch. What is
// no plain number is read afterwards, row by row, so that the first fault is the
// log's first.
func (p *rowParser) readFound(buf []byte, b *Batch) {
	first, rows := b.N-b.found, b.found
	b.found = 0
	any := uint64(0) // rows with an odd cell
	for k := range p.slots {
		s, c := &p.slots[k], &b.places[k]
		out := b.Vals[s.at][first : first+rows]
		c.odd = 1<<rows - 1
		if !s.words {
			c.odd = p.readColumn(buf, s, c, out, b)
		}
		any |= c.odd
	}
	for ; any != 0; any &= any - 1 {
		i := bits.TrailingZeros64(any)
		for k := range p.slots {
			if c := &b.places[k]; c.odd>>i&1 != 0 && c.to[i] >= 0 {
				p.oddCell(buf, int(c.from[i]), int(c.to[i]), &p.slots[k], first+i, b)
			}
		}
	}
}

// readColumn reads one column of the cells that were found, and returns the rows in
// which it finds no number.
func (p *rowParser) readColumn(buf []byte, s *slot, c *places, out []float64, b *Batch) (odd uint64) {
	empty, odd := s.shape.numbers(buf, c.from[:len(out)], c.to[:len(out)], out)
	if conv := s.col.Conv; !conv.Identity() {
		for i, v := range out {
			out[i] = conv.Apply(v)
		}
	}
	b.Full[s.at] = b.Full[s.at] && empty == 0
	for ; empty != 0; empty &= empty - 1 {
		out[bits.TrailingZeros64(empty)] = dialect.EmptyCell
	}
	return odd
}

// oddCell reads a cell that is no plain number, or a time in words.
func (p *rowParser) oddCell(buf []byte, from, to int, s *slot, row int, b *Batch) {
	if p.cell(dialect.TrimBlanks(buf[from:to]), s, row, b) == dialect.ReadText && s.col.Clock != nil {
		end, _ := dialect.LineEnd(buf, to, p.eol)
		p.wordyTime(dialect.TrimEnd(buf[bytes.LastIndexByte(buf[:from], p.eol)+1:end]), int(b.Line[row]), b)
	}
}
