package interp

import (
	"math"
	"sort"
)

// Outside is what a table is taken to be past its axes' ends, as the flag --outside has it.
type Outside string

const (
	Hold   Outside = "hold"   // the edge value, as controllers do
	Extend Outside = "extend" // the line through the last two breakpoints
	Refuse Outside = "refuse" // unknown: reading there is an error
)

// Weights finds v among strictly increasing breakpoints: the value there is
// (1−w)·f[i] + w·f[i+1], held at the ends. Past the last breakpoint, and on it,
// i is the one before the last and w is 1 (so close to
// a breakpoint that w rounds to 0 or 1 is as good as on it). A single breakpoint has no f[1]:
// there w is 0, and f[i+1] is not to be read.
func Weights(points []float64, v float64) (i int, w float64) {
	last := len(points) - 1
	switch {
	case last == 0 || v <= points[0]:
		return 0, 0
	case v >= points[last]:
		return last - 1, 1
	}
	i = sort.SearchFloat64s(points, v)
	if points[i] == v {
		return i, 0
	}
	return i - 1, share(v, points[i-1], points[i])
}

// share is how far v is on the way from a to b.
func share(v, a, b float64) float64 {
	if gap := b - a; gap <= maxGap {
		return (v - a) / gap
	}
	return (v/4 - a/4) / (b/4 - a/4) // the gap itself is more than a double holds
}

const maxGap = 1e308

// bracket is where one point falls on an axis: the value there is
// f[lo] + w·(f[hi] − f[lo]). On a breakpoint lo and hi are that one, and w is 0,
// so that its neighbours (which may be empty) have no say.
type bracket struct {
	lo, hi int
	w      float64
	status Status
}

// nothing is −0: what added to any number, −0 too, leaves it to the bit.
var nothing = math.Copysign(0, -1)

// find is the bracket of v. It is not for Refuse, which its callers see to.
func find(points []float64, v float64, out Outside) bracket {
	last := len(points) - 1
	status := Measured
	if v < points[0] || v > points[last] {
		status = Extrapolated
	}
	i, w := Weights(points, v)
	switch {
	case status == Extrapolated && out == Extend && last > 0:
		return bracket{i, i + 1, share(v, points[i], points[i+1]), status}
	case v >= points[last]:
		return bracket{last, last, nothing, status}
	case v <= points[i]:
		return bracket{i, i, nothing, status}
	}
	return bracket{i, i + 1, w, Interpolated}
}

// of is the value there of a line of values.
func (b bracket) of(f []float64) float64 { return mix(f[b.lo], f[b.hi], b.w) }

// mix is the value at share w of the way from a to b; between equal ends it is
// exactly their value, and at w = 0 exactly a.
func mix(a, b, w float64) float64 {
	if w == 0 || a == b {
		return a
	}
	if d := b - a; d-d == 0 {
		return a + float64(w*d)
	}
	return float64((1-w)*a) + float64(w*b) // the difference is past what a double holds
}
