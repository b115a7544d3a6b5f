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
	data, format, err := tablefile.Bytes(path, in.stdin)
	check(err)
	if changefile.Is(data, format) {
		refuse(in.yes("long") || in.given("unit"), "--long and --unit are for calibrations and cells, not for a change set")
		cs, cautions, err := changefile.Parse(data, format, path)
		in.read(cautions, err)
		check(changefile.Write(out, cs, nil, in.output()))
		return
	}
	doc, cautions, err := tablefile.Parse(data, format, path)
	in.read(cautions, err)
	for _, u := range in.many("unit") {
		target, to, ok := strings.Cut(u, "=")
		refuse(!ok, "--unit is %s, expected TABLE=UNIT", tables.Quote(u))
		var notes []string
		doc, notes, err = tableunit.Convert(doc, target, to)
		in.caution(notes...)
		within(path, err)
	}
	opt := in.output()
	opt.Long = in.yes("long")
	check(tablefile.Write(out, doc, opt))
}
