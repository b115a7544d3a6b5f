package drivelog

// batch is what one piece of a log becomes: the wanted columns of its rows.
type batch struct {
	n      int         // rows; instants in the long form
	read   int         // lines that held a row; readings in the long form
	line   []int32     // of each row, counted from the piece's first line
	vals   [][]float64 // by column; a cell without a reading is one of several NaNs
	full   []bool      // by column: every cell is a reading
	lines  int         // line ends in the piece
	tail   int         // where a record begins that the piece does not end; −1
	other  int         // a line on which the header of another log stands; −1
	faults tally
	err    error
	text   []byte // the lines themselves

	found  int      // last rows whose cells are found but not read
	places []places // where these are, by slot

	events []event // long form; the fields and the key are of the row being read
	fields [][]byte
	key    []byte
}

// begin empties the batch for so many columns, with room for rows.
func (b *batch) begin(columns, rows int) {
	b.n, b.read, b.lines, b.tail, b.found, b.other, b.err = 0, 0, 0, -1, 0, -1, nil
	b.events = b.events[:0]
	b.faults.reset()
	for len(b.vals) < columns {
		b.vals = append(b.vals, nil)
		b.full = append(b.full, true)
		b.places = append(b.places, places{})
	}
	b.vals, b.full = b.vals[:columns], b.full[:columns]
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

// dropUntimed takes the rows out whose time could not be read.
func (b *batch) dropUntimed(clock, base int, faults *tally) {
	keep := 0
	for i, t := range b.vals[clock] {
		if t != t {
			faults.add(clockMissing, base+int(b.line[i]))
			continue
		}
		if keep < i {
			for k := range b.vals {
				b.vals[k][keep] = b.vals[k][i]
			}
			b.line[keep] = b.line[i]
		}
		keep++
	}
	b.n = keep
	b.end()
}
