package view

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"calsplice/merge"
	"calsplice/merge/blocks"
	"calsplice/tables"
)

// tableDifference is one table: its name, then the finding, or all that differs.
func tableDifference(r *merge.Report, t *merge.TableReport, say style) Part {
	p := Part{Heading: withUnit(strings.TrimSuffix(t.Table+" · "+t.Title, " · "), t.Unit)}
	if t.Change != "changed" {
		p.Heading += ": table " + t.Change + ", " + shapeWords(cmp.Or(t.New, t.Old))
		return p
	}
	d := tableWords{t: t, cells: r.Cells[t.Cells[0]:t.Cells[1]], places: say == byPlaces}
	for _, c := range d.cells {
		d.largest = max(d.largest, math.Abs(float64(c.To-c.From)))
	}
	d.say(t.Finding)
	for _, c := range t.Fields {
		d.items = append(d.items, fieldItem(c))
	}
	for _, c := range t.Axes {
		d.axis(c)
	}
	if t.Surface != nil && !t.Surface.Unchanged {
		d.surface(t.Surface)
	}
	for _, s := range t.Notes {
		d.say(s)
	}
	for _, b := range r.Blocks[t.Blocks[0]:t.Blocks[1]] {
		if b.Changed > 1 || len(t.Rest) == 0 {
			d.block(b)
		}
	}
	if say == onTerminal && mostAlone(t) {
		d.whole()
		p.Grids = []Grid{d.changeGrid()}
	} else {
		for _, i := range t.Rest {
			d.cell(r.Cells[i])
		}
	}
	if t.Hidden > 0 {
		d.say(Hidden(t.Hidden))
	}
	p.Items = d.items
	return p
}

// mostAlone reports whether so many cells of a table changed each in its own way
// that a list of them is not read.
func mostAlone(t *merge.TableReport) bool {
	const few = 8
	return len(t.Rest) > few && 2*len(t.Rest) >= t.Of && t.Old.X().SamePoints(t.New.X()) && t.Old.Y().SamePoints(t.New.Y()) &&
		fits(t.New.Rows(), t.New.Columns(), 1)
}

// whole says what cells that changed each in its own way have in common.
func (d *tableWords) whole() {
	by := sizes()
	for _, c := range d.cells {
		by.add(difference(float64(c.From), float64(c.To)))
	}
	d.say(fmt.Sprintf("%d of %s changed each in its own way, by %s to %s%s; -o FILE.html lists them", len(d.t.Rest), tables.Plural(d.t.Of, "cell"),
		plus(by.low), plus(by.high), blankUnit(d.t.Unit)))
}

// changeGrid is the change of every cell.
func (d *tableWords) changeGrid() Grid {
	return tableGrid("change", d.t.New, func(r, c int) Cell {
		by := difference(d.t.Old.At(r, c), d.t.New.At(r, c))
		return Cell{Text: plus(by)}
	})
}

func shapeWords(t *tables.Table) string {
	switch {
	case t.X() == nil:
		return "a scalar, " + tables.Shown(t.At(0, 0))
	case t.Y() == nil:
		return "a curve of " + tables.Plural(t.Columns(), "cell")
	}
	return fmt.Sprintf("a map of %d × %d", t.Rows(), t.Columns())
}

// tableWords collects what differs in one table.
type tableWords struct {
	t       *merge.TableReport
	cells   []merge.CellChange
	largest float64 // size of the largest change
	places  bool    // say places by breakpoints alone
	items   []Item
}

func (d *tableWords) say(s string) {
	if s != "" {
		d.items = append(d.items, Item{Text: s})
	}
}

func (d *tableWords) axis(c merge.AxisChange) {
	name := c.Axis + " axis, " + c.Quantity + ": "
	unit := blankUnit(c.Unit)
	switch c.Change {
	case "rescaled":
		d.say(name + "every breakpoint × " + tables.Shown(*c.Factor))
	case "added", "removed":
		d.say(name + "axis " + c.Change)
	case "renamed", "replaced":
		d.say(name + c.From + " → " + c.To)
	case "breakpoints":
		if len(c.Moved) > 3 {
			pairs := tables.Each(c.Moved, func(m [2]tables.Number) string { return number(m[0]) + " → " + number(m[1]) })
			d.say(name + "breakpoints moved: " + strings.Join(pairs, ", ") + unit)
		} else {
			for _, m := range c.Moved {
				d.say(name + "breakpoint " + number(m[0]) + " moved to " + number(m[1]) + unit)
			}
		}
		d.breakpoints(name, "added", c.Added, unit)
		d.breakpoints(name, "removed", c.Removed, unit)
	}
}

func (d *tableWords) breakpoints(name, what string, list []tables.Number, unit string) {
	if len(list) == 0 {
		return
	}
	words := tables.Each(list, number)
	_, one, _ := strings.Cut(tables.Plural(len(list), "breakpoint"), " ")
	d.say(name + one + " " + what + ": " + strings.Join(words, ", ") + unit)
}

func number(v tables.Number) string {
	if math.IsNaN(float64(v)) {
		return "empty"
	}
	return tables.Shown(float64(v))
}

// blankUnit is a unit behind a number; 1, which is none, is left out.
func blankUnit(u string) string {
	if u == "" || u == "1" {
		return ""
	}
	return " " + u
}

func (d *tableWords) surface(s *merge.Surface) {
	at := s.Axes.Words(func(k int, _ *tables.Axis) string { return number(s.At[k]) })
	four := func(v tables.Number) string { return tables.Digits(float64(v), 4) }
	d.say(fmt.Sprintf("surface: largest difference %s%s at %s (%s), mean %s, rms %s", four(s.Largest), blankUnit(d.t.Old.Unit()),
		at, s.Worst, four(s.Mean), four(s.RMS)))
	d.say(fmt.Sprintf("compared on %s: %d measured, %d interpolated, %d extrapolated",
		tables.Plural(s.Measured+s.Interpolated+s.Extrapolated, "node"), s.Measured, s.Interpolated, s.Extrapolated))
}

func (d *tableWords) block(b blocks.Block) {
	rule := b.Rule(d.t.Unit)
	if math.Abs(b.Residual) > 1e-6*sizes(d.t.New.Values()).largest() {
		rule += ", to within " + tables.Shown(roundUp(b.Residual)) + blankUnit(d.t.Unit)
	}
	place := b.Place()
	if d.t.New.Y() == nil {
		place = b.Along() // a curve has no rows to speak of
	}
	under := stretchWords(d.t.New, b)
	if t := d.t.New; b.Rows == [2]int{0, t.Rows() - 1} && b.Columns == [2]int{0, t.Columns() - 1} && t.Columns() > 1 {
		under = "the whole table: " + under
	}
	item := Item{Text: place + ": " + rule, Under: under, Tint: d.tint(largestOf(d.cells, b)), Edit: true}
	if d.places && item.Under != "" {
		item.Text, item.Under = item.Under+": "+rule, ""
	}
	d.items = append(d.items, item)
}

func (d *tableWords) tint(change float64) float64 {
	if math.IsNaN(change) || !(d.largest > 0) {
		return 0
	}
	return change / d.largest
}

// largestOf is the largest change of a block's cells, with its sign.
func largestOf(cells []merge.CellChange, b blocks.Block) float64 {
	most := 0.0
	for _, c := range cells {
		if d := float64(c.To - c.From); b.Has(c.Table, c.At[0], c.At[1]) && math.Abs(d) > math.Abs(most) {
			most = d
		}
	}
	return most
}

// roundUp is a residual in two digits, never smaller than it is.
func roundUp(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v))-1)
	r, err := strconv.ParseFloat(strconv.FormatFloat(math.Ceil(v/p*(1-1e-9))*p, 'g', 2, 64), 64)
	if err != nil || math.IsInf(r, 0) || math.IsNaN(r) {
		return v
	}
	return r
}

// stretchWords is a block in axis units.
func stretchWords(t *tables.Table, b blocks.Block) string {
	var parts []string
	if y := t.Y(); y != nil {
		parts = append(parts, stretch(y, b.Rows))
	}
	if x := t.X(); x != nil {
		parts = append(parts, stretch(x, b.Columns))
	}
	return strings.Join(parts, ", ")
}

func stretch(a *tables.Axis, span [2]int) string {
	s := a.Quantity() + " " + tables.Shown(a.At(span[0]))
	if span[0] != span[1] {
		s += "–" + tables.Shown(a.At(span[1]))
	}
	return s + blankUnit(a.Unit())
}

func (d *tableWords) cell(c merge.CellChange) {
	what := number(c.From) + " → " + number(c.To)
	change := difference(float64(c.From), float64(c.To))
	if !math.IsNaN(change) && !math.IsInf(change, 0) && change != 0 {
		what += " (" + map[bool]string{true: "+ ", false: "− "}[change > 0] + tables.Shown(math.Abs(change)) + blankUnit(d.t.Unit) + ")"
	}
	at := blocks.Block{Rows: [2]int{c.At[0], c.At[0]}, Columns: [2]int{c.At[1], c.At[1]}}
	place := stretchWords(d.t.New, at)
	switch {
	case d.places && place != "":
		what = place + ": " + what
	case !d.places:
		address := fmt.Sprintf("[%d, %d]", c.At[0], c.At[1])
		if c.OldAt != nil {
			address += fmt.Sprintf(", before at [%d, %d]", c.OldAt[0], c.OldAt[1])
		}
		if what = address + ": " + what; place != "" {
			what += " at " + place
		}
	}
	d.items = append(d.items, Item{Text: what, Tint: d.tint(change), Edit: true})
}
