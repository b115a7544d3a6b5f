package propose

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"calsplice/merge/cause"
	"calsplice/tables"
)

// verdict is what is known of the cause of a drive's trims, as the gate asks for it:
// before the proposal, to choose a table and to say what stands first, and after it, to
// refuse edits.
type verdict struct {
	res    *cause.Result // nil where causes could not be examined
	first  []string      // stands before every number
	ranked []Cause
	always error // nothing goes past this
}

// gate asks which cause fits the trims before any table is corrected. It stands only
// before edits: see refuse.
func gate(e *fuelEvidence, opt *Options) *verdict {
	d, r := e.drive, e.cause
	switch {
	case !d.byTrims():
		return &verdict{first: []string{"causes were not examined: they are found from trims, and the loop was never closed"}}
	// A drive without a word of causes is refused edits like one without a certain cause.
	case d.zero():
		return &verdict{first: []string{"every trim in the log is 0: the loop corrects nothing, or the logger writes a column that is never filled"}}
	case e.blind != nil:
		return &verdict{first: []string{"causes could not be examined: " + strings.ReplaceAll(e.blind.Error(), "\n", "; ")}}
	}
	v := &verdict{res: r, first: []string{r.Verdict}}
	for i := range r.Found {
		f := &r.Found[i]
		v.ranked = append(v.ranked, Cause{string(f.Cause), f.Share, f.Margin})
	}
	switch role, fit := v.holder(); {
	case r.LeanInBoost():
		v.always = refusal(r.Verdict, "stop: do not load this engine, and repair that first; no flag goes past this", r.Leading().Test)
	case opt.DespiteCause && role == "" && !v.none():
		v.first = append(v.first, "continued because of --despite-cause")
	case role == tables.InjectorFlow && !fit:
		// Flow is the one cause that a wrong pressure or another fuel imitates everywhere.
		if missing := unconfirmed(d, opt); missing != "" {
			v.first = append(v.first, "cause not confirmed until "+missing+": "+r.Leading().Test)
		}
	}
	return v
}

// none reports whether no cause is needed, which leaves nothing to correct.
func (v *verdict) none() bool { return v.res != nil && v.res.Leading().Cause == cause.None }

// holder is the role of the table that holds the drive's certain cause, and whether flow
// and offset must be corrected together; "" where the cause is not certain or no table
// holds it. It is what the whole gate rests on: which table an error belongs to. Corrected
// in another one, the trims look right where the drive went and are wrong elsewhere.
func (v *verdict) holder() (role tables.Role, fit bool) {
	if v.res == nil || !v.res.Certain || v.res.Mechanical() {
		return "", false
	}
	// Of pairs only flow and offset stand in the injector's tables together, and only a fit
	// of both corrects either.
	if p := v.res.Together; p != nil {
		for _, c := range p.Causes {
			if c != cause.FlowScale && c != cause.InjectorOffset {
				return "", false
			}
		}
		return tables.InjectorFlow, true
	}
	switch v.res.Leading().Cause {
	case cause.FlowScale:
		return tables.InjectorFlow, false
	case cause.InjectorOffset:
		return tables.InjectorFlow, true
	case cause.AirMeter:
		return tables.AirMeter, false
	case cause.VolumetricEfficiency:
		return tables.AirVolumetricEfficiency, false
	}
	return "", false
}

// target is the table that a person named, or that holds the certain cause, or
// the flow table.
func (v *verdict) target(cal *tables.Calibration, id string) (*tables.Table, correctionRule, error) {
	if role, _ := v.holder(); id == "" && role != "" {
		if found := cal.ByRole(role); len(found) == 1 {
			id = found[0].ID()
		}
	}
	return fuelTarget(cal, id)
}

// refuse is why a proposal that has edits must not be made: the cause is not
// certain, or the table does not hold it.
func (v *verdict) refuse(r *Report, target *tables.Table, opt *Options) error {
	if !r.changes() || opt.DespiteCause {
		return nil
	}
	// Each refusal names what was found, why that stops an edit, and how to go on.
	const despite = "use --despite-cause to propose edits anyway"
	if v.res == nil {
		return refusal(append(slices.Clone(v.first), "no table is changed before the cause is certain", despite)...)
	}
	role, fit := v.holder()
	switch {
	case role == "" && v.res.Mechanical():
		return refusal(v.res.Verdict, "a fault is repaired, not calibrated away. "+v.res.Settle, despite)
	case role == "":
		return refusal(v.res.Verdict, "no table is changed before the cause is certain. "+v.res.Settle, despite)
	case role != target.Role():
		return refusal(v.res.Verdict, fmt.Sprintf("table %s does not hold this, a table with role %s does", target.ID(), role), despite)
	case fit && r.By != "fit":
		return refusal(v.res.Verdict, "flow and offset must be corrected together: use --by fit", despite)
	}
	return nil
}

// refusal is an error of several lines.
func refusal(lines ...string) error {
	return errors.Join(tables.Each(lines, errors.New)...)
}

// unconfirmed names what must be known before a flow scale is believed: low
// pressure and another fuel look just the same.
func unconfirmed(d *settled, opt *Options) string {
	var missing []string
	if d.lacks["rail_pressure"] != nil && opt.RailPressure == 0 {
		missing = append(missing, "the rail pressure (a rail_pressure channel in the log, or --rail-pressure)")
	}
	if e := d.cal.Engine(); e == nil || e.FuelDensity == nil || !(e.StoichAFR > 0) {
		missing = append(missing, "the fuel (stoich_afr and fuel_density in the calibration)")
	}
	verb := []string{"", " is given", " are given"}[len(missing)]
	return strings.Join(missing, " and ") + verb
}
