package propose

import (
	"fmt"
	"math"

	"calsplice/interp/cells/tally"
	"calsplice/tables"
)

// Quantum is one step of a fuel trim in per cent (SAE J1979): no dead band is
// narrower.
const Quantum = 0.78125

// Options are what a person may set. Start from [Defaults]. None of them lets a proposal
// go against its evidence: they say how much of it counts, and how far one pass goes.
// Several small passes with a drive between them find what one large one overshoots, for
// trims, learned cells and fuel film all answer with a delay.
type Options struct {
	Target       string  // id of the table to correct; "" is the one that holds the certain cause
	Gain         float64 // share of the evidence that one pass corrects
	Bound        float64 // most that one pass changes: per cent of fuel, degrees of spark
	DeadBand     float64 // per cent of trim that is left alone
	MinCount     int     // samples that a cell needs
	MinVisits    int     // separate stays that a cell needs
	OnlyVisited  bool    // leave a flow curve's breakpoints without evidence alone
	DespiteCause bool    // edit where the cause is not certain, or the table does not hold it
	RailPressure float64 // kPa as a gauge reads it, relative to what the calibration says; 0 where not given

	none     bool // the trims need no cause, and so no correction
	measured bool // what a measured rail pressure explains is taken from the trims
}

// Defaults are the options of a fuel proposal.
func Defaults() Options {
	return Options{Gain: 1, Bound: 15, DeadBand: 1, MinCount: 30, MinVisits: 3}
}

// SparkDefaults are the options of a spark proposal: 2° a pass.
func SparkDefaults() Options {
	return Options{Gain: 1, Bound: 2, MinCount: 20, MinVisits: 2}
}

// Validate refuses options that no proposal can honour.
func (o Options) Validate() error {
	switch {
	case !(o.Gain > 0 && o.Gain <= 1):
		return fmt.Errorf("--gain is %s, expected above 0 and at most 1", tables.FormatValue(o.Gain))
	case !(o.Bound > 0 && o.Bound <= 50):
		return fmt.Errorf("--bound is %s, expected above 0 and at most 50", tables.FormatValue(o.Bound))
	case !(o.DeadBand >= 0 && o.DeadBand <= 100):
		return fmt.Errorf("--dead-band is %s, expected 0 to 100", tables.FormatValue(o.DeadBand))
	case o.MinCount < 1:
		return fmt.Errorf("--min-count is %d, expected 1 at least", o.MinCount)
	case o.MinVisits < 1:
		return fmt.Errorf("--min-visits is %d, expected 1 at least", o.MinVisits)
	}
	return nil
}

// What became of a cell. Every cell has one verdict, and each is counted, so that the
// counts add up to the table: nothing is left alone in silence.
const (
	Proposed        = "proposed"
	Inferred        = "inferred"
	NoSamples       = "no samples"
	FewSamples      = "too few samples"
	FewVisits       = "too few visits"
	InDeadBand      = "within the dead band"
	Uncertain       = "interval includes zero"
	NoCause         = "these trims need no cause"
	BelowResolution = "change below the table's resolution"
	AtTableLimit    = "already at or past the table's limit"
	NotPositive     = "value is not above zero"
)

// judge is the share of fuel missing in a cell that a proposal may act on, or
// the reason why there is none.
func (o *Options) judge(e *Evidence) (share float64, verdict string) {
	mean := float64(e.Mean)
	switch {
	case e.Count == 0:
		return 0, NoSamples
	case e.Count < o.MinCount:
		return 0, FewSamples
	case e.Visits < o.MinVisits:
		return 0, FewVisits
	}
	if verdict = o.asks(mean, tally.HalfInterval(float64(e.SE), float64(e.Visits))); verdict == Proposed {
		share = mean / 100 // of fuel: a trim of +5 % is 5 % of fuel that is missing
	}
	return share, verdict
}

// asks is whether an error in per cent, known to so much, asks for a correction, or why not.
func (o *Options) asks(percent, half float64) (verdict string) {
	switch {
	case math.Abs(percent) <= max(o.DeadBand, Quantum):
		return InDeadBand
	case !(math.Abs(percent) > half):
		return Uncertain
	case o.none:
		return NoCause
	}
	return Proposed
}

// bounded is the correction of one pass: the share times the gain, held inside
// the bound.
func (o *Options) bounded(share float64) (want, most float64) {
	most = o.most(share)
	want = share * o.Gain
	return min(max(want, -most), most), most
}

// most is the largest share by which one pass may change. Where more than 5 %
// of fuel would be removed it is half of what may be added: too lean breaks
// engines sooner than too rich. A smaller removal may not be rounded up to more
// than that either.
func (o *Options) most(share float64) float64 {
	const band = 0.05
	bound := o.Bound / 100
	switch {
	case share < -band:
		return bound / 2
	case share < 0:
		return min(bound, max(band, bound/2))
	}
	return bound
}

// correctionRule is how a table answers to missing fuel. Every rule of bounds and rounding
// is told in fuel, so that both kinds of table are held to the same.
type correctionRule int

const (
	divide   correctionRule = iota // a flow: the pulse is fuel over flow
	multiply                       // air: the fuel follows it
)

// fuel is the share by which a cell's change adds fuel.
func (s correctionRule) fuel(from, to float64) float64 {
	if s == divide {
		return from/to - 1
	}
	return to/from - 1
}

// apply is the value of a cell after a correction of a share, within most,
// the limits and the resolution, and never against the sign. Where
// nothing is left of the correction it returns the value as it is, and why.
func apply(t *tables.Table, from, share, most float64, s correctionRule) (to float64, verdict, note string) {
	if !(from > 0) {
		return from, NotPositive, ""
	}
	if t.Clamp(from) != from {
		return from, AtTableLimit, "" // bringing it back is a correction of another kind
	}
	// More fuel is a smaller flow in the table: the pulse is fuel over flow.
	// The bound holds for the fuel and for the value: dividing by 1 − 0.1 is a
	// change of 11 %, and multiplying by 1 − 0.1 one of 10 % in both.
	factor, least := 1+share, 1-most
	if s == divide {
		factor, least = 1/factor, 1/(1+most)
	}
	factor = min(max(factor, least), 1+most)
	to = from * factor
	if clamped := t.Clamp(to); clamped != to {
		to, note = clamped, "held at the table's limit"
	}
	to = settle(t, from, to, func(v float64) bool { return v > 0 && s.within(from, v, most) })
	switch {
	case (to-from)*(factor-1) > 0:
		return to, Proposed, note
	case note != "":
		return from, AtTableLimit, ""
	}
	return from, BelowResolution, ""
}

// settle rounds a changed value to the table's resolution, towards the old one where the
// nearest step would pass a limit of the table or is not allowed; it is the old one where
// the next is neither, for then there is no change to make.
func settle(t *tables.Table, from, to float64, allowed func(v float64) bool) float64 {
	near := t.Round(t.Clamp(to))
	for _, v := range []float64{near, t.Round(near + math.Copysign(t.Resolution(), from-to))} {
		if t.Clamp(v) == v && allowed(v) {
			return v
		}
	}
	return from
}

// within reports whether a value keeps the bound, both as fuel and as the value itself. A
// last digit of rounding does not pass for a step too far.
func (s correctionRule) within(from, v, most float64) bool {
	const ulps = 1e-12
	most += ulps
	return math.Abs(s.fuel(from, v)) <= most && math.Abs(v/from-1) <= most
}
