// Package surface carries a change of a table onto axes that have moved.
//
// Two people edit one table: one changes cells, the other adds, removes or moves
// breakpoints. [Sides.Merge] merges the breakpoints as sets, reads what either did to
// the base as a difference surface, and adds it at the merged breakpoints. It promises that a cell which both sides have holds one side's bits,
// that every edit of either side shows in the merged cells or is a [Clash], and
// that swapping the sides swaps nothing but whose value stands in a clash. Where
// a change shows as less than it was, or reaches further, that is reported.
//
// It leaves out units: where the sides' values are in different ones, its caller
// does not ask. And it decides no clash.
package surface

import (
	"math"
	"slices"

	"calsplice/interp"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// Sides are the three versions of one table.
type Sides struct {
	Base, Ours, Theirs *tables.Table
	Resolution         float64
	// Settle takes two edits of a cell for one, where that is asked for.
	Settle func(base, ours, theirs float64) (float64, bool)
}

// Merged is what becomes of them.
type Merged struct {
	X, Y    *tables.Axis
	Values  []float64
	Clashes []Clash
	Settled int // cells
	Carried int // cells with the other side's change carried onto moved axes
	Notes   []string
	Effects []string // where a change shows as less than it was, or reaches further
}

// Clash is a node that both sides changed differently, or that one changed and
// the other took away.
type Clash struct {
	// Row and Column count in the merged table, or, where that does not have the node,
	// in the one that In says: that of "base", or else of "theirs".
	Row, Column int
	In          string
	X, Y        *float64   // nil where there is no such axis
	Values      [3]float64 // base, ours, theirs
	Has         [3]bool    // who has the node
	Gone        string     // "x", "y" or "xy": whose breakpoint one side took away
}

// SameBreakpoints reports whether two axes have the same breakpoints, in
// whatever unit each gives them.
func SameBreakpoints(a, b *tables.Axis) bool {
	if a == nil || b == nil || a.SamePoints(b) {
		return a == b || a.SamePoints(b)
	}
	if a.Len() != b.Len() || a.Unit() == b.Unit() || a.Quantity() != b.Quantity() {
		return false
	}
	c, err := unit.Find(a.Unit(), b.Unit())
	if err != nil {
		return false
	}
	return SameDigits(c.ApplyAll(a.Points()), b.Points(), 0)
}

// SameDigits reports whether numbers are others rounded to a resolution, of
// which half is given, or to the decimals that the others show.
func SameDigits(v, shown []float64, half float64) bool {
	most := 0
	for _, w := range shown {
		if !math.IsNaN(w) {
			most = max(most, tables.Decimals(w))
		}
	}
	if half == 0 && most <= 9 {
		half = math.Pow10(-most) / 2
	}
	// Values of 0 agree in any unit. Some number must be large beside the rounding, or
	// an empty table would pass for the same in every unit.
	varied := false // numbers no larger than the rounding prove nothing
	for i, w := range shown {
		if !tables.SameBit(v[i], w) && !(math.Abs(v[i]-w) <= half+float64(1e-9*math.Abs(w))) {
			return false
		}
		varied = varied || math.Abs(w) > 10*half
	}
	return varied
}

// On reads a table on the axes of another, held at its edges. It reports false
// where their axes do not measure the same.
func On(t, like *tables.Table) ([]float64, bool) {
	if SameBreakpoints(t.X(), like.X()) && SameBreakpoints(t.Y(), like.Y()) {
		return t.Values(), true
	}
	if (t.X() == nil) != (like.X() == nil) || (t.Y() == nil) != (like.Y() == nil) {
		return nil, false
	}
	values, err := interp.Lay(t, like.Axes())
	return values, err == nil
}

// valueAt is the value of the cell at some coordinates, if a table has it.
func valueAt(t *tables.Table, p tables.Coordinates) (float64, bool) {
	i := t.Axes().Find(p)
	if i < 0 {
		return 0, false
	}
	return t.Values()[i], true
}

// With is an axis with a breakpoint more; the same where it has that one, or is
// none.
func With(a *tables.Axis, v float64) (*tables.Axis, error) {
	if a == nil || a.Find(v) >= 0 {
		return a, nil
	}
	i, _ := slices.BinarySearch(a.Points(), v)
	return a.WithPoints(slices.Insert(slices.Clone(a.Points()), i, v))
}

// Without is an axis with a breakpoint less.
func Without(a *tables.Axis, v float64) (*tables.Axis, error) {
	if a == nil || a.Find(v) < 0 {
		return a, nil
	}
	return a.WithPoints(slices.DeleteFunc(slices.Clone(a.Points()), func(p float64) bool { return p == v }))
}
