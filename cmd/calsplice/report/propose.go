package report

import (
	"fmt"
	"strings"

	"calsplice/cmd/calsplice/page"
	"calsplice/merge/propose"
	"calsplice/tables"
)

// Proposal is a proposal as a page: what is proposed and why, and cell by cell
// what is not and why not. before is the calibration, after the same with the
// proposal applied.
func Proposal(before, after *tables.Calibration, pr *propose.Proposal) *page.Page {
	r := &pr.Report
	p := &page.Page{Title: "Proposal for " + titleOf(before), Kind: r.Command + ", table " + r.Target,
		Lead: proposalLead(r), Cautions: cautions(r.Cautions)}
	Changes(p, before, after, pr.Changes)
	p.Sections = append(p.Sections, verdicts(r))
	if len(r.Notes) > 0 {
		p.Sections = append(p.Sections, page.Section{Heading: "Remarks", Text: cleaned(r.Notes)})
	}
	if len(r.Next) > 0 {
		s := page.Section{Heading: "After applying"}
		for i, n := range r.Next {
			s.Facts = append(s.Facts, page.Fact{Name: fmt.Sprintf("%d.", i+1), Value: tables.Clean(n)})
		}
		p.Sections = append(p.Sections, s)
	}
	return p
}

func proposalLead(r *propose.Report) []string {
	lead := cleaned(r.First)
	switch len(r.Edits) {
	case 0:
		lead = append(lead, "Nothing is proposed: the evidence asks for no correction.")
	case 1:
		lead = append(lead, "One value is proposed.")
	default:
		lead = append(lead, fmt.Sprintf("%d values are proposed.", len(r.Edits)))
	}
	if w := r.Within5; w != nil {
		lead = append(lead, fmt.Sprintf("Now %.0f %% of the driving time has trims within ±5 %%, commonly accepted as normal; the mean size is %.2f %%.", 100*w.Time, w.Mean))
	}
	if w := r.After; w != nil {
		lead = append(lead, fmt.Sprintf("Predicted afterwards: %.0f %% of the time, mean size %.2f %%. Only another drive proves it.", 100*w.Time, w.Mean))
	}
	if f := r.FullLoad; f != nil {
		line := fmt.Sprintf("At full load (%s) the edits change the delivered fuel by %+.1f %%", tables.Clean(f.Place), f.Table)
		if f.Change != nil {
			line += fmt.Sprintf("; against today, once the learned trim is cleared, by %+.1f %%", *f.Change)
		}
		lead = append(lead, line+".")
	}
	return lead
}

// verdicts lists every cell with evidence or an edit.
func verdicts(r *propose.Report) page.Section {
	s := page.Section{Heading: "Cell by cell"}
	for _, c := range r.Counts {
		s.Facts = append(s.Facts, page.Fact{Name: c.Verdict, Value: fmt.Sprint(c.Cells)})
	}
	rows := &page.Rows{Caption: "Every cell with evidence", Numbers: []int{1, 2, 3, 4, 5, 6},
		Head: []string{"Cell", "Before", "After", "Evidence [" + r.In + "]", "Samples", "Visits", "Predicted [" + r.In + "]", "Verdict"}}
	for _, c := range r.Cells {
		if c.Count == 0 && tables.SameBit(c.From, c.To) {
			continue
		}
		evidence, predicted, verdict := "–", "–", c.Verdict
		if c.Mean != nil && c.Count > 0 {
			evidence = tables.Signed(*c.Mean, 2)
		}
		if c.Predicted != nil {
			predicted = tables.Signed(*c.Predicted, 2)
		}
		switch note := tables.Clean(c.Note); {
		case strings.HasPrefix(note, verdict+" "): // it says the word itself
			verdict = note
		case note != "":
			verdict += ": " + note
		}
		rows.Lines = append(rows.Lines, []string{fmt.Sprintf("%s [%d, %d]", c.Table, c.At[0], c.At[1]), tables.FormatValue(c.From),
			tables.FormatValue(c.To), evidence, fmt.Sprint(c.Count), fmt.Sprint(c.Visits), predicted, verdict})
	}
	if len(rows.Lines) > 0 {
		s.Rows = rows
	}
	return s
}

func cleaned(list []string) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = tables.Clean(s)
	}
	return out
}
