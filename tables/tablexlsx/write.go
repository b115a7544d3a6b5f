package tablexlsx

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"calsplice/tables"
	"calsplice/tables/shade"
	"calsplice/tables/sheet"
	"calsplice/tables/tablexlsx/book"
)

// The looks of a document's own cells: text and JSON of any length, headings of
// numbers, and the ids that lead to their sheets.
var (
	wrapped = book.Style{Align: "left", Wrap: true}
	number  = book.Style{Bold: true, Fill: "#E6EAEE", Border: "thin", Align: "right"}
	link    = book.Style{Colour: "#0B5394"}
)

// Write writes a document as a workbook.
func Write(w io.Writer, c *tables.Calibration) error {
	for _, t := range c.Tables() {
		// Beside its values a table has some rows and a column of its own.
		if err := book.Fits(t.Rows()+100, t.Columns()+1); err != nil {
			return fmt.Errorf("table %s: %w", t.ID(), err)
		}
	}
	out := book.NewWriter()
	contents := out.Page("Contents")
	pages := make([]*book.Page, len(c.Tables()))
	for i, t := range c.Tables() {
		pages[i] = out.Page(t.ID())
		WriteTable(pages[i], t, Marks{})
	}
	writeContents(contents, c, pages)
	if state := c.Contents().State; len(state) > 0 {
		s := &Rows{Page: out.Page("State")}
		for key, value := range state.Sorted() {
			s.Name(rowState)
			s.Word(key)
			s.JSON(value)
		}
		s.Width(2, 2, 22)
		s.Width(3, 3, 80)
	}
	return out.Write(w)
}

// Rows is a page being filled from the top, a row after the other; see
// [sheet.Writer]. Looks are the looks of rows, by their names, whose text stands
// on one line.
type Rows struct {
	*book.Page
	Looks map[string]book.Style

	row, column int
	name        string
}

// Row is the row that is being filled.
func (s *Rows) Row() int { return s.row }

// Skip leaves a row blank.
func (s *Rows) Skip() { s.row++ }

// Name begins the next row.
func (s *Rows) Name(name string) {
	s.row, s.column, s.name = s.row+1, 2, name
	s.Page.Text(s.row, 1, name, book.Key)
}

// Word fills the next cell of the row.
func (s *Rows) Word(word string) {
	look, ok := s.Looks[s.name]
	if !ok {
		look = book.Fact
	}
	s.Styled(word, look)
}

// Styled fills the next cell of the row with a look of its own.
func (s *Rows) Styled(word string, look book.Style) {
	s.Page.Text(s.row, s.column, word, look)
	s.column++
}

// Number fills the next cell of the row.
func (s *Rows) Number(v float64) {
	s.Page.Number(s.row, s.column, v, book.Fact)
	s.column++
}

// Text fills as many cells as a person's text takes; what fits one cell is wrapped
// over several columns.
func (s *Rows) Text(text string) {
	look, ok := s.Looks[s.name]
	if !ok {
		look = wrapped
	}
	s.Long(s.row, s.column, text, look)
	if !ok && utf8.RuneCountInString(text) < 5000 && !strings.ContainsRune(text, '\r') {
		s.Merge(s.row, s.column, s.row, 9)
		lines := 0
		for line := range strings.SplitSeq(text, "\n") {
			lines += 1 + utf8.RuneCountInString(line)/80
		}
		s.Height(s.row, float64(max(lines, 1)))
	}
}

// JSON fills as many cells as a value takes, of which one line is in sight: it is
// for machines.
func (s *Rows) JSON(value string) {
	s.Long(s.row, s.column, value, wrapped)
	s.Height(s.row, 1)
}

func (s *Rows) fact(name, text string) {
	s.Name(name)
	s.Word(text)
}

// writeContents writes the sheet that a person opens first: what the document
// is, its engine, and a list of its tables to click on.
func writeContents(p *book.Page, c *tables.Calibration, pages []*book.Page) {
	s := &Rows{Page: p, Looks: map[string]book.Style{"name": book.Large}}
	d := c.Contents()
	s.fact(rowFormat, string(d.Kind))
	s.Name("name")
	s.Text(d.Name)
	notes, _ := tables.DocumentFields.Find("notes")
	sheet.WriteField(s, notes, &d)
	sheet.WriteEngine(s, d.Engine)
	sheet.WriteKept(s, "", d.Extra)
	s.row++
	s.list(c.Tables(), pages)
	if len(d.Source) > 0 {
		s.row++
	}
	for _, src := range d.Source {
		s.Name("source")
		sheet.WriteParts(s, src.Parts())
		for _, drop := range src.Dropped {
			s.fact("dropped", drop.Reason)
			s.Number(float64(drop.Count))
		}
	}
	s.Width(1, 1, 22)
	s.Width(2, 2, 34)
	s.Width(3, 3, 26)
	s.Width(4, 5, 12)
	s.Width(6, 7, 26)
	s.Width(8, 9, 12)
	s.Print(0)
}

// list is the view of the tables, each leading to its sheet.
func (s *Rows) list(list []*tables.Table, pages []*book.Page) {
	s.row++
	for i, name := range []string{rowTables, "title", "role", "unit", "cells", "columns", "rows", "lowest", "highest"} {
		look := book.Head
		if i >= 7 {
			look = number
		}
		s.Page.Text(s.row, i+1, name, look)
	}
	for i, t := range list {
		s.row++
		s.Page.Text(s.row, 1, t.ID(), link)
		s.Link(s.row, 1, pages[i])
		s.Page.Text(s.row, 2, view(t.Title()), wrapped)
		s.Page.Text(s.row, 3, string(t.Role()), book.Fact)
		s.Page.Text(s.row, 4, view(t.Unit()), book.Fact)
		s.Page.Text(s.row, 5, fmt.Sprintf("%d × %d", t.Rows(), t.Columns()), book.Fact)
		s.Page.Text(s.row, 6, view(t.X().Label()), book.Fact)
		s.Page.Text(s.row, 7, view(t.Y().Label()), book.Fact)
		if low, high, ok := span(t.Values()); ok {
			look := book.Style{Format: book.Decimals([]float64{low, high}, t.Resolution())}
			s.Page.Number(s.row, 8, low, look)
			s.Page.Number(s.row, 9, high, look)
		}
	}
	s.row++
}

// view is text that is only shown, cut to what a person looks at.
func view(text string) string {
	const most = 300
	if r := []rune(text); len(r) > most {
		return string(r[:most]) + "…"
	}
	return text
}

// span is the lowest and the highest value; ok is false where all are empty.
func span(values []float64) (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if !math.IsNaN(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	return low, high, low <= high
}

// Marks are the cells of a table that a report points out, each with the words
// of its comment, by the cell's place in the table's values.
type Marks map[int]string

// WriteTable fills a page with one table, and returns its last row. Cells with a
// mark stand out by a thick border, bold type and a comment.
func WriteTable(p *book.Page, t *tables.Table, marks Marks) (last int) {
	s := &Rows{Page: p, Looks: map[string]book.Style{rowTable: book.Large, "title": {Bold: true, Align: "left"}}}
	s.fact(rowTable, t.ID())
	s.Comment(s.row, 2, t.Notes())
	s.Name("title")
	s.Text(t.Title())
	s.fact("unit", t.Unit())
	s.grid(t, marks)
	s.row++
	s.below(t)
	head := 0
	if t.Rows() > 25 { // past a page
		head = 5
	}
	s.Print(head)
	return s.row
}

// grid writes the values under their headings, with the look of a table on
// paper: the axes' names over and beside the breakpoints, equal decimals, shaded
// by size.
func (s *Rows) grid(t *tables.Table, marks Marks) {
	look := book.Style{Format: book.Decimals(t.Values(), t.Resolution()), Border: "thin"}
	x, y := t.X(), t.Y()
	if x == nil {
		s.Name("value")
		s.Page.Number(s.row, 2, t.Values()[0], look)
		s.mark(s.row, 2, marks, 0, look)
		s.Width(1, 1, 14)
		s.Width(2, 2, 16)
		return
	}
	last := 1 + x.Len()
	s.Name("values")
	s.Style(s.row, 2, last, book.Heading)
	s.Page.Text(s.row, 2, view(x.Label()), book.Heading)
	s.Merge(s.row, 2, s.row, last)
	s.row++
	if y != nil {
		s.Page.Text(s.row, 1, view(y.Label()), book.Head)
	}
	beside := book.Heading
	beside.Format = book.Decimals(x.Points(), 0)
	s.Numbers(s.row, 2, x.Points(), beside)
	if y != nil {
		beside.Format = book.Decimals(y.Points(), 0)
	}
	top := s.row + 1
	for r := range t.Rows() {
		s.row++
		if y != nil {
			s.Page.Number(s.row, 1, y.At(r), beside)
		}
		s.Numbers(s.row, 2, t.Row(r), look)
	}
	for _, i := range slices.Sorted(maps.Keys(marks)) {
		s.mark(top+i/x.Len(), 2+i%x.Len(), marks, i, look)
	}
	s.shade(t, top, last)
	s.Freeze(top, 2)
	s.Width(1, 1, min(max(float64(utf8.RuneCountInString(y.Label()))+2, 14), 36))
	s.Width(2, last, width(t, look.Format))
}

// mark makes a changed cell stand out.
func (s *Rows) mark(row, column int, marks Marks, i int, look book.Style) {
	if words, ok := marks[i]; ok {
		look.Bold, look.Border = true, "thick"
		s.Style(row, column, column, look)
		s.Comment(row, column, words)
	}
}

// width is as many characters as the longest number of a table shows, within
// bounds, so that a map of many columns stays on one screen.
func width(t *tables.Table, format string) float64 {
	if strings.Contains(format, "E") {
		return 12
	}
	longest := 6
	low, high, _ := span(t.Values())
	for _, v := range []float64{t.X().At(0), t.X().At(t.X().Len() - 1), low, high} {
		longest = max(longest, len(strconv.FormatFloat(v, 'f', max(len(format)-2, 0), 64)))
	}
	return float64(min(longest, 16)) + 2
}

// shade colours a table by size; by sign and size one whose values stand well on
// both sides of zero, or are shares that do.
func (s *Rows) shade(t *tables.Table, top, last int) {
	low, high, ok := span(t.Values())
	if !ok || low == high {
		return
	}
	block := sheet.Name(top, 2) + ":" + sheet.Name(s.row, last)
	if small := min(-low, high); small > 0 && (t.Unit() == "%" || small > 0.2*max(-low, high)) {
		most := max(-low, high)
		s.Shade(block, [3]float64{-most, 0, most},
			[3]string{shade.LightSign(-1).String(), shade.LightSign(0).String(), shade.LightSign(1).String()})
		return
	}
	s.Shade(block, [3]float64{low, low/2 + high/2, high},
		[3]string{shade.LightSize(0).String(), shade.LightSize(0.5).String(), shade.LightSize(1).String()})
}

// below writes what is known of a table beside its values.
func (s *Rows) below(t *tables.Table) {
	f := t.Fields()
	for _, name := range []string{"role", "resolution", "limits", "notes"} {
		field, _ := tables.TableFields.Find(name)
		sheet.WriteField(s, field, &f)
	}
	s.axis("x", f.X)
	s.axis("y", f.Y)
	sheet.WriteKept(s, "", f.Extra)
}

// axis writes what is known of an axis beside its breakpoints. The heading over
// the values shows the same, for people; this is what is read back.
func (s *Rows) axis(name string, a *tables.Axis) {
	if a == nil {
		return
	}
	s.fact(name+" quantity", a.Quantity())
	s.fact(name+" unit", a.Unit())
	sheet.WriteKept(s, name+".", a.Extra())
}
