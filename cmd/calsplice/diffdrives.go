package main

import (
	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
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
	return deliverComparison(c, result{json: asJSON(r), found: r.Changed(),
		view: viewed(func() *view.View {
			return view.Drives(&cells.Drive{Steady: old, Retard: old}, &cells.Drive{Steady: new, Retard: new}, r)
		}),
		write: func(out string) error {
			cs, err := only.Of(merge.Diff(old, new))
			if err != nil {
				return err
			}
			return changefile.Write(out, cs, old, outputOrPage(c))
		},
	})
}

// deliverComparison delivers what differs between two drives: --json prints it
// beside what -o writes, and --quiet prints nothing.
func deliverComparison(c *cli.Context, r result) error {
	out := c.String("o")
	if out == "" && !c.Bool("quiet") {
		return deliver(c, r)
	}
	if out != "" {
		if err := r.put(c, out, extension(out)); err != nil {
			return err
		}
	}
	if c.Bool("json") && !c.Bool("quiet") {
		if err := r.json(c.App.Writer); err != nil {
			return err
		}
	}
	return r.status()
}
