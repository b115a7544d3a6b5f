package merge

import (
	"fmt"
	"slices"

	"calsplice/tables"
)

// Apply is the document with every edit of a change set made, or with none: an
// edit is refused where the document does not hold the value that it expects to
// find, and then the error is a [*MismatchError] that lists every such place.
//
// Values nearer than half the table's resolution are the same value to a guard,
// but an edit smaller than that is guarded exactly; so is every edit of a table
// without a resolution, and everything that is not a cell. The document that
// the change set was made against does not matter: the guards decide.
func Apply(doc *tables.Calibration, cs *ChangeSet) (*tables.Calibration, error) {
	d := newDraft(doc)
	if bad := d.apply(cs); len(bad) > 0 {
		again := newDraft(doc)
		return nil, &MismatchError{Mismatches: bad, Already: len(again.apply(cs.Reverse())) == 0}
	}
	return d.finish()
}

// Tolerated lists the cells that a change set finds near the value that it
// expects, and not at it: applied it is all the same, but the change set
// reversed makes the expected value and not the one that was found.
func Tolerated(doc *tables.Calibration, cs *ChangeSet) []Mismatch {
	d := newDraft(doc)
	d.apply(cs)
	return d.near
}

// draft is a document while edits are made to it.
type draft struct {
	c      tables.Contents
	order  []string
	tables map[string]*tableDraft
	bad    []Mismatch
	near   []Mismatch // cells that only the tolerance takes for what was expected
}

type tableDraft struct {
	f     tables.Fields
	half  float64 // half the resolution that the document gave, for guards
	was   *tables.Table
	mine  bool // the values are a copy of our own
	dirty bool
}

func newDraft(doc *tables.Calibration) *draft {
	d := &draft{c: doc.Contents(), order: doc.IDs(), tables: make(map[string]*tableDraft, len(doc.Tables()))}
	for _, t := range doc.Tables() {
		d.tables[t.ID()] = &tableDraft{f: t.Fields(), half: t.Tolerance(), was: t}
	}
	return d
}

func (d *draft) apply(cs *ChangeSet) []Mismatch {
	d.bad = nil
	for _, e := range cs.Edits {
		switch {
		case e.Cell != nil:
			d.cell(e.Cell)
		case e.Set != nil:
			d.set(e.Set)
		case e.Document != nil:
			d.document(e.Document)
		case e.Add != nil:
			d.add(e.Add)
		case e.Remove != nil:
			d.remove(e.Remove)
		case e.Order != nil:
			d.reorder(e.Order)
		}
	}
	return d.bad
}

// finish builds the document anew, checking it whole.
func (d *draft) finish() (*tables.Calibration, error) {
	d.c.Tables = make([]*tables.Table, len(d.order))
	for i, id := range d.order {
		t := d.tables[id]
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

func (d *draft) cell(e *CellEdit) {
	m := Mismatch{Table: e.Table, Cell: true, Row: e.Row, Column: e.Column, Wanted: cellText(e.From)}
	t := d.tables[e.Table]
	if t == nil {
		m.Found = "no such table"
		d.mismatch(m)
		return
	}
	n := columns(&t.f)
	if e.Row < 0 || e.Column < 0 || e.Column >= n || e.Row >= rows(&t.f) {
		m.Found = "a table of " + shape(&t.f)
		d.mismatch(m)
		return
	}
	i := e.Row*n + e.Column
	if !holds(t.f.Values[i], e.From, e.To, t.half) {
		m.Found = cellText(t.f.Values[i])
		m.Already = holds(t.f.Values[i], e.To, e.From, t.half)
		d.mismatch(m)
		return
	}
	d.tolerate(m, t.f.Values[i], e.From)
	if !t.mine {
		t.f.Values, t.mine = slices.Clone(t.f.Values), true
	}
	t.f.Values[i] = e.To
	t.dirty = true
}

func (d *draft) set(e *TableEdit) {
	t := d.tables[e.Table]
	if t == nil {
		d.mismatch(Mismatch{Table: e.Table, Wanted: "the table", Found: "no such table"})
		return
	}
	before := len(d.bad)
	for _, name := range e.Names {
		f, ok := tableField(name)
		switch {
		case !ok:
			d.mismatch(Mismatch{Table: e.Table, Field: name, Wanted: "a field of a table", Found: "none of that name"})
		case name == "values":
			d.guardValues(t, e)
		case !f.same(&t.f, &e.From):
			d.mismatch(Mismatch{Table: e.Table, Field: name, Wanted: f.text(&e.From), Found: f.text(&t.f), Already: f.same(&t.f, &e.To)})
		}
	}
	if len(d.bad) > before {
		return
	}
	for _, name := range e.Names {
		f, _ := tableField(name)
		f.take(&t.f, &e.To)
		t.mine = t.mine && name != "values"
	}
	t.dirty = true
}

// guardValues checks every cell of an edit that sets a table's values whole.
func (d *draft) guardValues(t *tableDraft, e *TableEdit) {
	from, to := e.From.Values, e.To.Values
	if len(from) != len(t.f.Values) {
		d.mismatch(Mismatch{Table: e.Table, Field: "values", Wanted: tables.Plural(len(from), "value"),
			Found: tables.Plural(len(t.f.Values), "value"), Already: tables.SameBits(t.f.Values, to)})
		return
	}
	n := columns(&t.f)
	for i, v := range t.f.Values {
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

func (d *draft) document(e *DocumentEdit) {
	before := len(d.bad)
	for _, name := range e.Names {
		f, ok := documentField(name)
		switch {
		case !ok:
			d.mismatch(Mismatch{Field: name, Wanted: "a field of a document", Found: "none of that name"})
		case !f.same(&d.c, &e.From):
			d.mismatch(Mismatch{Field: name, Wanted: f.text(&e.From), Found: f.text(&d.c), Already: f.same(&d.c, &e.To)})
		}
	}
	if len(d.bad) > before {
		return
	}
	for _, name := range e.Names {
		f, _ := documentField(name)
		f.take(&d.c, &e.To)
	}
}

func (d *draft) add(e *AddTable) {
	id := e.Table.ID()
	if t := d.tables[id]; t != nil {
		d.mismatch(Mismatch{Table: id, Wanted: "no such table yet", Found: "the table", Already: t.holds(e.Table)})
		return
	}
	at := d.behind(e.After)
	for i := 0; at < 0 && i < len(e.Else); i++ {
		at = d.behind(e.Else[i])
	}
	if at < 0 {
		d.mismatch(Mismatch{Table: id, Wanted: "table " + tables.Clean(e.After) + " to stand behind", Found: "no such table"})
		return
	}
	d.order = slices.Insert(d.order, at, id)
	d.tables[id] = &tableDraft{f: e.Table.Fields(), half: e.Table.Tolerance(), was: e.Table}
}

// behind is the place behind a table, −1 where there is no such table; "" is
// the front.
func (d *draft) behind(id string) int {
	if id == "" {
		return 0
	}
	if i := d.place(id); i >= 0 {
		return i + 1
	}
	return -1
}

// place is where a table stands, −1 for nowhere. The end is looked at first,
// since change sets add and remove there.
func (d *draft) place(id string) int {
	for i := len(d.order) - 1; i >= 0; i-- {
		if d.order[i] == id {
			return i
		}
	}
	return -1
}

func (d *draft) remove(e *RemoveTable) {
	id := e.Table.ID()
	t := d.tables[id]
	if t == nil {
		d.mismatch(Mismatch{Table: id, Wanted: "the table to remove", Found: "no such table", Already: true})
		return
	}
	before := len(d.bad)
	d.guardTable(t, e.Table)
	if len(d.bad) > before {
		return
	}
	delete(d.tables, id)
	if i := d.place(id); i >= 0 {
		d.order = slices.Delete(d.order, i, i+1)
	}
}

// guardTable lists where a table is not the one that a removal expects.
func (d *draft) guardTable(t *tableDraft, want *tables.Table) {
	from := want.Fields()
	for _, name := range different(tableFields, tableField, &from, &t.f, extraKeys(from.Extra, t.f.Extra)) {
		if f, _ := tableField(name); name != "values" {
			d.mismatch(Mismatch{Table: from.ID, Field: name, Wanted: f.text(&from), Found: f.text(&t.f)})
		}
	}
	d.guardValues(t, &TableEdit{Table: from.ID, From: from, To: from})
}

// holds reports whether a table is another, its cells by guard.
func (t *tableDraft) holds(want *tables.Table) bool {
	d := &draft{}
	d.guardTable(t, want)
	return len(d.bad) == 0
}

func (d *draft) reorder(e *OrderEdit) {
	here, from, to := d.order, e.From, e.To
	if e.Part {
		has := set(d.order)
		here, from, to = keepOnly(here, set(from)), keepOnly(from, has), keepOnly(to, has)
	}
	switch {
	case !slices.Equal(slices.Sorted(slices.Values(e.From)), slices.Sorted(slices.Values(e.To))):
		d.mismatch(Mismatch{Field: "order", Wanted: "the same tables in from and in to", Found: idList(e.From) + " in from and " + idList(e.To) + " in to"})
	case !slices.Equal(here, from):
		d.mismatch(Mismatch{Field: "order", Wanted: idList(from), Found: idList(here), Already: slices.Equal(here, to)})
	default:
		d.order = reorder(d.order, e.To)
	}
}

func keepOnly(ids []string, keep map[string]bool) []string {
	var kept []string
	for _, id := range ids {
		if keep[id] {
			kept = append(kept, id)
		}
	}
	return kept
}
