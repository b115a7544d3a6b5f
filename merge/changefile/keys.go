package changefile

import (
	"slices"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

// What the objects of a change set are made of is said here once, for reading and
// for writing. A reader is nil where they are only written.

// evidenceParts are what the evidence of an edit is made of in every file format,
// and baseParts what names the document that a change set is for.
func evidenceParts(w *merge.Evidence) []tables.Part {
	return []tables.Part{{Name: "count", Whole: &w.Count}, {Name: "visits", Whole: &w.Visits}, {Name: "mean", Number: &w.Mean, Empty: true},
		{Name: "se", Number: &w.SE, Empty: true}, {Name: "at_limit", Number: &w.AtLimit, Empty: true}, {Name: "unit", Text: &w.Unit}, {Name: "note", Text: &w.Note}}
}

func baseParts(b *merge.Base) []tables.Part {
	return []tables.Part{{Name: "name", Text: &b.Name}, {Name: "sha256", Text: &b.SHA256}}
}

// frameParts are what an edit of a cell needs to find its breakpoints.
func (r *reader) frameParts(f *merge.Frame) []tables.Part {
	return []tables.Part{r.IDPart("table", &f.Table), {Name: "unit", Text: &f.Unit, Must: true}, {Name: "x", At: &f.X, Omit: true}, {Name: "y", At: &f.Y, Omit: true}}
}

// set is what a change set is made of. Each of its edits is appended by the writer.
func (r *reader) set(cs *merge.ChangeSet, edit func(b []byte, i int) []byte) []tables.Part {
	return []tables.Part{
		r.FormatPart(fileFormat), {Name: "title", Text: &cs.Title}, {Name: "made_by", Text: &cs.MadeBy}, {Name: "base", At: baseParts(&cs.Base)},
		{Name: "frames", At: tablejson.Custom{
			Read: func() {
				seen := map[string]*merge.Frame{}
				r.Array(func(int) { cs.Frames = append(cs.Frames, r.frame(seen)) })
			},
			Append: func(b []byte) []byte {
				return appendLines(b, len(cs.Frames), func(b []byte, i int) []byte { return appendFrame(b, &cs.Frames[i]) })
			}}},
		{Name: "edits", Must: true, At: tablejson.Custom{
			Read:   func() { r.Array(func(int) { cs.Edits = append(cs.Edits, r.edit()) }) },
			Append: func(b []byte) []byte { return appendLines(b, len(cs.Edits), edit) }}},
		{Name: "cautions", At: tablejson.Custom{
			Read: func() { cs.Cautions = r.Texts() },
			Append: func(b []byte) []byte {
				return appendLines(b, len(cs.Cautions), func(b []byte, i int) []byte { return strictjson.AppendText(b, cs.Cautions[i]) })
			}}},
		{Name: "left_out", Whole: &cs.LeftOut, Omit: true},
	}
}

// kinds are the kinds of edit as a list names them, in the order of [forms],
// and editMarks the keys that tell them in JSON.
var (
	kinds     = []string{rowCell, rowSet, rowDocument, rowAdd, rowRemove, rowOrder}
	editMarks = slices.Replace(slices.Clone(kinds), 0, 1, "at")
)

// kindOf is the kind of an edit.
func kindOf(e merge.Edit) string {
	switch f, ok := e.(*merge.FieldEdit); {
	case !ok:
		return rowCell
	case f.Of(merge.TableOrder):
		return rowOrder
	case f.Of(merge.WholeTable) && f.From.Table == nil:
		return rowAdd
	case f.Of(merge.WholeTable):
		return rowRemove
	case f.Table == "":
		return rowDocument
	}
	return rowSet
}

// forms are what each kind of edit is made of, in the order of [kinds], and the edit
// that is filled each time that one is read or written.
type forms struct {
	cell  merge.CellEdit
	field merge.FieldEdit
	parts [][]tables.Part
	needs [][]string // those of the parts that must be there
}

func newForms(r *reader) *forms {
	f := &forms{}
	cell, e := &f.cell, &f.field
	fields := func(all tables.Fieldset[merge.State], indent int) tablejson.Custom {
		return tablejson.Custom{Read: func() { readFields(r, e, all) },
			Append: func(b []byte) []byte { return appendFields(b, e, indent) }}
	}
	f.parts = [][]tables.Part{
		{r.IDPart("table", &cell.Table), r.place(cell), {Name: "from", Number: &cell.From, Empty: true, Must: true},
			{Name: "to", Number: &cell.To, Empty: true, Must: true}, r.why(&cell.Why)},
		{r.IDPart("table", &e.Table), {Name: "set", Must: true, At: fields(merge.TableFields, 8)}, r.why(&e.Why)},
		{{Name: "document", At: fields(merge.DocumentFields, 6)}},
		{{Name: "add", At: &e.To.Table}, r.after(&e.After)},
		{{Name: "remove", At: &e.From.Table}, r.after(&e.After)},
		{{Name: "order", At: []tables.Part{r.ids("from", &e.From.Order), r.ids("to", &e.To.Order)}}},
	}
	for _, parts := range f.parts {
		f.needs = append(f.needs, names(slices.DeleteFunc(slices.Clone(parts), func(p tables.Part) bool { return !p.Must })))
	}
	return f
}

// take fills in an edit, and gives what it is made of.
func (f *forms) take(e merge.Edit) []tables.Part {
	switch e := e.(type) {
	case *merge.CellEdit:
		f.cell = *e
	case *merge.FieldEdit:
		f.field = *e
	}
	return f.parts[slices.Index(kinds, kindOf(e))]
}

// edit is the edit that was filled in, of one of [kinds].
func (f *forms) edit(kind string) merge.Edit {
	if kind == rowCell {
		cell := f.cell
		return &cell
	}
	e := f.field
	switch {
	case kind == rowOrder:
		e.Names = []string{merge.TableOrder}
	case e.To.Table != nil:
		return merge.AddTable(e.To.Table, e.After)
	case e.From.Table != nil:
		return merge.RemoveTable(e.From.Table, e.After)
	}
	return &e
}

// place is the row and the column of a cell, both from 0, of the frame's own axes.
func (r *reader) place(e *merge.CellEdit) tables.Part {
	return tables.Part{Name: "at", Must: true, At: tablejson.Custom{
		Read:   func() { e.Row, e.Column = r.Place("expected a row and a column") },
		Append: func(b []byte) []byte { return tablejson.AppendPlace(b, e.Row, e.Column) },
	}}
}

// why is the evidence of an edit. None of its keys must be there, since a person
// who writes a change set by hand has none to give.
func (r *reader) why(at **merge.Evidence) tables.Part {
	return tables.Part{Name: "why", Omit: true, At: tablejson.Custom{
		Read: func() {
			if !r.Null() {
				*at = &merge.Evidence{}
				r.Parts(evidenceParts(*at), nil)
			}
		},
		Append: func(b []byte) []byte { return tablejson.AppendParts(b, evidenceParts(*at)) },
		Given:  func() bool { return *at != nil },
	}}
}

// after is the table in front of one that is added or removed, so that undoing puts
// it back in its place; null is the first place.
func (r *reader) after(at *string) tables.Part {
	return tables.Part{Name: "after", At: tablejson.Custom{
		Read: func() {
			if !r.Null() {
				*at = r.ID()
			}
		},
		Append: func(b []byte) []byte {
			if *at == "" {
				return append(b, "null"...)
			}
			return strictjson.AppendText(b, *at)
		},
	}}
}

// ids are the ids of all tables before or after an order, so that reversing it needs
// no more than to swap them.
func (r *reader) ids(name string, at *[]string) tables.Part {
	return tables.Part{Name: name, Must: true, At: tablejson.Custom{
		Read:   func() { r.Array(func(int) { *at = append(*at, r.ID()) }) },
		Append: func(b []byte) []byte { return strictjson.AppendTexts(b, *at) },
	}}
}

// The keys of edits of all kinds, and of the two sides of a field.
var (
	editKeys = []string{"table", "at", "from", "to", "why", "set", "document", "add", "after", "remove", "order"}
	pairKeys = strictjson.Keys{Known: []string{"from", "to"}, Need: []string{"from", "to"}}
)
