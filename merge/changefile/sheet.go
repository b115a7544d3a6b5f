package changefile

import (
	"cmp"
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
	Frames        []merge.Frame
	Cautions      []string
	Extra         tables.Extra
	Rows          []Row

	frames map[string]*merge.Frame
}

// Row is one row of a [Sheet].
type Row struct {
	Edit        string // one of [Edits]
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
var Columns = []string{"edit", "table", "row", "column", "place", "field", "with", "after", "from", "to",
	"count", "visits", "mean", "se", "at_limit", "unit", "note"}

// NewSheet lists a change set.
func NewSheet(cs *merge.ChangeSet) (*Sheet, error) {
	s := &Sheet{Title: cs.Title, MadeBy: cs.MadeBy, Base: cs.Base, Frames: cs.Frames, Cautions: cs.Cautions, Extra: cs.Extra}
	s.index()
	for i, e := range cs.Edits {
		if err := s.add(e); err != nil {
			return nil, fmt.Errorf("edit %d: %w", i, err)
		}
	}
	return s, nil
}

func (s *Sheet) index() {
	s.frames = map[string]*merge.Frame{}
	for i := range s.Frames {
		s.frames[s.Frames[i].Table] = &s.Frames[i]
	}
}

func (s *Sheet) add(e merge.Edit) error {
	r := Row{Table: e.On()}
	switch e := e.(type) {
	case *merge.CellEdit:
		r.Edit, r.Row, r.Column, r.Why = EditCell, e.Row, e.Column, e.Why
		r.From, r.To = tables.FormatValue(e.From), tables.FormatValue(e.To)
		if f := s.frames[e.Table]; f != nil {
			r.Place = f.Place(e.Row, e.Column)
		}
	case *merge.TableEdit:
		r.Edit, r.Why = EditSet, e.Why
		return s.fields(r, e, e.Names, e.Whole())
	case *merge.DocumentEdit:
		r.Edit = EditDocument
		return s.fields(r, e, e.Names, nil)
	case *merge.AddTable:
		r.Edit, r.After, r.To = EditAdd, e.After, string(oneLine(tablejson.AppendTable(nil, e.Table, 0)))
	case *merge.RemoveTable:
		r.Edit, r.After, r.From = EditRemove, e.After, string(oneLine(tablejson.AppendTable(nil, e.Table, 0)))
	case *merge.OrderEdit:
		r.Edit, r.From, r.To = EditOrder, strings.Join(e.From, " "), strings.Join(e.To, " ")
	default:
		return fmt.Errorf("changes nothing")
	}
	s.Rows = append(s.Rows, r)
	return nil
}

// plainFields hold text that stands in a sheet as it is.
var plainFields = []string{"title", "role", "unit", "notes", "name", "format"}

// fields lists the fields of an edit, the first in the row r.
func (s *Sheet) fields(r Row, e merge.Edit, names, whole []string) error {
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
		s.Rows = append(s.Rows, r)
		r.Edit, r.Why = EditAnd, nil
	}
	return nil
}

// word takes in a line that belongs to the whole set, and reports what is wrong
// with it. Two lines give the base: its name, and "base sha256".
func (s *Sheet) word(key, text string) (problem string) {
	switch {
	case key == "title":
		s.Title = text
	case key == "made_by":
		s.MadeBy = text
	case key == "base":
		s.Base.Name = text
	case key == "base sha256":
		s.Base.SHA256 = text
	case key == "caution":
		s.Cautions = append(s.Cautions, text)
	case key == "frame":
		if s.frames == nil {
			s.frames = map[string]*merge.Frame{}
		}
		problem = readJSON(text, func(r *reader) { s.Frames = append(s.Frames, r.frame(s.frames)) })
	case strings.HasPrefix(key, "x-"):
		var v string
		problem = readJSON(text, func(r *reader) { v, _ = r.Raw() })
		s.Extra = append(s.Extra, tables.ExtraKey{Key: key, Value: v})
	default:
		return unknownWord
	}
	return problem
}

const unknownWord = "is no keyword of a change set"

// readJSON gives a reader of a JSON text to read, and tells its first fault.
func readJSON(text string, read func(*reader)) (problem string) {
	r := &reader{tablejson.Reader{Reader: strictjson.New([]byte(text), ""), EmptyCell: func(int) {}}}
	read(r)
	fs, bad := r.Err().(tables.Faults)
	if !bad {
		return ""
	}
	what := fs[0].What
	if fs[0].Path != "" {
		what = fs[0].Path + ": " + what
	}
	return fmt.Sprintf("character %d: %s", fs[0].Column, what)
}

// Number reads a number as the sheet's spelling has it, which may be with a
// decimal comma.
type Number func(string) (float64, error)

// ChangeSet makes the change set of a sheet again. What is wrong with row i,
// under a heading, is told to fault; then there is no change set.
func (s *Sheet) ChangeSet(number Number, fault func(i int, heading, what string)) *merge.ChangeSet {
	cs := &merge.ChangeSet{Title: s.Title, MadeBy: s.MadeBy, Base: s.Base, Frames: s.Frames, Cautions: s.Cautions, Extra: s.Extra}
	ok := true
	made := make([]merge.Edit, len(s.Rows)) // the edit that each row is part of
	at := 0
	tell := func(heading, what string) {
		ok = false
		fault(at, heading, what)
	}
	for i, r := range s.Rows {
		at = i
		u := &rowReader{row: r, number: number, frame: s.frames[r.Table], cs: cs, fault: tell}
		u.read()
		if n := len(cs.Edits); n > 0 {
			made[i] = cs.Edits[n-1]
		}
	}
	for i, r := range s.Rows {
		set, isSet := made[i].(*merge.TableEdit)
		for _, name := range strings.Fields(r.With) {
			if ok && isSet && !slices.Contains(set.Names, name) {
				at = i
				tell("with", fmt.Sprintf("%s of %s changes together with %s, whose row is gone: take all of %s or none", r.Field, r.Table, tables.Clean(name), tables.Clean(r.With)))
				break
			}
		}
	}
	if !ok {
		return nil
	}
	return cs
}

// placed holds the place of a cell to its row and column.
func (u *rowReader) placed() {
	r := u.row
	switch {
	case r.Place == "":
	case u.frame == nil:
		u.fault("place", fmt.Sprintf("has a place and no frame of %s: the lines \"frame\" are part of the change set", r.Table))
	case !samePlace(r.Place, u.frame.Place(r.Row, r.Column), u.number):
		u.fault("place", fmt.Sprintf("is %s, but row %d, column %d of its frame is %s", tables.Quote(r.Place), r.Row, r.Column, tables.Quote(u.frame.Place(r.Row, r.Column))))
	}
}

// samePlace reports whether two places are one, however a spreadsheet writes
// their numbers.
func samePlace(found, want string, number Number) bool {
	f, w := strings.Split(found, ", "), strings.Split(want, ", ")
	if found == want || len(f) != len(w) {
		return found == want
	}
	for i := range f {
		v, unit, _ := strings.Cut(strings.TrimSpace(f[i]), " ")
		want, unit2, _ := strings.Cut(w[i], " ")
		a, err := number(v)
		b, err2 := tables.ParseValue(want)
		if err != nil || err2 != nil || a != b || unit != unit2 {
			return false
		}
	}
	return true
}

// rowReader makes an edit of a row.
type rowReader struct {
	row    Row
	number Number
	frame  *merge.Frame // of the row's table
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
		u.placed()
		u.add(&merge.CellEdit{Table: r.Table, Row: r.Row, Column: r.Column,
			From: u.cell("from", r.From), To: u.cell("to", r.To), Why: r.Why})
	case EditSet, EditDocument, EditAnd:
		u.field()
	case EditAdd:
		if t := u.table("to", r.To); t != nil {
			u.add(&merge.AddTable{Table: t, After: r.After})
		}
	case EditRemove:
		if t := u.table("from", r.From); t != nil {
			u.add(&merge.RemoveTable{Table: t, After: r.After})
		}
	case EditOrder:
		u.add(&merge.OrderEdit{From: u.ids("from", r.From), To: u.ids("to", r.To)})
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

func (u *rowReader) json(heading, text string, read func(*reader)) {
	if problem := readJSON(text, read); problem != "" {
		u.fault(heading, problem)
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
	if n := len(u.cs.Edits); r.Edit == EditAnd && n > 0 && u.cs.Edits[n-1].On() == r.Table && u.take(u.cs.Edits[n-1]) {
		return
	}
	var e merge.Edit
	switch {
	case r.Edit == EditSet && r.Table == "":
		u.fault("table", "a row set has no table")
		return
	case r.Table != "" && r.Edit != EditDocument:
		e = &merge.TableEdit{Table: r.Table, Why: r.Why}
	default:
		e = &merge.DocumentEdit{}
	}
	u.take(e)
	u.add(e)
}

// take puts the row's field into an edit, and reports whether it belongs there.
func (u *rowReader) take(e merge.Edit) bool {
	switch e := e.(type) {
	case *merge.TableEdit:
		return takeField(u, tables.TableFields, "a table", &e.Names, &e.From, &e.To)
	case *merge.DocumentEdit:
		return takeField(u, tables.DocumentFields, "the document", &e.Names, &e.From, &e.To)
	}
	return false
}

// takeField reads both sides of the row's field and adds it to those of its edit.
func takeField[T any](u *rowReader, all tables.Fieldset[T], whose string, names *[]string, from, to *T) bool {
	name := u.row.Field
	if slices.Contains(*names, name) {
		return false
	}
	if !keys(all).Has(name) {
		u.fault("field", fmt.Sprintf("%s has no field %s", whose, tables.Quote(name)))
		return true
	}
	for _, heading := range []string{"from", "to"} {
		text, side := u.row.To, to
		if heading == "from" {
			text, side = u.row.From, from
		}
		switch {
		case text == "" && name != "values":
			continue
		case name == "resolution" || name == "values" && !strings.HasPrefix(text, "[") && text != "null":
			text = string(strictjson.AppendNumber(nil, u.cell(heading, text)))
		case slices.Contains(plainFields, name):
			text = string(strictjson.AppendText(nil, text))
		}
		u.json(heading, text, func(r *reader) {
			kept, extra := all.Extra(side), r.Extras()
			readField(r, all, name, false, side, extra)
			*kept = append(*kept, extra.Done()...)
			tables.SortKeys(*kept)
		})
	}
	*names = append(*names, name)
	all.Sort(*names)
	return true
}

// readRow reads a row of the list. text is what stands under a heading: words
// that a person wrote, or what is a number or JSON.
func readRow(text func(heading string, words bool) string, number Number, fault func(heading, what string)) Row {
	words := func(heading string) string { return text(heading, true) }
	whole := func(heading string) int {
		n, err := strconv.Atoi(text(heading, false))
		if err != nil || n < 0 {
			fault(heading, fmt.Sprintf("%s is %s, want a whole number from 0", heading, tables.Quote(text(heading, false))))
		}
		return n
	}
	r := Row{Edit: strings.TrimSpace(words("edit")), Table: words("table"), Place: words("place"),
		Field: words("field"), With: words("with"), After: words("after")}
	r.From, r.To = text("from", r.isText()), text("to", r.isText())
	if r.Edit == EditCell {
		r.Row, r.Column = whole("row"), whole("column")
	}
	var why []string
	for _, heading := range Columns[slices.Index(Columns, "count"):] {
		why = append(why, text(heading, heading == "unit" || heading == "note"))
	}
	r.Why = evidence(why, number, fault)
	return r
}

// evidence reads the cells of a row that hold its evidence, in the order of
// [Columns] from "count"; nil where all are empty.
func evidence(cells []string, number Number, fault func(heading, what string)) *merge.Evidence {
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

// evidenceCells are the cells for a row's evidence, the numbers as text.
func evidenceCells(w *merge.Evidence) []string {
	if w == nil {
		return make([]string, 7)
	}
	return []string{strconv.Itoa(w.Count), strconv.Itoa(w.Visits), tables.FormatValue(w.Mean), tables.FormatValue(w.SE),
		tables.FormatValue(w.AtLimit), w.Unit, w.Note}
}
