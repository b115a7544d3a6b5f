package changefile

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

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
	s, err := newList(cs)
	if err != nil {
		return err
	}
	if err := book.Fits(len(s.rows)+100, 1); err != nil {
		return err
	}
	out := book.NewWriter()
	l := &listPage{Page: out.Page("Changes"), base: base, most: largest(s), columns: used(s)}
	l.head(s)
	for _, r := range s.rows {
		l.edit(r)
	}
	l.finish()
	writeAfter(out, cs, base)
	return out.Write(w)
}

// listPage is the sheet of edits being filled.
type listPage struct {
	*book.Page
	row  int
	top  int // the row of headings
	base *tables.Calibration
	most map[string]float64 // the largest change of a cell, by table

	columns []string // the headings
}

// used lists the columns that any row has something for.
func used(s *list) []string {
	evidence := slices.Index(workbookColumns, "count")
	var columns []string
	for i, name := range workbookColumns {
		has := slices.ContainsFunc(s.rows, func(r row) bool {
			switch {
			case i >= evidence:
				return r.Why != nil
			case name == "field":
				return r.Field != ""
			case name == "with":
				return r.With != ""
			case name == "after":
				return r.After != ""
			}
			return true
		})
		if has || len(s.rows) == 0 {
			columns = append(columns, name)
		}
	}
	return columns
}

// column is where a heading stands; 0 where it does not.
func (l *listPage) column(name string) int { return slices.Index(l.columns, name) + 1 }

// The looks of the list: names in grey, texts at the top of their cells beside a
// note of several lines, headings as those of a table.
var (
	listKey  = book.Style{Colour: "#5A6673", Top: true}
	listText = book.Style{Align: "left", Top: true}
	listHead = book.Style{Bold: true, Fill: "#E6EAEE", Border: "thin", Align: "center"}
)

// largest is the largest change of a cell in each table, against which the
// others are shaded.
func largest(s *list) map[string]float64 {
	most := map[string]float64{}
	for _, r := range s.rows {
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

// head writes the rows that belong to the whole set, and the headings under a
// blank row. Long cautions are wrapped over the list's width, and rows for
// machines show one line.
func (l *listPage) head(s *list) {
	line := func(key, text string, look book.Style) {
		l.row++
		l.Text(l.row, 1, key, listKey)
		l.Long(l.row, 2, text, look)
	}
	line("format", fileFormat, listText)
	line("title", s.Title, book.Style{Bold: true, Size: 15, Align: "left"})
	line("made_by", s.MadeBy, listText)
	if s.Base != (merge.Base{}) {
		line("base", s.Base.Name, listText)
		line("base sha256", s.Base.SHA256, listText)
	}
	for _, c := range s.Cautions {
		line("caution", c, book.Style{Italic: true, Align: "left", Wrap: true})
		if n := utf8.RuneCountInString(c); n < 5000 {
			l.Merge(l.row, 2, l.row, max(len(l.columns), 2))
			across := -width(l.columns[0])
			for _, name := range l.columns {
				across += width(name)
			}
			l.Height(l.row, 1+math.Floor(float64(n)/across)+float64(strings.Count(c, "\n")))
		}
	}
	if s.LeftOut > 0 {
		line("left_out", strconv.Itoa(s.LeftOut), listText)
	}
	json := func(key, value string) {
		line(key, value, book.Style{Align: "left", Wrap: true})
		l.Height(l.row, 1)
	}
	for i := range s.Frames {
		json("frame", string(appendFrame(nil, &s.Frames[i])))
	}
	for _, k := range s.Extra {
		json(k.Key, k.Value)
	}
	l.row += 2
	l.top = l.row
	for i, name := range l.columns {
		l.Text(l.row, i+1, name, listHead)
	}
}

// text and number write under a heading, where it stands.
func (l *listPage) text(heading, text string, look book.Style) {
	if c := l.column(heading); c > 0 {
		l.Text(l.row, c, text, look)
	}
}

// number writes at the top of its cell, as text does: a note beside it may make
// the row several lines high.
func (l *listPage) number(heading string, v float64, look book.Style) {
	look.Top = true
	if c := l.column(heading); c > 0 {
		l.Number(l.row, c, v, look)
	}
}

// edit writes a row, and as many more as its longest text takes.
func (l *listPage) edit(r row) {
	from, to, numbers := r.numbers()
	note := ""
	if r.Why != nil {
		note = r.Why.Note
	}
	pieces := map[string][]string{"from": sheet.Split(r.From), "to": sheet.Split(r.To), "note": sheet.Split(note)}
	l.place(r, r.Edit)
	look := book.Style{Format: book.Decimals([]float64{from, to}, l.resolution(r.Table))}
	strong := look
	strong.Bold = true
	for i := 0; ; i++ {
		more := false
		for _, name := range []string{"from", "to", "note"} {
			if i >= len(pieces[name]) {
				continue
			}
			piece := pieces[name][i]
			more = more || i+1 < len(pieces[name])
			style := map[string]book.Style{"from": look, "to": strong, "note": {Align: "left", Wrap: true}}[name]
			if v, ok := l.asNumber(r, piece); ok && name != "note" && len(pieces[name]) == 1 {
				l.number(name, v, style)
			} else {
				style.Top, style.Format = true, ""
				if style.Align = "left"; numbers && name != "note" {
					style.Align = "right"
				}
				l.text(name, piece, style)
			}
		}
		if i == 0 {
			l.evidence(r.Why)
			if numbers && r.Edit == rowCell {
				l.change(from, to, l.most[r.Table], look.Format)
			}
		}
		if !more {
			return
		}
		l.place(r, rowMore)
	}
}

// asNumber is the number that a row's from or to is written as. One of more
// digits than every spreadsheet program keeps when it saves (LibreOffice keeps
// 15) stays text: it is what the edit is guarded by.
func (l *listPage) asNumber(r row, text string) (float64, bool) {
	mantissa, _, _ := strings.Cut(text, "e")
	digits := strings.TrimLeft(strings.NewReplacer("-", "", ".", "").Replace(mantissa), "0")
	v, err := tables.ParseValue(text)
	return v, err == nil && !r.isText() && len(digits) <= 15 && tables.FormatValue(v) == text
}

// place begins a row: which edit, and where.
func (l *listPage) place(r row, edit string) {
	l.row++
	l.text("edit", edit, listText)
	l.text("table", r.Table, listText)
	l.text("field", r.Field, listText)
	l.text("with", r.With, listText)
	l.text("after", r.After, listText)
	if r.Edit != rowCell {
		return
	}
	l.number("row", float64(r.Row), book.Style{Align: "center"})
	l.number("column", float64(r.Column), book.Style{Align: "center"})
	l.text("place", r.Place, listText)
}

// shown is as much of a unit as a comment has room for.
func shown(s string) string { return string([]rune(s)[:min(utf8.RuneCountInString(s), 40)]) }

// table is the table that an edit is of, nil where the document is not known.
func (l *listPage) table(id string) *tables.Table {
	if l.base == nil {
		return nil
	}
	return l.base.Table(id)
}

// resolution is what the decimals of from and to follow, so that 2.5 and 2.531
// stand as 2.500 and 2.531 in a table with steps of 0.001.
func (l *listPage) resolution(id string) float64 {
	if t := l.table(id); t != nil {
		return t.Resolution()
	}
	return 0
}

// change writes how much a cell changes, shaded by sign and size.
func (l *listPage) change(from, to, most float64, format string) {
	look := book.Style{}
	if format != "" {
		look.Format = "+" + format + ";-" + format + ";" + format
	}
	by := to - from
	if most > 0 && !math.IsInf(by, 0) {
		// Eight shades to a side, so that a workbook has few styles.
		c := shade.LightSign(math.Round(by/most*8) / 8)
		look.Fill = c.String()
	}
	if math.IsInf(by, 0) {
		return
	}
	l.number(viewChange, by, look)
	if share := by / math.Abs(from) * 100; !math.IsInf(share, 0) {
		l.number(viewShare, share, book.Style{Format: "+0.0;-0.0;0.0"})
	}
}

// evidence writes what a row rests on, but for the note. Where there are no
// samples, their numbers say nothing and are not shown.
func (l *listPage) evidence(why *merge.Evidence) {
	if why == nil {
		return
	}
	for _, p := range evidenceParts(why) {
		look := book.Style{Format: "0.00"}
		if p.Whole != nil {
			look.Format = ""
		}
		if why.Count == 0 {
			look.Format = "0.00;-0.00;"
		}
		switch {
		case p.Whole != nil:
			l.number(p.Name, float64(*p.Whole), look)
		case p.Number != nil:
			l.number(p.Name, *p.Number, look)
		case p.Name == "unit":
			l.text(p.Name, *p.Text, listText)
		}
	}
}

// width is a column's, in characters.
func width(name string) float64 {
	switch name {
	case "edit", viewChange, "from", "to", "field":
		return 11
	case "table", "place":
		return 22
	case "note":
		return 60
	}
	return 8
}

// finish keeps the headings and the first columns in sight while a reviewer goes
// through the list.
func (l *listPage) finish() {
	l.Freeze(l.top+1, 3)
	for _, name := range l.columns {
		l.Width(l.column(name), l.column(name), width(name))
	}
	l.Print(0)
}

// writeAfter adds the views of the changed tables.
func writeAfter(out *book.Writer, cs *merge.ChangeSet, base *tables.Calibration) {
	if base == nil {
		return
	}
	a, err := merge.ApplyWith(base, cs, merge.ApplyOptions{BeyondLimits: true})
	if err != nil {
		return // a change set that does not fit its document has nothing to show
	}
	for _, t := range a.Document.Tables() {
		marks := marks(base.Table(t.ID()), t, cs)
		if len(marks) == 0 || book.Fits(t.Rows()+100, t.Columns()+1) != nil {
			continue
		}
		p := out.Page("after " + t.ID())
		last := tablexlsx.WriteTable(p, t, marks)
		p.Text(1, 1, "after", listKey)
		p.Text(last+2, 1, "A view of the result: to change it, change what stands under \"to\" on the sheet Changes.",
			book.Style{Italic: true, Align: "left"})
		p.Protect()
	}
}

// mostComments is how many changed cells of a table have their change in words,
// the largest changes first: more are a burden to the program that shows them.
const mostComments = 500

// marks are the cells of a table that a change set changes, in words.
func marks(before, after *tables.Table, cs *merge.ChangeSet) tablexlsx.Marks {
	if before == nil || len(before.Values()) != len(after.Values()) || !before.X().SamePoints(after.X()) || !before.Y().SamePoints(after.Y()) {
		return nil
	}
	var changed []int
	by := make([]float64, len(after.Values()))
	for i, to := range after.Values() {
		if from := before.Values()[i]; !tables.SameBit(from, to) {
			changed, by[i] = append(changed, i), math.Abs(to-from)
		}
	}
	slices.SortStableFunc(changed, func(i, j int) int { return cmp.Compare(by[j], by[i]) })
	why := map[int]*merge.Evidence{}
	for _, e := range cs.Edits {
		if c, ok := e.(*merge.CellEdit); ok && c.Table == after.ID() && c.Why != nil {
			why[c.Row*after.Columns()+c.Column] = c.Why
		}
	}
	marks := tablexlsx.Marks{}
	for n, i := range changed {
		words := ""
		if n < mostComments {
			words = fmt.Sprintf("%s → %s", number(before.Values()[i], before.Unit()), number(after.Values()[i], after.Unit()))
			if w := why[i]; w != nil {
				words += "\n" + inWords(w)
			}
		}
		marks[i] = words
	}
	return marks
}

// number is a value in a comment, with its unit.
func number(v float64, unit string) string {
	if math.IsNaN(v) {
		return "empty"
	}
	return strings.TrimSpace(tables.FormatValue(v) + " " + shown(unit))
}

// inWords is evidence as a person reads it: "812 samples in 41 visits, mean +3.52
// ± 0.18 %".
func inWords(w *merge.Evidence) string {
	var parts []string
	if w.Count > 0 {
		parts = append(parts, fmt.Sprintf("%d samples in %d visits", w.Count, w.Visits))
	}
	if !math.IsNaN(w.Mean) && w.Count > 0 {
		mean := fmt.Sprintf("mean %+.3g", w.Mean)
		if !math.IsNaN(w.SE) {
			mean += fmt.Sprintf(" ± %.2g", w.SE)
		}
		parts = append(parts, strings.TrimSpace(mean+" "+shown(w.Unit)))
	}
	if w.Censored() {
		parts = append(parts, fmt.Sprintf("%.0f %% of them at the limit", w.AtLimit*100))
	}
	if w.Note != "" {
		parts = append(parts, w.Note)
	}
	return strings.Join(parts, ", ")
}
