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

func showCommand() *cli.Command {
	return &cli.Command{
		Name:      "show",
		Usage:     "print tables, shaded by size, or draw them",
		ArgsUsage: "FILE",
		Flags: []cli.Flag{
			manyFlag("table", "`GLOB`: only tables with such an id; may be repeated"),
			&cli.BoolFlag{Name: "picture", Usage: "draw the tables: with -o NAME.png or NAME.svg"},
			outFlag("`FILE`: a page: .html, the tables: .json .csv .xlsx, or a picture: .png .svg"), formatFlag(), jsonFlag(), colorFlag(),
		},
		Action: func(c *cli.Context) error {
			file := c.Args().First()
			doc, err := readDoc(c, file)
			if err != nil {
				return err
			}
			only, err := selection(c)
			if err != nil {
				return err
			}
			if err := wantTables(only, doc); err != nil {
				return tables.In(file, 0, 0, "", err)
			}
			return show(c, doc, slices.DeleteFunc(slices.Clone(doc.Tables()), func(t *tables.Table) bool { return !only.Table(t.ID()) }))
		},
	}
}

func show(c *cli.Context, doc *tables.Calibration, list []*tables.Table) error {
	contents := doc.Contents()
	contents.Tables = list
	part, err := tables.NewCalibration(contents)
	if err != nil {
		return err
	}
	out := c.String("o")
	if c.Bool("picture") || extension(out) == ".png" || extension(out) == ".svg" {
		return writePictures(c, out, list)
	}
	return deliver(c, result{
		view: func() (*view.View, error) {
			if extension(out) == ".html" && part.Kind() == tables.Cells {
				return view.Cells(part, "mean")
			}
			return view.Show(part, list), nil
		},
		json:  documentJSON(part),
		write: func(out string) error { return tablefile.Write(out, part, outputOrPage(c)) },
	})
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
