package tablexlsx

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/tablexlsx/book"
)

// Read reads a document that [Write] wrote, edited or not; name is what errors
// call the input. The cautions name what the workbook holds beside the document
// and does not pass on.
func Read(in io.ReaderAt, size int64, name string) (*tables.Calibration, tables.Faults, error) {
	r := &reader{Document: sheet.NewDocument(name), sheets: map[string]string{}}
	parts, err := Open(in, size, &r.Reader, "document", rowTable, rowState)
	if err == nil {
		err = r.read(parts)
	}
	if err != nil {
		return nil, nil, tables.In(name, 0, 0, "", err)
	}
	c, err := r.Calibration()
	return c, r.Cautions, err
}

// Open opens a workbook and sorts its sheets by the word that each begins with:
// the one with "format", which says what the workbook is, and those with other
// words. What else holds anything is passed over with a caution.
func Open(in io.ReaderAt, size int64, r *sheet.Reader, what string, words ...string) (map[string][]*book.Sheet, error) {
	b, err := book.Open(in, size)
	if err != nil {
		return nil, err
	}
	r.Cautions = b.Cautions(r.File)
	parts := map[string][]*book.Sheet{}
	for _, s := range b.Sheets {
		first, err := s.First()
		if err != nil {
			return nil, err
		}
		switch word := Word(first); {
		case word == rowFormat && parts[word] == nil, slices.Contains(words, word):
			parts[word] = append(parts[word], s)
		case first != nil && !sheet.Remark(first.At(1).Text):
			r.Sheet = s.Name
			r.Caution(sheet.Cell{}, "the sheet is beside the %s, ignored", what)
		}
	}
	if parts[rowFormat] == nil {
		return nil, fmt.Errorf(`no sheet begins with "format": this is a workbook, but no %s of calsplice`, what)
	}
	return parts, nil
}

// reader reads the sheets of a workbook as parts of a document.
type reader struct {
	*sheet.Document
	list   []sheet.Row       // the rows of the contents that list the tables
	sheets map[string]string // a table's id, and the sheet that holds it
}

// read reads the contents sheet first, since it says whether cells may be empty.
// The error is of the workbook itself.
func (r *reader) read(parts map[string][]*book.Sheet) error {
	contents := parts[rowFormat][0]
	if err := r.each(contents, r.contents()); err != nil {
		return err
	}
	if r.Full() {
		return nil
	}
	for _, s := range parts[rowState] {
		if err := r.each(s, r.state); err != nil {
			return err
		}
	}
	for _, s := range parts[rowTable] {
		if err := r.table(s); err != nil {
			return err
		}
	}
	r.Sheet = contents.Name
	r.compare()
	return nil
}

// Word is the word that a sheet begins with, which reports what it is; "" where its
// first cell is empty.
func Word(first sheet.Row) string {
	if c := first.At(1); c.Row == 1 {
		return strings.TrimSpace(c.Text)
	}
	return ""
}

// each reads the rows of a sheet until there is no use in going on.
func (r *reader) each(s *book.Sheet, read func(sheet.Row)) error {
	r.Sheet = s.Name
	return s.Rows(func(row sheet.Row) bool {
		read(row)
		return !r.Full()
	})
}

// contents reads the rows of the contents sheet. Those that follow "tables"
// without a gap are a view.
func (r *reader) contents() func(sheet.Row) {
	last, format := int32(-1), false
	return func(row sheet.Row) {
		c := row.At(1)
		name := strings.TrimSpace(r.Plain(c))
		switch {
		case c.Row == last+1:
			r.list, last = append(r.list, append(sheet.Row(nil), row...)), c.Row
		case name == rowTables:
			last = c.Row
		case name == "":
			r.Rest(row, 2)
		case name == rowFormat && !format:
			format = true
			kind, _ := tables.DocumentFields.Find("format")
			if sheet.Field(&r.Reader, kind, &r.Contents, sheet.Cells{Row: row, From: 2}, true); len(r.Faults) > 0 {
				r.Stop()
			}
		case !r.Head(row):
			r.Fault(c, "%s is no row of the contents: its first cell names what it holds, such as engine | cylinders | 4", tables.Quote(name))
		}
	}
}

// state reads a row of the sheet of what cell averages carry for machines.
func (r *reader) state(row sheet.Row) {
	switch name := strings.TrimSpace(r.Plain(row.At(1))); {
	case name == "":
		r.Rest(row, 2)
	case name != rowState || !r.Head(row):
		r.Fault(row.At(1), "%s is no row of the state", tables.Quote(name))
	}
}

// table reads a table's sheet, and says where a view on it shows something else
// than is read.
func (r *reader) table(s *book.Sheet) error {
	r.Sheet = s.Name
	r.Begin(sheet.Cell{})
	if err := r.each(s, func(row sheet.Row) {
		if !r.Row(row) {
			r.Fault(row.At(1), "%s is no row of a table", tables.Quote(row.At(1).Text))
		}
	}); err != nil {
		return err
	}
	t, heads := r.End()
	if t == nil {
		return nil
	}
	r.sheets[t.ID()] = s.Name
	for i, axis := range t.Axes() {
		if c := heads[i]; axis != nil && c.Kind != sheet.Empty && c.Text != view(axis.Label()) {
			r.Caution(c, "heading %s is not the axis of row %q: that row is read", tables.Quote(c.Text), "xy"[i:i+1]+" quantity")
		}
	}
	comments, err := s.Comments()
	for _, c := range comments {
		if !sameWords(c.Text, t.Notes()) {
			r.Caution(c.Cell, "its comment is beside the document, ignored")
		}
	}
	return err
}

// sameWords reports whether a comment shows a table's notes: programs change
// blanks and line ends in comments, and long notes are cut there.
func sameWords(a, b string) bool {
	a, b = strings.Join(strings.Fields(a), " "), strings.Join(strings.Fields(b), " ")
	return a == b || strings.HasSuffix(a, "…") && strings.HasPrefix(b, strings.TrimSpace(strings.TrimSuffix(a, "…")))
}

// compare says where the list of tables shows something else than the tables'
// own sheets.
func (r *reader) compare() {
	byID := map[string]*tables.Table{}
	for _, t := range r.Contents.Tables {
		byID[t.ID()] = t
	}
	for _, row := range r.list {
		id := strings.TrimSpace(row.At(1).Text)
		t := byID[id]
		if t == nil {
			if id != "" {
				r.Caution(row.At(1), "no sheet holds a table %s", tables.Quote(id))
			}
			continue
		}
		for i, want := range []string{t.Title(), string(t.Role()), t.Unit()} {
			if c := row.At(2 + i); c.Text != view(want) {
				r.Caution(c, "shows %s, the sheet %s has %s: the sheet is read",
					tables.Quote(c.Text), tables.Quote(r.sheets[id]), tables.Quote(want))
			}
		}
	}
}

// Format is what a workbook calls itself on its contents sheet, such as
// "calsplice/1"; "" where it is no workbook or none of calsplice.
func Format(data []byte) string {
	b, err := book.Open(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return ""
	}
	for _, s := range b.Sheets {
		if first, _ := s.First(); Word(first) == rowFormat {
			return strings.TrimSpace(first.At(2).Text)
		}
	}
	return ""
}
