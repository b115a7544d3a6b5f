package changefile

import (
	"bytes"
	"math"
	"strings"

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
	parts, err := tablexlsx.Open(bytes.NewReader(data), int64(len(data)), &r.Reader, "change set", viewAfter)
	if err == nil {
		err = r.list(parts["format"][0])
	}
	if err != nil {
		return nil, nil, tables.In(name, 0, 0, "", err)
	}
	cs, err := r.end()
	if err != nil {
		return nil, nil, err
	}
	for _, s := range parts[viewAfter] {
		if err := r.view(s); err != nil {
			return nil, nil, tables.In(name, 0, 0, "", err)
		}
	}
	return cs, r.Cautions, nil
}

// list reads the sheet of edits. The error is of the workbook itself.
func (r *listReader) list(s *book.Sheet) error {
	r.Sheet = s.Name
	if err := s.Rows(func(row sheet.Row) bool {
		r.read(row)
		return !r.Full()
	}); err != nil {
		return err
	}
	r.hidden(s)
	comments, err := s.Comments()
	for _, c := range comments {
		r.Caution(c.Cell, "its comment is beside the change set, ignored")
	}
	return err
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
func (r *listReader) view(s *book.Sheet) error {
	id, top := "", int32(0) // the row over the values
	want := map[[2]int32]float64{}
	other := 0
	err := s.Rows(func(row sheet.Row) bool {
		switch at := row.At(1); {
		case at.Row == 1:
			id = row.At(2).Text
			for _, e := range r.cs.Edits {
				if c, ok := e.(*merge.CellEdit); ok && c.Table == id {
					want[[2]int32{int32(c.Row), int32(c.Column)}] = c.To
				}
			}
		case top == 0 && at.Text == "values":
			top = at.Row + 1
			return true
		case top == 0 && at.Text == "value":
			top = at.Row - 1
		}
		for _, c := range row {
			to, edited := want[[2]int32{c.Row - top - 1, c.At - 2}]
			shown, err := tables.ParseValue(strings.TrimSpace(c.Text))
			if top > 0 && edited && err == nil && math.Abs(shown-to) > 1e-13*math.Abs(to) {
				other++
			}
		}
		return true
	})
	if r.Sheet = s.Name; other > 0 {
		r.Caution(sheet.Cell{}, "shows other values than the list (%d of its cells): the list is read", other)
	}
	return err
}
