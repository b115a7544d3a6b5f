// Package surface carries a change of a table onto axes that have moved.
//
// Two people edit one table: one changes cells, the other adds, removes or moves
// breakpoints. [Sides.Axes] merges the breakpoints as sets, and [Sides.Merge] reads
// what either did to the base as a difference surface, and adds it at the merged
// breakpoints. It promises that a cell which both sides have holds one side's bits,
// that every edit of either side shows in the merged cells or is a [Clash], and
// that swapping the sides swaps nothing but whose value stands in a clash. Where
// a change shows as less than it was, or reaches further, that is reported.
//
// It leaves out units: where the sides' values are in different ones, its caller
// does not ask. And it decides no clash.
package surface

import (
	"fmt"
	"math"
	"slices"
	"strings"

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

// grid is a table with its breakpoints as keys: an axis that the table lacks
// has the one key 0.
type grid struct {
	x, y   []float64
	values []float64
}

func (g *grid) at(x, y float64) (float64, bool) {
	i, j := index(g.y, y), index(g.x, x)
	if i < 0 || j < 0 {
		return 0, false
	}
	return g.values[i*len(g.x)+j], true
}

// node is where the i-th value stands.
func (g *grid) node(i int) (x, y float64) { return g.x[i%len(g.x)], g.y[i/len(g.x)] }

func index(points []float64, p float64) int {
	if i, ok := slices.BinarySearch(points, p); ok {
		return i
	}
	return -1
}

func has(points []float64, p float64) bool { return index(points, p) >= 0 }

func union(a, b []float64) []float64 {
	out := slices.Concat(a, b)
	slices.Sort(out)
	return slices.Compact(out)
}

// keys are the breakpoints of axes as keys. Where all are the same in
// different units, the last's stand for them: a merged axis stands last, and
// places are named, and found again, by its breakpoints.
func keys(axes ...*tables.Axis) [][]float64 {
	list := make([][]float64, len(axes))
	same := true
	for i, a := range axes {
		if list[i] = []float64{0}; a != nil {
			list[i] = a.Points()
		}
		same = same && SameBreakpoints(a, axes[0])
	}
	if same {
		for i := range list {
			list[i] = list[len(list)-1]
		}
	}
	return list
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
	values, _, err := interp.Lay(t, like.X(), like.Y())
	return values, err == nil
}

// OnAxes is a table on other axes of its own quantities and units: cells that it has
// are as they were, others its surface.
func OnAxes(f tables.Fields, x, y *tables.Axis) (tables.Fields, error) {
	t, err := tables.NewTable(f)
	if err != nil {
		return f, err
	}
	values, status, err := interp.Lay(t, x, y)
	if err != nil {
		return f, err
	}
	for i, s := range status {
		if s != interp.Measured {
			values[i] = t.Round(values[i])
		}
	}
	f.X, f.Y, f.Values = x, y, values
	return f, nil
}

// axis is an axis with other keys.
func axis(keys []float64, like *tables.Axis) *tables.Axis {
	if like == nil || like.Len() == len(keys) {
		return like
	}
	a, err := like.WithPoints(keys)
	if err != nil {
		return like
	}
	return a
}

// Coordinates is a place in axis units: "engine speed 800 r/min, load 40 %".
func Coordinates(f *tables.Fields, at [2]float64) string {
	var parts []string
	for i, a := range []*tables.Axis{f.X, f.Y} {
		if a != nil {
			parts = append(parts, strings.TrimSpace(fmt.Sprintf("%s %s %s", a.Quantity(), tables.FormatValue(at[i]), a.Unit())))
		}
	}
	return strings.Join(parts, ", ")
}
