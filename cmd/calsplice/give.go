package main

import (
	"cmp"
	"io"

	"calsplice/tables"
	"calsplice/tables/grid"
	"calsplice/tables/tablefile"
)

func give(in *input) {
	out := cmp.Or(in.text("o"), "-")
	dress := grid.Dress{Comma: ',', Decimal: in.text("decimal")[0], ValuesOnly: in.yes("values-only")}
	if dress.Decimal == ',' {
		dress.Comma = ';'
	}
	if in.yes("tsv") || extension(out) == ".tsv" {
		dress.Comma = '\t'
	}
	in.needs("table")
	_, t := in.namedTable()
	check(tablefile.Replace(out, in.stdout, func(w io.Writer) error { return grid.Write(w, t, dress) }))
}

// namedTable reads the first argument and takes the table that --table names.
func (in *input) namedTable() (doc *tables.Calibration, t *tables.Table) {
	doc = in.doc(in.arg(0))
	return doc, tableOf(doc, in.arg(0), in.text("table"))
}
