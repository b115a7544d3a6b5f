package cause

import (
	"math"
	"slices"

	"calsplice/interp/drive"
	"calsplice/tables"
)

// Result is what a drive says about causes: a ranking, whether it is a promise, what keeps
// it from being one, and the numbers behind it. Nothing in it is decided anew later: text,
// page, JSON and the gate of proposals all read this.
type Result struct {
	Found      []Finding // best first, none among them
	Unexamined []Unexamined
	Together   *Pair // nil where one cause does, or none is wanted
	// Certain is false where the drive cannot tell: the leading cause is then a
	// suspicion, and its test the next thing to do.
	Certain   bool
	Doubts    []Doubt // why not, the gravest first
	ChangedAt float64 // s of the log's own clock from which the same places differ; NaN where they do not
	Rail      bool    // a measured rail pressure was taken from the trims
	Foreign   float64 // share of the settled time in which the calibration would have commanded other pulses

	Verdict  string       // one sentence
	Settle   string       // the drive, gauge reading or test that would settle what is open, or confirm what is not
	Cautions tables.Notes // what was assumed, left out or found beside
	Banks    *Banks       // nil with one bank

	Points  []*Point
	Share5  float64         // of settled time in which every bank's trim is within ±5 %
	AtLimit float64         // share of settled samples with a trim at its limit
	Boost   bool            // the drive, or the calibration, reaches boost
	Logs    []tables.Source // and what of each was used
}

// Banks is how far bank 2's trim lies over bank 1's, %.
type Banks struct{ Difference, SE float64 }

// Leading is the best cause.
func (r *Result) Leading() *Finding { return &r.Found[0] }

// Mechanical reports whether tables must wait: the leading cause is a fault to
// repair, or the banks differ by more than a table that both share can mend.
func (r *Result) Mechanical() bool {
	pair := r.Together != nil && slices.ContainsFunc(r.Together.Causes[:], Cause.Mechanical)
	return pair || r.Leading().Cause.Mechanical() || r.BanksDiffer()
}

// BanksDiffer reports whether the banks' trims lie 3 % or more apart, surely.
// One table feeds both banks (3 % is common practice, no source).
func (r *Result) BanksDiffer() bool {
	b := r.Banks
	return b != nil && math.Abs(b.Difference) >= 3 && math.Abs(b.Difference) > 3*b.SE
}

// LeanInBoost reports whether the regulator seems to have lost the manifold on
// an engine that sees boost: there the mixture is lean, and no table may hide
// it.
func (r *Result) LeanInBoost() bool {
	lost := func(f Finding) bool { return f.Cause == PressureReference && f.lostHose }
	pair := r.Together != nil && slices.Contains(r.Together.Causes[:], PressureReference) && slices.ContainsFunc(r.Found, lost)
	return r.Boost && (pair || lost(*r.Leading()))
}

// Band is the settled driving within a range of one quantity, with the trims
// seen there and those that the leading cause predicts.
type Band struct {
	Low, High float64
	Seconds   float64
	Seen      [2]float64 // %, of each bank; NaN where there is none
	Predicted [2]float64 // NaN where none leads
}

// Bands sorts the drive into ranges of what separates causes best: air flow, or
// else manifold pressure or speed. Each range is twice the one before it for air
// flow and of even width otherwise.
func (r *Result) Bands() (quantity, unit string, bands []Band) {
	of := func(p *Point) float64 { return p.AirFlow }
	quantity, unit = "air flow", "g/s"
	step := func(v float64) float64 { return math.Floor(math.Log2(v)) }
	edge := math.Exp2
	if !r.all(of) {
		of, quantity, unit = func(p *Point) float64 { return p.Manifold }, "manifold pressure", "kPa"
		step, edge = func(v float64) float64 { return math.Floor(v / 20) }, func(k float64) float64 { return 20 * k }
	}
	if !r.all(of) {
		of, quantity, unit = func(p *Point) float64 { return p.Speed }, "engine speed", "r/min"
		step, edge = func(v float64) float64 { return math.Floor(v / 750) }, func(k float64) float64 { return 750 * k }
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range r.Points {
		low, high = min(low, step(of(p))), max(high, step(of(p)))
	}
	for k := low; k <= high && len(bands) < 32; k++ {
		b := Band{Low: edge(k), High: edge(k + 1)}
		var seen, predicted [2]drive.Mean
		for i, p := range r.Points {
			if step(of(p)) != k {
				continue
			}
			b.Seconds += p.Seconds
			for bank := range seen {
				seen[bank].Add(p.Trim[bank], p.Seconds)
				if f := r.Predicted(); f != nil {
					predicted[bank].Add(f[i][bank], p.Seconds)
				}
			}
		}
		for bank := range seen {
			b.Seen[bank], b.Predicted[bank] = seen[bank].Value(), predicted[bank].Value()
		}
		if b.Seconds > 0 {
			bands = append(bands, b)
		}
	}
	return quantity, unit, bands
}

// Predicted is the trim of each point and bank, %, by the leading cause, or by
// two where two are named; nil where none leads.
func (r *Result) Predicted() [][2]float64 {
	if r.Together != nil {
		return r.Together.Predicted
	}
	return r.Leading().Predicted
}

// all reports whether every point has a quantity.
func (r *Result) all(of func(p *Point) float64) bool {
	for _, p := range r.Points {
		if v := of(p); !(v > 0) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}
