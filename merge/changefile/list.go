package changefile

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

// list is a change set as a list that a person reviews: a row an edit, or a
// row a field where an edit has several. CSV and the workbook both spell it, so
// that a reviewer may delete rows and change what stands under "to" in either.
type list struct {
	merge.ChangeSet // but for its edits
	rows            []row

	frames map[string]*merge.Frame // by table
}

// row is one row of a [list].
// A row is kept as text, as a file has it: what from and to mean depends on the
// kind of edit, and a fault in them is found where the edit is made.
type row struct {
	Edit        string // one of [kindsOfRow]
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
	Why      *merge.Evidence
}

// The kinds of row. "and" is a further field of the edit in the row above.
const (
	rowCell     = "cell"
	rowSet      = "set"
	rowDocument = "document"
	rowAnd      = "and"
	rowAdd      = "add"
	rowRemove   = "remove"
	rowOrder    = "order"
)

// kindsOfRow lists them.
var kindsOfRow = []string{rowCell, rowSet, rowDocument, rowAnd, rowAdd, rowRemove, rowOrder}

// headings are those of a list, the place of an edit first and its
// evidence last.
var headings = []string{"edit", "table", "row", "column", "place", "field", "with", "after", "from", "to",
	"count", "visits", "mean", "se", "at_limit", "unit", "note"}

// newList lists a change set.
func newList(cs *merge.ChangeSet) (*list, error) {
	s := &list{ChangeSet: *cs, frames: map[string]*merge.Frame{}}
	for i := range cs.Frames {
		s.frames[cs.Frames[i].Table] = &cs.Frames[i]
	}
	for i, e := range cs.Edits {
		if err := s.add(e); err != nil {
			return nil, fmt.Errorf("edit %d: %w", i, err)
		}
	}
	return s, nil
}

// add lists one edit. Most edits are one row; an edit to several fields is a row
// for each, the first with the edit's kind and its evidence and the others with
// "and".
func (s *list) add(e merge.Edit) error {
	r := row{Table: e.On()}
	switch e := e.(type) {
	case *merge.CellEdit:
		r.Edit, r.Row, r.Column, r.Why = rowCell, e.Row, e.Column, e.Why
		r.From, r.To = tables.FormatValue(e.From), tables.FormatValue(e.To)
		if f := s.frames[e.Table]; f != nil {
			r.Place = f.Place(e.Row, e.Column)
		}
	case *merge.TableEdit:
		r.Edit, r.Why = rowSet, e.Why
		return s.fields(r, e, e.Names, e.Whole())
	case *merge.DocumentEdit:
		r.Edit = rowDocument
		return s.fields(r, e, e.Names, nil)
	case *merge.AddTable:
		r.Edit, r.After, r.To = rowAdd, e.After, string(oneLine(tablejson.AppendTable(nil, e.Table, 0)))
	case *merge.RemoveTable:
		r.Edit, r.After, r.From = rowRemove, e.After, string(oneLine(tablejson.AppendTable(nil, e.Table, 0)))
	case *merge.OrderEdit:
		r.Edit, r.From, r.To = rowOrder, strings.Join(e.From, " "), strings.Join(e.To, " ")
	default:
		return fmt.Errorf("changes nothing")
	}
	s.rows = append(s.rows, r)
	return nil
}

// plainFields hold text that stands in a sheet as it is.
var plainFields = []string{"title", "role", "unit", "notes", "name", "format"}

// fields lists the fields of an edit, the first in the row r.
func (s *list) fields(r row, e merge.Edit, names, whole []string) error {
	text := func(name string, from bool) (string, error) {
		b, absent, err := appendSide(nil, e, name, from, 0)
		if err != nil || absent {
			return "", err
		}
		if !slices.Contains(plainFields, name) {
			return string(oneLine(b)), nil
		}
		t, _ := strictjson.New(b, "").Text()
		return t, nil
	}
	for _, name := range names {
		r.Field, r.With = name, ""
		if slices.Contains(whole, name) {
			r.With = strings.Join(whole, " ")
		}
		var err, err2 error
		r.From, err = text(name, true)
		r.To, err2 = text(name, false)
		if err = cmp.Or(err, err2); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		s.rows = append(s.rows, r)
		r.Edit, r.Why = rowAnd, nil
	}
	return nil
}

// evidenceParts are what the evidence of an edit is made of in every file format,
// and baseParts what names the document that a change set is for.
func evidenceParts(w *merge.Evidence) []tables.Part {
	return []tables.Part{{Name: "count", Whole: &w.Count}, {Name: "visits", Whole: &w.Visits}, {Name: "mean", Number: &w.Mean, Empty: true},
		{Name: "se", Number: &w.SE, Empty: true}, {Name: "at_limit", Number: &w.AtLimit, Empty: true}, {Name: "unit", Text: &w.Unit}, {Name: "note", Text: &w.Note}}
}

func baseParts(b *merge.Base) []tables.Part {
	return []tables.Part{{Name: "name", Text: &b.Name}, {Name: "sha256", Text: &b.SHA256}}
}
