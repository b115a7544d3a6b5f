package main

import (
	"errors"
	"fmt"

	"calsplice/cmd/calsplice/text"
	"calsplice/cmd/calsplice/view"
	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

func apply(in *input) {
	path, out := in.arg(0), in.text("o")
	cs := in.changes(in.arg(1))
	refuse(out == "" && !in.yes("check"), "apply needs -o FILE, or --check to see whether it would apply")
	doc := in.doc(path)
	applied, err := merge.ApplyWith(doc, cs, merge.ApplyOptions{BeyondLimits: in.yes("beyond-limits")})
	if bad := (*merge.MismatchError)(nil); errors.As(err, &bad) && in.yes("three-way") && in.yes("reverse") && !bad.Already {
		in.undoByMerge(doc, cs)
		return
	}
	check(refused(path, err))
	in.caution(applied.Notes()...)
	in.warnTolerated(applied.Near)
	in.caution(newFindings(doc, applied.Document)...)
	if !in.yes("check") {
		check(tablefile.Write(out, applied.Document, in.output()))
	}
}

// refused is why a change set does not apply to a file, with what to do about it.
func refused(path string, err error) error {
	var bad *merge.MismatchError
	switch {
	case err == nil:
		return nil
	case !errors.As(err, &bad):
		return &tables.Fault{File: path, What: err.Error()}
	}
	moved, beyond, lines := false, false, []error{bad.Faults(path)}
	for _, m := range bad.Mismatches {
		moved, beyond = moved || m.Moved, beyond || m.Beyond
	}
	if bad.Other != "" && !bad.Already {
		lines = append(lines, errors.New(bad.Other))
	}
	if moved {
		lines = append(lines, fmt.Errorf("the edits are for other axes or another unit: apply them to the calibration that they were made for, and carry the result over with calsplice merge BASE %s RESULT", path))
	}
	if beyond {
		lines = append(lines, errors.New("--beyond-limits writes values beyond the limits all the same"))
	}
	return errors.Join(lines...)
}

// warnTolerated says where undoing will not bring back what was found.
func (in *input) warnTolerated(near []merge.Mismatch) {
	if len(near) == 0 {
		return
	}
	m, back := near[0], "undoing"
	if in.yes("reverse") {
		back = "applying"
	}
	in.caution(fmt.Sprintf("%s found a value slightly different from the one expected (by less than half the resolution), the first %s where %s was expected (%s); %s will write what was expected",
		tables.Plural(len(near), "edit"), m.Found, m.Wanted, m.Place(), back))
}

// changes reads a change set, turned round and reduced as the flags say.
func (in *input) changes(path string) *merge.ChangeSet {
	only := in.selection()
	refuse(oftenStdin(path, in.arg(0)), "only one of the two can be standard input")
	cs, cautions, err := changefile.ReadWithCautions(path, in.stdin)
	in.read(cautions, err)
	if n := cs.LeftOut; n > 0 {
		in.caution(tables.Plural(n, "edit was", "edits were") + " left out in review")
	}
	if in.yes("reverse") {
		cs = cs.Reverse()
	}
	all := len(cs.Edits)
	cs, err = only.Of(cs)
	if err == nil && all > 0 && len(cs.Edits) == 0 {
		err = errors.New("no edit matches --table and --at")
	}
	within(path, err)
	if n := all - len(cs.Edits); n > 0 {
		in.caution(fmt.Sprintf("%d of %d edits selected, %d left for later", len(cs.Edits), all, n))
	}
	return cs
}

// undoByMerge takes a change set out of a document that has moved on: the
// change set's result is the base, the document one side, and the result with
// the change set undone the other.
func (in *input) undoByMerge(doc *tables.Calibration, undo *merge.ChangeSet) {
	r, left, err := merge.Undo(doc, undo)
	check(refused(in.arg(0), err))
	in.caution(fmt.Sprintf("undone by merge: %d of %d edited places had been changed again since", left, len(undo.Edits)))
	switch {
	case !in.yes("check"):
		in.finishMerge(r)
	case len(r.Conflicts) > 0:
		text.NewPrinter(in.stderr, in.text("color")).View(view.Merged(r, ""))
	}
}
