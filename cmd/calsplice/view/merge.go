package view

import (
	"fmt"

	"calsplice/merge"
	"calsplice/tables"
)

// mostConflicts is the number of conflicts that are printed; the file has all.
const mostConflicts = 50

// Merged is what a merge did: its conflicts, what was carried onto moved axes,
// and what it newly causes. file is where the conflicts stand, "" for nowhere.
func Merged(r *merge.MergeResult, file string) *View {
	var p Part
	if n := len(r.Conflicts); n > 0 {
		s := tables.Plural(n, "conflict") + ", ours in their place"
		if file != "" {
			s += "; listed in " + file
		}
		p.Text = []string{s}
		p.Items = conflictItems(r.Conflicts, r.Merged)
	}
	more := Part{}
	if n := len(r.Settled); n > 0 {
		more.Text = append(more.Text, tables.Plural(n, "conflict")+" resolved by --prefer")
	}
	if r.Hidden > 0 {
		more.Text = append(more.Text, tables.Plural(r.Hidden, "cell")+" edited on both sides taken for one edit within the tolerance")
	}
	more.Text = append(more.Text, r.Notes...)
	causes := Part{}
	if len(r.SideEffects) > 0 {
		causes.Heading, causes.Text = "New problems introduced by the merge:", r.SideEffects
	}
	return close(p, more, causes)
}

// Left is how many conflicts a resolution leaves.
func Left(left []merge.Conflict, doc *tables.Calibration, notes []string, file string) *View {
	p := Part{Text: notes}
	if n := len(left); n > 0 {
		s := tables.Plural(n, "conflict") + " left"
		if file != "" {
			s += ", listed in " + file
		}
		p.Text = append(p.Text, s)
		p.Items = conflictItems(left, doc)
	}
	return close(p)
}

// close is a view of the parts that hold something.
func close(parts ...Part) *View {
	v := &View{}
	for _, p := range parts {
		if len(p.Text)+len(p.Items) > 0 {
			v.Parts = append(v.Parts, p)
		}
	}
	return v
}

func conflictItems(list []merge.Conflict, doc *tables.Calibration) []Item {
	var items []Item
	for i, c := range list {
		if i == mostConflicts {
			return append(items, Item{Text: fmt.Sprintf("… and %d more", len(list)-mostConflicts)})
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
		items = append(items, Item{Edit: true, Text: fmt.Sprintf("%s: base %s, ours %s, theirs %s", name,
			c.SideText(merge.Original), c.SideText(merge.Ours), c.SideText(merge.Theirs))})
	}
	return items
}
