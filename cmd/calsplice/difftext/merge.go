package difftext

import (
	"bufio"
	"fmt"
	"io"

	"calsplice/merge"
	"calsplice/tables"
)

// most is the number of conflicts that are printed; the file has them all.
const most = 50

// Merge writes what a merge did: its conflicts, what was carried across axes,
// and what it newly causes. File is where the conflicts stand, "" for nowhere.
func Merge(out io.Writer, r *merge.MergeResult, file string) error {
	w := &writer{b: bufio.NewWriter(out)}
	if n := len(r.Conflicts); n > 0 {
		s := tables.Plural(n, "conflict") + ", ours in their place"
		if file != "" {
			s += "; listed in " + tables.Clean(file)
		}
		w.line(0, s)
		w.conflicts(r.Conflicts, r.Merged)
	}
	if n := len(r.Settled); n > 0 {
		w.line(0, tables.Plural(n, "conflict")+" settled as told")
	}
	if r.Hidden > 0 {
		w.line(0, tables.Plural(r.Hidden, "cell")+" edited on both sides taken for one edit within the tolerance")
	}
	for _, s := range r.Said {
		w.line(0, s)
	}
	if len(r.Caused) > 0 {
		w.line(0, "The merge newly causes:")
		for _, s := range r.Caused {
			w.line(2, s)
		}
	}
	return w.b.Flush()
}

func (w *writer) conflicts(list []merge.Conflict, doc *tables.Calibration) {
	for i, c := range list {
		if i == most {
			w.line(2, fmt.Sprintf("… and %d more", len(list)-most))
			return
		}
		name := c.At()
		if c.Table != "" {
			name = c.Table + " " + name
		}
		if c.In != "" {
			name += " of " + string(c.In)
		}
		if at := c.Where(doc.Table(c.Table)); at != "" {
			name += " at " + at
		}
		w.line(2, fmt.Sprintf("%s: base %s, ours %s, theirs %s", tables.Clean(name),
			c.SideText(merge.Original), c.SideText(merge.Ours), c.SideText(merge.Theirs)))
	}
}

// Left writes how many conflicts a resolution leaves.
func Left(out io.Writer, left []merge.Conflict, doc *tables.Calibration, said []string, file string) error {
	w := &writer{b: bufio.NewWriter(out)}
	for _, s := range said {
		w.line(0, s)
	}
	if n := len(left); n > 0 {
		s := tables.Plural(n, "conflict") + " left"
		if file != "" {
			s += ", listed in " + tables.Clean(file)
		}
		w.line(0, s)
		w.conflicts(left, doc)
	}
	return w.b.Flush()
}
