package book

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// Page is one sheet of a workbook being written: a [sheet.Writer], which fills it
// from the top, a row after the other, and each row from the left. How it is laid
// out ([Page.Width], [Page.Freeze], [Page.Print]) stands before its cells in the
// format, and must be said before its second row begins. One page is filled at a
// time. What its templates look at is exported.
type Page struct {
	Tab       string // the sheet's name
	Nth       int    // from 1
	Printed   bool
	Protected bool // from being changed, where it is only a view; without a password
	Frozen    *frozen
	Widths    []columns
	Merged    []string // blocks of cells
	Shades    []scale
	Links     []link
	Comments  []comment

	// Looks are those of rows, by their names, whose text stands on one line.
	Looks map[string]Style

	w           *Writer
	row, column int    // of the next cell
	name        string // of the row
	height      float64
	cells       []byte // of the row, as the part has them
	begun       bool   // its part is, or was, being written
}

// What a page shows beside its cells, as the templates look at it.
type (
	frozen  struct{ Rows, Columns int }
	columns struct {
		First, Last int
		Width       float64
	}
	scale struct {
		Block   string
		At      [3]float64
		Colours [3]string
	}
	link struct {
		Row, Column int
		To          *Page
	}
	comment struct {
		Row, Column int
		Text        string
		Rows        int // that its box covers
	}
)

// Row is the row that is being filled.
func (p *Page) Row() int { return p.row }

// Next begins the next row.
func (p *Page) Next() {
	p.end()
	p.row, p.column, p.name = p.row+1, 1, ""
}

// Name begins the next row with what it is called.
func (p *Page) Name(name string) {
	p.Next()
	p.Styled(name, Key)
	p.name = name
}

// To goes to a column of the row, and leaves out the cells before it.
func (p *Page) To(column int) { p.column = column }

// Word fills the next cell with text on one line.
func (p *Page) Word(word string) {
	look, ok := p.Looks[p.name]
	if !ok {
		look = Fact
	}
	p.Styled(word, look)
}

// Number fills the next cell with a number.
func (p *Page) Number(v float64) { p.Value(v, Fact) }

// Text fills as many cells as a person's text takes; what fits one cell is wrapped
// over several columns.
func (p *Page) Text(text string) {
	look, ok := p.Looks[p.name]
	if !ok {
		look = Wrapped
	}
	first := p.column
	p.Long(text, look)
	if !ok && utf8.RuneCountInString(text) < 5000 && !strings.ContainsRune(text, '\r') {
		p.Merge(first, 9)
		lines := 0
		for line := range strings.SplitSeq(text, "\n") {
			lines += 1 + utf8.RuneCountInString(line)/80
		}
		p.height = min(15*float64(lines), 400)
	}
}

// JSON fills as many cells as a value takes, of which one line is in sight: it is
// for machines.
func (p *Page) JSON(value string) {
	p.Long(value, Wrapped)
	p.height = 15
}

// Long fills as many cells as a text takes.
func (p *Page) Long(text string, s Style) {
	for _, piece := range sheet.Split(text) {
		p.Styled(piece, s)
	}
}

// Styled fills the next cell with text in a look of its own, or with the look alone.
// Longer text than fits one cell is an error: it is a label, which nobody reads at that
// length. Text stands in its cell and not in a list that cells share: no text of ours
// stands in many of them, and a shared list would have to be kept until the last
// sheet is written.
func (p *Page) Styled(text string, s Style) {
	if len(sheet.Split(text)) > 1 {
		p.w.note(fmt.Errorf("%s is too long for a workbook's cell", tables.Quote(text)))
		return
	}
	if p.cell(s); text == "" {
		p.cells = append(p.cells, "></c>"...)
		return
	}
	p.cells = append(p.cells, ` t="inlineStr"><is><t`...)
	if strings.TrimSpace(text) != text {
		p.cells = append(p.cells, ` xml:space="preserve"`...)
	}
	b := bytes.NewBuffer(append(p.cells, '>'))
	xml.EscapeText(b, []byte(escape(text)))
	p.cells = append(b.Bytes(), "</t></is></c>"...)
}

// Value fills the next cell with a number in a look of its own; the empty cell, NaN,
// with the look alone.
func (p *Page) Value(v float64, s Style) {
	if p.cell(s); math.IsNaN(v) {
		p.cells = append(p.cells, "></c>"...)
		return
	}
	p.cells = append(tables.AppendValue(append(p.cells, "><v>"...), v), "</v></c>"...)
}

// Fill gives the next cells a look.
func (p *Page) Fill(cells int, s Style) {
	for range cells {
		p.Styled("", s)
	}
}

// cell begins the next cell.
func (p *Page) cell(s Style) {
	b := append(append(p.cells, `<c r="`...), sheet.ColumnName(p.column)...)
	b = append(strconv.AppendInt(b, int64(p.row), 10), '"')
	if id := p.w.id(s); id != 0 {
		b = append(strconv.AppendInt(append(b, ` s="`...), int64(id), 10), '"')
	}
	p.cells = b
	if p.row > sheet.MostRows || p.column > sheet.MostColumns {
		p.w.note(fmt.Errorf("sheet %s: row %d, column %d is beyond the %d rows and %d columns that a workbook's sheet has", p.Tab, p.row, p.column, sheet.MostRows, sheet.MostColumns))
	}
	p.column++
}

// end writes the row that was filled, if there is anything in it.
func (p *Page) end() {
	if len(p.cells) == 0 {
		return
	}
	p.w.turn(p)
	fmt.Fprintf(p.w.part, `<row r="%d"`, p.row)
	if p.height > 0 {
		fmt.Fprintf(p.w.part, ` ht="%v" customHeight="1"`, p.height)
	}
	p.w.part.WriteByte('>')
	p.w.part.Write(p.cells)
	p.w.part.WriteString("</row>")
	p.cells, p.height = p.cells[:0], 0
}
