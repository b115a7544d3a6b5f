package interp

import (
	"cmp"
	"fmt"
)

// Advice is which of a table's old breakpoints to keep so that little is lost.
type Advice struct {
	Bound float64   `json:"within"`      // what the largest loss is to stay under, or at
	X     []float64 `json:"x,omitempty"` // breakpoints to add to the new axes, in the new axes' units
	Y     []float64 `json:"y,omitempty"`
	Loss  float64   `json:"loss"` // the largest loss with them
	Met   bool      `json:"met"`  // whether it is within the bound: rounding may keep it out
}

// Advise finds the fewest old breakpoints that, added to new axes, bring the
// largest loss of [Resample] to the bound. Along one axis of a sampled table
// they are the fewest there are; where both axes lose, each axis's best sets are
// tried together, the fewest breakpoints first.
//
// Nothing to add, with Met set, means that the axes do already.
func (r *Resampled) Advise(bound float64) (best *Advice, err error) {
	sx, errX := r.keepers(0)
	sy, errY := r.keepers(1)
	if err := cmp.Or(errX, errY); err != nil {
		return nil, err
	}
	tried := 0
	for n := 0; n <= len(sx)+len(sy)-2; n++ {
		for i := max(0, n-len(sy)+1); i <= min(n, len(sx)-1); i++ {
			// The two losses together are as much as there can be: enough to go by
			// where trying every pair would take too long.
			last := n == len(sx)+len(sy)-2
			if tried += len(r.of.Values()); tried > mostTrials && !last && sx[i].loss+sy[n-i].loss > bound {
				continue
			}
			a := &Advice{Bound: bound, X: sx[i].points, Y: sy[n-i].points}
			if a.Loss, err = r.lossWith(a.X, a.Y); err != nil {
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

// lossWith is the largest loss with more breakpoints on the new axes.
func (r *Resampled) lossWith(x, y []float64) (loss float64, err error) {
	axes := r.Table.Axes()
	for k, more := range [][]float64{x, y} {
		if len(more) > 0 && err == nil {
			axes[k], err = axes[k].WithPoints(merged(axes[k].Points(), more))
		}
	}
	if err != nil {
		return 0, err
	}
	again, err := Resample(r.of, axes, r.Method, r.Outside)
	if err != nil {
		return 0, err
	}
	return again.Loss.Largest, nil
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
// the largest loss along one axis, x or y, smallest.
func (r *Resampled) keepers(along int) ([]keepSet, error) {
	none := []keepSet{{}}
	t, axes, new := r.of, r.of.Axes(), r.Table.Axes()[along]
	if new == nil {
		return none, nil
	}
	u, err := union(new, axes[along])
	if err != nil || u.Len() == new.Len() {
		return none, err
	}
	axes[along] = u
	p, err := nodesOn(t, axes)
	if err != nil {
		return nil, err
	}
	values, _ := lay(t, p, r.Outside)
	n := u.Len()
	lines := len(values) / n
	if work := float64(n) * float64(n) * float64(n) * float64(lines); work > mostWork {
		return nil, fmt.Errorf("table %s is too large to advise on: %d breakpoints and %d lines", t.ID(), n, lines)
	}
	s := chords{knots: u.Points(), points: u.Points(), ends: make([]float64, n)}
	for i := range n {
		line := make([]float64, lines)
		for l := range line {
			line[l] = values[[2]int{l*n + i, i*lines + l}[along]]
		}
		s.old = append(s.old, line)
	}
	s.fresh = s.old
	return s.sets(func(i int) bool { return new.Find(u.At(i)) >= 0 }), nil
}

// sets lists the best set of each size, beside those that are given. The chain begins
// and ends at points before the first breakpoint and behind the last, which stand for
// what is held there.
func (s *chords) sets(given func(i int) bool) []keepSet {
	end := len(s.points) + 1
	c := chains{points: make([]waypoint, end+1), gap: func(i, j int) float64 { return s.cost(i-1, j-1) }}
	for i := range s.points {
		if c.points[i+1].forced = given(i); !given(i) {
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
