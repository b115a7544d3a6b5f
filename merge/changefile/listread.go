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
	columns map[string]int // the place of each heading; nil before them
	width   int            // the place of the last one
	next    row            // the row that is being read
	parts   []tables.Part  // what it is made of
	row     row            // the one above it, of which no edit is made yet
	cells   sheet.Row      // in which that stands; nil where there is none
	halves  []half
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
	r.parts = r.next.columns()
	return r
}

// read reads one row.
func (r *listReader) read(cells sheet.Row) {
	switch name := strings.TrimSpace(r.Text(cells.At(1))); {
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
		r.Fault(cells.At(1), "there is no keyword %s", tables.Quote(name))
		return
	}
	r.Rest(cells, next)
}

// heading reads the row of headings.
func (r *listReader) heading(cells sheet.Row) {
	r.columns = map[string]int{}
	for i := cells.Next(1); i > 0; i = cells.Next(i + 1) {
		c := cells.At(i)
		name := strings.TrimSpace(r.Text(c))
		_, twice := r.columns[name]
		switch known := slices.Contains(workbookColumns, name); {
		case twice || !known && r.Sheet == "":
			r.Fault(c, "heading %s is not known or stands twice, expected %s", tables.Quote(name), strings.Join(headings, ","))
		case !known:
			r.Caution(c, "the column %s is beside the change set, ignored", tables.Quote(name))
		}
		r.columns[name], r.width = i, i
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
		return sheet.Cell{Row: cells[0].Row, Pos: cells[0].Pos, At: 1}
	}
	return cells.At(i)
}

// at is the cell of the last row under a heading.
func (r *listReader) at(heading string) sheet.Cell { return r.under(r.cells, heading) }

// fault records what is wrong with the cell under a heading of the last row, or
// with the row itself where there is no such heading.
func (r *listReader) fault(heading, format string, args ...any) {
	r.Fault(r.at(heading), format, args...)
}

// edit reads a row of the list. One whose from, to or note is longer than a
// workbook's cell goes on in the next row. Evidence alone makes no edit: a reviewer who
// cleared the rest meant to take it out.
func (r *listReader) edit(cells sheet.Row) {
	r.fill(cells)
	switch w, next := &r.row, &r.next; {
	case next.Edit == rowMore && (r.cells == nil || next.Table != w.Table || next.Field != w.Field):
		r.Fault(r.under(cells, "edit"), "goes on from a row that is not above it")
	case next.Edit == rowMore:
		w.From += next.From
		w.To += next.To
		w.Why.Note += next.Why.Note
	case next.Edit+next.Table+next.Field+next.After+next.From+next.To == "":
		if i := cells.Next(1); i > 0 && !sheet.Remark(cells.At(i).Text) {
			r.Caution(cells.At(i), "belongs to no edit, ignored")
		}
	default:
		r.flush()
		r.cells, *w = slices.Clone(cells), *next
		r.Rest(cells, r.width+1)
	}
}

// fill reads the cells of a row. What stands under from and to depends on what the row
// is of, which stands before them.
func (r *listReader) fill(cells sheet.Row) {
	w := &r.next
	*w = row{}
	for i, p := range r.parts {
		c := r.under(cells, p.Name)
		given := c.Kind != sheet.Empty
		w.Based = w.Based || given && i >= evidence
		switch {
		case p.Text == &w.Edit:
			w.Edit = strings.TrimSpace(r.Text(c))
		case p.Text == &w.From || p.Text == &w.To:
			*p.Text = r.side(c)
		case p.Text != nil:
			*p.Text = r.Text(c)
		case p.Whole != nil && (given || i < evidence && w.Edit == rowCell):
			*p.Whole = r.Whole(c, 0)
		case p.Number != nil && given:
			*p.Number, _ = r.Number(c)
		case p.Number != nil:
			*p.Number = math.NaN()
		}
	}
}

// side is what stands under from or to. A number is written again as every document
// writes it: what a cell shows depends on the program that saved it.
func (r *listReader) side(c sheet.Cell) string {
	switch {
	case r.next.isText():
		return r.Text(c)
	case c.Kind == sheet.Empty || c.Kind == sheet.Text && !r.next.isNumber(c.Text):
		return c.Text
	}
	v, _ := r.Number(c)
	return tables.FormatValue(v)
}

// done ends the list, and holds it to what only the whole of it shows.
func (r *listReader) done() {
	if r.flush(); r.Full() {
		return
	}
	start := sheet.Cell{Row: 1, Pos: 1}
	if r.columns == nil {
		r.Fault(start, "has no line of headings, expected %s", strings.Join(headings, ","))
		r.Stop()
	}
	r.Check(start, r.cs.Extra.Validate())
	for _, h := range r.halves {
		set, isSet := h.edit.(*merge.FieldEdit)
		for _, name := range strings.Fields(h.with) {
			if len(r.Faults) == 0 && isSet && set.Table != "" && !set.Of(name) {
				r.Fault(h.at, "%s of %s changes together with %s, whose row is gone: take all of %s or none", h.field, set.Table, name, h.with)
				break
			}
		}
	}
}

// end is the change set, with cautions, or all that is wrong with it.
func (r *listReader) end() (*merge.ChangeSet, tables.Faults, error) {
	if err := r.Err(); err != nil {
		return nil, nil, err
	}
	return &r.cs, r.Cautions, nil
}

// flush makes an edit of the last row.
func (r *listReader) flush() {
	if r.cells == nil {
		return
	}
	r.makeEdit()
	if n := len(r.cs.Edits); r.row.With != "" && n > 0 {
		r.halves = append(r.halves, half{r.at("with"), r.row.Field, r.row.With, r.cs.Edits[n-1]})
	}
	r.cells = nil
}

// makeEdit makes an edit of the last row, or goes on with the edit of the row
// above. A row that holds its table's id wrongly makes none, since all else
// follows from it.
func (r *listReader) makeEdit() {
	w := &r.row
	if w.Table != "" {
		if err := tables.ValidID(w.Table); err != nil {
			r.fault("table", "%v", err)
			return
		}
	}
	switch w.Edit {
	case rowCell:
		r.holdToFrame()
		r.add(&merge.CellEdit{Table: w.Table, Row: w.Row, Column: w.Column, From: value(w.From), To: value(w.To), Why: w.why()})
	case rowSet, rowDocument, rowAnd:
		r.field()
	case rowAdd:
		if t := r.table("to", w.To); t != nil {
			r.add(merge.AddTable(t, w.After))
		}
	case rowRemove:
		if t := r.table("from", w.From); t != nil {
			r.add(merge.RemoveTable(t, w.After))
		}
	case rowOrder:
		r.add(&merge.FieldEdit{Names: []string{merge.TableOrder}, From: r.ids("from", w.From), To: r.ids("to", w.To)})
	default:
		r.fault("edit", "found %s, expected one of %s", tables.Quote(w.Edit), strings.Join(slices.Insert(slices.Clone(kinds), 3, rowAnd), ", "))
	}
}

// add keeps an edit even where some of it is wrong: rows that go on with it are
// then read too, and their own faults found in the same run.
func (r *listReader) add(e merge.Edit) { r.cs.Edits = append(r.cs.Edits, e) }

// value is a cell's from or to; nothing is the empty cell.
func value(text string) float64 {
	v, err := tables.ParseValue(text)
	if err != nil {
		return math.NaN()
	}
	return v
}

// holdToFrame holds a cell's place by breakpoints to its row and column.
func (r *listReader) holdToFrame() {
	w, frame := &r.row, r.frames[r.row.Table]
	switch {
	case w.Place == "":
	case frame == nil:
		r.fault("place", "has a place and no frame of %s: the lines \"frame\" are part of the change set", w.Table)
	case !r.samePlace(w.Place, frame.Place(w.Row, w.Column)):
		r.fault("place", "is %s, but row %d, column %d of its frame is %s", tables.Quote(w.Place), w.Row, w.Column, tables.Quote(frame.Place(w.Row, w.Column)))
	}
}

// samePlace reports whether two places are one, however a spreadsheet writes
// their numbers.
func (r *listReader) samePlace(found, want string) bool {
	words := func(place string) []string { return strings.Fields(strings.ReplaceAll(place, ", ", " , ")) }
	return found == want || slices.EqualFunc(words(found), words(want), func(found, want string) bool {
		if found == want {
			return true
		}
		a, err := r.parse(found)
		b, err2 := tables.ParseValue(want)
		return err == nil && err2 == nil && a == b
	})
}

// parse reads a number that is part of a place, in the decimal mark of the file:
// a spreadsheet that shows commas writes them there as well.
func (r *listReader) parse(text string) (float64, error) {
	if r.Parse == nil {
		return tables.ParseValue(text)
	}
	return r.Parse(sheet.Cell{Text: text, Kind: sheet.Text, Row: r.at("place").Row, Pos: r.at("place").Pos})
}

// ids reads the ids of an order, which stand with blanks between them: no id
// holds one.
func (r *listReader) ids(heading, text string) merge.State {
	ids := strings.Fields(text)
	for _, id := range ids {
		r.Check(r.at(heading), tables.ValidID(id))
	}
	return merge.State{Order: ids}
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
func (r *listReader) table(heading, text string) (t *tables.Table) {
	r.json(r.at(heading), text, func(j *reader) { t = j.Table() })
	if t != nil && t.ID() != r.row.Table {
		r.fault(heading, "the table's id is %q, the row is for %q", t.ID(), r.row.Table)
		return nil
	}
	return t
}

// field reads one field of an edit to a table or to the document. A row "and"
// whose first row a reviewer deleted begins an edit of its own.
func (r *listReader) field() {
	w := &r.row
	if n := len(r.cs.Edits); w.Edit == rowAnd && n > 0 && r.cs.Edits[n-1].On() == w.Table && r.take(r.cs.Edits[n-1]) {
		return
	}
	e := &merge.FieldEdit{Table: w.Table}
	switch {
	case w.Edit == rowSet && w.Table == "":
		r.fault("table", "a row set has no table")
		return
	case w.Edit == rowDocument:
		e.Table = ""
	case w.Table != "":
		e.Why = w.why()
	}
	r.take(e)
	r.add(e)
}

// take reads both sides of the row's field into an edit, and reports whether it
// belongs there.
func (r *listReader) take(to merge.Edit) bool {
	e, ok := to.(*merge.FieldEdit)
	name := r.row.Field
	if !ok || e.Of(name) || e.Of(merge.WholeTable) || e.Of(merge.TableOrder) {
		return false
	}
	all := merge.FieldsOf(e.Table)
	if !strings.HasPrefix(name, "x-") && !slices.Contains(all.Names(), name) {
		whose := "a table"
		if e.Table == "" {
			whose = "the document"
		}
		r.fault("field", "%s has no field %s", whose, tables.Quote(name))
		return true
	}
	f, _ := all.Find(name)
	for i, text := range []string{r.row.From, r.row.To} {
		switch {
		case text == "" && name == "values":
			text = "null"
		case text == "":
			continue
		case r.row.isText():
			text = string(strictjson.AppendText(nil, text))
		}
		r.json(r.at(sides[i]), text, func(j *reader) { j.readSide(f, sideOf(e, i)) })
	}
	e.Names = append(e.Names, name)
	all.Sort(e.Names)
	return true
}
