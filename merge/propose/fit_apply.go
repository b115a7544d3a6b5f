package propose

import (
	"fmt"
	"math"
	"slices"

	"calsplice/interp"
	"calsplice/interp/drive"
	"calsplice/interp/lookup"
	"calsplice/interp/lsq"
	"calsplice/tables"
)

// byFit corrects flow and offset together by one fit over a drive. It refuses to
// split what the drive does not tell apart, and then changes nothing: half of a split
// that is wrong makes both tables wrong.
func (r *Report) byFit(target *tables.Table, d *settled, opt *Options) error {
	f, err := newFitting(d, target)
	if err != nil {
		return err
	}
	r.Fit, r.title = &Fit{}, "Flow and offset from a fit"
	if err := f.separates(r.Fit); err != nil {
		return err
	}
	if r.Fit.Refused != "" {
		r.First = append(r.First, r.Fit.Refused)
		r.Cells = unchanged(target)
		return nil
	}
	fit, err := f.solve(r.Fit, opt.none)
	if err != nil {
		return fmt.Errorf("fit: %w", err)
	}
	flow, offset := f.flowCells(fit, opt), f.offsetCells(fit, opt)
	if err := f.predict(flow, offset); err != nil {
		return err
	}
	r.Cells = append(flow, offset...)
	if f.volts.whole() {
		r.Notes.Addf("battery voltage spread by less than %s V: the offset moves as a whole curve", tables.FormatValue(voltSpread))
	}
	return nil
}

// unchanged lists a table's cells, none with evidence that can be used.
func unchanged(t *tables.Table) []Cell {
	var list []Cell
	for i := range t.Values() {
		c := cellOf(t, i, noEvidence())
		c.Verdict = Uncertain
		list = append(list, c)
	}
	return list
}

// flowCells turns the fitted flow errors into values. Breakpoints that were not
// visited follow the nearest that was.
func (f *fitting) flowCells(fit *lsq.Fit, opt *Options) (list []Cell) {
	for i, e := range f.evidence() {
		c := cellOf(f.j.FlowTable.Table(), i, e)
		if c.Verdict = InDeadBand; f.flow.len() > 0 {
			f.correct(&c, i, fit, opt)
		}
		list = append(list, c)
	}
	return list
}

// correct holds a fitted number to the same rules as a cell's mean: dead band, interval,
// bound, resolution and limits.
func (f *fitting) correct(c *Cell, i int, fit *lsq.Fit, opt *Options) {
	k, seen := f.flow.column(i)
	share, half := fit.Coef[k], 100*fit.Half[k]
	if c.Verdict = opt.asks(100*share, half); !seen && opt.OnlyVisited {
		c.Verdict = NoSamples
	}
	if c.Verdict != Proposed {
		return
	}
	target := f.j.FlowTable.Table()
	c.share = share
	notes := c.correct(target, divide, opt)
	notes = slices.Insert(notes, 1, fmt.Sprintf("fitted flow error %s ± %.2f %%", tables.Signed(100*share, 2), half))
	if !seen && c.Verdict == Proposed {
		c.Verdict = Inferred
		notes = append(notes, inferredFrom(target, f.flow.used[k]))
	}
	c.Note = join(notes...)
}

// evidence gathers the fit's blocks onto the flow table: what a person sees beside the
// fitted numbers is the trim there, whatever the fit makes of it.
func (f *fitting) evidence() []Evidence {
	d := &settled{}
	for _, b := range f.blocks {
		d.blocks = append(d.blocks, *b)
	}
	return d.onto(f.j.FlowTable).cells
}

// offsetCells turns the fitted offset errors into values. Voltages that were
// not visited move as the nearest that was; what falls in voltage goes on
// falling.
func (f *fitting) offsetCells(fit *lsq.Fit, opt *Options) (list []Cell) {
	if f.volts.len() == 0 {
		return nil
	}
	t := f.j.OffsetTable.Table()
	// A time that is nothing to a long pulse is much to a short one, so the shortest decides.
	_, inverse := f.quantiles(func(b *block) float64 { return b.inverse })
	most := opt.Bound / 100 / inverse // ms: the bound in fuel at the shortest pulses
	now, moves := slices.Clone(t.Values()), make([]float64, len(t.Values()))
	for i, from := range now {
		moves[i] = min(max(f.offsetError(fit, i)*opt.Gain, -most), most)
		now[i] = settleOffset(t, from, from+moves[i]/f.j.OffsetUnit.Apply(1))
	}
	// Rounding and bounds by cell may have made a step that no injector has.
	f.falling(t.Values(), now)
	for i, to := range now {
		_, seen, _ := f.offsetPlace(i)
		v, half, se := f.offsetAt(fit, i)
		c := cellOf(t, i, Evidence{Count: int(f.samples()), Visits: f.visits(), Mean: tables.Number(v), SE: tables.Number(se), P95: unknown,
			note: fmt.Sprintf("fitted offset error %s ± %.3f ms", tables.Signed(v, 3), half)})
		c.To, c.Verdict, c.unit = to, Proposed, "ms"
		switch {
		case to == c.From:
			c.Verdict, c.Note = BelowResolution, ""
			c.Count, c.Visits = 0, 0
		case !seen:
			c.Verdict = Inferred
			c.Note = join(c.Note, "moves as the nearest voltage with evidence")
		}
		if math.Abs(moves[i]) >= most && to != c.From {
			c.Note = join(c.Note, fmt.Sprintf("held at the bound of %.3f ms", most))
		}
		list = append(list, c)
	}
	return list
}

// offsetPlace is the fit's column for a cell of the offset table, whether the cell's own
// voltage was visited, and its pressure; NaN where the table has no such axis.
func (f *fitting) offsetPlace(i int) (column int, seen bool, delta float64) {
	seen, delta = true, math.NaN()
	for _, a := range axesOf(f.j.OffsetTable.Table(), i) {
		switch a.Quantity() {
		case tables.BatteryVoltage:
			column, seen = f.volts.column(a.at)
		case tables.DifferentialPressure:
			delta = lookup.PointsOf(a.Axis)[a.at]
		}
	}
	return f.flow.len() + column, seen, delta
}

// offsetAt is the fitted error at a cell of the offset table in ms, half its interval and its
// standard error.
func (f *fitting) offsetAt(fit *lsq.Fit, i int) (v, half, se float64) {
	k, _, delta := f.offsetPlace(i)
	v, half, se = fit.Coef[k], fit.Half[k], fit.SE[k]
	if f.slope.len() > 0 {
		low, high := f.quantiles(func(b *block) float64 { return b.at.Delta })
		last, off := len(fit.Coef)-1, min(max(delta, low), high)-f.delta
		// The slope turns about the mean pressure, where it is as good as independent of the rest.
		v += fit.Coef[last] * off / 100
		half, se = math.Hypot(half, fit.Half[last]*off/100), math.Hypot(se, fit.SE[last]*off/100)
	}
	return v, half, se
}

// offsetError is what of the fitted error a cell is corrected by. An offset that moves as a
// whole is left alone where its interval includes zero.
func (f *fitting) offsetError(fit *lsq.Fit, i int) float64 {
	k, _, _ := f.offsetPlace(i)
	if !(math.Abs(fit.Coef[k]) > fit.Half[k]) && len(f.volts.used) == 1 {
		return 0
	}
	v, _, _ := f.offsetAt(fit, i)
	return v
}

// samples is how many the blocks hold.
func (f *fitting) samples() (n float64) {
	for _, b := range f.blocks {
		n += b.n
	}
	return n
}

// visits is how many separate stays the blocks are of.
func (f *fitting) visits() int {
	runs := map[int]bool{}
	for _, b := range f.blocks {
		runs[b.run] = true
	}
	return len(runs)
}

// settleOffset rounds an offset towards what it was: a time below zero, or a step past what
// was fitted, is never written.
func settleOffset(t *tables.Table, from, to float64) float64 {
	to = max(to, 0)
	return settle(t, from, to, func(v float64) bool {
		return math.Abs(v-from) <= math.Abs(to-from)+float64(1e-9*t.Resolution()) && (v-from)*(to-from) >= 0
	})
}

// falling keeps every line of the table that fell with voltage falling: from
// the middle of what was visited outwards, a value that would rise is held.
func (f *fitting) falling(was, now []float64) {
	t := f.j.OffsetTable.Table()
	lines := interp.Lines(t)
	lines = [][]interp.Line{lines[:t.Rows()], lines[t.Rows():]}[max(0, t.Axes().Of(tables.BatteryVoltage))]
	// The middle of what was visited is believed; the voltages beside it give way.
	middle := 0
	if f.volts.points != nil {
		middle = f.volts.used[len(f.volts.used)/2]
	}
	for _, l := range lines {
		if _, fell := l.Trend(was); !fell {
			continue
		}
		at := func(k int) int { return l.First + k*l.Step }
		for k := middle + 1; k < l.N; k++ {
			now[at(k)] = min(now[at(k)], now[at(k-1)])
		}
		for k := middle - 1; k >= 0; k-- {
			now[at(k)] = max(now[at(k)], now[at(k+1)])
		}
	}
}

// predict tells the trim that both edits leave, by the algebra of the package
// comment: 1 + trim' = (flow_new/F)·(pulse − offset_new) with F from the old
// tables. Where there is no evidence it tells the change of delivered fuel, at
// the pulses of the nearest that there is.
func (f *fitting) predict(flow, offset []Cell) error {
	bf, err := edited(f.j.FlowTable.Table(), flow)
	if err != nil {
		return err
	}
	bo, err := edited(f.j.OffsetTable.Table(), offset)
	if err != nil {
		return err
	}
	left := make([]drive.Mean, len(flow))
	for _, b := range f.blocks {
		cell := bf.Cell(&b.at)
		if cell < 0 {
			continue
		}
		// The controller wants the same fuel; only what it commands for it changes.
		effective := (1 + b.trim) / b.inverse // pulse − offset, old
		moved := f.j.OffsetUnit.Apply(bo.At(&b.at)) - f.j.Offset(&b.at)
		after := (1+b.trim)*(bf.At(&b.at)/f.j.FlowTable.At(&b.at))*(effective-moved)/effective - 1
		left[cell].Add(100*after, b.n)
	}
	for i := range flow {
		if left[i].Weight > 0 {
			flow[i].Predicted = tables.Number(left[i].Value())
		} else if b := f.nearest(i); b != nil {
			flow[i].Delivered = tables.Number(100 * (flow[i].From/flow[i].To - 1 + longer(f.j, bo, &b.at, 1/b.inverse)))
		}
	}
	return nil
}

// nearest is the evidence that lies nearest to a breakpoint of the flow curve.
func (f *fitting) nearest(i int) (best *block) {
	flow := f.j.FlowTable
	if flow.Table().X() == nil {
		return nil
	}
	least, x := math.Inf(1), lookup.PointsOf(flow.Table().X())[i]
	for _, b := range f.blocks {
		at, _ := flow.XY(&b.at)
		if d := math.Abs(at - x); d < least {
			least, best = d, b
		}
	}
	return best
}
