package sheet

import (
	"strings"
	"testing"
)

// TestNames reads and writes the names of cells, up to the last one of a sheet.
func TestNames(t *testing.T) {
	for _, c := range []struct {
		s      string
		row, c int
		ok     bool
	}{{"A1", 1, 1, true}, {"$b$12", 12, 2, true}, {"AA10", 10, 27, true}, {"XFD1048576", 1048576, 16384, true},
		{"XFE1", 0, 0, false}, {"A0", 0, 0, false}, {"A1048577", 0, 0, false}, {"1A", 0, 0, false}, {"A", 0, 0, false},
		{"", 0, 0, false}, {"AAAA1", 0, 0, false}, {"A1B", 0, 0, false}} {
		r, col, ok := ParseName(c.s)
		if ok != c.ok || ok && (r != c.row || col != c.c) {
			t.Errorf("%q is row %d, column %d (%v)", c.s, r, col, ok)
		}
		if ok && !strings.EqualFold(Name(r, col), strings.ReplaceAll(c.s, "$", "")) {
			t.Errorf("%q is written %q", c.s, Name(r, col))
		}
	}
}
