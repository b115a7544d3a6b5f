package book

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// Page is one sheet of a workbook being written. What it holds is kept as it was
// given: a row of numbers as the list that it stands in. What its templates look at
// is exported.
type Page struct {
	Name      string // the sheet's
	Nth       int    // from 1
	Printed   bool
	Protected bool
	Frozen    *frozen
	Widths    []columns
	Merged    []string // blocks of cells
	Shades    []scale
	Links     []link
	Comments  []comment

	w    *Writer
	rows []pageRow // from row 1 on
	text []byte    // of the cell being written
}

// What a page shows beside its cells, as the templates look at it.
type (
	frozen struct {
		Rows, Columns int
		Cell          string // the first that is not
	}
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
		Cell string
		To   *Page
	}
	comment struct {
		Cell, Text  string
		Row, Column int
		Rows        int // that its box covers
	}
)

// pageRow is what a row holds: numbers of one look, and cells that were written by
// themselves, in the order of their columns.
type pageRow struct {
	height        float64 // 0 for the program's own
	cells         []pageCell
	column, style int // of the numbers: the first one's, and all of theirs
	numbers       []float64
}

// pageCell is a cell that was written by itself. One with neither text nor a
// number has a look alone, for the number under it or for nothing.
type pageCell struct {
	column, style int
	number        float64 // NaN for none
	text          string
}

func (c *pageCell) blank() bool { return c.text == "" && math.IsNaN(c.number) }

// row is a row to be filled.
func (p *Page) row(n int) *pageRow {
	if n > len(p.rows) {
		p.rows = append(p.rows, make([]pageRow, n-len(p.rows))...)
	}
	return &p.rows[n-1]
}

// cell is a cell to be filled: the one that is there, or a new one.
func (p *Page) cell(row, column int, s Style) *pageCell {
	r := p.row(row)
	i, found := slices.BinarySearchFunc(r.cells, column, func(c pageCell, column int) int { return c.column - column })
	if !found {
		r.cells = slices.Insert(r.cells, i, pageCell{column: column, number: math.NaN()})
	}
	if id := p.w.id(s); id != 0 {
		r.cells[i].style = id
	}
	return &r.cells[i]
}

// Number writes a number; the empty cell, NaN, stays empty.
func (p *Page) Number(row, column int, v float64, s Style) { p.cell(row, column, s).number = v }

// Numbers writes the numbers of a row, which has no others, from a column on. The
// caller must not change them afterwards.
func (p *Page) Numbers(row, column int, numbers []float64, s Style) {
	r := p.row(row)
	r.column, r.style, r.numbers = column, p.w.id(s), numbers
}

// Text writes text that fits one cell. Longer text is an error: it is a label,
// which nobody reads at that length.
func (p *Page) Text(row, column int, text string, s Style) {
	if len(sheet.Split(text)) > 1 {
		p.w.note(fmt.Errorf("%s is too long for a workbook's cell", tables.Quote(text)))
		return
	}
	p.cell(row, column, s).text = text
}

// Long writes text over as many cells of a row as it takes, from a column on.
func (p *Page) Long(row, column int, text string, s Style) {
	for i, piece := range sheet.Split(text) {
		if column+i > sheet.MostColumns {
			p.w.note(fmt.Errorf("%s is too long for a workbook's row", tables.Quote(text)))
			return
		}
		p.cell(row, column+i, s).text = piece
	}
}

// Style gives the cells of a row from one column to another a look.
func (p *Page) Style(row, column, last int, s Style) {
	for ; column <= last; column++ {
		p.cell(row, column, s)
	}
}

// Height sets the height of a row, in lines of plain text.
func (p *Page) Height(row int, lines float64) { p.row(row).height = min(15*lines, 400) }

// write writes the cells.
func (p *Page) write(w *bufio.Writer) {
	w.WriteString("<sheetData>")
	for i := range p.rows {
		if r := &p.rows[i]; r.height > 0 || r.cells != nil || r.numbers != nil {
			p.writeRow(w, i+1, r)
		}
	}
	w.WriteString("</sheetData>")
}

// writeRow writes a row as ISO/IEC 29500 has it: its numbers, and over them the
// cells that were written by themselves.
func (p *Page) writeRow(w *bufio.Writer, n int, r *pageRow) {
	b := append(strconv.AppendInt(append(p.text[:0], `<row r="`...), int64(n), 10), '"')
	if r.height > 0 {
		b = append(strconv.AppendFloat(append(b, ` ht="`...), r.height, 'f', -1, 64), `" customHeight="1"`...)
	}
	w.Write(append(b, '>'))
	own := r.cells
	for i, v := range r.numbers {
		c := pageCell{r.column + i, r.style, v, ""}
		for ; len(own) > 0 && own[0].column <= c.column; own = own[1:] {
			if own[0].column < c.column {
				p.writeCell(w, n, own[0])
				continue
			}
			if c = own[0]; c.blank() {
				c.number = v
			}
		}
		p.writeCell(w, n, c)
	}
	for _, c := range own {
		p.writeCell(w, n, c)
	}
	w.WriteString("</row>")
}

// writeCell writes a cell. Text stands in it and not in a list that cells share: no
// text of ours stands in many of them, and a shared list would have to be kept until
// the last sheet is written.
func (p *Page) writeCell(w *bufio.Writer, row int, c pageCell) {
	b := append(append(p.text[:0], `<c r="`...), sheet.ColumnName(c.column)...)
	b = append(strconv.AppendInt(b, int64(row), 10), '"')
	if c.style != 0 {
		b = append(strconv.AppendInt(append(b, ` s="`...), int64(c.style), 10), '"')
	}
	switch {
	case c.text != "":
		b = append(b, ` t="inlineStr"><is><t`...)
		if strings.TrimSpace(c.text) != c.text {
			b = append(b, ` xml:space="preserve"`...)
		}
		w.Write(append(b, '>'))
		xml.EscapeText(w, []byte(escape(c.text)))
		b = append(b[:0], "</t></is></c>"...)
	case !math.IsNaN(c.number):
		b = append(tables.AppendValue(append(b, "><v>"...), c.number), "</v></c>"...)
	default:
		b = append(b, "></c>"...)
	}
	w.Write(b)
	p.text = b
}
