package propose

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/interp/cells"
	"calsplice/interp/cells/sift"
	"calsplice/interp/drive"
	"calsplice/interp/lookup"
	"calsplice/interp/lsq"
	"calsplice/merge"
	"calsplice/tables"
)

// fuelFromCells corrects the target by cell averages of the fuel trim (or of
// mixture_error). Causes cannot be checked from cells alone, and are not.
func (in *Input) fuelFromCells() (*Report, error) {
	cal, opt := in.Cal, &in.Options
	cells, err := in.averages()
	if err != nil {
		return nil, err
	}
	target, s, err := fuelTarget(cal, opt.Target)
	if err != nil {
		return nil, err
	}
	g, err := in.grid(cells, target, "trim", "mixture_error", "trim_1")
	if err != nil {
		return nil, err
	}
	// Cells of a wideband sensor stand in where trims do not reach, as from a log.
	if g.channel == "trim" {
		if lambda, err := readGrid(cells, target, "mixture_error"); err == nil {
			g.fill(lambda, opt)
		}
	}
	r := newFuelReport(target, "cells")
	if opt.RailPressure != 0 {
		r.First = append(r.First, "--rail-pressure is not used: what it explains of the trims is not to be seen in cells; give the drive log")
	}
	if g.channel != "mixture_error" { // which a wideband sensor also reads in an open loop
		r.notFiltered(cells)
	}
	r.byCells(target, s, g, opt)
	r.FullLoad = nominalFullLoad(cal, target, r.Cells, s)
	if s == multiply {
		r.Notes.Add(shifts(cal, target, r.Cells, breakpoints(cal, target))...)
	}
	for i := range r.Cells {
		if c := &r.Cells[i]; c.Verdict == FewVisits && c.Count >= 10*opt.MinCount {
			r.Notes.Addf("cell [%d, %d] holds %d samples of %s: means of one long stay have no error to judge them by; give the drive log instead of its cells, which tells settled stretches apart",
				c.At[0], c.At[1], c.Count, tables.Plural(c.Visits, "visit"))
		}
	}
	r.Notes.Add("cause not checked: cell averages cannot separate causes; run calsplice explain CAL LOG before applying")
	return r, nil
}

// notFiltered warns of averages of trims that were gathered without filters which a log
// would pass: nobody sees that in the means.
func (r *Report) notFiltered(doc *tables.Calibration) {
	asked, known := cells.Asked(doc)
	missing := slices.DeleteFunc(slices.Clone(sift.Filters), func(f sift.Filter) bool { return slices.Contains(asked, f) })
	if known && len(missing) > 0 {
		r.Cautions = append(r.Cautions, fmt.Sprintf("the cells were gathered without the filters %s: cold, open-loop or unsteady samples may count here; gather them with calsplice cells --steady, or give the drive log",
			filterNames(missing)))
	}
}

// filterNames lists filters for a message.
func filterNames(list []sift.Filter) string {
	return strings.Join(tables.Each(list, func(f sift.Filter) string { return string(f) }), ", ")
}

// newFuelReport is the report of a correction by cells or by fit, without its cells.
func newFuelReport(target *tables.Table, by string) *Report {
	return &Report{Command: "propose fuel", Target: target.ID(), Unit: target.Unit(), By: by, Evidence: drive.Trim.Name(), In: "%"}
}

// byCells fills a report from evidence on the target's cells, whether those came from a log
// or from averages: judge each by itself, let a curve's other breakpoints follow, and say
// what is left.
func (r *Report) byCells(target *tables.Table, s correctionRule, g *grid, opt *Options) {
	r.Cells = judgeCells(target, s, g, opt)
	if s == divide && target.X() != nil && target.Y() == nil && !opt.OnlyVisited {
		infer(target, r.Cells, opt)
	}
	for i := range r.Cells {
		predict(&r.Cells[i], s)
	}
	r.Evidence, r.title = g.channel, cmp.Or(target.Title(), target.ID())+" from "+g.channel
	r.Notes.Add(g.notes...)
}

// judgeCells decides every cell by its own evidence. A cell that is not corrected keeps
// the evidence and gets the reason; none is left out in silence.
func judgeCells(target *tables.Table, s correctionRule, g *grid, opt *Options) []Cell {
	list := make([]Cell, len(g.cells))
	for i := range g.cells {
		c := cellOf(target, i, g.cells[i])
		c.P95 = unknown // only of retard a report says the worst
		if c.share, c.Verdict = opt.judge(&c.Evidence); c.Verdict == Proposed {
			notes := c.correct(target, s, opt)
			if c.AtLimit >= merge.CensoredShare {
				notes = append(notes, fmt.Sprintf("trim stood at its limit in %.0f %% of samples: the sign is evidence, the size a lower bound", 100*c.AtLimit))
			}
			if c.Verdict == Proposed {
				c.Note = join(append([]string{c.Note}, notes...)...)
			}
		}
		list[i] = c
	}
	return list
}

// cellOf is a cell of a table as it stands, with what drives say about it.
func cellOf(t *tables.Table, i int, e Evidence) Cell {
	from := t.Values()[i]
	return Cell{Table: t.ID(), At: [2]int{i / t.Columns(), i % t.Columns()}, Evidence: e, From: from, To: from, Note: e.note,
		Predicted: unknown, Delivered: unknown, Load: unknown, Spark: unknown}
}

// correct does what one pass does of the cell's share, and says what holds it back, for
// the next pass has to finish it.
func (c *Cell) correct(t *tables.Table, s correctionRule, opt *Options) (notes []string) {
	asked := c.share * opt.Gain
	var note string
	c.share, c.most = opt.bounded(c.share)
	c.To, c.Verdict, note = apply(t, c.From, c.share, c.most, s)
	if notes = append(notes, note); c.share != asked {
		notes = append(notes, fmt.Sprintf("held at the bound of %s %%", tables.FormatValue(100*c.most)))
	}
	return notes
}

// join is several notes as one, without those that say nothing.
func join(notes ...string) string {
	return strings.Join(slices.DeleteFunc(notes, func(s string) bool { return s == "" }), "; ")
}

// infer lets a flow curve's breakpoints without evidence follow the factor of
// the nearest breakpoint with evidence. Many controllers apply the learned trim
// at full load too: a curve corrected only where closed loop goes would take
// fuel away there once the learned trim is cleared.
func infer(target *tables.Table, list []Cell, opt *Options) {
	x := lookup.PointsOf(target.X())
	for i := range list {
		c := &list[i]
		if !undecided(c.Verdict) {
			continue
		}
		near := nearest(list, x, i)
		if near < 0 || list[near].Verdict != Proposed {
			continue
		}
		n := &list[near]
		share := n.share
		if mean := float64(c.Mean); c.Count > 0 && math.Abs(mean) > Quantum && mean*share < 0 {
			continue // what little evidence there is speaks against it
		}
		to, verdict, note := apply(target, c.From, share, n.most, divide)
		if verdict != Proposed {
			continue
		}
		c.To, c.Verdict = to, Inferred
		c.Note = join(inferredFrom(target, near), note)
	}
}

// inferredFrom notes the breakpoint that another one follows.
func inferredFrom(t *tables.Table, i int) string {
	return fmt.Sprintf("inferred from the nearest breakpoint with evidence, %s %s", tables.FormatValue(t.X().At(i)), t.X().Unit())
}

// undecided reports whether a cell's own evidence does not say what it needs.
func undecided(verdict string) bool {
	return verdict == NoSamples || verdict == FewSamples || verdict == FewVisits || verdict == Uncertain
}

// nearest is the cell with evidence that lies nearest to cell i along x, the
// higher one halfway between two; −1 where there is none.
func nearest(list []Cell, x []float64, i int) int {
	best := -1
	for j := range list {
		if undecided(list[j].Verdict) || list[j].Verdict == Inferred {
			continue
		}
		if best < 0 || asNear(x[j], x[best], x[i]) {
			best = j
		}
	}
	return best
}

// asNear reports whether a higher breakpoint lies as near to v as a lower one:
// halfway goes to the higher, also where a unit's conversion leaves a last
// digit.
func asNear(high, low, v float64) bool {
	return math.Abs(high-v) <= math.Abs(low-v)*(1+1e-9)
}

// predict tells the trim that is left in a cell, and the fuel that changes
// where there is no evidence.
func predict(c *Cell, s correctionRule) {
	c.Predicted, c.Delivered = unknown, unknown
	if !(c.From > 0) || !(c.To > 0) {
		return
	}
	ratio := tables.Number(c.To / c.From) // of the trim's base, by the algebra of the package comment
	if s == multiply {
		ratio = tables.Number(c.From / c.To)
	}
	if c.Count > 0 {
		c.Predicted = (tables.Number((1+c.Mean/100)*ratio) - 1) * 100
	}
	if c.Verdict == Inferred || c.Count == 0 {
		c.Delivered = (1/ratio - 1) * 100
	}
}

// pulseWarning says where the trims of the cells that are corrected follow the inverse of
// the pulse: that is an offset's shape, and no flow table mends it. It compares the blocks
// within each cell, so that what differs between cells, which the correction takes care
// of, does not count.
func (d *settled) pulseWarning(place *lookup.Table, list []Cell) string {
	p := &lsq.Problem{Columns: 1}
	trims, inverses := make([]drive.Mean, len(list)), make([]drive.Mean, len(list))
	for i := range d.blocks {
		if b, cell := &d.blocks[i], place.Cell(&d.blocks[i].at); cell >= 0 && b.counts() {
			trims[cell].Add(b.trim, b.n)
			inverses[cell].Add(b.inverse, b.n)
		}
	}
	low, high := math.Inf(1), math.Inf(-1) // of 1/p within the cells: what the slope acts on
	for i := range d.blocks {
		b, cell := &d.blocks[i], place.Cell(&d.blocks[i].at)
		if cell < 0 || !b.counts() || list[cell].Verdict != Proposed {
			continue
		}
		v := b.inverse - inverses[cell].Value()
		low, high = min(low, v), max(high, v)
		p.X = append(p.X, v)
		p.Y = append(p.Y, b.trim-trims[cell].Value())
		p.Weight = append(p.Weight, b.n)
		p.Cluster = append(p.Cluster, b.run)
	}
	// A slope that moves no trim by 1.5 % within a cell is no reason to fit anew.
	if len(p.Y) < 20 {
		return ""
	}
	fit, err := p.Solve(robust)
	if err != nil || !(math.Abs(fit.Coef[0]) > 4*fit.SE[0]) || math.Abs(fit.Coef[0])*(high-low) < 0.015 {
		return ""
	}
	return fmt.Sprintf("within the cells corrected here the trims follow 1/pulse, as an injector offset wrong by about %s ms would have them: --by fit corrects flow and offset together", tables.Signed(fit.Coef[0], 2))
}

// counts reports whether a block is evidence about pulses.
func (b *block) counts() bool { return !b.out && !math.IsNaN(b.inverse) }
