package main

import (
	"errors"
	"fmt"

	"calsplice/cmd/calsplice/gitdriver"
	"calsplice/interp/plausible"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// checked is what was found in one file, as --json spells it.
type checked struct {
	File     string    `json:"file"`
	Findings []finding `json:"findings"`
	Notes    []string  `json:"notes,omitempty"` // what could not be judged
	Standing int       `json:"conflicts"`       // that a merge left
	List     string    `json:"conflicts_file"`  // "" where none stand
	what     string    // the document in a word
	standing gitdriver.Standing
}

type finding struct {
	Table string `json:"table"`
	At    []int  `json:"at"` // null where the finding is of a whole table
	Rule  string `json:"rule"`
	Text  string `json:"text"`
	Basis string `json:"basis"`
}

func checkFiles(in *input) {
	files := []*checked{}
	var faults []error
	found := false
	for _, path := range must(expand(in.args)) {
		err := attempt(func() {
			f := in.checkFile(path)
			files = append(files, f)
			found = found || len(f.Findings)+f.Standing > 0
		})
		faults = append(faults, err)
	}
	in.deliver(result{found: found, json: asJSON(map[string]any{"files": files}), lines: func() []string { return checkedLines(files) }})
	check(errors.Join(faults...))
}

func (in *input) checkFile(path string) *checked {
	data, format, err := tablefile.Bytes(path, in.stdin)
	check(err)
	f := &checked{File: path, Findings: []finding{}}
	if changefile.Is(data, format) {
		f.what = "change set"
		_, cautions, err := changefile.Parse(data, format, path)
		in.read(cautions, err)
	} else {
		doc, cautions, err := tablefile.Parse(data, format, path)
		in.read(cautions, err)
		f.judge(doc)
	}
	f.standing = gitdriver.Find(path)
	f.Standing, f.List = len(f.standing.Conflicts), f.standing.File
	return f
}

func (f *checked) judge(doc *tables.Calibration) {
	f.what = "cells"
	if doc.Kind() == tables.Calibrated {
		f.what = "calibration, nothing implausible"
	}
	found, notes := plausible.Check(doc)
	if f.Notes = notes; len(notes) > 0 {
		f.what = "calibration, nothing implausible in what was checked"
	}
	for _, x := range found {
		f.Findings = append(f.Findings, finding(x))
	}
}

// newFindings are the lines for what check finds in a document and did not find
// in the one before it; nil is none before.
func newFindings(before, after *tables.Calibration) (lines []string) {
	key := func(doc *tables.Calibration, x plausible.Finding) string {
		where := ""
		if x.At != nil {
			t := doc.Table(x.Table)
			where = plausible.Where(t, x.At[0]*t.Columns()+x.At[1])
		}
		return x.Table + "\n" + x.Rule + "\n" + where
	}
	known := map[string]bool{}
	if before != nil {
		found, _ := plausible.Check(before)
		for _, x := range found {
			known[key(before, x)] = true
		}
	}
	found, _ := plausible.Check(after)
	for _, x := range found {
		if !known[key(after, x)] {
			lines = append(lines, "look at "+finding(x).String())
		}
	}
	return lines
}

func checkedLines(files []*checked) (lines []string) {
	for _, f := range files {
		for _, n := range f.Notes {
			lines = append(lines, f.File+": not checked: "+n)
		}
		for _, x := range f.Findings {
			lines = append(lines, f.File+": "+x.String())
		}
		if f.Standing > 0 {
			lines = append(lines, f.standing.String())
		}
		if len(f.Findings)+f.Standing == 0 {
			lines = append(lines, f.File+": valid "+f.what)
		}
	}
	return lines
}

func (x finding) String() string {
	place := x.Table
	if x.At != nil {
		place += fmt.Sprintf(" [%d, %d]", x.At[0], x.At[1])
	}
	if place != "" {
		place += ": "
	}
	return place + x.Text + "; " + x.Basis
}
