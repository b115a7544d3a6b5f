package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/tableunit"
)

func convert(c *cli.Context) error {
	in, path, out := reading(c), c.Args().First(), c.String("o")
	in.check(needs(c, "o"))
	if in.err != nil {
		return in.err
	}
	data, format, err := tablefile.Bytes(path, c.App.Reader)
	if err != nil {
		return err
	}
	if changefile.Is(data, format) {
		in.refuse(c.Bool("long") || c.IsSet("unit"), "--long and --unit are for calibrations and cells, not for a change set")
		cs := withCautions(in, func() (*merge.ChangeSet, tables.Faults, error) { return changefile.Parse(data, format, path) })
		if in.err != nil {
			return in.err
		}
		return changefile.Write(out, cs, nil, output(c))
	}
	doc := withCautions(in, func() (*tables.Calibration, tables.Faults, error) { return tablefile.Parse(data, format, path) })
	for _, u := range many(c, "unit") {
		target, to, ok := strings.Cut(u, "=")
		in.refuse(!ok, "--unit is %s, expected TABLE=UNIT", tables.Quote(u))
		in.within(path, func() (err error) {
			var notes []string
			doc, notes, err = tableunit.Convert(doc, target, to)
			printCautions(c, notes...)
			return err
		})
	}
	if in.err != nil {
		return in.err
	}
	return tablefile.Write(out, doc, tablefile.Options{Format: c.String("format"), Long: c.Bool("long"), Stdout: c.App.Writer})
}
