package changefile

import (
	"math"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/tablexlsx"
	"calsplice/tables/tablexlsx/book"
)

// ParseXLSX reads a change set from a workbook; name is what errors call the
// input.
func ParseXLSX(data []byte, name string) (*merge.ChangeSet, tables.Faults, error) {
	r := newListReader(name)
	parts := tablexlsx.Open(&r.Reader, data, "change set", viewAfter)
	for _, s := range parts["format"] {
		r.list(s)
	}
	for _, s := range parts[viewAfter] {
		r.view(s)
	}
	return r.end()
}

// list reads the sheet of edits.
func (r *listReader) list(s *book.Sheet) {
	tablexlsx.Each(&r.Reader, s, r.read)
	r.done()
	r.hidden(s)
	comments, err := s.Comments()
	r.Break(err)
	for _, c := range comments {
		r.Caution(c.Cell, "its comment is beside the change set, ignored")
	}
}

// hidden refuses a list of which a reviewer did not see all rows: which of them
// were to be left out is not for a program to guess.
func (r *listReader) hidden(s *book.Sheet) {
	switch n := len(s.Hidden); {
	case n > 0:
		r.Fault(s.Hidden[0], "%s hidden or filtered out, expected all shown: show them and delete those that are not to apply", tables.Plural(n, "row is", "rows are"))
	case s.Filtered:
		r.Fault(sheet.Cell{}, "the list has a filter set, expected all rows shown: clear the filter and delete the rows that are not to apply")
	}
}

// view says where the view of a table shows something else than the list, as it
// does once a reviewer has changed either.
func (r *listReader) view(s *book.Sheet) {
	d := sheet.NewDocument(r.File)
	d.Sheet, d.Contents.Kind = s.Name, tables.Cells // of which one may be empty
	d.Begin(sheet.Cell{})
	tablexlsx.Each(&r.Reader, s, func(row sheet.Row) {
		if row[0].Row == 1 {
			row[0].Text = "table"
		}
		d.Row(row) // the remark under the table is no row of it
	})
	t, _ := d.End()
	if t == nil {
		r.Caution(sheet.Cell{}, "shows no sound table: the list is read")
		return
	}
	other := 0
	for _, e := range r.cs.Edits {
		c, ok := e.(*merge.CellEdit)
		if ok && c.Table == t.ID() && c.Row < t.Rows() && c.Column < t.Columns() && math.Abs(t.At(c.Row, c.Column)-c.To) > 1e-13*math.Abs(c.To) {
			other++
		}
	}
	if other > 0 {
		r.Caution(sheet.Cell{}, "shows other values than the list (%d of its cells): the list is read", other)
	}
}
