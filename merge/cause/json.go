package cause

import (
	"encoding/json"
	"math"

	"calsplice/tables"
)

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
