package cells

import (
	"errors"
	"fmt"
	"math"

	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/unit"
)

// errEdited says that a document's tables were changed after its cells were
// gathered, so that they are no longer what its exact state gives.
var errEdited = errors.New("is not what the exact state of its cells gives: it was changed after they were gathered")

// A document says everything twice: in its tables, which people read and edit, and in its
// state, which adds up exactly. Only those statistics that the state gives without a
// computation of its own are held against it; they are enough to notice an edit.

// agree holds the exact state to the document's tables, to nine digits: a spreadsheet
// keeps fifteen. It notes whether a table is in another unit than the state.
func (g *Grid) agree(doc *tables.Calibration) error {
	for _, ch := range g.channels {
		exact := make([][5]float64, len(ch.cells))
		for at, c := range ch.cells {
			if c != nil {
				exact[at] = c.Simple()
			}
		}
		for i, statistic := range []string{"count", "mean", "min", "max", "visits"} {
			t, own := doc.Table(ch.name+"."+statistic), statisticUnit(statistic, drivelog.ChannelUnit(ch.name))
			if t == nil {
				continue
			}
			to := unit.Conversion{Mul: 1, Div: 1}
			if !unit.Same(own, t.Unit()) {
				var err error
				if to, err = unit.Find(own, t.Unit()); err != nil {
					return fmt.Errorf("table %s is in %s, and its state in %s: %w", t.ID(), tables.Quote(t.Unit()), tables.Quote(own), errEdited)
				}
			}
			if !to.Identity() && g.converted == "" {
				g.converted = t.ID()
			}
			for at, is := range exact {
				if ch.cells[at] != nil && !alike(t.Values(), at, to, is, i) {
					return fmt.Errorf("table %s %w", t.ID(), errEdited)
				}
			}
		}
	}
	return nil
}

// alike holds one value of a table to the i-th of what is exact, which is in another unit.
func alike(values []float64, at int, to unit.Conversion, is [5]float64, i int) bool {
	// A mean near 0 of readings that are not is as exact as the readings are, so means and
	// extremes are compared beside the largest reading, and counts beside themselves.
	beside := is[i]
	if i > 0 && i < 4 {
		beside = max(math.Abs(is[2]), math.Abs(is[3]))
	}
	want := to.Apply(is[i])
	return at < len(values) && math.Abs(values[at]-want) <= 1e-9*max(math.Abs(want), math.Abs(to.Apply(beside)))
}
