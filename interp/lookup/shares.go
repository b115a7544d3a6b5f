package lookup

import (
	"math"

	"calsplice/interp"
)

// Share is a cell's part in the value that is read at a point.
type Share struct {
	Cell   int     `json:"cell"` // among the table's values
	Weight float64 `json:"weight"`
}

// Shares are the cells that [Table.At] reads at a point, with their weights,
// which add up to 1; none where the point lacks a quantity.
func (b *Table) Shares(p *Point) (list []Share) {
	x, y := b.XY(p)
	if math.IsNaN(x) || math.IsNaN(y) {
		return nil
	}
	i, u := interp.Weights(b.x.points, x)
	j, v := interp.Weights(b.y.points, y)
	add := func(row, column int, weight float64) {
		if weight > 0 {
			list = append(list, Share{row*b.t.Columns() + column, weight})
		}
	}
	add(j, i, (1-u)*(1-v))
	add(j, i+1, u*(1-v))
	add(j+1, i, (1-u)*v)
	add(j+1, i+1, u*v)
	return list
}

// Cell is the cell nearest to a point, among the table's values, as a controller that
// learns by cells has it: halfway between two the higher one, as interp/cells counts
// samples. It is −1 where the point lacks a quantity.
func (b *Table) Cell(p *Point) int {
	x, y := b.XY(p)
	if math.IsNaN(x) || math.IsNaN(y) {
		return -1
	}
	return Nearest(b.y.points, y)*b.t.Columns() + Nearest(b.x.points, x)
}

// Nearest is the nearest breakpoint, halfway the higher one.
func Nearest(points []float64, v float64) int {
	i, share := interp.Weights(points, v)
	if share >= 0.5 {
		i++
	}
	return i
}
