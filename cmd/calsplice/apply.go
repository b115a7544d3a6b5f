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

	"github.com/urfave/cli/v2"
)

func apply(c *cli.Context) error {
	in := reading(c)
	path, out := in.arg(0), c.String("o")
	cs := get(in, func() (*merge.ChangeSet, error) { return readChanges(in, in.arg(1)) })
	in.refuse(out == "" && !c.Bool("check"), "apply needs -o FILE, or --check to see whether it would apply")
	doc := in.doc(path)
	if in.err != nil {
		return in.err
	}
	applied, err := merge.ApplyWith(doc, cs, merge.ApplyOptions{BeyondLimits: c.Bool("beyond-limits")})
	if bad := (*merge.MismatchError)(nil); errors.As(err, &bad) && c.Bool("three-way") && c.Bool("reverse") && !bad.Already {
		return undoByMerge(c, doc, cs)
	}
	if err != nil {
		return refused(path, err)
	}
	printCautions(c, applied.Notes()...)
	warnTolerated(c, applied.Near)
	printCautions(c, newFindings(doc, applied.Document)...)
	if c.Bool("check") {
		return nil
	}
	return tablefile.Write(out, applied.Document, output(c))
}

// refused is why a change set does not apply to a file, with what to do about it.
func refused(path string, err error) error {
	var bad *merge.MismatchError
	if !errors.As(err, &bad) {
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
func warnTolerated(c *cli.Context, near []merge.Mismatch) {
	if len(near) == 0 {
		return
	}
	m, back := near[0], "undoing"
	if c.Bool("reverse") {
		back = "applying"
	}
	if len(near) == 1 {
		printCautions(c, fmt.Sprintf("1 edit found a value slightly different from the one expected: found %s, expected %s (%s); %s it will write %s", m.Found, m.Wanted, m.Place(), back, m.Wanted))
		return
	}
	printCautions(c, fmt.Sprintf("%d edits found values slightly different from those expected (by less than half the resolution); the first: found %s, expected %s (%s); %s them will write those expected",
		len(near), m.Found, m.Wanted, m.Place(), back))
}

// readChanges reads a change set, turned round and reduced as the flags say.
func readChanges(in *input, path string) (*merge.ChangeSet, error) {
	only := in.selection()
	in.refuse(oftenStdin(path, in.arg(0)), "only one of the two can be standard input")
	cs := withCautions(in, func() (*merge.ChangeSet, tables.Faults, error) {
		return changefile.ReadWithCautions(path, in.App.Reader)
	})
	if in.err != nil {
		return nil, in.err
	}
	if n := cs.LeftOut; n > 0 {
		printCautions(in.Context, tables.Plural(n, "edit was", "edits were")+" left out in review")
	}
	if in.Bool("reverse") {
		cs = cs.Reverse()
	}
	all := len(cs.Edits)
	cs, err := only.Of(cs)
	if err != nil {
		return nil, &tables.Fault{File: path, What: err.Error()}
	}
	if all > 0 && len(cs.Edits) == 0 {
		return nil, &tables.Fault{File: path, What: "no edit matches --table and --at"}
	}
	if n := all - len(cs.Edits); n > 0 {
		printCautions(in.Context, fmt.Sprintf("%d of %d edits selected, %d left for later", len(cs.Edits), all, n))
	}
	return cs, nil
}

// undoByMerge takes a change set out of a document that has moved on: the
// change set's result is the base, the document one side, and the result with
// the change set undone the other.
func undoByMerge(c *cli.Context, doc *tables.Calibration, undo *merge.ChangeSet) error {
	r, left, err := merge.Undo(doc, undo)
	if err != nil {
		return refused(c.Args().Get(0), err)
	}
	printCautions(c, fmt.Sprintf("undone by merge: %d of %d edited places had been changed again since", left, len(undo.Edits)))
	if c.Bool("check") {
		if len(r.Conflicts) > 0 {
			text.NewPrinter(c.App.ErrWriter, c.String("color")).View(view.Merged(r, ""))
		}
		return nil
	}
	return finishMerge(c, r)
}
