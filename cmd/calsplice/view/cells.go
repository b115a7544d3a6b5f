package view

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/interp/cells/tally"
	"calsplice/merge"
	"calsplice/tables"
)

// Evidence too thin to act on. Common practice, no source.
const (
	fewSamples = 20
	fewVisits  = 3
)

// interval is a statistic made of two: half the width of the 95 % interval.
const interval = "interval"

// statistics in the order in which a person asks for them: the average, the
// worst, and how far to trust them. Others follow in the document's order.
var statistics = []string{"mean", "max", "min", "p95", "count", "visits", "se", "sd", "at_limit"}

// Cells is cell averages, a part a channel: one statistic on a terminal, all of
// them on a page.
func Cells(doc *tables.Calibration, statistic string) (*View, error) {
	for _, ch := range channelsOf(doc) {
		if ch.table(statistic) == nil && ch.mean != nil {
			return nil, fmt.Errorf("the cells have no %s.%s", ch.name, statistic)
		}
	}
	return cellsView(doc, statistic), nil
}

func cellsView(doc *tables.Calibration, statistic string) *View {
	v := &View{Title: cmp.Or(doc.Name(), "Cell averages"), Kind: "Cell averages of drive logs", Lead: []string{Kept(doc)}}
	if list := sources(doc); len(doc.Contents().Source) > 0 {
		v.Kind += ": " + list
	}
	var used Mark
	for _, ch := range channelsOf(doc) {
		part := ch.part(statistic)
		v.Parts = append(v.Parts, part)
		used |= marks(part)
	}
	v.Parts = append(v.Parts, Part{Text: []string{legend(used)}})
	return v
}

func channelOf(id string) string {
	if i := strings.LastIndexByte(id, '.'); i > 0 {
		return id[:i]
	}
	return id
}

func sources(doc *tables.Calibration) string {
	names := tables.Each(doc.Contents().Source, func(s tables.Source) string { return s.Name })
	return strings.Join(names, ", ")
}

// marks are those that a part's grids on a terminal have.
func marks(p Part) Mark {
	var used Mark
	for _, g := range p.Grids {
		for _, row := range g.Lines {
			for _, c := range row {
				if g.On != OnPages {
					used |= c.Mark
				}
			}
		}
	}
	return used
}

func legend(used Mark) string {
	s := words{"· no samples"}
	s.when(used&Thin != 0, "( ) thin: under %d samples or %d visits", fewSamples, fewVisits)
	s.when(used&AtLimit != 0, "! at the trim's limit: the size is a lower bound")
	return strings.Join(s, "   ")
}

// channel is the statistics of one channel; nil where there are none.
type channel struct {
	doc                               *tables.Calibration
	name                              string
	mean, p95, count, visits, atLimit *tables.Table
}

func newChannel(doc *tables.Calibration, name string) channel {
	of := func(statistic string) *tables.Table { return doc.Table(name + "." + statistic) }
	return channel{doc, name, of("mean"), of("p95"), of("count"), of("visits"), of("at_limit")}
}

// channelsOf are the channels of cell averages, in the document's order.
func channelsOf(doc *tables.Calibration) (list []channel) {
	for _, t := range doc.Tables() {
		name := channelOf(t.ID())
		if !slices.ContainsFunc(list, func(ch channel) bool { return ch.name == name }) {
			list = append(list, newChannel(doc, name))
		}
	}
	return list
}

// isThin reports whether a cell has too few samples or visits to act on.
func (ch channel) isThin(cell int) bool {
	return valueAt(ch.count, cell) < fewSamples || valueAt(ch.visits, cell) < fewVisits
}

func (ch channel) part(statistic string) Part {
	shown := ch.table(statistic)
	p := Part{Heading: ch.name}
	if s := ch.retard(); s != "" {
		p.Text = append(p.Text, s)
	}
	for _, t := range ch.tables(shown) {
		if p.Heading == ch.name {
			p.Heading = withUnit(ch.name, t.Unit())
		}
		if !fits(t.Rows(), t.Columns(), 4) { // there are more, but most have empty cells and short numbers
			p.Text = append(p.Text, fmt.Sprintf("%s: %d × %d cells are too many to print.", t.ID(), t.Rows(), t.Columns()))
			continue
		}
		g := ch.grid(t)
		if t != shown && shown != nil {
			g.On = OnPages
		}
		p.Grids = append(p.Grids, g)
	}
	return p
}

// tables are the channel's: the one to show, and the others in the order in
// which they are asked for.
func (ch channel) tables(shown *tables.Table) []*tables.Table {
	list := slices.DeleteFunc(slices.Clone(ch.doc.Tables()), func(t *tables.Table) bool {
		return channelOf(t.ID()) != ch.name || shown != nil && t.ID() == shown.ID()
	})
	rank := func(t *tables.Table) int {
		if i := slices.Index(statistics, strings.TrimPrefix(t.ID(), ch.name+".")); i >= 0 {
			return i
		}
		return len(statistics)
	}
	slices.SortStableFunc(list, func(a, b *tables.Table) int { return cmp.Compare(rank(a), rank(b)) })
	if shown != nil {
		list = slices.Insert(list, 0, shown)
	}
	return list
}

// table is the table of a statistic; the interval's is made.
func (ch channel) table(statistic string) *tables.Table {
	if statistic != interval {
		return ch.doc.Table(ch.name + "." + statistic)
	}
	se := ch.doc.Table(ch.name + ".se")
	if se == nil || ch.visits == nil {
		return nil
	}
	f := se.Fields()
	f.ID, f.Values = ch.name+"."+interval, make([]float64, len(f.Values))
	for i, v := range se.Values() {
		f.Values[i] = tally.HalfInterval(v, ch.visits.Values()[i])
	}
	t, err := tables.NewTable(f)
	if err != nil {
		return se
	}
	return t
}

// grid is one statistic: shaded by sign where zero is the middle of the channel,
// by size elsewhere, and thin where the evidence is.
func (ch channel) grid(t *tables.Table) Grid {
	name := strings.TrimPrefix(t.ID(), ch.name+".")
	s, write := sizes(t.Values()), fixed(decimals(t.Values()), "")
	shade, legend := s.cell, s.legend()
	if isSigned(ch.name) && slices.Contains([]string{"mean", "min", "max", "p95"}, name) {
		shades := scaleOf(ch.name, s.largest())
		if shade, legend = shades.cell, shades.legend(ch.name == knockRetard); ch.name != knockRetard {
			write = withSign(decimals(t.Values()), "")
		}
	}
	if name == interval {
		name = "half width of the mean's 95 % interval"
	}
	g := tableGrid(name, t, func(r, c int) Cell {
		v, at := t.At(r, c), r*t.Columns()+c
		cell := shade(v, write(v))
		if v == v && ch.isThin(at) {
			cell.Mark, cell.Scale = Thin, Plain
		}
		if valueAt(ch.atLimit, at) >= merge.CensoredShare {
			cell.Mark |= AtLimit
		}
		return cell
	})
	g.Legend = legend
	return g
}

// valueAt is a statistic of a cell; NaN where there is none.
func valueAt(t *tables.Table, cell int) float64 {
	if t == nil || cell >= len(t.Values()) {
		return math.NaN()
	}
	return t.Values()[cell]
}

// isSigned reports whether zero is the middle of a channel's shades: of a trim, an
// error, and retard, of which there is none too little.
func isSigned(channel string) bool {
	return strings.Contains(channel, "trim") || strings.Contains(channel, "error") || channel == knockRetard
}

// scaleOf is what shades a channel's values: one that has a meaning, or one up to
// the largest of them.
func scaleOf(channel string, largest float64) scale {
	switch {
	case strings.Contains(channel, "trim"):
		return trimScale
	case channel == knockRetard:
		return knockScale
	}
	return bySign(largest)
}

// decimals shows about three figures of the largest value.
func decimals(values []float64) int {
	most, whole := 0.0, true
	for _, v := range values {
		if !math.IsNaN(v) {
			most = max(most, math.Abs(v))
			whole = whole && v == math.Trunc(v)
		}
	}
	switch {
	case whole || most >= 1000:
		return 0
	case most >= 100:
		return 1
	case most >= 1:
		return 2
	}
	places := 3
	for ; most < 0.1 && places < 12; most *= 10 {
		places++
	}
	return places
}

// Kept says in a line how many rows were kept, and why the others were not.
func Kept(doc *tables.Calibration) string {
	var rows, kept int
	var dropped []tables.Dropped
	for _, s := range doc.Contents().Source {
		rows, kept = rows+s.Rows, kept+s.Kept
		for _, d := range s.Dropped {
			i := slices.IndexFunc(dropped, func(o tables.Dropped) bool { return o.Reason == d.Reason })
			if i < 0 {
				dropped = append(dropped, d)
			} else {
				dropped[i].Count += d.Count
			}
		}
	}
	line := fmt.Sprintf("%s of %s rows kept", tables.Thousands(kept), tables.Thousands(rows))
	if n := len(doc.Contents().Source); n > 1 {
		line += fmt.Sprintf(" of %s logs", tables.Thousands(n))
	}
	var why words
	for _, d := range dropped {
		why.when(true, "%s %s", tables.Thousands(d.Count), d.Reason)
	}
	return strings.TrimSuffix(line+": "+strings.Join(why, ", "), ": ")
}
