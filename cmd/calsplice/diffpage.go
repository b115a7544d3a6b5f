package main

import (
	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/report"
	"calsplice/merge"
	"calsplice/tables"

	"github.com/urfave/cli/v2"
)

// writeChangePage writes what differs as a page.
func writeChangePage(c *cli.Context, out string, old, new *tables.Calibration, cs *merge.ChangeSet) error {
	p := &page.Page{Title: "What differs: " + orName(old.Name(), "old") + " and " + orName(new.Name(), "new")}
	report.Changes(p, old, new, cs)
	return writePage(c, out, p)
}

func orName(name, other string) string {
	if name == "" {
		return other
	}
	return name
}
