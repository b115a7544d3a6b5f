package main

import (
	"strings"

	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/tableunit"
)

func convert(in *input) error {
	path, out := in.arg(0), in.text("o")
	in.check(in.needs("o"))
	if in.err != nil {
		return in.err
	}
	data, format, err := tablefile.Bytes(path, in.stdin)
	if err != nil {
		return err
	}
	if changefile.Is(data, format) {
		in.refuse(in.yes("long") || in.given("unit"), "--long and --unit are for calibrations and cells, not for a change set")
		cs := withCautions(in, func() (*merge.ChangeSet, tables.Faults, error) { return changefile.Parse(data, format, path) })
		if in.err != nil {
			return in.err
		}
		return changefile.Write(out, cs, nil, in.output())
	}
	doc := withCautions(in, func() (*tables.Calibration, tables.Faults, error) { return tablefile.Parse(data, format, path) })
	for _, u := range in.many("unit") {
		target, to, ok := strings.Cut(u, "=")
		in.refuse(!ok, "--unit is %s, expected TABLE=UNIT", tables.Quote(u))
		in.within(path, func() (err error) {
			var notes []string
			doc, notes, err = tableunit.Convert(doc, target, to)
			in.caution(notes...)
			return err
		})
	}
	if in.err != nil {
		return in.err
	}
	return tablefile.Write(out, doc, tablefile.Options{Format: in.text("format"), Long: in.yes("long"), Stdout: in.stdout})
}
