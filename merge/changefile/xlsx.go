package changefile

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/shade"
	"calsplice/tables/sheet"
	"calsplice/tables/tablexlsx"
	"calsplice/tables/tablexlsx/book"
)

// rowMore is a row of a workbook whose from, to and note go on those of the
// row above, where they are longer than a cell.
const rowMore = "more"

// The columns of the list in a workbook: those of every sheet, and among them
// what a person reads but no reader needs.
const (
	viewChange = "change"   // to − from
	viewShare  = "change %" // of from
	viewAfter  = "after"    // a sheet that shows a table afterwards
)

var workbookColumns = slices.Insert(slices.Clone(headings), slices.Index(headings, "count"), viewChange, viewShare)

// WriteXLSX writes the workbook spelling: the same list as the CSV, with each
// edit's place, size and evidence beside it. Where base, the document that the
// change set is for, is given, a sheet for each table that it changes shows the
// table afterwards, its changed cells in thick frames and bold, each with a
// comment that says what it was and what the change rests on.
//
// A reviewer may delete rows of the list and change what stands under "to". The
// sheets behind it are views.
func WriteXLSX(w io.Writer, cs *merge.ChangeSet, base *tables.Calibration) error {
	out := book.NewWriter()
	l := &listPage{Page: out.Page("Changes"), base: base}
	var rows []row
	used := map[string]bool{}
	list(cs, func(r row) {
		rows = append(rows, r)
		for i, p := range r.columns() {
			used[p.Name] = used[p.Name] || r.holds(i, p)
		}
	})
	l.columns = slices.DeleteFunc(slices.Clone(workbookColumns), func(name string) bool {
		return len(rows) > 0 && !used[name] && (slices.Contains(headings[evidence:], name) || name == "field" || name == "with" || name == "after")
	})
	l.most = largest(rows)
	l.head(cs)
	for _, r := range rows {
		l.edit(r)
	}
	writeAfter(out, cs, base)
	return out.Write(w)
}

// listPage is the sheet of edits being filled.
type listPage struct {
	*book.Page
	base    *tables.Calibration
	most    map[string]float64 // the largest change of a cell, by table, against which the others are shaded
	columns []string           // the headings
}

// column is where a heading stands; 0 where it does not.
func (l *listPage) column(name string) int { return slices.Index(l.columns, name) + 1 }

// head writes the rows that belong to the whole set, and the headings under a
// blank row. The headings and the first columns stay in sight while a reviewer goes
// through the list.
func (l *listPage) head(cs *merge.ChangeSet) {
	for i, name := range l.columns {
		l.Width(i+1, i+1, cmp.Or(widths[name], 8))
	}
	l.Print(0)
	trial := book.NewWriter().Page("") // tells how many rows there are
	writeHead(trial, cs, true)
	l.Freeze(1+trial.Row()+1+1+1, 3)
	l.Looks = map[string]book.Style{"title": book.Large, "made_by": book.Fact, "base": book.Fact}
	l.Name("format")
	l.Word(fileFormat)
	writeHead(l, cs, true)
	l.Next()
	l.Next()
	for _, name := range l.columns {
		l.Styled(name, book.Heading)
	}
}

// largest is the largest change of a cell in each table.
func largest(rows []row) map[string]float64 {
	most := map[string]float64{}
	for _, r := range rows {
		if from, to, ok := r.numbers(); ok && r.Edit == rowCell {
			most[r.Table] = max(most[r.Table], math.Abs(to-from))
		}
	}
	return most
}

// numbers are a row's from and to where both are numbers.
func (r row) numbers() (from, to float64, ok bool) {
	if r.isText() {
		return 0, 0, false
	}
	from, err := tables.ParseValue(r.From)
	to, err2 := tables.ParseValue(r.To)
	return from, to, err == nil && err2 == nil
}

// edit writes a row, and as many more as its longest text takes, each with the
// table and the field that it goes on with.
func (l *listPage) edit(r row) {
	long := map[string][]string{"from": sheet.Split(r.From), "to": sheet.Split(r.To), "note": sheet.Split(r.Why.Note)}
	looks := l.looks(r)
	for piece, more := 0, true; more; piece++ {
		l.Next()
		more = false
		for i, p := range r.columns() {
			if i == evidence {
				l.change(r, looks["from"].Format)
			}
			c, look := l.column(p.Name), looks[p.Name]
			l.To(c)
			pieces, isLong := long[p.Name]
			switch {
			case c == 0 || !r.holds(i, p) || piece > 0 && (isLong && piece >= len(pieces) || !isLong && i >= evidence):
			case isLong:
				more = more || piece+1 < len(pieces)
				l.piece(r, pieces[piece], look)
			case p.Text != nil:
				l.Styled(*p.Text, look)
			case p.Whole != nil:
				l.Value(float64(*p.Whole), look)
			default:
				l.Value(*p.Number, look)
			}
		}
		r.Edit = rowMore
	}
}

// looks are those of a row's cells, by their columns. Where there are no samples,
// the numbers that they would give say nothing and are not shown.
func (l *listPage) looks(r row) map[string]book.Style {
	from, to, numbers := r.numbers()
	centre, count, share := book.Style{Align: "center", Top: true}, book.Style{Top: true}, book.Style{Format: "0.00", Top: true}
	if r.Why.Count == 0 {
		count.Format, share.Format = "0.00;-0.00;", "0.00;-0.00;"
	}
	side := book.Style{Top: true}
	if numbers {
		side.Format = book.Decimals([]float64{from, to}, l.resolution(r.Table))
	}
	strong := side
	strong.Bold = true
	looks := map[string]book.Style{"row": centre, "column": centre, "from": side, "to": strong, "count": count, "visits": count,
		"mean": share, "se": share, "at_limit": share, "note": {Align: "left", Wrap: true, Top: true}}
	for _, name := range []string{"edit", "table", "place", "field", "with", "after", "unit"} {
		looks[name] = book.Fact
	}
	return looks
}

// piece writes what of a long text one cell holds, or the number that a row's from
// or to is.
func (l *listPage) piece(r row, text string, look book.Style) {
	note := look.Wrap
	if v, ok := r.asNumber(text); ok && !note {
		l.Value(v, look)
		return
	}
	if look.Align = "left"; look.Format != "" && !note {
		look.Align = "right"
	}
	look.Format = ""
	l.Styled(text, look)
}

// asNumber is the number that a row's from or to is written as. One of more
// digits than every spreadsheet program keeps when it saves (LibreOffice keeps
// 15) stays text: it is what the edit is guarded by.
func (r row) asNumber(text string) (float64, bool) {
	mantissa, _, _ := strings.Cut(text, "e")
	digits := strings.TrimLeft(strings.NewReplacer("-", "", ".", "").Replace(mantissa), "0")
	v, err := tables.ParseValue(text)
	return v, err == nil && !r.isText() && len(digits) <= 15 && tables.FormatValue(v) == text
}

// resolution is what the decimals of from and to follow, so that 2.5 and 2.531
// stand as 2.500 and 2.531 in a table with steps of 0.001.
func (l *listPage) resolution(id string) float64 {
	if l.base == nil || l.base.Table(id) == nil {
		return 0
	}
	return l.base.Table(id).Resolution()
}

// change writes how much a cell changes, shaded by sign and size.
func (l *listPage) change(r row, format string) {
	from, to, numbers := r.numbers()
	by := to - from
	if !numbers || r.Edit != rowCell || math.IsInf(by, 0) {
		return
	}
	look := book.Style{Top: true}
	if format != "" {
		look.Format = "+" + format + ";-" + format + ";" + format
	}
	if most := l.most[r.Table]; most > 0 {
		// Eight shades to a side, so that a workbook has few styles.
		look.Fill = shade.LightSign(math.Round(by/most*8) / 8).String()
	}
	l.To(l.column(viewChange))
	l.Value(by, look)
	if share := by / math.Abs(from) * 100; !math.IsInf(share, 0) {
		l.Value(share, book.Style{Format: "+0.0;-0.0;0.0", Top: true})
	}
}

// widths are those of columns, in characters; others have 8.
var widths = map[string]float64{"edit": 11, viewChange: 11, "from": 11, "to": 11, "field": 11, "table": 22, "place": 22, "note": 60}

// writeAfter adds the views of the changed tables.
func writeAfter(out *book.Writer, cs *merge.ChangeSet, base *tables.Calibration) {
	if base == nil {
		return
	}
	a, err := merge.ApplyWith(base, cs, merge.ApplyOptions{BeyondLimits: true})
	if err != nil {
		return // a change set that does not fit its document has nothing to show
	}
	why := cs.Evidence()
	for _, t := range a.Document.Tables() {
		marks := marks(base.Table(t.ID()), t, why)
		if len(marks) == 0 || t.Columns() >= sheet.MostColumns || t.Rows() > sheet.MostRows-100 {
			continue
		}
		p := out.Page(viewAfter + " " + t.ID())
		tablexlsx.WriteTable(p, viewAfter, t, marks)
		p.Next()
		p.Next()
		p.Styled("A view of the result: to change it, change what stands under \"to\" on the sheet Changes.",
			book.Style{Italic: true, Align: "left"})
		p.Protected = true
	}
}

// mostComments is how many changed cells of a table have their change in words,
// the largest changes first: more are a burden to the program that shows them.
const mostComments = 500

// marks are the cells of a table that a change set changes, in words.
func marks(before, after *tables.Table, why map[merge.Cell]*merge.Evidence) tablexlsx.Marks {
	if before == nil || len(before.Values()) != len(after.Values()) || !before.Axes().SamePoints(after.Axes()) {
		return nil
	}
	marks := tablexlsx.Marks{}
	for n, c := range merge.Largest(before, after) {
		words := ""
		if n < mostComments {
			words = fmt.Sprintf("%s → %s", number(c.From, before.Unit()), number(c.To, after.Unit()))
			if w := why[merge.Cell{Table: c.Table, Row: c.Row, Column: c.Column}]; w != nil {
				words += "\n" + w.Words()
			}
		}
		marks[c.Row*after.Columns()+c.Column] = words
	}
	return marks
}

// number is a value in a comment, with its unit.
func number(v float64, unit string) string {
	if math.IsNaN(v) {
		return "empty"
	}
	return strings.TrimSpace(tables.FormatValue(v) + " " + book.Short(unit, 40))
}
