package propose

import (
	"context"
	"slices"

	"calsplice/interp/cells"
	"calsplice/interp/engine"
	"calsplice/merge/cause"
	"calsplice/tables"
)

// FuelFromLogs corrects the target by the trims of drive logs: by cells, or by
// fit. Before any number stands what would make it worthless: a cause that is
// no table's, a rail pressure that is not the calibration's, a log that this
// calibration did not drive.
func FuelFromLogs(ctx context.Context, cal *tables.Calibration, logs []cells.Log, by string, opt Options) (*Proposal, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	j, err := engine.NewInjector(cal)
	if err != nil {
		return nil, err
	}
	e, err := readFuel(ctx, cal, logs, j, by, &opt)
	if err != nil {
		return nil, err
	}
	if e.trims == nil {
		return e.withoutTrims(by, &opt)
	}
	return e.withTrims(cal, j, by, &opt)
}

// withoutTrims is the proposal of a drive in which only a wideband sensor says anything.
func (e *fuelEvidence) withoutTrims(by string, opt *Options) (*Proposal, error) {
	p, err := fuelByLambda(e.open, opt)
	if err != nil {
		return nil, e.none
	}
	p.Report.Notes = append([]string{"trims are no evidence here: " + e.none.Error()}, p.Report.Notes...)
	return p, openOnly.refuse(p, nil, by, opt)
}

// withTrims is the proposal of any other. The order is that of a person at the car: is
// the pressure right, which fault is it, is this the document that drove, and only then
// what a table should be.
func (e *fuelEvidence) withTrims(cal *tables.Calibration, j *engine.Injector, by string, opt *Options) (*Proposal, error) {
	d := e.trims
	first := railCheck(d, j)
	known := gate(e, opt)
	if known.always != nil {
		return nil, known.always
	}
	target, s, err := known.target(cal, opt.Target)
	if err != nil {
		return nil, err
	}
	// Where noise accounts for the trims a cell that seems to need something is one of many
	// in which chance had its turn.
	opt.none = known.none() && !opt.DespiteCause
	first = slices.Concat(first, replay(cal, d, j), known.first)
	notes := append(slices.Clone(d.notes), injectorSaid(j)...)
	// Where the pressure itself is a fault, the trims are refused as they are.
	if opt.measured = known.res != nil && known.res.Rail && (opt.DespiteCause || !known.res.Mechanical()); opt.measured {
		notes.Add(d.takeRail(j, opt.RailPressure)...)
	}
	var p *Proposal
	if by == "fit" {
		p, err = fuelByFit(cal, target, d, j, opt)
	} else {
		p, err = fuelByDrive(target, s, d, e.open, opt)
	}
	if err != nil {
		return nil, err
	}
	if err := known.refuse(p, target, by, opt); err != nil {
		return nil, err
	}
	r := &p.Report
	r.First = append(first, r.First...)
	r.Notes = append(notes, r.Notes...)
	r.Causes = known.ranked
	r.FullLoad = fullLoad(target, r.Cells, s, d, j)
	p.copyCautions()
	return p, nil
}

// fuelEvidence is what logs say of the fuel: three views of one reading, each with its
// own reason where it has nothing to say. That one is blind is no fault of the others.
type fuelEvidence struct {
	trims *settled // nil where trims are no evidence, but a wideband sensor is
	none  error    // why they are none
	open  *settled // by a wideband sensor, where trims do not reach; nil without one
	cause *cause.Result
	blind error // why the cause could not be found
}

// readFuel reads each log once. It is an error where the logs hold no evidence.
func readFuel(ctx context.Context, cal *tables.Calibration, logs []cells.Log, j *engine.Injector, by string, opt *Options) (*fuelEvidence, error) {
	e := &fuelEvidence{trims: newSettled(cal, j, byTrim)}
	parts := []cells.Part{e.trims}
	if by != "fit" {
		e.open = newSettled(cal, j, byLambda)
		parts = append(parts, e.open)
	}
	var explainer *cause.Explainer
	if explainer, e.blind = cause.NewExplainer(cal, cause.Options{RailPressure: opt.RailPressure}); e.blind == nil {
		parts = append(parts, explainer)
	}
	errs := cells.Read(ctx, logs, parts...)
	// A person who stopped the command wants no proposal from half of a log.
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if e.open != nil && e.open.usable(errs[1]) != nil {
		e.open = nil
	}
	if e.none = e.trims.usable(errs[0]); e.none != nil {
		if e.trims = nil; e.open == nil {
			return nil, e.none
		}
		return e, nil
	}
	if e.blind == nil {
		e.blind = errs[len(errs)-1]
	}
	// Trims that never left 0 have no cause, and no drive is explained by them.
	if e.blind == nil && !e.trims.zero() {
		e.cause, e.blind = explainer.Result()
	}
	return e, nil
}

// fuelByDrive is the proposal by cells from a drive, with what a wideband sensor says
// where that was read; else open is nil.
func fuelByDrive(target *tables.Table, s correctionRule, d, open *settled, opt *Options) (*Proposal, error) {
	place, err := newPlacer(target)
	if err != nil {
		return nil, err
	}
	for _, a := range axesOf(target, 0) {
		if err := d.lacks[a.Quantity()]; err != nil {
			return nil, err
		}
	}
	// Trims first; a wideband sensor's readings are taken only where those do not reach.
	g := d.onto(place)
	if open != nil {
		replay(d.cal, open, d.inj)
		if opt.measured {
			open.takeRail(d.inj, opt.RailPressure)
		}
		g.fill(open.onto(place), opt)
	}
	p := fuelByCells(d.cal, target, s, g, opt)
	r := &p.Report
	if warning := d.pulseWarning(place, r.Cells); warning != "" {
		r.Cautions = append(r.Cautions, warning)
	}
	if !d.has["purge"] && d.vapour() {
		r.Cautions = append(r.Cautions, "purge is not logged: the negative trims at low air flow may be the tank's vapour; drive again with the purge line closed off")
	}
	if s == multiply {
		r.Notes = append(r.Notes, shifts(d.cal, target, r.Cells, d.means(place))...)
	}
	return p, nil
}

// fill takes the evidence of a wideband sensor where trims do not reach: cells
// without enough of them, and cells where they stood at their limit.
func (g *grid) fill(lambda *grid, opt *Options) {
	for i := range g.cells {
		e, w := &g.cells[i], lambda.cells[i]
		if w.count < opt.MinCount || w.visits < opt.MinVisits {
			continue
		}
		// A trim at its limit is a bound, a wideband sensor's reading a number.
		if e.count < opt.MinCount || e.visits < opt.MinVisits || e.atLimit > 0.5 {
			w.note = "from mixture_error, a wideband sensor where trims do not reach"
			*e = w
		}
	}
}

// fuelByLambda is the proposal from a drive whose loop never closed, by a
// wideband sensor alone. Causes are ranked from trims, so here they are not: edits wait
// for --despite-cause, for nobody has asked whether a fault is behind the mixture.
func fuelByLambda(d *settled, opt *Options) (*Proposal, error) {
	target, s, err := fuelTarget(d.cal, opt.Target)
	if err != nil {
		return nil, err
	}
	place, err := newPlacer(target)
	if err != nil {
		return nil, err
	}
	first := append(railCheck(d, d.inj), replay(d.cal, d, d.inj)...)
	g := d.onto(place)
	g.channel = "mixture_error"
	p := fuelByCells(d.cal, target, s, g, opt)
	p.Report.First = append(first, openOnly.first...)
	p.Report.Notes = append(append([]string{}, d.notes...), p.Report.Notes...)
	p.Report.FullLoad = fullLoad(target, p.Report.Cells, s, d, d.inj)
	p.copyCautions()
	return p, nil
}
