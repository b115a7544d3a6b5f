package main

import (
	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/strictjson"
)

// asksTables reports whether cells are to be compared as the tables that they
// are, value by value.
func asksTables(c *cli.Context) bool {
	return c.Bool("stat") || c.Bool("name-only") || c.IsSet("table") || c.IsSet("abs-tol") || c.IsSet("rel-tol")
}

// diffDrives compares the cells of two drives: what changed beyond chance. The
// change set that -o writes still has every bit.
func diffDrives(c *cli.Context, old, new *tables.Calibration, only merge.Selection) error {
	r, err := cells.Compare(old, new)
	if err != nil {
		return err
	}
	drives := func() *view.View {
		return view.Drives(&cells.Drive{Steady: old, Retard: old}, &cells.Drive{Steady: new, Retard: new}, r)
	}
	switch out := c.String("o"); {
	case extension(out) == ".html":
		err = writePage(c, out, drives())
	case out != "":
		var cs *merge.ChangeSet
		if cs, err = only.Of(merge.Diff(old, new)); err == nil {
			err = changefile.Write(out, cs, old, outputOrPage(c))
		}
	}
	if err != nil {
		return err
	}
	switch {
	case c.Bool("quiet"):
	case c.Bool("json"):
		err = strictjson.Print(c.App.Writer, r)
	case c.String("o") == "":
		err = printView(c, drives())
	}
	if err == nil && r.Changed() {
		err = errReport
	}
	return err
}
