package interp

import (
	"strconv"

	"calsplice/tables"
)

// Line is a row or a column of a table, by where its cells stand among the
// table's values: at First, First + Step and so on, N of them.
type Line struct {
	First, Step, N int

	kind  string
	index int
}

// Name is what a person calls the line: "row 3".
func (l Line) Name() string { return l.kind + " " + strconv.Itoa(l.index) }

// Lines are all rows of a table, and then all columns.
func Lines(t *tables.Table) (list []Line) {
	rows, columns := t.Rows(), t.Columns()
	list = make([]Line, 0, rows+columns)
	for r := range rows {
		list = append(list, Line{r * columns, 1, columns, "row", r})
	}
	for c := range columns {
		list = append(list, Line{c, columns, rows, "column", c})
	}
	return list
}

// Trend reports whether a line of some values never falls, and whether it never
// rises; both of a flat one. An empty cell stands in the way of either.
func (l Line) Trend(values []float64) (up, down bool) {
	up, down = true, true
	for i := 1; i < l.N && (up || down); i++ {
		was, is := values[l.First+(i-1)*l.Step], values[l.First+i*l.Step]
		up, down = up && is >= was, down && is <= was
	}
	return up, down
}
