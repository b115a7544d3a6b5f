package propose

import (
	"cmp"
	"slices"

	"calsplice/interp/cells"
	"calsplice/interp/engine"
	"calsplice/merge/cause"
	"calsplice/tables"
)

// fuelFromLogs corrects the target by the trims of drive logs: by cells, or by fit. The
// order is that of a person at the car: is the pressure right, which fault is it, is this
// the document that drove, and only then what a table should be. What would make a number
// worthless stands before it.
func (in *Input) fuelFromLogs() (*Report, error) {
	j, err := engine.NewInjector(in.Cal)
	if err != nil {
		return nil, err
	}
	e, err := in.readFuel(j)
	if err != nil {
		return nil, err
	}
	opt, d := in.Options, e.drive
	known := gate(e, &opt)
	if known.always != nil {
		return nil, known.always
	}
	target, s, err := known.target(in.Cal, opt.Target)
	if err != nil {
		return nil, err
	}
	// Where noise accounts for the trims a cell that seems to need something is one of many
	// in which chance had its turn.
	opt.none = known.none() && !opt.DespiteCause
	r := newFuelReport(target, cmp.Or(in.By, "cells"))
	r.Causes = known.ranked
	r.First = slices.Concat(d.railCheck(opt.RailPressure), d.replay(), known.first)
	r.Notes = slices.Concat(e.notes, d.notes, injectorSaid(j))
	// Where the pressure itself is a fault, the trims are refused as they are.
	if opt.measured = known.res != nil && known.res.Rail && (opt.DespiteCause || !known.res.Mechanical()); opt.measured {
		r.Notes.Add(d.takeRail(opt.RailPressure)...)
	}
	if r.By == "fit" {
		err = r.byFit(target, d, &opt)
	} else {
		err = r.byDrive(target, s, e, &opt)
	}
	if err == nil {
		err = known.refuse(r, target, &opt)
	}
	r.FullLoad = d.fullLoad(target, r.Cells, s)
	return r, err
}

// fuelEvidence is what logs say of the fuel: views of one reading, each with its own
// reason where it has nothing to say. That one is blind is no fault of the others.
type fuelEvidence struct {
	drive *settled     // by trims; where those are no evidence, by a wideband sensor alone
	open  *settled     // by a wideband sensor where trims do not reach; nil without one
	notes tables.Notes // why trims are no evidence
	cause *cause.Result
	blind error // why the cause could not be found
}

// readFuel reads each log once. It is an error where the logs hold no evidence.
func (in *Input) readFuel(j *engine.Injector) (*fuelEvidence, error) {
	trims, open := newSettled(in.Cal, j, byTrim), newSettled(in.Cal, j, byLambda)
	e := &fuelEvidence{drive: trims}
	parts := []cells.Part{trims}
	if in.By != "fit" {
		parts = append(parts, open)
	}
	var explainer *cause.Explainer
	if explainer, e.blind = cause.NewExplainer(in.Cal, cause.Options{RailPressure: in.Options.RailPressure}); e.blind == nil {
		parts = append(parts, explainer)
	}
	errs := cells.Read(in.Context, in.Logs, parts...)
	// A person who stopped the command wants no proposal from half of a log.
	if in.Context.Err() != nil {
		return nil, in.Context.Err()
	}
	if in.By != "fit" && open.usable(errs[1]) == nil {
		e.open = open
	}
	if none := trims.usable(errs[0]); none != nil {
		if e.open == nil {
			return nil, none
		}
		e.drive, e.open = open, nil
		e.notes.Add("trims are no evidence here: " + none.Error())
		return e, nil
	}
	if e.blind == nil {
		e.blind = errs[len(errs)-1]
	}
	// Trims that never left 0 have no cause, and no drive is explained by them.
	if e.blind == nil && !trims.zero() {
		e.cause, e.blind = explainer.Result()
	}
	return e, nil
}

// byDrive fills a report by cells from a drive, with what a wideband sensor says where
// trims do not reach.
func (r *Report) byDrive(target *tables.Table, s correctionRule, e *fuelEvidence, opt *Options) error {
	d := e.drive
	place, err := placesOf(target)
	if err != nil {
		return err
	}
	for _, a := range axesOf(target, 0) {
		if err := d.lack(a.Quantity()); err != nil {
			return err
		}
	}
	g := d.onto(place)
	if e.open != nil {
		e.open.replay()
		if opt.measured {
			e.open.takeRail(opt.RailPressure)
		}
		g.fill(e.open.onto(place), opt)
	}
	r.byCells(target, s, g, opt)
	if warning := d.pulseWarning(place, r.Cells); warning != "" {
		r.Cautions = append(r.Cautions, warning)
	}
	if d.byTrims() && d.lacks["purge"] != nil && d.vapour() {
		r.Cautions = append(r.Cautions, "purge is not logged: the negative trims at low air flow may be the tank's vapour; drive again with the purge line closed off")
	}
	if s == multiply {
		r.Notes.Add(shifts(d.cal, target, r.Cells, d.means(place))...)
	}
	return nil
}

// fill takes the evidence of a wideband sensor where trims do not reach: cells
// without enough of them, and cells where they stood at their limit.
func (g *grid) fill(lambda *grid, opt *Options) {
	for i := range g.cells {
		e, w := &g.cells[i], lambda.cells[i]
		if w.Count < opt.MinCount || w.Visits < opt.MinVisits {
			continue
		}
		// A trim at its limit is a bound, a wideband sensor's reading a number.
		if e.Count < opt.MinCount || e.Visits < opt.MinVisits || e.AtLimit > 0.5 {
			w.note = "from mixture_error, a wideband sensor where trims do not reach"
			*e = w
		}
	}
}
