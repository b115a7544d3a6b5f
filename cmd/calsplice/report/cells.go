package report

import (
	"fmt"
	"math"
	"strings"

	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/text"
	"calsplice/tables"
)

// A cell's evidence is shown thin below these (common practice, no source).
const (
	thinCount  = 20
	thinVisits = 3
)

// statistics in the order in which a person asks for them: the average, the
// worst, and how far to trust them. Others follow in the document's order.
var statistics = []string{"mean", "max", "min", "p95", "count", "visits", "se", "sd", "at_limit"}

// Cells is cell averages as a page: a section a channel, its statistics linked.
func Cells(doc *tables.Calibration) *page.Page {
	p := &page.Page{Title: titleOf(doc), Kind: "Cell averages of drive logs"}
	if doc.Name() == "" {
		p.Title = "Cell averages"
	}
	for _, s := range doc.Contents().Source {
		line := fmt.Sprintf("%s: %d of %d rows kept", tables.Clean(s.Name), s.Kept, s.Rows)
		for i, d := range s.Dropped {
			sep := ", "
			if i == 0 {
				sep = "; left out: "
			}
			line += fmt.Sprintf("%s%d %s", sep, d.Count, tables.Clean(d.Reason))
		}
		p.Lead = append(p.Lead, line+".")
	}
	p.Lead = append(p.Lead, fmt.Sprintf("Cells in parentheses rest on fewer than %d samples or %d visits: look, but don't trust.", thinCount, thinVisits))
	done := map[string]bool{}
	for _, t := range doc.Tables() {
		channel := channelOf(t.ID())
		if !done[channel] {
			done[channel] = true
			p.Sections = append(p.Sections, channelSection(doc, channel))
		}
	}
	return p
}

func channelOf(id string) string {
	if i := strings.LastIndexByte(id, '.'); i > 0 {
		return id[:i]
	}
	return id
}

func channelSection(doc *tables.Calibration, channel string) page.Section {
	s := page.Section{Heading: channel}
	thin := thinCells(doc, channel)
	add := func(t *tables.Table) {
		if t == nil {
			return
		}
		if !page.Fits(t.Rows(), t.Columns(), 4) { // there are more, but most have empty cells and short numbers
			s.Text = append(s.Text, fmt.Sprintf("%s: %d × %d cells are too many to print.", t.ID(), t.Rows(), t.Columns()))
			return
		}
		s.Grids = append(s.Grids, statisticGrid(t, strings.TrimPrefix(t.ID(), channel+"."), thin))
	}
	known := map[string]bool{}
	for _, name := range statistics {
		id := channel + "." + name
		known[id] = true
		add(doc.Table(id))
	}
	for _, t := range doc.Tables() {
		if channelOf(t.ID()) == channel && !known[t.ID()] {
			add(t)
		}
	}
	return s
}

func thinCells(doc *tables.Calibration, channel string) func(r, c int) bool {
	below := func(name string, least float64) func(r, c int) bool {
		t := doc.Table(channel + "." + name)
		return func(r, c int) bool {
			return t != nil && r < t.Rows() && c < t.Columns() && t.At(r, c) < least
		}
	}
	few, rare := below("count", thinCount), below("visits", thinVisits)
	return func(r, c int) bool { return few(r, c) || rare(r, c) }
}

func statisticGrid(t *tables.Table, name string, thin func(r, c int) bool) page.Grid {
	low, high := page.Range(t.Values())
	signed := low < 0 && high > 0 || strings.HasPrefix(t.ID(), "trim")
	extent := math.Max(math.Abs(low), math.Abs(high))
	evidence := name == "count" || name == "visits" || name == "at_limit" || name == "se" || name == "sd"
	return page.NewGrid(name, t, func(r, c int) page.Cell {
		v := t.At(r, c)
		if math.IsNaN(v) {
			return page.Cell{}
		}
		cell := page.Cell{Text: text.Digits(v, 3), Class: page.Sequential(v, low, high)}
		if signed && !evidence {
			cell.Class = page.Diverging(v, extent)
		}
		if thin(r, c) {
			cell.Text, cell.Class = "("+cell.Text+")", page.Classes(cell.Class, "thin")
		}
		return cell
	})
}
