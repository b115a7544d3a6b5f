package main

import (
	"errors"
	"io"
	"slices"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

func show(c *cli.Context) error {
	in, out := reading(c), c.String("o")
	doc, only := in.doc(in.arg(0)), in.selection()
	in.wantTables(only, doc)
	in.err = tables.In(in.arg(0), 0, 0, "", in.err)
	if in.err != nil {
		return in.err
	}
	contents := doc.Contents()
	contents.Tables = slices.DeleteFunc(slices.Clone(doc.Tables()), func(t *tables.Table) bool { return !only.Table(t.ID()) })
	if c.Bool("picture") || extension(out) == ".png" || extension(out) == ".svg" {
		return writePictures(c, out, contents.Tables)
	}
	part, err := tables.NewCalibration(contents)
	if err != nil {
		return err
	}
	r := result{json: documentJSON(part), write: func(out string) error { return tablefile.Write(out, part, outputOrPage(c)) },
		view: viewed(func() *view.View { return view.Show(part, contents.Tables) })}
	if r.page = r.view; part.Kind() == tables.Cells {
		r.page = func() (*view.View, error) { return view.Cells(part, "mean") }
	}
	return deliver(c, r)
}

// writePictures draws tables one under the other.
func writePictures(c *cli.Context, out string, list []*tables.Table) error {
	write := page.WritePNG
	switch extension(out) {
	case ".png":
	case ".svg":
		write = page.WriteSVG
	default:
		return errors.New("--picture needs -o NAME.png or NAME.svg")
	}
	charts, cautions := view.Pictures(list)
	printCautions(c, cautions...)
	if len(charts) == 0 {
		return &tables.Fault{File: c.Args().First(), What: "no table here can be drawn: expected a curve or a map of two breakpoints at least"}
	}
	return tablefile.Replace(out, c.App.Writer, func(w io.Writer) error { return write(w, charts) })
}
