package merge

import (
	"cmp"
	"iter"
	"math"
	"slices"

	"calsplice/tables"
)

// Diff is every difference between two documents, to the bit: applied to a, it
// gives b. Cells are edited one by one where a table kept its unit and its
// axes; where one of these differs, it and the values are set in one edit.
//
// The edits stand in this order: document fields, the order of tables, tables
// removed from the last to the first, tables changed, tables added from the
// first to the last. Any part of them may be applied now and the rest later.
func Diff(a, b *tables.Calibration) *ChangeSet {
	var edits []Edit
	from, to := a.Contents(), b.Contents()
	if e := fieldEdit("", State{Contents: &from}, State{Contents: &to}); len(e.Names) > 0 {
		edits = append(edits, e)
	}
	order := a.IDs()
	if to := orderTowards(order, b); !slices.Equal(order, to) {
		edits = append(edits, &FieldEdit{Names: []string{TableOrder}, From: State{Order: order}, To: State{Order: to}})
		order = to
	}
	for i := len(order) - 1; i >= 0; i-- {
		if b.Table(order[i]) == nil {
			edits = append(edits, RemoveTable(a.Table(order[i]), before(order, i)))
		}
	}
	for _, t := range b.Tables() {
		if old := a.Table(t.ID()); old != nil {
			edits = diffTable(edits, old, t)
		}
	}
	ids := b.IDs()
	for i, t := range b.Tables() {
		if a.Table(t.ID()) == nil {
			edits = append(edits, AddTable(t, before(ids, i)))
		}
	}
	return NewChangeSet(a, "diff", edits)
}

// before is the id in front of ids[i], or "".
func before(ids []string, i int) string {
	if i == 0 {
		return ""
	}
	return ids[i-1]
}

// orderTowards is the order of a's tables in which those that b has too are in
// b's order. Tables that only a has keep their place after their predecessor.
func orderTowards(ids []string, b *tables.Calibration) []string {
	return reorder(ids, keepOnly(b.IDs(), set(ids)))
}

// reorder puts ids into the order of to. An id that to does not name follows
// the one that it followed; at the front it stays there.
func reorder(ids, to []string) []string {
	after := followers(ids, set(to))
	out := append(make([]string, 0, len(ids)), after[""]...)
	for _, id := range keepOnly(to, set(ids)) {
		out = append(append(out, id), after[id]...)
	}
	return out
}

func set(ids []string) map[string]bool {
	m := make(map[string]bool, len(ids))
	for _, id := range ids {
		m[id] = true
	}
	return m
}

// diffTable appends the edits that turn one table into another of the same id:
// its fields in one edit, with all the values where their unit or their axes
// differ, and else its cells one by one.
func diffTable(edits []Edit, a, b *tables.Table) []Edit {
	if a == b {
		return edits
	}
	from, to := a.Fields(), b.Fields()
	e := fieldEdit(a.ID(), State{Fields: &from}, State{Fields: &to})
	moves := e.moves()
	byCell := !moves && !e.Of("x") && !e.Of("y")
	switch {
	case byCell:
		e.Names = slices.DeleteFunc(e.Names, func(n string) bool { return n == "values" })
	case moves && !e.Of("values"):
		e.Names = append(e.Names, "values")
		TableFields.Sort(e.Names)
	}
	if len(e.Names) > 0 {
		edits = append(edits, e)
	}
	if byCell {
		for cell := range cells(a, b) {
			edits = append(edits, cell)
		}
	}
	return edits
}

// cells are the edits of the cells in which two tables of one shape differ.
func cells(a, b *tables.Table) iter.Seq[*CellEdit] {
	return func(yield func(*CellEdit) bool) {
		from, to, columns := a.Values(), b.Values(), a.Columns()
		for i := range from {
			if !tables.SameBit(from[i], to[i]) && !yield(&CellEdit{Table: a.ID(), Row: i / columns, Column: i % columns, From: from[i], To: to[i]}) {
				return
			}
		}
	}
}

// Largest are the edits of the cells in which two tables of one shape differ, the
// largest first.
func Largest(a, b *tables.Table) []*CellEdit {
	by := func(e *CellEdit) float64 { return math.Abs(e.To - e.From) }
	return slices.SortedStableFunc(cells(a, b), func(e, f *CellEdit) int { return cmp.Compare(by(f), by(e)) })
}

// Reverse is the change set that undoes this one.
func (cs *ChangeSet) Reverse() *ChangeSet {
	r := *cs
	r.Base, r.makes = Base{Name: cs.Base.Name, SHA256: cs.makes}, cs.Base.SHA256
	r.reversed = !cs.reversed
	r.Edits = make([]Edit, len(cs.Edits))
	for i, e := range cs.Edits {
		r.Edits[len(cs.Edits)-1-i] = e.reverse()
	}
	return &r
}
