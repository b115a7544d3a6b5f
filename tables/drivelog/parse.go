package drivelog

import (
	"bytes"
	"fmt"

	"calsplice/tables"
)

// batch is what one piece of a log becomes: the needed columns of its rows.
type batch struct {
	n      int
	line   []int       // of each row, counted from the piece's first line
	vals   [][]float64 // by slot; a cell without a reading is one of two NaNs
	full   []bool      // by slot: every cell is a reading
	lines  int         // line ends in the piece
	end    int64       // offset behind the piece's last record
	faults tally
	err    error
	buf    []byte
	events []event // long form
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
}

// rowParser turns lines of a wide log into batches. It is shared by workers
// and holds no state of its own.
type rowParser struct {
	delim, eol byte
	width      int    // fields in the header
	slots      []slot // by ascending index
	missing    []string
	enc        encoding
	maxLine    int
	header     []byte // the header line as it stands, to know it again
	noTime     bool
}

// parse reads whole lines. last says that buf ends the log, so that its last
// line may lack an end.
func (p *rowParser) parse(buf []byte, last bool, b *batch) {
	b.n, b.lines, b.err = 0, 0, nil
	b.line = b.line[:0]
	b.faults.reset()
	b.grow(len(p.slots))
	for len(buf) > 0 {
		i := bytes.IndexByte(buf, p.eol)
		line, ended := buf, i >= 0
		if ended {
			line, buf = buf[:i], buf[i+1:]
		} else {
			buf = nil
		}
		if n := len(line); n > 0 && line[n-1] == '\r' {
			line = line[:n-1]
		}
		p.row(line, b.lines, last && !ended, b)
		if b.err != nil {
			return
		}
		if ended {
			b.lines++
		}
	}
}

func (b *batch) grow(slots int) {
	for len(b.vals) < slots {
		b.vals = append(b.vals, nil)
		b.full = append(b.full, true)
	}
	b.vals, b.full = b.vals[:slots], b.full[:slots]
	for i := range b.vals {
		b.vals[i] = b.vals[i][:0]
		b.full[i] = true
	}
}

// row reads one line; unended says that the log stops in it.
func (p *rowParser) row(line []byte, no int, unended bool, b *batch) {
	if len(trimBlanks(line)) == 0 || unended && line[0] == 0x1a && len(line) == 1 {
		return
	}
	if len(line) == len(p.header) && bytes.Equal(line, p.header) {
		b.faults.add(headerAgain, no)
		return
	}
	rest, more := line, true
	field, next := 0, 0
	for more {
		var f []byte
		f, rest, more = nextField(rest, p.delim)
		if next < len(p.slots) && field == p.slots[next].index {
			p.cell(f, next, no, b)
			next++
		}
		field++
	}
	for ; next < len(p.slots); next++ {
		b.put(next, noReading)
	}
	b.line = append(b.line, no)
	b.n++
	if field != p.width {
		if unended && field < p.width {
			b.faults.add(torn, no)
		} else {
			b.faults.note(ragged, no, "with %d fields under %d", field, p.width)
		}
	}
}

func (b *batch) put(slot int, v float64) {
	b.vals[slot] = append(b.vals[slot], v)
	if v != v {
		b.full[slot] = false
	}
}

func (p *rowParser) cell(f []byte, slot, no int, b *batch) {
	c := p.slots[slot].col
	v, kind := c.read(f, p.missing)
	switch kind {
	case readNumber:
		v = c.conv.Apply(v)
	case readEmpty:
		v = emptyCell
	case readMissing:
		v = noReading
	default:
		v = noReading
		if c.clock == nil && !c.wordy {
			b.faults.note(textCell, no, "%s in %s", tables.Quote(p.enc.text(f)), tables.Quote(c.text))
		}
	}
	b.put(slot, v)
}

func lineTooLong(name string, line, most int) error {
	return &tables.Fault{File: name, Line: line, What: fmt.Sprintf("the line is longer than %d bytes: --max-line", most)}
}
