package merge

import (
	"slices"

	"calsplice/tables"
)

// Undo takes a change set, already turned round, out of a document that has
// moved on: a merge in which the document as the change set left it is the
// base, the document as it is one side, and the base with the change set undone
// the other. What was edited since, where the change set had edited too, is a
// conflict. It also counts the edits that the document no longer holds.
//
// An edit whose table or cell is no longer there cannot be undone, and is an
// error.
func Undo(doc *tables.Calibration, undo *ChangeSet) (r *MergeResult, stale int, err error) {
	undo = undo.Select(func(Edit) bool { return true }) // tables may have come and gone since
	stale = len(newDraft(doc).apply(undo))
	base, err := asExpected(doc, undo)
	if err != nil {
		return nil, 0, err
	}
	before, err := Apply(base, undo)
	if err != nil {
		return nil, 0, err
	}
	r, err = Merge(base, doc, before, MergeOptions{})
	return r, stale, err
}

// asExpected is the document with every place that a change set edits brought
// to the value that it expects to find.
func asExpected(doc *tables.Calibration, cs *ChangeSet) (*tables.Calibration, error) {
	d := newDraft(doc)
	for _, e := range cs.Edits {
		switch {
		case e.Cell != nil:
			back := *e.Cell
			back.To = back.From
			if t := d.tables[back.Table]; t != nil && back.Row >= 0 && back.Row < rows(&t.f) && back.Column >= 0 && back.Column < columns(&t.f) {
				back.From = t.f.Values[back.Row*columns(&t.f)+back.Column]
			}
			d.cell(&back)
		case e.Set != nil:
			t := d.tables[e.Set.Table]
			if t == nil {
				d.set(e.Set) // to say that it is not there
				continue
			}
			for _, name := range e.Set.Names {
				if f, ok := tableField(name); ok {
					f.take(&t.f, &e.Set.From)
				}
			}
			t.dirty, t.mine = true, false
		case e.Document != nil:
			for _, name := range e.Document.Names {
				if f, ok := documentField(name); ok {
					f.take(&d.c, &e.Document.From)
				}
			}
		case e.Add != nil:
			id := e.Add.Table.ID()
			delete(d.tables, id)
			d.order = slices.DeleteFunc(d.order, func(s string) bool { return s == id })
		case e.Remove != nil:
			d.putTable(e.Remove)
		case e.Order != nil:
			d.order = reorder(d.order, e.Order.From)
		}
	}
	if len(d.bad) > 0 {
		return nil, &MismatchError{Mismatches: d.bad}
	}
	return d.finish()
}

// putTable sees to it that the table to remove is there as expected.
func (d *draft) putTable(e *RemoveTable) {
	id := e.Table.ID()
	if d.tables[id] == nil {
		at := max(0, d.behind(e.After))
		d.order = slices.Insert(d.order, at, id)
	}
	d.tables[id] = &tableDraft{f: e.Table.Fields(), half: e.Table.Tolerance(), was: e.Table}
}
