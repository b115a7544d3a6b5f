package interp

import (
	"math"
	"slices"

	"calsplice/tables"
)

// brackets are those of many points, in the unit of the axis. Along one that a table
// lacks (nil) it is the same at every point, and without any there is one.
func brackets(a *tables.Axis, points []float64, out Outside) []bracket {
	if a == nil {
		return slices.Repeat([]bracket{{w: nothing}}, max(len(points), 1))
	}
	list := make([]bracket, len(points))
	for i, v := range points {
		list[i] = find(a.Points(), v, out)
	}
	return list
}

// grid reads the values of a table, row after row, at every place of y and x: first along x,
// then along y. It writes them into room, where that is enough.
func grid(room, values []float64, columns int, x, y []bracket) []float64 {
	n := len(x)
	size, more := n*len(y), len(values)/columns*n
	room = slices.Grow(room[:0], size+more)[:size+more]
	dst, rows := room[:size], room[size:] // the rows are the table's, read along x
	for r := range len(values) / columns {
		along(rows[r*n:(r+1)*n], values[r*columns:(r+1)*columns], x)
	}
	for r, b := range y {
		row, near := dst[r*n:(r+1)*n], rows[b.lo*n:(b.lo+1)*n]
		if b.w == 0 {
			copy(row, near)
			continue
		}
		between(row, near, rows[b.hi*n:(b.hi+1)*n], b.w)
	}
	// The difference of two values may be past what a double holds, though neither is.
	if !slices.ContainsFunc(values, func(v float64) bool { return math.Abs(v) > math.MaxFloat64/2 }) {
		return dst
	}
	for i, v := range dst {
		if math.IsInf(v, 0) {
			bx, by := x[i%n], y[i/n]
			dst[i] = mix(bx.of(values[by.lo*columns:][:columns]), bx.of(values[by.hi*columns:][:columns]), by.w)
		}
	}
	return dst
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
