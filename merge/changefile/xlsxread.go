package changefile

import (
	"bytes"
	"math"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tablexlsx"
	"calsplice/tables/tablexlsx/book"
)

// ParseXLSX reads the workbook spelling; name is what errors call the input.
func ParseXLSX(data []byte, name string) (*merge.ChangeSet, []string, error) {
	b, err := book.Open(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, nil, &tables.Fault{File: name, What: err.Error()}
	}
	r := &listReader{Reader: tablexlsx.Reader{File: name}, sheet: &Sheet{}}
	for _, s := range b.Sheets {
		if strings.TrimSpace(s.At(1, 1).Text) == "format" {
			r.s = s
			break
		}
	}
	if r.s == nil {
		return nil, nil, &tables.Fault{File: name, What: `no sheet begins with "format": this is a workbook, but no change set of calsplice`}
	}
	for _, s := range b.Sheets {
		if first := s.At(1, 1).Text; s != r.s && first != "after" && len(s.Rows()) > 0 {
			r.Caution(s, 0, 0, "the sheet is beside the change set, ignored")
		}
	}
	r.read()
	r.hidden()
	if err := r.Faults.Err(); err != nil {
		return nil, nil, err
	}
	cs := r.sheet.ChangeSet(tables.ParseValue, func(i int, heading, what string) { r.Fault(r.s, r.at[i], r.columns[heading], "%s", what) })
	if err := r.Faults.Err(); err != nil {
		return nil, nil, err
	}
	for _, s := range b.Sheets {
		if s.At(1, 1).Text == "after" {
			r.view(s)
		}
	}
	return cs, tablexlsx.Said(name, b.Cautions, r.Cautions), nil
}

// view says where the view of a table shows something else than the list, as
// it does once a reviewer has changed either.
func (r *listReader) view(s *book.Sheet) {
	top := 0 // the row over the values
	for _, row := range s.Rows() {
		if name := s.At(row, 1).Text; name == "values" {
			top = row + 1
			break
		} else if name == "value" {
			top = row - 1
			break
		}
	}
	id, other := s.At(1, 2).Text, 0
	for _, e := range r.sheet.Rows {
		if e.Edit != EditCell || e.Table != id || top == 0 {
			continue
		}
		shown, err := tables.ParseValue(s.At(top+1+e.Row, 2+e.Column).Text)
		if to, err2 := tables.ParseValue(e.To); err == nil && err2 == nil && math.Abs(shown-to) > 1e-13*math.Abs(to) {
			other++
		}
	}
	if other > 0 {
		r.Caution(s, 0, 0, "shows other values than the list (%d of its cells): the list is read", other)
	}
}

// hidden refuses a list of which a reviewer did not see all rows: which of them
// were to be left out is not for a program to guess.
func (r *listReader) hidden() {
	switch n := len(r.s.Hidden); {
	case n > 0:
		r.Fault(r.s, r.s.Hidden[0], 0, "%s hidden or filtered out, want all shown: show them and delete those that are not to apply", tables.Plural(n, "row is", "rows are"))
	case r.s.Filtered:
		r.Fault(r.s, 0, 0, "the list has a filter set, want all rows shown: clear the filter and delete the rows that are not to apply")
	}
}

// listReader reads the list of edits.
type listReader struct {
	tablexlsx.Reader
	s       *book.Sheet
	sheet   *Sheet
	columns map[string]int // heading to column; nil before the headings
	at      []int          // the sheet's row of each of sheet.Rows
}

func (r *listReader) read() {
	seen := map[string]bool{}
	for _, row := range r.s.Rows() {
		if r.columns != nil {
			r.edit(row)
			continue
		}
		name := r.Text(r.s, row, 1)
		if !strings.HasPrefix(name, "x-") {
			name = strings.TrimSpace(name)
		}
		if seen[name] && name != "caution" && name != "frame" && name != "" {
			r.Fault(r.s, row, 1, "row %s stands twice", tables.Quote(name))
			continue
		}
		seen[name] = true
		if name == "edit" {
			r.headings(row)
			continue
		}
		r.word(name, row)
	}
	if r.columns == nil {
		r.Fault(r.s, 0, 0, "the sheet has no row of headings, want %s", strings.Join(Columns, ", "))
	}
	tables.SortKeys(r.sheet.Extra)
	for _, c := range r.s.Comments {
		if row, column, ok := book.ParseName(c.Cell); ok {
			r.Caution(r.s, row, column, "its comment is beside the change set, ignored")
		}
	}
}

// word reads a row that belongs to the whole set.
func (r *listReader) word(name string, row int) {
	text, next := r.Long(r.s, row, 2)
	switch name {
	case "format":
		if text = strings.TrimSpace(text); text != Format {
			r.Fault(r.s, row, 2, "format: %s", tables.UnknownFormat(text, Format))
		}
	case "":
		next = 2
	default:
		if problem := r.sheet.word(name, text); problem == unknownWord {
			r.Fault(r.s, row, 1, "%s %s", tables.Quote(name), problem)
			return
		} else if problem != "" {
			r.Fault(r.s, row, 2, "%s", problem)
		}
	}
	r.Nothing(r.s, row, next)
}

func (r *listReader) headings(row int) {
	r.columns = map[string]int{}
	for c := r.s.Next(row, 1); c > 0; c = r.s.Next(row, c+1) {
		name := strings.TrimSpace(r.Text(r.s, row, c))
		if _, twice := r.columns[name]; twice {
			r.Fault(r.s, row, c, "heading %s stands twice", tables.Quote(name))
		}
		if !slices.Contains(workbookColumns, name) {
			r.Caution(r.s, row, c, "the column %s is beside the change set, ignored", tables.Quote(name))
		}
		r.columns[name] = c
	}
	for _, need := range []string{"table", "row", "column", "from", "to"} {
		if r.columns[need] == 0 {
			r.Fault(r.s, row, 1, "has no heading %s", tables.Quote(need))
		}
	}
}

// text is a row's text under a heading, numbers as every document writes them.
func (r *listReader) text(row int, heading string, isText bool) string {
	c := r.columns[heading]
	if c == 0 {
		return ""
	}
	cell := r.s.At(row, c)
	if isText || cell.Kind == book.Empty || cell.Kind == book.Text {
		return r.Text(r.s, row, c)
	}
	v, _ := r.Number(r.s, row, c)
	return tables.FormatValue(v)
}

func (r *listReader) edit(row int) {
	text := func(heading string, words bool) string { return r.text(row, heading, words) }
	if !slices.ContainsFunc([]string{"edit", "table", "field", "after", "from", "to"}, func(h string) bool { return text(h, true) != "" }) {
		r.Nothing(r.s, row, 1)
		return
	}
	if strings.TrimSpace(text("edit", true)) == editMore {
		r.more(row, text)
		return
	}
	e := readRow(text, tables.ParseValue, func(heading, what string) { r.Fault(r.s, row, r.columns[heading], "%s", what) })
	r.sheet.Rows, r.at = append(r.sheet.Rows, e), append(r.at, row)
}

// more goes on with the texts of the row above.
func (r *listReader) more(row int, text func(string, bool) string) {
	n := len(r.sheet.Rows)
	if n == 0 || r.sheet.Rows[n-1].Table != text("table", true) || r.sheet.Rows[n-1].Field != text("field", true) {
		r.Fault(r.s, row, r.columns["edit"], "goes on from a row that is not above it")
		return
	}
	last := &r.sheet.Rows[n-1]
	last.From += text("from", true)
	last.To += text("to", true)
	if last.Why != nil {
		last.Why.Note += text("note", true)
	}
}
