package propose

import (
	"math"

	"calsplice/interp/lookup"
	"calsplice/merge"
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
	Command  string    `json:"command"` // propose fuel, propose spark
	Target   string    `json:"target"`
	Unit     string    `json:"unit"`
	By       string    `json:"by,omitempty"` // cells, fit
	Evidence string    `json:"evidence"`     // the channel that the means are of
	In       string    `json:"evidence_unit"`
	Edits    []Edit    `json:"edits"`
	First    []string  `json:"first"` // what stands before any number: causes, pressure, the wrong document
	Cells    []Cell    `json:"cells"`
	Counts   []Count   `json:"verdicts"`
	Within5  *Within   `json:"within_5_percent,omitempty"`
	After    *Within   `json:"within_5_percent_predicted,omitempty"`
	FullLoad *FullLoad `json:"full_load,omitempty"`
	Fit      *Fit      `json:"fit,omitempty"`
	Causes   []Cause   `json:"causes,omitempty"`
	Notes    []string  `json:"notes"`
	Next     []string  `json:"next"` // what to do after applying
	Cautions []string  `json:"cautions"`
}

// Edit is one edit in the words of the change set.
type Edit struct {
	Table string  `json:"table"`
	At    [2]int  `json:"at"`
	From  float64 `json:"from"`
	To    float64 `json:"to"`
}

// Cell is one cell of the target, or of a table that moves with it. Numbers that are not
// known are null in JSON.
type Cell struct {
	Table     string   `json:"table"`
	At        [2]int   `json:"at"`
	Count     int      `json:"count"`
	Visits    int      `json:"visits"`
	Mean      *float64 `json:"mean"`
	SE        *float64 `json:"se"`
	P95       *float64 `json:"p95,omitempty"`
	AtLimit   float64  `json:"at_limit"`
	From      float64  `json:"from"`
	To        float64  `json:"to"`
	Verdict   string   `json:"verdict"`
	Predicted *float64 `json:"predicted,omitempty"` // trim after, %
	Delivered *float64 `json:"delivered,omitempty"` // change of delivered fuel without trim, %, at cells without evidence
	Load      *float64 `json:"load_shift,omitempty"`
	Spark     *float64 `json:"spark_shift,omitempty"`
	Note      string   `json:"note,omitempty"`

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
	Place   string       `json:"place"`
	At      lookup.Point `json:"-"`
	Table   float64      `json:"table"`             // % by the edits alone
	Learned *float64     `json:"learned,omitempty"` // % of learned trim that may be applied there today
	Against string       `json:"against,omitempty"` // what that trim is
	Change  *float64     `json:"change,omitempty"`  // % against today, once the learned trim is cleared
}

// Cause is a candidate cause as merge/cause ranks it.
type Cause struct {
	Cause  string  `json:"cause"`
	Share  float64 `json:"share"`
	Margin float64 `json:"margin"`
}

// number is v for JSON, where NaN has no spelling.
func number(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// value is what number has made for JSON.
func value(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

// verdicts lists every verdict in the order in which it is told.
var verdicts = []string{Proposed, Inferred, InDeadBand, Uncertain, NoCause, FewSamples, FewVisits, NoSamples, BelowResolution,
	AtTableLimit, NotPositive, NotPersistent, AfterLift, Lean, NoAdvance, Decaying, Elsewhere}

// count is how many cells met each verdict. Each cell has one, so they add up.
func count(cells []Cell) []Count {
	var list []Count
	for _, v := range verdicts {
		n := 0
		for _, c := range cells {
			if c.Verdict == v {
				n++
			}
		}
		if n > 0 {
			list = append(list, Count{v, n})
		}
	}
	return list
}

// within is what drivers judge a drive by: the share of cells and of time inside ±5 %; trim takes a cell's trim in per cent.
func within(cells []Cell, trim func(c *Cell) float64) *Within {
	var inside, all, time, total, size float64
	for i := range cells {
		c := &cells[i]
		v := trim(c)
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

// edits are the change set's edits for the cells whose value changed, each with what it
// rests on: whoever applies it later sees why.
func edits(cells []Cell, unit string) []merge.Edit {
	list := []merge.Edit{}
	for i := range cells {
		c := &cells[i]
		if tables.SameBit(c.From, c.To) {
			continue // a report has all cells, a change set only what changes
		}
		in := unit
		if c.unit != "" {
			in = c.unit
		}
		why := &merge.Evidence{Count: c.Count, Visits: c.Visits, Mean: zero(c.Mean), SE: zero(c.SE), AtLimit: c.AtLimit, Unit: in, Note: c.Note}
		list = append(list, &merge.CellEdit{Table: c.Table, Row: c.At[0], Column: c.At[1], From: c.From, To: c.To, Why: why})
	}
	return list
}

// zero is a number for a change set's evidence, whose JSON has no null.
func zero(v *float64) float64 {
	if v == nil {
		return 0
	}
	return *v
}
