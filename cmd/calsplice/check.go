package main

import (
	"errors"

	"calsplice/cmd/calsplice/gitdriver"
	"calsplice/interp/plausible"
	"calsplice/tables"
)

// checked is what was found in one file, as --json spells it.
type checked struct {
	File     string              `json:"file"`
	Findings []plausible.Finding `json:"findings"`
	Notes    []string            `json:"notes,omitempty"` // what could not be judged
	Standing int                 `json:"conflicts"`       // that a merge left
	List     string              `json:"conflicts_file"`  // "" where none stand
	what     string              // the document in a word
	standing gitdriver.Standing
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
	f := &checked{File: path, what: "change set", Findings: []plausible.Finding{}}
	if doc, _ := in.docOrChanges(path); doc != nil {
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
	f.Findings = append(f.Findings, found...)
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
			lines = append(lines, "look at "+x.String())
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
