package tablexlsx

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"calsplice/tables"
	"calsplice/tables/shade"
	"calsplice/tables/tablexlsx/book"
)

// The looks of a workbook's cells.
var (
	key     = book.Style{Colour: "#5A6673", Top: true}
	fact    = book.Style{Align: "left", Top: true}
	wrapped = book.Style{Align: "left", Wrap: true}
	large   = book.Style{Bold: true, Size: 15, Align: "left"}
	head    = book.Style{Bold: true, Fill: "#E6EAEE", Border: "thin"}
	number  = book.Style{Bold: true, Fill: "#E6EAEE", Border: "thin", Align: "right"}
	heading = book.Style{Bold: true, Fill: "#E6EAEE", Border: "thin", Align: "center"}
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
		writeState(out.Page("State"), state)
	}
	_, err := out.WriteTo(w)
	return err
}

// writeState writes what cell averages carry for machines, out of people's way.
func writeState(p *book.Page, state []tables.ExtraKey) {
	s := &sheet{Page: p}
	for _, k := range state {
		s.text(rowState, k.Key, fact)
		s.Long(s.row, 3, k.Value, wrapped)
		s.Height(s.row, 1) // one line of it in sight
	}
	s.Width(2, 2, 22)
	s.Width(3, 3, 80)
}

// sheet is a page being filled from the top.
type sheet struct {
	*book.Page
	row int
}

// line begins the next row with its name.
func (s *sheet) line(name string) *sheet {
	s.row++
	s.Text(s.row, 1, name, key)
	return s
}

func (s *sheet) text(name, text string, look book.Style) {
	s.line(name).Text(s.row, 2, text, look)
}

// long writes text of any length, wrapped over several columns where it fits
// one cell.
func (s *sheet) long(column int, text string) {
	s.Long(s.row, column, text, wrapped)
	if utf8.RuneCountInString(text) < 5000 && !strings.ContainsRune(text, '\r') {
		s.Merge(s.row, column, s.row, 9)
		lines := 0
		for line := range strings.SplitSeq(text, "\n") {
			lines += 1 + utf8.RuneCountInString(line)/80
		}
		s.Height(s.row, float64(max(lines, 1)))
	}
}

func (s *sheet) extra(prefix string, extra tables.Extra) {
	for _, k := range extra {
		s.line(prefix+k.Key).Long(s.row, 2, k.Value, wrapped)
		s.Height(s.row, 1) // for machines: one line of it in sight
	}
}

func writeContents(p *book.Page, c *tables.Calibration, pages []*book.Page) {
	s := &sheet{Page: p}
	d := c.Contents()
	s.text(rowFormat, string(d.Kind), fact)
	s.line(rowName).Long(s.row, 2, d.Name, large)
	if d.Notes != "" {
		s.line(rowNotes).long(2, d.Notes)
	}
	if d.Engine != nil {
		s.engine(d.Engine)
	}
	s.extra("", d.Extra)
	s.row++
	s.list(c.Tables(), pages)
	if len(d.Source) > 0 {
		s.row++
	}
	for _, src := range d.Source {
		s.text(rowSource, src.Name, fact)
		s.Text(s.row, 3, src.SHA256, fact)
		s.Number(s.row, 4, float64(src.Rows), fact)
		s.Number(s.row, 5, float64(src.Kept), fact)
		for _, drop := range src.Dropped {
			s.text(rowDropped, drop.Reason, fact)
			s.Number(s.row, 3, float64(drop.Count), fact)
		}
	}
	s.Width(1, 1, 22)
	s.Width(2, 2, 34)
	s.Width(3, 3, 26)
	s.Width(4, 9, 12)
	s.Width(6, 7, 26)
	s.Print(0)
}

func (s *sheet) engine(e *tables.Engine) {
	for _, f := range tables.EngineFields.Of(e) {
		if f.Given(e) {
			s.text(rowEngine, f.Name, fact)
			writeField(s, f, e, 3)
		}
	}
}

// writeField writes what a field holds into the last row, from a column on. It
// is what [readField] reads.
func writeField[T any](s *sheet, f tables.Field[T], of *T, column int) {
	switch p := f.At(of).(type) {
	case tables.Kept:
		value, _ := p.Value()
		s.Long(s.row, column, value, wrapped)
		s.Height(s.row, 1) // for machines: one line of it in sight
	case *string:
		s.long(column, *p)
	case *tables.Role:
		s.Text(s.row, column, string(*p), fact)
	case *int:
		s.Number(s.row, column, float64(*p), fact)
	case *float64:
		s.Number(s.row, column, *p, fact)
	case **tables.Limits:
		s.Number(s.row, column, (*p).Low, fact)
		s.Number(s.row, column+1, (*p).High, fact)
	case **tables.Measure:
		s.Number(s.row, column, (*p).Value, fact)
		s.Text(s.row, column+1, (*p).Unit, fact)
	case **tables.RailPressure:
		s.Number(s.row, column, (*p).Value, fact)
		s.Text(s.row, column+1, (*p).Unit, fact)
		s.Text(s.row, column+2, string((*p).RelativeTo), fact)
	}
}

// list is the view of the tables, each leading to its sheet.
func (s *sheet) list(list []*tables.Table, pages []*book.Page) {
	s.row++
	for i, name := range []string{rowTables, "title", "role", "unit", "cells", "columns", "rows", "lowest", "highest"} {
		look := head
		if i >= 7 {
			look = number
		}
		s.Text(s.row, i+1, name, look)
	}
	for i, t := range list {
		s.row++
		s.Text(s.row, 1, t.ID(), link)
		s.Link(s.row, 1, pages[i])
		s.Text(s.row, 2, view(t.Title()), wrapped)
		s.Text(s.row, 3, string(t.Role()), fact)
		s.Text(s.row, 4, view(t.Unit()), fact)
		s.Text(s.row, 5, fmt.Sprintf("%d × %d", t.Rows(), t.Columns()), fact)
		s.Text(s.row, 6, view(t.X().Label()), fact)
		s.Text(s.row, 7, view(t.Y().Label()), fact)
		if low, high, ok := span(t.Values()); ok {
			look := book.Style{Format: book.Decimals([]float64{low, high}, t.Resolution())}
			s.Number(s.row, 8, low, look)
			s.Number(s.row, 9, high, look)
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
	s := &sheet{Page: p}
	s.text(rowTable, t.ID(), large)
	s.Comment(s.row, 2, t.Notes())
	s.line(rowTitle).Long(s.row, 2, t.Title(), book.Style{Bold: true, Align: "left"})
	s.text(rowUnit, t.Unit(), fact)
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

func (s *sheet) grid(t *tables.Table, marks Marks) {
	look := book.Style{Format: book.Decimals(t.Values(), t.Resolution()), Border: "thin"}
	x, y := t.X(), t.Y()
	if x == nil {
		s.line(rowValue).Number(s.row, 2, t.Values()[0], look)
		s.mark(s.row, 2, marks, 0, look)
		s.Width(1, 1, 14)
		s.Width(2, 2, 16)
		return
	}
	last := 1 + x.Len()
	s.line(rowValues)
	s.Style(s.row, 2, s.row, last, heading)
	s.Text(s.row, 2, view(x.Label()), heading)
	s.Merge(s.row, 2, s.row, last)
	s.row++
	if y != nil {
		s.Text(s.row, 1, view(y.Label()), head)
	}
	points := heading
	points.Format = book.Decimals(x.Points(), 0)
	for i, v := range x.Points() {
		s.Number(s.row, 2+i, v, points)
	}
	top := s.row + 1
	if y != nil {
		points.Format = book.Decimals(y.Points(), 0)
		for i, v := range y.Points() {
			s.Number(top+i, 1, v, points)
		}
	}
	for i, v := range t.Values() {
		s.Number(top+i/x.Len(), 2+i%x.Len(), v, book.Style{})
	}
	s.row = top + t.Rows() - 1
	s.Style(top, 2, s.row, last, look)
	for i := range t.Values() {
		s.mark(top+i/x.Len(), 2+i%x.Len(), marks, i, look)
	}
	s.shade(t, top, last)
	s.Freeze(top, 2)
	s.Width(1, 1, min(max(float64(utf8.RuneCountInString(y.Label()))+2, 14), 36))
	s.Width(2, last, width(t, look.Format))
}

// mark makes a changed cell stand out.
func (s *sheet) mark(row, column int, marks Marks, i int, look book.Style) {
	if words, ok := marks[i]; ok {
		look.Bold, look.Border = true, "thick"
		s.Style(row, column, row, column, look)
		s.Comment(row, column, words)
	}
}

func width(t *tables.Table, format string) float64 {
	longest := 6
	for _, v := range append([]float64{t.X().At(0), t.X().At(t.X().Len() - 1)}, t.Values()...) {
		if math.IsNaN(v) {
			continue
		}
		if strings.Contains(format, "E") {
			longest = max(longest, 10)
			continue
		}
		longest = max(longest, len(fmt.Sprintf("%.*f", max(len(format)-2, 0), v)))
	}
	return float64(min(longest, 16)) + 2
}

// shade colours a table by size; by sign and size one whose values stand well on
// both sides of zero, or are shares that do.
func (s *sheet) shade(t *tables.Table, top, last int) {
	low, high, ok := span(t.Values())
	if !ok || low == high {
		return
	}
	if small := min(-low, high); small > 0 && (t.Unit() == "%" || small > 0.2*max(-low, high)) {
		most := max(-low, high)
		s.Shade(top, 2, s.row, last, [3]float64{-most, 0, most},
			[3]string{shade.LightSign(-1).String(), shade.LightSign(0).String(), shade.LightSign(1).String()})
		return
	}
	s.Shade(top, 2, s.row, last, [3]float64{low, low/2 + high/2, high},
		[3]string{shade.LightSize(0).String(), shade.LightSize(0.5).String(), shade.LightSize(1).String()})
}

// below writes what is known of a table beside its values.
func (s *sheet) below(t *tables.Table) {
	f := t.Fields()
	for _, name := range below {
		if field, _ := tables.TableFields.Find(name); field.Given(&f) {
			s.line(name)
			writeField(s, field, &f, 2)
		}
	}
	if f.X != nil {
		s.text(rowXQuantity, f.X.Quantity(), fact)
		s.text(rowXUnit, f.X.Unit(), fact)
		s.extra("x.", f.X.Extra())
	}
	if f.Y != nil {
		s.text(rowYQuantity, f.Y.Quantity(), fact)
		s.text(rowYUnit, f.Y.Unit(), fact)
		s.extra("y.", f.Y.Extra())
	}
	s.extra("", f.Extra)
}
