package surface

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
)

func (m *merging) coordinates(at [2]float64) string {
	return Coordinates(&tables.Fields{X: m.X, Y: m.Y}, at)
}

// reduced reports a change whose breakpoint was taken away: neighbouring cells
// still show a part of it, and the part of which least shows is named.
func (m *merging) reduced(c *change) {
	var found Places
	m.gone(c, func(x, y float64, k int, edited bool) {
		_, ofBase := m.o.at(x, y)
		d := math.Abs(c.d.values[k])
		if loss := d - c.shown[k]; ofBase && edited && c.shown[k] > 0 && loss > max(m.Resolution/2, 1e-9*d) {
			found.Add(loss, func() string {
				return fmt.Sprintf("the change of %s at %s is reduced to at most %s, because its breakpoint was removed", Signed(tables.Brief(c.d.values[k])),
					m.coordinates([2]float64{x, y}), tables.FormatValue(tables.Brief(c.shown[k])))
			})
		}
	})
	m.Effects = append(m.Effects, found.Worst()...)
}

// widened says where a change reaches further than its edit did: a breakpoint
// beside the edit is gone, and between those that are left the change fades away
// over a longer way. The surfaces are bilinear, so the largest such change stands
// on a breakpoint of one of them.
func (m *merging) widened(c *change) {
	// What the merged table does of this change: its part at the merged nodes, and
	// between them what a bilinear surface makes of that.
	kept := grid{m.p.x, m.p.y, slices.Clone(c.atP)}
	for i := range kept.values {
		x, y := kept.node(i)
		if c == m.b && (m.clash[[2]float64{x, y}] || has(m.keepX, x) || has(m.keepY, y)) {
			kept.values[i] = 0 // ours is there
		}
	}
	now, err := kept.lay(c.d.x, c.d.y)
	if err != nil {
		return
	}
	largest := 0.0
	for _, d := range c.d.values {
		largest = max(largest, math.Abs(d))
	}
	low, high := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	var at [2]float64
	worst := 0.0
	for i, d := range c.d.values {
		more := now[i] - d
		// Reduced is told elsewhere; here only what grew.
		if math.Abs(now[i]) <= math.Abs(d) || !(math.Abs(more) > max(m.Resolution/2, 1e-9*largest)) {
			continue
		}
		x, y := c.d.node(i)
		low, high = [2]float64{min(low[0], x), min(low[1], y)}, [2]float64{max(high[0], x), max(high[1], y)}
		if math.Abs(more) > math.Abs(worst) {
			worst, at = more, [2]float64{x, y}
		}
	}
	if worst != 0 {
		m.Effects = append(m.Effects, fmt.Sprintf("a change reaches further than its edit did, since a breakpoint beside it is gone: %s, %s at most, at %s",
			m.reach(low, high), Signed(tables.Brief(worst)), m.coordinates(at)))
	}
}

// reach is a part of the table in axis units, to the merged breakpoints around
// it.
func (m *merging) reach(low, high [2]float64) string {
	var parts []string
	for k, a := range []*tables.Axis{m.X, m.Y} {
		if a == nil {
			continue
		}
		points := [][]float64{m.p.x, m.p.y}[k]
		from, to := around(points, low[k]), around(points, high[k])
		parts = append(parts, strings.TrimSpace(fmt.Sprintf("%s %s–%s %s", a.Quantity(),
			tables.FormatValue(points[from[0]]), tables.FormatValue(points[to[len(to)-1]]), a.Unit())))
	}
	return strings.Join(parts, ", ")
}

// Signed is a change with its sign: "+ 2", "− 1.5".
func Signed(v float64) string {
	if v < 0 {
		return "− " + tables.FormatValue(-v)
	}
	return "+ " + tables.FormatValue(v)
}

// Places counts where one thing happens, and names the place where it is worst:
// a person looks there first, and a list of all would hide it.
type Places struct {
	n     int
	worst float64
	text  func() string
}

// Add counts a place; text describes it, should it be the worst. Of equal ones
// the first is.
func (p *Places) Add(size float64, text func() string) {
	if p.n++; p.n == 1 || size > p.worst {
		p.worst, p.text = size, text
	}
}

// Worst is the sentence about the worst place with how many others there are;
// none where there is no place.
func (p *Places) Worst() []string {
	switch p.n {
	case 0:
		return nil
	case 1:
		return []string{p.text()}
	case 2:
		return []string{p.text() + "; and at one more place"}
	}
	return []string{fmt.Sprintf("%s; and at %d more places", p.text(), p.n-1)}
}
