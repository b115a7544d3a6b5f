package propose

import (
	"context"
	"fmt"
	"strings"

	"calsplice/interp/cells"
	"calsplice/merge/cause"
	"calsplice/tables"
)

// verdict is what is known of the cause of a drive's trims.
type verdict struct {
	first  []string // stands before every number
	ranked []Cause
	stop   error // a fault is repaired, not calibrated away: no edit goes past this
	always error // nor does anything else
	broken bool  // a mechanical cause leads, surely
	noise  bool  // noise accounts for the trims: a proposal needs more than usual
}

// gate asks which cause fits the trims before any table is corrected.
func gate(ctx context.Context, cal *tables.Calibration, logs []cells.Log, d *drive, opt *Options) (*verdict, error) {
	if d.zero() {
		return &verdict{first: []string{"every trim in the log is 0: the loop corrects nothing, or the logger writes a column that is never filled"}}, nil
	}
	r, err := cause.Explain(ctx, cal, logs, cause.Options{})
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		return &verdict{first: []string{"causes could not be examined: " + strings.ReplaceAll(err.Error(), "\n", "; ")}}, nil
	}
	v := &verdict{first: []string{r.Verdict}}
	for i := range r.Found {
		f := &r.Found[i]
		v.ranked = append(v.ranked, Cause{string(f.Cause), f.Share, f.Margin})
	}
	lead := r.Leading()
	v.broken = r.Mechanical() && r.Certain
	v.noise = lead.Cause == cause.None && r.Certain
	switch {
	case r.LeanInBoost():
		v.always = fmt.Errorf("the regulator seems to have lost the manifold's pressure, and in boost that is lean: stop, do not load this engine, and mend that first. No flag goes past this\n%s", lead.Test)
	case r.Mechanical() && opt.DespiteCause:
		v.first = append(v.first, "gone on despite the cause, as told")
	case r.Mechanical() && (r.Certain || !scaleWouldDo(r)):
		v.stop = fmt.Errorf("%s\na fault is repaired, not calibrated away: %s\n--despite-cause goes on all the same", r.Verdict, lead.Test)
	case r.Mechanical():
		v.first = append(v.first, "before anything is applied: "+lead.Test)
	case lead.Cause == cause.FlowScale:
		if missing := unconfirmed(cal, d); missing != "" {
			v.first = append(v.first, "cause not confirmed until "+missing+" is given: "+lead.Test)
		}
	}
	return v, nil
}

// scaleWouldDo reports whether a drive that cannot tell causes apart is
// explained as well by a flow scale, which never stops a proposal.
func scaleWouldDo(r *cause.Result) bool {
	if r.BanksDiffer() {
		return false
	}
	for i := range r.Found {
		if f := &r.Found[i]; f.Cause == cause.FlowScale {
			return f.Share >= r.Leading().Share-0.1
		}
	}
	return false
}

// unconfirmed names what a flow scale wants known before it is believed: low
// pressure and another fuel look just the same.
func unconfirmed(cal *tables.Calibration, d *drive) string {
	var missing []string
	if !d.has["rail_pressure"] {
		missing = append(missing, "the rail pressure (a rail_pressure channel in the log)")
	}
	if e := cal.Engine(); e == nil || e.FuelDensity == nil || !(e.StoichAFR > 0) {
		missing = append(missing, "the fuel (stoich_afr and fuel_density in the calibration)")
	}
	return strings.Join(missing, " and ")
}
