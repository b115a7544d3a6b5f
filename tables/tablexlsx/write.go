package tablexlsx

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"calsplice/tables"
	"calsplice/tables/shade"
	"calsplice/tables/sheet"
	"calsplice/tables/tablexlsx/book"
)

// The looks of a document's own cells: headings of numbers, and the ids that lead to
// their sheets.
var (
	number = book.Style{Bold: true, Fill: "#E6EAEE", Border: "thin", Align: "right"}
	link   = book.Style{Colour: "#0B5394"}
)

// Write writes a document as a workbook.
func Write(w io.Writer, c *tables.Calibration) error {
	out := book.NewWriter()
	contents := out.Page("Contents")
	pages := tables.Each(c.IDs(), out.Page)
	writeContents(contents, c, pages)
	for i, t := range c.Tables() {
		WriteTable(pages[i], rowTable, t, nil)
	}
	if state := c.Contents().State; len(state) > 0 {
		p := out.Page("State")
		p.Width(2, 2, 22)
		p.Width(3, 3, 80)
		for key, value := range state.Sorted() {
			p.Name(rowState)
			p.Word(key)
			p.JSON(value)
		}
	}
	return out.Write(w)
}

func fact(p *book.Page, name, text string) {
	p.Name(name)
	p.Word(text)
}

// writeContents writes the sheet that a person opens first: what the document
// is, its engine, and a list of its tables to click on.
func writeContents(p *book.Page, c *tables.Calibration, pages []*book.Page) {
	p.Width(1, 1, 22)
	p.Width(2, 2, 34)
	p.Width(3, 3, 26)
	p.Width(4, 5, 12)
	p.Width(6, 7, 26)
	p.Width(8, 9, 12)
	p.Print(0)
	p.Looks = map[string]book.Style{"name": book.Large}
	d := c.Contents()
	fact(p, rowFormat, string(d.Kind))
	p.Name("name")
	p.Text(d.Name)
	notes, _ := tables.DocumentFields.Find("notes")
	sheet.WriteField(p, notes, &d)
	sheet.WriteEngine(p, d.Engine)
	sheet.WriteKept(p, "", d.Extra)
	p.Next()
	list(p, c.Tables(), pages)
	if len(d.Source) > 0 {
		p.Next()
	}
	for _, src := range d.Source {
		p.Name("source")
		sheet.WriteParts(p, src.Parts())
		for _, drop := range src.Dropped {
			fact(p, "dropped", drop.Reason)
			p.Number(float64(drop.Count))
		}
	}
}

// list is the view of the tables, each leading to its sheet.
func list(p *book.Page, list []*tables.Table, pages []*book.Page) {
	p.Next()
	for _, name := range []string{rowTables, "title", "role", "unit", "cells", "columns", "rows"} {
		p.Styled(name, book.Head)
	}
	p.Styled("lowest", number)
	p.Styled("highest", number)
	for i, t := range list {
		p.Next()
		p.Styled(t.ID(), link)
		p.Link(pages[i])
		p.Styled(view(t.Title()), book.Wrapped)
		for _, word := range []string{string(t.Role()), view(t.Unit()), fmt.Sprintf("%d × %d", t.Rows(), t.Columns()), view(t.X().Label()), view(t.Y().Label())} {
			p.Word(word)
		}
		if low, high := tables.Range(t.Values()); low <= high {
			look := book.Style{Format: book.Decimals([]float64{low, high}, t.Resolution())}
			p.Value(low, look)
			p.Value(high, look)
		}
	}
	p.Next()
}

// view is text that is only shown.
func view(text string) string { return book.Short(text, 300) }

// Marks are the cells of a table that a report points out, each with the words
// of its comment, by the cell's place in the table's values.
type Marks map[int]string

// top is the row of a table's first values: above it stand its id, its title, its unit,
// and two rows of headings.
const top = 6

// WriteTable fills a page with one table, whose first row is called by a word. Cells
// with a mark stand out by a thick border, bold type and a comment.
func WriteTable(p *book.Page, word string, t *tables.Table, marks Marks) {
	look := book.Style{Format: book.Decimals(t.Values(), t.Resolution()), Border: "thin"}
	if x := t.X(); x == nil {
		p.Width(1, 1, 14)
		p.Width(2, 2, 16)
	} else {
		p.Freeze(top, 2)
		p.Width(1, 1, min(max(float64(utf8.RuneCountInString(t.Y().Label()))+2, 14), 36))
		p.Width(2, 1+x.Len(), width(t, look.Format))
	}
	head := 0
	if t.Rows() > 25 { // past a page
		head = top - 1
	}
	p.Print(head)
	p.Looks = map[string]book.Style{word: book.Large, "title": {Bold: true, Align: "left"}}
	fact(p, word, t.ID())
	p.Comment(t.Notes())
	p.Name("title")
	p.Text(t.Title())
	fact(p, "unit", t.Unit())
	if t.X() == nil {
		p.Name("value")
		values(p, t, 0, look, marks)
	} else {
		grid(p, t, look, marks)
	}
	p.Next()
	below(p, t)
}

// grid writes the values under their headings, with the look of a table on
// paper: the axes' names over and beside the breakpoints, equal decimals, shaded
// by size.
func grid(p *book.Page, t *tables.Table, look book.Style, marks Marks) {
	x, y := t.X(), t.Y()
	p.Name("values")
	p.Styled(view(x.Label()), book.Heading)
	p.Fill(x.Len()-1, book.Heading)
	p.Merge(2, 1+x.Len())
	p.Next()
	beside := book.Heading
	if y == nil {
		p.To(2)
	} else {
		p.Styled(view(y.Label()), book.Head)
		beside.Format = book.Decimals(y.Points(), 0)
	}
	over := book.Heading
	over.Format = book.Decimals(x.Points(), 0)
	for _, v := range x.Points() {
		p.Value(v, over)
	}
	for row := range t.Rows() {
		if p.Next(); y == nil {
			p.To(2)
		} else {
			p.Value(y.At(row), beside)
		}
		values(p, t, row, look, marks)
	}
	shadeBySize(p, t)
}

// values writes a row of values, in which a changed cell stands out.
func values(p *book.Page, t *tables.Table, row int, look book.Style, marks Marks) {
	strong := look
	strong.Bold, strong.Border = true, "thick"
	for i, v := range t.Row(row) {
		if words, marked := marks[row*t.Columns()+i]; marked {
			p.Value(v, strong)
			p.Comment(words)
		} else {
			p.Value(v, look)
		}
	}
}

// width is as many characters as the longest number of a table shows, within
// bounds, so that a map of many columns stays on one screen.
func width(t *tables.Table, format string) float64 {
	if strings.Contains(format, "E") {
		return 12
	}
	longest := 6
	low, high := tables.Range(t.Values())
	for _, v := range []float64{t.X().At(0), t.X().At(t.X().Len() - 1), low, high} {
		longest = max(longest, len(strconv.FormatFloat(v, 'f', max(len(format)-2, 0), 64)))
	}
	return float64(min(longest, 16)) + 2
}

// shadeBySize colours a table by size; by sign and size one whose values stand well on
// both sides of zero, or are shares that do.
func shadeBySize(p *book.Page, t *tables.Table) {
	low, high := tables.Range(t.Values())
	if !(low < high) {
		return
	}
	block := sheet.Name(top, 2) + ":" + sheet.Name(p.Row(), 1+t.Columns())
	if small := min(-low, high); small > 0 && (t.Unit() == "%" || small > 0.2*max(-low, high)) {
		most := max(-low, high)
		p.Shade(block, [3]float64{-most, 0, most},
			[3]string{shade.LightSign(-1).String(), shade.LightSign(0).String(), shade.LightSign(1).String()})
		return
	}
	p.Shade(block, [3]float64{low, low/2 + high/2, high},
		[3]string{shade.LightSize(0).String(), shade.LightSize(0.5).String(), shade.LightSize(1).String()})
}

// below writes what is known of a table beside its values. The headings over and beside
// them show what is known of the axes, for people; this is what is read back.
func below(p *book.Page, t *tables.Table) {
	f := t.Fields()
	for _, name := range []string{"role", "resolution", "limits", "notes"} {
		field, _ := tables.TableFields.Find(name)
		sheet.WriteField(p, field, &f)
	}
	for i, a := range t.Axes().All() {
		name := "xy"[i : i+1]
		fact(p, name+" quantity", a.Quantity())
		fact(p, name+" unit", a.Unit())
		sheet.WriteKept(p, name+".", a.Extra())
	}
	sheet.WriteKept(p, "", f.Extra)
}
