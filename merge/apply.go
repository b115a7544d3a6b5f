package merge

import (
	"fmt"
	"slices"

	"calsplice/tables"
	"calsplice/tables/tablejson"
)

// Apply is the document with every edit of a change set made, or with none: an
// edit is refused where the document does not hold the value that it expects to
// find, and then the error is a [*MismatchError] that lists every such place.
//
// An edit of a cell goes to the breakpoints of its [Frame], wherever the
// document has them now. A value beyond the limits of its table is refused where
// the one before was within them; a change set that was turned round only puts
// back what stood there, and is not.
//
// Values nearer than half the table's resolution are the same value to a guard,
// but an edit smaller than that is guarded exactly; so is every edit of a table
// without a resolution, and everything that is not a cell. The document that
// the change set was made against does not matter: the guards decide.
func Apply(doc *tables.Calibration, cs *ChangeSet) (*tables.Calibration, error) {
	a, err := ApplyWith(doc, cs, ApplyOptions{})
	if err != nil {
		return nil, err
	}
	return a.Document, nil
}

// ApplyOptions say how a change set is applied.
type ApplyOptions struct {
	BeyondLimits bool // write values beyond their table's limits
}

// Applied is a document with a change set applied.
type Applied struct {
	Document *tables.Calibration
	// Near lists the cells that held a value near the expected one, and not that
	// very value: the change set reversed makes the expected value and not the
	// one that was found.
	Near []Mismatch

	d  *draft
	cs *ChangeSet
}

// Notes are what a person should know of how the change set was applied: that
// it was made for another document, the edits that went to other rows and
// columns than their own, and those beyond the limits.
func (a *Applied) Notes() (notes []string) {
	if s := a.d.otherDocument(a.cs, a.Document); s != "" {
		notes = append(notes, s)
	}
	notes = append(notes, a.d.placed()...)
	if s := beyondNote(a.d.past); s != "" && !a.cs.reversed {
		notes = append(notes, s)
	}
	return notes
}

// ApplyWith is [Apply] with options, and with what there is to report of it.
func ApplyWith(doc *tables.Calibration, cs *ChangeSet, o ApplyOptions) (*Applied, error) {
	d := newDraft(doc)
	d.limits = !o.BeyondLimits && !cs.reversed
	// Whether it is applied already is asked of a draft of its own, since this one
	// has the edits in it that did fit.
	if bad := d.apply(cs); len(bad) > 0 {
		again := newDraft(doc)
		return nil, &MismatchError{Mismatches: bad, Already: len(again.apply(cs.Reverse())) == 0, Other: d.otherDocument(cs, nil)}
	}
	after, err := d.finish()
	if err != nil {
		return nil, err
	}
	return &Applied{after, d.near, d, cs}, nil
}

// otherDocument says that the change set was made for another document, where
// either side of it is known; "" where neither is, or the document is the one.
// after is nil where the change set does not apply.
func (d *draft) otherDocument(cs *ChangeSet, after *tables.Calibration) string {
	// A change set that was turned round knows what it should make and need not
	// know what it starts from; so either end may say which document is meant.
	same := cs.Base.SHA256 == "" || cs.Base.SHA256 == tablejson.SHA256(d.doc)
	if same && (after == nil || cs.makes == "" || cs.makes == tablejson.SHA256(after)) {
		return ""
	}
	s := "the change set was made for another document"
	if cs.Base.Name != "" {
		s += " (" + cs.Base.Name + ")"
	}
	for _, e := range cs.Edits {
		if _, cell := e.(*CellEdit); cell && d.frames[e.On()] == nil {
			return s + " and has no frames: its edits go by row and column"
		}
	}
	return s + ": its edits go by breakpoints and by the values found there"
}

// draft is a document while edits are made to it.
type draft struct {
	doc    *tables.Calibration // as it was
	c      tables.Contents
	order  []string
	tables map[string]*tableDraft
	frames map[string]*Frame
	limits bool // values are held to the limits of their tables
	bad    []Mismatch
	near   []Mismatch // cells that only the tolerance takes for what was expected
	past   []Mismatch // cells written beyond the limits
}

type tableDraft struct {
	f     tables.Fields
	half  float64 // half the resolution that the document gave, for guards
	was   *tables.Table
	place *placement // of the table's frame, once it is looked for
	dirty bool       // it is another than it was, and its values are our own
}

func newDraft(doc *tables.Calibration) *draft {
	d := &draft{doc: doc, c: doc.Contents(), order: doc.IDs(), tables: make(map[string]*tableDraft, len(doc.Tables()))}
	for _, t := range doc.Tables() {
		d.tables[t.ID()] = newTableDraft(t)
	}
	return d
}

func newTableDraft(t *tables.Table) *tableDraft {
	return &tableDraft{f: t.Fields(), half: t.Tolerance(), was: t}
}

func (d *draft) apply(cs *ChangeSet) []Mismatch {
	d.setFrames(cs)
	for _, e := range cs.Edits {
		e.apply(d)
	}
	return d.bad
}

func (d *draft) setFrames(cs *ChangeSet) {
	d.frames = make(map[string]*Frame, len(cs.Frames))
	for i := range cs.Frames {
		d.frames[cs.Frames[i].Table] = &cs.Frames[i]
	}
}

func (t *tableDraft) setCell(i int, v float64) {
	// Until the first cell is set, the values are the document's own, and a document
	// never changes. One copy serves all edits of the table.
	if !t.dirty {
		t.become(t.f)
	}
	t.f.Values[i] = v
}

// take takes named fields over.
func (t *tableDraft) take(names []string, from *State) {
	f := t.f
	TableFields.Take(names, &State{Fields: &f}, from)
	t.become(f)
	t.place = nil
}

// become gives the table other fields, whose values belong to somebody else.
func (t *tableDraft) become(f tables.Fields) {
	t.f, t.dirty = f, true
	t.f.Values = slices.Clone(f.Values)
}

func (d *draft) insert(at int, t *tables.Table) {
	d.order = slices.Insert(d.order, at, t.ID())
	d.tables[t.ID()] = newTableDraft(t)
}

func (d *draft) drop(id string) {
	if i := d.index(id); i >= 0 {
		d.order = slices.Delete(d.order, i, i+1)
		delete(d.tables, id)
	}
}

// finish builds the document anew, checking it whole.
func (d *draft) finish() (*tables.Calibration, error) {
	d.c.Tables = make([]*tables.Table, len(d.order))
	for i, id := range d.order {
		t := d.tables[id]
		// A table that no edit touched is the old one, valid as it is: a change set of a
		// few cells costs nothing for the rest of a large document.
		if !t.dirty {
			d.c.Tables[i] = t.was
			continue
		}
		built, err := tables.NewTable(t.f)
		if err != nil {
			return nil, fmt.Errorf("table %s: %w", id, err)
		}
		d.c.Tables[i] = built
	}
	return tables.NewCalibration(d.c)
}

func (d *draft) mismatch(m Mismatch) { d.bad = append(d.bad, m) }

// tolerate notes a cell that holds another value than the expected one, near
// enough to be the same to the controller.
func (d *draft) tolerate(m Mismatch, found, wanted float64) {
	if !tables.SameBit(found, wanted) {
		m.Wanted, m.Found = cellText(wanted), cellText(found)
		d.near = append(d.near, m)
	}
}

// guardValues checks every cell of an edit that sets a table's values whole.
func (d *draft) guardValues(t *tableDraft, e *FieldEdit) {
	from, to := e.From.fields().Values, e.To.fields().Values
	if len(from) != len(t.f.Values) {
		d.mismatch(Mismatch{Table: e.Table, Field: "values", Wanted: tables.Plural(len(from), "value"),
			Found: tables.Plural(len(t.f.Values), "value"), Already: tables.SameBits(t.f.Values, to)})
		return
	}
	n := t.f.X.Len()
	for i, v := range t.f.Values {
		// On other axes no cell has a successor: then each is guarded as one that stays.
		next := from[i]
		if len(to) == len(from) {
			next = to[i]
		}
		if tables.SameBit(next, from[i]) && near(v, from[i], t.half) || holds(v, from[i], next, t.half) {
			d.tolerate(Mismatch{Table: e.Table, Cell: true, Row: i / n, Column: i % n}, v, from[i])
			continue
		}
		d.mismatch(Mismatch{Table: e.Table, Cell: true, Row: i / n, Column: i % n, Wanted: cellText(from[i]),
			Found: cellText(v), Already: len(to) == len(from) && holds(v, next, from[i], t.half)})
	}
}

// behind is the index just after a table, 0 for "", and −1 where there is no
// such table.
func (d *draft) behind(id string) int {
	if id == "" {
		return 0
	}
	if i := d.index(id); i >= 0 {
		return i + 1
	}
	return -1
}

// index is where a table stands, −1 for nowhere. The end is looked at first,
// since change sets add and remove there.
func (d *draft) index(id string) int {
	for i := len(d.order) - 1; i >= 0; i-- {
		if d.order[i] == id {
			return i
		}
	}
	return -1
}

// guardTable lists where a table is not the one that a removal expects.
func (d *draft) guardTable(t *tableDraft, want *tables.Table) {
	from := want.Fields()
	e := fieldEdit(from.ID, State{Fields: &from}, State{Fields: &t.f})
	e.To = e.From
	d.guardFields(t, e)
}

// holds reports whether a table is another, its cells by guard.
func (t *tableDraft) holds(want *tables.Table) bool {
	d := &draft{}
	d.guardTable(t, want)
	return len(d.bad) == 0
}

func keepOnly(ids []string, keep map[string]bool) []string {
	return slices.DeleteFunc(slices.Clone(ids), func(id string) bool { return !keep[id] })
}
