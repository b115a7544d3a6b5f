package interp

import (
	"fmt"

	"calsplice/tables"
)

// Line is a row or a column of a table, by where its cells stand among the
// table's values: at First, First + Step and so on, N of them.
type Line struct {
	Name           string // "row 3"
	First, Step, N int
}

// Lines are all rows of a table, and then all columns.
func Lines(t *tables.Table) (list []Line) {
	rows, columns := t.Rows(), t.Columns()
	for r := range rows {
		list = append(list, Line{fmt.Sprintf("row %d", r), r * columns, 1, columns})
	}
	for c := range columns {
		list = append(list, Line{fmt.Sprintf("column %d", c), c, columns, rows})
	}
	return list
}

// Trend reports whether a line of some values never falls, and whether it never
// rises; both of a flat one. An empty cell stands in the way of either.
func (l Line) Trend(values []float64) (up, down bool) {
	up, down = true, true
	for i := 1; i < l.N; i++ {
		was, is := values[l.First+(i-1)*l.Step], values[l.First+i*l.Step]
		up, down = up && is >= was, down && is <= was
	}
	return up, down
}
