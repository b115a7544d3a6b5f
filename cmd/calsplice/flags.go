package main

import (
	"errors"
	"fmt"
	"io"
	"path"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/text"
	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
)

// The flags that many commands share.

func outFlag(usage string) cli.Flag {
	return &cli.StringFlag{Name: "o", Aliases: []string{"out"}, Usage: usage}
}

func jsonFlag() cli.Flag {
	return &cli.BoolFlag{Name: "json", Usage: "print JSON, for programs"}
}

func colorFlag() cli.Flag {
	return &cli.StringFlag{Name: "color", Value: "auto", Usage: "`WHEN`: auto, always or never"}
}

func tableFlag(usage string) cli.Flag {
	return &cli.StringSliceFlag{Name: "table", Usage: usage}
}

func formatFlag() cli.Flag {
	return &cli.StringFlag{Name: "format", Usage: "`FORMAT`: json, csv or xlsx, for -o -", Action: checkFormat}
}

// checkFormat refuses a --format that the name of the output contradicts, or
// that nothing is written in.
func checkFormat(c *cli.Context, format string) error {
	out := c.String("o")
	ext := extension(out)
	switch {
	case out == "" && c.Command.Name != "take": // which prints the document
		return errors.New("--format is for what -o writes: give -o too")
	case ext != "" && ext != "."+format:
		return &tables.Fault{File: out, What: fmt.Sprintf("its extension is %s, which --format %s contradicts", ext, format)}
	}
	return nil
}

// toStdout reports whether results go to standard output, so that text for a
// person has to stand elsewhere.
func toStdout(out string) bool { return out == "-" || out == "/dev/stdout" }

// output says where and in which spelling documents and change sets go.
func output(c *cli.Context) tablefile.Options {
	return tablefile.Options{Format: c.String("format"), Stdout: c.App.Writer}
}

// outputOrPage is [output] of a command that writes pages too.
func outputOrPage(c *cli.Context) tablefile.Options {
	opt := output(c)
	opt.Also = []string{".html"}
	return opt
}

// readDoc reads a document and tells its cautions.
func readDoc(c *cli.Context, path string) (*tables.Calibration, error) {
	doc, cautions, err := tablefile.ReadWithCautions(path, c.App.Reader)
	printCautions(c, cautions)
	return doc, err
}

// printCautions writes lines for a person to standard error.
func printCautions(c *cli.Context, lines []string) {
	for _, l := range lines {
		fmt.Fprintln(c.App.ErrWriter, "calsplice:", l)
	}
}

// printer writes the command's results to standard output.
func printer(c *cli.Context) (*text.Printer, error) {
	return text.NewPrinter(c.App.Writer, c.String("color"))
}

// extension is the lower-case extension of -o, with its dot; "" where there is
// none.
func extension(out string) string { return strings.ToLower(filepath.Ext(out)) }

// writePage writes a result as a page, whole.
func writePage(c *cli.Context, out string, v *view.View, pictures ...page.Picture) error {
	return tablefile.Replace(out, c.App.Writer, func(w io.Writer) error { return page.Write(w, v, pictures...) })
}

// printView writes a result to standard output.
func printView(c *cli.Context, v *view.View) error {
	p, err := printer(c)
	if err == nil {
		p.View(v)
	}
	return err
}

// writeJSON writes a result for machines, indented.
func writeJSON(c *cli.Context, out string, v any) error {
	return tablefile.Replace(out, c.App.Writer, func(w io.Writer) error { return strictjson.Print(w, v) })
}

// chosen lists the tables whose id matches one of the globs, in the document's
// order; all of them where there is none. A glob that matches nothing is an
// error, since it is a typing error more often than not.
func chosen(file string, list []*tables.Table, globs []string) ([]*tables.Table, error) {
	if len(globs) == 0 {
		return list, nil
	}
	used := make([]bool, len(globs))
	var found []*tables.Table
	for _, t := range list {
		match := false
		for i, g := range globs {
			ok, err := path.Match(g, t.ID())
			if err != nil {
				return nil, fmt.Errorf("--table %s is no pattern: %v", tables.Quote(g), err)
			}
			used[i], match = used[i] || ok, match || ok
		}
		if match {
			found = append(found, t)
		}
	}
	for i, ok := range used {
		if !ok {
			return nil, &tables.Fault{File: file, What: fmt.Sprintf("no table matches --table %s", tables.Quote(globs[i]))}
		}
	}
	return found, nil
}
