package interp

import "calsplice/tables"

// plan reads tables of one shape at every node of a grid: first along x, then
// along y. It is prepared once for a pair of axes and serves every table on
// them. It does not allocate, and is not for more than one goroutine at a time.
type plan struct {
	x, y    []bracket
	columns int // of the tables
	rows    int
	scratch []float64
}

// newPlan prepares reading tables on axes fromX and fromY at the points x and y,
// which are in the units of those axes. Along an axis that the table lacks (nil) it
// is the same at every point; without a point the grid has one column or row.
func newPlan(fromX, fromY *tables.Axis, x, y []float64, out Outside) (*plan, error) {
	p := &plan{columns: axisLen(fromX), rows: axisLen(fromY)}
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

// axisLen is the number of breakpoints; one where there is no axis.
func axisLen(a *tables.Axis) int {
	if a == nil {
		return 1
	}
	return a.Len()
}

// brackets are those of many points.
func brackets(name string, a *tables.Axis, points []float64, out Outside) (list []bracket, err error) {
	if a == nil && len(points) == 0 {
		points = []float64{0}
	}
	list = make([]bracket, len(points))
	for i, v := range points {
		if list[i], err = locate(name, a, v, out); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// size is the number of values that [plan.apply] writes.
func (p *plan) size() int { return len(p.x) * len(p.y) }

// apply reads one table's values, row after row, and writes the grid's to dst,
// as many as [plan.size].
func (p *plan) apply(dst, values []float64) {
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
