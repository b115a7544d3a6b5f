package main

import (
	"strings"

	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/tableunit"
)

func convert(in *input) {
	path, out := in.arg(0), in.text("o")
	in.needs("o")
	doc, cs := in.docOrChanges(path)
	if cs != nil {
		refuse(in.yes("long") || in.given("unit"), "--long and --unit are for calibrations and cells, not for a change set")
		check(changefile.Write(out, cs, nil, in.output()))
		return
	}
	for _, u := range in.many("unit") {
		target, to, ok := strings.Cut(u, "=")
		refuse(!ok, "--unit is %s, expected TABLE=UNIT", tables.Quote(u))
		after, notes, err := tableunit.Convert(doc, target, to)
		in.caution(notes...)
		within(path, err)
		doc = after
	}
	opt := in.output()
	opt.Long = in.yes("long")
	check(tablefile.Write(out, doc, opt))
}
