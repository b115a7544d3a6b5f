// Package blocks says a change of many cells as a person would: rows 3 to 7,
// columns 2 to 5, × 1.05.
//
// [Find] looks for rectangles of one table's cells that one rule explains: a
// factor, a sum, one value for all, a clamp. It promises that every changed cell
// is in exactly one block or in the list of the others, that each block's rule
// gives each of its cells to within half the resolution, and that of two numbers
// which fit, the plainer one is told. Rounding to the resolution hides no block.
//
// It leaves out any thought of why: a block is what the cells have in common,
// and not what somebody did to them. Where most changes follow no rule, the few
// that seem to are chance and are listed cell by cell.
package blocks

import (
	"strconv"

	"calsplice/tables"
)

// Block is a rectangle of cells that one rule explains. Exactly one of Factor,
// Add, Clamped and Set is given; none where it only says which cells are meant.
type Block struct {
	Table    string   `json:"table"`
	Rows     [2]int   `json:"rows"`    // first and last, from 0
	Columns  [2]int   `json:"columns"` // first and last, from 0
	Factor   *float64 `json:"factor,omitempty"`
	Add      *float64 `json:"add,omitempty"`
	Clamped  *float64 `json:"clamped,omitempty"` // cells past it were brought to it
	Set      *float64 `json:"set,omitempty"`     // every cell became it
	Stopped  *float64 `json:"stopped,omitempty"` // the limit at which Factor or Add came to an end
	Changed  int      `json:"changed"`           // cells that changed; the rest are ones that rounding kept
	Residual float64  `json:"residual"`          // largest distance of a cell from what the rule gives
}

// Has reports whether a cell stands in the block.
func (b Block) Has(table string, row, column int) bool {
	return table == b.Table && b.Rows[0] <= row && row <= b.Rows[1] && b.Columns[0] <= column && column <= b.Columns[1]
}

// Rule is a block's rule in words: "× 1.05", "+ 2", "− 1.5".
func (b Block) Rule(unit string) string {
	with := func(v float64) string {
		s := tables.FormatValue(v)
		if unit == "%" && b.Add != nil {
			return s + " percentage points" // "+ 2 %" reads as a factor
		}
		if unit != "" {
			s += " " + unit
		}
		return s
	}
	var s string
	switch {
	case b.Factor != nil:
		s = "× " + tables.Shown(*b.Factor)
	case b.Add != nil && *b.Add < 0:
		s = "− " + with(-*b.Add)
	case b.Add != nil:
		s = "+ " + with(*b.Add)
	case b.Clamped != nil:
		s = "clamped at " + with(*b.Clamped)
	case b.Set != nil:
		s = "set to " + with(*b.Set)
	}
	if b.Stopped != nil {
		s += ", clamped at " + with(*b.Stopped)
	}
	return s
}

// Place is a block's cells in words: "rows 3–7, columns 2–5".
func (b Block) Place() string { return span("row", b.Rows) + ", " + b.Along() }

// Along is where it stands in a curve: "columns 2–6".
func (b Block) Along() string { return span("column", b.Columns) }

func span(word string, s [2]int) string {
	if s[0] == s[1] {
		return word + " " + strconv.Itoa(s[0])
	}
	return word + "s " + strconv.Itoa(s[0]) + "–" + strconv.Itoa(s[1])
}
