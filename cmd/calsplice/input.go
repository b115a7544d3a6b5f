package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/merge/blocks"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// input is a command line being read, and the files that it names. What fails
// first is kept and nothing is read after it: a command reads all that it needs
// and then looks once whether it has it, at err.
type input struct {
	*line
	err error
}

// apart reads the same command line, with errors of its own.
func (in *input) apart() *input { return &input{line: in.line} }

// get is what read gives, unless something failed before.
func get[T any](in *input, read func() (T, error)) (v T) {
	if in.err == nil {
		v, in.err = read()
	}
	return v
}

// check keeps an error.
func (in *input) check(err error) {
	if in.err == nil {
		in.err = err
	}
}

// refuse is for a command line that cannot be.
func (in *input) refuse(when bool, format string, args ...any) {
	if when {
		in.check(fmt.Errorf(format, args...))
	}
}

// within names the file in an error of read that names none.
func (in *input) within(file string, read func() error) {
	if in.err == nil {
		in.err = tables.In(file, 0, 0, "", read())
	}
}

// withCautions is [get] of a file with cautions, which it prints.
func withCautions[T any](in *input, from func() (T, tables.Faults, error)) T {
	return get(in, func() (T, error) {
		v, cautions, err := from()
		in.caution(cautions.Lines()...)
		return v, err
	})
}

// doc reads a document.
func (in *input) doc(path string) *tables.Calibration {
	return withCautions(in, func() (*tables.Calibration, tables.Faults, error) {
		return tablefile.ReadWithCautions(path, in.stdin)
	})
}

// calibration is [input.doc] of one that is no cells.
func (in *input) calibration(path string) *tables.Calibration {
	doc := in.doc(path)
	if in.err == nil && doc.Kind() != tables.Calibrated {
		in.err = &tables.Fault{File: path, What: "these are cell averages, expected a calibration"}
	}
	return doc
}

// docs reads documents, and keeps the faults of all of them. One may be standard
// input.
func (in *input) docs(paths ...string) (docs []*tables.Calibration) {
	in.refuse(oftenStdin(paths...), "only one document can be standard input")
	faults := []error{in.err}
	for _, p := range paths {
		one := &input{in.line, in.err}
		docs, faults = append(docs, one.doc(p)), append(faults, one.err)
	}
	if in.err == nil {
		in.err = errors.Join(faults...)
	}
	return docs
}

// oftenStdin reports whether more than one of several inputs is "-".
func oftenStdin(paths ...string) bool {
	first := slices.Index(paths, "-")
	return first >= 0 && slices.Contains(paths[first+1:], "-")
}

// expand replaces patterns by the files that they match, which a Windows shell
// leaves to the program. A file that is called like a pattern is that file.
func expand(args []string) ([]string, error) {
	var files []string
	for _, a := range args {
		if _, err := os.Lstat(a); err == nil || !strings.ContainsAny(a, "*?[") {
			files = append(files, a)
			continue
		}
		found, err := filepath.Glob(a)
		if err != nil || len(found) == 0 {
			return nil, fmt.Errorf("no file matches %s", tables.Quote(a))
		}
		files = append(files, found...)
	}
	return files, nil
}

// files are those that arguments name, patterns among them.
func (in *input) files(args []string) []string {
	return get(in, func() ([]string, error) { return expand(args) })
}

// tableAt reads the table that CAL:TABLE names, and where it names none the one
// that otherwise chooses. A file of that whole name goes first, since names may
// hold colons.
func (in *input) tableAt(address string, otherwise func(*tables.Calibration) (string, error)) (doc *tables.Calibration, t *tables.Table) {
	file, id := tablefile.SplitTable(address)
	if _, err := os.Stat(address); err == nil {
		file, id = address, ""
	}
	doc = in.doc(file)
	in.within(file, func() (err error) {
		if id == "" {
			id, err = otherwise(doc)
		}
		return err
	})
	return doc, in.tableOf(doc, file, id)
}

// tableOf is the table with an id, or a line that lists the ids that there are.
func (in *input) tableOf(doc *tables.Calibration, file, id string) *tables.Table {
	return get(in, func() (*tables.Table, error) {
		if t := doc.Table(id); t != nil {
			return t, nil
		}
		return nil, &tables.Fault{File: file, What: tables.Unknown("table", id, doc.IDs())}
	})
}

// selection reads --table and --at, which name tables by pattern, and cells.
func (in *input) selection() merge.Selection {
	s := merge.Selection{Tables: in.many("table")}
	for _, at := range in.many("at") {
		s.Cells = append(s.Cells, get(in, func() (blocks.Block, error) { return merge.ParseBlock(at) }))
	}
	in.check(s.Validate())
	return s
}

// tolerance reads --abs-tol and --rel-tol.
func (in *input) tolerance() merge.Tolerance {
	bounds := func(flag string) (list []merge.Bound) {
		for _, s := range in.many(flag) {
			b, err := merge.ParseBound(s)
			in.refuse(err != nil, "--%s: %w", flag, err)
			list = append(list, b)
		}
		return list
	}
	return merge.Tolerance{Abs: bounds("abs-tol"), Rel: bounds("rel-tol")}
}

// wantTables refuses a selection with a pattern that no table of any document
// matches.
func (in *input) wantTables(only merge.Selection, docs ...*tables.Calibration) {
	for _, p := range only.Tables {
		in.wantTable(p, "", docs)
	}
}

func (in *input) wantTable(pattern, why string, docs []*tables.Calibration) {
	one := merge.Selection{Tables: []string{pattern}}
	has := func(d *tables.Calibration) bool { return slices.ContainsFunc(d.IDs(), one.Table) }
	if in.err == nil && !slices.ContainsFunc(docs, has) {
		in.err = fmt.Errorf("%sno table matches %s", why, tables.Quote(pattern))
	}
}

// wantBounds refuses a tolerance for a table that no document has.
func (in *input) wantBounds(t merge.Tolerance, docs ...*tables.Calibration) {
	for _, b := range slices.Concat(t.Abs, t.Rel) {
		if b.Table != "" {
			in.wantTable(b.Table, "a tolerance is for a table that is not there: ", docs)
		}
	}
}

// list are the words of a flag that may be given several times, each with several
// words between commas.
func (in *input) list(flag string) (words []string) {
	for _, s := range in.many(flag) {
		for word := range strings.SplitSeq(s, ",") {
			words = append(words, strings.TrimSpace(word))
		}
	}
	return words
}
