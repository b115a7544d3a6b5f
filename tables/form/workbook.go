package form

import (
	"io"

	"calsplice/tables"
	"calsplice/tables/tablexlsx/book"
)

// The looks of a form's cells: what is to be filled in stands out.
var (
	blank  = book.Style{Fill: "#FFF6D6", Border: "thin"}
	remark = book.Style{Colour: "#5A6673", Italic: true, Align: "left"}
	named  = book.Style{Bold: true, Fill: "#E6EAEE", Border: "thin", Align: "left"}
)

// shown is how many breakpoints of x and y look as if they were to be filled in;
// there may be more or fewer.
const shownX, shownY = 8, 6

// workbook writes a sheet for the engine, one for each role, and the example.
func (f *Form) workbook(w io.Writer) error {
	out := book.NewWriter()
	f.contents(out.Page("Contents"))
	for _, r := range f.Roles {
		s := sheet{Page: out.Page(string(r))}
		s.table(r)
	}
	example(out.Page("Example"))
	return out.Write(w)
}

// sheet is a page being filled from the top.
type sheet struct {
	*book.Page
	row int
}

// line begins the next row.
func (s *sheet) line(name string, look book.Style) {
	s.row++
	s.Text(s.row, 1, name, look)
}

// pair is a row with a name and text.
func (s *sheet) pair(name, text string, look book.Style) {
	s.line(name, book.Key)
	s.Text(s.row, 2, text, look)
}

// contents writes the facts about the engine, each with its blank, its unit and what
// to type.
func (f *Form) contents(p *book.Page) {
	s := sheet{Page: p}
	s.pair("format", string(tables.Calibrated), book.Fact)
	s.pair("name", f.Name, book.Large)
	if f.Name == "" {
		s.Style(s.row, 2, s.row, 2, blank)
	}
	s.line("# "+wholeHelp, remark)
	s.line("# The sheet Example shows a table that is filled in.", remark)
	for _, e := range facts() {
		s.pair("engine", e.name, book.Fact)
		s.Style(s.row, 3, s.row, 3, blank)
		for i, text := range e.beside() {
			s.Text(s.row, 4+i, text, book.Fact)
			if text == "" {
				s.Style(s.row, 4+i, s.row, 4+i, blank)
			}
		}
		s.Text(s.row, 6, "# "+e.help, remark)
	}
	s.Width(1, 1, 12)
	s.Width(2, 2, 24)
	s.Width(3, 5, 12)
	s.Print(0)
}

// table writes a role's sheet: what is known of the table first, then its grid, in
// which a person sees how many numbers go where.
func (s *sheet) table(r tables.Role) {
	shape := r.Shape()
	s.pair("table", string(r), book.Large)
	s.line("# "+shape.Meaning, remark)
	s.pair("role", string(r), book.Fact)
	s.pair("unit", shape.Unit, book.Fact)
	s.Text(s.row, 3, "# of the values; another one may be written", remark)
	s.pair("resolution", "", blank)
	s.Text(s.row, 3, "# the smallest step that the controller stores; may stay blank", remark)
	for i, h := range shape.Axes {
		s.pair(axisNames[i]+" quantity", h.Quantity, book.Fact)
		s.pair(axisNames[i]+" unit", h.Unit, book.Fact)
	}
	s.line("# "+tableHelp(shape), remark)
	s.Width(1, 1, 24)
	s.Width(2, 1+shownX, 11)
	s.Print(0)
	if len(shape.Axes) == 0 {
		s.pair("value", "", blank)
		return
	}
	s.grid(shape, nil, nil, nil)
}

// grid lays out the heading of a table's values and the place for them, or an
// example.
func (s *sheet) grid(shape tables.Shape, x, y []float64, values [][]float64) {
	label := func(h tables.Heading) string { return h.Quantity + " [" + h.Unit + "]" }
	s.line("values", book.Key)
	s.Style(s.row, 2, s.row, 1+shownX, named)
	s.Text(s.row, 2, label(shape.Axes[0]), named)
	s.Merge(s.row, 2, s.row, 1+shownX)
	s.row++
	head, rows := blank, 1
	head.Bold = true
	if len(shape.Axes) == 2 {
		s.Text(s.row, 1, label(shape.Axes[1]), named)
		rows = shownY
		s.Style(s.row+1, 1, s.row+rows, 1, head)
	}
	s.Style(s.row, 2, s.row, 1+shownX, head)
	s.Style(s.row+1, 2, s.row+rows, 1+shownX, blank)
	for i, v := range x {
		s.Number(s.row, 2+i, v, head)
	}
	for r := range values {
		s.Number(s.row+1+r, 1, y[r], head)
		for i, v := range values[r] {
			s.Number(s.row+1+r, 2+i, v, blank)
		}
	}
}

// example is a sheet that no reader takes for a table: a map, filled in.
func example(p *book.Page) {
	s, r := sheet{Page: p}, tables.InjectorOffset
	s.line("# An example: what is on this sheet is invented, and nothing reads it.", remark)
	s.pair("table", string(r), book.Large)
	s.pair("unit", r.Shape().Unit, book.Fact)
	s.grid(r.Shape(), []float64{8, 10, 12, 14, 16}, []float64{250, 350, 450},
		[][]float64{{2.1, 1.5, 1.12, 0.86, 0.7}, {2.2, 1.58, 1.18, 0.92, 0.75}, {2.3, 1.66, 1.25, 0.98, 0.8}})
	s.Width(1, 1, 24)
	s.Width(2, 1+shownX, 11)
}
