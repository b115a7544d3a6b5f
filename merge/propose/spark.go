package propose

import (
	"fmt"
	"slices"

	"calsplice/interp"
	"calsplice/interp/cells"
	"calsplice/interp/cells/sift"
	"calsplice/interp/drive"
	"calsplice/tables"
)

// What became of a cell of the spark table. Each names what would change it: another
// drive, fuel first, or nothing, because a neighbour's edit is enough.
const (
	NotPersistent = "no persistent knock"
	AfterLift     = "only after lifting the throttle"
	Lean          = "mixture lean by more than 3 %: fix fuel first"
	NoAdvance     = "cannot retard further: less than one step, or at the table's limit"
	Decaying      = "retard only decays here"
	Unplaced      = "knock was heard on the way, perhaps not here"
	Elsewhere     = "its neighbours' edits take the knock away"
)

// From what on retard asks for something.
const (
	noiseFloor = 1.0         // degrees: below it now and then is sensor noise (common practice, no source)
	meanFloor  = 0.2         // degrees of mean retard below which no knock is persistent
	inspect    = 5.0         // degrees of one event at high load that are always told
	leanMost   = 0.03 + 1e-9 // share; a lambda of 1.03 is not more, whatever its double
)

// sparkFromCells takes advance away where the averages show persistent knock.
// Averages do not tell an event from its decay, nor a blip after lifting the
// throttle from knock: the report says so.
func (in *Input) sparkFromCells(target *tables.Table) (*Report, error) {
	doc, err := in.averages()
	if err != nil {
		return nil, err
	}
	g, err := in.grid(doc, target, "knock_retard")
	if err != nil {
		return nil, err
	}
	g.leanness(doc, target)
	r := newSparkReport(target)
	r.filtered(doc)
	r.Notes = append(g.notes, "cells alone do not tell knock from its decay or from blips after lifting the throttle: a log does")
	for i := range g.cells {
		r.Cells = append(r.Cells, judgeSpark(target, i, g, &in.Options))
	}
	single(r, target, g)
	return r, nil
}

// filtered warns of averages of retard that filters of trims went over: most knock is
// heard where the loop is open or the engine speeds up, and nobody sees in the cells that
// this is gone.
func (r *Report) filtered(doc *tables.Calibration) {
	asked, _ := cells.Asked(doc)
	asked = slices.DeleteFunc(asked, func(f sift.Filter) bool { return f == sift.Warm || f == sift.Overrun })
	if len(asked) > 0 {
		r.Cautions = append(r.Cautions, fmt.Sprintf("the cells were gathered with the filters %s, which leave knock out at full load and as the engine speeds up; gather retard without them, or give the drive log",
			filterNames(asked)))
	}
}

// newSparkReport is a report without its cells.
func newSparkReport(target *tables.Table) *Report {
	return &Report{Command: "propose spark", Target: target.ID(), Unit: target.Unit(), Evidence: drive.Retard.Name(), In: "deg", title: "Spark from knock retard"}
}

// sparkTarget is the spark table that is named, or the only one.
func sparkTarget(cal *tables.Calibration, id string) (*tables.Table, error) {
	return targetOf(cal, id, "advance is taken away in spark.advance", tables.SparkAdvance)
}

// leanness is the share by which each cell runs lean, from whatever the cells
// document has: a wideband lambda first, else mixture_error, else the trim.
func (g *grid) leanness(cells *tables.Calibration, target *tables.Table) {
	means := func(channels ...string) []Evidence {
		m, err := readGrid(cells, target, channels...)
		if err != nil {
			return nil
		}
		return m.cells
	}
	if lambda, commanded := means("lambda"), means("lambda_commanded"); lambda != nil {
		for i, e := range lambda {
			want := tables.Number(1)
			if commanded != nil && commanded[i].Mean.Known() {
				want = commanded[i].Mean
			}
			g.lean = append(g.lean, float64(e.Mean/want-1))
		}
		return
	}
	for _, e := range means("mixture_error", "trim") {
		g.lean = append(g.lean, float64(e.Mean/100))
	}
}

// finishSpark keeps the fallback below the edited table, and says what to do
// before and after applying.
func (r *Report) finishSpark(cal *tables.Calibration, target *tables.Table) error {
	if err := r.fallback(cal, target); err != nil {
		return err
	}
	if slices.ContainsFunc(r.Cells, func(c Cell) bool { return c.Verdict == Proposed }) {
		r.Next = append(r.Next,
			"before applying, check what makes an engine knock: the fuel's octane rating and age, intake air and coolant temperature, carbon and oil in the chamber, and the knock sensor's own noise",
			"after applying, drive the same road in the same weather and compare: calsplice diff of the two drives' cells")
	}
	return nil
}

// judgeSpark decides a cell of the spark table. It takes the p95 for what the cell needs:
// a mean is diluted by all the time in which nothing was heard, and a maximum may be one
// blip.
func judgeSpark(target *tables.Table, i int, g *grid, opt *Options) Cell {
	c := cellOf(target, i, g.cells[i])
	c.AtLimit = 0
	worst, mean := float64(c.P95), float64(c.Mean)
	if !c.P95.Known() { // cells that were made elsewhere may have none
		worst = mean
	}
	switch {
	case c.Count == 0:
		c.Verdict = NoSamples
	case !(worst > noiseFloor && mean > meanFloor):
		c.Verdict = NotPersistent
	case c.Count < opt.MinCount:
		c.Verdict = FewSamples
	case c.Visits < max(2, opt.MinVisits):
		c.Verdict = FewVisits
	case at(g.lean, i) > leanMost:
		c.Verdict = Lean
	default:
		c.To, c.Verdict = retarded(target, c.From, min(worst*opt.Gain, opt.Bound))
	}
	return c
}

// retarded is a cell with advance taken away: rounded towards what it was, within the
// limits, never more advance. It gives at most what was asked for, for a retard too little
// is found by the next drive, and one too much by nobody.
func retarded(t *tables.Table, from, degrees float64) (float64, string) {
	least := from - degrees
	to := settle(t, from, least, func(v float64) bool { return v < from && v >= least-float64(1e-9*t.Resolution()) })
	if to == from {
		return from, NoAdvance
	}
	return to, Proposed
}

// single tells every event of 5° or more at high load: whatever its average,
// it asks for an inspection.
func single(r *Report, target *tables.Table, g *grid) {
	for i, e := range g.cells {
		if e.Count > 0 && e.max >= inspect && highLoad(target, i) {
			c := r.Cells[i]
			r.First = append(r.First, fmt.Sprintf("stop, inspect: knock took %s deg away at high load in cell [%d, %d], %s",
				tables.FormatValue(e.max), c.At[0], c.At[1], target.Where(i)))
		}
	}
}

// highLoad reports whether a cell lies in the upper half of the table's load
// axis; a table without one has no low load to speak of.
func highLoad(t *tables.Table, i int) bool {
	for _, a := range slices.Backward(axesOf(t, i)) {
		switch along(a.Axis) {
		case drive.Charge.Name(), drive.Load.Name(), drive.Manifold.Name(), drive.AirFlow.Name():
			return a.At(a.at) >= (a.At(0)+a.At(a.Len()-1))/2
		}
	}
	return true
}

// fallback lowers the fallback table where the new advance would fall below
// it: what a controller blends towards when it hears knock must not have more.
func (r *Report) fallback(cal *tables.Calibration, target *tables.Table) error {
	// Without an edit nothing is touched; with one the whole fallback is held to the table as
	// edited, for a controller blends over all of it.
	if !r.changes() {
		return nil
	}
	values := make([]float64, len(r.Cells))
	for i, c := range r.Cells {
		values[i] = c.To
	}
	advance, err := target.WithValues(values)
	if err != nil {
		return err
	}
	for _, t := range cal.ByRole(tables.SparkFallback) {
		most, err := interp.LayOn(advance, t)
		if err != nil {
			r.Cautions = append(r.Cautions, fmt.Sprintf("table %s could not be compared with %s: see that it nowhere has more advance (%v)", t.ID(), target.ID(), err))
			continue
		}
		for i, v := range t.Values() {
			if !(v > most[i]) {
				continue
			}
			c := cellOf(t, i, noEvidence())
			c.To, c.Verdict, c.Note = min(v, t.Clamp(roundedDown(t, most[i]))), Inferred, "lowered so that it nowhere has more advance than "+target.ID()
			if c.To > most[i] {
				c.Note = "held at the table's limit"
				r.Cautions = append(r.Cautions, fmt.Sprintf("%s [%d, %d], %s, keeps %s deg, more advance than %s there: the limits of %s allow no less",
					t.ID(), c.At[0], c.At[1], t.Where(i), tables.FormatValue(c.To), target.ID(), t.ID()))
			}
			if c.changed() {
				r.Cells = append(r.Cells, c)
			}
		}
	}
	return nil
}

// roundedDown is a value in steps of the table: half a step too much is advance that an
// edit took away.
func roundedDown(t *tables.Table, v float64) float64 {
	if down := t.Round(v); down <= v {
		return down
	}
	return t.Round(v - t.Resolution())
}
