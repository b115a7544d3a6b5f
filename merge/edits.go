package merge

import (
	"fmt"
	"slices"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// On is the table whose cell it is.
func (e *CellEdit) On() string { return e.Table }

func (e *CellEdit) reverse() Edit {
	back := *e
	back.From, back.To = e.To, e.From
	return &back
}

func (e *CellEdit) apply(d *draft) {
	t, i, m := d.find(e)
	if t == nil {
		return
	}
	v := t.f.Values[i]
	switch {
	// Guards come before limits: of a stale edit nobody wants to hear that it would
	// go too far as well.
	case !holds(v, e.From, e.To, t.half):
		m.Found, m.Already = cellText(v), holds(v, e.To, e.From, t.half)
		d.mismatch(m)
	case d.within(m, limited{e.From, t.f.Limits}, limited{e.To, t.f.Limits}):
		d.tolerate(m, v, e.From)
		t.setCell(i, e.To)
	}
}

func (e *CellEdit) expect(d *draft) {
	if t, i, _ := d.find(e); t != nil {
		t.setCell(i, e.From)
	}
}

// find is the table of a cell edit and the place of the cell among its values,
// with what a mismatch there says. The table is nil, and the mismatch listed,
// where there is no such cell.
func (d *draft) find(e *CellEdit) (*tableDraft, int, Mismatch) {
	m := Mismatch{Table: e.Table, Cell: true, Row: e.Row, Column: e.Column, Wanted: cellText(e.From)}
	t := d.tables[e.Table]
	if t == nil {
		m.Found = "no such table"
		d.mismatch(m)
		return nil, 0, m
	}
	if fr := d.frames[e.Table]; fr != nil && !d.place(t, fr, &m) {
		return nil, 0, m
	}
	n := t.f.X.Len()
	if m.Row < 0 || m.Column < 0 || m.Column >= n || m.Row >= t.f.Y.Len() {
		m.Found = "a table of " + shape(t.f.Y.Len(), n)
		d.mismatch(m)
		return nil, 0, m
	}
	return t, m.Row*n + m.Column, m
}

// On is the table whose fields change.
func (e *TableEdit) On() string { return e.Table }

func (e *TableEdit) reverse() Edit {
	back := *e
	back.From, back.To = e.To, e.From
	return &back
}

func (e *TableEdit) apply(d *draft) {
	t := d.tables[e.Table]
	if t == nil {
		d.mismatch(Mismatch{Table: e.Table, Wanted: "the table", Found: "no such table"})
		return
	}
	before := len(d.bad)
	if field, wanted := e.lacks(); field != "" {
		d.mismatch(Mismatch{Table: e.Table, Field: field, Wanted: wanted, Found: "half of a change"})
	}
	d.bad = append(d.bad, guardFields(tables.TableFields, e.Names, &t.f, &e.From, &e.To, Mismatch{Table: e.Table, Wanted: "a field of a table"})...)
	if e.names("values") {
		d.guardValues(t, e)
		d.limitValues(t, e)
	}
	if len(d.bad) == before {
		t.take(e.Names, &e.To)
	}
}

func (e *TableEdit) expect(d *draft) {
	if t := d.tables[e.Table]; t != nil {
		t.take(e.Names, &e.From)
	}
}

// moves reports whether values have other places or another unit after the
// edit, so that no cell can be edited apart from it.
func (e *TableEdit) moves() bool {
	return e.names("unit") && !unit.Same(e.From.Unit, e.To.Unit) ||
		e.names("x") && !samePlaces(e.From.X, e.To.X) || e.names("y") && !samePlaces(e.From.Y, e.To.Y)
}

func (e *TableEdit) names(field string) bool { return slices.Contains(e.Names, field) }

// lacks names what the edit has not of what belongs together; "" where it is
// whole.
func (e *TableEdit) lacks() (field, wanted string) {
	switch {
	case e.moves() && !e.names("values"):
		return "values", "the values, which change with their unit and axes"
	case e.names("values") && !e.names("unit") && !e.names("x") && !e.names("y"):
		return "values", "edits of single cells, or the unit or axis that all values change with"
	}
	return "", ""
}

// Whole lists the fields of the edit that belong together; nil where each may
// be taken without the others.
func (e *TableEdit) Whole() []string {
	if !e.names("values") {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(e.Names), func(n string) bool {
		return !slices.Contains(tables.InUnit, n) && !slices.Contains(tables.OnAxes, n)
	})
}

// On is no table: the fields are the document's own.
func (e *DocumentEdit) On() string { return "" }

func (e *DocumentEdit) reverse() Edit {
	back := *e
	back.From, back.To = e.To, e.From
	return &back
}

func (e *DocumentEdit) apply(d *draft) {
	bad := guardFields(tables.DocumentFields, e.Names, &d.c, &e.From, &e.To, Mismatch{Wanted: "a field of a document"})
	if d.bad = append(d.bad, bad...); len(bad) == 0 {
		tables.DocumentFields.Take(e.Names, &d.c, &e.To)
	}
}

// guardFields lists the named fields that are not as they are in from, but for a
// table's values, which are guarded cell by cell. none is the mismatch of a name
// that no field has.
func guardFields[T any](set tables.Fieldset[T], names []string, here, from, to *T, none Mismatch) (bad []Mismatch) {
	for _, name := range names {
		m := none
		m.Field, m.Found = name, "none of that name"
		if f, ok := set.Find(name); ok {
			if name == "values" || f.Same(here, from) {
				continue
			}
			m.Wanted, m.Found, m.Already = f.Text(from), f.Text(here), f.Same(here, to)
		}
		bad = append(bad, m)
	}
	return bad
}

func (e *DocumentEdit) expect(d *draft) { tables.DocumentFields.Take(e.Names, &d.c, &e.From) }

// On is the table that comes.
func (e *AddTable) On() string { return e.Table.ID() }

func (e *AddTable) reverse() Edit { return &RemoveTable{e.Table, e.After} }

func (e *AddTable) apply(d *draft) {
	id := e.Table.ID()
	if t := d.tables[id]; t != nil {
		d.mismatch(Mismatch{Table: id, Wanted: "no such table yet", Found: "the table", Already: t.holds(e.Table)})
		return
	}
	// Else comes into play where a part of a change set is applied: the table to
	// stand behind may be one that was left out.
	at := d.behind(e.After)
	for i := 0; at < 0 && i < len(e.Else); i++ {
		at = d.behind(e.Else[i])
	}
	if at < 0 {
		d.mismatch(Mismatch{Table: id, Wanted: "table " + e.After + " to stand behind", Found: "no such table"})
		return
	}
	d.insert(at, e.Table)
}

func (e *AddTable) expect(d *draft) { d.drop(e.Table.ID()) }

// On is the table that goes.
func (e *RemoveTable) On() string { return e.Table.ID() }

func (e *RemoveTable) reverse() Edit { return &AddTable{Table: e.Table, After: e.After} }

func (e *RemoveTable) apply(d *draft) {
	id := e.Table.ID()
	t := d.tables[id]
	if t == nil {
		d.mismatch(Mismatch{Table: id, Wanted: "the table", Found: "no such table", Already: true})
		return
	}
	before := len(d.bad)
	d.guardTable(t, e.Table)
	if len(d.bad) == before {
		d.drop(id)
	}
}

func (e *RemoveTable) expect(d *draft) {
	at := d.index(e.Table.ID())
	if at >= 0 {
		d.drop(e.Table.ID())
	} else {
		// Whatever stands there under this id gives way in its own place; a table that
		// is gone comes back to where it was, or to the front.
		at = max(0, d.behind(e.After))
	}
	d.insert(at, e.Table)
}

// On is no table: all of them may move.
func (e *OrderEdit) On() string { return "" }

func (e *OrderEdit) reverse() Edit { return &OrderEdit{e.To, e.From, e.Part} }

func (e *OrderEdit) apply(d *draft) {
	here, from, to := d.order, e.From, e.To
	// Applied apart, tables may have come or gone: those that either order does not
	// know say nothing about whether the others stand as expected.
	if e.Part {
		has := set(d.order)
		here, from, to = keepOnly(here, set(from)), keepOnly(from, has), keepOnly(to, has)
	}
	switch {
	case !slices.Equal(slices.Sorted(slices.Values(e.From)), slices.Sorted(slices.Values(e.To))):
		d.mismatch(Mismatch{Field: "order", Wanted: "the same tables in from and in to", Found: idList(e.From) + " in from and " + idList(e.To) + " in to"})
	case !slices.Equal(here, from):
		d.mismatch(Mismatch{Field: "order", Wanted: idList(from), Found: idList(here), Already: slices.Equal(here, to)})
	default:
		d.order = reorder(d.order, e.To)
	}
}

func (e *OrderEdit) expect(d *draft) { d.order = reorder(d.order, e.From) }

// limited is a value and the limits that its table has then.
type limited struct {
	v      float64
	limits *tables.Limits
}

func (l limited) inside() bool {
	return l.limits == nil || !(l.v < l.limits.Low || l.v > l.limits.High)
}

// within reports whether a value may be written: one beyond the limits may where
// the one before was beyond them too, and where the caller said so.
func (d *draft) within(m Mismatch, from, to limited) bool {
	if to.inside() || !from.inside() {
		return true
	}
	m.Beyond = true
	m.Wanted, m.Found = "a value within the limits "+to.limits.Text(), cellText(to.v)
	if !d.limits {
		d.past = append(d.past, m)
		return true
	}
	d.mismatch(m)
	return false
}

// limitValues holds the values of an edit that sets them all to the limits that
// stand after it. On other axes a value has no one value before: there all of
// them must have been inside.
func (d *draft) limitValues(t *tableDraft, e *TableEdit) {
	if len(e.From.Values) == 0 {
		return // what no document holds is refused already
	}
	before, after := t.f.Limits, t.f.Limits
	if e.names("limits") {
		before, after = e.From.Limits, e.To.Limits
	}
	n := t.f.X.Len()
	if e.names("x") {
		n = e.To.X.Len()
	}
	for i, to := range e.To.Values {
		from := limited{e.From.Values[0], before}
		if len(e.From.Values) == len(e.To.Values) {
			from.v = e.From.Values[i]
		} else if beyond := slices.IndexFunc(e.From.Values, func(v float64) bool { return !(limited{v, before}).inside() }); beyond >= 0 {
			return
		}
		if !tables.SameBit(from.v, to) {
			d.within(Mismatch{Table: e.Table, Cell: true, Row: i / n, Column: i % n}, from, limited{to, after})
		}
	}
}

func beyondNote(past []Mismatch) string {
	if len(past) == 0 {
		return ""
	}
	goes, first := "1 edit goes", ""
	if len(past) > 1 {
		goes, first = fmt.Sprintf("%d edits go", len(past)), "first "
	}
	return goes + " beyond the limits: " + first + past[0].Place() + ": " + past[0].what()
}
