package cells

import (
	"slices"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/tally"
)

// locator follows the operating point of one log through the grid. A stay is
// one unbroken time in a cell: it ends where the point leaves the cell, where
// the axes are not known, and where the log's stretch ends. Instants at which a
// channel has no new reading, or that a filter leaves out, don't end it: the
// engine was still there.
type locator struct {
	tally.Shares
	x, y    *axes.Ruler
	stretch int
	at      int32   // the cell of the last instant, where there is one
	instant int32   // number of the last one; one is left out where a stretch ends
	last    []int32 // by cell, the instant that last weighed on it
	stays   []int32 // by cell, how many there have been
}

func newLocator(g *Grid) (*locator, error) {
	x, err := axes.NewRuler(&g.x, 1)
	if err != nil {
		return nil, err
	}
	y, err := axes.NewRuler(&g.y, x.Len())
	if err != nil {
		return nil, err
	}
	l := &locator{x: x, y: y, instant: 1, last: make([]int32, g.size()), stays: make([]int32, g.size())}
	l.Places = 1
	if g.settings.Weight == Spread {
		l.Places, l.Weight = 4, []float64{}
	}
	return l, nil
}

// locate finds the shares of the instants of a frame; y is nil along a curve.
func (l *locator) locate(x, y []float64, stretch []int) {
	l.size(len(x))
	if l.Places == 1 {
		clear(l.Cell)
		l.x.AddIndices(l.Cell, x)
		if y != nil {
			l.y.AddIndices(l.Cell, y)
		}
		l.nearest(stretch)
		return
	}
	for i, s := range stretch {
		if l.instant++; s != l.stretch {
			l.stretch = s
			l.instant++
		}
		l.spread(i*l.Places, x[i], along(y, i))
	}
}

// along is a coordinate of an instant; 0 along a curve, which has only one.
func along(y []float64, i int) float64 {
	if y == nil {
		return 0
	}
	return y[i]
}

// nearest counts the stays of a point that weighs on one cell.
func (l *locator) nearest(stretch []int) {
	// All state is in local variables for the length of the frame: this loop sees every instant
	// of a log.
	cells, stays := l.Cell[:len(stretch)], l.Stay[:len(stretch)]
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
	n *= l.Places
	l.Cell, l.Stay = slices.Grow(l.Cell[:0], n)[:n], slices.Grow(l.Stay[:0], n)[:n]
	if l.Weight != nil {
		l.Weight = slices.Grow(l.Weight[:0], n)[:n]
	}
}

// spread shares a point among the four breakpoints around it.
func (l *locator) spread(at int, x, y float64) {
	if l.Cell[at] = -1; x != x || y != y {
		return
	}
	// A visit of a corner lasts as long as any weight falls on it: the point moves about within
	// the four without leaving any of them.
	i, u := l.x.Spread(x)
	j, v := l.y.Spread(y)
	end := at + l.Places
	for k, w := range [4]float64{(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v} {
		if w == 0 {
			continue
		}
		cell := int32((j+k/2)*l.x.Len() + i + k%2)
		if l.last[cell] != l.instant-1 {
			l.stays[cell]++
		}
		l.last[cell] = l.instant
		l.Cell[at], l.Stay[at], l.Weight[at] = cell, l.stays[cell], w
		at++
	}
	if at < end {
		l.Cell[at] = -1
	}
}
