package sheet

import (
	"fmt"
	"slices"
	"strings"

	"calsplice/tables"
)

// table gathers one table.
type table struct {
	f      tables.Fields
	at     Cell // where it began
	faults int  // those before it began
	seen   map[string]bool
	axes   [2]axis // x and y
	grid   bool    // its axes are named: rows of numbers may follow
	points bool    // the row with the breakpoints of x was met
	n      int     // the breakpoints of x, valid or not
	before Row     // the cell before each row of values
	next   int32   // in a sheet, the row that goes on with the grid
	stray  bool    // a cell stood alone: what else is wrong follows from it
	heads  [2]Cell // where a sheet shows the axes
}

// axis gathers an axis.
type axis struct {
	parts tables.AxisParts
	at    Cell
	given bool
}

// TableNames are the names of a table's rows, but for kept keys and remarks.
var TableNames = append(slices.DeleteFunc(tables.TableFields.Names(), func(name string) bool { return name == "values" }),
	"table", "value", "values")

// TableName reports whether a row of a table may begin with a name, or with a
// remark.
func TableName(name string) bool {
	name = strings.TrimSpace(name)
	_, _, ofAxis := axisName(name)
	return ofAxis || Remark(name) || strings.HasPrefix(name, "x-") || slices.Contains(TableNames, name)
}

// axisName is the axis that a row's name is of, and which part of it the row holds:
// all, the quantity, the unit, or a kept key behind a point.
func axisName(name string) (axis int, part string, ok bool) {
	if name == "" {
		return 0, "", false
	}
	axis, part = strings.IndexByte("xy", name[0]), name[1:]
	return axis, part, axis >= 0 && (part == "" || part == " quantity" || part == " unit" || strings.HasPrefix(part, ".x-"))
}

// Begin begins a table; at is the cell that says so.
func (d *Document) Begin(at Cell) {
	d.table = &table{at: at, faults: len(d.Faults), seen: map[string]bool{}}
}

// Open reports whether a table is being read.
func (d *Document) Open() bool { return d.table != nil }

// AwaitsCurve reports whether the next row must hold a curve's values, which may
// all be empty.
func (d *Document) AwaitsCurve() bool {
	t := d.table
	return t != nil && t.points && !t.axes[1].given && t.before == nil
}

// Row reads a row of the table that was begun. It reports false for a name that
// no such row has.
func (d *Document) Row(row Row) bool {
	t := d.table
	if d.inGrid(row) {
		d.numbers(row)
		return true
	}
	c := row.At(1)
	name := strings.TrimSpace(d.Text(c))
	switch {
	case Remark(name):
		return true
	case name == "" && d.Sheet != "":
		d.Rest(row, 2)
		return true
	case !TableName(name):
		return false
	case !strings.Contains(name, "x-") && !d.Once(c, name, t.seen):
		return true
	}
	switch name {
	case "table":
		d.id(row)
	case "value":
		t.f.Values = append(t.f.Values, d.value(row.At(2)))
		d.Rest(row, 3)
	case "values":
		t.grid, t.next, t.heads[0] = true, c.Row+1, row.At(2)
	default:
		d.fields(name, row)
	}
	return true
}

// id reads the table's id. Faults from here on name the table; the second of two
// tables with one id names the place of the first.
func (d *Document) id(row Row) {
	t, c := d.table, row.At(2)
	t.f.ID = strings.TrimSpace(d.Text(c))
	d.Rest(row, 3)
	if d.Within = ""; t.f.ID != "" {
		d.Within = "table " + t.f.ID
	}
	d.Check(c, tables.ValidID(t.f.ID))
	if first, ok := d.ids[t.f.ID]; ok {
		d.Fault(c, "the table of %s has the id %q too", first(), t.f.ID)
	}
	sheet := d.Sheet
	d.ids[t.f.ID] = func() string {
		if sheet != "" {
			return inBook(sheet, c)
		}
		return fmt.Sprintf("line %d", d.Line(c, "").Line)
	}
}

// fields reads a field of the table, or a key that is kept of it or an axis.
func (d *Document) fields(name string, row Row) {
	f := &d.table.f
	if axis, part, ok := axisName(name); ok {
		d.axis(&d.table.axes[axis], part, row)
	} else if strings.HasPrefix(name, "x-") {
		d.Kept(&f.Extra, row, 1, "")
	} else {
		field, _ := tables.TableFields.Find(name)
		Field(&d.Reader, field, f, Cells{row, 2}, false)
	}
}

// axis reads what is known of an axis: its quantity and unit each in a row of
// its own, or both in one with kept keys behind them.
func (d *Document) axis(a *axis, part string, row Row) {
	kept, next := &a.parts.Extra, 3
	switch part {
	case " quantity":
		a.parts.Quantity = d.Text(row.At(2))
	case " unit":
		a.parts.Unit = d.Text(row.At(2))
	case "":
		if d.table.points {
			d.Fault(row.At(1), "%s stands after the numbers, expected it before", strings.TrimSpace(row.At(1).Text))
		}
		d.table.grid = d.table.grid || d.Sheet == ""
		a.parts.Quantity, a.parts.Unit = d.Text(row.At(2)), d.Text(row.At(3))
		for next = 4; strings.HasPrefix(row.At(next).Text, "x-"); {
			next = d.kept(kept, row, next, "")
		}
	default:
		d.Kept(kept, row, 1, row.At(1).Text[:2])
		return
	}
	a.at, a.given = row.At(1), true
	d.Rest(row, next)
}

// inGrid reports whether a row is of the breakpoints and values: in a text file
// every row without a name, in a sheet those that follow each other under
// "values". There the breakpoints stand behind a heading, which may be any word,
// and the first row of values may be empty, which no file has.
func (d *Document) inGrid(row Row) bool {
	t, c := d.table, row.At(1)
	switch {
	case !t.grid:
		return false
	case d.Sheet != "" && !t.points:
		return c.Row == t.next
	case TableName(c.Text):
		return false
	case d.Sheet == "":
		return true
	case t.before == nil && t.n > 0 && c.Row == t.next+1:
		d.numbers(Row{{Row: t.next, At: 1}})
	}
	return c.Row == t.next
}

// numbers reads the row of x's breakpoints, and then the rows of values.
func (d *Document) numbers(row Row) {
	t, width := d.table, row.Width()
	t.next++
	if !t.points {
		t.points, t.heads[1] = true, row.At(1)
		if d.Sheet == "" && row.At(1).Kind != Empty {
			d.Fault(row.At(1), "found %s, expected nothing before the breakpoints of x", tables.Quote(row.At(1).Text))
		}
		for i := 2; i <= width; i++ {
			d.point(&t.axes[0], row.At(i))
		}
		switch t.n = max(width-1, 0); {
		case t.n > 0:
		case d.Sheet == "":
			d.Fault(row.At(2), "x has no breakpoints")
		default:
			d.Blank(row.At(2), "the breakpoints of the x axis from here on, from low to high (or delete the sheet)")
		}
		return
	}
	if first := row.Next(1); d.Sheet != "" && t.before != nil && first == width && (first > 1 || d.Contents.Kind != tables.Cells) {
		d.Fault(row.At(first), "stands alone under the values, expected a whole row or nothing")
		t.stray = true
		return
	}
	before := row.At(1)
	before.Text = strings.Clone(before.Text)
	t.before = append(t.before, before)
	d.values(row, width)
}

// values reads a row of values. A row of a text file that is too short was cut;
// a sheet has no cells to be missed.
func (d *Document) values(row Row, width int) {
	t, n := d.table, width-1
	if d.Sheet == "" {
		n = max(n, min(len(row)-1, t.n))
	}
	if t.n == 0 {
		return // which was said
	}
	if n > t.n || n < t.n && d.Sheet == "" {
		d.Fault(row.At(max(width, 1)), "row has %s, x has %s", tables.Plural(n, "value"), tables.Plural(t.n, "breakpoint"))
		return
	}
	for i := range t.n {
		t.f.Values = append(t.f.Values, d.value(row.At(2+i)))
	}
	if d.cells += t.n; d.cells > tables.MaxCells() {
		d.Fault(t.at, "%s", tables.TooManyCells())
		d.stop = true
	}
}

// point reads a breakpoint. One that is no number is left out, so that the next
// one is compared with the last that is, and not called out of order too.
func (d *Document) point(a *axis, c Cell) {
	if c.Kind == Empty {
		d.Blank(c, "a breakpoint")
		return
	}
	if v, ok := d.Number(c); ok {
		a.parts.Points = append(a.parts.Points, v)
		d.Check(c, tables.ValidPoint(a.parts.Points, len(a.parts.Points)-1))
	}
}

// End ends the table that is being read, if there is one. It returns the table,
// nil where that has faults, and the cells in which a sheet shows its axes.
func (d *Document) End() (made *tables.Table, heads [2]Cell) {
	t := d.table
	if t == nil {
		return nil, heads
	}
	if d.Sheet != "" && t.grid && t.before == nil {
		d.blanks()
	}
	if !t.seen["unit"] {
		d.Fault(t.at, `table has no row "unit"`)
	}
	switch {
	case t.stray:
	case t.axes[1].given && !t.axes[0].given:
		d.Fault(t.axes[1].at, "table has a y axis and no x axis")
	case t.seen["value"] && (t.grid || t.axes[0].given):
		d.Fault(t.at, `table has a row "value" and an axis, expected one of them`)
	case t.seen["value"]:
	case !t.grid:
		d.Fault(t.at, `table has no values: expected a row "value", or axes and numbers`)
	case !t.points:
		d.Fault(t.axes[0].at, "x has no breakpoints")
	case t.before == nil && t.n > 0:
		d.Fault(t.at, "table has no row of values")
	case t.before == nil:
	default:
		d.beside()
	}
	if len(d.Faults) == t.faults {
		made = d.build()
	}
	d.table, d.Within = nil, ""
	return made, t.heads
}

// blanks reads what is empty under "values" in a sheet: the breakpoints, or the
// one row of values, and lists what is to be filled in.
func (d *Document) blanks() {
	t := d.table
	empty := func() Row { return Row{{Row: t.next, At: 1}} }
	if !t.points {
		d.numbers(empty())
	}
	if t.n > 0 {
		d.numbers(empty())
		return
	}
	if t.axes[1].given {
		d.Blank(empty().At(1), "the breakpoints of the y axis from here down, from low to high")
	}
	d.Blank(empty().At(2), "the values from here on")
}

// beside reads what stands before the rows of values: the breakpoints of y, or
// nothing.
func (d *Document) beside() {
	t := d.table
	switch {
	case t.axes[1].given:
		for _, c := range t.before {
			d.point(&t.axes[1], c)
		}
	case len(t.before) > 1:
		d.Fault(t.before[1], "a curve has one row of values: expected a y axis before the numbers of a map")
	case t.before[0].Kind != Empty:
		d.Fault(t.before[0], "found %s, expected nothing before a curve's values", tables.Quote(t.before[0].Text))
	}
}

// build makes the table of what was read without a fault. What its constructor, or an
// axis's, still refuses is a fault of the table as a whole.
func (d *Document) build() (made *tables.Table) {
	t := d.table
	var err error
	if t.grid {
		t.f.X, err = t.axes[0].parts.Axis()
	}
	if err == nil && t.axes[1].given {
		t.f.Y, err = t.axes[1].parts.Axis()
	}
	if err == nil {
		made, err = tables.NewTable(t.f)
	}
	if err != nil {
		d.Fault(t.at, "%v", err)
		return nil
	}
	d.Contents.Tables = append(d.Contents.Tables, made)
	return made
}
