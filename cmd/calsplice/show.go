package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/report"
	"calsplice/cmd/calsplice/text"
	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
)

func showCommand() *cli.Command {
	return &cli.Command{
		Name:      "show",
		Usage:     "tables as shaded text",
		ArgsUsage: "FILE",
		Description: "Prints the tables of a calibration or of cell averages with their axes, as wide as\n" +
			"the window. -o writes them as a page (.html) or as a document (.json, .csv, .xlsx).\n\n" +
			"Example:\n  calsplice show found.json --table 'injector.*'",
		Flags: []cli.Flag{
			tableFlag("only the tables whose id matches `GLOB`"),
			outFlag("write a page or a document to `FILE`"), formatFlag(), jsonFlag(), colorFlag(),
		},
		Action: func(c *cli.Context) error {
			if err := wantArgs(c, 1, 1); err != nil {
				return err
			}
			file := c.Args().First()
			doc, err := readDoc(c, file)
			if err != nil {
				return err
			}
			list, err := chosen(file, doc.Tables(), c.StringSlice("table"))
			if err != nil {
				return err
			}
			return show(c, doc, list)
		},
	}
}

func show(c *cli.Context, doc *tables.Calibration, list []*tables.Table) error {
	contents := doc.Contents()
	contents.Tables = list
	part, err := tables.NewCalibration(contents)
	if err != nil {
		return err
	}
	out := c.String("o")
	switch {
	case extension(out) == ".html" && part.Kind() == tables.Cells:
		return writePage(c, out, report.Cells(part))
	case extension(out) == ".html":
		return writePage(c, out, report.Show(part, list))
	case out != "":
		return tablefile.Write(out, part, outputOrPage(c))
	case c.Bool("json"):
		return tablejson.Write(c.App.Writer, part)
	}
	p, err := printer(c)
	if err != nil {
		return err
	}
	if name := doc.Name(); name != "" {
		p.Wrap("", tables.Clean(name))
	}
	for _, t := range list {
		p.Line("")
		showTable(p, t, digitsOf(doc))
	}
	return nil
}

// showTable writes a table's heading, its values, and its notes.
func showTable(p *text.Printer, t *tables.Table, digits int) {
	heading := t.ID()
	if u := t.Unit(); u != "" {
		heading += " [" + u + "]"
	}
	if title := t.Title(); title != "" {
		heading += "  " + title
	}
	p.Wrap("", tables.Clean(heading))
	p.Grid(text.Values(t, digits))
	for line := range strings.SplitSeq(t.Notes(), "\n") {
		if line != "" {
			p.Wrap("  ", tables.Clean(line))
		}
	}
}

// digitsOf is how many significant digits a person reads of a document's
// values: a calibration's are exact, statistics are not.
func digitsOf(doc *tables.Calibration) int {
	if doc.Kind() == tables.Cells {
		return 4
	}
	return 0
}
