package view

import (
	"fmt"
	"math"

	"calsplice/merge"
	"calsplice/tables"
)

// changes are the tables of which a proposal edits cells, for a page: the values
// before, after and their difference, the evidence, and a picture.
func (d *Decide) changes(before, after *tables.Calibration, set *merge.ChangeSet) (parts []Part) {
	if d == nil {
		return nil
	}
	why := set.Evidence()
	for i, s := range d.Tables {
		b := after.Table(s.id)
		p := Part{Heading: heading(b), Facts: tableFacts(b), On: OnPages, Decide: i + 1}
		p.showChange(before.Table(s.id), b, why)
		parts = append(parts, p)
	}
	return parts
}

// showTables puts a table before and after into a part, or the one that there is.
func (p *Part) showTables(t *merge.TableReport, old, new string, why map[merge.Cell]*merge.Evidence) {
	switch {
	case t.Old == nil:
		p.Grids = []Grid{valueGrid(new, t.New, tables.Shown)}
	case t.New == nil:
		p.Grids = []Grid{valueGrid(old, t.Old, tables.Shown)}
	default:
		p.showChange(t.Old, t.New, why)
	}
}

// showChange puts the values before and after into a part, for a page.
func (p *Part) showChange(a, b *tables.Table, why map[merge.Cell]*merge.Evidence) {
	sameAxes := a.X().SamePoints(b.X()) && a.Y().SamePoints(b.Y())
	if a.X() == nil && b.X() == nil {
		p.Text = append(p.Text, scalarWords(a, b)) // a sentence, no table of one cell
		return
	}
	large := !fits(a.Rows(), a.Columns(), 3) || !fits(b.Rows(), b.Columns(), 3)
	if !large {
		p.Charts = charts(b, []version{{"before", "before", a}, {"after", "after", b}})
	}
	switch {
	case large && sameAxes:
		p.Text = append(p.Text, fmt.Sprintf("%d × %d cells are too many to print; the largest changes are listed.", b.Rows(), b.Columns()))
		p.Rows = largestChanges(a, b, why, 50)
	case large:
		p.Text = append(p.Text, "The axes changed, and the table is too large to print.")
	case sameAxes:
		p.Grids = beforeAfter(a, b, why)
		p.Rows = largestChanges(a, b, why, 200)
	default:
		p.Text = append(p.Text, "The axes changed; before and after are shown each on its own.")
		p.Grids = []Grid{valueGrid("before", a, tables.Shown), valueGrid("after", b, tables.Shown)}
	}
}

func scalarWords(a, b *tables.Table) string {
	x, y := a.At(0, 0), b.At(0, 0)
	if tables.SameBit(x, y) {
		return "The value is " + tables.Shown(y) + blankUnit(b.Unit()) + ", as before."
	}
	s := fmt.Sprintf("%s → %s%s", tables.Shown(x), tables.Shown(y), blankUnit(b.Unit()))
	if d := difference(x, y); !math.IsNaN(d) && a.Unit() == b.Unit() {
		s += ": " + plus(d) + blankUnit(b.Unit()) + percent(x, y)
	}
	return s
}

func beforeAfter(a, b *tables.Table, why map[merge.Cell]*merge.Evidence) []Grid {
	both, write := sizes(a.Values(), b.Values()), alike(a, b)
	extent := 0.0
	for i, v := range a.Values() {
		if d := math.Abs(b.Values()[i] - v); d > extent {
			extent = d
		}
	}
	grids := []Grid{
		tableGrid("before", a, func(r, c int) Cell { return both.cell(a.At(r, c), write(a.At(r, c))) }),
		tableGrid("after", b, func(r, c int) Cell {
			cell := both.cell(b.At(r, c), write(b.At(r, c)))
			if !tables.SameBit(a.At(r, c), b.At(r, c)) {
				cell.Mark |= Changed
			}
			return cell
		}),
		tableGrid("difference", b, func(r, c int) Cell {
			d := difference(a.At(r, c), b.At(r, c))
			cell := signed(d, extent, plus(d))
			w := why[merge.Cell{Table: b.ID(), Row: r, Column: c}]
			cell.Note = w.Words()
			if w != nil && w.Count == 0 && w.Note != "" { // no samples: the note gives the rule
				cell.Mark |= Inferred
			}
			return cell
		}),
	}
	grids[1].Legend, grids[2].Legend = both.legend(), bySign(extent).legend(false)
	return grids
}

// alike writes the values of tables with as many decimals each, as far as people
// write them.
func alike(list ...*tables.Table) func(v float64) string {
	places := 0
	for _, t := range list {
		for _, v := range t.Values() {
			places = max(places, tables.Decimals(v))
		}
	}
	if places > 4 {
		return tables.Shown
	}
	return func(v float64) string {
		if math.IsNaN(v) {
			return ""
		}
		return tables.Fixed(v, places)
	}
}

// difference is b − a in the decimals in which both are written, so that a
// person reads +0.1 and not the binary noise behind it.
func difference(a, b float64) float64 {
	d := b - a
	digits := max(tables.Decimals(a), tables.Decimals(b))
	if digits > 12 || math.IsNaN(d) || math.Abs(d) > 1e12 {
		return d
	}
	scale := math.Pow(10, float64(digits))
	return math.Round(d*scale) / scale
}

// plus writes a difference exactly, with its sign; nothing is "·".
func plus(v float64) string {
	switch {
	case v == 0:
		return "·"
	case v > 0:
		return "+" + tables.Shown(v)
	}
	return tables.Shown(v)
}

// largestChanges lists changed cells, the largest first.
func largestChanges(a, b *tables.Table, why map[merge.Cell]*merge.Evidence, most int) *Rows {
	list := merge.Largest(a, b)
	if len(list) == 0 {
		return nil
	}
	rows := NewRows("Place", "#Before", "#After", "#Change", "Evidence")
	rows.Edits, rows.Caption = true, "Changed cells, the largest first"
	list, rows.More = first(list, most, "… and %s smaller ones.")
	for _, e := range list {
		w := why[merge.Cell{Table: e.Table, Row: e.Row, Column: e.Column}]
		rows.Line(where(b.X(), b.Y(), e.Row, e.Column), tables.Shown(e.From), tables.Shown(e.To), changeWords(e.From, e.To), w.Words())
	}
	return rows
}

// changeWords is a change in the unit and, where that can be, in per cent.
func changeWords(from, to float64) string { return plus(difference(from, to)) + percent(from, to) }

func percent(from, to float64) string {
	if from == to || from == 0 || math.IsNaN(from) || math.IsNaN(to) {
		return ""
	}
	return " (" + tables.Signed(100*(to-from)/math.Abs(from), 1) + " %)"
}
