package interp

import "calsplice/tables"

// Surface is a table made ready for reading at many points in any order, held
// at its edges. It does not allocate, and may be read from many goroutines.
type Surface struct {
	x, y   lookup
	stride int
	// values has the last row and the last column twice, so that a point on the
	// far edge needs no case of its own.
	values []float64
}

// NewSurface prepares a table. A scalar is a surface that is the same
// everywhere, a curve one that is the same along y.
func NewSurface(t *tables.Table) *Surface {
	x, _ := pointsIn(t.X(), nil)
	y, _ := pointsIn(t.Y(), nil)
	return SurfaceOn(t, x, y)
}

// SurfaceOn is [NewSurface] of a table that is read in other units than its axes': x
// and y are their breakpoints in those, nil for an axis that it lacks.
func SurfaceOn(t *tables.Table, x, y []float64) *Surface {
	rows, cols := t.Rows(), t.Columns()
	s := &Surface{x: newLookup(x), y: newLookup(y), stride: cols + 1}
	s.values = make([]float64, 0, (rows+1)*(cols+1))
	for r := range rows + 1 {
		row := t.Row(min(r, rows-1))
		s.values = append(append(s.values, row...), row[cols-1])
	}
	return s
}

// At is the surface's value, at coordinates in the units of the table's axes.
// Where a coordinate that counts is NaN, so is the value.
func (s *Surface) At(x, y float64) float64 {
	// Within both axes, which is where most points are, all is done in place: two
	// calls would cost as much as the arithmetic.
	if px, py := &s.x, &s.y; x > px.low && x < px.high && y > py.low && y < py.high {
		i := int(px.first[int((x-px.low)*px.scale)])
		for x >= px.points[i+1] {
			i++
		}
		j := int(py.first[int((y-py.low)*py.scale)])
		for y >= py.points[j+1] {
			j++
		}
		x0, y0 := px.points[i], py.points[j]
		u, w := (x-x0)/(px.points[i+1]-x0), (y-y0)/(py.points[j+1]-y0)
		k := j*s.stride + i
		near := s.values[k : k+2 : k+2]
		far := s.values[k+s.stride : k+s.stride+2 : k+s.stride+2]
		a := near[0] + float64(u*(near[1]-near[0]))
		b := far[0] + float64(u*(far[1]-far[0]))
		if v := a + float64(w*(b-a)); v-v == 0 {
			return v
		}
	}
	return s.Read(s.Find(x, y))
}

// Position is where a point lies on a surface's axes: the breakpoints before it, held at the
// ends, and its share of the way to the next. Any surface with these axes can be read by it.
type Position struct {
	I, J int
	U, W float64
}

// Find finds a point on the surface's axes.
func (s *Surface) Find(x, y float64) (p Position) {
	p.I, p.U = s.x.find(x)
	p.J, p.W = s.y.find(y)
	return p
}

// Read is [Surface.At] of a position. It reads with care: past the axes, on axes of one
// breakpoint, and where a neighbour is empty or a difference past what a double holds. A
// neighbour without weight has no say.
func (s *Surface) Read(p Position) float64 {
	near := s.values[p.J*s.stride+p.I:]
	a := mix(near[0], near[1], p.U)
	if p.W == 0 {
		return a
	}
	far := near[s.stride:]
	return mix(a, mix(far[0], far[1], p.U), p.W)
}

// lookup finds a coordinate among breakpoints: a list of equal buckets over the
// axis says at which breakpoint to begin, and few steps are left from there.
type lookup struct {
	points    []float64
	first     []int32
	low, high float64 // low > high where every coordinate is the same, or a gap is more than a double holds
	scale     float64 // buckets in one unit of the axis
}

// bucketsPerPoint makes most buckets of an uneven axis hold one breakpoint at
// most.
const bucketsPerPoint = 8

// newLookup lists the buckets over some breakpoints.
func newLookup(p []float64) lookup {
	if len(p) < 2 {
		return lookup{low: 1}
	}
	last := len(p) - 1
	l := lookup{points: p, low: p[0], high: p[last]}
	span, n := l.high-l.low, bucketsPerPoint*len(p)
	if !(span <= maxGap) {
		l.low, l.high = 1, 0
		return l
	}
	l.first = make([]int32, n+1)
	if s := float64(n) / span; s <= maxGap {
		l.scale = s
	} // else everything is in bucket 0, and the steps find it
	// A breakpoint's bucket is told by the very sum that a coordinate's is, which
	// never falls where the coordinate rises: so a bucket's first breakpoint is
	// at or below every coordinate in it.
	i := int32(0)
	for b := range l.first {
		for int(i)+1 < last && int((p[i+1]-l.low)*l.scale) < b {
			i++
		}
		l.first[b] = i
	}
	return l
}

// find is the cell of a coordinate, held at the ends, and the share of the way
// through it.
func (l *lookup) find(v float64) (int, float64) {
	switch {
	case l.points == nil:
		return 0, 0
	case v != v:
		return 0, v
	case v <= l.points[0]:
		return 0, 0
	case v >= l.points[len(l.points)-1]:
		return len(l.points) - 1, 0
	case l.first == nil:
		b := find(l.points, v, Hold)
		return b.lo, b.w
	}
	i := int(l.first[int((v-l.low)*l.scale)])
	for v >= l.points[i+1] {
		i++
	}
	return i, (v - l.points[i]) / (l.points[i+1] - l.points[i])
}
