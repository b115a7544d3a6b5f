package view

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"calsplice/tables"
)

// Show is a calibration, or some of its tables: a part a table. Of cell
// averages, which are computed and not set, it gives four digits.
func Show(doc *tables.Calibration, list []*tables.Table) *View {
	v := &View{Title: titleOf(doc), Kind: "Calibration"}
	write := tables.Shown
	if doc.Kind() == tables.Cells {
		v.Kind = "Cell averages"
		write = func(x float64) string { return tables.Digits(x, 4) }
	}
	if doc.Name() != "" {
		v.Opening = []string{doc.Name()}
	}
	v.Lead = paragraphs(doc.Notes())
	v.add(Part{Heading: "Engine", Facts: engineFacts(doc.Engine()), On: OnPages})
	for _, t := range list {
		v.Parts = append(v.Parts, tablePart(t, write))
	}
	return v
}

func titleOf(doc *tables.Calibration) string {
	return cmp.Or(doc.Name(), "Calibration without a name")
}

// paragraphs are the lines of a text that have something in them.
func paragraphs(text string) []string {
	var list []string
	for line := range strings.Lines(text) {
		if line = strings.TrimRight(line, "\r\n"); line != "" {
			list = append(list, line)
		}
	}
	return list
}

// engineFacts lists what a document says of its engine.
func engineFacts(e *tables.Engine) []Fact {
	return tables.Each(e.Facts(), func(f tables.Fact) Fact { return Fact{strings.ReplaceAll(f.Name, "_", " "), f.Text} })
}

func tablePart(t *tables.Table, write func(v float64) string) Part {
	p := Part{Heading: heading(t), Facts: tableFacts(t), Text: paragraphs(t.Notes())}
	if t.X() == nil { // a sentence, no table of one cell
		p.Text = append([]string{"The value is " + write(t.At(0, 0)) + blankUnit(t.Unit()) + "."}, p.Text...)
		return p
	}
	if !fits(t.Rows(), t.Columns(), 1) {
		low, high := tables.Range(t.Values())
		p.Text = append(p.Text, fmt.Sprintf("%d × %d cells are too many to print; the smallest value is %s %s, the largest %s %s.",
			t.Rows(), t.Columns(), tables.Shown(low), t.Unit(), tables.Shown(high), t.Unit()))
		return p
	}
	p.Grids = []Grid{valueGrid("value", t, write)}
	p.Charts = charts(t, []version{{"", "after", t}})
	return p
}

// heading is a table's title, id and unit.
func heading(t *tables.Table) string {
	if t.Title() == "" {
		return withUnit(t.ID(), t.Unit())
	}
	return withUnit(t.Title()+" ("+t.ID()+")", t.Unit())
}

func tableFacts(t *tables.Table) []Fact {
	var p Part
	p.fact("Role", string(t.Role()))
	if r := t.Resolution(); r != 0 {
		p.fact("Resolution", tables.Shown(r))
	}
	if l := t.Limits(); l != nil {
		p.fact("Limits", tables.Shown(l.Low)+" to "+tables.Shown(l.High))
	}
	return p.Facts
}

// where is a cell's place in axis values: "800 r/min, 120 mg".
func where(x, y *tables.Axis, row, column int) string {
	return placeAt(places(x), places(y), row, column)
}

// placeAt is a cell's place among breakpoints with their units.
func placeAt(x, y []string, row, column int) string {
	var at words
	if len(x) > 0 {
		at = append(at, x[column])
	}
	if len(y) > 0 {
		at = append(at, y[row])
	}
	return cmp.Or(strings.Join(at, ", "), "the value")
}

// Pictures are the tables that can be drawn; cautions name those that can't.
func Pictures(list []*tables.Table) (drawn []Chart, cautions []string) {
	for _, t := range list {
		c := charts(t, []version{{"", "after", t}})
		if c == nil {
			cautions = append(cautions, t.ID()+" is not drawn: expected two breakpoints at least on each axis")
		}
		drawn = append(drawn, c...)
	}
	return drawn, cautions
}

// version is one state of a table in a picture.
type version struct {
	name, class string
	t           *tables.Table
}

// charts draws a curve or a map; a scalar has no picture, nor has a table of one
// breakpoint. The last version is the table itself; one with other breakpoints
// is left out of a map's picture.
func charts(t *tables.Table, versions []version) []Chart {
	if t.X() == nil || t.Columns() < 2 {
		return nil
	}
	c := Chart{Title: named(t) + " against " + t.X().Quantity(), XName: t.X().Label(), YName: t.Unit()}
	if t.Y() == nil {
		for _, v := range versions {
			if v.t.Y() == nil && v.t.X() != nil {
				c.Series = append(c.Series, Series{Name: v.name, Class: v.class, X: v.t.X().Points(), Y: v.t.Row(0), Dots: true})
			}
		}
		return []Chart{c}
	}
	if t.Rows() < 2 {
		return nil
	}
	c.Title += " and " + t.Y().Quantity()
	c.Surface = &Surface{X: places(t.X()), Y: places(t.Y()), After: rowsOf(t)}
	if v := versions[0].t; len(versions) > 1 && v.X().SamePoints(t.X()) && v.Y().SamePoints(t.Y()) {
		c.Surface.Before = rowsOf(v)
		for r := range t.Rows() {
			for k := range t.Columns() {
				if !tables.SameBit(t.At(r, k), v.At(r, k)) {
					c.Surface.Marked = append(c.Surface.Marked, [2]int{r, k})
				}
			}
		}
	}
	return []Chart{c}
}

func rowsOf(t *tables.Table) [][]float64 {
	rows := make([][]float64, t.Rows())
	for r := range rows {
		rows[r] = t.Row(r)
	}
	return rows
}

// AlongRows is the mean of each row of a map that has empty cells, against the
// map's y axis; ± normal is shaded.
func AlongRows(t *tables.Table, normal float64) Chart {
	c := Chart{Title: "Trim against " + t.Y().Quantity() + ", ±" + tables.Shown(normal) + " % shaded", XName: t.Y().Label(), YName: t.Unit(), Normal: normal}
	s := Series{Class: "after", Dots: true}
	for r := range t.Rows() {
		sum, n := 0.0, 0.0
		for _, v := range t.Row(r) {
			if !math.IsNaN(v) {
				sum, n = sum+v, n+1
			}
		}
		if n > 0 {
			s.X, s.Y = append(s.X, t.Y().At(r)), append(s.Y, sum/n)
		}
	}
	c.Series = []Series{s}
	return c
}
