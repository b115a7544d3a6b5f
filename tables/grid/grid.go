// Package grid reads and writes bare grids: the numbers of one table as people
// copy them out of an editor or a spreadsheet and paste them back.
//
// A grid is text with a tab, semicolon or comma between cells. Its first row is
// x, its first column is y, and its corner is anything; or it holds values
// alone. [Read] finds the cells, whatever hand they come from: CRLF,
// byte-order marks, UTF-16, Windows-1252, decimal commas, blanks around numbers
// that are no ordinary blanks, a real minus sign, a degree sign behind a
// number. [Raw.Shape] makes axes and values of them.
//
// What a grid becomes depends on what is wanted of it, since a copied block seldom
// says so itself: [Raw.Shape] is told which axes there are and whether their
// breakpoints are known, from --x and --y, from a table that it is to be like, or
// from the table that it replaces. A cell in the corner that is no number stands
// before breakpoints; a number there leaves the size to decide, and where that does
// not, the grid is refused with the two sizes that it could have.
//
// It changes no number by a guess: a thousands separator, two decimal marks, or
// numbers of which each could be either are refused, and the refusal says what
// to give. One reading that is common is taken and said: points between tabs
// are decimal, although three digits stand behind every one.
//
// It does not read documents, has no titles and no units, and finds no grid within
// a larger sheet: the person copies the block, or names it as a range.
package grid

import (
	"bytes"
	"errors"
	"io"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/strictcsv"
)

// Raw is a grid of cells, each row as long as any other.
type Raw struct {
	sheet.Reader // knows the cells' places, and gathers what is wrong with them
	Cells        []sheet.Row
	Comma        byte // the delimiter; 0 for a workbook
	// Decimal is the mark that a person named, 0 where it is to be told from
	// the numbers.
	Decimal byte
}

// Read finds the cells of a grid in text. Empty rows and columns around it are
// left out. Decimal is '.' or ',' where a person named the mark, else 0.
func Read(data []byte, file string, decimal byte) (*Raw, error) {
	g := &Raw{Reader: sheet.Reader{File: file}, Decimal: decimal}
	if int64(len(data)) > tables.MaxBytes() {
		g.Break(errors.New(tables.TooManyBytes()))
		return nil, g.Err()
	}
	text := strictcsv.Text(&g.Reader, decode(data))
	if start := strings.TrimLeft(text, " \t\r\n"); strings.HasPrefix(start, "{") || strings.HasPrefix(start, "calsplice,1,") {
		g.BreakAt(0, "this is a document, expected the bare grid of one table (give prints one)")
	}
	g.Comma = delimiter(text, decimal)
	r := strictcsv.New(&g.Reader, g.Comma)
	r.Loose = true
	for row := r.Next(nil); row != nil; row = r.Next(nil) {
		g.Cells = append(g.Cells, row)
	}
	if err := g.Err(); err != nil {
		return nil, err
	}
	return g.trim()
}

// decode turns what the clipboard and old spreadsheets give into UTF-8.
func decode(data []byte) []byte {
	data = strictcsv.FromUTF16(data)
	if !utf8.Valid(data) && bytes.IndexByte(data, 0) < 0 {
		// Windows-1252 gives every byte a meaning but for five.
		if text, err := charmap.Windows1252.NewDecoder().Bytes(data); err == nil && !bytes.ContainsRune(text, utf8.RuneError) {
			data = text
		}
	}
	return data
}

// delimiter reports what stands between cells: the first of tab, semicolon and
// comma that there is at all. A comma that is given as the decimal mark is
// none, unless quotes stand beside it, as around every number that holds one.
func delimiter(text string, decimal byte) byte {
	switch {
	case strings.Contains(text, "\t"):
		return '\t'
	case strings.Contains(text, ";") || decimal == ',' && !strings.Contains(text, `",`) && !strings.Contains(text, `,"`):
		return ';'
	}
	return ','
}

// tidy takes away what stands around a cell's text: blanks of every kind, and
// marks that have no width.
func tidy(s string) string {
	return strings.TrimFunc(s, func(c rune) bool {
		return unicode.IsSpace(c) || c == '\u200b' || c == '\u2060' || c == '\ufeff' || c == '\u200e' || c == '\u200f'
	})
}

// trim leaves out empty rows, and empty columns at the right; it makes all rows
// equally long, or refuses.
func (g *Raw) trim() (*Raw, error) {
	rows := slices.DeleteFunc(g.Cells, func(row sheet.Row) bool {
		for i := range row {
			row[i].Text = tidy(row[i].Text)
		}
		return len(tidyRow(row)) == 0
	})
	if len(rows) == 0 {
		return nil, &tables.Fault{File: g.File, What: "the grid is empty"}
	}
	width := usual(rows)
	for i, row := range rows {
		// A corner left out, and not only left empty, shortens the first row.
		if i == 0 && len(row) == width-1 {
			row = append(sheet.Row{{Pos: row[0].Pos}}, row...)
		}
		if n := len(tidyRow(row)); n > width {
			g.Fault(row[width], "row has %s, the others have %d", tables.Plural(n, "cell"), width)
		} else if len(row) < width {
			g.Fault(row[len(row)-1], "row has %s, the others have %d", tables.Plural(len(row), "cell"), width)
		}
		rows[i] = row[:min(len(row), width)]
	}
	for g.Cells = rows; width > 1 && g.Faults == nil && !slices.ContainsFunc(rows, func(row sheet.Row) bool { return row[0].Text != "" }); width-- {
		for i := range rows {
			rows[i] = rows[i][1:]
		}
	}
	if len(rows)*width > tables.MaxCells() {
		return nil, &tables.Fault{File: g.File, What: tables.TooManyCells()}
	}
	if err := g.Err(); err != nil {
		return nil, err
	}
	return g, nil
}

// usual is how many cells the middle one of the rows has by length: where a few are
// longer, these are called too long, and not the many too short.
func usual(rows []sheet.Row) int {
	lengths := tables.Each(rows, func(row sheet.Row) int { return len(tidyRow(row)) })
	widest := slices.Max(lengths)
	for i, row := range rows {
		lengths[i] = min(len(row), widest)
	}
	slices.Sort(lengths)
	return lengths[len(lengths)/2]
}

// tidyRow is a row without the empty cells at its end, which editors add or leave
// out as they like.
func tidyRow(row sheet.Row) sheet.Row {
	for len(row) > 0 && row[len(row)-1].Text == "" {
		row = row[:len(row)-1]
	}
	return row
}

// Dress is how a grid is written.
type Dress struct {
	Comma      byte // between cells
	Decimal    byte // '.' where 0
	ValuesOnly bool // without the breakpoints
}

// Write writes a table as a bare grid. The corner, and what stands before a
// curve's values, is empty.
func Write(w io.Writer, t *tables.Table, d Dress) error {
	var b []byte
	named := t.X() != nil && !d.ValuesOnly
	row := func(point string, values []float64) {
		cells := tables.Each(values, tables.FormatValue)
		if named {
			cells = slices.Insert(cells, 0, point)
		}
		line := strings.Join(cells, string(d.Comma))
		if d.Decimal != 0 {
			line = strings.ReplaceAll(line, ".", string(d.Decimal))
		}
		b = append(append(b, line...), '\n')
	}
	if named {
		row("", t.X().Points())
	}
	for r := range t.Rows() {
		point := ""
		if t.Y() != nil {
			point = tables.FormatValue(t.Y().At(r))
		}
		row(point, t.Row(r))
	}
	_, err := w.Write(b)
	return err
}
