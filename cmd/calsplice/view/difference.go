package view

import (
	"cmp"
	"fmt"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
)

// Difference is what differs between two calibrations: every field, axis, block
// and cell, and how much the tolerance hides. set is the change set between
// them, for the grids of a page; nil leaves them out.
func Difference(old, new *tables.Calibration, r *merge.Report, t merge.Tolerance, set *merge.ChangeSet) *View {
	v := &View{Title: "What differs", Kind: fmt.Sprintf("%s → %s", cmp.Or(old.Name(), "old"), cmp.Or(new.Name(), "new")), Standing: true}
	if r.Identical {
		v.Verdict = "Nothing differs."
		return v
	}
	if set != nil {
		v.Verdict = differenceVerdict(new, r)
		v.Decide = decideEdits(old, new, set)
		v.Decide.nominal(old)
	}
	v.effect()
	if p := documentPart(r); p.Items != nil {
		v.Decide.part(&p, "")
		v.Parts = append(v.Parts, p)
	}
	why := set.Evidence()
	for i := range r.Tables {
		t := &r.Tables[i]
		if set == nil {
			v.Parts = append(v.Parts, tableDifference(r, t, onTerminal))
			continue
		}
		p := tableDifference(r, t, everyCell)
		// The rows of the page have them all, and make them when asked for.
		items, more := first(p.Items, listedItems, "… and %s more")
		if p.Items = items; more != "" {
			p.Items = append(p.Items, Item{Text: more, Edit: true})
		}
		v.Decide.part(&p, t.Table)
		p.showTables(t, "value", "value", why)
		v.Parts = append(v.Parts, p)
	}
	v.Parts = append(v.Parts, v.Decide.rest(v.Parts)...)
	if s := Summary(r); s != v.Verdict {
		v.Last = []string{s}
	}
	if r.Hidden > 0 || len(r.Tolerance) > 0 {
		v.Last = append(v.Last, "Tolerance: "+toleranceWords(t)+".")
	}
	return v
}

// differenceVerdict names the tables that differ.
func differenceVerdict(doc *tables.Calibration, r *merge.Report) string {
	var names []string
	for i := range r.Tables {
		t := &r.Tables[i]
		s := cmp.Or(t.Title, "table "+t.Table)
		if t.Change != "changed" {
			s += " (" + t.Change + ")"
		}
		names = append(names, s)
	}
	if len(r.Document) > 0 {
		names = append(names, "facts of the calibration")
	}
	if len(names) == 0 {
		return Summary(r)
	}
	if n := len(names); n > 4 {
		names = append(names[:3], tables.Plural(n-3, "other"))
	}
	s := tables.Listed(names, "and") + " changed."
	if same := len(doc.IDs()) - len(r.Tables); same > 0 {
		s += " The rest is as it was."
	}
	return sentence(s)
}

// listedItems is how many lines of a table's difference a page has that is to be
// decided on.
const listedItems = 300

// DifferenceByTable is a line a table: how many cells, and what else.
func DifferenceByTable(r *merge.Report) *View {
	rows := &Rows{}
	for i := range r.Tables {
		rows.Line(r.Tables[i].Table, strings.Join(inBrief(&r.Tables[i]), ", "))
	}
	v := &View{}
	if len(rows.Lines) > 0 {
		v.Parts = []Part{{Rows: rows}}
	}
	if !r.Identical {
		v.Last = []string{Summary(r)}
	}
	return v
}

func inBrief(t *merge.TableReport) []string {
	var parts words
	switch {
	case t.Change != "changed":
		parts = words{t.Change}
	case t.Finding != "":
		parts = words{t.Finding}
	default:
		parts.when(t.Changed > 0, "%d of %s", t.Changed, tables.Plural(t.Of, "cell"))
	}
	for _, c := range t.Axes {
		parts.when(t.Finding == "", "%s axis", c.Axis)
	}
	for _, c := range t.Fields {
		parts = append(parts, c.Field)
	}
	parts.when(t.Hidden > 0, "%s below the tolerance", tables.Plural(t.Hidden, "cell"))
	return parts
}

// Summary is the whole of a difference in one sentence.
func Summary(r *merge.Report) string {
	var parts words
	parts.when(len(r.Document) > 0, "%s", tables.Plural(len(r.Document), "fact of the calibration", "facts of the calibration"))
	parts.when(r.Order != nil, "the order of tables")
	switch n := len(r.Tables); {
	case n > 0 && len(r.Cells) > 0:
		parts.when(true, "%s (%s)", tables.Plural(n, "table"), tables.Plural(len(r.Cells), "cell"))
	case n > 0:
		parts.when(true, "%s", tables.Plural(n, "table"))
	}
	s := "No difference above the tolerance"
	if len(parts) > 0 {
		verb := " differ"
		if len(parts) == 1 && (len(r.Document) == 1 || len(r.Tables) == 1 || r.Order != nil) {
			verb = " differs"
		}
		s = strings.ToUpper(parts[0][:1]) + strings.Join(parts, ", ")[1:] + verb
	}
	if r.Hidden > 0 {
		s += "; " + Hidden(r.Hidden)
	}
	return s + "."
}

// Hidden says how many cells a tolerance hides.
func Hidden(n int) string {
	return tables.Plural(n, "cell differs", "cells differ") + " by less than the tolerance"
}

// toleranceWords says which tolerance was asked for.
func toleranceWords(t merge.Tolerance) string {
	var parts []string
	all := false
	add := func(bounds []merge.Bound, text func(float64) string) {
		for _, b := range bounds {
			s := text(b.Value)
			if b.Table != "" {
				s += " for " + b.Table
			} else {
				all = true
			}
			parts = append(parts, s)
		}
	}
	add(t.Abs, tables.Shown)
	add(t.Rel, func(v float64) string { return tables.Shown(difference(0, v*100)) + " %" })
	switch rest := "half of each table's resolution"; {
	case parts == nil:
		return rest
	case !all:
		parts = append(parts, "else "+rest)
	}
	return strings.Join(parts, ", ")
}

func documentPart(r *merge.Report) Part {
	var p Part
	for _, c := range r.Document {
		p.Items = append(p.Items, fieldItem(c))
	}
	if r.Order != nil {
		p.Items = append(p.Items, Item{Edit: true, Text: "order of tables: " + strings.Join(r.Order.From, ", ") + " → " + strings.Join(r.Order.To, ", ")})
	}
	return p
}

func fieldItem(c merge.FieldChange) Item {
	switch {
	case c.Words != nil:
		i := Item{Text: c.Field + ": ", Edit: true}
		for _, w := range c.Words {
			i.Words = append(i.Words, Word{w.Op, strings.ReplaceAll(w.Text, "\n", " / ")})
		}
		return i
	case c.From == "" && c.To == "":
		return Item{Text: c.Field + " differs", Edit: true}
	}
	return Item{Text: c.Field + ": " + c.From + " → " + c.To, Edit: true}
}

// style is how the cells of a table that no rule explains are reported.
type style int

const (
	everyCell  style = iota // a line each
	onTerminal              // and where most of a table's cells are such, as one grid
	byPlaces                // a line each, by breakpoints alone
)
