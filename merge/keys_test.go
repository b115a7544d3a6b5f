package merge

import (
	"slices"

	"calsplice/interp"
	"calsplice/merge/surface"
	"calsplice/tables"
	"calsplice/tables/tabletest"
)

// grid is a table with its breakpoints as keys: an axis that the table lacks
// has the one key 0.
type grid struct {
	x, y   []float64
	values []float64
}

func (g *grid) at(x, y float64) (float64, bool) {
	i, okY := slices.BinarySearch(g.y, y)
	j, okX := slices.BinarySearch(g.x, x)
	if !okX || !okY {
		return 0, false
	}
	return g.values[i*len(g.x)+j], true
}

// keyAxes are the breakpoints of axes as keys. Where all are the same in
// different units, the first's stand for them.
func keyAxes(axes ...*tables.Axis) [][]float64 {
	list := make([][]float64, len(axes))
	same := true
	for i, a := range axes {
		if list[i] = []float64{0}; a != nil {
			list[i] = a.Points()
		}
		same = same && surface.SameBreakpoints(a, axes[0])
	}
	for i := range list {
		if same {
			list[i] = list[0]
		}
	}
	return list
}

// lay is the grid's surface at other nodes, held at its edges.
func (g *grid) lay(x, y []float64) ([]float64, error) {
	nameless := func(g *grid, values []float64) *tables.Table {
		return tabletest.Must(tables.NewTable(tables.Fields{ID: "t", X: tabletest.Must(tables.NewAxis("", "", g.x)), Y: tabletest.Must(tables.NewAxis("", "", g.y)), Values: values}))
	}
	to := nameless(&grid{x: x, y: y}, make([]float64, len(x)*len(y)))
	values, err := interp.Lay(nameless(g, g.values), to.Axes())
	return values, err
}
