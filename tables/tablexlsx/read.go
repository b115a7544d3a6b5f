package tablexlsx

import (
	"fmt"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/tablexlsx/book"
)

// Parse reads a document that [Write] wrote, edited or not; name is what errors
// call the input. The cautions name what the workbook holds beside the document
// and does not pass on.
func Parse(data []byte, name string) (c *tables.Calibration, cautions tables.Faults, err error) {
	r := &reader{Document: sheet.NewDocument(name), sheets: map[string]string{}}
	parts := Open(&r.Reader, data, "document", rowTable, rowState)
	// The contents first, since they say whether cells may be empty.
	for _, s := range slices.Concat(parts[rowFormat], parts[rowState]) {
		Each(&r.Reader, s, r.contents)
	}
	for _, s := range parts[rowTable] {
		r.table(s)
	}
	r.compare()
	return r.Calibration()
}

// Open opens a workbook for a reader and sorts its sheets by the word that each begins
// with: the one with "format", which says what the workbook is, and those with other
// words. What else holds anything is passed over with a caution.
func Open(r *sheet.Reader, data []byte, what string, words ...string) map[string][]*book.Sheet {
	b, err := book.Open(data)
	if err != nil {
		r.Break(err)
		return nil
	}
	r.Cautions = b.Cautions(r.File)
	parts := map[string][]*book.Sheet{}
	for _, s := range b.Sheets {
		first, err := s.First()
		r.Break(err)
		switch word := firstWord(first); {
		case word == rowFormat && parts[word] == nil, slices.Contains(words, word):
			parts[word] = append(parts[word], s)
		case first != nil && !sheet.Remark(first.At(1).Text):
			r.Sheet = s.Name
			r.Caution(sheet.Cell{}, "the sheet is beside the %s, ignored", what)
		}
	}
	if r.Sheet = ""; parts[rowFormat] == nil && !r.Full() {
		r.Break(fmt.Errorf(`no sheet begins with "format": this is a workbook, but no %s of calsplice`, what))
	}
	return parts
}

// Each hands the rows of a sheet to a reader's own until there is no use in going on.
func Each(r *sheet.Reader, s *book.Sheet, read func(sheet.Row)) {
	if r.Full() {
		return
	}
	r.Sheet = s.Name
	r.Break(s.Rows(func(row sheet.Row) bool {
		read(row)
		return !r.Full()
	}))
}

// reader reads the sheets of a workbook as parts of a document.
type reader struct {
	*sheet.Document
	page   string            // the sheet of the contents
	list   []sheet.Row       // its rows that list the tables
	next   int32             // the row that goes on with them
	sheets map[string]string // a table's id, and the sheet that holds it
}

// firstWord is the word that a sheet begins with, which reports what it is; "" where its
// first cell is empty.
func firstWord(first sheet.Row) string {
	if c := first.At(1); c.Row == 1 {
		return strings.TrimSpace(c.Text)
	}
	return ""
}

// contents reads a row of the contents sheet, or of that of what cell averages carry for
// machines. Rows that follow "tables" without a gap are a view.
func (r *reader) contents(row sheet.Row) {
	c := row.At(1)
	name := strings.TrimSpace(r.Text(c))
	switch {
	case c.Row == r.next && r.Sheet == r.page:
		r.list, r.next = append(r.list, slices.Clone(row)), c.Row+1
	case name == rowTables:
		r.next = c.Row + 1
	case name == "":
		r.Rest(row, 2)
	case name == rowFormat && r.page == "":
		r.page = r.Sheet
		kind, _ := tables.DocumentFields.Find("format")
		if sheet.Field(&r.Reader, kind, &r.Contents, sheet.Cells{Row: row, From: 2}, true); len(r.Faults) > 0 {
			r.Stop()
		}
	case !r.Head(row):
		r.Fault(c, "%s is no row of this sheet: its first cell names what it holds, such as engine | cylinders | 4", tables.Quote(name))
	}
}

// table reads a table's sheet, and says where a view on it shows something else
// than is read.
func (r *reader) table(s *book.Sheet) {
	r.Begin(sheet.Cell{})
	Each(&r.Reader, s, func(row sheet.Row) {
		if !r.Row(row) {
			r.Fault(row.At(1), "%s is no row of a table", tables.Quote(row.At(1).Text))
		}
	})
	t, heads := r.End()
	if t == nil {
		return
	}
	r.sheets[t.ID()] = s.Name
	for i, axis := range t.Axes() {
		if c := heads[i]; axis != nil && c.Kind != sheet.Empty && c.Text != view(axis.Label()) {
			r.Caution(c, "heading %s is not the axis of row %q: that row is read", tables.Quote(c.Text), "xy"[i:i+1]+" quantity")
		}
	}
	comments, err := s.Comments()
	r.Break(err)
	for _, c := range comments {
		if !sameWords(c.Text, t.Notes()) {
			r.Caution(c.Cell, "its comment is beside the document, ignored")
		}
	}
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
	r.Sheet = r.page
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
	b, err := book.Open(data)
	if err != nil {
		return ""
	}
	for _, s := range b.Sheets {
		if first, _ := s.First(); firstWord(first) == rowFormat {
			return strings.TrimSpace(first.At(2).Text)
		}
	}
	return ""
}
