// Package report turns results into pages: which words, grids and pictures a
// person needs to judge each. How a page looks is package page's affair.
package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/cmd/calsplice/page"
	"calsplice/merge/caution"
	"calsplice/tables"
)

// Show is a document as a page: a section a table.
func Show(doc *tables.Calibration, list []*tables.Table) *page.Page {
	p := &page.Page{Title: titleOf(doc), Kind: "Calibration"}
	if notes := tables.Clean(doc.Notes()); notes != "" {
		p.Lead = append(p.Lead, notes)
	}
	if facts := EngineFacts(doc.Engine()); len(facts) > 0 {
		p.Sections = append(p.Sections, page.Section{Heading: "Engine", Facts: facts})
	}
	for _, t := range list {
		p.Sections = append(p.Sections, tableSection(t))
	}
	return p
}

// cautions are a result's own and then the standing ones, each once.
func cautions(own []string) []string {
	var list []string
	for _, c := range own {
		if c != caution.Text() && !slices.Contains(caution.Standing, c) {
			list = append(list, tables.Clean(c))
		}
	}
	return append(list, caution.Standing...)
}

func titleOf(doc *tables.Calibration) string {
	if n := doc.Name(); n != "" {
		return tables.Clean(n)
	}
	return "Calibration without a name"
}

// EngineFacts lists what a document says of its engine.
func EngineFacts(e *tables.Engine) []page.Fact {
	if e == nil {
		return nil
	}
	var facts []page.Fact
	count := func(name string, n int) {
		if n != 0 {
			facts = append(facts, page.Fact{Name: name, Value: fmt.Sprint(n)})
		}
	}
	measure := func(name string, m *tables.Measure) {
		if m != nil {
			facts = append(facts, page.Fact{Name: name, Value: tables.FormatValue(m.Value) + " " + tables.Clean(m.Unit)})
		}
	}
	count("Cylinders", e.Cylinders)
	count("Strokes", e.Strokes)
	count("Injectors", e.Injectors)
	count("Pulses per cycle", e.PulsesPerCycle)
	measure("Displacement", e.Displacement)
	if r := e.RailPressure; r != nil {
		facts = append(facts, page.Fact{Name: "Rail pressure",
			Value: fmt.Sprintf("%s %s relative to %s", tables.FormatValue(r.Value), tables.Clean(r.Unit), relativeTo[r.RelativeTo])})
	}
	if e.StoichAFR != 0 {
		facts = append(facts, page.Fact{Name: "Stoichiometric air/fuel ratio", Value: tables.FormatValue(e.StoichAFR)})
	}
	measure("Fuel density", e.FuelDensity)
	return facts
}

var relativeTo = map[tables.Reference]string{
	tables.Atmosphere: "the atmosphere", tables.Manifold: "the manifold", tables.Absolute: "vacuum"}

func tableSection(t *tables.Table) page.Section {
	s := page.Section{Heading: Heading(t), Facts: tableFacts(t)}
	if !page.Fits(t.Rows(), t.Columns(), 1) {
		s.Text = []string{fmt.Sprintf("%d × %d cells are too many to print; the smallest value is %s, the largest %s.",
			t.Rows(), t.Columns(), extreme(t, math.Min), extreme(t, math.Max))}
		return s
	}
	s.Grids = []page.Grid{page.TableGrid("value", t)}
	if c, ok := picture(t, []version{{"", "after", t}}); ok {
		s.Charts = []page.Chart{c}
	}
	return s
}

func extreme(t *tables.Table, pick func(a, b float64) float64) string {
	low, high := page.Range(t.Values())
	return tables.FormatValue(pick(low, high)) + " " + t.Unit()
}

// Heading is a table's title and id.
func Heading(t *tables.Table) string {
	if t.Title() == "" {
		return t.ID()
	}
	return tables.Clean(t.Title()) + " (" + t.ID() + ")"
}

func tableFacts(t *tables.Table) []page.Fact {
	var facts []page.Fact
	add := func(name, value string) {
		if value != "" {
			facts = append(facts, page.Fact{Name: name, Value: value})
		}
	}
	add("Role", string(t.Role()))
	add("Unit", tables.Clean(t.Unit()))
	if r := t.Resolution(); r != 0 {
		add("Resolution", tables.FormatValue(r))
	}
	if l := t.Limits(); l != nil {
		add("Limits", tables.FormatValue(l.Low)+" to "+tables.FormatValue(l.High))
	}
	add("Notes", strings.ReplaceAll(tables.Clean(strings.ReplaceAll(t.Notes(), "\n", " / ")), `\r`, ""))
	return facts
}

// version is one state of a table in a picture.
type version struct {
	name, class string
	t           *tables.Table
}

// picture draws a curve, or a map's rows one at a time; a scalar has none, nor
// has an axis of one breakpoint. Versions with other rows than the first are
// left out of a map's picture.
func picture(t *tables.Table, versions []version) (page.Chart, bool) {
	if t.X() == nil || t.Columns() < 2 {
		return page.Chart{}, false
	}
	line := func(v version, row int) page.Series {
		// A map has a line a row: dots would make its page several times as large.
		return page.Series{Name: v.name, Class: v.class, X: v.t.X().Points(), Y: v.t.Row(row), Dots: t.Y() == nil}
	}
	xName, unit := t.X().Label(), t.Unit()
	if t.Y() == nil {
		var lines []page.Series
		for _, v := range versions {
			if v.t.Y() == nil && v.t.X() != nil {
				lines = append(lines, line(v, 0))
			}
		}
		return page.Lines(t.ID()+" against "+t.X().Quantity(), xName, unit, lines), true
	}
	rows := make([][]page.Series, t.Rows())
	labels := make([]string, t.Rows())
	shown, largest := t.Rows()/2, -1.0
	for r := range rows {
		labels[r] = fmt.Sprintf("%s %s", t.Y().Label(), tables.FormatValue(t.Y().At(r)))
		for _, v := range versions {
			if v.t.Y().SamePoints(t.Y()) {
				rows[r] = append(rows[r], line(v, r))
			}
		}
		if d := largestStep(rows[r]); d > largest && len(rows[r]) > 1 {
			shown, largest = r, d
		}
	}
	title := fmt.Sprintf("%s against %s, one row at a time: point at a cell for its row", t.ID(), t.X().Quantity())
	return page.Slices(title, xName, unit, rows, labels, shown), true
}

// largestStep is the largest difference between the first two lines, where they
// share their breakpoints.
func largestStep(lines []page.Series) float64 {
	if len(lines) < 2 || len(lines[0].Y) != len(lines[1].Y) {
		return 0
	}
	d := 0.0
	for i, v := range lines[0].Y {
		d = max(d, math.Abs(v-lines[1].Y[i]))
	}
	return d
}
