package propose

import (
	"math"

	"calsplice/interp/cells/tally"
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

// onto gathers a drive's trims onto the target's cells, as interp/cells gathers samples: a
// visit, one unbroken stay in a cell, is one piece of evidence however long it lasts, and
// visits that follow each other closely are less than one each.
func (d *settled) onto(p *placer) *grid {
	at := tally.Shares{Places: 1}
	var time, value []float64
	var take []bool
	limited := make([]float64, len(p.target.Values()))
	stay, was, run := int32(0), -1, -1
	for i := range d.blocks {
		b := &d.blocks[i]
		cell := p.cell(&b.at)
		if cell != was || b.run != run {
			stay, was, run = stay+1, cell, b.run
		}
		at.Cell, at.Stay, at.Weight = append(at.Cell, int32(cell)), append(at.Stay, stay), append(at.Weight, b.n)
		time, value, take = append(time, b.time), append(value, 100*b.trim), append(take, !b.out)
		if !b.out && cell >= 0 {
			limited[cell] += b.limited
		}
	}
	log, cells := tally.New(len(limited)), make([]*tally.Cell, len(limited))
	log.Add(&at, time, value, take)
	log.Into(func(at int) *tally.Cell {
		cells[at] = &tally.Cell{}
		return cells[at]
	})
	g := &grid{channel: d.kind.channel.Name(), unit: "%"}
	for i, se := range tally.Errors(cells) {
		e := noEvidence()
		if s := cells[i].Statistics(false, se); s[0] > 0 {
			e.count, e.visits, e.mean, e.se, e.atLimit = int(s[0]), int(s[1]), s[2], se, limited[i]/s[0]
		}
		g.cells = append(g.cells, e)
	}
	return g
}
