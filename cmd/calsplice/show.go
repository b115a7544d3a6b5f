package main

import (
	"errors"
	"io"
	"slices"

	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

func show(in *input) error {
	out := in.text("o")
	doc, only := in.doc(in.arg(0)), in.selection()
	in.wantTables(only, doc)
	in.err = tables.In(in.arg(0), 0, 0, "", in.err)
	if in.err != nil {
		return in.err
	}
	contents := doc.Contents()
	contents.Tables = slices.DeleteFunc(slices.Clone(doc.Tables()), func(t *tables.Table) bool { return !only.Table(t.ID()) })
	if in.yes("picture") || extension(out) == ".png" || extension(out) == ".svg" {
		return in.writePictures(out, contents.Tables)
	}
	part, err := tables.NewCalibration(contents)
	if err != nil {
		return err
	}
	r := result{json: documentJSON(part), write: writesDocument(part),
		view: viewed(func() *view.View { return view.Show(part, contents.Tables) })}
	if r.page = r.view; part.Kind() == tables.Cells {
		r.page = func() (*view.View, error) { return view.Cells(part, "mean") }
	}
	return in.deliver(r)
}

// writePictures draws tables one under the other.
func (in *input) writePictures(out string, list []*tables.Table) error {
	write := page.WritePNG
	switch extension(out) {
	case ".png":
	case ".svg":
		write = page.WriteSVG
	default:
		return errors.New("--picture needs -o NAME.png or NAME.svg")
	}
	charts, cautions := view.Pictures(list)
	in.caution(cautions...)
	if len(charts) == 0 {
		return &tables.Fault{File: in.arg(0), What: "no table here can be drawn: expected a curve or a map of two breakpoints at least"}
	}
	return tablefile.Replace(out, in.stdout, func(w io.Writer) error { return write(w, charts) })
}
