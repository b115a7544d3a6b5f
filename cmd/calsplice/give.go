package main

import (
	"io"
	"os"

	"github.com/urfave/cli/v2"

	"calsplice/tables"
	"calsplice/tables/grid"
	"calsplice/tables/tablefile"
)

func giveCommand() *cli.Command {
	return &cli.Command{
		Name:      "give",
		Usage:     "print a table as a plain grid, to paste elsewhere",
		ArgsUsage: "CAL",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "table", Usage: "`ID`: the table"},
			&cli.BoolFlag{Name: "tsv", Usage: "tabs between cells instead of commas"},
			&cli.StringFlag{Name: "decimal", Value: ".", Usage: "`MARK`: the decimal mark, . or ,; with a comma, semicolons stand between cells"},
			&cli.BoolFlag{Name: "values-only", Usage: "without the breakpoints"},
			outFlag("`FILE`: the grid: .csv, .tsv or .txt", ".csv", ".tsv", ".txt", ""),
		},
		Action: give,
	}
}

func give(c *cli.Context) error {
	out, dress := c.String("o"), grid.Dress{Comma: ',', Decimal: c.String("decimal")[0], ValuesOnly: c.Bool("values-only")}
	if dress.Decimal == ',' {
		dress.Comma = ';'
	}
	if out == "" {
		out = "-"
	}
	if c.Bool("tsv") || extension(out) == ".tsv" {
		dress.Comma = '\t'
	}
	if err := needs(c, "table"); err != nil {
		return err
	}
	_, t, err := namedTable(c)
	if err != nil {
		return err
	}
	return tablefile.Replace(out, c.App.Writer, func(w io.Writer) error {
		return grid.Write(w, t, dress)
	})
}

// namedTable reads the first argument and takes the table that --table names.
func namedTable(c *cli.Context) (doc *tables.Calibration, t *tables.Table, err error) {
	file := c.Args().First()
	if doc, err = readDoc(c, file); err == nil {
		t, err = tableOf(doc, file, c.String("table"))
	}
	return doc, t, err
}

// tableAt reads the table that CAL:TABLE names, and where it names none the one
// that otherwise chooses. A file of that whole name goes first, since names may
// hold colons.
func tableAt(c *cli.Context, address string, otherwise func(*tables.Calibration) (string, error)) (*tables.Calibration, *tables.Table, error) {
	file, id := tablefile.SplitTable(address)
	if _, err := os.Stat(address); err == nil {
		file, id = address, ""
	}
	doc, err := readDoc(c, file)
	if err == nil && id == "" {
		id, err = otherwise(doc)
	}
	if err != nil {
		return nil, nil, tables.In(file, 0, 0, "", err)
	}
	t, err := tableOf(doc, file, id)
	return doc, t, err
}

// tableOf is the table with an id, or a line that lists the ids that there are.
func tableOf(doc *tables.Calibration, file, id string) (*tables.Table, error) {
	if t := doc.Table(id); t != nil {
		return t, nil
	}
	return nil, &tables.Fault{File: file, What: tables.Unknown("table", id, doc.IDs())}
}
