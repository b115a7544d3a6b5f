package merge

import (
	"strconv"
	"strings"

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

// signed is a change with its sign: "+ 2", "− 1.5".
func signed(v float64) string {
	if v < 0 {
		return "− " + tables.FormatValue(-v)
	}
	return "+ " + tables.FormatValue(v)
}

// coordinates is a place in axis units: "engine speed 800 r/min, load 40 %".
func coordinates(f *tables.Fields, at [2]float64) string {
	var parts []string
	for i, a := range []*tables.Axis{f.X, f.Y} {
		if a != nil {
			parts = append(parts, strings.TrimSpace(tables.Clean(a.Quantity())+" "+tables.FormatValue(at[i])+" "+tables.Clean(a.Unit())))
		}
	}
	return strings.Join(parts, ", ")
}

func andMore(n int) string {
	switch n {
	case 0:
		return ""
	case 1:
		return "; and at one more place"
	}
	return "; and at " + strconv.Itoa(n) + " more places"
}
