package cause

import (
	"fmt"
	"math"
	"strings"

	"calsplice/interp/drive"
	"calsplice/tables"
)

// between is the test that tells two causes apart.
var between = map[[2]Cause]string{
	{UnmeteredAir, InjectorOffset}:            "no-load idle against no-load 2,500 r/min: a leak shrinks, an offset stays; then a smoke test",
	{UnmeteredAir, AirMeter}:                  "smoke test; then, with the intake tight, scale the meter against speed-density air",
	{UnmeteredAir, PressureReference}:         "smoke test, then pressure gauge at the rail at idle, vacuum hose on and off",
	{UnmeteredAir, FlowScale}:                 "no-load idle against no-load 2,500 r/min: a leak shrinks, wrong flow stays; smoke test",
	{UnmeteredAir, BankDifference}:            "compare banks, then smoke test of the intake and of each bank's exhaust before its sensor",
	{PressureReference, InjectorOffset}:       "pressure gauge at the rail at idle, vacuum hose on and off: pressure that follows the hose leaves the offset; then idle with lamps and blower on: an offset moves with the voltage",
	{PressureReference, FlowScale}:            "pressure gauge at the rail at idle and under load, vacuum hose on and off",
	{PressureReference, AirMeter}:             "pressure gauge at the rail at idle, vacuum hose on and off; only then scale the meter against speed-density air",
	{SupplyLimit, AirMeter}:                   "pressure gauge at the rail under load: pressure that falls is supply, pressure that holds leaves the meter; then a fuel volume test",
	{SupplyLimit, FlowScale}:                  "pressure gauge at the rail at idle and under load: wrong at both is flow or regulator, wrong under load is supply; fuel volume test",
	{SupplyLimit, UnmeteredAir}:               "pressure gauge at the rail under load, and a smoke test of the intake and charge pipes",
	{FlowScale, InjectorOffset}:               "no-load idle with lamps and blower on and off: an offset moves with the voltage, flow does not; pressure gauge at the rail at idle and under load",
	{FlowScale, AirMeter}:                     "pressure gauge at the rail and a fuel volume test; with both right, scale the meter against speed-density air",
	{InjectorOffset, AirMeter}:                "no-load idle with lamps and blower on and off: an offset moves with the voltage, a meter does not",
	{InjectorOffset, SupplyLimit}:             "pressure gauge at the rail at idle and under load",
	{VolumetricEfficiency, FlowScale}:         "pressure gauge at the rail at idle and under load: pressure that is right, with an error at some speeds and loads only, leaves volumetric efficiency",
	{VolumetricEfficiency, InjectorOffset}:    "no-load idle with lamps and blower on and off: an offset moves with the voltage, volumetric efficiency does not",
	{VolumetricEfficiency, PressureReference}: "pressure gauge at the rail at idle, vacuum hose on and off: pressure that is right both ways leaves volumetric efficiency",
	{VolumetricEfficiency, SupplyLimit}:       "pressure gauge at the rail under load: pressure that holds leaves volumetric efficiency",
	{VolumetricEfficiency, UnmeteredAir}:      "smoke test; with the intake tight, the same speeds and loads again: volumetric efficiency repeats",
	{VolumetricEfficiency, AirMeter}:          "scale the meter against speed-density air over the whole range of flow",
	{PressureReference, SupplyLimit}:          "pressure gauge at the rail at idle, vacuum hose on and off, and under load",
}

// purgeTest goes with causes that take fuel away or add it at light load.
const purgeTest = "; with the purge line closed off"

// test is what tells a cause from its nearest rival.
func test(c, rival Cause) string {
	t, ok := between[[2]Cause{c, rival}]
	if !ok {
		t, ok = between[[2]Cause{rival, c}]
	}
	switch {
	case ok:
	case c == BankDifference || rival == BankDifference:
		t = BankDifference.entry().test
	default:
		t = c.entry().test
	}
	if c == UnmeteredAir || c == InjectorOffset {
		t += purgeTest
	}
	return t
}

// sentence begins a line with a capital.
func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// tell fills the words of a result: evidence, alike, tests and the verdict.
func (r *rows) describe(res *Result, f *facts) {
	for i := range res.Found {
		found := &res.Found[i]
		found.Alike = found.Cause.entry().alike
		found.Evidence = r.evidence(found, res)
		found.Test = test(found.Cause, rivalOf(res, i))
	}
	res.Settle = settle(res)
	res.Verdict = verdict(res)
}

// rivalOf is the best other cause, which a test must tell from this one.
func rivalOf(res *Result, i int) Cause {
	for j, f := range res.Found {
		if j != i && (f.Cause != None || len(res.Found) == 2) {
			return f.Cause
		}
	}
	return None
}

// evidence is what speaks for a cause, in lines: its shape and numbers, how much it predicts,
// and what was seen where it predicts least and most.
func (r *rows) evidence(f *Finding, res *Result) []string {
	if f.Cause == None {
		if r.total == 0 {
			return []string{"no trim but 0"}
		}
		weight := r.whole()
		return []string{
			fmt.Sprintf("trims stand %.1f %% from zero (rms over %d operating points)", math.Sqrt(r.total/weight), r.cells),
			fmt.Sprintf("repeat visits to the same operating point differ by %.1f %% (rms)", math.Sqrt(r.noise/weight)),
		}
	}
	if f.measured {
		return []string{f.Shape, fmt.Sprintf("trims up to %s %% by this pressure", tables.Signed(r.furthest(r.rail.trim), 1))}
	}
	if f.model == nil {
		for _, u := range res.Unexamined {
			if u.Cause == f.Cause {
				return []string{"not examined: " + u.Why}
			}
		}
		return []string{"no fit of this shape within what is physically possible"}
	}
	var said []string
	if f.beside != "" {
		said = append(said, fmt.Sprintf("together with %s: share and numbers are of both fitted at once", f.beside))
	}
	if f.OwnLimit > 0 {
		said = append(said, fmt.Sprintf("the injectors' own limit: duty stands at %.0f %% there, and past %d %% no pressure helps", f.OwnLimit, dutyLimit))
	}
	if f.Shape != "" {
		said = append(said, f.Shape)
	}
	said = append(said, coefficients(f)...)
	predicted := f.model.predicted
	said = append(said, fmt.Sprintf("trims up to %s %% by this fit", tables.Signed(r.furthest(predicted), 1)))
	if f.Cause == FlowScale && f.beside == "" {
		return said
	}
	return append(said, r.contrastOf(predicted)...)
}

// dutyLimit is the duty past which an injector no longer follows its pulse, %
// (common practice, no source).
const dutyLimit = 85

// ownLimit is the mean duty where a supply limit asks for most fuel, where that is
// past what an injector follows; else 0.
func (r *rows) ownLimit(f *Finding) float64 {
	if f.Cause != SupplyLimit || f.alone == nil {
		return 0
	}
	var duty drive.Mean
	most := r.furthest(f.alone.predicted)
	for i, p := range f.alone.predicted {
		if p > max(1, most/2) {
			duty.Add(r.points[r.point[i]].Duty, 1)
		}
	}
	if v := duty.Value(); v > dutyLimit {
		return v
	}
	return 0
}

// furthest is the largest prediction with its sign.
func (r *rows) furthest(predicted []float64) float64 {
	v := 0.0
	for _, p := range predicted {
		if math.Abs(p) > math.Abs(v) {
			v = p
		}
	}
	return v
}

// coefficients are the fitted numbers that mean something to a person, with their intervals.
func coefficients(f *Finding) []string {
	if len(f.Coefficients) == 0 {
		return nil
	}
	interval := func(c Coefficient, unit string, digits int) string {
		return fmt.Sprintf("%s %s (%s to %s)", tables.Signed(c.Value, digits), unit, tables.Signed(c.Low, digits), tables.Signed(c.High, digits))
	}
	c := f.Coefficients
	switch {
	case f.Cause == FlowScale:
		return []string{"constant trim " + interval(c[0], "%", 1)}
	case f.Cause == InjectorOffset && c[0].Unit == "ms":
		return []string{"true offset minus table " + interval(c[0], "ms", 3)}
	case f.Cause == UnmeteredAir:
		return []string{"leak when choked " + interval(c[0], "g/s", 2)}
	case f.Cause == BankDifference && len(c) == 1 && c[0].Unit != "":
		return []string{"difference " + interval(c[0], c[0].Unit, 1)}
	}
	return nil
}

// contrastOf sets what is seen beside what the cause predicts where it predicts
// least and most.
func (r *rows) contrastOf(fit []float64) []string {
	low, high := quantiles(fit, 0.1, 0.9)
	if high-low < 0.5 {
		return nil
	}
	var seen, predicted [2]drive.Mean
	for i, p := range fit {
		if p <= low || p >= high {
			side := 0
			if p >= high {
				side = 1
			}
			seen[side].Add(r.y[i], 1)
			predicted[side].Add(p, 1)
		}
	}
	percent := func(m drive.Mean) string { return tables.Signed(m.Value(), 1) + " %" }
	return []string{fmt.Sprintf("predicts %s where %s is measured, and %s where %s is measured",
		percent(predicted[0]), percent(seen[0]), percent(predicted[1]), percent(seen[1]))}
}

const moreDriving = "Log again, and hold idle, no-load 2,500 r/min and some cruising speeds for half a minute each"

// settle is what to do next: what answers the gravest doubt, or confirms the
// leader.
func settle(res *Result) string {
	switch {
	case res.Foreign > mostForeign:
		return "Give the calibration that was in the controller on this drive"
	case !math.IsNaN(res.ChangedAt):
		return "Find what happened then, and explain a drive from before it and one from after it apart"
	case len(res.Doubts) > 0:
		return res.Doubts[0].Settle
	case res.Leading().Cause == None && !res.Certain:
		return moreDriving
	}
	return sentence(res.Leading().Test)
}

// changed is when the engine changed.
func (r *Result) changed() string {
	if r.clock.OfDay {
		return r.clock.Text(r.ChangedAt) + " of the log's clock"
	}
	return fmt.Sprintf("minute %.0f (%.0f s of the log's clock)", r.ChangedAt/60, r.ChangedAt)
}

// verdict is the headline: what it is and how sure; two things; that it changed;
// or that it cannot tell, and what would.
func verdict(res *Result) string {
	lead := res.Leading()
	switch {
	case res.LeanInBoost():
		return "pressure-reference: in boost the mixture is lean, for the rail does not follow the manifold"
	case res.Foreign > mostForeign:
		return fmt.Sprintf("the log does not come from this calibration, or another limit was in charge: injector flow and offset would have commanded other pulses in %.0f %% of the settled time", 100*res.Foreign)
	case !math.IsNaN(res.ChangedAt):
		return "the engine changed at " + res.changed() + ": the same operating points differ before and after, and no cause holds for the whole drive"
	case lead.Cause == None && res.Certain:
		return "no cause needed: noise accounts for the trims"
	case lead.Cause == None && len(res.Doubts) > 0:
		return fmt.Sprintf("can't tell: no cause stands out, but %s. %s", res.Doubts[0].What, res.Settle)
	case lead.Cause == None:
		return "can't tell: no cause explains these trims, and noise only a part of them"
	case lead.measured && res.Together == nil && res.Certain:
		return fmt.Sprintf("%s: %s, which explains %.0f %% of the trims", lead.Cause, lead.Shape, 100*lead.explains)
	case lead.measured && res.Together == nil:
		return fmt.Sprintf("%s: %s, but that explains only a part of the trims, and no cause the rest: can't tell for certain", lead.Cause, lead.Shape)
	case res.Together != nil && res.Certain:
		return fmt.Sprintf("two causes together: %s and %s", lead.Cause, other(res.Together, lead.Cause))
	case res.Together != nil:
		return fmt.Sprintf("more than one thing is wrong, %s and %s fit best: can't tell for certain. %s", lead.Cause, other(res.Together, lead.Cause), res.Settle)
	case !res.Certain && len(res.Doubts) > 0:
		return fmt.Sprintf("can't tell: %s fits best, but %s. %s", lead.Cause, res.Doubts[0].What, res.Settle)
	case !res.Certain:
		return fmt.Sprintf("can't tell for certain: %s fits best", lead.Cause)
	case lead.OwnLimit > 0:
		return fmt.Sprintf("supply-limit: the injectors' own, at %.0f %% duty", lead.OwnLimit)
	}
	return string(lead.Cause) + ": " + lead.Cause.Title()
}

// other is the partner in a pair.
func other(p *Pair, c Cause) Cause {
	if p.Causes[0] == c {
		return p.Causes[1]
	}
	return p.Causes[0]
}

// NextSteps are what to do now, and what not to do, the most urgent first.
func (r *Result) NextSteps() []string {
	lead := r.Leading()
	var s []string
	if r.LeanInBoost() {
		s = append(s, "STOP: lean in boost. Do not load this engine: there the injectors see less pressure than the table takes them to have, and no table may hide that.")
	}
	switch {
	case r.Mechanical() && lead.Cause == None:
		s = append(s, "Do not change a table yet: the banks differ, and one table feeds both.")
	case r.Mechanical() && r.Certain:
		s = append(s, "Do not change a table for this. A fault is repaired, not calibrated away.")
	case r.Mechanical():
		s = append(s, "Do not change a table yet: a mechanical fault is among the causes that fit. Find and repair it first.")
	case lead.Cause == None && !r.Certain:
		s = append(s, "Do not change a table yet.")
	case lead.Cause == None && r.Certain:
		return append(s, "No table needs a change by these trims.")
	case !r.Certain:
		s = append(s, "Do not change a table yet: the drive does not tell which one would be right.")
	case lead.Cause == FlowScale && r.Together == nil:
		s = append(s, "Cause not confirmed until rail pressure and fuel are checked: see what looks alike.")
	}
	s = append(s, "Next: "+r.Settle+".")
	for _, d := range r.Doubts[min(1, len(r.Doubts)):min(3, len(r.Doubts))] {
		s = append(s, fmt.Sprintf("Also: %s. %s.", d.What, d.Settle))
	}
	if r.BanksDiffer() && lead.Cause != BankDifference {
		s = append(s, fmt.Sprintf("The banks' trims lie %.1f %% apart: %s.", math.Abs(r.Banks.Difference), BankDifference.entry().test))
	}
	return s
}
