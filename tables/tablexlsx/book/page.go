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
// given: a block of numbers as the list that it stands in. What its templates look
// at is exported.
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

	w      *Writer
	rows   map[int]*pageRow
	blocks []block
	areas  []area
	last   int // the last row that holds anything

	line []pageCell // the row being written
	text []byte     // of the cell being written
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

// pageRow is what was written into a row cell by cell.
type pageRow struct {
	height float64 // 0 for the program's own
	cells  []pageCell
}

// pageCell is a cell that was written by itself. One with neither text nor a
// number has a look alone, for the number of a block or for nothing.
type pageCell struct {
	column, style int
	number        float64 // NaN for none
	text          string
}

// block is numbers row after row.
type block struct {
	row, column, columns int
	values               []float64
}

// area is a block of cells that have a look of their own.
// An area is kept as its edges, since most have as many cells as a table.
type area struct{ row, column, lastRow, lastColumn, style int }

// row is a row to be filled, made where nothing was written into it yet.
func (p *Page) row(n int) *pageRow {
	r := p.rows[n]
	if r == nil {
		r = &pageRow{}
		p.rows[n] = r
		p.last = max(p.last, n)
	}
	return r
}

// cell is a cell to be filled: the one that is there, or a new one.
func (p *Page) cell(row, column int, s Style) *pageCell {
	r := p.row(row)
	i := slices.IndexFunc(r.cells, func(c pageCell) bool { return c.column == column })
	if i < 0 {
		i = len(r.cells)
		r.cells = append(r.cells, pageCell{column: column, number: math.NaN()})
	}
	if id := p.w.id(s); id != 0 {
		r.cells[i].style = id
	}
	return &r.cells[i]
}

// Number writes a number; the empty cell, NaN, stays empty.
func (p *Page) Number(row, column int, v float64, s Style) { p.cell(row, column, s).number = v }

// Numbers writes a block of numbers, row after row, which the caller must not
// change afterwards. Their look is that of the block that [Page.Style] gives.
func (p *Page) Numbers(row, column, columns int, values []float64) {
	p.blocks = append(p.blocks, block{row, column, columns, values})
	p.last = max(p.last, row+(len(values)-1)/columns)
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

// Style gives a block of cells a look. A cell that was written with a look of its
// own keeps that.
func (p *Page) Style(row, column, lastRow, lastColumn int, s Style) {
	if row == lastRow && column == lastColumn {
		p.cell(row, column, s)
		return
	}
	p.areas = append(p.areas, area{row, column, lastRow, lastColumn, p.w.id(s)})
	p.last = max(p.last, lastRow)
}

// Height sets the height of a row, in lines of plain text.
func (p *Page) Height(row int, lines float64) { p.row(row).height = min(15*lines, 400) }

// write writes the cells.
func (p *Page) write(w *bufio.Writer) {
	w.WriteString("<sheetData>")
	for n := 1; n <= p.last; n++ {
		p.writeRow(w, n)
	}
	w.WriteString("</sheetData>")
}

// writeRow writes a row as ISO/IEC 29500 has it. Text stands in its cell and not
// in a list that cells share: no text of ours stands in many of them, and a
// shared list would have to be kept until the last sheet is written.
func (p *Page) writeRow(w *bufio.Writer, n int) {
	cells, height := p.gather(n)
	if len(cells) == 0 && height == 0 {
		return
	}
	b := p.text[:0]
	b = append(strconv.AppendInt(append(b, `<row r="`...), int64(n), 10), '"')
	if height > 0 {
		b = append(strconv.AppendFloat(append(b, ` ht="`...), height, 'f', -1, 64), `" customHeight="1"`...)
	}
	w.Write(append(b, '>'))
	for _, c := range cells {
		if c.column == 0 {
			continue
		}
		b = append(append(b[:0], `<c r="`...), sheet.ColumnName(c.column)...)
		b = append(strconv.AppendInt(b, int64(n), 10), '"')
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
	}
	w.WriteString("</row>")
	p.text = b
}

// gather lists the cells of a row by their columns, so that a row is laid out only
// as it is written: the looks of areas, the
// numbers of blocks in them, and over both the cells that were written one by
// one. A place without a cell has the column 0.
func (p *Page) gather(n int) (cells []pageCell, height float64) {
	cells = p.line[:0]
	defer func() { p.line = cells }()
	at := func(column int) *pageCell {
		for len(cells) < column {
			cells = append(cells, pageCell{number: math.NaN()})
		}
		cells[column-1].column = column
		return &cells[column-1]
	}
	for _, a := range p.areas {
		for c := a.column; c <= a.lastColumn && a.row <= n && n <= a.lastRow; c++ {
			at(c).style = a.style
		}
	}
	for _, b := range p.blocks {
		if i := (n - b.row) * b.columns; i >= 0 && i < len(b.values) {
			for c, v := range b.values[i:min(i+b.columns, len(b.values))] {
				at(b.column + c).number = v
			}
		}
	}
	r := p.rows[n]
	if r == nil {
		return cells, 0
	}
	for _, own := range r.cells {
		c := at(own.column)
		if own.style != 0 {
			c.style = own.style
		}
		if own.text != "" || !math.IsNaN(own.number) {
			c.text, c.number = own.text, own.number
		}
	}
	return cells, r.height
}
