package view

import (
	"fmt"
	"math"
	"strings"

	"calsplice/merge/propose"
	"calsplice/tables"
)

// Proposal is what a drive proposes for a calibration: what stands before any
// number, the edits with their evidence, and what was left alone and why. after
// is the calibration with the proposal applied.
func Proposal(before, after *tables.Calibration, pr *propose.Proposal) *View {
	r := &pr.Report
	v := &View{Title: "Proposal for " + titleOf(before), Kind: r.Command + ", table " + r.Target, Standing: true, Offers: len(r.Edits) > 0, Cautions: r.Cautions}
	v.Lead = append(v.Lead, r.First...)
	v.Lead = append(v.Lead, fmt.Sprintf("%s: %s, table %s", r.Command, tables.Plural(len(r.Edits), "edit"), withUnit(r.Target, r.Unit)))
	if len(r.Edits) > 0 {
		v.Decide = decideEdits(before, after, pr.Changes)
		if f := r.FullLoad; f != nil {
			v.Decide.FullLoad = v.Decide.fullLoad(before, f.At, f.Place, f.Learned)
		}
		v.Verdict = proposalVerdict(v.Decide, r)
	} else {
		v.Verdict = "Nothing is proposed."
	}
	v.add(effectPart(v.Decide, r))
	if r.Fit != nil {
		v.add(fittedPart(r.Fit))
	}
	edited := func(c *propose.Cell) bool { return !tables.SameBit(c.From, c.To) }
	v.add(cellsPart("Edits", OnTerminals, before, r, edited))
	v.add(v.Decide.changes(before, after, pr.Changes)...)
	v.add(verdictsPart(r), cellsPart("Evidence", OnPages, before, r, func(c *propose.Cell) bool { return c.Count > 0 || edited(c) }),
		listPart("Notes", r.Notes), listPart("After applying", r.Next))
	return v
}

// effectPart says how the trims stand now and are predicted to, what becomes of the
// fuel where no trim reaches, and the largest steps that the edits leave.
func effectPart(d *Decide, r *propose.Report) Part {
	p := Part{Heading: "How the trims stand"}
	if len(r.Edits) > 0 {
		p.Heading = "What the edits do"
	}
	within := func(w *propose.Within) string {
		return fmt.Sprintf("%.0f %% of cells, %.0f %% of time; mean size %.2f %%", 100*w.Cells, 100*w.Time, w.Mean)
	}
	if r.Within5 != nil {
		p.fact("Within ±5 % now", within(r.Within5))
	}
	if r.After != nil && len(r.Edits) > 0 {
		p.fact("Within ±5 % predicted", within(r.After))
	}
	if f := r.FullLoad; f != nil {
		s := fmt.Sprintf("%s: %s %% by the edits", f.Place, tables.Signed(f.Table, 1))
		if f.Learned.Known() {
			s += fmt.Sprintf("; against %s of %s %%, once cleared: %s %%", f.Against, tables.Signed(float64(f.Learned), 1), tables.Signed(float64(f.Change), 1))
		}
		p.fact("Delivered fuel at full load", s)
	}
	if n, change := unvisited(r); n > 0 {
		p.fact(fmt.Sprintf("Delivered fuel at %s without evidence", tables.Plural(n, "breakpoint")), change)
	}
	p.Facts = append(p.Facts, d.steps()...)
	return p
}

// unvisited counts the target's cells without evidence and says how their fuel
// changes without any trim.
func unvisited(r *propose.Report) (n int, change string) {
	by := sizes()
	for i := range r.Cells {
		if c := &r.Cells[i]; c.Table == r.Target && c.Delivered.Known() {
			n++
			by.add(float64(c.Delivered))
		}
	}
	if n == 0 || by == (span{}) {
		return n, "unchanged"
	}
	return n, by.signed(1, " %")
}

func fittedPart(f *propose.Fit) Part {
	p := Part{Heading: "The fit", Facts: []Fact{{"From", fmt.Sprintf("%s in %s, effective pulses of %s to %s ms, residual %.2f %% (one standard deviation)",
		tables.Plural(f.Rows, "mean"), tables.Plural(f.Visits, "visit"), tables.Fixed(f.Pulse[0], 1), tables.Fixed(f.Pulse[1], 1), f.Residual)}},
		Rows: NewRows("Error of", "#At", "#Value", "95 % interval")}
	bound := func(v tables.Number) string { return maybe(float64(v), withSign(3, "")) }
	line := func(what, unit string, v *propose.Fitted) {
		at := "all"
		if v.At.Known() {
			at = tables.Shown(float64(v.At))
		}
		p.Rows.Line(what, at, tables.Signed(v.V, 3)+" "+unit, bound(v.Low)+" to "+bound(v.High))
	}
	for i := range f.Flow {
		line("flow", "%", &f.Flow[i])
	}
	for i := range f.Offset {
		line("offset", "ms", &f.Offset[i])
	}
	if f.Slope != nil {
		line("offset per 100 kPa", "ms", f.Slope)
	}
	for _, s := range f.Dropped {
		p.Text = append(p.Text, s+": the drive shows no error beyond its interval and dead band")
	}
	return p
}

// cellsPart lists cells by their breakpoints, with what each rests on.
func cellsPart(heading string, on Medium, before *tables.Calibration, r *propose.Report, listed func(c *propose.Cell) bool) Part {
	evidence, last, note := "#Evidence", "#Predicted", "± is one standard error."
	spark := r.Command == "propose spark"
	if spark {
		evidence, last, note = "#Mean", "#p95", ""
	}
	rows := NewRows("Cell", "#Before", "#After", withUnit(evidence, r.In), "#Samples", "#Visits", withUnit(last, r.In), "Verdict")
	brief := on == OnTerminals
	if !brief {
		rows.Caption = "Every cell with evidence"
	}
	for i := range r.Cells {
		c := &r.Cells[i]
		if !listed(c) {
			continue
		}
		figure := c.Predicted
		if spark {
			figure = c.P95
		}
		rows.Line(placeOf(before, r, c), tables.Shown(c.From), tables.Shown(c.To), evidenceOf(c), fmt.Sprint(c.Count), fmt.Sprint(c.Visits),
			maybe(float64(figure), fixed(2, "")), verdictOf(r, c, brief))
	}
	return Part{Heading: heading, Rows: rows, On: on, Note: note}
}

// verdictOf says what becomes of a cell and why; in brief without what its numbers, or the
// fit above them, say.
func verdictOf(r *propose.Report, c *propose.Cell, brief bool) string {
	var list words
	note := c.Note
	if brief && r.By == "fit" {
		note = ""
	}
	list.when(!(brief && c.Verdict == propose.Proposed) && !(note != "" && c.Verdict == propose.Inferred), "%s", c.Verdict)
	list.when(note != "", "%s", note)
	list.when(c.Spark.Known(), "spark %s deg", tables.Signed(float64(c.Spark), 2))
	list.when(c.Load.Known(), "load %s %%", tables.Signed(float64(c.Load), 1))
	return strings.Join(list, "; ")
}

// placeOf is a cell by its breakpoints, with the table's id where it is not the
// target.
func placeOf(doc *tables.Calibration, r *propose.Report, c *propose.Cell) string {
	s := fmt.Sprintf("[%d, %d]", c.At[0], c.At[1])
	if t := doc.Table(c.Table); t != nil {
		s = where(t.X(), t.Y(), c.At[0], c.At[1])
	}
	if c.Table != r.Target {
		s = c.Table + " " + s
	}
	return s
}

func evidenceOf(c *propose.Cell) string {
	if !c.Mean.Known() {
		return "–"
	}
	places, unit := 2, ""
	if u := c.EvidenceUnit(); u != "" {
		places, unit = 3, " "+u
	}
	s := tables.Signed(float64(c.Mean), places)
	if c.SE.Known() {
		s += " ± " + tables.Fixed(float64(c.SE), places)
	}
	return s + unit
}

// verdictsPart counts the verdicts.
func verdictsPart(r *propose.Report) Part {
	p := Part{Heading: "Cell by cell"}
	for _, c := range r.Counts {
		p.fact(c.Verdict, tables.Plural(c.Cells, "cell"))
	}
	return p
}

// proposalVerdict says what is proposed and how well it is supported.
func proposalVerdict(d *Decide, r *propose.Report) string {
	var list []string
	for i, s := range d.Tables {
		values, decided := d.cells(i)
		unit, places, change := blankUnit(s.Unit), s.Decimals, sizes()
		if s.Relative {
			unit, places = " %", 1
		}
		for cell := range decided {
			v := float64(values[cell] - s.Values[cell])
			if s.Relative {
				v *= 100 / math.Abs(float64(s.Values[cell]))
			}
			change.add(v)
		}
		if len(decided) > 0 {
			list = append(list, fmt.Sprintf("%s: %s, %s", s.Name, tables.Plural(len(decided), "correction"), change.signed(places, unit)))
		}
	}
	thin := 0
	for _, c := range d.Choices {
		if c.Meter < 2 {
			thin++
		}
	}
	support := "All rest on evidence."
	switch {
	case thin == len(d.Choices):
		support = "None rests on more than thin evidence."
	case thin > 0:
		support = fmt.Sprintf("%d of %d rest on evidence; the others follow it.", len(d.Choices)-thin, len(d.Choices))
	}
	return strings.Join(list, "; ") + ". " + support
}
