// Package book is a workbook (.xlsx, ISO/IEC 29500) as far as calsplice needs
// one: sheets of cells that hold numbers and text, exactly.
//
// [Writer] writes. A number stands as the shortest decimal that reads back to
// the same bits; text is text, whatever it begins with: nothing is ever stored
// as a formula. The same calls give the same bytes.
//
// [Open] reads what a spreadsheet program saved, within bounds: a file that
// unpacks to far more than it is, or that spreads few cells over millions, is
// refused before it takes memory. Formulas, dates, truth values, error values
// and percentages are told apart from numbers, for the caller to refuse in the
// cell where they stand; macros and links to other files are not looked at, and
// that is said.
//
// The package reads cells itself, because the library that writes them fills
// each row up to its last cell, gigabytes for a hostile kilobyte, and does not
// tell a date from a number.
//
// It knows nothing of calibrations; see the package above it for those.
package book

import (
	"fmt"
	"strings"
)

// MostText is the number of UTF-16 units that a cell holds (ISO/IEC 29500 has
// none, the programs have 32,767); longer text is split with some room to spare.
const MostText = 32000

// Name is a cell's name, such as "C4". Rows and columns count from 1.
func Name(row, column int) string { return ColumnName(column) + fmt.Sprint(row) }

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

// The most rows and columns that a sheet has.
const (
	mostRows    = 1048576
	mostColumns = 16384
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
	if i == 0 || column > mostColumns {
		return 0, 0, false
	}
	s = strings.TrimPrefix(s[i:], "$")
	if s == "" || len(s) > 7 || s[0] == '0' {
		return 0, 0, false
	}
	for _, c := range []byte(s) {
		if c < '0' || c > '9' {
			return 0, 0, false
		}
		row = row*10 + int(c-'0')
	}
	return row, column, row <= mostRows
}
