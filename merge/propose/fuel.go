package propose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/interp/lookup"
	"calsplice/interp/lsq"
	"calsplice/merge"
	"calsplice/merge/caution"
	"calsplice/tables"
)

// fuelFromCells corrects the target by cell averages of the fuel trim (or of
// mixture_error). Causes cannot be checked from cells alone, and are not.
func fuelFromCells(cal, cells *tables.Calibration, opt *Options) (*Proposal, error) {
	target, s, err := fuelTarget(cal, opt.Target)
	if err != nil {
		return nil, err
	}
	g, err := readGrid(cells, target, "trim", "mixture_error", "trim_1")
	if err != nil {
		return nil, err
	}
	// Cells of a wideband sensor stand in where trims do not reach, as from a log.
	if g.channel == "trim" {
		if lambda, err := readGrid(cells, target, "mixture_error"); err == nil {
			g.fill(lambda, opt)
		}
	}
	p := fuelByCells(cal, target, s, g, opt)
	p.Report.FullLoad = nominalFullLoad(cal, target, p.Report.Cells, s)
	if s == multiply {
		p.Report.Notes = append(p.Report.Notes, shifts(cal, target, p.Report.Cells, breakpoints(cal, target))...)
	}
	for i := range p.Report.Cells {
		if c := &p.Report.Cells[i]; c.Verdict == FewVisits && c.Count >= 10*opt.MinCount {
			p.Report.Notes = append(p.Report.Notes, fmt.Sprintf("cell [%d, %d] holds %d samples of %s: means of one long stay have no error to judge them by; give the drive log instead of its cells, which tells settled stretches apart",
				c.At[0], c.At[1], c.Count, tables.Plural(c.Visits, "visit")))
		}
	}
	p.Report.Notes = append(p.Report.Notes, "cause not checked: cell averages cannot separate causes; run calsplice explain CAL LOG before applying")
	return p, nil
}

// fuelByCells is the proposal from evidence on the target's cells, whether those came from
// a log or from averages: judge each by itself, let a curve's other breakpoints follow,
// say what is left, and make the change set.
func fuelByCells(cal *tables.Calibration, target *tables.Table, s correctionRule, g *grid, opt *Options) *Proposal {
	list := judgeCells(target, s, g, opt)
	if s == divide && target.X() != nil && target.Y() == nil && !opt.OnlyVisited {
		infer(target, list, g, opt)
	}
	for i := range list {
		predict(&list[i], s)
	}
	r := Report{Command: "propose fuel", Target: target.ID(), Unit: target.Unit(), By: "cells", Evidence: g.channel, In: "%",
		Cells: list, Counts: count(list), Notes: g.notes}
	r.Within5 = within(list, func(c *Cell) float64 { return value(c.Mean) })
	r.After = within(list, func(c *Cell) float64 { return value(c.Predicted) })
	p := &Proposal{Report: r}
	p.finish(cal, fmt.Sprintf("%s from %s", titleOf(target), g.channel))
	return p
}

// titleOf is how a person calls a table.
func titleOf(t *tables.Table) string {
	if t.Title() != "" {
		return t.Title()
	}
	return t.ID()
}

// judgeCells decides every cell by its own evidence. A cell that is not corrected keeps
// the evidence and gets the reason; none is left out in silence.
func judgeCells(target *tables.Table, s correctionRule, g *grid, opt *Options) []Cell {
	list := make([]Cell, len(g.cells))
	for i := range g.cells {
		e, c := &g.cells[i], cellOf(target, i, g.cells[i])
		if c.share, c.Verdict = opt.judge(e); c.Verdict == Proposed {
			notes := c.correct(target, s, opt)
			if e.atLimit >= merge.CensoredShare {
				notes = append(notes, fmt.Sprintf("trim stood at its limit in %.0f %% of samples: the sign is evidence, the size a lower bound", 100*e.atLimit))
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
func cellOf(t *tables.Table, i int, e evidence) Cell {
	from := t.Values()[i]
	return Cell{Table: t.ID(), At: [2]int{i / t.Columns(), i % t.Columns()}, Count: e.count, Visits: e.visits,
		Mean: number(e.mean), SE: number(e.se), AtLimit: e.atLimit, From: from, To: from, Note: e.note}
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
func infer(target *tables.Table, list []Cell, g *grid, opt *Options) {
	x := pointsOf(target.X())
	for i := range list {
		c := &list[i]
		if !unknown(c.Verdict) {
			continue
		}
		near := nearest(list, x, i)
		if near < 0 || list[near].Verdict != Proposed {
			continue
		}
		n := &list[near]
		share := n.share
		if c.Count > 0 && math.Abs(g.cells[i].mean) > Quantum && g.cells[i].mean*share < 0 {
			continue // what little evidence there is speaks against it
		}
		to, verdict, note := apply(target, c.From, share, n.most, divide)
		if verdict != Proposed {
			continue
		}
		c.To, c.Verdict = to, Inferred
		c.Note = join(fmt.Sprintf("inferred from the nearest breakpoint with evidence, %s %s",
			tables.FormatValue(target.X().At(near)), target.X().Unit()), note)
	}
}

// unknown reports whether a cell's own evidence does not say what it needs.
func unknown(verdict string) bool {
	return verdict == NoSamples || verdict == FewSamples || verdict == FewVisits || verdict == Uncertain
}

// nearest is the cell with evidence that lies nearest to cell i along x, the
// higher one halfway between two; −1 where there is none.
func nearest(list []Cell, x []float64, i int) int {
	best := -1
	for j := range list {
		if unknown(list[j].Verdict) || list[j].Verdict == Inferred {
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
	if !(c.From > 0) || !(c.To > 0) {
		return
	}
	ratio := c.To / c.From // of the trim's base, by the algebra of the package comment
	if s == multiply {
		ratio = c.From / c.To
	}
	if c.Count > 0 && c.Mean != nil {
		c.Predicted = number((float64((1+*c.Mean/100)*ratio) - 1) * 100)
	}
	if c.Verdict == Inferred || c.Count == 0 {
		c.Delivered = number((1/ratio - 1) * 100)
	}
}

// finish makes the change set of a report's cells and fills in what every
// proposal says.
func (p *Proposal) finish(cal *tables.Calibration, title string) {
	r := &p.Report
	p.Changes = merge.NewChangeSet(cal, r.Command, edits(r.Cells, r.In))
	p.Changes.Title = title
	r.Edits = []Edit{}
	for _, e := range p.Changes.Edits {
		c := e.(*merge.CellEdit)
		r.Edits = append(r.Edits, Edit{c.Table, [2]int{c.Row, c.Column}, c.From, c.To})
	}
	limited := 0
	for i := range r.Cells {
		if r.Cells[i].AtLimit >= merge.CensoredShare {
			limited++
		}
	}
	if limited > 0 {
		r.Cautions = append(r.Cautions, fmt.Sprintf("%s: in %s the trim stood at its limit: its sign is evidence, its size only a lower bound; drive again after this pass",
			r.Target, tables.Plural(limited, "cell")))
	}
	// A controller adds what it has learned to the corrected table until it is told to forget.
	if r.Command == "propose fuel" && len(r.Edits) > 0 {
		r.Next = append(r.Next, "clear the learned trims and drive until they are learned anew",
			"verify the mixture at full load with a wideband sensor, before load is put on the engine")
	}
	p.copyCautions()
}

// copyCautions copies what the change set carries of the report.
func (p *Proposal) copyCautions() {
	p.Changes.Cautions = slices.Concat(p.Report.First, p.Report.Cautions, p.Report.Next, caution.Standing)
}

// pulseWarning says where the trims of the cells that are corrected follow the inverse of
// the pulse: that is an offset's shape, and no flow table mends it. It compares the blocks
// within each cell, so that what differs between cells, which the correction takes care
// of, does not count.
func (d *settled) pulseWarning(place *lookup.Table, list []Cell) string {
	p := &lsq.Problem{Columns: 1}
	type mean struct{ n, trim, inverse float64 }
	means := make([]mean, len(list))
	for i := range d.blocks {
		if b, cell := &d.blocks[i], place.Cell(&d.blocks[i].at); cell >= 0 && b.counts() {
			m := &means[cell]
			m.n, m.trim, m.inverse = m.n+b.n, m.trim+float64(b.n*b.trim), m.inverse+float64(b.n*b.inverse)
		}
	}
	low, high := math.Inf(1), math.Inf(-1) // of 1/p within the cells: what the slope acts on
	for i := range d.blocks {
		b, cell := &d.blocks[i], place.Cell(&d.blocks[i].at)
		if cell < 0 || !b.counts() || list[cell].Verdict != Proposed {
			continue
		}
		m := means[cell]
		v := b.inverse - m.inverse/m.n
		low, high = min(low, v), max(high, v)
		p.X = append(p.X, v)
		p.Y = append(p.Y, b.trim-m.trim/m.n)
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
