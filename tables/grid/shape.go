package grid

import (
	"fmt"
	"slices"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// wanted says what a grid is to become. An axis that is wanted may have its
// points known already; then the grid may hold values alone.
type wanted struct {
	X, Y             bool
	XPoints, YPoints []float64 // nil where the grid must hold them
	// Either is set where the grid may bring points of its own although others
	// are known, as with those of another table.
	Either bool
}

// shaped is what a grid of cells became.
type shaped struct {
	X, Y   []float64
	Values []float64 // row after row
	Notes  []string  // what a person should know of how the cells were read
}

// Shape makes numbers of a grid's cells.
func (g *Raw) Shape(w wanted) (*shaped, error) {
	switch {
	case !w.X:
		return g.scalar()
	case !w.Y:
		return g.curve(w)
	}
	return g.plane(w)
}

// rows and columns are the grid's size; all rows are equally long.
func (g *Raw) rows() int    { return len(g.Cells) }
func (g *Raw) columns() int { return len(g.Cells[0]) }

// refuse says which size was found and which was wanted, at the first cell.
func (g *Raw) refuse(want string) error {
	g.Fault(g.Cells[0][0], "the grid has %s of %s, expected %s", tables.Plural(g.rows(), "row"), tables.Plural(g.columns(), "cell"), want)
	return g.Err()
}

// scalar takes the one cell of a table without axes.
func (g *Raw) scalar() (*shaped, error) {
	if g.rows() != 1 || g.columns() != 1 {
		return nil, g.refuse("one number: a curve or a map needs --x, or --like")
	}
	return g.take(nil, nil, g.Cells)
}

// curve takes a curve's cells: values alone, in a row or a column; points above
// values, with a cell before both rows or without; or points beside values.
func (g *Raw) curve(w wanted) (*shaped, error) {
	rows, columns, n := g.rows(), g.columns(), len(w.XPoints)
	switch {
	case n > 0 && rows == 1 && columns == n:
		return g.known(w, g.Cells)
	case n > 0 && columns == 1 && rows == n:
		return g.known(w, []sheet.Row{g.column(0, 0)})
	case rows == 2 && columns == 1:
		return g.found(w, g.Cells[0], nil, g.Cells[1:])
	case columns == 1 || rows == 1 && !(columns == 2 && n == 1):
		if n > 0 {
			return nil, g.refuse(fmt.Sprintf("%d values", n))
		}
		return nil, g.refuse("breakpoints above the values, or --x 'quantity [unit]: 1,2,…'")
	case columns == 2 && rows != 2:
		first := 0
		if !g.isNumber(g.Cells[0][0]) && !g.isNumber(g.Cells[0][1]) {
			first = 1 // a line of headings
		}
		return g.found(w, g.column(0, first), nil, []sheet.Row{g.column(1, first)})
	case rows != 2:
		return nil, g.refuse("two rows or two columns for a curve (a map needs --y too)")
	}
	above, below := g.Cells[0], g.Cells[1]
	if !g.isNumber(above[0]) {
		if g.isNumber(below[0]) {
			g.Fault(below[0], "found %s before a curve's values, expected nothing: a map needs --y too", tables.Quote(below[0].Text))
			return nil, g.Err()
		}
		above, below = above[1:], below[1:]
	}
	return g.found(w, above, nil, []sheet.Row{below})
}

// column is a column of cells from a row on.
func (g *Raw) column(i, first int) sheet.Row {
	var cells sheet.Row
	for _, row := range g.Cells[first:] {
		cells = append(cells, row[i])
	}
	return cells
}

// plane takes a map's cells: values alone, or with x above and y before them. A
// corner that is no number stands before breakpoints. Where it is a number and
// the grid may bring breakpoints of its own, the known ones decide: a grid of
// their size is values alone, and another one has breakpoints only where those
// reach into the known ones' range.
func (g *Raw) plane(w wanted) (*shaped, error) {
	rows, columns := g.rows(), g.columns()
	known := len(w.XPoints) > 0 && len(w.YPoints) > 0
	thin := rows < 2 || columns < 2
	corner := !g.isNumber(g.Cells[0][0])
	switch {
	case known && rows == len(w.YPoints) && columns == len(w.XPoints) && (thin || !corner || !w.Either):
		out, err := g.known(w, g.Cells)
		if err == nil && w.Either && !thin {
			out.Notes = append(out.Notes, g.doubt(out.Values, w)...)
		}
		return out, err
	case known && !w.Either && (rows != len(w.YPoints)+1 || columns != len(w.XPoints)+1):
		return nil, g.refuse(fmt.Sprintf("%d rows of %d values, or one row and one column of breakpoints more", len(w.YPoints), len(w.XPoints)))
	case thin && !known:
		return nil, g.refuse("x in the first row and y in the first column")
	case thin:
		return nil, g.refuseSize(w)
	}
	x, y := g.Cells[0][1:], g.column(0, 1)
	values := make([]sheet.Row, rows-1)
	for i := range values {
		values[i] = g.Cells[i+1][1:]
	}
	if known && w.Either && !corner {
		read, err := g.take(nil, nil, append([]sheet.Row{x, y}, values...))
		if err != nil {
			return nil, err
		}
		if !overlap(read.Values[:len(x)], w.XPoints) || !overlap(read.Values[len(x):len(x)+len(y)], w.YPoints) {
			return nil, g.refuseSize(w)
		}
	}
	return g.found(w, x, y, values)
}

// refuseSize refuses a grid of another size than the table's that is not sure to
// have breakpoints.
func (g *Raw) refuseSize(w wanted) error {
	return g.refuse(fmt.Sprintf("%d rows of %d values as the table has, or breakpoints in the first row and column, "+
		"which an empty corner, or --x and --y, make sure", len(w.YPoints), len(w.XPoints)))
}

// doubt says of values alone that they could have breakpoints around them: the
// first row and the first column rise, the corner aside, in the range of the
// table's own.
func (g *Raw) doubt(values []float64, w wanted) []string {
	columns := g.columns()
	var y []float64
	for i := columns; i < len(values); i += columns {
		y = append(y, values[i])
	}
	if !rises(values[1:columns]) || !rises(y) || !overlap(values[1:columns], w.XPoints) || !overlap(y, w.YPoints) {
		return nil
	}
	return []string{g.Line(g.Cells[0][0], "read as values alone, since the table has as many; if the first row and column are breakpoints, "+
		"leave the corner empty (--x and --y with breakpoints make values sure)").Error()}
}

// rises reports whether numbers could be the breakpoints of an axis; one number
// tells nothing.
func rises(list []float64) bool {
	for i := 1; i < len(list); i++ {
		if !(list[i-1] < list[i]) {
			return false
		}
	}
	return len(list) > 1
}

// overlap reports whether the range of numbers and that of an axis have a point
// in common.
func overlap(list, points []float64) bool {
	return slices.Min(list) <= points[len(points)-1] && slices.Max(list) >= points[0]
}

// known takes values alone, whose points are known.
func (g *Raw) known(w wanted, values []sheet.Row) (*shaped, error) {
	out, err := g.take(nil, nil, values)
	if err == nil {
		out.X, out.Y = w.XPoints, w.YPoints
	}
	return out, err
}

// found takes values with points of their own; where others are known and
// binding, they must be the same.
func (g *Raw) found(w wanted, x, y sheet.Row, values []sheet.Row) (*shaped, error) {
	out, err := g.take(x, y, values)
	if err != nil || w.Either {
		return out, err
	}
	for _, a := range []struct {
		flag       string
		cells      sheet.Row
		got, known []float64
	}{{"--x", x, out.X, w.XPoints}, {"--y", y, out.Y, w.YPoints}} {
		if a.known == nil {
			continue
		}
		if len(a.got) != len(a.known) {
			g.Fault(a.cells[0], "the grid has %d breakpoints, %s gives %d", len(a.got), a.flag, len(a.known))
			continue
		}
		for i := range a.got {
			if a.got[i] != a.known[i] {
				g.Fault(a.cells[i], "the grid's breakpoint is %s, %s gives %s", tables.FormatValue(a.got[i]), a.flag, tables.FormatValue(a.known[i]))
			}
		}
	}
	return out, g.Err()
}
