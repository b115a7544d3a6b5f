// Package gitdriver makes git compare and merge calibrations cell by cell.
//
// [Scope.Install] names the program in git's configuration, as a textconv (so
// that git diff, blame and word diffs show cells), a merge driver and a merge tool,
// and names the files in .gitattributes. The patterns there are wide, since a
// calibration is an ordinary .json, .csv or .xlsx file: a file that is no
// calibration is shown as it is and merged as git would have.
//
// Git then calls the program: [Textconv] for each version of a file that it shows,
// [Merging.Run] for each file that both sides of a merge changed, [Merged.Tool]
// where a person settles what was left, and [Scope.Commit] before a commit. What
// conflicts is listed in git's own folder, by what git calls the contents of the
// sides: so a list is found as long as its merge stands, and is nobody's once
// that is given up. [Find] looks there, and beside the document.
//
// It promises that no file is lost to it: where one of the three is no valid
// calibration, git's own merge takes over; and that Remove takes out what Install
// wrote and nothing else. It says on standard error what it did, since git shows
// that to the person, and never prints where git reads.
//
// All of git's own state is asked of git, by commands that print for programs
// (-z); nothing reads the repository's files but the attributes and the hook that
// Install writes. It leaves out everything about remotes, and every
// other tool's configuration.
package gitdriver

import (
	"fmt"
	"strings"

	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// named is the spelling that a name asks for; JSON where it asks for none.
func named(name string) string {
	if f, err := tablefile.Format(name); err == nil {
		return f
	}
	return tablefile.JSON
}

// parse reads a document that git handed over in a file of another name.
func parse(data []byte, name string) (*tables.Calibration, error) {
	f := named(name)
	if !strings.HasPrefix(tablefile.Says(data, f), "calsplice") {
		return nil, fmt.Errorf("%s is no calibration", name)
	}
	doc, _, err := tablefile.Parse(data, f, name)
	return doc, err
}
