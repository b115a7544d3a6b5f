package main

import (
	"fmt"
	"strings"

	"calsplice/cmd/calsplice/difftext"
	"calsplice/cmd/calsplice/text"
	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tablefile"

	"github.com/urfave/cli/v2"
)

func diffCommand() *cli.Command {
	return &cli.Command{
		Name:      "diff",
		Usage:     "what differs between two calibrations, or the cells of two drives",
		ArgsUsage: "OLD NEW",
		Description: `Tells two documents apart: cells in blocks where one rule explains them, axes
apart from values, notes word by word. Rows and columns count from 0.

   calsplice diff found.json corrected.json
   calsplice diff found.json corrected.json --table 'injector.*' -o changes.json

Cells of two drives are compared by what changed beyond chance; with --stat,
--name-only, --table or a tolerance, value by value.

The exit status is 0 where nothing differs by more than the tolerance, 1 where
something does, 2 in trouble. With -o the change set carries every bit of what
differs in the selected tables, whatever the tolerance.`,
		Flags: []cli.Flag{
			manyFlag("table", "compare the tables that match `GLOB` only; may be repeated"),
			manyFlag("abs-tol", "hide differences of cells up to `[TABLE=]V`; half the resolution unless told"),
			manyFlag("rel-tol", "hide differences of cells up to `[TABLE=]V` of the larger value, 0.01 for 1 %"),
			&cli.BoolFlag{Name: "quiet", Aliases: []string{"q"}, Usage: "print nothing, only set the exit status"},
			&cli.BoolFlag{Name: "stat", Usage: "print a line a table"},
			&cli.BoolFlag{Name: "name-only", Usage: "print the ids of the tables that differ"},
			jsonFlag(), colorFlag(),
			outFlag("write a change set to `FILE`: .json .csv .xlsx .patch.json, or a page: .html"), formatFlag(),
		},
		Action: diffAction,
	}
}

func diffAction(c *cli.Context) error {
	if err := wantArgs(c, 2, 2); err != nil {
		return err
	}
	tolerance, err := toleranceFlags(c)
	if err != nil {
		return err
	}
	only, err := selection(c)
	if err != nil {
		return err
	}
	old, new, err := readTwo(c)
	if err != nil {
		return err
	}
	if err := wantTables(only, old, new); err != nil {
		return err
	}
	if drives := old.Kind() == tables.Cells && new.Kind() == tables.Cells; drives && !asksTables(c) {
		return diffDrives(c, old, new, only)
	}
	if out := c.String("o"); out != "" {
		if err := writeChanges(c, out, old, new, tolerance, only); err != nil {
			return err
		}
	}
	differs, err := tellDiff(c, old, new, tolerance, only)
	if err == nil && differs {
		err = errReport
	}
	return err
}

// tellDiff prints what the flags ask for, and reports whether anything differs
// by more than the tolerance. With -o that is nothing but what it hides.
func tellDiff(c *cli.Context, old, new *tables.Calibration, t merge.Tolerance, only merge.Selection) (bool, error) {
	w, out := c.App.Writer, c.String("o")
	if out == "-" {
		w = c.App.ErrWriter
	}
	if c.Bool("quiet") || out != "" && !c.Bool("json") && !c.Bool("stat") && !c.Bool("name-only") {
		differs, hidden := merge.Differs(old, new, t, only)
		if hidden > 0 && !c.Bool("quiet") {
			tell(c, []string{difftext.Hidden(hidden) + ", and stands in " + tables.Clean(out) + " all the same"})
		}
		return differs, nil
	}
	r := merge.Compare(old, new, t, only)
	switch {
	case c.Bool("json"):
		return !r.Same, difftext.JSON(w, r)
	case c.Bool("stat"):
		return !r.Same, difftext.Stat(w, r)
	case c.Bool("name-only"):
		return !r.Same, difftext.Names(w, r)
	}
	p, err := text.NewPrinter(w, c.String("color"))
	if err != nil {
		return false, err
	}
	return !r.Same, difftext.Print(p, r, t)
}

// writeChanges writes what differs by the extension: a change set or a page.
func writeChanges(c *cli.Context, out string, old, new *tables.Calibration, t merge.Tolerance, only merge.Selection) error {
	cs := merge.Diff(old, new).Select(only.Edit)
	if extension(out) == ".html" {
		return writeChangePage(c, out, old, new, cs, merge.Compare(old, new, t, only), t)
	}
	return changefile.WriteFor(out, cs, old, output(c))
}

// readTwo reads the two documents that the arguments name; one of them may be
// standard input.
func readTwo(c *cli.Context) (a, b *tables.Calibration, err error) {
	docs, err := readAll(c, c.Args().Slice()...)
	if err != nil {
		return nil, nil, err
	}
	return docs[0], docs[1], nil
}

// readAll reads documents, telling the faults of all of them.
func readAll(c *cli.Context, paths ...string) ([]*tables.Calibration, error) {
	var docs []*tables.Calibration
	var faults []string
	stdin := 0
	for _, p := range paths {
		if p == "-" {
			if stdin++; stdin > 1 {
				return nil, fmt.Errorf("only one document can be standard input")
			}
		}
		doc, cautions, err := tablefile.ReadSaying(p, c.App.Reader)
		if err != nil {
			faults = append(faults, err.Error())
			continue
		}
		tell(c, cautions)
		docs = append(docs, doc)
	}
	if len(faults) > 0 {
		return nil, fmt.Errorf("%s", strings.Join(faults, "\n"))
	}
	return docs, nil
}

// wantTables refuses a pattern that no table of any document matches.
func wantTables(only merge.Selection, docs ...*tables.Calibration) error {
	for _, p := range only.Tables {
		one := merge.Selection{Tables: []string{p}}
		hit := false
		for _, d := range docs {
			for _, id := range d.IDs() {
				hit = hit || one.Table(id)
			}
		}
		if !hit {
			return fmt.Errorf("no table matches %s", tables.Quote(p))
		}
	}
	return nil
}

func toleranceFlags(c *cli.Context) (merge.Tolerance, error) {
	var t merge.Tolerance
	for _, p := range []struct {
		flag string
		to   *[]merge.Bound
	}{{"abs-tol", &t.Abs}, {"rel-tol", &t.Rel}} {
		for _, s := range many(c, p.flag) {
			b, err := merge.ParseBound(s)
			if err != nil {
				return t, fmt.Errorf("--%s: %w", p.flag, err)
			}
			*p.to = append(*p.to, b)
		}
	}
	return t, nil
}
