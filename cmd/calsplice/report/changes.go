package report

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"calsplice/cmd/calsplice/page"
	"calsplice/merge"
	"calsplice/tables"
)

// Changes appends to a page what a change set does to a document: for each
// table that it touches the values before, after and their difference, the
// evidence, and a picture.
func Changes(p *page.Page, before, after *tables.Calibration, set *merge.ChangeSet) {
	why := evidence(set)
	for _, id := range touched(set) {
		a, b := before.Table(id), after.Table(id)
		switch {
		case a == nil && b != nil:
			s := tableSection(b)
			s.Heading, s.Text = "Added: "+s.Heading, append(s.Text, "This table is new.")
			p.Sections = append(p.Sections, s)
		case b == nil && a != nil:
			s := tableSection(a)
			s.Heading, s.Text = "Removed: "+s.Heading, append(s.Text, "This table is taken away.")
			p.Sections = append(p.Sections, s)
		case a != nil:
			p.Sections = append(p.Sections, changeSection(a, b, why))
		}
	}
}

// place addresses a cell of a change set.
type place struct {
	table       string
	row, column int
}

func evidence(set *merge.ChangeSet) map[place]*merge.Evidence {
	why := map[place]*merge.Evidence{}
	for _, e := range set.Edits {
		if c, ok := e.(*merge.CellEdit); ok && c.Why != nil {
			why[place{c.Table, c.Row, c.Column}] = c.Why
		}
	}
	return why
}

// touched lists the tables of a change set once each, in the order of its edits.
func touched(set *merge.ChangeSet) []string {
	var ids []string
	for _, e := range set.Edits {
		if id := e.On(); id != "" && !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	return ids
}

func changeSection(a, b *tables.Table, why map[place]*merge.Evidence) page.Section {
	s := page.Section{Heading: Heading(b), Facts: fieldChanges(a, b)}
	sameAxes := a.X().SamePoints(b.X()) && a.Y().SamePoints(b.Y())
	if !page.Fits(a.Rows(), a.Columns(), 3) || !page.Fits(b.Rows(), b.Columns(), 3) {
		if sameAxes {
			s.Text = []string{fmt.Sprintf("%d × %d cells are too many to print; the largest changes are listed.", b.Rows(), b.Columns())}
			s.Rows = largestChanges(a, b, why, 50)
		} else {
			s.Text = []string{"The axes changed, and the table is too large to print."}
		}
		return s
	}
	if chart, ok := picture(b, []version{{"before", "before", a}, {"after", "after", b}}); ok {
		s.Charts = []page.Chart{chart}
	}
	if !sameAxes {
		s.Text = []string{"The axes changed; before and after are shown each on its own."}
		s.Grids = []page.Grid{page.TableGrid("before", a)}
		s.Grids = append(s.Grids, page.TableGrid("after", b))
		return s
	}
	s.Grids = beforeAfter(a, b, why)
	s.Rows = largestChanges(a, b, why, 200)
	return s
}

func beforeAfter(a, b *tables.Table, why map[place]*merge.Evidence) []page.Grid {
	low, high := page.Range(a.Values(), b.Values())
	extent := 0.0
	for i, v := range a.Values() {
		if d := math.Abs(b.Values()[i] - v); d > extent {
			extent = d
		}
	}
	note := func(r, c int) string { return EvidenceWords(why[place{b.ID(), r, c}]) }
	state := func(t *tables.Table, class string) func(r, c int) page.Cell {
		return func(r, c int) page.Cell {
			cell := page.Cell{Text: tables.FormatValue(t.At(r, c)), Class: page.Sequential(t.At(r, c), low, high)}
			if !tables.SameBit(a.At(r, c), b.At(r, c)) {
				cell.Class = page.Classes(cell.Class, class)
			}
			return cell
		}
	}
	return []page.Grid{
		page.NewGrid("before", a, state(a, "")),
		page.NewGrid("after", b, state(b, "changed")),
		page.NewGrid("difference", b, func(r, c int) page.Cell {
			d := Difference(a.At(r, c), b.At(r, c))
			cell := page.Cell{Text: page.Signed(d), Note: note(r, c)}
			if d != 0 {
				cell.Class = page.Diverging(d, extent)
			}
			if w := why[place{b.ID(), r, c}]; w != nil && w.Count == 0 && strings.Contains(w.Note, "inferred") {
				cell.Class = page.Classes(cell.Class, "inferred")
			}
			return cell
		}),
	}
}

// Difference is b − a in the decimals in which both are written, so that a
// person reads +0.1 and not the binary noise behind it.
func Difference(a, b float64) float64 {
	d := b - a
	digits := max(tables.Decimals(a), tables.Decimals(b))
	if digits > 12 || math.IsNaN(d) || math.Abs(d) > 1e12 {
		return d
	}
	scale := math.Pow(10, float64(digits))
	return math.Round(d*scale) / scale
}

// EvidenceWords says in words what an edit rests on.
func EvidenceWords(w *merge.Evidence) string {
	if w == nil {
		return ""
	}
	s := ""
	if w.Count > 0 {
		s = fmt.Sprintf("%d samples in %d visits, mean %.2f %s, standard error %.2f", w.Count, w.Visits, w.Mean, w.Unit, w.SE)
		if w.Censored() {
			s += fmt.Sprintf(", %.0f %% of them at the limit", 100*w.AtLimit)
		}
	}
	if w.Note != "" {
		if s != "" {
			s += "; "
		}
		s += tables.Clean(w.Note)
	}
	return s
}

// largestChanges lists changed cells, the largest first.
func largestChanges(a, b *tables.Table, why map[place]*merge.Evidence, most int) *page.Rows {
	type change struct {
		r, c int
		size float64
	}
	var list []change
	for r := range b.Rows() {
		for c := range b.Columns() {
			if x, y := a.At(r, c), b.At(r, c); !tables.SameBit(x, y) {
				list = append(list, change{r, c, math.Abs(y - x)})
			}
		}
	}
	if len(list) == 0 {
		return nil
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].size > list[j].size })
	rows := &page.Rows{Caption: "Changed cells, the largest first", Head: []string{"Place", "Before", "After", "Change", "Evidence"}, Numbers: []int{1, 2, 3}}
	for i, ch := range list {
		if i == most {
			rows.More = fmt.Sprintf("… and %d smaller ones.", len(list)-most)
			break
		}
		x, y := a.At(ch.r, ch.c), b.At(ch.r, ch.c)
		rows.Lines = append(rows.Lines, []string{Where(b, ch.r, ch.c), tables.FormatValue(x), tables.FormatValue(y),
			page.Signed(Difference(x, y)) + percent(x, y), EvidenceWords(why[place{b.ID(), ch.r, ch.c}])})
	}
	return rows
}

func percent(from, to float64) string {
	if from == 0 || math.IsNaN(from) || math.IsNaN(to) {
		return ""
	}
	// The minus sign is that of the difference before it.
	return " (" + strings.Replace(tables.Signed(100*(to-from)/math.Abs(from), 1), "-", "−", 1) + " %)"
}

// Where is a cell's place in axis values: "800 r/min, 120 mg".
func Where(t *tables.Table, row, column int) string {
	s := ""
	if x := t.X(); x != nil {
		s = tables.FormatValue(x.At(column)) + " " + tables.Clean(x.Unit())
	}
	if y := t.Y(); y != nil {
		s += ", " + tables.FormatValue(y.At(row)) + " " + tables.Clean(y.Unit())
	}
	if s == "" {
		return "the value"
	}
	return s
}

// fieldChanges lists what changed of a table besides its cells.
func fieldChanges(a, b *tables.Table) []page.Fact {
	var facts []page.Fact
	add := func(name, from, to string) {
		if from != to {
			facts = append(facts, page.Fact{Name: name, Value: fmt.Sprintf("%s → %s", orNone(from), orNone(to))})
		}
	}
	add("Title", tables.Clean(a.Title()), tables.Clean(b.Title()))
	add("Role", string(a.Role()), string(b.Role()))
	add("Unit", tables.Clean(a.Unit()), tables.Clean(b.Unit()))
	add("Resolution", tables.FormatValue(a.Resolution()), tables.FormatValue(b.Resolution()))
	add("Notes", tables.Clean(a.Notes()), tables.Clean(b.Notes()))
	add("x axis", axisWords(a.X()), axisWords(b.X()))
	add("y axis", axisWords(a.Y()), axisWords(b.Y()))
	return facts
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

func axisWords(a *tables.Axis) string {
	if a == nil {
		return ""
	}
	s := a.Label() + ":"
	for _, p := range a.Points() {
		s += " " + tables.FormatValue(p)
	}
	return tables.Clean(s)
}
