package cause

import (
	"encoding/json"
	"math"
	"slices"

	"calsplice/interp/drive"
	"calsplice/tables"
	"calsplice/tables/drivelog"
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

	changedIn int            // of the logs
	clock     drivelog.Clock // of that
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

// The JSON of a [Result], part by part: a form of its own, so that a field can be renamed
// here without a change of what programs read, and so that NaN has a spelling.
type jsonCoefficient struct {
	Value tables.Number `json:"value"`
	Low   tables.Number `json:"low"`
	High  tables.Number `json:"high"`
	Unit  string        `json:"unit"`
}
type jsonFound struct {
	Cause        Cause             `json:"cause"`
	Share        tables.Number     `json:"share"`
	Margin       tables.Number     `json:"margin"`
	Mechanical   bool              `json:"mechanical"`
	LargestTrim  tables.Number     `json:"largest_trim"`
	Shape        string            `json:"shape,omitempty"`
	OwnLimit     tables.Number     `json:"duty_at_own_limit,omitempty"`
	Coefficients []jsonCoefficient `json:"coefficients,omitempty"`
	Alike        []string          `json:"alike"`
	Evidence     []string          `json:"evidence"`
	Test         string            `json:"test"`
}
type jsonPair struct {
	Causes [2]Cause      `json:"causes"`
	Share  tables.Number `json:"share"`
	Gain   tables.Number `json:"gain"`
}
type jsonBanks struct {
	Difference tables.Number `json:"difference"`
	SE         tables.Number `json:"se"`
	Differ     bool          `json:"differ"`
}
type jsonDropped struct {
	Reason string `json:"reason"`
	Count  int    `json:"count"`
}
type jsonSource struct {
	Name    string        `json:"name"`
	Rows    int           `json:"rows"`
	Kept    int           `json:"kept"`
	Dropped []jsonDropped `json:"dropped"`
}
type jsonBand struct {
	Low       tables.Number   `json:"low"`
	High      tables.Number   `json:"high"`
	Seconds   tables.Number   `json:"seconds"`
	Trim      []tables.Number `json:"trim"`
	Predicted []tables.Number `json:"predicted"`
}
type jsonAlong struct {
	Quantity string     `json:"quantity"`
	Unit     string     `json:"unit"`
	Bands    []jsonBand `json:"bands"`
}

type jsonResult struct {
	Verdict     string        `json:"verdict"`
	Certain     bool          `json:"certain"`
	ChangedAt   tables.Number `json:"changed_at"`
	Doubts      []Doubt       `json:"doubts"`
	Mechanical  bool          `json:"mechanical"`
	LeanInBoost bool          `json:"lean_in_boost"`
	Causes      []jsonFound   `json:"causes"`
	Together    *jsonPair     `json:"together"`
	Unexamined  []Unexamined  `json:"not_examined"`
	Banks       *jsonBanks    `json:"banks"`
	Within5     tables.Number `json:"within_5"`
	AtLimit     tables.Number `json:"at_limit"`
	Seen        jsonAlong     `json:"seen"`
	Cautions    []string      `json:"cautions"`
	Source      []jsonSource  `json:"source"`
}

// MarshalJSON writes a result for machines: `causes` best first, each with
// `cause`, `share`, `margin`, `alike`, `evidence` and `test`; whether the drive
// could tell (`certain`); two causes together; what was not examined; and the
// numbers behind it.
func (r *Result) MarshalJSON() ([]byte, error) {
	out := jsonResult{Verdict: r.Verdict, Certain: r.Certain, ChangedAt: number(r.ChangedAt), Doubts: append([]Doubt{}, r.Doubts...), Mechanical: r.Mechanical(), LeanInBoost: r.LeanInBoost(),
		Within5: number(r.Share5), AtLimit: number(r.AtLimit), Unexamined: append([]Unexamined{}, r.Unexamined...), Cautions: append([]string{}, r.Cautions...)}
	for _, f := range r.Found {
		j := jsonFound{f.Cause, number(f.Share), number(f.Margin), f.Cause.Mechanical(), number(f.Effect), f.Shape, number(f.OwnLimit), nil, f.Alike, f.Evidence, f.Test}
		for _, c := range f.Coefficients {
			j.Coefficients = append(j.Coefficients, jsonCoefficient{number(c.Value), number(c.Low), number(c.High), c.Unit})
		}
		out.Causes = append(out.Causes, j)
	}
	if p := r.Together; p != nil {
		out.Together = &jsonPair{p.Causes, number(p.Share), number(p.Gain)}
	}
	if b := r.Banks; b != nil {
		out.Banks = &jsonBanks{number(b.Difference), number(b.SE), r.BanksDiffer()}
	}
	for _, s := range r.Logs {
		j := jsonSource{s.Name, s.Rows, s.Kept, []jsonDropped{}}
		for _, d := range s.Dropped {
			j.Dropped = append(j.Dropped, jsonDropped(d))
		}
		out.Source = append(out.Source, j)
	}
	quantity, unit, list := r.Bands()
	out.Seen = jsonAlong{quantity, unit, []jsonBand{}}
	for _, b := range list {
		j := jsonBand{number(b.Low), number(b.High), number(b.Seconds), nil, nil}
		for bank := range b.Seen {
			if b.Seen[bank] == b.Seen[bank] {
				j.Trim, j.Predicted = append(j.Trim, number(b.Seen[bank])), append(j.Predicted, number(b.Predicted[bank]))
			}
		}
		out.Seen.Bands = append(out.Seen.Bands, j)
	}
	return json.Marshal(out)
}

// number is a measurement in JSON: four digits behind the point, so that the
// last bits of one processor's arithmetic are not printed; null where there is
// none.
func number(v float64) tables.Number { return tables.Number(math.Round(v*1e4)/1e4 + 0) }
