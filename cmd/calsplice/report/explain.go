package report

import (
	"fmt"
	"math"

	"calsplice/cmd/calsplice/page"
	"calsplice/merge/cause"
	"calsplice/tables"
)

// Explain is the causes of a drive's trims as a page.
func Explain(name string, r *cause.Result) *page.Page {
	p := &page.Page{Title: "Why the trims are what they are: " + tables.Clean(orNone(name)), Kind: "Causes, from a drive log",
		Lead: []string{r.Verdict}, Cautions: cautions(r.Cautions)}
	p.Lead = append(p.Lead, r.Orders()...)
	p.Sections = append(p.Sections, ranking(r))
	for i := range min(3, len(r.Found)) {
		p.Sections = append(p.Sections, finding(r, &r.Found[i]))
	}
	if len(r.Unexamined) > 0 {
		rows := &page.Rows{Caption: "Causes that this log cannot show", Head: []string{"Cause", "Why"}}
		for _, u := range r.Unexamined {
			rows.Lines = append(rows.Lines, []string{string(u.Cause), tables.Clean(u.Why)})
		}
		p.Sections = append(p.Sections, page.Section{Heading: "Not examined", Rows: rows})
	}
	p.Sections = append(p.Sections, drives(r))
	return p
}

func ranking(r *cause.Result) page.Section {
	rows := &page.Rows{Caption: "Causes, best first: the share of the trim that each explains in driving that its fit has not seen",
		Head: []string{"Cause", "Share", "Margin", "Largest trim"}, Numbers: []int{1, 2, 3}}
	for _, f := range r.Found {
		rows.Lines = append(rows.Lines, []string{string(f.Cause), fmt.Sprintf("%.0f %%", 100*f.Share), fmt.Sprintf("%+.0f %%", 100*f.Margin), fmt.Sprintf("%.1f %%", f.Effect)})
	}
	return page.Section{Heading: "Ranking", Rows: rows}
}

func finding(r *cause.Result, f *cause.Finding) page.Section {
	s := page.Section{Heading: string(f.Cause)}
	for _, e := range f.Evidence {
		s.Text = append(s.Text, tables.Clean(e))
	}
	for _, c := range f.Coefficients {
		s.Facts = append(s.Facts, page.Fact{Name: "Fitted", Value: fmt.Sprintf("%.3g %s (95 %%: %.3g to %.3g)", c.Value, c.Unit, c.Low, c.High)})
	}
	if f.Shape != "" {
		s.Facts = append(s.Facts, page.Fact{Name: "Shape", Value: f.Shape})
	}
	for _, a := range f.Alike {
		s.Facts = append(s.Facts, page.Fact{Name: "Looks alike", Value: a})
	}
	if f.Test != "" {
		s.Facts = append(s.Facts, page.Fact{Name: "Test", Value: f.Test})
	}
	if c, ok := fitPicture(r, f); ok {
		s.Charts = []page.Chart{c}
	}
	return s
}

// fitPicture draws the trims against air flow, or speed where none is known,
// and what the cause predicts of each.
func fitPicture(r *cause.Result, f *cause.Finding) (page.Chart, bool) {
	name, at := "air flow [g/s]", func(p *cause.Point) float64 { return p.AirFlow }
	if len(r.Points) == 0 {
		return page.Chart{}, false
	}
	if math.IsNaN(r.Points[0].AirFlow) {
		name, at = "engine speed [r/min]", func(p *cause.Point) float64 { return p.Speed }
	}
	seen := page.Series{Name: "seen", Class: "before"}
	fit := page.Series{Name: string(f.Cause), Class: "after"}
	// A picture of a few hundred points tells as much as one of thousands.
	step := max(len(r.Points)/400, 1)
	for i := 0; i < len(r.Points); i += step {
		pt := r.Points[i]
		if x := at(pt); !math.IsNaN(x) && !math.IsNaN(pt.Trim[0]) {
			seen.X, seen.Y = append(seen.X, x), append(seen.Y, pt.Trim[0])
			if f.Predicted != nil {
				fit.X, fit.Y = append(fit.X, x), append(fit.Y, f.Predicted[i][0])
			}
		}
	}
	series := []page.Series{seen}
	if len(fit.X) > 0 {
		series = append(series, fit)
	}
	return page.Scatter(fmt.Sprintf("Trim seen and as %s has it, against %s", f.Cause, name), name, "trim [%]", series), len(seen.X) > 0
}

func drives(r *cause.Result) page.Section {
	rows := &page.Rows{Caption: "Rows of each log", Head: []string{"Log", "Read", "Used", "Left out"}, Numbers: []int{1, 2}}
	for _, l := range r.Logs {
		out := ""
		for i, d := range l.Dropped {
			if i > 0 {
				out += ", "
			}
			out += fmt.Sprintf("%d %s", d.Count, d.Reason)
		}
		rows.Lines = append(rows.Lines, []string{tables.Clean(l.Name), fmt.Sprint(l.Rows), fmt.Sprint(l.Kept), tables.Clean(out)})
	}
	return page.Section{Heading: "The drive", Rows: rows, Facts: []page.Fact{
		{Name: "Settled time with trims within ±5 %", Value: fmt.Sprintf("%.0f %%", 100*r.Share5)},
		{Name: "Settled samples with a trim at its limit", Value: fmt.Sprintf("%.0f %%", 100*r.AtLimit)}}}
}
