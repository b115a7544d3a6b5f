package changefile

import (
	"math"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/strictjson"
)

// listReader reads the rows of a list, whatever file they stand in: those that
// belong to the whole set, each by its name, then the headings, then the edits.
type listReader struct {
	sheet.Reader
	cs      merge.ChangeSet
	frames  map[string]*merge.Frame
	seen    map[string]bool
	columns map[string]int    // the place of each heading; nil before them
	cells   sheet.Row         // the last row, of which no edit is made yet; nil where there is none
	more    map[string]string // what rows under it add to the texts under its headings
	halves  []half
	rests   merge.Evidence // what the last row rests on
	parts   []tables.Part  // what that is made of
}

// half is a row that is not to be taken without others: a field with all those
// that change together.
type half struct {
	at          sheet.Cell
	field, with string
	edit        merge.Edit
}

// newListReader begins a list; whoever knows the file format sets how numbers
// and text are read in it.
func newListReader(file string) *listReader {
	r := &listReader{Reader: sheet.Reader{File: file}, frames: map[string]*merge.Frame{}, seen: map[string]bool{}}
	r.parts = evidenceParts(&r.rests)
	return r
}

// read reads one row.
func (r *listReader) read(cells sheet.Row) {
	switch name := strings.TrimSpace(r.Plain(cells.At(1))); {
	case sheet.Remark(name):
	case r.columns != nil:
		r.edit(cells)
	case name == "edit":
		r.heading(cells)
	case name == "":
		r.Rest(cells, 2)
	default:
		r.word(name, cells)
	}
}

// word reads a row that belongs to the whole set.
func (r *listReader) word(name string, cells sheet.Row) {
	if strings.HasPrefix(name, "x-") {
		r.Kept(&r.cs.Extra, cells, 1, "")
		return
	}
	if name != "caution" && name != "frame" && !r.Once(cells.At(1), name, r.seen) {
		return
	}
	c := cells.At(2)
	text, next := r.Long(cells, 2)
	words := map[string]*string{"title": &r.cs.Title, "made_by": &r.cs.MadeBy, "base": &r.cs.Base.Name, "base sha256": &r.cs.Base.SHA256}
	switch to := words[name]; {
	case to != nil:
		if *to = text; name == "base" && r.Sheet == "" {
			r.cs.Base.SHA256, next = r.Text(cells.At(3)), 4
		}
	case name == "format":
		if text = strings.TrimSpace(text); text != fileFormat {
			r.Fault(c, "%s", tables.UnknownFormat(text, fileFormat))
			r.Stop()
		}
	case name == "left_out":
		r.cs.LeftOut = r.Whole(c, 0)
	case name == "caution":
		r.cs.Cautions = append(r.cs.Cautions, text)
	case name == "frame":
		r.json(c, text, func(j *reader) { r.cs.Frames = append(r.cs.Frames, j.frame(r.frames)) })
	default:
		r.Fault(cells.At(1), "unknown keyword %s", tables.Quote(name))
		return
	}
	r.Rest(cells, next)
}

// heading reads the row of headings.
func (r *listReader) heading(cells sheet.Row) {
	r.columns = map[string]int{}
	for i := cells.Next(1); i > 0; i = cells.Next(i + 1) {
		c := cells.At(i)
		name := strings.TrimSpace(r.Plain(c))
		_, twice := r.columns[name]
		switch known := slices.Contains(workbookColumns, name); {
		case twice || !known && r.Sheet == "":
			r.Fault(c, "heading %s is not known or stands twice, expected %s", tables.Quote(name), strings.Join(headings, ","))
		case !known:
			r.Caution(c, "the column %s is beside the change set, ignored", tables.Quote(name))
		}
		r.columns[name] = i
	}
	var missing []string
	for _, need := range []string{"table", "row", "column", "from", "to"} {
		if r.columns[need] == 0 {
			missing = append(missing, tables.Quote(need))
		}
	}
	if len(missing) > 0 {
		r.Fault(cells.At(1), "has no heading %s", strings.Join(missing, ", "))
	}
}

// under is the cell of a row under a heading; an empty one where there is no such
// heading.
func (r *listReader) under(cells sheet.Row, heading string) sheet.Cell {
	i := r.columns[heading]
	if i == 0 {
		return sheet.Cell{Row: cells[0].Row, Column: cells[0].Column, At: 1}
	}
	return cells.At(i)
}

// at is the cell of the last row under a heading, with what the rows under it add.
func (r *listReader) at(heading string) sheet.Cell {
	c := r.under(r.cells, heading)
	if more := r.more[heading]; more != "" {
		c.Text, c.Kind = c.Text+more, sheet.Text
	}
	return c
}

// words are what a person wrote under a heading.
func (r *listReader) words(heading string) string { return r.Text(r.at(heading)) }

// data is what stands under a heading for a program to read: a number or JSON. A
// workbook's number is written again as every document writes it: what the cell
// shows depends on the program that saved it.
func (r *listReader) data(heading string) string {
	c := r.at(heading)
	if c.Kind == sheet.Empty || c.Kind == sheet.Text {
		return r.Plain(c)
	}
	v, _ := r.Number(c)
	return tables.FormatValue(v)
}

// number is the number under a heading; an empty cell is NaN.
func (r *listReader) number(heading string) float64 {
	c := r.at(heading)
	if c.Kind == sheet.Empty {
		return math.NaN()
	}
	v, _ := r.Number(c)
	return v
}

// fault records what is wrong with the cell under a heading of the last row, or
// with the row itself where there is no such heading.
func (r *listReader) fault(heading, format string, args ...any) {
	r.Fault(r.at(heading), format, args...)
}

// edit reads a row of the list. One whose from, to or note is longer than a
// workbook's cell goes on in the next row.
func (r *listReader) edit(cells sheet.Row) {
	says := func(heading string) string { return r.under(cells, heading).Text }
	same := func(heading string) bool { return says(heading) == r.under(r.cells, heading).Text }
	switch more := strings.TrimSpace(says("edit")) == rowMore; {
	case more && (r.cells == nil || !same("table") || !same("field")):
		r.Fault(r.under(cells, "edit"), "goes on from a row that is not above it")
	case more:
		if r.more == nil {
			r.more = map[string]string{}
		}
		for _, heading := range []string{"from", "to", "note"} {
			r.more[heading] += r.Plain(r.under(cells, heading))
		}
	case r.isEmpty(cells):
		if i := cells.Next(1); i > 0 && !sheet.Remark(cells.At(i).Text) {
			r.Caution(cells.At(i), "belongs to no edit, ignored")
		}
	default:
		r.flush()
		r.cells, r.more = slices.Clone(cells), nil
		last := 0
		for _, i := range r.columns {
			last = max(last, i)
		}
		r.Rest(cells, last+1)
	}
}

// isEmpty reports whether a row says nothing of an edit. Evidence alone makes
// none: a reviewer who cleared the rest meant to take the edit out.
func (r *listReader) isEmpty(cells sheet.Row) bool {
	return !slices.ContainsFunc([]string{"edit", "table", "field", "after", "from", "to"}, func(h string) bool { return r.under(cells, h).Kind != sheet.Empty })
}

// why is what the last row rests on, nil where it says nothing of it.
func (r *listReader) why() *merge.Evidence {
	r.rests = merge.Evidence{}
	based := false
	for _, p := range r.parts {
		given := r.at(p.Name).Kind != sheet.Empty
		based = based || given
		switch {
		case p.Number != nil:
			*p.Number = r.number(p.Name)
		case p.Text != nil:
			*p.Text = r.words(p.Name)
		case given:
			*p.Whole = r.Whole(r.at(p.Name), 0)
		}
	}
	if !based {
		return nil
	}
	why := r.rests
	return &why
}

// end is the change set, or all that is wrong with it.
func (r *listReader) end() (*merge.ChangeSet, error) {
	switch {
	case r.Full():
		return nil, r.Err()
	case r.columns == nil:
		r.Fault(sheet.Cell{Row: min(1, int32(len(r.Sheet)+1)), Column: 1}, "has no line of headings, expected %s", strings.Join(headings, ","))
		return nil, r.Err()
	}
	r.flush()
	r.Check(sheet.Cell{Row: 1, Column: 1}, r.cs.Extra.Validate())
	for _, h := range r.halves {
		set, isSet := h.edit.(*merge.TableEdit)
		for _, name := range strings.Fields(h.with) {
			if len(r.Faults) == 0 && isSet && !slices.Contains(set.Names, name) {
				r.Fault(h.at, "%s of %s changes together with %s, whose row is gone: take all of %s or none", h.field, set.Table, name, h.with)
				break
			}
		}
	}
	if err := r.Err(); err != nil {
		return nil, err
	}
	return &r.cs, nil
}

// flush makes an edit of the last row.
func (r *listReader) flush() {
	if r.cells == nil {
		return
	}
	r.makeEdit()
	if n, with := len(r.cs.Edits), r.words("with"); with != "" && n > 0 {
		r.halves = append(r.halves, half{r.at("with"), r.at("field").Text, with, r.cs.Edits[n-1]})
	}
	r.cells = nil
}

// makeEdit makes an edit of the last row, or goes on with the edit of the row
// above. A row that holds its table's id wrongly makes none, since all else
// follows from it.
func (r *listReader) makeEdit() {
	kind, table := strings.TrimSpace(r.words("edit")), r.words("table")
	if table != "" {
		if err := tables.ValidID(table); err != nil {
			r.fault("table", "%v", err)
			return
		}
	}
	switch kind {
	case rowCell:
		r.cell(&merge.CellEdit{Table: table, Row: r.Whole(r.at("row"), 0), Column: r.Whole(r.at("column"), 0)})
	case rowSet, rowDocument, rowAnd:
		r.field(kind, table)
	case rowAdd:
		if t := r.table("to", table); t != nil {
			r.add(&merge.AddTable{Table: t, After: r.words("after")})
		}
	case rowRemove:
		if t := r.table("from", table); t != nil {
			r.add(&merge.RemoveTable{Table: t, After: r.words("after")})
		}
	case rowOrder:
		r.add(&merge.OrderEdit{From: r.ids("from"), To: r.ids("to")})
	default:
		r.fault("edit", "found %s, expected one of %s", tables.Quote(kind), strings.Join(kindsOfRow, ", "))
	}
}

// add keeps an edit even where some of it is wrong: rows that go on with it are
// then read too, and their own faults found in the same run.
func (r *listReader) add(e merge.Edit) { r.cs.Edits = append(r.cs.Edits, e) }

// cell reads the rest of an edit of a cell, whose place by breakpoints is held to
// its row and column.
func (r *listReader) cell(e *merge.CellEdit) {
	switch frame, place := r.frames[e.Table], r.words("place"); {
	case place == "":
	case frame == nil:
		r.fault("place", "has a place and no frame of %s: the lines \"frame\" are part of the change set", e.Table)
	case !r.samePlace(place, frame.Place(e.Row, e.Column)):
		r.fault("place", "is %s, but row %d, column %d of its frame is %s", tables.Quote(place), e.Row, e.Column, tables.Quote(frame.Place(e.Row, e.Column)))
	}
	e.From, e.To, e.Why = r.number("from"), r.number("to"), r.why()
	r.add(e)
}

// samePlace reports whether two places are one, however a spreadsheet writes
// their numbers.
func (r *listReader) samePlace(found, want string) bool {
	f, w := strings.Split(found, ", "), strings.Split(want, ", ")
	if found == want || len(f) != len(w) {
		return found == want
	}
	for i := range f {
		v, unit, _ := strings.Cut(strings.TrimSpace(f[i]), " ")
		want, unit2, _ := strings.Cut(w[i], " ")
		a, err := r.parse(v)
		b, err2 := tables.ParseValue(want)
		if err != nil || err2 != nil || a != b || unit != unit2 {
			return false
		}
	}
	return true
}

// parse reads a number that is part of a place, in the decimal mark of the file:
// a spreadsheet that shows commas writes them there as well.
func (r *listReader) parse(text string) (float64, error) {
	if r.Parse == nil {
		return tables.ParseValue(text)
	}
	return r.Parse(sheet.Cell{Text: text, Kind: sheet.Text, Row: r.at("place").Row, Column: r.at("place").Column})
}

// ids reads the ids of an order, which stand with blanks between them: no id
// holds one.
func (r *listReader) ids(heading string) []string {
	ids := strings.Fields(r.words(heading))
	for _, id := range ids {
		r.Check(r.at(heading), tables.ValidID(id))
	}
	return ids
}

// json gives a reader of the JSON of a cell to read, and records its first fault.
// Its place within the cell is a character, since a cell has no lines of its own.
func (r *listReader) json(c sheet.Cell, text string, read func(*reader)) {
	j := newReader([]byte(text), "")
	read(j)
	if fs, bad := j.Err().(tables.Faults); bad {
		r.Fault(c, "character %d: %s", fs[0].Column, strings.TrimPrefix(fs[0].Path+": "+fs[0].What, ": "))
	}
}

// table reads a whole table that is added or removed. Its id stands in the row
// as well, where a reviewer looks for it, so that the two are held to each
// other.
func (r *listReader) table(heading, id string) (t *tables.Table) {
	r.json(r.at(heading), r.data(heading), func(j *reader) { t = j.Table() })
	if t != nil && t.ID() != id {
		r.fault(heading, "the table's id is %q, the row is for %q", t.ID(), id)
		return nil
	}
	return t
}

// field reads one field of an edit to a table or to the document. A row "and"
// whose first row a reviewer deleted begins an edit of its own.
func (r *listReader) field(kind, table string) {
	name := r.words("field")
	if n := len(r.cs.Edits); kind == rowAnd && n > 0 && r.cs.Edits[n-1].On() == table && r.take(name, r.cs.Edits[n-1]) {
		return
	}
	var e merge.Edit
	switch {
	case kind == rowSet && table == "":
		r.fault("table", "a row set has no table")
		return
	case table != "" && kind != rowDocument:
		e = &merge.TableEdit{Table: table, Why: r.why()}
	default:
		e = &merge.DocumentEdit{}
	}
	r.take(name, e)
	r.add(e)
}

// take reads both sides of the row's field into an edit, and reports whether it
// belongs there.
func (r *listReader) take(name string, to merge.Edit) bool {
	e := fieldsOf(to)
	if e == nil || slices.Contains(*e.names(), name) {
		return false
	}
	if !strings.HasPrefix(name, "x-") && !slices.Contains(e.known(), name) {
		whose := "a table"
		if to.On() == "" {
			whose = "the document"
		}
		r.fault("field", "%s has no field %s", whose, tables.Quote(name))
		return true
	}
	for i, side := range sides {
		c, text := r.at(side), ""
		switch {
		case c.Kind == sheet.Empty && name != "values":
			continue
		case slices.Contains(plainFields, name):
			text = string(strictjson.AppendText(nil, r.Text(c)))
		case name == "resolution" || name == "values" && !strings.HasPrefix(c.Text, "[") && c.Text != "null":
			text = string(strictjson.AppendNumber(nil, r.number(side)))
		default:
			text = r.data(side)
		}
		r.json(c, text, func(j *reader) { e.read(j, name, i) })
	}
	*e.names() = append(*e.names(), name)
	e.sort()
	return true
}
