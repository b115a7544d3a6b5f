package merge

import (
	"math"
	"slices"

	"calsplice/tables"
)

// guard lists where the merged document holds neither what the merge left at a
// conflict's place, which is ours, nor what an earlier resolution may have put
// there. Cells are the same as they are to the guard of an edit: nearer than
// half the resolution. What is wrong with the conflict itself is not told here.
func (r *resolver) guard(c Conflict, all []Conflict) []Mismatch {
	if c.Cell() {
		return r.guardCell(c, all)
	}
	var bad []Mismatch
	for _, s := range []Side{Ours, Theirs, Original} {
		b := r.against(c, s)
		if len(b) == 0 {
			return nil
		}
		if s == Ours {
			bad = b
		}
	}
	return bad
}

// against lists where the document does not hold what one side holds. What is
// wrong with that side itself, settling says.
func (r *resolver) against(c Conflict, take Side) []Mismatch {
	e, err := r.edit(c, take)
	if err != nil {
		return nil
	}
	// A draft of its own, with the one table in it: an edit that fits is made, and
	// this one is thrown away.
	d := &draft{c: r.c, order: slices.Clone(r.order), tables: map[string]*tableDraft{}}
	if t := r.tables[c.Table]; t != nil {
		d.tables[c.Table] = newTableDraft(t.was)
	}
	if o, ok := e.(*OrderEdit); ok {
		d.order = keepOnly(d.order, set(o.From))
	}
	e.apply(d)
	return d.bad
}

func (r *resolver) guardCell(c Conflict, all []Conflict) []Mismatch {
	t := r.tables[c.Table]
	if t == nil {
		return nil // settling says so
	}
	row, column, there := c.find(&t.f)
	m := Mismatch{Table: c.Table, Cell: true, Row: row, Column: column, Wanted: c.SideText(Ours), Found: "no such cell"}
	gone := c.Ours.Absent || c.Theirs.Absent
	if !there {
		if m.Row, m.Column = c.Row, c.Column; gone {
			return nil
		}
		return []Mismatch{m}
	}
	v := t.was.At(row, column)
	for _, s := range []ConflictSide{c.Ours, c.Theirs, c.Base} {
		if !s.Absent && near(v, s.Value, t.half) {
			return nil
		}
	}
	if gone && couldLieBetween(t.was, row, column, all) {
		return nil
	}
	m.Found = cellText(v)
	return []Mismatch{m}
}

// couldLieBetween reports whether a cell may have come with a breakpoint that an
// earlier resolution put back for another cell: it lies between its neighbours,
// or what these held before they were settled.
func couldLieBetween(t *tables.Table, row, column int, all []Conflict) bool {
	low, high := math.Inf(1), math.Inf(-1)
	take := func(v float64) {
		if !math.IsNaN(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	for i := max(0, row-1); i <= min(row+1, t.Rows()-1); i++ {
		for j := max(0, column-1); j <= min(column+1, t.Columns()-1); j++ {
			if i != row || j != column {
				take(t.At(i, j))
			}
		}
	}
	for _, c := range all {
		for _, s := range []ConflictSide{c.Base, c.Ours, c.Theirs} {
			if c.Table == t.ID() && c.Cell() && !s.Absent {
				take(s.Value)
			}
		}
	}
	v := t.At(row, column)
	return math.IsNaN(v) || low-t.Tolerance() <= v && v <= high+t.Tolerance()
}
