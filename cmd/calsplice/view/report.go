package view

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/interp/cells"
	"calsplice/merge"
	"calsplice/merge/caution"
	"calsplice/tables"
)

// Job is a whole job, for the customer and for the file, as JSON has it: a calibration
// as it was found and as it is now, and the drives before and after, where there are
// any.
type Job struct {
	Customer string            `json:"customer"`
	Date     string            `json:"date"`
	Sections Sections          `json:"sections"` // by [Job.Say]
	Before   *Stage            `json:"before"`   // null without a drive
	After    *Stage            `json:"after"`
	Compared *cells.Comparison `json:"compared"` // null without two drives
	Changes  *merge.Report     `json:"changes"`
	Files    []File            `json:"files"`

	Found, Now *tables.Calibration `json:"-"`
	Notes      []string            `json:"-"` // what the person says was done
	Looks      []string            `json:"-"` // what check newly finds in the calibration
}

// File is one of the job's files.
type File struct {
	Name   string `json:"file"`
	What   string `json:"what"`
	SHA256 string `json:"sha256"`
}

// Sections are a job in sentences, as a page and JSON have them.
type Sections struct {
	Lead     []string `json:"lead"`
	Wrong    []string `json:"wrong"`
	Done     []string `json:"done"`
	Drives   []string `json:"drives"`
	Left     []string `json:"left"`
	Cautions []string `json:"cautions"`
}

// Say says the job in sentences.
func (j *Job) Say() {
	j.Sections = Sections{Lead: j.lead(), Wrong: j.wrong(), Done: j.done(), Drives: j.drives(), Left: j.left(), Cautions: j.cautions()}
}

// Report is a job as a page: what was wrong, what was done, how it drives now,
// what is left, cautions; then every changed table before and after, and the
// files.
func Report(j *Job) *View {
	s := &j.Sections
	v := &View{Title: "Report: " + titleOf(j.Now), Kind: j.kind(), Verdict: s.Lead[0], Opening: s.Lead[:1], Lead: s.Lead[1:]}
	v.add(Part{Facts: j.facts()})
	v.Parts = append(v.Parts, // also where there is nothing: that a report says so is a part of it
		listPart("What was wrong", s.Wrong),
		listPart("What was done", s.Done),
		Part{Heading: "How it drives now", Text: s.Drives, Grids: j.grids()}, // words stand before grids, items behind
		listPart("What is left", s.Left),
		listPart("Cautions", s.Cautions))
	v.add(j.changedTables()...)
	rows := NewRows("File", "What it is", "SHA-256")
	rows.Caption = "Names and sums"
	for _, f := range j.Files {
		rows.Line(f.Name, f.What, f.SHA256)
	}
	v.add(Part{Heading: "Files", Rows: rows})
	return v
}

func (j *Job) kind() string {
	kind := words{"Job report"}
	kind.when(j.Customer != "", "%s", j.Customer)
	kind.when(j.Date != "", "%s", j.Date)
	kind.when(titleOf(j.Found) != titleOf(j.Now), "%s → %s", titleOf(j.Found), titleOf(j.Now))
	return strings.Join(kind, " · ")
}

// lead is the outcome in a sentence or two.
func (j *Job) lead() []string {
	changed := "Nothing was changed."
	if !j.Changes.Identical {
		changed = "What was changed: " + strings.ToLower(Summary(j.Changes)[:1]) + Summary(j.Changes)[1:]
	}
	switch a, b := j.Before.trims(), j.After.trims(); {
	case j.sameDrive() != "":
		return []string{"How it drives now is not known yet: " + j.sameDrive() + ".", changed}
	case b != nil && b.CellShare == 1:
		return []string{"The fuel trims are normal now. Full load is still to be checked with a wideband sensor.", changed}
	case b != nil && a != nil && math.Abs(b.Mean) < math.Abs(a.Mean):
		return []string{"The fuel trims are better, and not normal everywhere yet.", changed}
	case b != nil:
		return []string{"The fuel trims are not normal yet.", changed}
	case a != nil:
		return []string{"Not driven since: how it drives now is not known yet.", changed}
	}
	return []string{"A review of what was changed: no drive shows how it runs.", changed}
}

// sameDrive names a log that is given as a drive before and after; "" where none is.
func (j *Job) sameDrive() string {
	for _, a := range j.Files {
		for _, b := range j.Files {
			if a.What == "drive after" && b.What == "drive before" && a.SHA256 == b.SHA256 {
				return a.Name + ", the drive after, is the same as " + b.Name
			}
		}
	}
	return ""
}

// stages are the drives that there are, in their order.
func (j *Job) stages() []*Stage {
	return slices.DeleteFunc([]*Stage{j.Before, j.After}, func(s *Stage) bool { return s == nil })
}

// facts are the figures that matter most, before and after.
func (j *Job) facts() []Fact {
	facts := []Fact{{Name: "Fuel trim, mean"}, {Name: "Driving time with trims within ±5 %"}, {Name: "Knock retard"}}
	for i, s := range j.stages() {
		for k, figure := range s.figures() {
			if i > 0 {
				facts[k].Value += " → "
			}
			facts[k].Value += figure
		}
	}
	if facts[0].Value == "" {
		return nil
	}
	return facts
}

// figures are those of one drive.
func (s *Stage) figures() [3]string {
	mean, time, retard := "not known", "not known", "not logged"
	if v := s.Trims; v != nil {
		mean, time = tables.Signed(v.Mean, 1)+" %", fmt.Sprintf("%.0f %%", 100*v.TimeShare)
	}
	switch k := s.why().Knock; {
	case s.Drive.Retard == nil:
	case k == nil:
		retard = "not explained"
	default:
		retard = fmt.Sprintf("%s, peak %s deg", k.Leading().Cause, tables.Fixed(k.Peak, 1))
	}
	return [3]string{mean, time, retard}
}

// wrong is why it drove as it did before.
func (j *Job) wrong() []string {
	if j.Before == nil {
		return []string{"No drive from before was read, so nothing is said about a cause."}
	}
	return append(j.Before.verdicts(), j.Before.words()...)
}

// done is what the person says was done, and then what differs, a line a table.
func (j *Job) done() []string {
	lines := slices.Clone(j.Notes)
	for _, item := range documentPart(j.Changes).Items {
		lines = append(lines, item.plain())
	}
	for i := range j.Changes.Tables {
		p := tableDifference(j.Changes, &j.Changes.Tables[i], byPlaces)
		items, more := first(p.Items, 6, "and %s more, in the table below")
		var words []string
		for _, item := range items {
			words = append(words, item.plain())
		}
		if more != "" {
			words = append(words, more)
		}
		lines = append(lines, strings.TrimSuffix(p.Heading+": "+strings.Join(words, "; "), ": "))
	}
	if j.Changes.Identical {
		lines = append(lines, "Nothing in the calibration was changed.")
	}
	return lines
}

// plain is an item in one line of text.
func (i Item) plain() string {
	if i.Under != "" {
		return i.Line() + " (" + i.Under + ")"
	}
	return i.Line()
}

// drives is how it drives now, and what changed more than chance explains.
func (j *Job) drives() []string {
	if j.After == nil {
		return []string{"It was not driven with this calibration yet."}
	}
	words := j.After.words()
	if j.Compared != nil {
		for i := range j.Compared.Channels {
			words = append(words, j.Compared.Channels[i].Channel+": "+changedWords(&j.Compared.Channels[i])+".")
		}
	}
	return append(words, j.After.verdicts()...)
}

// grids are the trims of the drives, and what has changed.
func (j *Job) grids() []Grid {
	if j.Compared != nil && len(j.Compared.Channels) > 0 && j.Compared.Channels[0].Channel == cells.Trim {
		return driveParts(&j.Compared.Channels[0], j.Before.Drive, j.After.Drive).Grids
	}
	for _, s := range slices.Backward(j.stages()) {
		ch := newChannel(s.Drive.Steady, cells.Trim)
		if t := ch.mean; t != nil && fits(t.Rows(), t.Columns(), 1) {
			return []Grid{ch.grid(t)}
		}
	}
	return nil
}

// left is what has to be done next, the most urgent first.
func (j *Job) left() (lines words) {
	var next string
	if last := cmp.Or(j.After, j.Before); last != nil {
		if k := last.why().Knock; k != nil {
			lines, next = slices.Clone(k.Inspect), k.Next()
		}
		if r := last.why().Trims; r != nil {
			lines = slices.Concat(lines, r.NextSteps())
		}
	}
	lines.when(next != "", "Knock: %s.", next)
	changed := !j.Changes.Identical
	lines.when(changed && j.After == nil, "Clear the learned trims, so that they are learned anew with the changed tables.")
	lines.when(changed && j.After == nil, "Drive with the calibration as it is now, over the same road, and make this report again with --after LOG: until then nothing shows that it is better.")
	lines.when(!changed && j.Before == nil && j.After == nil, "Drive, and make this report again with --before LOG.")
	lines.when(true, "Full load: check the mixture with a wideband sensor before the engine is loaded; trims say nothing where the loop is open.")
	return append(lines, j.Looks...)
}

// cautions are those of this job and then the standing ones, each once.
func (j *Job) cautions() []string {
	var lines tables.Notes
	for _, s := range j.stages() {
		if r := s.why().Trims; r != nil {
			lines.Add(r.Cautions...)
		}
		if k := s.why().Knock; k != nil {
			lines.Add(k.Notes...)
		}
	}
	return append(lines, caution.Standing...)
}

// changedTables are the tables that differ, before and after.
func (j *Job) changedTables() (parts []Part) {
	for i := range j.Changes.Tables {
		t := &j.Changes.Tables[i]
		p := Part{On: OnPages}
		switch {
		case t.Old == nil:
			p.Heading = heading(t.New) + ": added"
		case t.New == nil:
			p.Heading = heading(t.Old) + ": removed"
		case tables.SameBits(t.Old.Values(), t.New.Values()) && t.Old.X().SamePoints(t.New.X()) && t.Old.Y().SamePoints(t.New.Y()):
			continue // its facts, which What was done says
		default:
			p.Heading = heading(t.New)
		}
		p.showTables(t, "found", "now", nil)
		parts = append(parts, p)
	}
	return parts
}
