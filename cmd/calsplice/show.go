package main

import (
	"io"
	"slices"

	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

func show(in *input) {
	out := in.text("o")
	doc, only := in.doc(in.arg(0)), in.selection()
	within(in.arg(0), wantTables(only, doc))
	contents := doc.Contents()
	contents.Tables = slices.DeleteFunc(slices.Clone(doc.Tables()), func(t *tables.Table) bool { return !only.Table(t.ID()) })
	if in.yes("picture") || extension(out) == ".png" || extension(out) == ".svg" {
		in.writePictures(out, contents.Tables)
		return
	}
	part := must(tables.NewCalibration(contents))
	r := result{json: documentJSON(part), write: writesDocument(part),
		view: func() *view.View { return view.Show(part, contents.Tables) }}
	if r.page = r.view; part.Kind() == tables.Cells {
		r.page = func() *view.View { return must(view.Cells(part, "mean")) }
	}
	in.deliver(r)
}

// writePictures draws tables one under the other.
func (in *input) writePictures(out string, list []*tables.Table) {
	write := page.WritePNG
	switch extension(out) {
	case ".png":
	case ".svg":
		write = page.WriteSVG
	default:
		refuse(true, "--picture needs -o NAME.png or NAME.svg")
	}
	charts, cautions := view.Pictures(list)
	in.caution(cautions...)
	if len(charts) == 0 {
		check(&tables.Fault{File: in.arg(0), What: "no table here can be drawn: expected a curve or a map of two breakpoints at least"})
	}
	check(tablefile.Replace(out, in.stdout, func(w io.Writer) error { return write(w, charts) }))
}
