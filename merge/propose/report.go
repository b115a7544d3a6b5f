package propose

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"calsplice/interp/lookup"
	"calsplice/merge"
	"calsplice/merge/caution"
	"calsplice/tables"
)

// Proposal is a change set with what a person needs to judge it. The change set carries
// the report's cautions, for it may be applied by somebody who never saw the report.
type Proposal struct {
	Changes *merge.ChangeSet
	Report  Report
}

// Report says cell by cell what is proposed and why, or why not. Its JSON is
// what --json prints.
type Report struct {
	Command  string       `json:"command"` // propose fuel, propose spark
	Target   string       `json:"target"`
	Unit     string       `json:"unit"`
	By       string       `json:"by,omitempty"` // cells, fit
	Evidence string       `json:"evidence"`     // the channel that the means are of
	In       string       `json:"evidence_unit"`
	Edits    []Edit       `json:"edits"`
	First    []string     `json:"first"` // what stands before any number: causes, pressure, the wrong document
	Cells    []Cell       `json:"cells"`
	Counts   []Count      `json:"verdicts"`
	Within5  *Within      `json:"within_5_percent,omitempty"`
	After    *Within      `json:"within_5_percent_predicted,omitempty"`
	FullLoad *FullLoad    `json:"full_load,omitempty"`
	Fit      *Fit         `json:"fit,omitempty"`
	Causes   []Cause      `json:"causes,omitempty"`
	Notes    tables.Notes `json:"notes"`
	Next     []string     `json:"next"` // what to do after applying
	Cautions []string     `json:"cautions"`

	title string // of the change set
}

// Edit is one edit in the words of the change set.
type Edit struct {
	Table string  `json:"table"`
	At    [2]int  `json:"at"`
	From  float64 `json:"from"`
	To    float64 `json:"to"`
}

// Cell is one cell of the target, or of a table that moves with it, with what was seen there
// and what becomes of it.
type Cell struct {
	Table string `json:"table"`
	At    [2]int `json:"at"`
	Evidence
	From      float64       `json:"from"`
	To        float64       `json:"to"`
	Verdict   string        `json:"verdict"`
	Predicted tables.Number `json:"predicted,omitzero"` // trim after, %
	Delivered tables.Number `json:"delivered,omitzero"` // change of delivered fuel without trim, %, at cells without evidence
	Load      tables.Number `json:"load_shift,omitzero"`
	Spark     tables.Number `json:"spark_shift,omitzero"`
	Note      string        `json:"note,omitempty"`

	share float64 // of fuel, before rounding
	most  float64 // share by which the pass may change it
	unit  string  // of Mean and SE where it is not the report's
}

// EvidenceUnit is the unit of the mean and its standard error where it is not
// the report's, else "".
func (c *Cell) EvidenceUnit() string { return c.unit }

// Count is how many cells met one verdict.
type Count struct {
	Verdict string `json:"verdict"`
	Cells   int    `json:"cells"`
}

// Within is the share of cells with evidence, and of samples, whose trim lies
// inside ±5 %.
type Within struct {
	Cells float64 `json:"cells"`
	Time  float64 `json:"time"`
	Mean  float64 `json:"mean_size"` // Σ count·|mean| / Σ count, %
}

// FullLoad is the change of delivered fuel where closed loop does not go: the one place
// where a correction that looks right in the trims can still break an engine, so each
// report gives it, against what is delivered there today.
type FullLoad struct {
	Place   string        `json:"place"`
	At      lookup.Point  `json:"-"`
	Table   float64       `json:"table"`             // % by the edits alone
	Learned tables.Number `json:"learned,omitzero"`  // % of learned trim that may be applied there today
	Against string        `json:"against,omitempty"` // what that trim is
	Change  tables.Number `json:"change,omitzero"`   // % against today, once the learned trim is cleared
}

// Cause is a candidate cause as merge/cause ranks it.
type Cause struct {
	Cause  string  `json:"cause"`
	Share  float64 `json:"share"`
	Margin float64 `json:"margin"`
}

// verdicts lists every verdict in the order in which it is told.
var verdicts = []string{Proposed, Inferred, InDeadBand, Uncertain, NoCause, FewSamples, FewVisits, NoSamples, BelowResolution,
	AtTableLimit, NotPositive, NotPersistent, AfterLift, Lean, NoAdvance, Decaying, Unplaced, Elsewhere}

// count is how many cells met each verdict. Each cell has one, so they add up.
func count(cells []Cell) (list []Count) {
	met := map[string]int{}
	for _, c := range cells {
		met[c.Verdict]++
	}
	for _, v := range verdicts {
		if met[v] > 0 {
			list = append(list, Count{v, met[v]})
		}
	}
	return list
}

// within is what drivers judge a drive by: the share of cells and of time inside ±5 %; trim takes a cell's trim in per cent.
func within(cells []Cell, trim func(c *Cell) tables.Number) *Within {
	var inside, all, time, total, size float64
	for i := range cells {
		c := &cells[i]
		v := float64(trim(c))
		if c.Count == 0 || math.IsNaN(v) {
			continue
		}
		n := float64(c.Count)
		all, total, size = all+1, total+n, size+float64(n*math.Abs(v))
		if math.Abs(v) <= 5 {
			inside, time = inside+1, time+n
		}
	}
	if all == 0 {
		return nil
	}
	return &Within{inside / all, time / total, size / total}
}

// changed reports whether a cell gets another value.
func (c *Cell) changed() bool { return !tables.SameBit(c.From, c.To) }

// edit is the change set's edit for a changed cell, with what it rests on: whoever applies
// it later sees why. What is not known is 0 there, for a change set's numbers have no null.
func (c *Cell) edit(unit string) merge.Edit {
	why := &merge.Evidence{Count: c.Count, Visits: c.Visits, AtLimit: c.AtLimit, Unit: cmp.Or(c.unit, unit), Note: c.Note}
	if c.Mean.Known() {
		why.Mean = float64(c.Mean)
	}
	if c.SE.Known() {
		why.SE = float64(c.SE)
	}
	return &merge.CellEdit{Table: c.Table, Row: c.At[0], Column: c.At[1], From: c.From, To: c.To, Why: why}
}

// changes reports whether any cell gets another value.
func (r *Report) changes() bool {
	return slices.ContainsFunc(r.Cells, func(c Cell) bool { return c.changed() })
}

// proposal makes the change set of the report's cells, and says what every proposal says.
func (r *Report) proposal(cal *tables.Calibration) *Proposal {
	r.Counts, r.Edits = count(r.Cells), []Edit{}
	changes := []merge.Edit{} // a report has all cells, a change set only what changes
	for i := range r.Cells {
		if c := &r.Cells[i]; c.changed() {
			r.Edits = append(r.Edits, Edit{c.Table, c.At, c.From, c.To})
			changes = append(changes, c.edit(r.In))
		}
	}
	if r.Command == "propose fuel" {
		r.fuel()
	}
	p := &Proposal{merge.NewChangeSet(cal, r.Command, changes), *r}
	p.Changes.Title = r.title
	p.Changes.Cautions = slices.Concat(r.First, r.Cautions, r.Next, caution.Standing)
	return p
}

// fuel says how the trims stand and are predicted to, and what is left to do about fuel.
func (r *Report) fuel() {
	own := slices.DeleteFunc(slices.Clone(r.Cells), func(c Cell) bool { return c.Table != r.Target })
	r.Within5 = within(own, func(c *Cell) tables.Number { return c.Mean })
	r.After = within(own, func(c *Cell) tables.Number { return c.Predicted })
	limited := 0
	for i := range r.Cells {
		if r.Cells[i].AtLimit >= merge.CensoredShare {
			limited++
		}
	}
	if limited > 0 {
		r.Cautions = slices.Insert(r.Cautions, 0, fmt.Sprintf("%s: in %s the trim stood at its limit: its sign is evidence, its size only a lower bound; drive again after this pass",
			r.Target, tables.Plural(limited, "cell")))
	}
	// A controller adds what it has learned to the corrected table until it is told to forget.
	if len(r.Edits) > 0 {
		r.Next = append(r.Next, "clear the learned trims and drive until they are learned anew",
			"verify the mixture at full load with a wideband sensor, before load is put on the engine")
	}
}
