package interp

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"calsplice/tables"
)

// Weight says how much a loss at a place counts; nil is 1 everywhere.
type Weight func(x, y float64) float64

// Place chooses where n breakpoints of an axis, x by 0 or y by 1, stand so that the largest
// difference between the sampled new surface and the old one is smallest, and
// keeps the axis's ends. other is the new axis across it, or the old one.
//
// The candidates are the old breakpoints and the quarters between them. Over a
// stretch between two chosen ones the new surface is linear, so its difference
// from the old surface stands at the old breakpoints within, or at the ends
// where a value was rounded; the largest of all stretches is made smallest by
// dynamic programming. So no choice of n old breakpoints, nor of n candidates, is
// better. Among equals the one with more old breakpoints is taken.
func Place(t *tables.Table, along, n int, other *tables.Axis, w Weight) (*tables.Axis, error) {
	own, name := t.Axes()[along], "xy"[along:along+1]
	switch {
	case own == nil:
		return nil, fmt.Errorf("table %s has no %s axis", t.ID(), name)
	case n > own.Len():
		return nil, fmt.Errorf("%s of table %s has %s: %d would be more, expected at most as many", name, t.ID(), tables.Plural(own.Len(), "breakpoint"), n)
	case n < min(2, own.Len()):
		return nil, fmt.Errorf("%d %s for %s of table %s, expected 2 at least: the ends stay", n, map[bool]string{true: "breakpoint", false: "breakpoints"}[n == 1], name, t.ID())
	case slices.ContainsFunc(t.Values(), math.IsNaN):
		return nil, errors.New("table " + t.ID() + " has empty cells, and breakpoints are placed where every cell has a value")
	}
	return own.WithPoints(newChords(t, other, along, w).best(n))
}

// chords are an old surface along an axis, on every line across it where the new one
// may bend, and the points between which the new one may be straight.
type chords struct {
	knots  []float64   // the old breakpoints
	old    [][]float64 // by knot, then by line
	weight [][]float64 // likewise; nil is 1 everywhere
	points []float64
	fresh  [][]float64 // by point: what the new surface has on its lines
	ends   []float64   // by point: the most that rounding there costs, weighted
}

// quarters are the candidates between two old breakpoints.
const quarters = 4

// candidates are the breakpoints, and the quarters between them.
func candidates(knots []float64) (list []float64) {
	for i, v := range knots {
		for q := 1; q < quarters && i > 0; q++ {
			if c := knots[i-1] + float64(float64(q)/quarters*(v-knots[i-1])); c > list[len(list)-1] && c < v {
				list = append(list, c)
			}
		}
		list = append(list, v)
	}
	return list
}

// newChords reads the table at all breakpoints and candidates, on every line across the axis
// where the old or the new surface bends: between those lines both are linear, and so is
// their difference.
func newChords(t *tables.Table, other *tables.Axis, along int, w Weight) *chords {
	own, across := t.Axes()[along], t.Axes()[1-along]
	p := &chords{knots: own.Points(), points: candidates(own.Points())}
	turned := func(f func(x, y float64) float64) func(v, line float64) float64 {
		return func(v, line float64) float64 {
			p := [2]float64{v, line}
			return f(p[along], p[1-along])
		}
	}
	at, weigh := turned(NewSurface(t).At), func(v, line float64) float64 { return 1 }
	if w != nil {
		weigh = turned(w)
	}
	nodes, lines := []float64{0}, []float64{0}
	if across != nil {
		nodes = other.Points()
		lines = slices.Compact(slices.Sorted(slices.Values(slices.Concat(across.Points(), nodes))))
	}
	on := func(points []float64, value func(v, line float64) float64) (rows [][]float64) {
		for _, v := range points {
			row := make([]float64, len(lines))
			for i, line := range lines {
				row[i] = value(v, line)
			}
			rows = append(rows, row)
		}
		return rows
	}
	p.old, p.weight = on(p.knots, at), on(p.knots, weigh)
	p.fresh = on(p.points, func(v, line float64) float64 {
		i, u := Weights(nodes, line)
		stored := func(node float64) float64 {
			value := at(v, node)
			if own.Find(v) >= 0 && (across == nil || across.Find(node) >= 0) {
				return value // a breakpoint that stays keeps its value
			}
			return t.Clamp(t.Round(value))
		}
		if u == 0 {
			return stored(nodes[i])
		}
		a, b := stored(nodes[i]), stored(nodes[i+1])
		return a + float64(u*(b-a))
	})
	p.ends = make([]float64, len(p.points))
	for c, v := range p.points {
		for i, line := range lines {
			p.ends[c] = max(p.ends[c], math.Abs(at(v, line)-p.fresh[c][i])*weigh(v, line))
		}
	}
	return p
}

// cost is the largest weighted difference over the stretch from one point to another,
// its ends within. Before the first point, −1, and behind the last the new surface is
// held.
func (p *chords) cost(from, to int) float64 {
	a, b := from, to
	switch first, past := from < 0, to == len(p.points); {
	case first && past:
		return math.Inf(1) // no point at all
	case first:
		a = to
	case past:
		b = from
	}
	worst := max(p.ends[a], p.ends[b])
	for k, v := range p.knots {
		if from >= 0 && v <= p.points[a] || to < len(p.points) && v >= p.points[b] {
			continue
		}
		u := 0.0
		if a != b {
			u = share(v, p.points[a], p.points[b])
		}
		for i, old := range p.old[k] {
			d := math.Abs(mix(p.fresh[a][i], p.fresh[b][i], u) - old)
			if p.weight != nil {
				d *= p.weight[k][i]
			}
			if d > worst { // an empty cell has no say
				worst = d
			}
		}
	}
	return worst
}

// best is the choice of n candidates, the first and the last among them, whose
// largest cost of a stretch is smallest.
func (p *chords) best(n int) []float64 {
	if n == 1 {
		return p.points[:1]
	}
	c := chains{points: make([]waypoint, len(p.points)), most: n, gap: p.cost}
	for i, v := range p.points {
		c.points[i].counts = 1
		if _, old := slices.BinarySearch(p.knots, v); !old {
			c.points[i].worse = 1
		}
	}
	c.solve()
	var points []float64
	at, _ := c.chain(n)
	for _, i := range at {
		points = append(points, p.points[i])
	}
	return points
}
