package rows

import "slices"

// Batch is what one piece of a log becomes: the wanted columns of its rows.
type Batch struct {
	N      int         // rows; instants in the long form
	Read   int         // lines that held a row; readings in the long form
	Line   []int32     // of each row, counted from the piece's first line
	Vals   [][]float64 // by column; a cell without a reading is one of several NaNs
	Gaps   [][]int32   // by column, the rows whose cell is none
	lines  int         // line ends in the piece
	tail   int         // where a record begins that the piece does not end; −1
	other  int         // a line on which the header of another log stands; −1
	Faults Tally
	text   []byte // the lines themselves

	window *window // in which the lines stand that are being read
	copy   *window // of those near an end of the piece
	begins int     // where the window begins in the piece
	ends   ends    // where their fields end
	rows   int     // last rows whose cells are found but not read
	found  []found // these cells, by slot
	masked *window // a line whose cells are being found, without what is quoted
	quoted *ends   // where its fields end

	Events []event // long form; the fields and the key are of the row being read
	fields [][]byte
	key    []byte
}

// begin empties the batch for so many columns, with room for rows.
func (b *Batch) begin(columns, rows int) {
	b.N, b.Read, b.lines, b.tail, b.rows, b.other = 0, 0, 0, -1, 0, -1
	b.Events = b.Events[:0]
	b.Faults.reset()
	for len(b.Vals) < columns {
		b.Vals = append(b.Vals, nil)
		b.Gaps = append(b.Gaps, nil)
		b.found = append(b.found, found{})
	}
	b.Vals, b.Gaps = b.Vals[:columns], b.Gaps[:columns]
	for i := range b.Vals {
		b.Vals[i], b.Gaps[i] = b.Vals[i][:cap(b.Vals[i])], b.Gaps[i][:0]
	}
	b.Line = b.Line[:cap(b.Line)]
	b.room(rows)
}

// room makes place for rows.
func (b *Batch) room(rows int) {
	if len(b.Line) < rows {
		b.Line = append(make([]int32, 0, rows), b.Line[:b.N]...)[:rows]
	}
	for i, v := range b.Vals {
		if len(v) < rows {
			b.Vals[i] = append(make([]float64, 0, rows), v[:min(b.N, len(v))]...)[:rows]
		}
	}
}

// need makes place for so many more rows.
func (b *Batch) need(rows int) {
	if b.N+rows > len(b.Line) {
		b.room(2 * (b.N + rows))
	}
}

// gap puts into a cell what tells why it holds no reading.
func (b *Batch) gap(column, row int, why float64) {
	b.Vals[column][row] = why
	b.Gaps[column] = append(b.Gaps[column], int32(row))
}

// end cuts the columns to the rows that were read.
func (b *Batch) end() {
	b.Line = b.Line[:b.N]
	for i := range b.Vals {
		b.Vals[i] = b.Vals[i][:b.N]
		slices.Sort(b.Gaps[i]) // odd cells come later than empty ones
	}
}

// DropUntimed takes the rows out whose time could not be read.
func (b *Batch) DropUntimed(clock, base int, faults *Tally) {
	if len(b.Gaps[clock]) == 0 {
		return
	}
	// In place, since the batch is used again and its columns are long.
	for k := range b.Gaps {
		b.Gaps[k] = b.Gaps[k][:0]
	}
	keep := 0
	for i, t := range b.Vals[clock] {
		if t != t {
			faults.add(clockMissing, base+int(b.Line[i]))
			continue
		}
		for k, cells := range b.Vals {
			if cells[keep] = cells[i]; cells[i] != cells[i] {
				b.gap(k, keep, cells[i])
			}
		}
		b.Line[keep] = b.Line[i]
		keep++
	}
	b.N = keep
	b.end()
}
