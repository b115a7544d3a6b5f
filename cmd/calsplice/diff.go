package main

import (
	"fmt"

	"calsplice/cmd/calsplice/view"
	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/strictjson"

	"github.com/urfave/cli/v2"
)

func diffCommand() *cli.Command {
	return &cli.Command{
		Name:      "diff",
		Usage:     "compare two calibrations, two drives, or their cells",
		ArgsUsage: "OLD NEW",
		Flags: []cli.Flag{
			manyFlag("table", "`GLOB`: compare only tables with such an id; may be repeated"),
			manyFlag("abs-tol", "`[TABLE=]V`: hide differences of cells up to this (default: half the resolution)"),
			manyFlag("rel-tol", "`[TABLE=]V`: the same, as a share of the larger value: 0.01 for 1 %"),
			&cli.BoolFlag{Name: "quiet", Aliases: []string{"q"}, Usage: "print nothing, only set the exit status"},
			&cli.BoolFlag{Name: "stat", Usage: "print a line a table"},
			&cli.BoolFlag{Name: "name-only", Usage: "print the ids of the tables that differ"},
			&cli.StringFlag{Name: "axes", Usage: "`CAL[:TABLE]`: compare two drive logs on these axes (default: of the table with role spark.advance)"},
			profileFlag(), jsonFlag(), colorFlag(),
			outFlag("`FILE`: the change set: .json .csv .xlsx .patch.json, or a page to decide on: .html"), formatFlag(),
		},
		Action: diffAction,
	}
}

func diffAction(c *cli.Context) error {
	if c.String("axes") != "" {
		return diffLogs(c)
	}
	tolerance, err := toleranceFlags(c)
	if err != nil {
		return err
	}
	only, err := selection(c)
	if err != nil {
		return err
	}
	if err := noLogs(c); err != nil {
		return err
	}
	old, new, err := readTwo(c)
	if err != nil {
		return err
	}
	if err := wantTables(only, old, new); err != nil {
		return err
	}
	if err := wantBounds(tolerance, old, new); err != nil {
		return err
	}
	if drives := old.Kind() == tables.Cells && new.Kind() == tables.Cells; drives && !asksTables(c) {
		return diffDrives(c, old, new, only)
	}
	d := difference{old, new, tolerance, only}
	if out := c.String("o"); out != "" {
		if err := d.write(c, out); err != nil {
			return err
		}
	}
	differs, err := d.print(c)
	if err == nil && differs {
		err = errReport
	}
	return err
}

// difference is what is compared, and how.
type difference struct {
	old, new  *tables.Calibration
	tolerance merge.Tolerance
	only      merge.Selection
}

// print prints what the flags ask for, and reports whether anything differs by
// more than the tolerance. With -o that is nothing but what it hides.
func (d *difference) print(c *cli.Context) (bool, error) {
	w, out := reportWriter(c), c.String("o")
	if c.Bool("quiet") || out != "" && !c.Bool("json") && !c.Bool("stat") && !c.Bool("name-only") {
		differs, hidden := merge.Differs(d.old, d.new, d.tolerance, d.only)
		if hidden > 0 && !c.Bool("quiet") {
			written := "; they are still written to "
			if hidden == 1 {
				written = "; it is still written to "
			}
			printCautions(c, view.Hidden(hidden)+written+out)
		}
		return differs, nil
	}
	r := merge.Compare(d.old, d.new, d.tolerance, d.only)
	switch {
	case c.Bool("json"):
		return !r.Same, strictjson.Print(w, r)
	case c.Bool("name-only"):
		for _, t := range r.Tables {
			fmt.Fprintln(w, t.Table)
		}
	case c.Bool("stat"):
		printView(c, view.DifferenceByTable(r))
	default:
		printView(c, view.Difference(d.old, d.new, r, d.tolerance, nil))
	}
	return !r.Same, nil
}

// write writes what differs by the extension: a change set or a page.
func (d *difference) write(c *cli.Context, out string) error {
	cs, err := d.only.Of(merge.Diff(d.old, d.new))
	if err != nil {
		return err
	}
	if extension(out) == ".html" {
		r := merge.Compare(d.old, d.new, d.tolerance, d.only)
		return writePage(c, out, view.Difference(d.old, d.new, r, d.tolerance, cs))
	}
	return changefile.Write(out, cs, d.old, outputOrPage(c))
}
