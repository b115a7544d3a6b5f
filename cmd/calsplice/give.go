package main

import (
	"cmp"
	"io"

	"github.com/urfave/cli/v2"

	"calsplice/tables"
	"calsplice/tables/grid"
	"calsplice/tables/tablefile"
)

func give(c *cli.Context) error {
	in, out := reading(c), cmp.Or(c.String("o"), "-")
	dress := grid.Dress{Comma: ',', Decimal: c.String("decimal")[0], ValuesOnly: c.Bool("values-only")}
	if dress.Decimal == ',' {
		dress.Comma = ';'
	}
	if c.Bool("tsv") || extension(out) == ".tsv" {
		dress.Comma = '\t'
	}
	in.check(needs(c, "table"))
	_, t := in.namedTable()
	if in.err != nil {
		return in.err
	}
	return tablefile.Replace(out, c.App.Writer, func(w io.Writer) error { return grid.Write(w, t, dress) })
}

// namedTable reads the first argument and takes the table that --table names.
func (in *input) namedTable() (doc *tables.Calibration, t *tables.Table) {
	doc = in.doc(in.arg(0))
	return doc, in.tableOf(doc, in.arg(0), in.String("table"))
}
