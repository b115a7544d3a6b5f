package cause

import (
	"encoding/json"
	"math"
)

// MarshalJSON writes a result for machines: `causes` best first, each with
// `cause`, `share`, `margin`, `alike`, `evidence` and `test`; whether the drive
// could tell (`certain`); two causes together; what was not examined; and the
// numbers behind it.
func (r *Result) MarshalJSON() ([]byte, error) {
	type coefficient struct {
		Value number `json:"value"`
		Low   number `json:"low"`
		High  number `json:"high"`
		Unit  string `json:"unit"`
	}
	type found struct {
		Cause        Cause         `json:"cause"`
		Share        number        `json:"share"`
		Margin       number        `json:"margin"`
		Mechanical   bool          `json:"mechanical"`
		LargestTrim  number        `json:"largest_trim"`
		Shape        string        `json:"shape,omitempty"`
		Coefficients []coefficient `json:"coefficients,omitempty"`
		Alike        []string      `json:"alike"`
		Evidence     []string      `json:"evidence"`
		Test         string        `json:"test"`
	}
	type pair struct {
		Causes [2]Cause `json:"causes"`
		Share  number   `json:"share"`
		Gain   number   `json:"gain"`
	}
	type unexamined struct {
		Cause Cause  `json:"cause"`
		Why   string `json:"why"`
	}
	type banks struct {
		Difference number `json:"difference"`
		SE         number `json:"se"`
		Differ     bool   `json:"differ"`
	}
	type dropped struct {
		Reason string `json:"reason"`
		Count  int    `json:"count"`
	}
	type source struct {
		Name    string    `json:"name"`
		Rows    int       `json:"rows"`
		Kept    int       `json:"kept"`
		Dropped []dropped `json:"dropped"`
	}
	type band struct {
		Low       number   `json:"low"`
		High      number   `json:"high"`
		Seconds   number   `json:"seconds"`
		Trim      []number `json:"trim"`
		Predicted []number `json:"predicted"`
	}
	type along struct {
		Quantity string `json:"quantity"`
		Unit     string `json:"unit"`
		Bands    []band `json:"bands"`
	}
	out := struct {
		Verdict     string       `json:"verdict"`
		Certain     bool         `json:"certain"`
		Mechanical  bool         `json:"mechanical"`
		LeanInBoost bool         `json:"lean_in_boost"`
		Causes      []found      `json:"causes"`
		Together    *pair        `json:"together"`
		Unexamined  []unexamined `json:"not_examined"`
		Banks       *banks       `json:"banks"`
		Within5     number       `json:"within_5"`
		AtLimit     number       `json:"at_limit"`
		Seen        along        `json:"seen"`
		Cautions    []string     `json:"cautions"`
		Source      []source     `json:"source"`
	}{Verdict: r.Verdict, Certain: r.Certain, Mechanical: r.Mechanical(), LeanInBoost: r.LeanInBoost(),
		Within5: number(r.Share5), AtLimit: number(r.AtLimit), Unexamined: []unexamined{}, Cautions: r.Cautions}
	for _, f := range r.Found {
		j := found{f.Cause, number(f.Share), number(f.Margin), f.Cause.Mechanical(), number(f.Effect), f.Shape, nil, f.Alike, f.Evidence, f.Test}
		for _, c := range f.Coefficients {
			j.Coefficients = append(j.Coefficients, coefficient{number(c.Value), number(c.Low), number(c.High), c.Unit})
		}
		out.Causes = append(out.Causes, j)
	}
	if p := r.Together; p != nil {
		out.Together = &pair{p.Causes, number(p.Share), number(p.Gain)}
	}
	for _, u := range r.Unexamined {
		out.Unexamined = append(out.Unexamined, unexamined{u.Cause, u.Why})
	}
	if b := r.Banks; b != nil {
		out.Banks = &banks{number(b.Difference), number(b.SE), r.BanksDiffer()}
	}
	for _, s := range r.Logs {
		j := source{s.Name, s.Rows, s.Kept, []dropped{}}
		for _, d := range s.Dropped {
			j.Dropped = append(j.Dropped, dropped{d.Reason, d.Count})
		}
		out.Source = append(out.Source, j)
	}
	quantity, unit, list := r.Bands()
	out.Seen = along{quantity, unit, []band{}}
	for _, b := range list {
		j := band{number(b.Low), number(b.High), number(b.Seconds), nil, nil}
		for bank := range b.Seen {
			if b.Seen[bank] == b.Seen[bank] {
				j.Trim, j.Predicted = append(j.Trim, number(b.Seen[bank])), append(j.Predicted, number(b.Predicted[bank]))
			}
		}
		out.Seen.Bands = append(out.Seen.Bands, j)
	}
	if out.Cautions == nil {
		out.Cautions = []string{}
	}
	return json.Marshal(out)
}

// number is a measurement in JSON: four digits behind the point, so that the
// last bits of one processor's arithmetic are not printed; null where there is
// none.
type number float64

func (n number) MarshalJSON() ([]byte, error) {
	v := float64(n)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(math.Round(v*1e4)/1e4 + 0)
}
