package form

import (
	"cmp"
	"io"

	"calsplice/tables"
	"calsplice/tables/tablexlsx"
	"calsplice/tables/tablexlsx/book"
)

// The looks of a form's cells: what is to be filled in stands out.
var (
	blank  = book.Style{Fill: "#FFF6D6", Border: "thin"}
	remark = book.Style{Colour: "#5A6673", Italic: true, Align: "left"}
)

// How many breakpoints of x and y look as if they were to be filled in; there may be
// more or fewer.
const shownX, shownY = 8, 6

// pages is a form as a workbook, of which one sheet is being filled.
type pages struct {
	*book.Page
	out    *book.Writer
	beside int // the column of remarks, behind all cells of the sheet
}

func (l *pages) begin(name string, beside int) {
	l.Page, l.beside = l.out.Page(name), beside
	l.Looks = map[string]book.Style{"name": book.Large, "table": book.Large}
	l.Width(1, 1, 24)
	l.Width(2, 2, 24)
	l.Width(3, 1+shownX, 12)
	l.Print(0)
}

func (l *pages) table(id string) { l.begin(id, 3) }
func (l *pages) blank()          { l.Styled("", blank) }
func (l *pages) remark(words string) {
	l.To(l.beside)
	l.Styled("# "+words, remark)
}

// grid lays out the heading of a table's values and the place for them.
func (l *pages) grid(s tables.Shape) {
	l.Name("values")
	l.Styled(s.Axes[0].Label(), book.Head)
	l.Fill(shownX-1, book.Head)
	l.Merge(2, 1+shownX)
	rows, points := 1, blank
	points.Bold = true
	if l.Next(); len(s.Axes) == 2 {
		l.Styled(s.Axes[1].Label(), book.Head)
		rows = shownY
	}
	l.To(2)
	l.Fill(shownX, points)
	for range rows {
		if l.Next(); len(s.Axes) == 2 {
			l.Styled("", points)
		}
		l.To(2)
		l.Fill(shownX, blank)
	}
}

// workbook writes a sheet for the engine, one for each role, and the example.
func (f *Form) workbook(w io.Writer) error {
	l := &pages{out: book.NewWriter()}
	l.begin("Contents", 6)
	l.Name("format")
	l.Word(string(tables.Calibrated))
	l.Name("# The sheet Example shows a table that is filled in.")
	f.rows(l)
	if err := example(l.out.Page("Example")); err != nil {
		return err
	}
	return l.out.Write(w)
}

// example is a sheet that no reader takes for a table: a map, filled in.
func example(p *book.Page) error {
	s := tables.InjectorOffset.Shape()
	s.Axes[0].Points, s.Axes[1].Points = []float64{8, 10, 12, 14, 16}, []float64{250, 350, 450}
	x, errX := s.Axes[0].Axis()
	y, errY := s.Axes[1].Axis()
	t, err := tables.NewTable(tables.Fields{ID: string(tables.InjectorOffset), Unit: s.Unit, X: x, Y: y,
		Values: []float64{2.1, 1.5, 1.12, 0.86, 0.7, 2.2, 1.58, 1.18, 0.92, 0.75, 2.3, 1.66, 1.25, 0.98, 0.8}})
	if err = cmp.Or(errX, errY, err); err == nil {
		tablexlsx.WriteTable(p, "# example", t, nil)
		p.Next()
		p.Next()
		p.Styled("# What is on this sheet is invented, and nothing reads it.", remark)
	}
	return err
}
