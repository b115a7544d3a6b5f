package grid

import (
	"fmt"
	"slices"
	"strings"

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

// layout is where a grid has what: values, and above them x and before them y, nil
// for what it does not have.
type layout struct {
	x, y   sheet.Row
	values []sheet.Row
	bare   bool // the values could have breakpoints around them
}

// Shape makes numbers of a grid's cells.
func (g *Raw) Shape(w wanted) (*shaped, error) {
	l, want := g.layout(w)
	if want != "" {
		g.Fault(g.Cells[0][0], "the grid has %s of %s, expected %s", tables.Plural(g.rows(), "row"), tables.Plural(g.columns(), "cell"), want)
	}
	if err := g.Err(); err != nil {
		return nil, err
	}
	out, err := g.take(l)
	if err != nil {
		return nil, err
	}
	for i, cells := range []sheet.Row{l.x, l.y} {
		switch a := w.axes[i]; {
		case a == nil:
		case cells == nil:
			out.Points[i] = a.Points
		case !w.either && a.Points != nil:
			g.hold(cells, out.Points[i], a.Points, "xy"[i])
		}
	}
	if l.bare {
		g.doubt(out, w)
	}
	return out, g.Err()
}

// hold holds breakpoints that the grid brings to those that are known and binding.
func (g *Raw) hold(cells sheet.Row, got, known []float64, axis byte) {
	if len(got) != len(known) {
		g.Fault(cells[0], "the grid has %d breakpoints, --%c gives %d", len(got), axis, len(known))
		return
	}
	for i, want := range known {
		if got[i] != want {
			g.Fault(cells[i], "the grid's breakpoint is %s, --%c gives %s", tables.FormatValue(got[i]), axis, tables.FormatValue(want))
		}
	}
}

// rows and columns are the grid's size; all rows are equally long.
func (g *Raw) rows() int    { return len(g.Cells) }
func (g *Raw) columns() int { return len(g.Cells[0]) }

// layout finds out where the grid has what, or which size was wanted.
func (g *Raw) layout(w wanted) (l layout, want string) {
	switch {
	case w.axes[0] == nil && (g.rows() != 1 || g.columns() != 1):
		want = "one number: a curve or a map needs --x, or --like"
		if g.rows() == 1 && g.mayBeNumbers() {
			want = "--decimal , if this is one number, with a decimal comma; a curve or a map needs --x, or --like"
		}
		return l, want
	case w.axes[0] == nil:
		return layout{values: g.Cells}, ""
	case w.axes[1] == nil:
		return g.curve(w.axes[0].Points)
	}
	return g.plane(w)
}

// curve takes a curve's cells: values alone, in a row or a column; points above
// values, with a cell before both rows or without; or points beside values. These
// points are known.
func (g *Raw) curve(known []float64) (l layout, want string) {
	rows, columns, n := g.rows(), g.columns(), len(known)
	switch {
	case n > 0 && rows == n && g.mayBeNumbers() && !stand(g.column(0, 0), known) && !stand(g.Cells[0], known):
		return l, fmt.Sprintf("--decimal , if they are %s with a decimal comma, or --decimal . if breakpoints stand with the values", tables.Plural(n, "value"))
	case n > 0 && rows == 1 && columns == n:
		return layout{values: g.Cells}, ""
	case n > 0 && columns == 1 && rows == n:
		return layout{values: []sheet.Row{g.column(0, 0)}}, ""
	case rows == 2 && columns == 1:
		return layout{x: g.Cells[0], values: g.Cells[1:]}, ""
	case columns == 1 || rows == 1 && !(columns == 2 && n == 1):
		if n > 0 {
			return l, fmt.Sprintf("%d values", n)
		}
		return l, "breakpoints above the values, or --x 'quantity [unit]: 1,2,…'"
	case columns == 2 && rows != 2:
		first := 0
		if rows > 1 && !g.isNumber(g.Cells[0][0]) && !g.isNumber(g.Cells[0][1]) {
			first = 1 // a line of headings
		}
		return layout{x: g.column(0, first), values: []sheet.Row{g.column(1, first)}}, ""
	case rows != 2:
		return l, "two rows or two columns for a curve (a map needs --y too)"
	}
	above, below := g.Cells[0], g.Cells[1]
	if !g.isNumber(above[0]) {
		if g.isNumber(below[0]) {
			g.Fault(below[0], "found %s before a curve's values, expected nothing: a map needs --y too", tables.Quote(below[0].Text))
		}
		above, below = above[1:], below[1:]
	}
	return layout{x: above, values: []sheet.Row{below}}, ""
}

// mayBeNumbers reports whether each row may be one number: two runs of digits, with a
// comma between them that nobody said is no decimal mark.
func (g *Raw) mayBeNumbers() bool {
	digits := func(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }
	return g.Comma == ',' && g.Decimal == 0 && g.columns() == 2 && !slices.ContainsFunc(g.Cells, func(row sheet.Row) bool {
		return !digits(strings.TrimPrefix(plain(row[0].Text), "-")) || !digits(row[1].Text)
	})
}

// stand reports whether cells are these breakpoints.
func stand(cells sheet.Row, points []float64) bool {
	return slices.EqualFunc(cells, points, func(c sheet.Cell, p float64) bool {
		v, err := tables.ParseValue(c.Text)
		return err == nil && v == p
	})
}

// column is a column of cells from a row on.
func (g *Raw) column(i, first int) sheet.Row {
	return tables.Each(g.Cells[first:], func(row sheet.Row) sheet.Cell { return row[i] })
}

// plane takes a map's cells: values alone, or with x above and y before them. A
// corner that is no number stands before breakpoints. Where it is a number and
// the grid may bring breakpoints of its own, the known ones decide: a grid of
// their size is values alone, and another one has breakpoints only where those
// reach into the known ones' range.
func (g *Raw) plane(w wanted) (l layout, want string) {
	rows, columns := g.rows(), g.columns()
	inX, inY := len(w.axes[0].Points), len(w.axes[1].Points)
	known := inX > 0 && inY > 0
	thin := rows < 2 || columns < 2
	corner := !g.isNumber(g.Cells[0][0])
	unsure := fmt.Sprintf("%d rows of %d values as the table has, or breakpoints in the first row and column, "+
		"which an empty corner, or --x and --y, make sure", inY, inX)
	switch {
	case known && rows == inY && columns == inX && (thin || !corner || !w.either):
		return layout{values: g.Cells, bare: w.either && !thin}, ""
	case known && !w.either && (rows != inY+1 || columns != inX+1):
		return l, fmt.Sprintf("%d rows of %d values, or one row and one column of breakpoints more", inY, inX)
	case thin && !known:
		return l, "x in the first row and y in the first column"
	case thin:
		return l, unsure
	}
	l = layout{x: g.Cells[0][1:], y: g.column(0, 1)}
	for _, row := range g.Cells[1:] {
		l.values = append(l.values, row[1:])
	}
	if known && w.either && !corner {
		// Read as numbers and not yet as breakpoints, which need not rise here.
		read, err := g.take(layout{values: append([]sheet.Row{l.x, l.y}, l.values...)})
		if err == nil && !(overlap(read.Values[:len(l.x)], w.axes[0].Points) && overlap(read.Values[len(l.x):len(l.x)+len(l.y)], w.axes[1].Points)) {
			return l, unsure
		}
	}
	return l, ""
}

// doubt says of values alone that they could have breakpoints around them: the
// first row and the first column rise, the corner aside, in the range of the
// table's own.
func (g *Raw) doubt(of *shaped, w wanted) {
	columns := g.columns()
	x := of.Values[1:columns]
	var y []float64
	for i := columns; i < len(of.Values); i += columns {
		y = append(y, of.Values[i])
	}
	if rises(x) && rises(y) && overlap(x, w.axes[0].Points) && overlap(y, w.axes[1].Points) {
		of.Notes = append(of.Notes, g.Line(g.Cells[0][0], "read as values alone, since the table has as many; if the first row and column are breakpoints, "+
			"leave the corner empty (--x and --y with breakpoints make values sure)").Error())
	}
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
