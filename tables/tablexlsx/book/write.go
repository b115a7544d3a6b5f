package book

import (
	"archive/zip"
	"bufio"
	"bytes"
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
// text and JSON of any length, of what a sheet is called, and of headings, beside numbers and over them.
var (
	Key     = Style{Colour: "#5A6673", Top: true}
	Fact    = Style{Align: "left", Top: true}
	Wrapped = Style{Align: "left", Wrap: true}
	Large   = Style{Bold: true, Size: 15, Align: "left"}
	Head    = Style{Bold: true, Fill: "#E6EAEE", Border: "thin"}
	Heading = Style{Bold: true, Fill: "#E6EAEE", Border: "thin", Align: "center"}
)

// author signs the comments that calsplice writes, so that a reader tells them
// from a person's.
const author = "calsplice"

// family is a typeface that every program has, or has one of the same widths for.
const family = "Arial"

// Writer builds a workbook, and packs its parts as they come: nothing is kept of a cell,
// and nothing is written before all is known to be well. Its methods and those of its
// pages keep the first error, which [Writer.Write] returns. What its templates look
// at is exported.
type Writer struct {
	Pages  []*Page
	Styles []Style  // each once, whatever number of cells has it
	Titles []titles // rows that are printed on every page

	ids    map[Style]int   // by which cells name them, from 1
	labels map[string]bool // sheet names in use, lower case
	packed pieces
	zip    *zip.Writer
	part   *bufio.Writer // the part that is being written
	page   *Page         // the page whose part it is; nil where it is another one
	err    error
}

// pieces are bytes as they came: a buffer that grows would hold them twice.
type pieces [][]byte

func (p *pieces) Write(b []byte) (int, error) {
	*p = append(*p, bytes.Clone(b))
	return len(b), nil
}

type titles struct {
	Page *Page
	Rows int
}

// NewWriter begins a workbook without sheets. Its first parts tell other programs what
// it is.
func NewWriter() *Writer {
	w := &Writer{ids: map[Style]int{}, labels: map[string]bool{}, part: bufio.NewWriterSize(io.Discard, 1<<16)}
	w.zip = zip.NewWriter(&w.packed)
	w.templates("_rels/.rels", "docProps/core.xml")
	return w
}

// Page adds a sheet, to be filled before or after others. Its name is the label as far as the programs allow: no
// more than 31 UTF-16 units, none of their forbidden characters, no two alike
// but for capitals.
func (w *Writer) Page(label string) *Page {
	p := &Page{Tab: w.unique(label), Nth: len(w.Pages) + 1, w: w}
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

// Short is text that is only shown, with a mark where it is longer than a person looks
// at.
func Short(text string, most int) string {
	if short := cut(text, most); short != text {
		return short + "…"
	}
	return text
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
		"cell":   sheet.Name,
		"family": func() string { return family },
		"number": tables.FormatValue,
		"x": func(text string) string {
			var b strings.Builder
			xml.EscapeText(&b, []byte(escape(text)))
			return b.String()
		},
	}).Parse(partsText))
})

// begin begins a part with its template.
func (w *Writer) begin(name, from string, of any) {
	w.note(w.part.Flush())
	part, err := w.zip.Create(name)
	if w.note(err); err == nil {
		w.part.Reset(part)
		w.note(parts().ExecuteTemplate(w.part, from, of))
	}
}

// templates writes parts that hold no cells. Parts have no time of their own, so that
// the same calls give the same bytes.
func (w *Writer) templates(names ...string) {
	for _, name := range names {
		w.begin(name, name, w)
	}
}

// turn ends the page that is being written where that is another one, and begins this
// one; nil is none.
func (w *Writer) turn(p *Page) {
	old := w.page
	if old == p {
		return
	}
	if old != nil {
		old.end()
		w.note(parts().ExecuteTemplate(w.part, "after the cells", old))
		if old.Comments != nil {
			w.begin(fmt.Sprintf("xl/worksheets/_rels/sheet%d.xml.rels", old.Nth), "links of a sheet", old)
			w.begin(fmt.Sprintf("xl/comments%d.xml", old.Nth), "comments", old)
			w.begin(fmt.Sprintf("xl/drawings/vmlDrawing%d.vml", old.Nth), "boxes of comments", old)
		}
	}
	if w.page = p; p == nil {
		return
	}
	if p.begun {
		w.note(fmt.Errorf("the sheet %s is filled after another one was begun", p.Tab))
	}
	p.begun = true
	w.begin(fmt.Sprintf("xl/worksheets/sheet%d.xml", p.Nth), "before the cells", p)
}

// Write writes the workbook.
func (w *Writer) Write(out io.Writer) error {
	for _, p := range w.Pages {
		if p.end(); !p.begun {
			w.turn(p)
		}
	}
	w.turn(nil)
	w.templates("[Content_Types].xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/styles.xml")
	w.note(w.part.Flush())
	w.note(w.zip.Close())
	for i := 0; i < len(w.packed) && w.err == nil; i++ {
		_, w.err = out.Write(w.packed[i])
	}
	return w.err
}

// Address is the sheet as a cell of another one names it.
func (p *Page) Address() string { return "'" + strings.ReplaceAll(p.Tab, "'", "''") + "'" }

// Link makes the cell that was filled last lead to another sheet.
func (p *Page) Link(to *Page) { p.Links = append(p.Links, link{p.row, p.column - 1, to}) }

// Comment hangs a note onto the cell that was filled last.
func (p *Page) Comment(text string) {
	if text == "" {
		return
	}
	shown := Short(text, 2000)
	// A box shows some 40 characters on a line, and is not let grow past a screen.
	lines := 3 + strings.Count(shown, "\n") + utf8.RuneCountInString(shown)/40
	p.Comments = append(p.Comments, comment{p.row, p.column - 1, shown, min(lines, 30)})
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

// Merge joins cells of the row into one.
func (p *Page) Merge(column, last int) {
	if column != last {
		p.Merged = append(p.Merged, sheet.Name(p.row, column)+":"+sheet.Name(p.row, last))
	}
}

// Width sets the width of columns, in characters: from left to right, and of each
// column once, as a workbook has it.
func (p *Page) Width(column, last int, characters float64) {
	p.Widths = append(p.Widths, columns{column, last, characters})
}

// Freeze keeps the rows above and the columns left of a cell in sight.
func (p *Page) Freeze(row, column int) {
	p.Frozen = &frozen{row - 1, column - 1}
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
