package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/text"
	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
)

// result is what a command found, in each form in which it may be asked for.
type result struct {
	view  func() (*view.View, error)
	json  func(io.Writer) error
	write func(out string) error // writes the document that -o names; nil where -o takes the page or JSON
	found bool                   // there is something to report: status 1
}

// deliver writes a result where and as the flags ask: to -o by its extension,
// else to standard output as JSON or text.
func deliver(c *cli.Context, r result) error {
	out := c.String("o")
	if err := r.put(c, out, extension(out)); err != nil {
		return err
	}
	return r.status()
}

func (r result) status() error {
	if r.found {
		return errReport
	}
	return nil
}

func (r result) put(c *cli.Context, out, ext string) error {
	switch {
	case out != "" && ext != ".html" && r.write != nil:
		return r.write(out)
	case out == "" && c.Bool("json"):
		return r.json(c.App.Writer)
	case ext == ".json":
		return tablefile.Replace(out, c.App.Writer, r.json)
	}
	v, err := r.view()
	switch {
	case err != nil:
		return err
	case ext == ".html":
		return writePage(c, out, v)
	}
	printView(c, v)
	return nil
}

// viewed is a view whose making cannot fail.
func viewed(make func() *view.View) func() (*view.View, error) {
	return func() (*view.View, error) { return make(), nil }
}

// asJSON prints a value for programs, and documentJSON a document.
func asJSON(v any) func(io.Writer) error {
	return func(w io.Writer) error { return strictjson.Print(w, v) }
}

func documentJSON(doc *tables.Calibration) func(io.Writer) error {
	return func(w io.Writer) error { return tablejson.Write(w, doc) }
}

// writePage writes a result as a page, whole.
func writePage(c *cli.Context, out string, v *view.View, pictures ...page.Picture) error {
	return tablefile.Replace(out, c.App.Writer, func(w io.Writer) error { return page.Write(w, v, pictures...) })
}

// printView prints a result for a person.
func printView(c *cli.Context, v *view.View) {
	text.NewPrinter(reportWriter(c), c.String("color")).View(v)
}

// printLines prints lines for a person, folded where they go to a terminal.
func printLines(w io.Writer, lines []string) {
	w = text.Folded(w)
	for _, l := range lines {
		if l != "" {
			fmt.Fprintln(w, tables.Clean(l))
		}
	}
}

// reportWriter is where a report for a person goes: to standard output, or beside
// it where -o takes that.
func reportWriter(c *cli.Context) io.Writer {
	if toStdout(c.String("o")) {
		return c.App.ErrWriter
	}
	return c.App.Writer
}

// twiceStdout refuses -o - beside --json.
func twiceStdout(c *cli.Context) error {
	if toStdout(c.String("o")) && c.Bool("json") {
		return errors.New("-o - and --json both need standard output: write -o to a file")
	}
	return nil
}

// toStdout reports whether an output goes to standard output.
func toStdout(out string) bool { return out == "-" || out == "/dev/stdout" }
