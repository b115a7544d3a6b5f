package main

import (
	"fmt"
	"io"

	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/text"
	"calsplice/cmd/calsplice/view"
	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
)

// result is what a command found, in each form in which it may be asked for.
type result struct {
	view   func() *view.View
	lines  func() []string       // in place of a view: one line each, however wide, since programs read them too
	pages  bool                  // -o NAME.html takes the view
	page   func() *view.View     // or another one
	json   func(io.Writer) error // nil where the command prints none
	write  writer                // writes what else -o names; nil where it takes the page, the picture or JSON
	charts []view.Chart          // what a picture shows
	// beside is set where a report is printed beside what -o writes.
	beside   bool
	notes    []string // for standard error
	cautions []string // of the report, for standard error too where that does not reach the same eyes
	found    bool     // there is something to report: status 1
}

// writer writes a document where -o says.
type writer func(out string, opt tablefile.Options) error

func writesDocument(doc *tables.Calibration) writer {
	return func(out string, opt tablefile.Options) error { return tablefile.Write(out, doc, opt) }
}

// writesChanges is for a change set to base.
func writesChanges(set *merge.ChangeSet, base *tables.Calibration) writer {
	return func(out string, opt tablefile.Options) error { return changefile.Write(out, set, base, opt) }
}

// deliver writes a result where and as the flags ask: to -o by its extension, and
// to standard output as JSON or text.
func (in *input) deliver(r result) {
	out := in.text("o")
	if out != "" {
		check(in.put(r, out))
	}
	in.caution(r.notes...)
	if (out == "" || r.beside) && !in.yes("quiet") {
		in.print(r)
	}
	in.found = r.found
}

// draws is how pictures are written, by the extension of -o.
var draws = map[string]func(io.Writer, []view.Chart) error{".png": page.WritePNG, ".svg": page.WriteSVG}

// put writes what -o names.
func (in *input) put(r result, out string) error {
	draw := draws[extension(out)]
	if r.pages && r.page == nil {
		r.page = r.view
	}
	switch {
	case draw != nil && r.charts != nil:
		return tablefile.Replace(out, in.stdout, func(w io.Writer) error { return draw(w, r.charts) })
	case extension(out) == ".html" && r.page != nil:
		v := r.page()
		return tablefile.Replace(out, in.stdout, func(w io.Writer) error { return page.Write(w, v) })
	case r.write != nil:
		opt := in.output()
		if r.page != nil {
			opt.Also = []string{".html"}
		}
		return r.write(out, opt)
	}
	return tablefile.Replace(out, in.stdout, r.json)
}

// print prints the report.
func (in *input) print(r result) {
	w := in.reportWriter()
	asked := in.yes("json")
	if f, _ := text.Terminal(w); asked || f == nil && w != in.stderr {
		in.caution(r.cautions...)
	}
	switch {
	case asked:
		check(r.json(w))
	case r.lines != nil:
		printLines(w, r.lines())
	default:
		text.NewPrinter(w, in.text("color")).View(r.view())
	}
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
func (in *input) reportWriter() io.Writer {
	if toStdout(in.text("o")) {
		return in.stderr
	}
	return in.stdout
}

// onceStdout refuses -o - beside --json.
func (in *input) onceStdout() {
	refuse(toStdout(in.text("o")) && in.yes("json"), "-o - and --json both need standard output: write -o to a file")
}

// toStdout reports whether an output goes to standard output.
func toStdout(out string) bool { return out == "-" || out == "/dev/stdout" }
