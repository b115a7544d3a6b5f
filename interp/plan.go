package interp

import (
	"fmt"

	"calsplice/tables"
)

// Plan reads tables of one shape at every node of a grid: first along x, then
// along y. It is prepared once for a pair of axes and serves every table on
// them. It does not allocate, and is not for more than one goroutine at a time.
type Plan struct {
	x, y    []bracket
	columns int // of the tables
	rows    int
	scratch []float64
}

// NewPlan prepares reading tables on axes fromX and fromY at the points x and y,
// which are in the units of those axes. A nil axis (of a scalar or a curve) is
// read at no point, and the grid has one column or row for it.
func NewPlan(fromX, fromY *tables.Axis, x, y []float64, out Outside) (*Plan, error) {
	p := &Plan{columns: axisLen(fromX), rows: axisLen(fromY)}
	var err error
	if p.x, err = brackets("x", fromX, x, out); err != nil {
		return nil, err
	}
	if p.y, err = brackets("y", fromY, y, out); err != nil {
		return nil, err
	}
	p.scratch = make([]float64, p.rows*len(p.x))
	return p, nil
}

func axisLen(a *tables.Axis) int {
	if a == nil {
		return 1
	}
	return a.Len()
}

func brackets(name string, a *tables.Axis, points []float64, out Outside) ([]bracket, error) {
	if a == nil {
		return []bracket{{w: nothing, on: true}}, nil
	}
	list := make([]bracket, len(points))
	for i, v := range points {
		b := find(a.Points(), v, out)
		if v != v {
			return nil, fmt.Errorf("%s point %d is not a number", name, i)
		}
		if b.past && out == Refuse {
			return nil, fmt.Errorf("%s point %s is past the axis (%s to %s %s)", name, tables.FormatValue(v),
				tables.FormatValue(a.At(0)), tables.FormatValue(a.At(a.Len()-1)), a.Unit())
		}
		list[i] = b
	}
	return list, nil
}

// Size is the number of values that [Plan.Apply] writes.
func (p *Plan) Size() int { return len(p.x) * len(p.y) }

// Apply reads one table's values, row after row, and writes the grid's to dst,
// as many as [Plan.Size].
func (p *Plan) Apply(dst, values []float64) {
	n := len(p.x)
	for r := range p.rows {
		along(p.scratch[r*n:(r+1)*n], values[r*p.columns:(r+1)*p.columns], p.x)
	}
	for r, b := range p.y {
		row := dst[r*n : (r+1)*n]
		near := p.scratch[b.lo*n : (b.lo+1)*n]
		if b.w == 0 {
			copy(row, near)
			continue
		}
		between(row, near, p.scratch[b.hi*n:(b.hi+1)*n], b.w)
	}
}

// along reads one row at each bracket. On a breakpoint lo and hi are one and w
// is −0, so that the sum is the value itself, to the bit and to the sign of 0.
func along(dst, row []float64, at []bracket) {
	dst = dst[:len(at)]
	for i := range at {
		b := &at[i]
		near := row[b.lo]
		dst[i] = near + float64(b.w*(row[b.hi]-near))
	}
}

// between is the row at share w of the way from one row to another.
func between(dst, a, b []float64, w float64) {
	a, b = a[:len(dst)], b[:len(dst)]
	for i := range dst {
		dst[i] = a[i] + float64(w*(b[i]-a[i]))
	}
}
