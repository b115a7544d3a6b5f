package interp

import (
	"math"
	"slices"
)

// chains is the dynamic programme by which [Place] and [Advise] choose breakpoints: the
// chain of points, from the first to the last, whose largest gap between two neighbours
// is smallest. What a gap costs does not depend on what is chosen elsewhere, so the best
// chain to a point goes on from a best one to the point before it (Bellman, Dynamic
// Programming, 1957).
type chains struct {
	points []waypoint
	most   int                    // points that count, at most
	gap    func(i, j int) float64 // what it costs to have no point between i and j
	best   [][]link               // by point, then by how many count up to it
}

// waypoint is a point that a chain may go through.
type waypoint struct {
	counts int  // 1 where it is one of those that are counted
	worse  int  // 1 where a chain without it is better than an equal one with it
	forced bool // it is in every chain
}

// link is the best way to a point.
type link struct {
	cost  float64 // of the largest gap
	worse int     // points on the way that are
	from  int     // the point before
}

// solve finds the best chains to every point.
func (c *chains) solve() {
	c.best = make([][]link, len(c.points))
	for j, p := range c.points {
		c.best[j] = slices.Repeat([]link{{cost: math.Inf(1)}}, c.most+1)
		if j == 0 {
			c.best[0][p.counts].cost = 0
		}
		for i := j - 1; i >= 0; i-- {
			gap := c.gap(i, j)
			for k := p.counts; k <= c.most; k++ {
				before, best := c.best[i][k-p.counts], &c.best[j][k]
				way := link{max(before.cost, gap), before.worse + p.worse, i}
				if way.cost < best.cost || way.cost == best.cost && way.worse < best.worse {
					*best = way
				}
			}
			if c.points[i].forced {
				break
			}
		}
	}
}

// chain is the best one with so many points that count, and the cost of its largest gap.
func (c *chains) chain(counted int) (at []int, cost float64) {
	last := len(c.points) - 1
	cost = c.best[last][counted].cost
	for j := last; j > 0; {
		at = append(at, j)
		from := c.best[j][counted].from
		counted -= c.points[j].counts
		j = from
	}
	at = append(at, 0)
	slices.Reverse(at)
	return at, cost
}
