package main

import (
	"path/filepath"
	"slices"

	"calsplice/cmd/calsplice/gitdriver"
	"calsplice/cmd/calsplice/view"
	"calsplice/merge"
	"calsplice/merge/conflictfile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

func mergeThree(in *input) {
	in.needs("o")
	opt := merge.MergeOptions{Prefer: merge.Side(in.text("prefer"))}
	t := in.tolerance()
	if len(t.Abs)+len(t.Rel) > 0 {
		opt.Tolerance = &t
	}
	docs := in.docs(in.args...)
	wantBounds(t, docs...)
	for _, path := range in.args {
		if s := gitdriver.Find(path); s.File != "" {
			in.caution(s.String())
		}
	}
	in.finishMerge(must(merge.Merge(docs[0], docs[1], docs[2], opt)))
}

// finishMerge writes the merged document and its conflicts, both or neither,
// and reports both.
func (in *input) finishMerge(r *merge.MergeResult) {
	file := must(in.listPlace(in.text("o"), r))
	in.deliver(result{beside: true, found: len(r.Conflicts) > 0,
		view:  func() *view.View { return view.Merged(r, file) },
		json:  asJSON(mergeReport{len(r.Conflicts), file, len(r.Settled), r.Hidden, r.Carried, lines(r.Notes), lines(r.SideEffects)}),
		write: in.writesListed(r.Merged, r.Conflicts, file, false)})
}

// writesListed is for a document and the list of the conflicts that it leaves, both or
// neither. What still stands when the process is killed in between is listed: so a list
// that only gets shorter is written last.
func (in *input) writesListed(doc *tables.Calibration, left []merge.Conflict, file string, shorter bool) writer {
	return func(out string, opt tablefile.Options) error {
		list := conflictfile.List{Merged: filepath.Base(out), Conflicts: left}
		document := func() error { return tablefile.Write(out, doc, opt) }
		switch {
		case file == "":
			return document()
		case shorter:
			return conflictfile.Write(file, list, in.stdout, document)
		}
		opt.First = func() error { return conflictfile.Write(file, list, in.stdout, nil) }
		return document()
	}
}

// listPlace is where a merge's conflicts are to be listed; "" where there are
// none to list, and no list to empty. A list that stands may be written anew by
// the same merge, or settled by it.
func (in *input) listPlace(out string, r *merge.MergeResult) (string, error) {
	all := slices.Concat(r.Conflicts, r.Settled)
	same := func(list []merge.Conflict) bool {
		return conflictfile.Within(list, all) && conflictfile.Within(all, list)
	}
	file := in.text("conflicts")
	switch {
	case file == "":
		return conflictfile.Place(out, len(r.Conflicts), same)
	case tablefile.Device(file):
		return file, nil
	case filepath.Clean(file) == filepath.Clean(out):
		return "", &tables.Fault{File: file, What: "-o and --conflicts name one file: give each its own"}
	case len(r.Conflicts) == 0:
		if _, err := conflictfile.Read(file, nil); err != nil {
			return "", nil // nothing goes there
		}
	}
	return file, conflictfile.Free(file, same)
}

// mergeReport is what merge --json prints.
type mergeReport struct {
	Conflicts   int      `json:"conflicts"`
	File        string   `json:"conflicts_file"` // "" where none is written
	Settled     int      `json:"settled"`        // conflicts, by --prefer
	Hidden      int      `json:"hidden"`         // cells, by --tolerance
	Carried     int      `json:"carried"`        // cells whose change was carried onto moved axes
	Notes       []string `json:"said"`
	SideEffects []string `json:"caused"`
}

// lines is a list that is never null in JSON.
func lines(list []string) []string {
	if list == nil {
		return []string{}
	}
	return list
}
