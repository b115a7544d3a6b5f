package interp

import (
	"fmt"
	"math"
	"testing"

	"calsplice/tables"
)

// TestLines: the rows and then the columns of a table, and whether each never falls or
// never rises; a flat one does both, and an empty cell keeps a line from either.
func TestLines(t *testing.T) {
	nan := math.NaN()
	x, err := tables.NewAxis("a", "", []float64{1, 2, 3})
	if err != nil {
		t.Fatal(err)
	}
	y, err := tables.NewAxis("b", "", []float64{1, 2, 3, 4})
	if err != nil {
		t.Fatal(err)
	}
	m, err := tables.NewTable(tables.Fields{ID: "t", X: x, Y: y, Values: make([]float64, 12)})
	if err != nil {
		t.Fatal(err)
	}
	values := []float64{
		1, 2, 2,
		3, 2, 1,
		5, 5, 5,
		6, 0, nan,
	}
	got := ""
	for _, l := range Lines(m) {
		up, down := l.Trend(values)
		got += fmt.Sprintf("%s %v %v\n", l.Name(), up, down)
	}
	want := "row 0 true false\nrow 1 false true\nrow 2 true true\nrow 3 false false\n" +
		"column 0 true false\ncolumn 1 false false\ncolumn 2 false false\n"
	if got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	if c := fmt.Sprint(m.Column(1)); c != "[0 0 0 0]" {
		t.Errorf("a column of four rows is %s", c)
	}
}
