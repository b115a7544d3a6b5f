package main

import (
	"errors"
	"os"
	"path/filepath"
	"slices"

	"calsplice/cmd/calsplice/gitdriver"
	"calsplice/cmd/calsplice/view"
	"calsplice/merge"
	"calsplice/merge/conflictfile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
)

func resolve(in *input) {
	out, how := in.text("o"), 0
	for _, flag := range []string{"take", "value", "decisions"} {
		if in.given(flag) {
			how++
		}
	}
	page := extension(out) == ".html"
	refuse(out == "", "resolve needs -o FILE for the calibration, or -o NAME.html for the page to decide on")
	refuse(page && how > 0, "the page is to decide on: it takes no --take, --value or --decisions")
	refuse(!page && how != 1, "resolve needs one of --take ours|theirs|base, --value V and --decisions FILE; or -o NAME.html, to decide on a page")
	doc := in.doc(in.arg(0))
	from := must(in.conflictsOf())
	if page {
		v, err := view.Settle(doc, from.Conflicts)
		check(unresolved(err, in.arg(0), from.File))
		in.deliver(result{page: func() *view.View { return v }, found: len(from.Conflicts) > 0})
		return
	}
	list, side := in.decided(from, doc)
	after, left, notes, err := merge.ResolveEach(doc, list, side)
	check(unresolved(err, in.arg(0), from.File))
	if len(left) == len(list) && len(list) > 0 {
		check(&tables.Fault{File: from.File, What: "no conflict matches --table and --at"})
	}
	if !in.given("take") { // what was typed is new to it
		in.caution(newFindings(doc, after)...)
	}
	in.finishResolve(resolved{after, from, left, notes}, out)
}

// unresolved is why conflicts are not resolved, with the files that it is about.
func unresolved(err error, merged, list string) error {
	if bad := (*merge.MismatchError)(nil); errors.As(err, &bad) {
		faults := bad.Faults(merged)
		for _, f := range faults {
			f.What += "; the conflict is listed in " + list
		}
		return faults
	}
	if faults := (tables.Faults)(nil); errors.As(err, &faults) {
		for _, f := range faults {
			f.File = list
		}
	}
	return err
}

// decided is the list with what was typed, and the side to take of each of its
// conflicts, as the flags say.
func (in *input) decided(from gitdriver.Standing, doc *tables.Calibration) ([]merge.Conflict, func(merge.Conflict) merge.Side) {
	only := in.selection()
	list, side := slices.Clone(from.Conflicts), func(merge.Conflict) merge.Side { return merge.Side(in.text("take")) }
	if path := in.text("decisions"); path != "" {
		d := must(conflictfile.ReadDecisions(path, in.stdin))
		var err error
		list, side, err = d.Decide(list)
		check(err)
		if d.SHA256 != "" && d.SHA256 != tablejson.SHA256(doc) {
			in.caution("the decisions were made on another state of the calibration: each is held to the values that it finds")
		}
	} else if in.given("value") {
		side = func(merge.Conflict) merge.Side { return merge.Typed }
		for i := range list {
			if !only.Conflict(list[i]) {
				continue
			}
			if err := conflictfile.TypeText(&list[i], in.text("value")); err != nil {
				check(&tables.Fault{File: from.File, Path: list[i].Place(), What: "--value " + err.Error()})
			}
		}
	}
	return list, func(c merge.Conflict) merge.Side {
		if !only.Conflict(c) {
			return ""
		}
		return side(c)
	}
}

// conflictsOf is the list of conflicts that was named, or that stands for the
// document.
func (in *input) conflictsOf() (from gitdriver.Standing, err error) {
	doc, file := in.arg(0), in.arg(1)
	from = gitdriver.Find(doc)
	switch {
	case file == "" && from.File == "":
		return from, &tables.Fault{File: doc, What: "no list of its conflicts stands beside it, nor in git: name the list"}
	case file == "" || filepath.Clean(file) == filepath.Clean(from.File):
		return from, nil
	}
	from = gitdriver.Standing{Document: doc, File: file}
	from.List, err = conflictfile.Read(file, in.stdin)
	return from, err
}

// resolved is what settling some conflicts of a list gave.
type resolved struct {
	doc   *tables.Calibration
	from  gitdriver.Standing
	left  []merge.Conflict
	notes []string
}

// finishResolve writes the document and what is left of the list. Git's own folder keeps
// no empty list.
func (in *input) finishResolve(r resolved, out string) {
	file := must(in.leftPlace(r, out))
	write := in.writesListed(r.doc, r.left, file, file != "" && r.shorter(file))
	if r.from.InGit && file == r.from.File && len(r.left) == 0 {
		write = func(out string, opt tablefile.Options) error {
			if err := tablefile.Write(out, r.doc, opt); err != nil {
				return err
			}
			return os.Remove(file)
		}
	}
	in.deliver(result{beside: true, write: write, found: len(r.left) > 0,
		view: func() *view.View { return view.Left(r.left, r.doc, r.notes, file) }})
}

// leftPlace is where what is left is to be listed: in the list itself, where it
// stands for the document that is written over; else beside the output. It is
// "" where nothing is left and no list of the output stands.
func (in *input) leftPlace(r resolved, out string) (string, error) {
	merged := in.arg(0)
	if info, err := os.Stat(out); err == nil && same(merged, info) && gitdriver.Find(merged).File == r.from.File {
		return r.from.File, nil
	}
	return conflictfile.Place(out, len(r.left), func(list []merge.Conflict) bool { return conflictfile.Within(list, r.from.Conflicts) })
}

// shorter reports whether a list that stands already has all that is left.
func (r resolved) shorter(file string) bool {
	list, err := conflictfile.Read(file, nil)
	return err == nil && conflictfile.Within(r.left, list.Conflicts)
}
