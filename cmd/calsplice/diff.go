package main

import (
	"fmt"
	"io"
	"sync"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
)

func diff(in *input) {
	if in.text("axes") != "" {
		in.diffLogs()
		return
	}
	tolerance, only := in.tolerance(), in.selection()
	in.noLogs()
	docs := in.docs(in.args...)
	check(wantTables(only.Tables, docs...))
	wantBounds(tolerance, docs...)
	old, new := docs[0], docs[1]
	// The change set carries every bit of what differs in the selected tables.
	changes := sync.OnceValues(func() (*merge.ChangeSet, error) { return only.Of(merge.Diff(old, new)) })
	r := result{beside: in.yes("json"), write: func(out string, opt tablefile.Options) error {
		cs, err := changes()
		if err != nil {
			return err
		}
		return changefile.Write(out, cs, old, opt)
	}}
	if drives := old.Kind() == tables.Cells && new.Kind() == tables.Cells; drives && !in.asksTables() {
		r.drives(&cells.Drive{Steady: old, Retard: old}, &cells.Drive{Steady: new, Retard: new}, must(cells.Compare(old, new)))
	} else {
		d := &difference{old, new, tolerance, only, changes}
		d.result(in, &r)
	}
	in.deliver(r)
}

// asksTables reports whether cells are to be compared as the tables that they
// are, value by value.
func (in *input) asksTables() bool {
	return in.yes("stat") || in.yes("name-only") || in.given("table") || in.given("abs-tol") || in.given("rel-tol")
}

// drives is what differs between two drives.
func (r *result) drives(old, new *cells.Drive, compared *cells.Comparison) {
	r.json, r.found = asJSON(compared), compared.Changed()
	r.view = func() *view.View { return view.Drives(old, new, compared) }
	r.pages = true
}

// difference is what is compared, and how.
type difference struct {
	old, new  *tables.Calibration
	tolerance merge.Tolerance
	only      merge.Selection
	changes   func() (*merge.ChangeSet, error)
}

// result adds what differs by more than the tolerance. Where -o takes the change
// set and no report is asked for, only what the tolerance hides is reported.
func (d *difference) result(in *input, r *result) {
	compared := sync.OnceValue(func() *merge.Report { return merge.Compare(d.old, d.new, d.tolerance, d.only) })
	r.beside = r.beside || in.yes("stat") || in.yes("name-only")
	r.json = func(w io.Writer) error { return strictjson.Print(w, compared()) }
	r.page = func() *view.View {
		return view.Difference(d.old, d.new, compared(), d.tolerance, must(d.changes()))
	}
	if in.yes("name-only") {
		r.lines = func() []string {
			return tables.Each(compared().Tables, func(t merge.TableReport) string { return t.Table })
		}
	}
	r.view = func() *view.View {
		if in.yes("stat") {
			return view.DifferenceByTable(compared())
		}
		return view.Difference(d.old, d.new, compared(), d.tolerance, nil)
	}
	out := in.text("o")
	if !in.yes("quiet") && (out == "" || r.beside) {
		r.found = !compared().Same
		return
	}
	differs, hidden := merge.Differs(d.old, d.new, d.tolerance, d.only)
	if r.found = differs; hidden > 0 && !in.yes("quiet") {
		written := map[bool]string{true: "it is", false: "they are"}[hidden == 1]
		r.notes = []string{fmt.Sprintf("%s; %s still written to %s", view.Hidden(hidden), written, out)}
	}
}
