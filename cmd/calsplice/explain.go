package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"sync"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/merge/cause"
	"calsplice/merge/cause/knock"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

func explain(in *input) error {
	cal := in.doc(in.arg(0))
	opt := in.logOptions()
	e := in.explain(cal, in.files(in.rest()), opt)
	if in.err != nil {
		return in.err
	}
	v := viewed(func() *view.View { return e.view(cal.Name()) })
	return in.deliver(result{view: v, page: v, json: asJSON(e), found: e.finds()})
}

// explanation is why trims and spark are what they are. Trims is nil where no
// log has any, knock where silent says why there is none.
type explanation struct {
	trims  *cause.Result
	knock  *knock.Result
	silent string
}

func (in *input) explain(cal *tables.Calibration, names []string, opt drivelog.Options) *explanation {
	if in.err != nil {
		return nil
	}
	opt.Engine = cal.Engine()
	in.watchOverlaps(&opt, names)
	var logs []cells.Log
	for _, name := range names {
		logs = append(logs, cells.Log{Name: name, Open: func() (*drivelog.Log, error) { return drivelog.Open(name, in.stdin, opt) }})
	}
	return get(in, func() (*explanation, error) {
		explainer, err := cause.NewExplainer(cal, cause.Options{RailPressure: in.number("rail-pressure")})
		if err != nil {
			return nil, err
		}
		limitMemory(judging)
		listener := knock.NewListener(cal)
		errs := cells.Read(in.ctx, logs, explainer, listener)
		e := &explanation{}
		if explainer.Trimless() {
			if err = errs[1]; err == nil {
				e.knock, e.silent = listener.Result()
			}
			if err == nil && e.knock == nil {
				err = errs[0]
			}
		} else if err = cmp.Or(errs...); err == nil {
			var heard sync.WaitGroup
			heard.Go(func() { e.knock, e.silent = listener.Result() })
			e.trims, err = explainer.Result()
			heard.Wait()
		}
		return e, err
	})
}

const noTrims = "Trims: not explained: the log has no fuel trims"

func (e *explanation) view(name string) *view.View {
	if e.trims == nil {
		return view.Knock(name, noTrims, e.knock)
	}
	return view.Causes(name, e.trims).WithKnock(e.knock, e.silent)
}

// finds reports whether trims or spark need something done.
func (e *explanation) finds() bool {
	if e.trims != nil && e.trims.Leading().Cause != cause.None {
		return true
	}
	return e.knock != nil && e.knock.Leading().Cause != knock.None && e.knock.Leading().Cause != knock.FalseKnock
}

// MarshalJSON is the trims' result with knock as one more key.
func (e *explanation) MarshalJSON() ([]byte, error) {
	trims := []byte(fmt.Sprintf(`{"verdict":%q,"certain":false,"changed_at":null,"causes":[],"together":null}`, noTrims))
	var err error
	if e.trims != nil {
		if trims, err = json.Marshal(e.trims); err != nil {
			return nil, err
		}
	}
	k, err := json.Marshal(e.knock)
	if err != nil {
		return nil, err
	}
	return slices.Concat(trims[:len(trims)-1], []byte(`,"knock":`), k, []byte("}")), nil
}
