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
	steps   []step // along x
	columns int    // of the tables
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
	p.prepare()
	return p, nil
}

func (p *Plan) prepare() {
	p.steps = make([]step, len(p.x))
	for i, b := range p.x {
		p.steps[i] = step{int32(b.lo), int32(b.hi), b.w}
	}
	p.scratch = make([]float64, p.rows*len(p.x))
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
		along(p.scratch[r*n:(r+1)*n], values[r*p.columns:(r+1)*p.columns], p.steps)
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
func along(dst, row []float64, at []step) {
	dst = dst[:len(at)]
	for i, s := range at {
		near := row[s.lo]
		dst[i] = near + float64(s.w*(row[s.hi]-near))
	}
}

// step is the part of a bracket that reading needs.
type step struct {
	lo, hi int32
	w      float64
}

// between is the row at share w of the way from one row to another.
func between(dst, a, b []float64, w float64) {
	a, b = a[:len(dst)], b[:len(dst)]
	i := 0
	for ; i+4 <= len(dst); i += 4 { // four at once, since the loop itself costs as much as the sum
		d, p, q := (*[4]float64)(dst[i:i+4:i+4]), (*[4]float64)(a[i:i+4:i+4]), (*[4]float64)(b[i:i+4:i+4])
		d[0] = p[0] + float64(w*(q[0]-p[0]))
		d[1] = p[1] + float64(w*(q[1]-p[1]))
		d[2] = p[2] + float64(w*(q[2]-p[2]))
		d[3] = p[3] + float64(w*(q[3]-p[3]))
	}
	for ; i < len(dst); i++ {
		dst[i] = a[i] + float64(w*(b[i]-a[i]))
	}
}
