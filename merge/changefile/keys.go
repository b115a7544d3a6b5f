package changefile

import (
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

// form is a kind of edit: what it is made of, and one edit that is filled each time
// that one is read or written.
type form struct {
	parts []tables.Part
	needs []string
	clear func()
	edit  func() merge.Edit
	take  func(merge.Edit) bool // false for an edit of another kind
}

func formOf[E any](e *E, parts ...tables.Part) form {
	f := form{parts: parts,
		clear: func() { *e = *new(E) },
		edit:  func() merge.Edit { c := *e; return any(&c).(merge.Edit) },
		take: func(x merge.Edit) bool {
			of, ok := any(x).(*E)
			if ok {
				*e = *of
			}
			return ok
		}}
	for _, p := range parts {
		if p.Must {
			f.needs = append(f.needs, p.Name)
		}
	}
	return f
}

// editMarks are the keys that tell the kinds of edit, in the order of [reader.editForms].
var editMarks = []string{"at", "set", "document", "add", "remove", "order"}

// editForms are the kinds of edit. What cannot be written is handed to fail.
func (r *reader) editForms(fail func(error)) []form {
	var cell merge.CellEdit
	var set merge.TableEdit
	var document merge.DocumentEdit
	var add merge.AddTable
	var remove merge.RemoveTable
	var order merge.OrderEdit
	return []form{
		formOf(&cell, r.IDPart("table", &cell.Table), r.place(&cell), tables.Part{Name: "from", Number: &cell.From, Empty: true, Must: true},
			tables.Part{Name: "to", Number: &cell.To, Empty: true, Must: true}, r.why(&cell.Why)),
		formOf(&set, r.IDPart("table", &set.Table), tables.Part{Name: "set", Must: true, At: tablejson.Custom{
			Read:   func() { readFields(r, fieldsOf(&set)) },
			Append: func(b []byte) []byte { return appendFields(b, fieldsOf(&set), 8, fail) }}}, r.why(&set.Why)),
		formOf(&document, tables.Part{Name: "document", At: tablejson.Custom{
			Read:   func() { readFields(r, fieldsOf(&document)) },
			Append: func(b []byte) []byte { return appendFields(b, fieldsOf(&document), 6, fail) }}}),
		formOf(&add, tables.Part{Name: "add", At: &add.Table}, r.after(&add.After)),
		formOf(&remove, tables.Part{Name: "remove", At: &remove.Table}, r.after(&remove.After)),
		formOf(&order, tables.Part{Name: "order", At: []tables.Part{r.ids("from", &order.From), r.ids("to", &order.To)}}),
	}
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
