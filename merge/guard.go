package merge

import (
	"fmt"
	"strings"

	"calsplice/tables"
)

// holds reports whether a cell holds the value that an edit expects: the same
// to the bit, or nearer than half the resolution. An edit that is itself
// smaller than half the resolution is guarded exactly, or it would apply twice.
func holds(v, from, to, half float64) bool {
	if tables.SameBit(v, from) {
		return true
	}
	return !near(from, to, half) && near(v, from, half)
}

// near reports whether two values are the same to the controller: nearer than
// half the resolution, or the same to the bit.
func near(a, b, half float64) bool {
	return tables.SameBit(a, b) || half > 0 && apart(a, b, half) < 0
}

// Mismatch is one place where a document does not hold what an edit expects.
type Mismatch struct {
	Table         string // "" for a field of the document
	Field         string // "" for a cell and for a whole table; where the document has not the cell, the breakpoints
	Cell          bool
	Row, Column   int // from 0, of a cell
	Wanted, Found string
	Already       bool // what was found is what the edit would have made
	Moved         bool // the table's axes or unit are not those of the edit
	Beyond        bool // what the edit would make is beyond the table's limits
}

// Place is where the mismatch stands: "injector.flow [0, 2]".
func (m Mismatch) Place() string {
	parts := []string{m.Table, m.Field}
	if m.Cell {
		parts[1] = place(m.Row, m.Column)
	}
	return strings.TrimSpace(strings.Join(parts, " "))
}

func (m Mismatch) what() string {
	s := "found " + m.Found + ", expected " + m.Wanted
	if m.Already {
		s += ": this edit is already applied"
	}
	return s
}

// MismatchError says that a change set does not fit a document, and everywhere
// that it does not.
type MismatchError struct {
	Mismatches []Mismatch
	Already    bool   // the whole change set is already applied
	Other      string // that the change set was made for another document; "" where it was not, or nobody knows
}

// Error has a line for each mismatch; one line where all of it is applied.
func (e *MismatchError) Error() string { return e.Faults("").Error() }

// Faults is the error with the name of the document's file.
func (e *MismatchError) Faults(file string) tables.Faults {
	if e.Already {
		return tables.Faults{{File: file, What: "already applied: the document holds what every edit would make"}}
	}
	return tables.Each(e.Mismatches, func(m Mismatch) *tables.Fault { return &tables.Fault{File: file, Path: m.Place(), What: m.what()} })
}

func idList(ids []string) string {
	if len(ids) == 0 {
		return "no tables"
	}
	return strings.Join(ids, ", ")
}

// How values look in an error line: short, and clean of what could steer a
// terminal.

// cellText is a cell's value, the sign of −0 included.
func cellText(v float64) string {
	if s := tables.FormatValue(v); s != "" {
		return s
	}
	return "an empty cell"
}

func shape(rows, columns int) string { return fmt.Sprintf("%d × %d", rows, columns) }

// place is a cell's address as people read it.
func place(row, column int) string { return fmt.Sprintf("[%d, %d]", row, column) }
