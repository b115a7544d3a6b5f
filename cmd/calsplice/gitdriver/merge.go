package gitdriver

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"calsplice/cmd/calsplice/fail"
	"calsplice/cmd/calsplice/text"
	"calsplice/cmd/calsplice/view"
	"calsplice/merge"
	"calsplice/merge/conflictfile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// Merging is a call of the merge driver: the three files that git hands over,
// the size of its conflict markers, and the document's path in the repository.
type Merging struct {
	Base, Ours, Theirs string
	Marker             int
	Path               string
	Virtual            bool // git makes up one base of several
}

// Run merges, leaves the result in ours, and reports whether there are
// conflicts. Git's own merge of text takes over where one of the three is no
// sound calibration. What conflicts in a base that git makes up stays as the
// base has it, and nothing is listed.
func (m Merging) Run(out io.Writer) (conflicts bool) {
	// Git hands over files of names that it makes up; the path in the repository says
	// how the document is written.
	var r *merge.MergeResult
	if err := fail.Attempt(func() { r = mergeThree(m.Base, m.Ours, m.Theirs, m.Path) }); err != nil {
		return m.text(err, out)
	}
	// Two branches with several common ancestors: git merges these first, and nobody
	// sees the outcome. A conflict in it would be one that nobody made.
	if m.Virtual {
		doc, _, _, err := merge.Resolve(r.Merged, r.Conflicts, merge.Original, merge.Selection{})
		if err == nil {
			m.put(doc, nil)
		}
		return err != nil
	}
	// A merge without conflicts lists nothing, and one that is only looked at neither.
	file, first := "", func() error { return nil }
	if len(r.Conflicts) > 0 {
		if file = m.list(); file != "" {
			first = func() error {
				return conflictfile.Write(file, conflictfile.List{Conflicts: r.Conflicts}, nil, nil)
			}
		}
	}
	m.put(r.Merged, first)
	fmt.Fprintf(out, "calsplice: %s\n", tables.Clean(m.Path))
	text.NewPrinter(out, "never").View(view.Merged(r, file))
	return len(r.Conflicts) > 0
}

// list is where the conflicts are to be listed; "" where git only looks what a
// merge would give: then it does not hold the lock of its index, and no list
// would ever be settled. Nor is anything listed where git cannot say.
func (m Merging) list() (file string) {
	fail.Attempt(func() {
		s := Scope{}
		// While git writes a merge it holds this lock. A look at what a merge would give
		// (merge-tree, and what web pages do) does not.
		fail.Must(os.Stat(s.gitPath("index") + ".lock"))
		sides := strings.Fields(s.ask("hash-object", "--no-filters", "--", m.Base, m.Ours, m.Theirs))
		if fail.Must(os.Stat(m.Base)).Size() == 0 {
			sides[0] = "" // there is no base
		}
		place := s.listOf(m.Path, [3]string(sides))
		fail.If(os.MkdirAll(filepath.Dir(place), 0o777))
		file = place
	})
	return file
}

// put leaves the result where git looks for it.
func (m Merging) put(doc *tables.Calibration, first func() error) {
	// The list is written first: a merged file without its list would pass for merged.
	fail.If(tablefile.ReplaceAfter(m.Ours, nil, func(w io.Writer) error {
		return tablefile.Write("-", doc, tablefile.Options{Format: named(m.Path), Stdout: w})
	}, first))
}

// mergeThree reads the three documents and merges them. Where there is no common
// base, git gives an empty file: then the base is a document without anything.
func mergeThree(base, ours, theirs, path string) *merge.MergeResult {
	read := func(file string) *tables.Calibration { return fail.Must(parse(fail.Must(os.ReadFile(file)), path)) }
	b, a := read(theirs), read(ours)
	var o *tables.Calibration
	if data := fail.Must(os.ReadFile(base)); len(data) == 0 {
		o = fail.Must(tables.NewCalibration(tables.Contents{Kind: a.Kind()}))
	} else {
		o = fail.Must(parse(data, path))
	}
	return fail.Must(merge.Merge(o, a, b, merge.MergeOptions{}))
}

// text merges as git would have without the driver.
func (m Merging) text(why error, out io.Writer) (conflicts bool) {
	first, _, _ := strings.Cut(why.Error(), "\n")
	fmt.Fprintf(out, "calsplice: merged as text: %s\n", first)
	if strings.EqualFold(filepath.Ext(m.Path), ".xlsx") {
		return true // no text: ours stays, as git does with binary files
	}
	cmd := exec.Command("git", "merge-file", "-L", "ours", "-L", "base", "-L", "theirs",
		"--marker-size="+strconv.Itoa(max(m.Marker, 1)), "--", m.Ours, m.Base, m.Theirs)
	cmd.Stderr = out
	err := cmd.Run()
	// The status is the number of conflicts, or 255 and signals for trouble.
	exit, ended := errors.AsType[*exec.ExitError](err)
	if conflicts = ended && exit.ExitCode() > 0 && exit.ExitCode() < 128; !conflicts {
		fail.If(err)
	}
	return conflicts
}

// Merged names the three files of a merge, and the one that it left.
type Merged struct{ Base, Ours, Theirs, Merged string }

// Tool is the merge tool: it goes through the conflicts of a merged file and
// asks about each. It reports whether any is left. Then nothing is written, and
// the next call asks about all of them again: git puts the file back as it was
// before a call that settles less than everything, so that answers written down
// anywhere else would be taken for given while the file does not hold them.
//
// Once all is settled the list of conflicts is gone.
func (f Merged) Tool(in io.Reader, out io.Writer) (left bool) {
	doc, conflicts, listed := resume(f.Base, f.Ours, f.Theirs, f.Merged)
	a := &asker{doc: doc, list: slices.Clone(conflicts), in: bufio.NewScanner(in), out: out}
	a.ask()
	if n := len(slices.DeleteFunc(slices.Clone(a.taken), func(s merge.Side) bool { return s != "" })); n > 0 {
		fmt.Fprintf(out, "%s skipped: nothing is written, and the next run asks about every conflict again\n", tables.Plural(n, "conflict"))
		return true
	}
	// Answers are by place in the list, and the resolver asks in its order.
	next := 0
	doc, _, notes, err := merge.ResolveEach(doc, a.list, func(merge.Conflict) merge.Side { next++; return a.taken[next-1] })
	if bad, ok := errors.AsType[*merge.MismatchError](err); ok {
		err = bad.Faults(f.Merged)
	}
	fail.If(err)
	for _, s := range notes {
		fmt.Fprintln(out, tables.Clean(s))
	}
	fail.If(tablefile.Write(f.Merged, doc, tablefile.Options{}))
	if listed != "" {
		fail.If(os.Remove(listed))
	}
	return false
}

// resume is the merged document with the conflicts that are still listed, and
// the file that lists them; or the merge from the start where there is no list
// of this merge.
func resume(base, ours, theirs, merged string) (doc *tables.Calibration, conflicts []merge.Conflict, listed string) {
	r := mergeThree(base, ours, theirs, merged)
	if data, err := os.ReadFile(merged); err == nil {
		if doc, err := parse(data, merged); err == nil {
			for _, s := range found(merged) {
				if conflictfile.Within(s.Conflicts, r.Conflicts) {
					return doc, s.Conflicts, s.File
				}
			}
		}
	}
	return r.Merged, r.Conflicts, ""
}
