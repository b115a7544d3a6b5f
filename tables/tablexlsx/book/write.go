package book

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

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

// author signs the comments that calsplice writes, so that a reader tells them
// from a person's.
const author = "calsplice"

// family is a typeface that every program has, or has one of the same widths for.
const family = "Arial"

// Writer builds a workbook. Its methods and those of its pages keep the first
// error, which [Writer.WriteTo] returns.
// A Writer names each look once, whatever number of cells has it.
type Writer struct {
	f      *excelize.File
	styles map[Style]int
	labels map[string]bool // sheet names in use, lower case
	pages  []*Page
	err    error
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
func NewWriter() *Writer {
	f := excelize.NewFile()
	w := &Writer{f: f, styles: map[Style]int{}, labels: map[string]bool{}}
	w.note(f.SetDefaultFont(family))
	return w
}

// Page adds a sheet. Its name is the label as far as the programs allow: no
// more than 31 UTF-16 units, none of their forbidden characters, no two alike
// but for capitals.
func (w *Writer) Page(label string) *Page {
	name := w.unique(label)
	p := &Page{w: w, name: name, rows: map[int]*pageRow{}}
	if len(w.pages) == 0 {
		w.note(w.f.SetSheetName(w.f.GetSheetName(0), name))
	} else {
		_, err := w.f.NewSheet(name)
		w.note(err)
	}
	w.pages = append(w.pages, p)
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

// Write writes the workbook. The library lays out everything but the cells,
// which would take hundreds of bytes each in it, and end at 15 digits: they are
// put into its sheets on the way out.
func (w *Writer) Write(out io.Writer) error {
	w.note(w.f.SetDocProps(&excelize.DocProperties{Creator: author, LastModifiedBy: author,
		Created: "2000-01-01T00:00:00Z", Modified: "2000-01-01T00:00:00Z"}))
	w.note(w.f.SetAppProps(&excelize.AppProperties{Application: author}))
	w.f.SetActiveSheet(0)
	if w.err != nil {
		return w.err
	}
	defer w.f.Close()
	bare, err := w.f.WriteToBuffer()
	if err != nil {
		return err
	}
	in, err := zip.NewReader(bytes.NewReader(bare.Bytes()), int64(bare.Len()))
	if err != nil {
		return err
	}
	z := zip.NewWriter(out)
	for _, part := range in.File {
		if err := w.part(z, part); err != nil {
			return err
		}
	}
	return z.Close()
}

// part copies a part of the workbook, a sheet's with its cells.
func (w *Writer) part(z *zip.Writer, part *zip.File) error {
	i := slices.IndexFunc(w.pages, func(p *Page) bool { return p.part() == part.Name })
	if i < 0 {
		return z.Copy(part)
	}
	from, err := part.Open()
	if err != nil {
		return err
	}
	defer from.Close()
	sheet, err := io.ReadAll(from)
	if err != nil {
		return err
	}
	into, err := z.Create(part.Name)
	if err != nil {
		return err
	}
	return w.pages[i].fill(into, sheet)
}

// Link makes a cell lead to another sheet.
func (p *Page) Link(row, column int, to *Page) {
	p.w.note(p.w.f.SetCellHyperLink(p.name, sheet.Name(row, column), "'"+strings.ReplaceAll(to.name, "'", "''")+"'!A1", "Location"))
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
	lines := 1 + strings.Count(shown, "\n") + utf8.RuneCountInString(shown)/40
	p.w.note(p.w.f.AddComment(p.name, excelize.Comment{Author: author, Cell: sheet.Name(row, column),
		Width: 300, Height: uint(min(40+20*lines, 600)), Paragraph: []excelize.RichTextRun{{Text: shown}}}))
}

// id is the number by which cells name a style; 0 is none.
func (w *Writer) id(s Style) int {
	if s == (Style{}) {
		return 0
	}
	id, ok := w.styles[s]
	if !ok {
		var err error
		id, err = w.f.NewStyle(s.spelled())
		w.note(err)
		w.styles[s] = id
	}
	return id
}

// spelled is the look as the library describes it. Lines and sizes are chosen
// once here, so that all workbooks of the program look alike.
func (s Style) spelled() *excelize.Style {
	x := &excelize.Style{Font: &excelize.Font{Bold: s.Bold, Italic: s.Italic, Size: s.Size, Color: s.Colour, Family: family}}
	if s.Size == 0 {
		x.Font.Size = 10
	}
	if s.Fill != "" {
		x.Fill = excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{s.Fill}}
	}
	if s.Border != "" {
		line, colour := 1, "#B0B0B0"
		if s.Border == "thick" {
			line, colour = 5, "#000000"
		}
		for _, side := range []string{"left", "top", "right", "bottom"} {
			x.Border = append(x.Border, excelize.Border{Type: side, Style: line, Color: colour})
		}
	}
	x.Alignment = &excelize.Alignment{Horizontal: s.Align, WrapText: s.Wrap}
	if s.Wrap || s.Top {
		x.Alignment.Vertical = "top"
	}
	if s.Format != "" {
		x.CustomNumFmt = &s.Format
	}
	return x
}

// Merge joins a block of cells into one.
func (p *Page) Merge(row, column, lastRow, lastColumn int) {
	if row != lastRow || column != lastColumn {
		p.w.note(p.w.f.MergeCell(p.name, sheet.Name(row, column), sheet.Name(lastRow, lastColumn)))
	}
}

// Protect keeps a person from changing a page that is only a view. There is no
// password: it can be taken off.
func (p *Page) Protect() {
	p.w.note(p.w.f.ProtectSheet(p.name, &excelize.SheetProtectionOptions{SelectLockedCells: true, SelectUnlockedCells: true,
		FormatColumns: true, FormatRows: true}))
}

// Width sets the width of columns, in characters.
func (p *Page) Width(column, last int, characters float64) {
	p.w.note(p.w.f.SetColWidth(p.name, sheet.ColumnName(column), sheet.ColumnName(last), characters))
}

// Freeze keeps the rows above and the columns left of a cell in sight.
func (p *Page) Freeze(row, column int) {
	pane := "bottomRight"
	switch {
	case column == 1:
		pane = "bottomLeft"
	case row == 1:
		pane = "topRight"
	}
	p.w.note(p.w.f.SetPanes(p.name, &excelize.Panes{Freeze: true, XSplit: column - 1, YSplit: row - 1,
		TopLeftCell: sheet.Name(row, column), ActivePane: pane}))
}

// Shade lays a colour scale over a block of cells, such as B2:F9: the colours of low, of the
// middle and of high. The program shades, so that an edited cell takes its new
// colour.
func (p *Page) Shade(block string, at [3]float64, colours [3]string) {
	v := func(i int) string { return tables.FormatValue(at[i]) }
	p.w.note(p.w.f.SetConditionalFormat(p.name, block,
		[]excelize.ConditionalFormatOptions{{Type: "3_color_scale", Criteria: "=", MinType: "num", MidType: "num", MaxType: "num",
			MinValue: v(0), MidValue: v(1), MaxValue: v(2),
			MinColor: colours[0], MidColor: colours[1], MaxColor: colours[2]}}))
}

// Print lays the sheet out for paper: across, one page wide, the first rows on
// every page.
func (p *Page) Print(headRows int) {
	across, a4, one, none, yes := "landscape", 9, 1, 0, true
	p.w.note(p.w.f.SetPageLayout(p.name, &excelize.PageLayoutOptions{Orientation: &across, Size: &a4, FitToWidth: &one, FitToHeight: &none}))
	p.w.note(p.w.f.SetSheetProps(p.name, &excelize.SheetPropsOptions{FitToPage: &yes}))
	p.w.note(p.w.f.SetHeaderFooter(p.name, &excelize.HeaderFooterOptions{OddFooter: "&L&A&RPage &P of &N"}))
	if headRows > 0 {
		p.w.note(p.w.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", Scope: p.name,
			RefersTo: fmt.Sprintf("'%s'!$1:$%d", strings.ReplaceAll(p.name, "'", "''"), headRows)}))
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
		text := tables.FormatValue(v)
		if i := strings.IndexByte(text, '.'); i >= 0 {
			most = max(most, len(text)-i-1)
		}
		if strings.ContainsAny(text, "eE") {
			most = 99
		}
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
