package tables

import (
	"cmp"
	"fmt"
	"math"
	"strings"
)

// Limits are the smallest and the largest value that a table may hold.
type Limits struct{ Low, High float64 }

// Fields is the plain description of a table: what a reader fills in, and what
// a writer takes apart. [NewTable] makes a [Table] of it.
type Fields struct {
	ID         string // unique in its document, [a-z0-9._-]+
	Title      string
	Role       Role // "" where the document gives none
	Unit       string
	Resolution float64 // smallest step that the controller stores; 0 where not given
	Limits     *Limits // nil where not given
	Notes      string
	X, Y       *Axis     // columns and rows; a curve has X alone, a scalar neither
	Values     []float64 // row after row; NaN is an empty cell, for cell averages only
	Extra      Extra
}

// Table is one characteristic: a scalar, a curve along x, or a map with y down
// its rows and x along its columns. It is immutable.
type Table struct{ f Fields }

// NewTable builds a table. It refuses an id outside [a-z0-9._-]+, an unknown
// role, a resolution that is not above zero, limits that are not finite or out
// of order, a y axis without an x axis, a count of values that does not fit the
// axes, and an infinite value. Values outside the limits are sound: they are
// something for a person to see, not for a reader to refuse.
//
// The table keeps f.Values: the caller must not change them afterwards.
func NewTable(f Fields) (*Table, error) {
	if err := cmp.Or(ValidID(f.ID), TableFields.validate(&f)); err != nil {
		return nil, err
	}
	f.Resolution += 0 // −0 is no resolution either
	if l := f.Limits; l != nil {
		f.Limits = &Limits{l.Low, l.High}
	}
	if f.Y != nil && f.X == nil {
		return nil, fmt.Errorf("table has a y axis and no x axis")
	}
	t := &Table{f}
	if want := t.Rows() * t.Columns(); len(f.Values) != want {
		return nil, fmt.Errorf("table has %d values, its axes need %d", len(f.Values), want)
	}
	for i, v := range f.Values {
		if math.IsInf(v, 0) {
			return nil, fmt.Errorf("value at %s is infinite, expected a finite number", t.Place(i))
		}
	}
	return t, nil
}

// ValidID refuses an id outside [a-z0-9._-]+.
func ValidID(id string) error {
	if odd := strings.TrimLeft(id, "abcdefghijklmnopqrstuvwxyz0123456789._-"); odd != "" {
		return fmt.Errorf("id %s has %s, expected lower-case letters, digits, '.', '_' and '-' only", Quote(id), Quote(odd[:1]))
	}
	if id == "" {
		return fmt.Errorf("id is empty")
	}
	return nil
}

// validate refuses limits that are not finite or not in order.
func (l *Limits) validate() error {
	if math.IsInf(l.Low, 0) || math.IsInf(l.High, 0) || !(l.Low <= l.High) {
		return fmt.Errorf("limits are %v and %v, expected a lower and a higher number", l.Low, l.High)
	}
	return nil
}

// Fields is the table's description. Its values are the table's own: copy them
// before changing any.
func (t *Table) Fields() Fields { return t.f }

// WithValues is the same table with other values, as many as before.
func (t *Table) WithValues(values []float64) (*Table, error) {
	f := t.f
	f.Values = values
	return NewTable(f)
}

// ID is unique in a document, and what commands and change sets name a table by.
func (t *Table) ID() string { return t.f.ID }

// Title is what a person calls the table; "" where it has none.
func (t *Table) Title() string { return t.f.Title }

// Role is what the table means, where something is computed with it; "" elsewhere.
func (t *Table) Role() Role { return t.f.Role }

// Unit is that of the values, as the document spells it.
func (t *Table) Unit() string { return t.f.Unit }

// Resolution is the smallest step that the controller stores; 0 where not known.
func (t *Table) Resolution() float64 { return t.f.Resolution }

// Limits are what the controller accepts; nil where not known.
func (t *Table) Limits() *Limits { return t.f.Limits }

// Notes are the table's own.
func (t *Table) Notes() string { return t.f.Notes }

// X is the axis along the columns; nil for a scalar.
func (t *Table) X() *Axis { return t.f.X }

// Y is the axis down the rows; nil for a scalar and for a curve.
func (t *Table) Y() *Axis { return t.f.Y }

// Axes are X and Y.
func (f *Fields) Axes() Axes { return Axes{f.X, f.Y} }

// Axes are X and Y; of no table there are none.
func (t *Table) Axes() (axes Axes) {
	if t != nil {
		axes = t.f.Axes()
	}
	return axes
}

// Values are the cells, row after row. The caller must not change them.
func (t *Table) Values() []float64 { return t.f.Values }

// Rows is the number of rows: 1 for a scalar and a curve.
func (t *Table) Rows() int { return t.f.Y.Len() }

// Columns is the number of columns: 1 for a scalar.
func (t *Table) Columns() int { return t.f.X.Len() }

// At is the value in a row and a column, both from 0.
func (t *Table) At(row, column int) float64 { return t.f.Values[row*t.Columns()+column] }

// Row is one row of values. The caller must not change it.
func (t *Table) Row(row int) []float64 {
	n := t.Columns()
	return t.f.Values[row*n : (row+1)*n]
}

// Column is one column of values, a copy.
func (t *Table) Column(column int) []float64 {
	list := make([]float64, t.Rows())
	for r := range list {
		list[r] = t.At(r, column)
	}
	return list
}

// Place is the address of the i-th value as people read it: "[row, column]",
// from 0.
func (t *Table) Place(i int) string {
	return fmt.Sprintf("[%d, %d]", i/t.Columns(), i%t.Columns())
}

// Tolerance is half the resolution: two values nearer than that are the same
// to the controller. It is 0 where no resolution is given.
func (t *Table) Tolerance() float64 { return t.f.Resolution / 2 }

// Round is v at the table's resolution (a whole number of steps from 0, halfway
// away from 0), or v itself where it has none. The result prints as a short
// decimal wherever the resolution does.
func (t *Table) Round(v float64) float64 {
	r := t.f.Resolution
	if r == 0 || math.IsNaN(v) {
		return v
	}
	steps := math.Round(v / r)
	if math.IsInf(steps, 0) || math.Abs(steps) >= 1<<53 {
		return v
	}
	// A step such as 0.001 is not a double; its inverse often is, and dividing
	// by that lands on the decimal that a person would write.
	if inv := math.Round(1 / r); inv >= 1 && math.Abs(float64(inv*r)-1) < 1e-12 {
		return steps / inv
	}
	return steps * r
}

// Clamp is v within the table's limits.
func (t *Table) Clamp(v float64) float64 {
	if l := t.f.Limits; l != nil {
		return min(max(v, l.Low), l.High)
	}
	return v
}

// Equal reports whether two tables are the same to the bit.
func (t *Table) Equal(o *Table) bool {
	if t == o {
		return true
	}
	if t == nil || o == nil {
		return false
	}
	return t.f.ID == o.f.ID && TableFields.Different(&t.f, &o.f) == nil
}

// Text is the limits in a line.
func (l *Limits) Text() string { return FormatValue(l.Low) + " to " + FormatValue(l.High) }
