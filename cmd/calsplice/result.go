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
	lines func() []string            // in place of a view: one line each, however wide, since programs read them too
	page  func() (*view.View, error) // what -o NAME.html takes; nil where the command writes no pages
	json  func(io.Writer) error      // nil where the command prints none
	write func(out string) error     // writes the document that -o names; nil where -o takes the page or JSON
	// beside is set where a report is printed beside what -o writes.
	beside   bool
	notes    []string // for standard error
	cautions []string // of the report, for standard error too where that does not reach the same eyes
	found    bool     // there is something to report: status 1
}

// deliver writes a result where and as the flags ask: to -o by its extension, and
// to standard output as JSON or text.
func deliver(c *cli.Context, r result) error {
	out := c.String("o")
	if out != "" {
		if err := r.put(c, out); err != nil {
			return err
		}
	}
	printCautions(c, r.notes...)
	if (out == "" || r.beside) && !c.Bool("quiet") {
		if err := r.print(c); err != nil {
			return err
		}
	}
	if r.found {
		return errReport
	}
	return nil
}

// put writes what -o names.
func (r result) put(c *cli.Context, out string) error {
	switch {
	case extension(out) == ".html" && r.page != nil:
		v, err := r.page()
		if err != nil {
			return err
		}
		return tablefile.Replace(out, c.App.Writer, func(w io.Writer) error { return page.Write(w, v) })
	case r.write != nil:
		return r.write(out)
	}
	return tablefile.Replace(out, c.App.Writer, r.json)
}

// print prints the report.
func (r result) print(c *cli.Context) error {
	w := reportWriter(c)
	asked := c.Bool("json")
	if f, _ := text.Terminal(w); asked || f == nil && w != c.App.ErrWriter {
		printCautions(c, r.cautions...)
	}
	switch {
	case asked:
		return r.json(w)
	case r.lines != nil:
		printLines(w, r.lines())
		return nil
	}
	v, err := r.view()
	if err == nil {
		text.NewPrinter(w, c.String("color")).View(v)
	}
	return err
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
