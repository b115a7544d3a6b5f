package sheet

import (
	"slices"
	"strconv"
	"strings"
)

// Kind is what a cell holds.
type Kind uint8

// The kinds of cell. A text file has the first two alone: there a number is text
// that reads as one.
const (
	Empty Kind = iota
	Text
	Number
	Formula // Text is the result that the program saved; "" where it saved none
	Date    // a number that the program shows as a date or a time
	Percent // a number that the program shows as a percentage
	Boolean
	Error
)

// String is the kind in an error line: "holds a date, expected a plain number".
func (k Kind) String() string {
	return [...]string{"empty", "text", "a number", "a formula", "a date", "a percentage", "a truth value", "an error value"}[k]
}

// Cell is one cell with its place.
type Cell struct {
	Text string
	Row  int32 // the row of a sheet; from 1
	At   int32 // which cell of its row it is, empty ones counted; from 1
	Pos  int32 // in a text, the byte at which it begins; from 1
	Kind Kind
}

// Row is the cells of one row in their order. A row of a workbook leaves its
// empty cells out, so that a cell at the far end costs no more than its own.
type Row []Cell

// At is the cell at a place from 1, an empty one where there is none.
func (r Row) At(i int) Cell {
	if i <= len(r) && int(r[i-1].At) == i {
		return r[i-1]
	}
	j, found := slices.BinarySearchFunc(r, i, func(c Cell, i int) int { return int(c.At) - i })
	if found {
		return r[j]
	}
	c := Cell{At: int32(i)}
	if len(r) > 0 {
		c.Row, c.Pos = r[0].Row, r[0].Pos
	}
	return c
}

// Next is the place of the first cell from a place on that is not empty; 0 where
// all are.
func (r Row) Next(from int) int {
	for _, c := range r {
		if int(c.At) >= from && c.Kind != Empty {
			return int(c.At)
		}
	}
	return 0
}

// Width is the place of the last cell that is not empty; 0 where all are.
func (r Row) Width() int {
	for _, c := range slices.Backward(r) {
		if c.Kind != Empty {
			return int(c.At)
		}
	}
	return 0
}

// Name is what a workbook calls a cell, such as "C4". Rows and columns count
// from 1.
func Name(row, column int) string { return ColumnName(column) + strconv.Itoa(row) }

// ColumnName is a column's letters: 1 is "A", 27 is "AA".
func ColumnName(column int) string {
	var b [4]byte
	i := len(b)
	for ; column > 0 && i > 0; column = (column - 1) / 26 {
		i--
		b[i] = byte('A' + (column-1)%26)
	}
	return string(b[i:])
}

// The most rows and columns that a workbook's sheet has.
const (
	MostRows    = 1048576
	MostColumns = 16384
)

// ParseName reads a cell's name, such as "C4" or "$C$4". It reports false for
// what is none.
func ParseName(s string) (row, column int, ok bool) {
	s = strings.TrimPrefix(s, "$")
	i := 0
	for ; i < len(s) && i < 4; i++ {
		c := s[i] &^ 0x20 // upper case
		if c < 'A' || c > 'Z' {
			break
		}
		column = column*26 + int(c-'A'+1)
	}
	if i == 0 || column > MostColumns {
		return 0, 0, false
	}
	s = strings.TrimPrefix(s[i:], "$")
	if s == "" || len(s) > 7 || s[0] == '0' || strings.Trim(s, "0123456789") != "" {
		return 0, 0, false
	}
	row, _ = strconv.Atoi(s)
	return row, column, row <= MostRows
}

// MostText is the number of UTF-16 units that a cell of a workbook holds
// (ISO/IEC 29500 has none, the programs have 32,767); longer text is split with
// some room to spare.
const MostText = 32000

// Split cuts text into pieces that each fit a cell once escaped. Text of
// nothing is one empty piece.
func Split(s string) []string {
	var pieces []string
	start, units := 0, 0
	for i, r := range s {
		n := units16(r)
		if units+n > MostText {
			pieces = append(pieces, s[start:i])
			start, units = i, 0
		}
		units += n
	}
	return append(pieces, s[start:])
}

// units16 is the most UTF-16 units that a character takes in a cell, escaped.
func units16(r rune) int {
	switch {
	case r == '_' || r < 0x20 || r == 0xfffe || r == 0xffff:
		return 7
	case r >= 0x10000:
		return 2
	}
	return 1
}

// fills reports whether a piece is so long that [Split] would have gone on in
// the next cell, whatever came next.
func fills(piece string) bool { return len(Split(piece+"_")) > 1 }
