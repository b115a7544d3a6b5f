package interp

import (
	"fmt"
	"math"

	"calsplice/tables"
)

// Advice is which of a table's old breakpoints to keep so that little is lost.
type Advice struct {
	Bound float64   // what the largest loss is to stay under, or at
	X, Y  []float64 // breakpoints to add to the new axes, in the new axes' units
	Loss  float64   // the largest loss with them
	Met   bool      // whether it is within the bound: rounding may keep it out
}

// Advise finds the fewest old breakpoints that, added to new axes, bring the
// largest loss of [Resample] to the bound. Along one axis of a sampled table
// they are the fewest there are; where both axes lose, each axis's best sets are
// tried together, the fewest breakpoints first.
//
// Nothing to add, with Met set, means that the axes do already.
func Advise(t *tables.Table, x, y *tables.Axis, m Method, out Outside, bound float64) (*Advice, error) {
	sx, err := keepers(t, x, t.X(), func(u *tables.Axis) ([]float64, []Status, error) { return lay(t, u, t.Y(), out) }, false)
	if err != nil {
		return nil, err
	}
	sy, err := keepers(t, y, t.Y(), func(u *tables.Axis) ([]float64, []Status, error) { return lay(t, t.X(), u, out) }, true)
	if err != nil {
		return nil, err
	}
	var best *Advice
	tried := 0
	for n := 0; n <= len(sx)+len(sy)-2; n++ {
		for i := max(0, n-len(sy)+1); i <= min(n, len(sx)-1); i++ {
			// The two losses together are as much as there can be: enough to go by
			// where trying every pair would take too long.
			last := n == len(sx)+len(sy)-2
			if tried += len(t.Values()); tried > mostTrials && !last && sx[i].loss+sy[n-i].loss > bound {
				continue
			}
			a := &Advice{Bound: bound, X: sx[i].points, Y: sy[n-i].points}
			if a.Loss, err = a.lossIn(t, x, y, m, out); err != nil {
				return nil, err
			}
			a.Met = a.Loss <= bound
			if best == nil || a.Met && !best.Met || a.Met == best.Met && a.Loss < best.Loss {
				best = a
			}
		}
		if best != nil && best.Met {
			break
		}
	}
	return best, nil
}

// lossIn is the largest loss with the advised breakpoints added.
func (a *Advice) lossIn(t *tables.Table, x, y *tables.Axis, m Method, out Outside) (float64, error) {
	x, err := with(x, a.X)
	if err != nil {
		return 0, err
	}
	if y, err = with(y, a.Y); err != nil {
		return 0, err
	}
	r, err := Resample(t, x, y, m, out)
	if err != nil {
		return 0, err
	}
	return r.Loss.Largest, nil
}

// with is an axis with more breakpoints.
func with(a *tables.Axis, points []float64) (*tables.Axis, error) {
	if len(points) == 0 {
		return a, nil
	}
	return a.WithPoints(merged(a.Points(), points))
}

// What a search may cost, in values looked at: the whole of it along one axis,
// and the pairs of sets that are tried.
const (
	mostWork   = 1e9
	mostTrials = 2e6
)

// keepSet is a set of old breakpoints and the largest loss along its axis alone.
type keepSet struct {
	points []float64
	loss   float64
}

// keepers lists, for 0, 1, 2 … added breakpoints, the set of old ones that makes
// the largest loss along one axis smallest. read is the table at every node of
// an axis put in this one's place; down says that nodes run down its columns.
func keepers(t *tables.Table, new, old *tables.Axis, read func(*tables.Axis) ([]float64, []Status, error), down bool) ([]keepSet, error) {
	none := []keepSet{{}}
	if new == nil {
		return none, nil
	}
	u, err := union(new, old)
	if err != nil {
		return nil, err
	}
	n := u.Len()
	if n == new.Len() {
		return none, nil
	}
	values, _, err := read(u)
	if err != nil {
		return nil, err
	}
	lines := len(values) / n
	if work := float64(n) * float64(n) * float64(n) * float64(lines); work > mostWork {
		return nil, fmt.Errorf("table %s is too large to advise on: %d breakpoints and %d lines", t.ID(), n, lines)
	}
	s := &search{points: u.Points(), given: make([]bool, n), line: func(l, i int) float64 {
		if down {
			return values[i*lines+l]
		}
		return values[l*n+i]
	}, lines: lines}
	for i, p := range u.Points() {
		s.given[i] = new.Find(p) >= 0
	}
	return s.sets(), nil
}

// search is a dynamic programme over the union of new and old breakpoints: a
// surface through chosen ones is farthest from the old surface at a breakpoint
// between two chosen neighbours, whatever is chosen elsewhere.
type search struct {
	points []float64
	given  []bool // chosen already, being on the new axis
	line   func(line, at int) float64
	lines  int
}

// gap is the largest loss between neighbours i and j; i = −1 and j = n stand for
// the held ends.
func (s *search) gap(i, j int) float64 {
	var worst float64
	for k := i + 1; k < j; k++ {
		for l := range s.lines {
			var there float64
			switch {
			case i < 0:
				there = s.line(l, j)
			case j == len(s.points):
				there = s.line(l, i)
			default:
				there = mix(s.line(l, i), s.line(l, j), share(s.points[k], s.points[i], s.points[j]))
			}
			if d := math.Abs(s.line(l, k) - there); d > worst { // an empty cell has no say
				worst = d
			}
		}
	}
	return worst
}

// sets lists the best set of each size. The chain begins and ends at points before the
// first breakpoint and behind the last, which stand for what is held there.
func (s *search) sets() []keepSet {
	end := len(s.points) + 1
	c := chains{points: make([]waypoint, end+1), gap: func(i, j int) float64 {
		if i == 0 && j == end {
			return math.Inf(1) // no breakpoint at all
		}
		return s.gap(i-1, j-1)
	}}
	for i, given := range s.given {
		if c.points[i+1].forced = given; !given {
			c.points[i+1].counts = 1
			c.most++
		}
	}
	c.solve()
	sets := make([]keepSet, c.most+1)
	for k := range sets {
		at, loss := c.chain(k)
		sets[k].loss = loss
		for _, i := range at {
			if c.points[i].counts > 0 {
				sets[k].points = append(sets[k].points, s.points[i-1])
			}
		}
	}
	return sets
}
