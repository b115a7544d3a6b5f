package difftext

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
)

// Stat writes a line a table: how many cells, and what else.
func Stat(out io.Writer, r *merge.Report) error {
	b := bufio.NewWriter(out)
	wide := 0
	for _, t := range r.Tables {
		wide = max(wide, len(t.Table))
	}
	for _, t := range r.Tables {
		var parts []string
		switch {
		case t.Change != "changed":
			parts = append(parts, t.Change)
		case t.Finding != "":
			parts = append(parts, t.Finding)
		case t.Changed > 0:
			parts = append(parts, fmt.Sprintf("%d of %s", t.Changed, tables.Plural(t.Of, "cell")))
		}
		for _, c := range t.Axes {
			if t.Finding == "" {
				parts = append(parts, c.Axis+" axis")
			}
		}
		for _, c := range t.Fields {
			parts = append(parts, c.Field)
		}
		if t.Hidden > 0 {
			parts = append(parts, tables.Plural(t.Hidden, "cell")+" below the tolerance")
		}
		fmt.Fprintf(b, "%-*s  %s\n", wide, t.Table, strings.Join(parts, ", "))
	}
	if !r.Identical {
		fmt.Fprintln(b, Summary(r))
	}
	return b.Flush()
}

// Names writes the ids of the tables that differ, one a line.
func Names(out io.Writer, r *merge.Report) error {
	b := bufio.NewWriter(out)
	for _, t := range r.Tables {
		fmt.Fprintln(b, t.Table)
	}
	return b.Flush()
}
