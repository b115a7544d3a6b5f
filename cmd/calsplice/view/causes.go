package view

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"calsplice/merge/cause"
	"calsplice/merge/cause/knock"
	"calsplice/tables"
)

// Explanation is why trims and spark are what they are. Trims is nil where no log
// has any, Knock where Silent says why there is none.
type Explanation struct {
	Trims  *cause.Result
	Knock  *knock.Result
	Silent string
}

const noTrims = "Trims: not explained: the log has no fuel trims"

// Finds reports whether trims or spark need something done.
func (e *Explanation) Finds() bool {
	if e.Trims != nil && e.Trims.Leading().Cause != cause.None {
		return true
	}
	return e.Knock != nil && e.Knock.Leading().Cause != knock.None && e.Knock.Leading().Cause != knock.FalseKnock
}

// MarshalJSON is the trims' result with knock as one more key.
func (e *Explanation) MarshalJSON() ([]byte, error) {
	trims := fmt.Appendf(nil, `{"verdict":%q,"certain":false,"changed_at":null,"causes":[],"together":null}`, noTrims)
	var err error
	if e.Trims != nil {
		if trims, err = json.Marshal(e.Trims); err != nil {
			return nil, err
		}
	}
	k, err := json.Marshal(e.Knock)
	return slices.Concat(trims[:len(trims)-1], []byte(`,"knock":`), k, []byte("}")), err
}

// Causes is why the trims of a drive are what they are, and why spark is pulled: what
// to do and not to do first, then the ranking, then what it rests on.
func Causes(name string, e *Explanation) *View {
	name = cmp.Or(name, "a calibration without a name")
	v := &View{Title: "Why spark is pulled: " + name, Kind: "Causes, from a drive log", Standing: true, Offers: true, Lead: []string{noTrims}}
	if r := e.Trims; r != nil {
		v.Title, v.Lead, v.Cautions = "Why the trims are what they are: "+name, r.NextSteps(), r.Cautions
		v.Verdict, v.Opening = sentence(r.Verdict), []string{"Result: " + r.Verdict}
		v.trims(r)
	}
	v.knock(e.Knock, e.Silent)
	return v
}

func (v *View) trims(r *cause.Result) {
	v.add(ranking(r))
	for i := range min(3, len(r.Found)) {
		p := findingPart(r, &r.Found[i])
		if i > 1 || r.Found[i].Share < 0.05 {
			p.On = OnPages
		}
		v.Parts = append(v.Parts, p)
	}
	if pair := r.Together; pair != nil {
		v.add(Part{Text: []string{fmt.Sprintf("Two at once: %s with %s explain %.0f %%, %.0f %% more than any cause alone.",
			pair.Causes[0], pair.Causes[1], 100*pair.Share, 100*pair.Gain)}})
	}
	v.add(bandsPart(r), drivePart(r))
}

func ranking(r *cause.Result) Part {
	rows := NewRows("Cause", "#Share", "#Margin", "#Largest trim")
	for _, f := range r.Found {
		effect := ""
		if f.Cause != cause.None {
			effect = tables.Fixed(f.Effect, 1) + " %"
		}
		rows.Line(string(f.Cause), fmt.Sprintf("%.0f %%", 100*f.Share), tables.Signed(100*f.Margin, 0)+" %", effect)
	}
	return Part{Heading: "Ranking", Rows: rows,
		Note: "Share: of the trim that the cause explains in parts of the drive that its fit has not used; for none, that needs no cause."}
}

func findingPart(r *cause.Result, f *cause.Finding) Part {
	p := listPart(fmt.Sprintf("%s: %s", f.Cause, f.Cause.Title()), f.Evidence)
	p.Charts = fitChart(r, f)
	for _, c := range f.Coefficients {
		p.fact("Fitted", fmt.Sprintf("%s%s (95 %% interval %s to %s)", tables.Digits(c.Value, 3), blankUnit(c.Unit), tables.Digits(c.Low, 3), tables.Digits(c.High, 3)))
	}
	p.fact("Shape", f.Shape)
	p.fact("Trims alone cannot tell it from", strings.Join(f.Alike, "; "))
	if f.Cause != cause.None {
		p.fact("Test", f.Test)
	}
	return p
}

// fitChart draws the trims against air flow, or speed where none is known, and
// what the cause predicts of each.
func fitChart(r *cause.Result, f *cause.Finding) []Chart {
	if len(r.Points) == 0 {
		return nil
	}
	name, at := "air flow [g/s]", func(p *cause.Point) float64 { return p.AirFlow }
	if math.IsNaN(r.Points[0].AirFlow) {
		name, at = "engine speed [r/min]", func(p *cause.Point) float64 { return p.Speed }
	}
	measured := Series{Name: "measured", Class: "before"}
	fit := Series{Name: string(f.Cause), Class: "after"}
	// A picture of a few hundred points tells as much as one of thousands.
	step := max(len(r.Points)/400, 1)
	for i := 0; i < len(r.Points); i += step {
		pt := r.Points[i]
		if x := at(pt); !math.IsNaN(x) && !math.IsNaN(pt.Trim[0]) {
			measured.X, measured.Y = append(measured.X, x), append(measured.Y, pt.Trim[0])
			if f.Predicted != nil {
				fit.X, fit.Y = append(fit.X, x), append(fit.Y, f.Predicted[i][0])
			}
		}
	}
	if len(measured.X) == 0 {
		return nil
	}
	panel := []Series{measured}
	if len(fit.X) > 0 {
		panel = append(panel, fit)
	}
	return []Chart{{Title: fmt.Sprintf("Trim as measured and as %s predicts it, against %s", f.Cause, name), XName: name, YName: "trim [%]", Points: true, Series: panel}}
}

// bandsPart shows the trims along what separates causes best, beside what the
// leading cause predicts.
func bandsPart(r *cause.Result) Part {
	quantity, unit, bands := r.Bands()
	if len(bands) < 2 {
		return Part{}
	}
	percent := func(v float64) string { return maybe(v, withSign(1, " %")) }
	head := []string{quantity + " [" + unit + "]", "#Time [s]", "#Trim", "#Predicted"}
	two := !math.IsNaN(bands[0].Seen[1])
	if two {
		head = append(head[:2], "#Bank 1", "#Predicted", "#Bank 2", "#Predicted")
	}
	rows := NewRows(head...)
	for _, b := range bands {
		line := []string{fmt.Sprintf("%s to %s", tables.Digits(b.Low, 4), tables.Digits(b.High, 4)), tables.Fixed(b.Seconds, 0), percent(b.Seen[0]), percent(b.Predicted[0])}
		if two {
			line = append(line, percent(b.Seen[1]), percent(b.Predicted[1]))
		}
		rows.Line(line...)
	}
	return Part{Heading: "Trims along the " + quantity, Rows: rows}
}

func drivePart(r *cause.Result) Part {
	p := Part{Heading: "The drive", Facts: []Fact{
		{"Trims within ±5 %", fmt.Sprintf("%.0f %% of the settled time (commonly accepted as normal)", 100*r.Share5)},
		{"Trims at their limit", fmt.Sprintf("%.0f %% of the settled samples", 100*r.AtLimit)}}}
	if b := r.Banks; b != nil {
		p.fact("Bank 2's trim less bank 1's", tables.Signed(b.Difference, 1)+" %")
	}
	for _, u := range r.Unexamined {
		p.fact("Not examined: "+string(u.Cause), u.Why)
	}
	rows := NewRows("Log", "#Rows", "#Used", "Not used, because")
	for _, l := range r.Logs {
		var why words
		for _, d := range l.Dropped {
			why.when(true, "%d %s", d.Count, d.Reason)
		}
		rows.Line(l.Name, fmt.Sprint(l.Rows), fmt.Sprint(l.Kept), strings.Join(why, ", "))
	}
	p.Rows = rows
	return p
}

// sentence is words with a capital and a full stop.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	r, n := utf8.DecodeRuneInString(s)
	s = string(unicode.ToUpper(r)) + s[n:]
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

// knock adds why spark is pulled, or, where k is nil, why that is not known.
func (v *View) knock(k *knock.Result, silent string) {
	if k == nil {
		v.Lead = append(v.Lead, "Knock: not explained: "+silent)
		return
	}
	knock, lead := "Knock: "+k.Verdict, words(v.Lead)
	if !k.Nothing() && v.Verdict != "" {
		v.Verdict, v.Opening = v.Verdict+" "+sentence(knock), append(v.Opening, knock)
	} else {
		lead = append(lead, knock)
	}
	lead.when(k.Next() != "", "Next: %s", k.Next())
	v.Lead = append(lead, k.Inspect...)
	rows := NewRows("Cause of knock", "#Share")
	for _, f := range k.Causes {
		rows.Line(string(f.Cause), fmt.Sprintf("%.0f %%", 100*f.Share))
	}
	p := Part{Heading: "Why spark is pulled", Rows: rows, Facts: knockFacts(k),
		Note: "Share: of the needed retard that the cause explains, less what its fit costs; for false knock, what no real cause explains."}
	v.add(p, knockFinding(&k.Causes[0]))
	if k.Causes[1].Share > 0.3 && !k.Certain {
		v.Parts = append(v.Parts, knockFinding(&k.Causes[1]))
	}
	v.Cautions = slices.Concat(k.Notes, v.Cautions)
}

func knockFacts(k *knock.Result) []Fact {
	list := []Fact{{"Events over 1 deg", fmt.Sprintf("%d, of which %d after a throttle lift; peak %s deg", k.Events, k.Lifts, tables.Fixed(k.Peak, 1))}}
	if t := k.Torque; t != nil {
		list = append(list, Fact{"Torque given away under load where spark was pulled", fmt.Sprintf("about %s %% at the mean of %s deg, %s %% at the worst, %s deg (%s)",
			tables.Fixed(t.Lost, 1), tables.Fixed(t.Retard, 1), tables.Fixed(t.Most, 1), tables.Fixed(t.Worst, 1), t.Source)})
	}
	return list
}

func knockFinding(f *knock.Finding) Part {
	p := listPart(fmt.Sprintf("%s: %s", f.Cause, f.Title), f.Evidence)
	p.fact("Retard alone cannot tell it from", strings.Join(f.Alike, "; "))
	if f.Cause != knock.None {
		p.fact("Test", f.Test)
	}
	return p
}
