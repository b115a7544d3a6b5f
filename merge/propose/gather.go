package propose

import (
	"calsplice/interp/cells/tally"
	"calsplice/interp/lookup"
	"calsplice/tables"
)

// placesOf binds a table for finding the cell that a block belongs to. An air meter's own
// signal is no channel that every logger writes: there the cell follows from the air flow
// that the table made of it, as long as its values rise.
func placesOf(t *tables.Table) (*lookup.Table, error) {
	bound, err := lookup.Bind(t)
	if err == nil || t.Role() != tables.AirMeter {
		return bound, err
	}
	// The meter's curve read backwards: the air flow that the log has came out of it.
	f := t.Fields()
	f.X, _ = tables.NewAxis(tables.AirFlow, t.Unit(), t.Values()) // values that do not rise are no axis, and many without one no table
	if backwards, none := tables.NewTable(f); none == nil {
		if bound, none := lookup.Bind(backwards); none == nil {
			return bound, nil
		}
	}
	return nil, err
}

// placed is an axis of a table, and where a cell lies on it.
type placed struct {
	*tables.Axis
	at int
}

// axesOf are those that a table has, with the place of a cell on each.
func axesOf(t *tables.Table, cell int) (list []placed) {
	for i, a := range t.Axes().All() {
		list = append(list, placed{a, []int{cell % t.Columns(), cell / t.Columns()}[i]})
	}
	return list
}

// onto gathers a drive's trims onto the target's cells, as interp/cells gathers samples: a
// visit, one unbroken stay in a cell, is one piece of evidence however long it lasts, and
// visits that follow each other closely are less than one each.
func (d *settled) onto(place *lookup.Table) *grid {
	n := len(d.blocks)
	at := tally.Shares{Places: 1, Cell: make([]int32, n), Stay: make([]int32, n), Weight: make([]float64, n)}
	time, value, take := make([]float64, n), make([]float64, n), make([]bool, n)
	limited := make([]float64, len(place.Table().Values()))
	stay, was, run := int32(0), -1, -1
	for i := range d.blocks {
		b := &d.blocks[i]
		cell := place.Cell(&b.at)
		if cell != was || b.run != run {
			stay, was, run = stay+1, cell, b.run
		}
		at.Cell[i], at.Stay[i], at.Weight[i] = int32(cell), stay, b.n
		time[i], value[i], take[i] = b.time, 100*b.trim, !b.out
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
			e.Count, e.Visits, e.Mean, e.SE, e.AtLimit = int(s[0]), int(s[1]), tables.Number(s[2]), tables.Number(se), limited[i]/s[0]
		}
		g.cells = append(g.cells, e)
	}
	return g
}
