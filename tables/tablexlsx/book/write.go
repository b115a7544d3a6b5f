package book

import (
	"archive/zip"
	"bufio"
	_ "embed"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"sync"
	"text/template"
	"unicode/utf8"

	"calsplice/tables"
	"calsplice/tables/sheet"
)

// Style is how a cell looks. The zero Style is a plain cell.
type Style struct {
	Bold, Italic bool
	Size         float64 // in points; 0 is 10
	Colour, Fill string  // "#rrggbb"; "" for none
	Border       string  // "thin" or "thick", all round; "" for none
	Align        string  // "left", "center", "right"; "" by content
	Wrap         bool    // lines, from the top of the cell
	Top          bool    // at the top of the cell
	Format       string  // number format such as "0.000"; "" for general
}

// The looks that all sheets share: of what a row is called, of a fact behind it, of
// what a sheet is called, and of headings, beside numbers and over them.
var (
	Key     = Style{Colour: "#5A6673", Top: true}
	Fact    = Style{Align: "left", Top: true}
	Large   = Style{Bold: true, Size: 15, Align: "left"}
	Head    = Style{Bold: true, Fill: "#E6EAEE", Border: "thin"}
	Heading = Style{Bold: true, Fill: "#E6EAEE", Border: "thin", Align: "center"}
)

// author signs the comments that calsplice writes, so that a reader tells them
// from a person's.
const author = "calsplice"

// family is a typeface that every program has, or has one of the same widths for.
const family = "Arial"

// Writer builds a workbook. Its methods and those of its pages keep the first
// error, which [Writer.Write] returns. What its templates look at is exported.
type Writer struct {
	Pages  []*Page
	Styles []Style  // each once, whatever number of cells has it
	Titles []titles // rows that are printed on every page

	ids    map[Style]int   // by which cells name them, from 1
	labels map[string]bool // sheet names in use, lower case
	err    error
}

type titles struct {
	Page *Page
	Rows int
}

// Fits is an error where a sheet does not hold as many rows and columns.
func Fits(rows, columns int) error {
	switch {
	case rows > sheet.MostRows:
		return fmt.Errorf("%d rows are more than a workbook's sheet holds (%d)", rows, sheet.MostRows)
	case columns > sheet.MostColumns:
		return fmt.Errorf("%d columns are more than a workbook's sheet holds (%d)", columns, sheet.MostColumns)
	}
	return nil
}

// NewWriter begins a workbook without sheets.
func NewWriter() *Writer { return &Writer{ids: map[Style]int{}, labels: map[string]bool{}} }

// Page adds a sheet. Its name is the label as far as the programs allow: no
// more than 31 UTF-16 units, none of their forbidden characters, no two alike
// but for capitals.
func (w *Writer) Page(label string) *Page {
	p := &Page{Name: w.unique(label), Nth: len(w.Pages) + 1, w: w}
	w.Pages = append(w.Pages, p)
	return p
}

// unique makes a name that every program accepts for a sheet, and that no
// earlier page has. Programs compare names without regard to capitals.
func (w *Writer) unique(label string) string {
	clean := strings.Map(func(r rune) rune {
		if r < 0x20 || r == utf8.RuneError || strings.ContainsRune(`:\/?*[]`, r) {
			return '-'
		}
		return r
	}, label)
	clean = strings.Trim(clean, "' ")
	if clean == "" || strings.EqualFold(clean, "history") { // a name that one program keeps for itself
		clean = "sheet " + clean
	}
	for n := 1; ; n++ {
		tail := ""
		if n > 1 {
			tail = fmt.Sprintf("~%d", n)
		}
		name := strings.TrimRight(cut(clean, 31-len(tail)), "' ") + tail
		if key := strings.ToLower(name); !w.labels[key] {
			w.labels[key] = true
			return name
		}
	}
}

// cut is the beginning of s in no more than n UTF-16 units.
func cut(s string, n int) string {
	for i, r := range s {
		n--
		if r >= 0x10000 {
			n--
		}
		if n < 0 {
			return s[:i]
		}
	}
	return s
}

// note keeps the first error. What a caller writes after one is lost with the
// workbook, so that no call needs to be checked by itself.
func (w *Writer) note(err error) {
	if w.err == nil && err != nil {
		w.err = err
	}
}

// parts are the templates of a workbook's parts, by their names in it, and of what
// surrounds the cells of a sheet. Lines and sizes are chosen in them once, so that
// all workbooks of the program look alike.
//
//go:embed parts.xml
var partsText string

var parts = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("").Funcs(template.FuncMap{
		"add":    func(a, b int) int { return a + b },
		"argb":   func(colour string) string { return "FF" + strings.ToUpper(colour[1:]) },
		"author": func() string { return author },
		"edge": func(border string) string {
			if border == "thick" {
				return `style="thick"><color rgb="FF000000"/>`
			}
			return `style="thin"><color rgb="FFB0B0B0"/>`
		},
		"family": func() string { return family },
		"number": tables.FormatValue,
		"x": func(text string) string {
			var b strings.Builder
			xml.EscapeText(&b, []byte(text))
			return b.String()
		},
	}).Parse(partsText))
})

// Write writes the workbook, each part as it comes: nothing of a sheet is kept but
// what its page holds. Parts have no time of their own, so that the same calls give
// the same bytes.
func (w *Writer) Write(out io.Writer) error {
	z := zip.NewWriter(out)
	for _, name := range []string{"[Content_Types].xml", "_rels/.rels", "docProps/core.xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/styles.xml"} {
		w.part(z, name, name, w)
	}
	for _, p := range w.Pages {
		w.part(z, fmt.Sprintf("xl/worksheets/sheet%d.xml", p.Nth), "", p)
		if p.Comments != nil {
			w.part(z, fmt.Sprintf("xl/worksheets/_rels/sheet%d.xml.rels", p.Nth), "links of a sheet", p)
			w.part(z, fmt.Sprintf("xl/comments%d.xml", p.Nth), "comments", p)
			w.part(z, fmt.Sprintf("xl/drawings/vmlDrawing%d.vml", p.Nth), "boxes of comments", p)
		}
	}
	w.note(z.Close())
	return w.err
}

// part writes a part from its template; a page that has none from its cells, and
// what surrounds them.
func (w *Writer) part(z *zip.Writer, name, from string, of any) {
	if w.err != nil {
		return
	}
	into, err := z.Create(name)
	if w.note(err); err != nil {
		return
	}
	b := bufio.NewWriterSize(into, 1<<16)
	if p, ok := of.(*Page); ok && from == "" {
		w.note(parts().ExecuteTemplate(b, "before the cells", p))
		p.write(b)
		from = "after the cells"
	}
	w.note(parts().ExecuteTemplate(b, from, of))
	w.note(b.Flush())
}

// Address is the sheet as a cell of another one names it.
func (p *Page) Address() string { return "'" + strings.ReplaceAll(p.Name, "'", "''") + "'" }

// Link makes a cell lead to another sheet.
func (p *Page) Link(row, column int, to *Page) {
	p.Links = append(p.Links, link{sheet.Name(row, column), to})
}

// Comment hangs a note onto a cell.
func (p *Page) Comment(row, column int, text string) {
	if text == "" {
		return
	}
	shown := strings.ToValidUTF8(strings.Map(func(r rune) rune {
		if r < 0x20 && r != '\n' && r != '\t' || r == 0xfffe || r == 0xffff {
			return ' '
		}
		return r
	}, text), "")
	if short := cut(shown, 2000); short != shown {
		shown = short + " …"
	}
	// A box shows some 40 characters on a line, and is not let grow past a screen.
	lines := 3 + strings.Count(shown, "\n") + utf8.RuneCountInString(shown)/40
	p.Comments = append(p.Comments, comment{sheet.Name(row, column), shown, row, column, min(lines, 30)})
}

// id is the number by which cells name a style; 0 is none. Each style has a font, a
// fill and an edge of its own in the templates, whether another looks the same in
// that or not: a workbook of ours has some dozen styles.
func (w *Writer) id(s Style) int {
	if s == (Style{}) {
		return 0
	}
	id, ok := w.ids[s]
	if !ok {
		w.Styles = append(w.Styles, s)
		id = len(w.Styles)
		w.ids[s] = id
	}
	return id
}

// Merge joins a block of cells into one.
func (p *Page) Merge(row, column, lastRow, lastColumn int) {
	if row != lastRow || column != lastColumn {
		p.Merged = append(p.Merged, sheet.Name(row, column)+":"+sheet.Name(lastRow, lastColumn))
	}
}

// Protect keeps a person from changing a page that is only a view. There is no
// password: it can be taken off.
func (p *Page) Protect() { p.Protected = true }

// Width sets the width of columns, in characters: from left to right, and of each
// column once, as a workbook has it.
func (p *Page) Width(column, last int, characters float64) {
	p.Widths = append(p.Widths, columns{column, last, characters})
}

// Freeze keeps the rows above and the columns left of a cell in sight.
func (p *Page) Freeze(row, column int) {
	p.Frozen = &frozen{row - 1, column - 1, sheet.Name(row, column)}
}

// Shade lays a colour scale over a block of cells, such as B2:F9: the colours of low, of the
// middle and of high. The program shades, so that an edited cell takes its new
// colour.
func (p *Page) Shade(block string, at [3]float64, colours [3]string) {
	p.Shades = append(p.Shades, scale{block, at, colours})
}

// Print lays the sheet out for paper: across, one page wide, the first rows on
// every page.
func (p *Page) Print(headRows int) {
	if p.Printed = true; headRows > 0 {
		p.w.Titles = append(p.w.Titles, titles{p, headRows})
	}
}

// Decimals is the number format for values that stand together, equally many
// decimals each. Where they are written in six decimals or fewer it shows them
// whole; where they are computed ones, with endless decimals, four digits of the
// largest. What a cell holds is not rounded by it.
func Decimals(values []float64, resolution float64) string {
	most, largest := 0, 0.0
	for _, v := range append(slices.Clone(values), resolution) {
		if math.IsNaN(v) {
			continue
		}
		largest = max(largest, math.Abs(v))
		most = max(most, tables.Decimals(v))
	}
	if most > 6 || largest >= 1e12 {
		if largest >= 1e9 || largest < 1e-3 {
			return "0.000E+00"
		}
		most = max(3-int(math.Floor(math.Log10(largest))), 0)
	}
	if most == 0 {
		return "0"
	}
	return "0." + strings.Repeat("0", most)
}
