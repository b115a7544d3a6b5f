package main

import (
	"bufio"
	"errors"
	"fmt"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// lookAtDrive is cells with --axes alone: are the trims normal, is retard more
// than noise.
func lookAtDrive(c *cli.Context) error {
	files, err := expand(c.Args().Slice())
	if err != nil {
		return err
	}
	d, err := gatherDrive(c, files)
	if err != nil {
		return err
	}
	return deliver(c, result{
		view: func() (*view.View, error) { return view.Drive(d) },
		json: documentJSON(d.Steady),
		write: func(out string) error {
			v, err := view.Drive(d)
			if err != nil {
				return err
			}
			printCautions(c, v.Lead...)
			return tablefile.Write(out, d.Steady, outputOrPage(c))
		},
	})
}

// gatherDrive reads the logs of one drive onto the axes that --axes names.
func gatherDrive(c *cli.Context, files []string) (*cells.Drive, error) {
	spec, logs, err := cellsQuestion(c, files, true)
	if err != nil {
		return nil, err
	}
	limitMemory(streaming)
	d, notes, err := cells.GatherDrive(c.Context, logs, spec)
	printCautions(c, notes...)
	return d, err
}

// diffLogs compares two drives by their logs, on the axes of --axes.
func diffLogs(c *cli.Context) error {
	if asksTables(c) || c.Bool("quiet") && c.String("o") != "" {
		return errors.New("--axes compares two drive logs: --table, --stat, --name-only and tolerances are for calibrations and cells")
	}
	out := c.String("o")
	if out != "" && extension(out) != ".html" {
		return &tables.Fault{File: out, What: "two drive logs compare as text, --json or a page (.html); cells writes their averages, and diff a change set of those"}
	}
	var drives [2]*cells.Drive
	for i, file := range c.Args().Slice() {
		document, err := isDocument(file, bufio.NewReader(c.App.Reader))
		if err == nil && (document || file == "-") {
			err = &tables.Fault{File: file, What: "with --axes this must be a drive log, in a file"}
		}
		if err == nil {
			drives[i], err = gatherDrive(c, []string{file})
		}
		if err != nil {
			return err
		}
	}
	r, err := cells.CompareDrives(drives[0], drives[1])
	if err != nil {
		return err
	}
	return deliverComparison(c, result{json: asJSON(r), found: r.Changed(),
		view: viewed(func() *view.View { return view.Drives(drives[0], drives[1], r) })})
}

// noLogs refuses two files that are no documents, and says how drive logs compare.
func noLogs(c *cli.Context) error {
	for _, file := range c.Args().Slice() {
		if file == "-" || extension(file) != ".csv" {
			return nil
		}
		if document, err := isDocument(file, nil); document || err != nil {
			return nil // readers say what is wrong
		}
	}
	return fmt.Errorf("%s and %s are neither calibrations nor cells: where they are drive logs, --axes CAL compares them", c.Args().Get(0), c.Args().Get(1))
}
