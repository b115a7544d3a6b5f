package propose

import (
	"math"

	"calsplice/interp/lookup"
	"calsplice/tables"
)

// placer finds the cell of the target that a block belongs to: the nearest, as a
// controller that learns by cells has it, and as interp/cells counts samples.
type placer struct {
	target *tables.Table
	bound  *lookup.Table // nil where the axis is inverted from the air flow
	x, y   []float64     // breakpoints
}

// newPlacer binds the target's axes. An air meter's own signal is no channel
// that every logger writes: there the cell follows from the air flow that the
// table made of it, as long as its values rise.
func newPlacer(t *tables.Table) (*placer, error) {
	p := &placer{target: t}
	var err error
	if p.bound, err = lookup.Bind(t); err == nil {
		if t.X() != nil {
			p.x = pointsOf(t.X())
		}
		if t.Y() != nil {
			p.y = pointsOf(t.Y())
		}
		return p, nil
	}
	if t.Role() != tables.AirMeter || t.X() == nil || t.Y() != nil || !rising(t.Values()) {
		return nil, err
	}
	c, err2 := lookup.Base(t.Unit())
	if err2 != nil {
		return nil, err
	}
	// The meter's curve read backwards: the air flow that the log has came out of it.
	p.bound = nil
	for _, v := range t.Values() {
		p.x = append(p.x, c.Apply(v))
	}
	return p, nil
}

// rising reports whether values can be inverted.
func rising(v []float64) bool {
	for i := 1; i < len(v); i++ {
		if !(v[i-1] < v[i]) {
			return false
		}
	}
	return true
}

// cell is the index of the nearest cell, halfway the higher one; −1 where the
// point does not say.
func (p *placer) cell(at *lookup.Point) int {
	x, y := at.AirFlow, 0.0
	if p.bound != nil {
		x, y = p.bound.XY(at)
	}
	if math.IsNaN(x) || math.IsNaN(y) {
		return -1
	}
	return nearestOf(p.y, y)*p.target.Columns() + nearestOf(p.x, x)
}

// nearestOf is the nearest breakpoint; halfway is the higher one's, as interp/cells has
// it, so that a proposal from a log and one from its cells speak of the same cell.
func nearestOf(points []float64, v float64) int {
	i := 0
	for i+1 < len(points) && v >= points[i]+(points[i+1]-points[i])/2 {
		i++
	}
	return i
}

// along is an axis of a table, and where a cell lies on it.
type along struct {
	*tables.Axis
	at int
}

// axesOf are those that a table has, with the place of a cell on each.
func axesOf(t *tables.Table, cell int) (list []along) {
	for _, a := range []along{{t.X(), cell % t.Columns()}, {t.Y(), cell / t.Columns()}} {
		if a.Axis != nil {
			list = append(list, a)
		}
	}
	return list
}

// visits are the separate stays in one cell, each with its samples and their sum.
type visits struct {
	list  []struct{ n, sum float64 }
	last  int     // the number of the last of them
	limit float64 // samples at which a trim stood at its limit
}

// add takes samples of a visit; visits come one after the other, numbered from 1.
func (v *visits) add(visit int, n, value float64) {
	if visit != v.last {
		v.list, v.last = append(v.list, struct{ n, sum float64 }{}), visit
	}
	r := &v.list[len(v.list)-1]
	r.n += n
	r.sum += float64(n * value)
}

// evidence is a cell's mean and its standard error from visits: the linearised
// variance of a ratio of sums over clusters (Cochran, Sampling Techniques, 3rd
// edition, 1977, §6.4), as interp/cells has it.
func (v *visits) evidence() evidence {
	e := noEvidence()
	n, sum := 0.0, 0.0
	for _, r := range v.list {
		n, sum = n+r.n, sum+r.sum
	}
	if n == 0 {
		return e
	}
	// A visit is one piece of evidence however long it lasts: neighbouring samples of a trim
	// say the same thing again.
	e.count, e.visits, e.mean, e.atLimit = int(n), len(v.list), sum/n, v.limit/n
	if e.visits < 2 {
		return e
	}
	square := 0.0
	for _, r := range v.list {
		d := r.sum - float64(e.mean*r.n)
		square += float64(d * d)
	}
	k := float64(e.visits)
	e.se = math.Sqrt(square*k/(k-1)) / n
	return e
}

// onto gathers a drive's trims onto the target's cells.
func (d *settled) onto(p *placer) *grid {
	cells := make([]visits, len(p.target.Values()))
	// A visit is one unbroken stay in the cell.
	visit, was, run := 0, -1, -1
	for i := range d.blocks {
		b := &d.blocks[i]
		cell := p.cell(&b.at)
		if cell != was || b.run != run {
			visit, was, run = visit+1, cell, b.run
		}
		if !b.out && cell >= 0 {
			cells[cell].add(visit, b.n, 100*b.trim)
			cells[cell].limit += b.limited
		}
	}
	g := &grid{channel: d.kind.channel.Name(), unit: "%"}
	for i := range cells {
		g.cells = append(g.cells, cells[i].evidence())
	}
	return g
}
