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

	"github.com/urfave/cli/v2"
)

func diff(c *cli.Context) error {
	if c.String("axes") != "" {
		return diffLogs(c)
	}
	in := reading(c)
	tolerance, only := in.tolerance(), in.selection()
	in.noLogs()
	docs := in.docs(c.Args().Slice()...)
	in.wantTables(only, docs...)
	in.wantBounds(tolerance, docs...)
	if in.err != nil {
		return in.err
	}
	old, new := docs[0], docs[1]
	// The change set carries every bit of what differs in the selected tables.
	changes := sync.OnceValues(func() (*merge.ChangeSet, error) { return only.Of(merge.Diff(old, new)) })
	r := result{beside: c.Bool("json"), write: func(out string) error {
		cs, err := changes()
		if err != nil {
			return err
		}
		return changefile.Write(out, cs, old, outputOrPage(c))
	}}
	if drives := old.Kind() == tables.Cells && new.Kind() == tables.Cells; drives && !asksTables(c) {
		compared, err := cells.Compare(old, new)
		if err != nil {
			return err
		}
		r.drives(&cells.Drive{Steady: old, Retard: old}, &cells.Drive{Steady: new, Retard: new}, compared)
		return deliver(c, r)
	}
	d := &difference{old, new, tolerance, only, changes}
	d.result(c, &r)
	return deliver(c, r)
}

// asksTables reports whether cells are to be compared as the tables that they
// are, value by value.
func asksTables(c *cli.Context) bool {
	return c.Bool("stat") || c.Bool("name-only") || c.IsSet("table") || c.IsSet("abs-tol") || c.IsSet("rel-tol")
}

// drives is what differs between two drives.
func (r *result) drives(old, new *cells.Drive, compared *cells.Comparison) {
	r.json, r.found = asJSON(compared), compared.Changed()
	r.view = viewed(func() *view.View { return view.Drives(old, new, compared) })
	r.page = r.view
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
func (d *difference) result(c *cli.Context, r *result) {
	compared := sync.OnceValue(func() *merge.Report { return merge.Compare(d.old, d.new, d.tolerance, d.only) })
	r.beside = r.beside || c.Bool("stat") || c.Bool("name-only")
	r.json = func(w io.Writer) error { return strictjson.Print(w, compared()) }
	r.page = func() (*view.View, error) {
		cs, err := d.changes()
		return view.Difference(d.old, d.new, compared(), d.tolerance, cs), err
	}
	if c.Bool("name-only") {
		r.lines = func() (ids []string) {
			for _, t := range compared().Tables {
				ids = append(ids, t.Table)
			}
			return ids
		}
	}
	r.view = viewed(func() *view.View {
		if c.Bool("stat") {
			return view.DifferenceByTable(compared())
		}
		return view.Difference(d.old, d.new, compared(), d.tolerance, nil)
	})
	out := c.String("o")
	if !c.Bool("quiet") && (out == "" || r.beside) {
		r.found = !compared().Same
		return
	}
	differs, hidden := merge.Differs(d.old, d.new, d.tolerance, d.only)
	if r.found = differs; hidden > 0 && !c.Bool("quiet") {
		written := map[bool]string{true: "it is", false: "they are"}[hidden == 1]
		r.notes = []string{fmt.Sprintf("%s; %s still written to %s", view.Hidden(hidden), written, out)}
	}
}
