package changefile

import (
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

// row is one row of the list that a person reviews: an edit, or a field where an
// edit has several. CSV and the workbook both spell it, so that a reviewer may
// delete rows and change what stands under "to" in either.
//
// It is kept as text, as a file has it: what from and to mean depends on the kind
// of edit, and a fault in them is found where the edit is made.
type row struct {
	Edit        string // one of [kinds], or "and"
	Table       string // its id; "" for an edit to the document
	Row, Column int    // of a cell
	Place       string // of a cell, by the breakpoints of its frame: held to row and column
	Field       string // for a field of a table or of the document
	With        string // the fields, this one too, of which none is taken without the others
	After       string // for an added or removed table: the one before it
	// From and To are a number for a cell, plain text for a title, role, unit,
	// notes or name, ids with blanks between for an order, and JSON for anything
	// else. Empty is absent, and the empty cell of cell averages.
	From, To string
	Based    bool // whether it rests on Why
	Why      merge.Evidence
}

// The kinds of row, which are those of edits. "and" is a further field of the edit in the row above.
const (
	rowCell     = "cell"
	rowSet      = "set"
	rowDocument = "document"
	rowAnd      = "and"
	rowAdd      = "add"
	rowRemove   = "remove"
	rowOrder    = "order"
)

// columns are what a row is made of in every format, each under its heading: which
// edit it is of and where, what it changes, and what the edit rests on. They are
// the row's own, so that one row may take the place of another under them.
func (r *row) columns() []tables.Part {
	return append([]tables.Part{{Name: "edit", Text: &r.Edit}, {Name: "table", Text: &r.Table}, {Name: "row", Whole: &r.Row}, {Name: "column", Whole: &r.Column},
		{Name: "place", Text: &r.Place}, {Name: "field", Text: &r.Field}, {Name: "with", Text: &r.With}, {Name: "after", Text: &r.After},
		{Name: "from", Text: &r.From}, {Name: "to", Text: &r.To}}, evidenceParts(&r.Why)...)
}

// headings are those of a list, and evidence is the first column of what an edit
// rests on.
var (
	headings = names((&row{}).columns())
	evidence = slices.Index(headings, "count")
)

func names(parts []tables.Part) []string {
	return tables.Each(parts, func(p tables.Part) string { return p.Name })
}

// holds reports whether the row has anything for its column i: only a cell has a
// row and a column, and an edit by hand rests on nothing.
func (r *row) holds(i int, p tables.Part) bool {
	switch {
	case i >= evidence:
		return r.Based
	case p.Whole != nil:
		return r.Edit == rowCell
	}
	return *p.Text != ""
}

// isText reports whether from and to are a person's text, or ids, rather than
// a number or JSON.
func (r *row) isText() bool {
	return r.Edit == rowOrder || r.Edit != rowCell && slices.Contains(plainFields, r.Field)
}

// isNumber reports whether what stands under from or to is a number, in the decimal mark
// of its file, rather than text or JSON.
func (r *row) isNumber(text string) bool {
	return r.Edit == rowCell || r.Edit != rowMore && (r.Field == "resolution" || r.Field == "values" && !strings.HasPrefix(text, "[") && text != "null")
}

// plainFields hold text that stands in a sheet as it is.
var plainFields = []string{"title", "role", "unit", "notes", "name", "format"}

// list lists the edits of a change set, a row after the other. Most edits are one row;
// an edit to several fields is a row for each, the first with the edit's kind and its
// evidence and the others with "and".
func list(cs *merge.ChangeSet, each func(row)) {
	frames := map[string]*merge.Frame{}
	for i := range cs.Frames {
		frames[cs.Frames[i].Table] = &cs.Frames[i]
	}
	for _, e := range cs.Edits {
		r := row{Edit: kindOf(e), Table: e.On()}
		switch e := e.(type) {
		case *merge.CellEdit:
			r.cell(e, frames[e.Table])
			each(r)
		case *merge.FieldEdit:
			r.After = e.After
			r.restsOn(e.Why)
			if r.Edit == rowSet || r.Edit == rowDocument {
				r.fields(e, each)
			} else {
				r.From, r.To = alone(&e.From), alone(&e.To)
				each(r)
			}
		}
	}
}

// cell makes the row that of an edit of a cell.
func (r *row) cell(e *merge.CellEdit, frame *merge.Frame) {
	r.Row, r.Column = e.Row, e.Column
	r.From, r.To = tables.FormatValue(e.From), tables.FormatValue(e.To)
	if frame != nil {
		r.Place = frame.Place(e.Row, e.Column)
	}
	r.restsOn(e.Why)
}

// alone is a whole table, or the order of all, under from or to.
func alone(side *merge.State) string {
	if side.Table != nil {
		return string(oneLine(tablejson.AppendTable(nil, side.Table, 0)))
	}
	return strings.Join(side.Order, " ")
}

func (r *row) restsOn(why *merge.Evidence) {
	if r.Based = why != nil; r.Based {
		r.Why = *why
	}
}

// why is what the row rests on, nil where it says nothing of it.
func (r *row) why() *merge.Evidence {
	if !r.Based {
		return nil
	}
	why := r.Why
	return &why
}

// fields hands on a row for each field of an edit, the first in the row as it is.
func (r *row) fields(e *merge.FieldEdit, each func(row)) {
	whole := e.Whole()
	for _, name := range e.Names {
		r.Field, r.With = name, ""
		if slices.Contains(whole, name) {
			r.With = strings.Join(whole, " ")
		}
		for i, to := range []*string{&r.From, &r.To} {
			switch b, absent := appendSide(nil, e, name, i, 0); {
			case absent:
				*to = ""
			case slices.Contains(plainFields, name):
				*to, _ = strictjson.New(b, "").Text()
			default:
				*to = string(oneLine(b))
			}
		}
		each(*r)
		r.Edit, r.Based = rowAnd, false
	}
}

// writeHead writes the rows that belong to the whole set. In a workbook, where a
// long name goes on in the next cell, the hash of the base has a row of its own,
// and the first rows stand in their places whatever they hold.
func writeHead(w sheet.Writer, cs *merge.ChangeSet, workbook bool) {
	for _, p := range []tables.Part{{Name: "title", Text: &cs.Title}, {Name: "made_by", Text: &cs.MadeBy}} {
		if workbook || *p.Text != "" {
			w.Name(p.Name)
			w.Text(*p.Text)
		}
	}
	if cs.Base != (merge.Base{}) {
		w.Name("base")
		w.Text(cs.Base.Name)
		if workbook {
			w.Name("base sha256")
		}
		w.Word(cs.Base.SHA256)
	}
	for _, c := range cs.Cautions {
		w.Name("caution")
		w.Text(c)
	}
	if cs.LeftOut > 0 {
		w.Name("left_out")
		w.Number(float64(cs.LeftOut))
	}
	for i := range cs.Frames {
		w.Name("frame")
		w.JSON(string(appendFrame(nil, &cs.Frames[i])))
	}
	sheet.WriteKept(w, "", cs.Extra)
}
