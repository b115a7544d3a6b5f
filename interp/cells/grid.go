package cells

import (
	"fmt"
	"slices"

	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Weight is how a sample is shared among breakpoints.
type Weight int

// The ways to weigh a sample. Each sample goes whole to the nearest
// breakpoints, or is spread over its four neighbours by bilinear weight; then
// a cell's count is a sum of weights.
const (
	Nearest Weight = iota
	Spread
)

// ParseWeight reads the name of a way to weigh samples.
func ParseWeight(s string) (Weight, error) {
	for _, w := range []Weight{Nearest, Spread} {
		if s == w.String() {
			return w, nil
		}
	}
	return 0, fmt.Errorf("weight is %s, want nearest or spread", tables.Quote(s))
}

func (w Weight) String() string { return [...]string{"nearest", "spread"}[w] }

// Grid is the evidence of some channels in the cells of one pair of axes. It
// is what [Gather] fills, [Grid.Document] writes down and [FromDocument] reads
// back.
type Grid struct {
	settings settings
	x, y     *Axis // y is nil along a curve
	channels []channel
	sources  []tables.Source
	logs     []LogID
}

type channel struct {
	name, unit string
	cells      []*cell // row after row; nil where no sample came
	surface    *normal // nil where none is asked for
}

func (g *Grid) columns() int { return g.x.Len() }

func (g *Grid) size() int {
	if g.y == nil {
		return g.x.Len()
	}
	return g.x.Len() * g.y.Len()
}

// newGrid is an empty grid of the same question as g: one log's part.
func newGrid(set settings, x, y *Axis, values []string) *Grid {
	g := &Grid{settings: set, x: x, y: y}
	for _, v := range values {
		g.channels = append(g.channels, channel{name: v, unit: drivelog.ChannelUnit(v)})
	}
	for i := range g.channels {
		g.channels[i].cells = make([]*cell, g.size())
		if set.Surface {
			g.channels[i].surface = newNormal(g.size())
		}
	}
	return g
}

// merge adds the evidence of another grid of the same question.
func (g *Grid) merge(o *Grid) {
	for i := range g.channels {
		for j, c := range o.channels[i].cells {
			if c != nil {
				g.at(i, j).merge(c)
			}
		}
		if s := o.channels[i].surface; s != nil {
			g.channels[i].surface.merge(s)
		}
	}
	g.sources = append(g.sources, o.sources...)
	g.logs = append(g.logs, o.logs...)
}

// at is a cell, made where there was none.
func (g *Grid) at(channel, i int) *cell {
	p := &g.channels[channel].cells[i]
	if *p == nil {
		*p = new(cell)
	}
	return *p
}

// tracker follows the operating point of one log through the grid. A visit is
// one unbroken stay in a cell: it ends where the point leaves the cell, where
// the axes are not known, and where the log's stretch ends. Instants at which a
// channel has no new reading, or that a filter leaves out, don't end it: the
// engine was still there.
type tracker struct {
	g       *Grid
	x, y    *ruler
	stretch int
	now     float64
	corner  corner       // of the operating point, for surfaces
	normal  []*normalLog // by channel; nil without surfaces
	here    []share      // the cells that the operating point weighs on
	open    []stay       // one for each cell of here, or of the instants before it
	visits  []*visits    // by channel
	tally   []*tally     // by channel
}

// share is a cell and the weight that the operating point gives it.
type share struct {
	cell   int
	weight float64
}

// stay is a cell that has not been left, and the visit of each channel.
type stay struct {
	cell   int
	visits []visit
}

// samples are some of one channel, each weighing whole on one cell.
type samples struct {
	cell  []int32
	stay  []int32 // the same number where the operating point did not leave the cell in between
	time  []float64
	value []float64
}

func newTracker(g *Grid) (*tracker, error) {
	x, err := newRuler(g.x, g.unitOf(g.x), 1)
	if err != nil {
		return nil, err
	}
	y, err := newRuler(g.y, g.unitOf(g.y), len(x.points))
	if err != nil {
		return nil, err
	}
	t := &tracker{g: g, x: x, y: y, here: make([]share, 0, 4)}
	for range g.channels {
		t.visits = append(t.visits, newVisits(g.size()))
		t.tally = append(t.tally, newTally(g.size()))
		if g.settings.Surface {
			t.normal = append(t.normal, newNormalLog(g.size()))
		}
	}
	return t, nil
}

func (g *Grid) unitOf(a *Axis) string {
	if a == nil {
		return ""
	}
	return drivelog.ChannelUnit(a.Channel)
}

// move sets the operating point. Where it is not known (NaN) there is none.
func (t *tracker) move(now, x, y float64, stretch int) {
	t.now = now
	if stretch != t.stretch {
		t.leave()
		t.stretch = stretch
	}
	if x != x || y != y {
		t.leave()
		return
	}
	if t.normal != nil {
		i, u := t.x.spread(x)
		j, v := t.y.spread(y)
		t.corner = corner{j*len(t.x.points) + i, len(t.x.points), u, v}
	}
	if t.g.settings.weight == Nearest {
		t.moveNearest(x, y)
	} else {
		t.moveSpread(x, y)
	}
}

func (t *tracker) moveNearest(x, y float64) {
	at := t.y.index(y) + t.x.index(x)
	if len(t.here) == 1 && t.here[0].cell == at {
		return
	}
	t.leave()
	t.here = append(t.here, share{at, 1})
	t.enter(at)
}

func (t *tracker) moveSpread(x, y float64) {
	i, u := t.x.spread(x)
	j, v := t.y.spread(y)
	nx := len(t.x.points)
	t.here = t.here[:0]
	for _, s := range [4]share{{j*nx + i, (1 - u) * (1 - v)}, {j*nx + i + 1, u * (1 - v)},
		{(j+1)*nx + i, (1 - u) * v}, {(j+1)*nx + i + 1, u * v}} {
		if s.weight > 0 {
			t.here = append(t.here, s)
		}
	}
	for k := len(t.open) - 1; k >= 0; k-- {
		if !slices.ContainsFunc(t.here, func(s share) bool { return s.cell == t.open[k].cell }) {
			t.close(k)
		}
	}
	for k, s := range t.here { // open[k] is here[k]'s stay
		at := slices.IndexFunc(t.open, func(o stay) bool { return o.cell == s.cell })
		if at < 0 {
			t.enter(s.cell)
			at = len(t.open) - 1
		}
		t.open[k], t.open[at] = t.open[at], t.open[k]
	}
}

func (t *tracker) enter(at int) {
	n := len(t.open)
	if n == cap(t.open) {
		t.open = slices.Grow(t.open, 4)
	}
	t.open = t.open[:n+1]
	if t.open[n].visits == nil {
		t.open[n].visits = make([]visit, len(t.g.channels))
	}
	t.open[n].cell = at
}

// close ends the k-th stay.
func (t *tracker) close(k int) {
	s := t.open[k]
	for i := range s.visits {
		t.visits[i].over(int32(s.cell), s.visits[i])
		s.visits[i] = visit{}
	}
	last := len(t.open) - 1
	t.open[k], t.open[last] = t.open[last], s
	t.open = t.open[:last]
}

// finish ends what is open when the log ends, and adds everything to the grid.
func (t *tracker) finish() {
	t.leave()
	for i, n := range t.normal {
		n.into(t.g.channels[i].surface)
	}
	for i, v := range t.visits {
		v.finish(func(at int) *cell { return t.g.at(i, at) })
		t.tally[i].into(t.g.channels[i].cells)
	}
}

// leave ends every stay.
func (t *tracker) leave() {
	for len(t.open) > 0 {
		t.close(len(t.open) - 1)
	}
	t.here = t.here[:0]
}

// add takes a sample of a channel at the operating point.
func (t *tracker) add(channel int, v float64) {
	v += 0 // −0 is 0
	if t.normal != nil {
		t.normal[channel].add(t.now, t.corner, v)
	}
	visits := t.visits[channel]
	for k, s := range t.here {
		t.open[k].visits[channel].add(t.now, visits.above(s.cell, v), s.weight)
		t.tally[channel].addWeighted(s.cell, v, s.weight)
	}
}

// follow takes samples of one channel. It is what move and add do, for many
// instants at once.
func (t *tracker) follow(channel int, s samples) {
	t.visits[channel].add(s)
	t.tally[channel].add(s.cell, s.value)
}
