package view

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/merge/conflictfile"
	"calsplice/tables"
)

// Settle is what a person decides about the conflicts of a merged calibration.
// doc holds ours where nothing is decided yet.
func Settle(doc *tables.Calibration, list []merge.Conflict) (*View, error) {
	if _, _, _, err := merge.Resolve(doc, list, merge.Ours, merge.Selection{}); err != nil {
		return nil, err // it is another document
	}
	base, _, _, err := merge.ResolveEach(doc, list, func(c merge.Conflict) merge.Side {
		if c.Cell() && c.In == "" && c.Gone == "" && !c.Base.Absent {
			return merge.Original
		}
		return ""
	})
	if err != nil {
		return nil, err
	}
	v := &View{Title: titleOf(doc), Kind: "Conflicts of a merge", Standing: true, Decide: decideConflicts(doc, base, list)}
	v.Verdict = settleVerdict(v.Decide)
	v.Lead = []string{"Nothing is chosen for you. What stays open keeps ours in the merged file, and stays listed until it is decided."}
	if f := v.Decide.effect(); len(f) > 0 && len(list) > 0 {
		v.Parts = append(v.Parts, Part{Heading: "Ours against base", Facts: f, On: OnPages})
	}
	for i, s := range v.Decide.Tables {
		p := Part{Heading: s.Name, Decide: i + 1}
		if t, was := doc.Table(s.id), base.Table(s.id); t != nil && was != nil {
			p.Heading = heading(t)
			p.Facts = tableFacts(t)
			p.Charts = charts(t, []version{{"base", "before", was}, {"as decided", "after", t}})
		}
		p.Items = conflictItems(slices.DeleteFunc(slices.Clone(list), func(c merge.Conflict) bool { return c.Table != s.id }), doc)
		v.Parts = append(v.Parts, p)
	}
	return v, nil
}

func settleVerdict(d *Decide) string {
	questions, of := 0, ""
	for _, s := range d.Tables {
		questions += len(s.Groups)
	}
	if n := len(d.Choices); n > questions {
		of = " (" + tables.Plural(n, "conflict") + ")"
	}
	switch questions {
	case 0:
		return "No conflict is left."
	case 1:
		return "One thing was changed by both" + of + ". It is yours to decide."
	}
	return fmt.Sprintf("%d things were changed by both%s. They are yours to decide.", questions, of)
}

// decideConflicts is the settling of conflicts: the tables as base has them, and
// a choice for each conflict. Those of a curve, and those of a breakpoint that
// one side removed, which only go together, are one question: one group.
func decideConflicts(doc, base *tables.Calibration, list []merge.Conflict) *Decide {
	d := &Decide{Conflicts: true, index: map[string]int{}, Tables: []*Decided{}, Choices: []Choice{},
		Head: mergedHead(doc, conflictfile.DecisionsFormat), Tail: [2]string{"]\n}\n"}}
	for _, c := range list {
		t := base.Table(c.Table)
		i := d.table(c.Table, t)
		s := d.Tables[i]
		question := questionOf(c, s)
		g := slices.Index(s.Groups, question)
		if g < 0 {
			g, s.Groups = len(s.Groups), append(s.Groups, question)
		}
		d.Choices = append(d.Choices, conflictChoice(c, s, doc.Table(c.Table), Choice{Raw: decisionPlace(c), Table: i, Cell: -1, Group: g}))
	}
	d.writeAll()
	d.nominal(doc)
	return d
}

func questionOf(c merge.Conflict, s *Decided) string {
	switch {
	case !c.Cell():
		return c.Name
	case c.Gone != "":
		return "a breakpoint that one side removed"
	case len(s.Y) == 0 && len(s.X) > 1:
		return "the curve"
	case c.In == "" && s.Values != nil && c.Row*s.Columns+c.Column < len(s.Values):
		return s.place(c.Row*s.Columns + c.Column)
	}
	return c.At()
}

func conflictChoice(c merge.Conflict, s *Decided, t *tables.Table, to Choice) Choice {
	if c.Cell() {
		to.Typed = "number"
		if i := c.Row*s.Columns + c.Column; c.In == "" && c.Gone == "" && i < len(s.Values) {
			to.Cell = i
		} else if to.Words = c.Where(t); to.Words == "" {
			to.Words = c.At()
		}
	} else {
		to.Words = c.Name
		for _, may := range [][2]string{{"number", "1"}, {"text", `"words"`}} {
			try := c
			if !strings.HasPrefix(c.Name, "x-") && conflictfile.Type(&try, may[1]) == nil {
				to.Typed = may[0]
			}
		}
	}
	for _, side := range []merge.Side{merge.Ours, merge.Theirs, merge.Original} {
		w := Side{c.SideText(side), tables.Number(math.NaN())}
		if v := c.Side(side); c.Cell() && !v.Absent {
			w = Side{tables.Shown(v.Value), tables.Number(v.Value)}
		}
		to.Sides = append(to.Sides, w)
	}
	return to
}

// decisionPlace names a conflict in a file of decisions.
func decisionPlace(c merge.Conflict) string {
	at := c.At()
	if !c.Cell() {
		at = quoteJSON(at)
	}
	s := `"table": ` + quoteJSON(c.Table) + `, "at": ` + at
	if c.In != "" {
		s += `, "in": ` + quoteJSON(string(c.In))
	}
	return s
}

// mostConflicts is the number of conflicts that are printed; the file has all.
const mostConflicts = 50

// Merged is what a merge did: its conflicts, what was carried onto moved axes,
// and what it newly causes. file is where the conflicts stand, "" for nowhere.
func Merged(r *merge.MergeResult, file string) *View {
	var more words
	more.when(r.Settled != nil, "%s resolved by --prefer", tables.Plural(len(r.Settled), "conflict"))
	more.when(r.Hidden > 0, "%s by the tolerance: the sides differ by no more than that, or one of them does from the base and counts as not edited",
		tables.Plural(r.Hidden, "cell edited on both sides is merged", "cells edited on both sides are merged"))
	v := &View{}
	v.add(openPart(nil, r.Conflicts, "%s, ours in their place", r.Merged, file), Part{Text: append(more, r.Notes...)},
		Part{Heading: "New problems introduced by the merge:", Text: r.SideEffects})
	return v
}

// Left is how many conflicts a resolution leaves.
func Left(left []merge.Conflict, doc *tables.Calibration, notes []string, file string) *View {
	v := &View{}
	v.add(openPart(notes, left, "%s left", doc, file))
	return v
}

// openPart lists the conflicts that are open, and says where the list of all is.
func openPart(text words, list []merge.Conflict, format string, doc *tables.Calibration, file string) Part {
	if file != "" {
		format += "; listed in " + strings.ReplaceAll(file, "%", "%%")
	}
	text.when(len(list) > 0, format, tables.Plural(len(list), "conflict"))
	return Part{Text: text, Items: conflictItems(list, doc)}
}

func conflictItems(list []merge.Conflict, doc *tables.Calibration) (items []Item) {
	list, more := first(list, mostConflicts, "… and %s more")
	for _, c := range list {
		at := c.Where(doc.Table(c.Table))
		var name words
		name.when(c.Table != "", "%s", c.Table)
		name = append(name, c.At())
		name.when(c.In != "", "of %s", c.In)
		name.when(at != "", "at %s", at)
		items = append(items, Item{Edit: true, Text: fmt.Sprintf("%s: base %s, ours %s, theirs %s", strings.Join(name, " "),
			c.SideText(merge.Original), c.SideText(merge.Ours), c.SideText(merge.Theirs))})
	}
	if more != "" {
		items = append(items, Item{Text: more})
	}
	return items
}
