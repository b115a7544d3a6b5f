package cells

import (
	"calsplice/interp"
	"calsplice/tables/drivelog"
)

// shares are the cells on which the operating points of a frame weigh. Each
// instant has as many places for them: one, or four where samples are spread.
// Places that it does not need hold −1, behind those that it does; where the axes
// are not known it needs none.
type shares struct {
	places int
	cell   []int32
	stay   []int32   // counts the separate stays in that cell
	weight []float64 // nil where every share is a whole
	corner []corner  // by instant, for surfaces; nil without
}

// locator follows the operating point of one log through the grid. A stay is
// one unbroken time in a cell: it ends where the point leaves the cell, where
// the axes are not known, and where the log's stretch ends. Instants at which a
// channel has no new reading, or that a filter leaves out, don't end it: the
// engine was still there.
type locator struct {
	shares
	x, y    *ruler
	stretch int
	at      int32   // the cell of the last instant, where there is one
	instant int32   // number of the last one; one is left out where a stretch ends
	last    []int32 // by cell, the instant that last weighed on it
	stays   []int32 // by cell, how many there have been
}

func newLocator(g *Grid) (*locator, error) {
	x, err := newRuler(g.x, g.unitOf(g.x), 1)
	if err != nil {
		return nil, err
	}
	y, err := newRuler(g.y, g.unitOf(g.y), len(x.points))
	if err != nil {
		return nil, err
	}
	l := &locator{x: x, y: y, instant: 1, last: make([]int32, g.size()), stays: make([]int32, g.size())}
	l.places = 1
	if g.settings.weight == Spread {
		l.places, l.weight = 4, []float64{}
	}
	if g.settings.Surface {
		l.corner = []corner{}
	}
	return l, nil
}

func (g *Grid) unitOf(a *Axis) string {
	if a == nil {
		return ""
	}
	return drivelog.ChannelUnit(a.Channel)
}

// locate finds the shares of the instants of a frame; y is nil along a curve.
func (l *locator) locate(x, y []float64, stretch []int) {
	l.size(len(x))
	if l.corner != nil {
		for i, v := range x {
			if w := along(y, i); v == v && w == w {
				l.corner[i] = l.between(v, w)
			}
		}
	}
	if l.places == 1 {
		clear(l.cell)
		l.x.addIndices(l.cell, x)
		if y != nil {
			l.y.addIndices(l.cell, y)
		}
		l.nearest(stretch)
		return
	}
	for i, s := range stretch {
		if l.instant++; s != l.stretch {
			l.stretch = s
			l.instant++
		}
		l.spread(i*l.places, x[i], along(y, i))
	}
}

func along(y []float64, i int) float64 {
	if y == nil {
		return 0
	}
	return y[i]
}

// nearest counts the stays of a point that weighs on one cell.
func (l *locator) nearest(stretch []int) {
	cells, stays := l.cell[:len(stretch)], l.stay[:len(stretch)]
	cell, last, stay := l.at, l.stretch, l.instant
	for i, s := range stretch {
		at := max(cells[i], -1)
		other := int32(0)
		if int(at-cell)|(s-last) != 0 { // one condition, which is no branch: it can't be foreseen
			other = 1
		}
		stay += other
		cell, last = at, s
		cells[i], stays[i] = at, stay
	}
	l.at, l.stretch, l.instant = cell, last, stay
}

// size makes room for so many instants.
func (l *locator) size(n int) {
	if n*l.places > cap(l.cell) {
		l.cell, l.stay = make([]int32, n*l.places), make([]int32, n*l.places)
		if l.weight != nil {
			l.weight = make([]float64, n*l.places)
		}
		if l.corner != nil {
			l.corner = make([]corner, n)
		}
	}
	l.cell, l.stay = l.cell[:n*l.places], l.stay[:n*l.places]
}

// between is where a point stands among the four breakpoints around it.
func (l *locator) between(x, y float64) corner {
	n := len(l.x.points)
	i, u := l.x.spread(x)
	j, v := l.y.spread(y)
	return corner{j*n + i, n, u, v}
}

// spread shares a point among the four breakpoints around it.
func (l *locator) spread(at int, x, y float64) {
	if l.cell[at] = -1; x != x || y != y {
		return
	}
	c := l.between(x, y)
	end := at + l.places
	for k, w := range c.weights() {
		if w == 0 {
			continue
		}
		cell := int32(c.node + k%2 + k/2*c.columns)
		if l.last[cell] != l.instant-1 {
			l.stays[cell]++
		}
		l.last[cell] = l.instant
		l.cell[at], l.stay[at], l.weight[at] = cell, l.stays[cell], w
		at++
	}
	if at < end {
		l.cell[at] = -1
	}
}

// known reports whether the axes are known at an instant.
func (s *shares) known(i int) bool { return s.cell[i*s.places] >= 0 }

// of is the places of an instant's shares.
func (s *shares) of(i int) (from, to int) {
	from = i * s.places
	for to = from; to < from+s.places && s.cell[to] >= 0; to++ {
	}
	return from, to
}

// weighs is how much the share at a place weighs.
func (s *shares) weighs(place int) float64 {
	if s.weight == nil {
		return 1
	}
	return s.weight[place]
}

// recorder is what one log adds to a grid.
type recorder struct {
	g      *Grid
	tally  []*tally     // by channel
	normal []*normalLog // by channel; nil without surfaces
}

func newRecorder(g *Grid) *recorder {
	r := &recorder{g: g}
	for range g.channels {
		r.tally = append(r.tally, newTally(g.size()))
		if g.settings.Surface {
			r.normal = append(r.normal, newNormalLog(g.size()))
		}
	}
	return r
}

// add takes those readings of a channel that are samples.
func (r *recorder) add(channel int, at *shares, time, value []float64, take []bool) {
	r.tally[channel].add(at, time, value, take)
	if r.normal == nil {
		return
	}
	for i, t := range take {
		if t && at.known(i) {
			r.normal[channel].add(time[i], at.corner[i], value[i])
		}
	}
}

// finish adds everything to the grid when the log ends.
func (r *recorder) finish() {
	for c, t := range r.tally {
		t.into(func(at int) *cell { return r.g.at(c, at) })
		if r.normal != nil {
			r.normal[c].into(r.g.channels[c].surface)
		}
	}
}

// spread is the breakpoint below v and the share of v's weight that belongs to
// the next one.
func (r *ruler) spread(v float64) (int, float64) {
	if len(r.points) == 1 {
		return 0, 0
	}
	return interp.Weights(r.points, v)
}
