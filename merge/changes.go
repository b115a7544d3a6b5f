// Package merge holds the one vocabulary for change: what differs between two
// documents, written so that it can be applied, undone and combined.
//
// A [ChangeSet] is a list of guarded edits: each knows the value that it
// expects to find, so that it is refused where the document has moved on.
// Diff makes one, Apply consumes it whole or not at all, Reverse turns it
// round, Merge combines two; the packages under this one (transfer, propose)
// produce them too. How a change set is shown or stored is elsewhere: see
// merge/changefile.
//
// What an edit means is said once. It has two sides, each the [State] of a cell or of
// named fields (of a table, of the document; a whole table and the order of tables are
// fields too): it guards the one, takes a draft of the document to the other, and turned
// round it undoes. All else is made of these: where the document has moved on, [Undo]
// brings it back to what the edits expect and merges the two; a conflict is an edit for
// each of its sides, so that [Resolve] asks whether the document is at one of them, and
// takes it to another.
//
// It promises, to the byte: a document with the difference to another applied is
// that other, and the reverse leads back; a change set applies whole or not at
// all; no edit of either side of a merge vanishes, and no cell becomes a mean of
// two. A tolerance hides from a reader what a change set carries all the same.
//
// It leaves out why anybody edits: evidence and cautions travel with the edits
// and are not read here. And it judges no value: see interp/plausible.
package merge

import (
	"fmt"
	"math"
	"strings"

	"calsplice/tables"
	"calsplice/tables/tablejson"
)

// ChangeSet is a list of edits to one document, in the order in which they
// apply, with what a person needs to judge them.
type ChangeSet struct {
	Title    string
	MadeBy   string // the command that made it, such as "propose fuel"
	Base     Base
	Frames   []Frame
	Edits    []Edit
	Cautions []string
	LeftOut  int // edits that a review left out
	Extra    tables.Extra

	makes    string // the SHA-256 of the document that it makes, where that is known
	reversed bool   // it undoes: what it writes stood in a document before
}

// NewChangeSet is a change set of edits to a document, whose cells have the
// document's own rows and columns.
func NewChangeSet(doc *tables.Calibration, madeBy string, edits []Edit) *ChangeSet {
	return &ChangeSet{MadeBy: madeBy, Base: Base{Name: doc.Name(), SHA256: tablejson.SHA256(doc)},
		Frames: framesOf(doc, edits), Edits: edits}
}

// Base names the document that a change set was made against.
type Base struct {
	Name   string
	SHA256 string // of its canonical JSON, hexadecimal
}

// Edit is one change: a [CellEdit] or a [FieldEdit], and nothing else.
type Edit interface {
	// On is the id of the table that the edit is about; "" for the document.
	On() string

	apply(d *draft)  // makes the edit, or lists what stands against it
	expect(d *draft) // brings the draft to what the edit expects to find there
	reverse() Edit
}

// CellEdit changes one cell. NaN is an empty cell of a cells document. Row and
// Column count along the axes of the table's [Frame], where there is one.
type CellEdit struct {
	Table       string
	Row, Column int // from 0
	From, To    float64
	Why         *Evidence // nil where a person made the edit
}

// Evidence says what an edit rests on.
type Evidence struct {
	Count   int     // samples
	Visits  int     // separate stays in the cell
	Mean    float64 // of the evidence, in Unit
	SE      float64 // standard error of the mean, from visits
	AtLimit float64 // share of samples standing at the channel's extreme
	Unit    string
	Note    string // such as "inferred from the nearest breakpoint with evidence"
}

// Cell addresses a cell of a change set.
type Cell struct {
	Table       string
	Row, Column int
}

// Evidence is what the edits of cells rest on; none is of no change set.
func (cs *ChangeSet) Evidence() map[Cell]*Evidence {
	why := map[Cell]*Evidence{}
	if cs == nil {
		return why
	}
	for _, e := range cs.Edits {
		if c, ok := e.(*CellEdit); ok && c.Why != nil {
			why[Cell{c.Table, c.Row, c.Column}] = c.Why
		}
	}
	return why
}

// CensoredShare is the share of samples at a limit from which a cell's mean is a lower
// bound. At 25 %, as far as most controllers go, that share of errors twice as
// large would move the mean by more than half a step of the trim (0.78 %); below
// it, samples at the limit change nothing that a proposal does.
const CensoredShare = 0.02

// Censored reports whether the mean is only a lower bound, since a trim that
// could go no further stood at its limit.
func (w *Evidence) Censored() bool { return w.AtLimit >= CensoredShare }

// Words say what an edit rests on: "812 samples in 41 visits: mean +3.52 ± 0.18 %".
func (w *Evidence) Words() string {
	if w == nil {
		return ""
	}
	s := ""
	if w.Count > 0 {
		s = tables.Thousands(w.Count) + " samples in " + tables.Plural(w.Visits, "visit")
		if mean := tables.Signed(w.Mean, 2); !math.IsNaN(w.Mean) {
			if !math.IsNaN(w.SE) {
				mean += " ± " + tables.Fixed(w.SE, 2)
			}
			s += ": mean " + strings.TrimSpace(mean+" "+w.Unit)
		}
		if w.Censored() {
			s += fmt.Sprintf(", %.0f %% of them at the limit", 100*w.AtLimit)
		}
	}
	if w.Note != "" && s != "" {
		s += "; "
	}
	return s + w.Note
}

// State is what a document holds of what an edit or a conflict is about, and
// nothing else of it.
type State struct {
	Absent   bool // it has no such cell
	Value    float64
	Fields   *tables.Fields // of a table
	Contents *tables.Contents
	Table    *tables.Table // whole, also where an axis conflicts: its cells depend on it
	Order    []string      // of the ids of all tables
}

// WholeTable is the name of a table as a whole among what may be changed of it, and
// [TableOrder] of the order of tables among the fields of the document.
const (
	WholeTable = "table"
	TableOrder = "order"
)

// FieldEdit changes fields of one table, or of the document where Table is "": Names
// says which, and only those are read from From and To. They are those of
// [FieldsOf], or one of two that stand alone: [WholeTable], which is added where
// From has none and removed where To has none, and [TableOrder], where From and To
// hold the same ids. The id never changes: another id is another table.
//
// What belongs together is in one edit: a unit that becomes another or axes that
// move come with all the values, and values as a whole with one of these.
type FieldEdit struct {
	Table    string
	Names    []string
	From, To State
	Why      *Evidence

	// After, of a whole table, is the one that it is added behind or stood behind, ""
	// where it is the first. A table is added nowhere else; where one is removed nothing
	// is guarded by it.
	After string
	// Else are the tables to stand behind, the first of them that is there,
	// where After is not. Select fills it in; no file carries it.
	Else []string
	// Part lets an order and the tables added or removed around it be applied
	// apart: then only the tables that both From and the document name are
	// compared, and a table that they don't name stays behind the one that it
	// follows. Select sets it; no file carries it.
	Part bool
}

// AddTable is the edit that adds a table behind another, or first where after is "".
func AddTable(t *tables.Table, after string) *FieldEdit {
	return &FieldEdit{Table: t.ID(), Names: []string{WholeTable}, To: State{Table: t}, After: after}
}

// RemoveTable is the edit that removes a table from behind another; turned round it
// puts it back there.
func RemoveTable(t *tables.Table, after string) *FieldEdit {
	return &FieldEdit{Table: t.ID(), Names: []string{WholeTable}, From: State{Table: t}, After: after}
}
