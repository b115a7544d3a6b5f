package changefile

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

// Sheet is a change set as a list that a person reviews: a row an edit, or a
// row a field where an edit has several. CSV and the workbook both spell it, so
// that a reviewer may delete rows and change what stands under "to" in either.
type Sheet struct {
	Title, MadeBy string
	Base          merge.Base
	Cautions      []string
	Extra         tables.Extra
	Rows          []Row
}

// Row is one row of a [Sheet].
type Row struct {
	Edit        string // one of [Edits]
	Table       string // its id; "" for an edit to the document
	Row, Column int    // of a cell
	Field       string // for a field of a table or of the document
	After       string // for an added or removed table: the one before it
	// From and To are a number for a cell, plain text for a title, role, unit,
	// notes or name, ids with blanks between for an order, and JSON for anything
	// else. Empty is absent, and the empty cell of cell averages.
	From, To string
	Why      *merge.Evidence
}

// The kinds of row. "and" is a further field of the edit in the row above.
const (
	EditCell     = "cell"
	EditSet      = "set"
	EditDocument = "document"
	EditAnd      = "and"
	EditAdd      = "add"
	EditRemove   = "remove"
	EditOrder    = "order"
)

// Edits lists the kinds of row.
var Edits = []string{EditCell, EditSet, EditDocument, EditAnd, EditAdd, EditRemove, EditOrder}

// Columns are the headings of a sheet, the place of an edit first and its
// evidence last.
var Columns = []string{"edit", "table", "row", "column", "field", "after", "from", "to",
	"count", "visits", "mean", "se", "at_limit", "unit", "note"}

// NewSheet lists a change set.
func NewSheet(cs *merge.ChangeSet) (*Sheet, error) {
	s := &Sheet{Title: cs.Title, MadeBy: cs.MadeBy, Base: cs.Base, Cautions: cs.Cautions, Extra: cs.Extra}
	for i, e := range cs.Edits {
		if err := s.add(e); err != nil {
			return nil, fmt.Errorf("edit %d: %w", i, err)
		}
	}
	return s, nil
}

func (s *Sheet) add(e merge.Edit) error {
	row := func(r Row) { s.Rows = append(s.Rows, r) }
	switch {
	case e.Cell != nil:
		c := e.Cell
		row(Row{Edit: EditCell, Table: c.Table, Row: c.Row, Column: c.Column,
			From: tables.FormatValue(c.From), To: tables.FormatValue(c.To), Why: c.Why})
	case e.Set != nil:
		return s.fields(EditSet, e.Set.Table, e.Set.Names, e.Set.Why, func(name string, from bool) ([]byte, bool, error) {
			side := e.Set.To
			if from {
				side = e.Set.From
			}
			return appendTableField(nil, e.Set.Names, name, side, 0)
		})
	case e.Document != nil:
		return s.fields(EditDocument, "", e.Document.Names, nil, func(name string, from bool) ([]byte, bool, error) {
			side := e.Document.To
			if from {
				side = e.Document.From
			}
			return appendDocumentField(nil, name, side, 0)
		})
	case e.Add != nil:
		row(Row{Edit: EditAdd, Table: e.Add.Table.ID(), After: e.Add.After, To: string(oneLine(tablejson.AppendTable(nil, e.Add.Table, 0)))})
	case e.Remove != nil:
		row(Row{Edit: EditRemove, Table: e.Remove.Table.ID(), After: e.Remove.After,
			From: string(oneLine(tablejson.AppendTable(nil, e.Remove.Table, 0)))})
	case e.Order != nil:
		row(Row{Edit: EditOrder, From: strings.Join(e.Order.From, " "), To: strings.Join(e.Order.To, " ")})
	default:
		return fmt.Errorf("changes nothing")
	}
	return nil
}

// plainFields hold text that stands in a sheet as it is.
var plainFields = []string{"title", "role", "unit", "notes", "name", "format"}

func (s *Sheet) fields(kind, table string, names []string, why *merge.Evidence, side func(string, bool) ([]byte, bool, error)) error {
	text := func(name string, from bool) (string, error) {
		b, absent, err := side(name, from)
		if err != nil || absent {
			return "", err
		}
		if !slices.Contains(plainFields, name) {
			return string(oneLine(b)), nil
		}
		t, _ := strictjson.New(b, "").Text()
		return t, nil
	}
	for i, name := range names {
		r := Row{Edit: kind, Table: table, Field: name}
		if i > 0 {
			r.Edit = EditAnd
		} else {
			r.Why = why
		}
		var err, err2 error
		r.From, err = text(name, true)
		r.To, err2 = text(name, false)
		if err != nil || err2 != nil {
			return fmt.Errorf("%s: %w", name, firstOf(err, err2))
		}
		s.Rows = append(s.Rows, r)
	}
	return nil
}

func firstOf(a, b error) error {
	if a != nil {
		return a
	}
	return b
}

// Number reads a number as the sheet's spelling has it, which may be with a
// decimal comma.
type Number func(string) (float64, error)

// ChangeSet makes the change set of a sheet again. What is wrong with row i,
// under a heading, is told to fault; then there is no change set.
func (s *Sheet) ChangeSet(number Number, fault func(i int, heading, what string)) *merge.ChangeSet {
	cs := &merge.ChangeSet{Title: s.Title, MadeBy: s.MadeBy, Base: s.Base, Cautions: s.Cautions, Extra: s.Extra}
	ok := true
	for i, r := range s.Rows {
		u := &rowReader{row: r, number: number, cs: cs, fault: func(heading, what string) {
			ok = false
			fault(i, heading, what)
		}}
		u.read()
	}
	if !ok {
		return nil
	}
	return cs
}

// rowReader makes an edit of a row.
type rowReader struct {
	row    Row
	number Number
	cs     *merge.ChangeSet
	fault  func(heading, what string)
}

func (u *rowReader) read() {
	r := u.row
	if r.Table != "" {
		if err := tables.ValidID(r.Table); err != nil {
			u.fault("table", err.Error())
			return
		}
	}
	switch r.Edit {
	case EditCell:
		u.add(merge.Edit{Cell: &merge.CellEdit{Table: r.Table, Row: r.Row, Column: r.Column,
			From: u.cell("from", r.From), To: u.cell("to", r.To), Why: r.Why}})
	case EditSet, EditDocument, EditAnd:
		u.field()
	case EditAdd:
		if t := u.table("to", r.To); t != nil {
			u.add(merge.Edit{Add: &merge.AddTable{Table: t, After: r.After}})
		}
	case EditRemove:
		if t := u.table("from", r.From); t != nil {
			u.add(merge.Edit{Remove: &merge.RemoveTable{Table: t, After: r.After}})
		}
	case EditOrder:
		u.add(merge.Edit{Order: &merge.OrderEdit{From: u.ids("from", r.From), To: u.ids("to", r.To)}})
	default:
		u.fault("edit", fmt.Sprintf("found %s, want one of %s", tables.Quote(r.Edit), strings.Join(Edits, ", ")))
	}
}

func (u *rowReader) add(e merge.Edit) { u.cs.Edits = append(u.cs.Edits, e) }

func (u *rowReader) cell(heading, text string) float64 {
	if text == "" {
		return math.NaN()
	}
	v, err := u.number(text)
	if err != nil {
		u.fault(heading, err.Error())
	}
	return v
}

func (u *rowReader) ids(heading, text string) []string {
	ids := strings.Fields(text)
	for _, id := range ids {
		if err := tables.ValidID(id); err != nil {
			u.fault(heading, err.Error())
		}
	}
	return ids
}

// json gives a reader of a JSON text to read, and tells its first fault.
func (u *rowReader) json(heading, text string, read func(*reader)) {
	r := &reader{tablejson.Reader{Reader: strictjson.New([]byte(text), ""), EmptyCell: func(int) {}}}
	read(r)
	if fs, ok := r.Err().(tables.Faults); ok {
		f := fs[0]
		what := f.What
		if f.Path != "" {
			what = f.Path + ": " + what
		}
		u.fault(heading, fmt.Sprintf("character %d: %s", f.Column, what))
	}
}

func (u *rowReader) table(heading, text string) (t *tables.Table) {
	u.json(heading, text, func(r *reader) { t = r.Table() })
	if t != nil && t.ID() != u.row.Table {
		u.fault(heading, fmt.Sprintf("the table's id is %q, the row is for %q", t.ID(), u.row.Table))
		return nil
	}
	return t
}

// field takes in one field of an edit to a table or to the document. A row
// "and" whose first row a reviewer deleted begins an edit of its own.
func (u *rowReader) field() {
	r := u.row
	if n := len(u.cs.Edits); r.Edit == EditAnd && n > 0 {
		last := u.cs.Edits[n-1]
		if set := last.Set; set != nil && r.Table == set.Table && !slices.Contains(set.Names, r.Field) {
			u.tableField(set)
			return
		}
		if d := last.Document; d != nil && r.Table == "" && !slices.Contains(d.Names, r.Field) {
			u.documentField(d)
			return
		}
	}
	switch {
	case r.Edit == EditSet && r.Table == "":
		u.fault("table", "a row set has no table")
	case r.Table != "" && r.Edit != EditDocument:
		set := &merge.TableEdit{Table: r.Table, Why: r.Why}
		u.tableField(set)
		u.add(merge.Edit{Set: set})
	default:
		d := &merge.DocumentEdit{}
		u.documentField(d)
		u.add(merge.Edit{Document: d})
	}
}

func (u *rowReader) tableField(set *merge.TableEdit) {
	name := u.row.Field
	if !tableFieldKeys.Has(name) {
		u.fault("field", fmt.Sprintf("a table has no field %s", tables.Quote(name)))
		return
	}
	side := func(heading, text string, f *tables.Fields) {
		if text == "" && name != "values" {
			return
		}
		switch {
		case name == "resolution" || name == "values" && !strings.HasPrefix(text, "[") && text != "null":
			v := u.cell(heading, text)
			if name == "values" {
				f.Values = []float64{v}
			} else if f.Resolution = v; tables.ValidResolution(v) != nil {
				u.fault(heading, tables.ValidResolution(v).Error())
			}
		case slices.Contains(plainFields, name):
			text = string(strictjson.AppendText(nil, text))
			fallthrough
		default:
			u.json(heading, text, func(r *reader) {
				extra := r.Extras()
				r.tableField(name, false, f, extra)
				f.Extra = append(f.Extra, extra.Done()...)
				tables.SortKeys(f.Extra)
			})
		}
	}
	side("from", u.row.From, &set.From)
	side("to", u.row.To, &set.To)
	set.Names = inOrder(append(set.Names, name), tableFieldKeys.Known)
}

func (u *rowReader) documentField(d *merge.DocumentEdit) {
	name := u.row.Field
	if !documentFieldKeys.Has(name) {
		u.fault("field", fmt.Sprintf("the document has no field %s", tables.Quote(name)))
		return
	}
	side := func(heading, text string, c *tables.Contents) {
		if text == "" {
			return
		}
		if slices.Contains(plainFields, name) {
			text = string(strictjson.AppendText(nil, text))
		}
		u.json(heading, text, func(r *reader) {
			extra := r.Extras()
			r.documentField(name, false, c, extra)
			c.Extra = append(c.Extra, extra.Done()...)
			tables.SortKeys(c.Extra)
		})
	}
	side("from", u.row.From, &d.From)
	side("to", u.row.To, &d.To)
	d.Names = inOrder(append(d.Names, name), documentFieldKeys.Known)
}

// Evidence reads the cells of a row that hold its evidence, in the order of
// [Columns] from "count"; nil where all are empty.
func Evidence(cells []string, number Number, fault func(heading, what string)) *merge.Evidence {
	if !slices.ContainsFunc(cells, func(s string) bool { return s != "" }) {
		return nil
	}
	headings := Columns[slices.Index(Columns, "count"):]
	value := func(i int) float64 {
		if cells[i] == "" {
			return math.NaN()
		}
		v, err := number(cells[i])
		if err != nil {
			fault(headings[i], err.Error())
		}
		return v
	}
	count := func(i int) int {
		if cells[i] == "" {
			return 0
		}
		v := value(i)
		if !(v >= 0 && v == math.Trunc(v) && v < 1<<53) {
			fault(headings[i], fmt.Sprintf("found %s, want a whole number", tables.Quote(cells[i])))
			return 0
		}
		return int(v)
	}
	return &merge.Evidence{Count: count(0), Visits: count(1), Mean: value(2), SE: value(3), AtLimit: value(4), Unit: cells[5], Note: cells[6]}
}

// EvidenceCells are the cells for a row's evidence, the numbers as text.
func EvidenceCells(w *merge.Evidence) []string {
	if w == nil {
		return make([]string, 7)
	}
	return []string{strconv.Itoa(w.Count), strconv.Itoa(w.Visits), tables.FormatValue(w.Mean), tables.FormatValue(w.SE),
		tables.FormatValue(w.AtLimit), w.Unit, w.Note}
}
