package main

import (
	"fmt"
	"strings"

	"calsplice/cmd/calsplice/difftext"
	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/report"
	"calsplice/merge"
	"calsplice/merge/caution"
	"calsplice/tables"

	"github.com/urfave/cli/v2"
)

// writeChangePage writes what differs as a page: in words, then table by table.
func writeChangePage(c *cli.Context, out string, old, new *tables.Calibration, cs *merge.ChangeSet, r *merge.Report, t merge.Tolerance) error {
	var words strings.Builder
	if err := difftext.Write(&words, r, t); err != nil {
		return err
	}
	p := &page.Page{Title: "What differs", Cautions: caution.Standing, Kind: fmt.Sprintf("%s → %s", orName(old.Name(), "old"), orName(new.Name(), "new")),
		Sections: []page.Section{{Heading: "In words", Words: words.String()}}}
	report.Changes(p, old, new, cs)
	return writePage(c, out, p)
}

func orName(name, other string) string {
	if name == "" {
		return other
	}
	return tables.Clean(name)
}
