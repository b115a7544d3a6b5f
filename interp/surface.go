package interp

import (
	"calsplice/tables"
)

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
	rows, cols := t.Rows(), t.Columns()
	s := &Surface{x: newLookup(t.X()), y: newLookup(t.Y()), stride: cols + 1}
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
	i, u := s.x.find(x)
	j, w := s.y.find(y)
	k := j*s.stride + i
	near := s.values[k : k+2 : k+2]
	far := s.values[k+s.stride : k+s.stride+2 : k+s.stride+2]
	a := near[0] + float64(u*(near[1]-near[0]))
	b := far[0] + float64(u*(far[1]-far[0]))
	if v := a + float64(w*(b-a)); v-v == 0 {
		return v
	}
	// A neighbour is empty, or a difference is past what a double holds: with
	// care, a neighbour without weight has no say.
	a = mix(near[0], near[1], u)
	if w == 0 {
		return a
	}
	return mix(a, mix(far[0], far[1], u), w)
}

// lookup finds a coordinate among breakpoints: a list of equal buckets over the
// axis says at which breakpoint to begin, and few steps are left from there.
type lookup struct {
	points []float64
	first  []int32
	low    float64
	high   float64
	scale  float64 // buckets in one unit of the axis
}

// bucketsPerPoint makes most buckets of an uneven axis hold one breakpoint at
// most.
const bucketsPerPoint = 8

func newLookup(a *tables.Axis) lookup {
	if a == nil || a.Len() == 1 {
		return lookup{points: []float64{0}}
	}
	p := a.Points()
	l := lookup{points: p, low: p[0], high: p[len(p)-1]}
	n := bucketsPerPoint * len(p)
	l.first = make([]int32, n+1)
	if span := l.high - l.low; span <= maxGap && float64(n)/span <= maxGap {
		l.scale = float64(n) / span
	} // else everything is in bucket 0, and the steps find it
	// A breakpoint's bucket is told by the very sum that a coordinate's is, which
	// never falls where the coordinate rises: so a bucket's first breakpoint is
	// at or below every coordinate in it.
	i := int32(0)
	for b := range l.first {
		for int(i)+1 < len(p)-1 && l.bucket(p[i+1]) < b {
			i++
		}
		l.first[b] = i
	}
	return l
}

func (l *lookup) bucket(v float64) int { return int((v - l.low) * l.scale) }

func (l *lookup) find(v float64) (int, float64) {
	switch {
	case v <= l.low || l.first == nil:
		return 0, 0
	case v >= l.high:
		return len(l.points) - 1, 0
	case v != v:
		return 0, v
	}
	i := int(l.first[l.bucket(v)])
	if v >= l.points[i+1] { // a conditional move: half of the time this is the only step
		i++
	}
	for v >= l.points[i+1] {
		i++
	}
	p := l.points[i : i+2 : i+2]
	if gap := p[1] - p[0]; gap <= maxGap {
		return i, (v - p[0]) / gap
	}
	return i, share(v, p[0], p[1])
}
