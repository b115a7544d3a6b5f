package propose

import (
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
func (in *Input) fuelFromLogs() (*Proposal, error) {
	j, err := engine.NewInjector(in.Cal)
	if err != nil {
		return nil, err
	}
	e, err := in.readFuel(j)
	if err != nil {
		return nil, err
	}
	opt, d := in.Options, e.drive
	first := d.railCheck()
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
	first = slices.Concat(first, d.replay(), known.first)
	notes := slices.Concat(e.notes, d.notes, injectorSaid(j))
	// Where the pressure itself is a fault, the trims are refused as they are.
	if opt.measured = known.res != nil && known.res.Rail && (opt.DespiteCause || !known.res.Mechanical()); opt.measured {
		notes.Add(d.takeRail(opt.RailPressure)...)
	}
	p, err := e.proposal(target, s, in.By, &opt)
	if err == nil {
		err = known.refuse(p, target, in.By, &opt)
	}
	if err != nil {
		return nil, err
	}
	r := &p.Report
	r.First = append(first, r.First...)
	r.Notes = append(notes, r.Notes...)
	r.Causes = known.ranked
	r.FullLoad = d.fullLoad(target, r.Cells, s)
	p.copyCautions()
	return p, nil
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

// proposal is what the evidence asks of the target, whatever its cause is.
func (e *fuelEvidence) proposal(target *tables.Table, s correctionRule, by string, opt *Options) (*Proposal, error) {
	if by == "fit" {
		return fuelByFit(target, e.drive, opt)
	}
	return fuelByDrive(target, s, e.drive, e.open, opt)
}

// fuelByDrive is the proposal by cells from a drive, with what a wideband sensor says
// where trims do not reach; else open is nil.
func fuelByDrive(target *tables.Table, s correctionRule, d, open *settled, opt *Options) (*Proposal, error) {
	place, err := placesOf(target)
	if err != nil {
		return nil, err
	}
	for _, a := range axesOf(target, 0) {
		if err := d.lacks[a.Quantity()]; err != nil {
			return nil, err
		}
	}
	g := d.onto(place)
	if open != nil {
		open.replay()
		if opt.measured {
			open.takeRail(opt.RailPressure)
		}
		g.fill(open.onto(place), opt)
	}
	p := fuelByCells(d.cal, target, s, g, opt)
	r := &p.Report
	if warning := d.pulseWarning(place, r.Cells); warning != "" {
		r.Cautions = append(r.Cautions, warning)
	}
	if d.byTrims() && !d.has["purge"] && d.vapour() {
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
