package merge

import "calsplice/tables"

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
	d.setFrames(cs)
	for _, e := range cs.Edits {
		e.expect(d)
	}
	if len(d.bad) > 0 {
		return nil, &MismatchError{Mismatches: d.bad}
	}
	return d.finish()
}
