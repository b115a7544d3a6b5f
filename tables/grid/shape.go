package grid

import (
	"fmt"
	"slices"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// wanted says what a grid is to become. The points of an axis may be known already;
// then the grid may hold values alone.
type wanted struct {
	axes [2]*tables.AxisParts // x and y; nil for none
	// either is set where the grid may bring points of its own although others
	// are known, as with those of another table.
	either bool
}

// shaped is what a grid of cells became.
type shaped struct {
	Points [2][]float64 // of x and y
	Values []float64    // row after row
	Notes  []string     // what a person should know of how the cells were read
}

// Shape makes numbers of a grid's cells.
func (g *Raw) Shape(w wanted) (*shaped, error) {
	switch {
	case w.axes[0] == nil:
		return g.scalar()
	case w.axes[1] == nil:
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
	rows, columns, n := g.rows(), g.columns(), len(w.axes[0].Points)
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
	inX, inY := len(w.axes[0].Points), len(w.axes[1].Points)
	known := inX > 0 && inY > 0
	thin := rows < 2 || columns < 2
	corner := !g.isNumber(g.Cells[0][0])
	switch {
	case known && rows == inY && columns == inX && (thin || !corner || !w.either):
		out, err := g.known(w, g.Cells)
		if err == nil && w.either && !thin {
			out.Notes = append(out.Notes, g.doubt(out.Values, w)...)
		}
		return out, err
	case known && !w.either && (rows != inY+1 || columns != inX+1):
		return nil, g.refuse(fmt.Sprintf("%d rows of %d values, or one row and one column of breakpoints more", inY, inX))
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
	if known && w.either && !corner {
		read, err := g.take(nil, nil, append([]sheet.Row{x, y}, values...))
		if err != nil {
			return nil, err
		}
		if !overlap(read.Values[:len(x)], w.axes[0].Points) || !overlap(read.Values[len(x):len(x)+len(y)], w.axes[1].Points) {
			return nil, g.refuseSize(w)
		}
	}
	return g.found(w, x, y, values)
}

// refuseSize refuses a grid of another size than the table's that is not sure to
// have breakpoints.
func (g *Raw) refuseSize(w wanted) error {
	return g.refuse(fmt.Sprintf("%d rows of %d values as the table has, or breakpoints in the first row and column, "+
		"which an empty corner, or --x and --y, make sure", len(w.axes[1].Points), len(w.axes[0].Points)))
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
	if !rises(values[1:columns]) || !rises(y) || !overlap(values[1:columns], w.axes[0].Points) || !overlap(y, w.axes[1].Points) {
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
	for i, a := range w.axes {
		if err == nil && a != nil {
			out.Points[i] = a.Points
		}
	}
	return out, err
}

// found takes values with points of their own; where others are known and
// binding, they must be the same.
func (g *Raw) found(w wanted, x, y sheet.Row, values []sheet.Row) (*shaped, error) {
	out, err := g.take(x, y, values)
	if err != nil || w.either {
		return out, err
	}
	for i, cells := range []sheet.Row{x, y} {
		got, a := out.Points[i], w.axes[i]
		switch {
		case a == nil || a.Points == nil:
		case len(got) != len(a.Points):
			g.Fault(cells[0], "the grid has %d breakpoints, --%c gives %d", len(got), "xy"[i], len(a.Points))
		default:
			for j, want := range a.Points {
				if got[j] != want {
					g.Fault(cells[j], "the grid's breakpoint is %s, --%c gives %s", tables.FormatValue(got[j]), "xy"[i], tables.FormatValue(want))
				}
			}
		}
	}
	return out, g.Err()
}
