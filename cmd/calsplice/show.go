package main

import (
	"slices"

	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
)

func show(in *input) {
	out := in.text("o")
	doc, only := in.doc(in.arg(0)), in.selection()
	within(in.arg(0), wantTables(only.Tables, doc))
	contents := doc.Contents()
	contents.Tables = slices.DeleteFunc(slices.Clone(doc.Tables()), func(t *tables.Table) bool { return !only.Table(t.ID()) })
	part := must(tables.NewCalibration(contents))
	r := result{pages: true, json: documentJSON(part), write: writesDocument(part),
		view: func() *view.View { return view.Show(part, contents.Tables) }}
	if part.Kind() == tables.Cells {
		r.page = func() *view.View { return must(view.Cells(part, "mean")) }
	}
	if picture := draws[extension(out)] != nil; picture || in.yes("picture") {
		refuse(!picture, "--picture needs -o NAME.png or NAME.svg")
		r.charts = in.pictures(contents.Tables)
	}
	in.deliver(r)
}

// pictures are those of the tables that can be drawn.
func (in *input) pictures(list []*tables.Table) []view.Chart {
	charts, cautions := view.Pictures(list)
	in.caution(cautions...)
	if len(charts) == 0 {
		check(&tables.Fault{File: in.arg(0), What: "no table here can be drawn: expected a curve or a map of two breakpoints at least"})
	}
	return charts
}
