package merge

import "slices"

// guard lists where the merged document holds neither what the merge left at a
// conflict's place, which is ours, nor what an earlier resolution may have put
// there. Cells are the same as they are to the guard of an edit: nearer than
// half the resolution. What is wrong with the conflict itself is not told here.
func (r *resolver) guard(c Conflict) []Mismatch {
	if c.Cell() {
		return r.guardCell(c)
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

func (r *resolver) guardCell(c Conflict) []Mismatch {
	t := r.tables[c.Table]
	if t == nil {
		return nil // settling says so
	}
	m := Mismatch{Table: c.Table, Cell: true, Row: c.Row, Column: c.Column, Wanted: c.SideText(Ours), Found: "no such cell"}
	i := c.index(t.f.Axes())
	if i < 0 && (c.Ours.Absent || c.Theirs.Absent) {
		return nil
	}
	if i >= 0 {
		v := t.f.Values[i]
		for _, s := range []ConflictSide{c.Ours, c.Theirs, c.Base} {
			if !s.Absent && near(v, s.Value, t.half) {
				return nil
			}
		}
		m.Row, m.Column, m.Found = i/t.f.X.Len(), i%t.f.X.Len(), cellText(v)
	}
	return []Mismatch{m}
}
