package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// within names the file in an error that names none.
func within(file string, err error) { check(tables.In(file, 0, 0, "", err)) }

// read prints the cautions of a file that was read, if that did not fail.
func (in *input) read(cautions tables.Faults, err error) {
	in.caution(cautions.Lines()...)
	check(err)
}

// doc reads a document.
func (in *input) doc(path string) *tables.Calibration {
	doc, cautions, err := tablefile.ReadWithCautions(path, in.stdin)
	in.read(cautions, err)
	return doc
}

// docOrChanges reads a document or a change set: the other is nil.
func (in *input) docOrChanges(path string) (doc *tables.Calibration, set *merge.ChangeSet) {
	data, format, err := tablefile.Bytes(path, in.stdin)
	check(err)
	var cautions tables.Faults
	if changefile.Is(data, format) {
		set, cautions, err = changefile.Parse(data, format, path)
	} else {
		doc, cautions, err = tablefile.Parse(data, format, path)
	}
	in.read(cautions, err)
	return doc, set
}

// calibration is [input.doc] of one that is no cells.
func (in *input) calibration(path string) *tables.Calibration {
	doc := in.doc(path)
	if doc.Kind() != tables.Calibrated {
		check(&tables.Fault{File: path, What: "these are cell averages, expected a calibration"})
	}
	return doc
}

// docs reads documents, and reports the faults of all of them. One may be standard
// input.
func (in *input) docs(paths ...string) (docs []*tables.Calibration) {
	refuse(oftenStdin(paths...), "only one document can be standard input")
	var faults []error
	for _, p := range paths {
		faults = append(faults, attempt(func() { docs = append(docs, in.doc(p)) }))
	}
	check(errors.Join(faults...))
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

// tableAt reads the table that CAL:TABLE names, and where it names none the one
// that otherwise chooses. A file of that whole name goes first, since names may
// hold colons.
func (in *input) tableAt(address string, otherwise func(*tables.Calibration) (string, error)) (doc *tables.Calibration, t *tables.Table) {
	file, id := tablefile.SplitTable(address)
	if _, err := os.Stat(address); err == nil {
		file, id = address, ""
	}
	if doc = in.doc(file); id == "" {
		var err error
		id, err = otherwise(doc)
		within(file, err)
	}
	return doc, tableOf(doc, file, id)
}

// tableOf is the table with an id, or a line that lists the ids that there are.
func tableOf(doc *tables.Calibration, file, id string) *tables.Table {
	t := doc.Table(id)
	if t == nil {
		check(&tables.Fault{File: file, What: tables.Unknown("table", id, doc.IDs())})
	}
	return t
}

// selection reads --table and --at, which name tables by pattern, and cells.
func (in *input) selection() merge.Selection {
	s := merge.Selection{Tables: in.many("table")}
	for _, at := range in.many("at") {
		s.Cells = append(s.Cells, must(merge.ParseBlock(at)))
	}
	check(s.Validate())
	return s
}

// tolerance reads --abs-tol and --rel-tol.
func (in *input) tolerance() merge.Tolerance {
	bounds := func(flag string) (list []merge.Bound) {
		for _, s := range in.many(flag) {
			b, err := merge.ParseBound(s)
			refuse(err != nil, "--%s: %w", flag, err)
			if flag == "rel-tol" && b.Value >= 1 {
				in.caution(fmt.Sprintf("--rel-tol %s is %s %%, which hides nearly every difference: 5 %% is 0.05", s, tables.FormatValue(100*b.Value)))
			}
			list = append(list, b)
		}
		return list
	}
	return merge.Tolerance{Abs: bounds("abs-tol"), Rel: bounds("rel-tol")}
}

// wantTables refuses a pattern that no table of any document matches.
func wantTables(patterns []string, docs ...*tables.Calibration) error {
	for _, p := range patterns {
		one := merge.Selection{Tables: []string{p}}
		if !slices.ContainsFunc(docs, func(d *tables.Calibration) bool { return slices.ContainsFunc(d.IDs(), one.Table) }) {
			return fmt.Errorf("no table matches %s", tables.Quote(p))
		}
	}
	return nil
}

// wantBounds refuses a tolerance for a table that no document has.
func wantBounds(t merge.Tolerance, docs ...*tables.Calibration) {
	for _, b := range slices.Concat(t.Abs, t.Rel) {
		if b.Table != "" {
			err := wantTables([]string{b.Table}, docs...)
			refuse(err != nil, "a tolerance is for a table that is not there: %w", err)
		}
	}
}

// list are the words of a flag that may be given several times, each with several
// words between commas.
func (in *input) list(flag string) (words []string) {
	for _, s := range in.many(flag) {
		words = append(words, commaWords(s)...)
	}
	return words
}

// commaWords are the words between commas.
func commaWords(s string) (words []string) {
	for word := range strings.SplitSeq(s, ",") {
		words = append(words, strings.TrimSpace(word))
	}
	return words
}
