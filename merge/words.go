package merge

import (
	"strconv"

	"calsplice/tables"
)

// How values look in an error line: short, and clean of what could steer a
// terminal.

// cellText is a cell's value, the sign of −0 included.
func cellText(v float64) string {
	if s := tables.FormatValue(v); s != "" {
		return s
	}
	return "an empty cell"
}

func columns(f *tables.Fields) int { return columnsOf(f.X) }

func rows(f *tables.Fields) int { return columnsOf(f.Y) }

func shape(f *tables.Fields) string {
	return strconv.Itoa(rows(f)) + " × " + strconv.Itoa(columns(f))
}

// place is a cell's address as people read it.
func place(row, column int) string {
	return "[" + strconv.Itoa(row) + ", " + strconv.Itoa(column) + "]"
}
