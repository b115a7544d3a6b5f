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

// What an edit or a conflict may be about beside the fields of a table and of the
// document.
var (
	aCell = tables.Field[State]{At: func(s *State) any { return &s.Value },
		Given: func(s *State) bool { return !s.Absent },
		Text:  func(s *State) string { return cellText(s.Value) }}
	aTable = tables.Field[State]{At: func(s *State) any { return &s.Table },
		Given: func(s *State) bool { return s.Table != nil },
		Text: func(s *State) string {
			switch t := s.Table; {
			case t == nil:
				return "nothing"
			case t.X() == nil:
				return cellText(t.At(0, 0))
			default:
				return "a table of " + shape(t.Rows(), t.Columns())
			}
		}}
	anOrder = tables.Field[State]{At: func(s *State) any { return &s.Order },
		Given: func(*State) bool { return true },
		Text:  func(s *State) string { return idList(s.Order) }}
)

// The fields of a table and of the document, as those of a state.
var (
	TableFields    = tables.FieldsWithin(tables.TableFields, (*State).fields)
	DocumentFields = tables.FieldsWithin(tables.DocumentFields, func(s *State) *tables.Contents { return made(&s.Contents) })
)

// fields are those of a table; of a side that gives none, with nothing in them.
func (s *State) fields() *tables.Fields { return made(&s.Fields) }

func made[V any](p **V) *V {
	if *p == nil {
		*p = new(V)
	}
	return *p
}

// FieldsOf are the fields of a table, or of the document where the id is "".
func FieldsOf(table string) tables.Fieldset[State] {
	if table == "" {
		return DocumentFields
	}
	return TableFields
}

// fieldOf is one of [FieldsOf], or the whole table, or the order of all.
func fieldOf(table, name string) (f tables.Field[State], known bool) {
	switch {
	case name == WholeTable:
		return aTable, true
	case name == TableOrder && table == "":
		return anOrder, true
	}
	return FieldsOf(table).Find(name)
}

// fieldEdit is the edit of all fields in which two states differ.
func fieldEdit(table string, from, to State) *FieldEdit {
	return &FieldEdit{Table: table, Names: FieldsOf(table).Different(&from, &to), From: from, To: to}
}

// Of reports whether the edit is of the field with a name.
func (e *FieldEdit) Of(name string) bool { return slices.Contains(e.Names, name) }

// adds reports whether the edit adds a table.
func (e *FieldEdit) adds() bool { return e.Of(WholeTable) && e.From.Table == nil }

// On is the table that the fields are of; "" where they are the document's own.
func (e *FieldEdit) On() string { return e.Table }

func (e *FieldEdit) reverse() Edit {
	back := *e
	back.From, back.To = e.To, e.From
	return &back
}

func (e *FieldEdit) apply(d *draft) {
	before := len(d.bad)
	if d.guard(e); len(d.bad) == before {
		d.become(e, &e.To)
	}
}

func (e *FieldEdit) expect(d *draft) { d.become(e, &e.From) }

// become takes a draft to one side of an edit.
func (d *draft) become(e *FieldEdit, side *State) {
	switch t := d.tables[e.Table]; {
	case e.Of(WholeTable):
		// Whatever stands there under this id gives way in its own place; a table that
		// is gone comes back to where it was, or to the front.
		at := d.index(e.Table)
		if d.drop(e.Table); at < 0 {
			at = max(0, d.behindAny(e))
		}
		if side.Table != nil {
			d.insert(at, side.Table)
		}
	case e.Of(TableOrder):
		d.order = reorder(d.order, side.Order)
	case t != nil:
		t.take(e.Names, side)
	case e.Table == "":
		DocumentFields.Take(e.Names, &State{Contents: &d.c}, side)
	}
}

// guard lists what stands against an edit.
func (d *draft) guard(e *FieldEdit) {
	switch t := d.tables[e.Table]; {
	case e.Of(WholeTable):
		d.guardWhole(t, e)
	case e.Of(TableOrder):
		d.guardOrder(e)
	case t == nil && e.Table != "":
		d.mismatch(Mismatch{Table: e.Table, Wanted: "the table", Found: "no such table"})
	default:
		if field, wanted := e.lacks(); field != "" {
			d.mismatch(Mismatch{Table: e.Table, Field: field, Wanted: wanted, Found: "half of a change"})
		}
		d.guardFields(t, e)
		d.limitValues(t, e)
	}
}

// behindAny is where a table is added, −1 for nowhere.
func (d *draft) behindAny(e *FieldEdit) (at int) {
	// Else comes into play where a part of a change set is applied: the table to
	// stand behind may be one that was left out.
	at = d.behind(e.After)
	for i := 0; at < 0 && i < len(e.Else); i++ {
		at = d.behind(e.Else[i])
	}
	return at
}

// guardWhole lists what stands against adding or removing a table.
func (d *draft) guardWhole(t *tableDraft, e *FieldEdit) {
	m := Mismatch{Table: e.Table, Wanted: "the table", Found: "no such table"}
	switch from := e.From.Table; {
	case t != nil && from != nil:
		d.guardTable(t, from)
	case t != nil:
		m.Wanted, m.Found, m.Already = "no such table yet", "the table", e.To.Table != nil && t.holds(e.To.Table)
		d.mismatch(m)
	case from != nil:
		m.Already = true
		d.mismatch(m)
	case d.behindAny(e) < 0:
		m.Wanted = "table " + e.After + " to stand behind"
		d.mismatch(m)
	}
}

func (d *draft) guardOrder(e *FieldEdit) {
	here, from, to := d.order, e.From.Order, e.To.Order
	// Applied apart, tables may have come or gone: those that either order does not
	// know say nothing about whether the others stand as expected.
	if e.Part {
		has := set(d.order)
		here, from, to = keepOnly(here, set(from)), keepOnly(from, has), keepOnly(to, has)
	}
	switch was, is := e.From.Order, e.To.Order; {
	case !slices.Equal(slices.Sorted(slices.Values(was)), slices.Sorted(slices.Values(is))):
		d.mismatch(Mismatch{Field: TableOrder, Wanted: "the same tables in from and in to", Found: idList(was) + " in from and " + idList(is) + " in to"})
	case !slices.Equal(here, from):
		d.mismatch(Mismatch{Field: TableOrder, Wanted: idList(from), Found: idList(here), Already: slices.Equal(here, to)})
	}
}

// guardFields lists where a table, or the document, does not hold the fields that an
// edit expects.
func (d *draft) guardFields(t *tableDraft, e *FieldEdit) {
	here := State{Contents: &d.c}
	if t != nil {
		here.Fields = &t.f
	}
	for _, name := range e.Names {
		if f, ok := FieldsOf(e.Table).Find(name); !ok {
			d.mismatch(Mismatch{Table: e.Table, Field: name, Wanted: "a field of " + whose(e.Table), Found: "none of that name"})
		} else if name == "values" { // cell by cell
			d.guardValues(t, e)
		} else if !f.Same(&here, &e.From) {
			d.mismatch(Mismatch{Table: e.Table, Field: name, Wanted: f.Text(&e.From), Found: f.Text(&here), Already: f.Same(&here, &e.To)})
		}
	}
}

// whose says of what a field is.
func whose(table string) string {
	if table == "" {
		return "a document"
	}
	return "a table"
}

// moves reports whether values have other places or another unit after the
// edit, so that no cell can be edited apart from it.
func (e *FieldEdit) moves() bool {
	from, to := e.From.fields(), e.To.fields()
	return e.Of("unit") && !unit.Same(from.Unit, to.Unit) || e.Of("x") && !samePlaces(from.X, to.X) || e.Of("y") && !samePlaces(from.Y, to.Y)
}

// lacks names what the edit has not of what belongs together; "" where it is
// whole.
func (e *FieldEdit) lacks() (field, wanted string) {
	switch {
	case e.moves() && !e.Of("values"):
		return "values", "the values, which change with their unit and axes"
	case e.Of("values") && !e.Of("unit") && !e.Of("x") && !e.Of("y"):
		return "values", "edits of single cells, or the unit or axis that all values change with"
	}
	return "", ""
}

// Whole lists the fields of the edit that belong together; nil where each may
// be taken without the others.
func (e *FieldEdit) Whole() []string {
	if !e.Of("values") {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(e.Names), func(n string) bool {
		return !slices.Contains(tables.InUnit, n) && !slices.Contains(tables.OnAxes, n)
	})
}

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
func (d *draft) limitValues(t *tableDraft, e *FieldEdit) {
	was, is := e.From.fields(), e.To.fields()
	if len(was.Values) == 0 {
		return // what no document holds is refused already
	}
	before, after := t.f.Limits, t.f.Limits
	if e.Of("limits") {
		before, after = was.Limits, is.Limits
	}
	n := t.f.X.Len()
	if e.Of("x") {
		n = is.X.Len()
	}
	for i, to := range is.Values {
		from := limited{was.Values[0], before}
		if len(was.Values) == len(is.Values) {
			from.v = was.Values[i]
		} else if beyond := slices.IndexFunc(was.Values, func(v float64) bool { return !(limited{v, before}).inside() }); beyond >= 0 {
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
