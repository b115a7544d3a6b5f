package tables

import (
	"iter"
	"slices"
	"strings"
)

// Axes are those of a table, x and then y; nil for one that it lacks. By them a cell is
// placed, and found again, on a map, a curve and a scalar alike.
type Axes [2]*Axis

// All are the axes that there are, x by 0 and y by 1.
func (a Axes) All() iter.Seq2[int, *Axis] {
	return func(yield func(int, *Axis) bool) {
		for k, axis := range a {
			if axis != nil && !yield(k, axis) {
				return
			}
		}
	}
}

// Of is the axis that measures a quantity, x by 0 and y by 1; −1 where none does.
func (a Axes) Of(quantity string) int {
	return slices.IndexFunc(a[:], func(axis *Axis) bool { return axis != nil && axis.Quantity() == quantity })
}

// Coordinates are where a cell lies, along x and along y, in the units of its axes; 0
// along one that is not there.
type Coordinates [2]float64

// At is where the i-th cell lies, row after row.
func (a Axes) At(i int) (p Coordinates) {
	if a[0] != nil {
		p[0] = a[0].At(i % a[0].Len())
	}
	if a[1] != nil {
		p[1] = a[1].At(i / a[0].Len())
	}
	return p
}

// Find is which cell lies at exactly some coordinates, row after row, or −1.
func (a Axes) Find(p Coordinates) int {
	column, row := 0, 0
	if a[0] != nil {
		column = a[0].Find(p[0])
	}
	if a[1] != nil {
		row = a[1].Find(p[1])
	}
	if column < 0 || row < 0 {
		return -1
	}
	return row*a[0].Len() + column
}

// SamePoints reports whether two tables' cells correspond by index, whatever their axes
// measure.
func (a Axes) SamePoints(b Axes) bool { return a[0].SamePoints(b[0]) && a[1].SamePoints(b[1]) }

// Words say something of each axis, between its quantity and its unit.
func (a Axes) Words(of func(k int, axis *Axis) string) string {
	var words []string
	for k, axis := range a.All() {
		words = append(words, strings.TrimSpace(axis.Quantity()+" "+of(k, axis)+" "+axis.Unit()))
	}
	return strings.Join(words, ", ")
}

// Where says in words where coordinates are, such as "engine speed 2000 r/min, air charge
// 500 mg"; a scalar has no place.
func (a Axes) Where(p Coordinates) string {
	return a.Words(func(k int, _ *Axis) string { return FormatValue(p[k]) })
}

// Where says in words where a value lies on the table's axes.
func (t *Table) Where(i int) string { return t.Axes().Where(t.Axes().At(i)) }
