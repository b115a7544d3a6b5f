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
		b := r.against(c, c.Side(s))
		if len(b) == 0 {
			return nil
		}
		if s == Ours {
			bad = b
		}
	}
	return bad
}

// against lists where the document does not hold what one side holds.
func (r *resolver) against(c Conflict, side ConflictSide) []Mismatch {
	d := &draft{c: r.c, order: r.order, tables: map[string]*tableDraft{}}
	t := r.tables[c.Table]
	if t != nil {
		d.tables[c.Table] = newTableDraft(t)
	}
	switch {
	case c.Table == "" && c.Name == TableOrder:
		if here := keepOnly(r.order, set(side.Order)); !slices.Equal(here, side.Order) {
			d.mismatch(Mismatch{Field: TableOrder, Wanted: idList(side.Order), Found: idList(here)})
		}
	case c.Table == "":
		d.guardDocument(c, side)
	case c.Name == WholeTable && t != nil && side.Table != nil:
		d.guardTable(d.tables[c.Table], side.Table)
	case c.Name == WholeTable:
		if t != nil || side.Table != nil {
			presence := map[bool]string{true: "the table", false: "no such table"}
			d.mismatch(Mismatch{Table: c.Table, Wanted: presence[side.Table != nil], Found: presence[t != nil]})
		}
	case side.Table != nil: // an axis or the unit, with the cells
		f := side.Table.Fields()
		(&TableEdit{Table: c.Table, Names: c.together(), From: f, To: f}).apply(d)
	case side.Fields != nil:
		if _, ok := tables.TableFields.Find(c.Name); ok {
			(&TableEdit{Table: c.Table, Names: []string{c.Name}, From: *side.Fields, To: *side.Fields}).apply(d)
		}
	}
	return d.bad
}

// guardDocument compares a field of the document, or one fact about the engine,
// with a side's.
func (d *draft) guardDocument(c Conflict, side ConflictSide) {
	if side.Contents == nil {
		return
	}
	if _, ok := tables.DocumentFields.Find(c.Name); ok {
		(&DocumentEdit{Names: []string{c.Name}, From: *side.Contents, To: *side.Contents}).apply(d)
	}
}

func (r *resolver) guardCell(c Conflict, all []Conflict) []Mismatch {
	t := r.tables[c.Table]
	if t == nil {
		return nil // settling says so
	}
	row, column, there := r.find(c, t)
	m := Mismatch{Table: c.Table, Cell: true, Row: row, Column: column, Wanted: c.SideText(Ours), Found: "no such cell"}
	gone := c.Ours.Absent || c.Theirs.Absent
	if !there {
		if m.Row, m.Column = c.Row, c.Column; gone {
			return nil
		}
		return []Mismatch{m}
	}
	v := t.At(row, column)
	for _, s := range []ConflictSide{c.Ours, c.Theirs, c.Base} {
		if !s.Absent && near(v, s.Value, t.Tolerance()) {
			return nil
		}
	}
	if gone && r.between(c.Table, row, column, all) {
		return nil
	}
	m.Found = cellText(v)
	return []Mismatch{m}
}

// between reports whether a cell may have come with a breakpoint that an
// earlier resolution put back for another cell: it lies between its neighbours,
// or what these held before they were settled.
func (r *resolver) between(table string, row, column int, all []Conflict) bool {
	t := r.tables[table]
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
			if c.Table == table && c.Cell() && !s.Absent {
				take(s.Value)
			}
		}
	}
	v := t.At(row, column)
	return math.IsNaN(v) || low-t.Tolerance() <= v && v <= high+t.Tolerance()
}
