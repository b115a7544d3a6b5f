package propose

import (
	"context"

	"calsplice/interp/cells"
	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/sift"
	"calsplice/interp/engine"
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
	d, err := readDrive(ctx, cal, logs, j, byTrim)
	if err != nil {
		if by != "fit" && ctx.Err() == nil {
			if p, err2 := fuelByLambda(ctx, cal, logs, j, &opt); err2 == nil {
				p.Report.Notes = append([]string{"trims are no evidence here: " + err.Error()}, p.Report.Notes...)
				return p, openOnly.refuse(p, nil, by, &opt)
			}
		}
		return nil, err
	}
	first := railCheck(d, j)
	known, err := gate(ctx, cal, logs, d, &opt)
	if err != nil {
		return nil, err
	}
	if known.always != nil {
		return nil, known.always
	}
	target, s, err := known.target(cal, opt.Target)
	if err != nil {
		return nil, err
	}
	opt.none = known.none() && !opt.DespiteCause
	first = append(append(first, replay(cal, d, j)...), known.first...)
	rail := ""
	// Where the pressure itself is a fault, the trims are refused as they are.
	if opt.measured = known.res != nil && known.res.Rail && (opt.DespiteCause || !known.res.Mechanical()); opt.measured {
		rail = d.takeRail(j, opt.RailPressure)
	}
	var p *Proposal
	if by == "fit" {
		p, err = fuelByFit(cal, target, d, j, &opt)
	} else {
		p, err = fuelByDrive(ctx, cal, target, s, logs, d, j, &opt)
	}
	if err != nil {
		return nil, err
	}
	if err := known.refuse(p, target, by, &opt); err != nil {
		return nil, err
	}
	r := &p.Report
	r.First = append(first, r.First...)
	if rail != "" {
		r.Notes = append([]string{rail}, r.Notes...)
	}
	r.Causes = known.ranked
	r.Notes = append(append(append([]string{}, d.notes...), injectorSaid(j)...), r.Notes...)
	r.FullLoad = fullLoad(target, r.Cells, s, d, j)
	p.copyCautions()
	return p, nil
}

// fuelByDrive is the proposal by cells from a drive.
func fuelByDrive(ctx context.Context, cal *tables.Calibration, target *tables.Table, s correctionRule, logs []cells.Log, d *drive, j *engine.Injector, opt *Options) (*Proposal, error) {
	place, err := newPlacer(target)
	if err != nil {
		return nil, err
	}
	g := d.onto(place)
	if err := atLimits(ctx, g, place, logs); err != nil {
		return nil, err
	}
	if open, err := readDrive(ctx, cal, logs, j, byLambda); err == nil {
		replay(cal, open, j)
		if opt.measured {
			open.takeRail(j, opt.RailPressure)
		}
		g.fill(open.onto(place), opt)
	} else if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	p := fuelByCells(cal, target, s, g, opt)
	r := &p.Report
	if warning := d.pulseWarning(place, r.Cells); warning != "" {
		r.Cautions = append(r.Cautions, warning)
	}
	if !d.has["purge"] && d.vapour() {
		r.Cautions = append(r.Cautions, "purge is not logged: the negative trims at low air flow may be the tank's vapour; drive again with the purge line closed off")
	}
	if s == multiply {
		r.Notes = append(r.Notes, shifts(cal, target, r.Cells, d.means(place))...)
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
		if e.count < opt.MinCount || e.visits < opt.MinVisits || e.atLimit > 0.5 {
			w.note = "from mixture_error, a wideband sensor where trims do not reach"
			*e = w
		}
	}
}

// fuelByLambda is the proposal from a drive whose loop never closed, by a
// wideband sensor alone. Causes are ranked from trims, so here they are not.
func fuelByLambda(ctx context.Context, cal *tables.Calibration, logs []cells.Log, j *engine.Injector, opt *Options) (*Proposal, error) {
	target, s, err := fuelTarget(cal, opt.Target)
	if err != nil {
		return nil, err
	}
	d, err := readDrive(ctx, cal, logs, j, byLambda)
	if err != nil {
		return nil, err
	}
	place, err := newPlacer(target)
	if err != nil {
		return nil, err
	}
	first := append(railCheck(d, j), replay(cal, d, j)...)
	g := d.onto(place)
	g.channel = "mixture_error"
	p := fuelByCells(cal, target, s, g, opt)
	p.Report.First = append(first, openOnly.first...)
	p.Report.Notes = append(append([]string{}, d.notes...), p.Report.Notes...)
	p.Report.FullLoad = fullLoad(target, p.Report.Cells, s, d, j)
	p.copyCautions()
	return p, nil
}

// atLimits takes the share of samples at the trim's limit from the cells that
// calsplice cells would gather: the one place that knows what a limit is.
func atLimits(ctx context.Context, g *grid, place *placer, logs []cells.Log) error {
	spec := cells.Spec{Values: []string{"trim"}, Filters: sift.FilterOptions{Steady: true}}
	if !place.axes(&spec) {
		return nil
	}
	gathered, _, err := cells.Gather(ctx, logs, spec)
	if err != nil {
		return err
	}
	doc, err := gathered.Document()
	if err != nil {
		return err
	}
	if t := doc.Table("trim.at_limit"); t != nil {
		for i := range g.cells {
			if v := at(t.Values(), i); v > 0 && g.cells[i].count > 0 {
				g.cells[i].atLimit = v
			}
		}
	}
	return nil
}

// axes asks for the target's axes; a scalar is one cell along the engine speed.
func (p *placer) axes(spec *cells.Spec) bool {
	if p.bound == nil {
		return false
	}
	if p.target.X() == nil {
		one, err := tables.NewAxis(tables.EngineSpeed, "r/min", []float64{1000})
		spec.X = &axes.Axis{Channel: "engine_speed", Axis: one}
		return err == nil
	}
	var err error
	if spec.X, err = axes.Of(p.target.X()); err != nil {
		return false
	}
	spec.Y, err = axes.Of(p.target.Y())
	return err == nil
}
