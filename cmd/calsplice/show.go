package main

import (
	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
)

func showCommand() *cli.Command {
	return &cli.Command{
		Name:      "show",
		Usage:     "print tables, shaded by size",
		ArgsUsage: "FILE",
		Description: "Prints the tables of a calibration or of cell averages with their axes, as wide as\n" +
			"the window. -o writes them as a page (.html) or as a document (.json, .csv, .xlsx).\n\n" +
			"Example:\n  calsplice show found.json --table 'injector.*'",
		Flags: []cli.Flag{
			tableFlag("`GLOB`: only tables with such an id"),
			outFlag("`FILE`: a page: .html, or the tables: .json .csv .xlsx"), formatFlag(), jsonFlag(), colorFlag(),
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
		v, err := view.Cells(part, "mean")
		if err != nil {
			return err
		}
		return writePage(c, out, v)
	case extension(out) == ".html":
		return writePage(c, out, view.Show(part, list))
	case out != "":
		return tablefile.Write(out, part, outputOrPage(c))
	case c.Bool("json"):
		return tablejson.Write(c.App.Writer, part)
	}
	return printView(c, view.Show(part, list))
}
