package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/tableunit"
)

func convertCommand() *cli.Command {
	return &cli.Command{
		Name:      "convert",
		Usage:     "convert a file to another format, or a table to other units",
		ArgsUsage: "IN",
		Flags: []cli.Flag{
			outFlag("`FILE`: the converted file: .json .csv .xlsx"),
			formatFlag(),
			&cli.BoolFlag{Name: "long", Usage: "CSV with a row a cell, for data tools"},
			manyFlag("unit", "`TABLE=UNIT`: convert a table; TABLE.x=UNIT or TABLE.y=UNIT an axis"),
		},
		Action: convert,
	}
}

func convert(c *cli.Context) error {
	in, out := c.Args().First(), c.String("o")
	if err := needs(c, "o"); err != nil {
		return err
	}
	data, format, err := tablefile.Bytes(in, c.App.Reader)
	if err != nil {
		return err
	}
	if changefile.Is(data, format) {
		return convertChanges(c, data, format, in, out)
	}
	doc, cautions, err := tablefile.Parse(data, format, in)
	printCautions(c, cautions.Lines()...)
	if err != nil {
		return err
	}
	for _, u := range many(c, "unit") {
		target, to, ok := strings.Cut(u, "=")
		if !ok {
			return fmt.Errorf("--unit is %s, want TABLE=UNIT", tables.Quote(u))
		}
		var notes []string
		if doc, notes, err = tableunit.Convert(doc, target, to); err != nil {
			return tables.In(in, 0, 0, "", err)
		}
		printCautions(c, notes...)
	}
	return tablefile.Write(out, doc, tablefile.Options{Format: c.String("format"), Long: c.Bool("long"), Stdout: c.App.Writer})
}

func convertChanges(c *cli.Context, data []byte, format, in, out string) error {
	if c.Bool("long") || len(many(c, "unit")) > 0 {
		return errors.New("--long and --unit are for calibrations and cells, not for a change set")
	}
	cs, cautions, err := changefile.Parse(data, format, in)
	printCautions(c, cautions.Lines()...)
	if err != nil {
		return err
	}
	return changefile.Write(out, cs, nil, output(c))
}
