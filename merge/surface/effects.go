package surface

import (
	"fmt"
	"math"
	"slices"

	"calsplice/tables"
)

// report says what was carried onto moved axes, and what that makes of it.
func (m *merging) report() {
	if m.Carried > 0 {
		m.Notes = append(m.Notes, fmt.Sprintf("%s on moved axes: one side's value plus the other side's change, interpolated; largest %s",
			tables.Plural(m.Carried, "cell"), tables.FormatValue(tables.Brief(m.largest))))
	}
	for _, c := range []*change{m.a, m.b} {
		m.reduced(c)
		m.widened(c)
	}
}

// reduced reports a change whose breakpoint was taken away: neighbouring cells
// still show a part of it, and the part of which least shows is named.
func (m *merging) reduced(c *change) {
	var found Places
	for _, e := range m.gone(c) {
		d := math.Abs(e.by)
		if loss := d - e.shown; e.ofBase && e.shown > 0 && loss > max(m.Resolution/2, 1e-9*d) {
			found.Add(loss, func() string {
				return fmt.Sprintf("the change of %s at %s is reduced to at most %s, because its breakpoint was removed", Signed(tables.Brief(e.by)),
					m.to.Where(e.at), tables.FormatValue(tables.Brief(e.shown)))
			})
		}
	}
	m.Effects = append(m.Effects, found.Worst()...)
}

// widened says where a change reaches further than its edit did: a breakpoint
// beside the edit is gone, and between those that are left the change fades away
// over a longer way. The surfaces are bilinear, so the largest such change stands
// on a breakpoint of one of them.
func (m *merging) widened(c *change) {
	// What the merged table does of this change: its part at the merged cells, and
	// between them what a bilinear surface makes of that.
	kept := slices.Clone(c.atMerged)
	for i := range kept {
		if c == m.b && (m.clash[i] || m.asked.Find(m.to.At(i)) < 0) {
			kept[i] = 0 // ours is there
		}
	}
	now := readAll(c.d.Axes(), surfaceOf(m.to, kept, 0))[0]
	largest := slices.Max(sizesOf(c.d).Values())
	low, high := tables.Coordinates{math.Inf(1), math.Inf(1)}, tables.Coordinates{math.Inf(-1), math.Inf(-1)}
	var at tables.Coordinates
	worst := 0.0
	for i, d := range c.d.Values() {
		more := now[i] - d
		// Reduced is told elsewhere; here only what grew.
		if math.Abs(now[i]) <= math.Abs(d) || !(math.Abs(more) > max(m.Resolution/2, 1e-9*largest)) {
			continue
		}
		p := c.d.Axes().At(i)
		for k, v := range p {
			low[k], high[k] = min(low[k], v), max(high[k], v)
		}
		if math.Abs(more) > math.Abs(worst) {
			worst, at = more, p
		}
	}
	if worst != 0 {
		m.Effects = append(m.Effects, fmt.Sprintf("a change reaches further than its edit did, since a breakpoint beside it is gone: %s, %s at most, at %s",
			reach(m.to, low, high), Signed(tables.Brief(worst)), m.to.Where(at)))
	}
}

// reach is a part of a table in axis units, to the breakpoints around it.
func reach(on tables.Axes, low, high tables.Coordinates) string {
	return on.Words(func(k int, axis *tables.Axis) string {
		from, to := around(axis, low[k]), around(axis, high[k])
		return tables.FormatValue(axis.At(from[0])) + "–" + tables.FormatValue(axis.At(to[len(to)-1]))
	})
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
