package main

import (
	"cmp"
	"sync"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/merge/cause"
	"calsplice/merge/cause/knock"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

func explain(in *input) {
	cal := in.doc(in.arg(0))
	opt := in.logOptions()
	e := must(in.explain(cal, must(expand(in.rest())), opt))
	in.deliver(result{pages: true, view: func() *view.View { return view.Causes(cal.Name(), e) }, json: asJSON(e), found: e.Finds()})
}

func (in *input) explain(cal *tables.Calibration, names []string, opt drivelog.Options) (*view.Explanation, error) {
	opt.Engine = cal.Engine()
	explainer, err := cause.NewExplainer(cal, cause.Options{RailPressure: in.number("rail-pressure")})
	if err != nil {
		return nil, err
	}
	limitMemory(judging)
	listener := knock.NewListener(cal)
	errs := cells.Read(in.ctx, in.logs(names, opt), explainer, listener)
	e := &view.Explanation{}
	if explainer.Trimless() {
		if err = errs[1]; err == nil {
			e.Knock, e.Silent = listener.Result()
		}
		if err == nil && e.Knock == nil {
			err = errs[0]
		}
	} else if err = cmp.Or(errs...); err == nil {
		var heard sync.WaitGroup
		heard.Go(func() { e.Knock, e.Silent = listener.Result() })
		e.Trims, err = explainer.Result()
		heard.Wait()
	}
	return e, err
}
