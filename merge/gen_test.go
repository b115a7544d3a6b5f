package merge

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/tabletest"
)

var points = []float64{-4, 0, 1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 20.5}

var ids = []string{"a", "b", "c", "d", "spark.advance"}

func genAxis(s tabletest.Source, most int) *tables.Axis {
	start := s.N(len(points))
	var p []float64
	for i := start; i < len(points) && len(p) < most; i++ {
		if s.N(3) > 0 || len(p) == 0 {
			p = append(p, points[i])
		}
	}
	return tabletest.Must(tables.NewAxis(tabletest.Pick(s, []string{"engine speed", "load", "battery voltage"}), tabletest.Pick(s, []string{"r/min", "kPa", "V"}), p))
}

func genTable(s tabletest.Source, id string) *tables.Table {
	f := tables.Fields{ID: id, Unit: tabletest.Pick(s, []string{"ms", "deg", "%"}), Resolution: tabletest.Pick(s, tabletest.Resolutions)}
	if k := s.N(5); k > 0 {
		f.X = genAxis(s, 5)
		if k > 2 {
			f.Y = genAxis(s, 4)
		}
	}
	f.Values = make([]float64, f.Y.Len()*f.X.Len())
	flat := s.N(3) == 0
	first := tabletest.Pick(s, tabletest.Near)
	for i := range f.Values {
		f.Values[i] = first
		if !flat {
			f.Values[i] = tabletest.Pick(s, tabletest.Near)
		}
	}
	return tabletest.Must(tables.NewTable(f))
}

func genMap(s tabletest.Source) *tables.Table {
	for {
		if t := genTable(s, "a"); t.Rows()*t.Columns() > 4 {
			return t
		}
	}
}

func genDoc(s tabletest.Source) *tables.Calibration {
	c := tables.Contents{Name: tabletest.Pick(s, []string{"", "van", "boat"})}
	for _, id := range ids {
		if s.N(2) == 0 {
			c.Tables = append(c.Tables, genTable(s, id))
		}
	}
	shuffle(s, c.Tables)
	return tabletest.Must(tables.NewCalibration(c))
}

func shuffle[T any](s tabletest.Source, list []T) {
	for i := len(list) - 1; i > 0; i-- {
		j := s.N(i + 1)
		list[i], list[j] = list[j], list[i]
	}
}

// mutate is a document with up to most changes of every kind.
func mutate(s tabletest.Source, doc *tables.Calibration, most int) *tables.Calibration {
	for range s.N(most + 1) {
		doc = mutateOnce(s, doc)
	}
	return doc
}

func mutateOnce(s tabletest.Source, doc *tables.Calibration) *tables.Calibration {
	c := doc.Contents()
	c.Tables = slices.Clone(c.Tables)
	if len(c.Tables) == 0 || s.N(12) == 0 {
		switch s.N(4) {
		case 0:
			c.Name = tabletest.Pick(s, []string{"", "van", "boat", "tractor"})
		case 1:
			c.Notes = tabletest.Pick(s, []string{"", "one", "one two", "two"})
		case 2:
			c.Engine = tabletest.Pick(s, []*tables.Engine{nil, {}, {Cylinders: 4}, {StoichAFR: 14.7, RailPressure: &tables.RailPressure{Value: 380, Unit: "kPa", RelativeTo: tables.Manifold}}})
		case 3:
			tables.Kept{In: &c.Extra, Key: tabletest.Pick(s, []string{"x-a", "x-b"})}.Set(tabletest.Pick(s, []string{"1", `"t"`}), s.N(3) > 0)
		}
		if len(c.Tables) > 0 {
			return tabletest.Must(tables.NewCalibration(c))
		}
	}
	switch s.N(14) {
	case 0: // remove
		if len(c.Tables) > 0 {
			at := s.N(len(c.Tables))
			c.Tables = slices.Delete(c.Tables, at, at+1)
		}
	case 1: // add
		if id := tabletest.Pick(s, ids); doc.Table(id) == nil {
			c.Tables = slices.Insert(c.Tables, s.N(len(c.Tables)+1), genTable(s, id))
		}
	case 2:
		shuffle(s, c.Tables)
	default:
		if len(c.Tables) > 0 {
			at := s.N(len(c.Tables))
			c.Tables[at] = mutateTable(s, c.Tables[at])
		}
	}
	return tabletest.Must(tables.NewCalibration(c))
}

func mutateTable(s tabletest.Source, t *tables.Table) *tables.Table {
	f := t.Fields()
	f.Values = slices.Clone(f.Values)
	switch s.N(12) {
	case 0:
		f.Title = tabletest.Pick(s, []string{"", "Flow", "Flow of it"})
	case 1:
		f.Unit = tabletest.Pick(s, []string{"ms", "us", "deg"})
	case 2:
		f.Resolution = tabletest.Pick(s, tabletest.Resolutions)
	case 3:
		f.Limits = tabletest.Pick(s, []*tables.Limits{nil, {Low: 0, High: 40}, {Low: math.Copysign(0, -1), High: 40}})
	case 4:
		tables.Kept{In: &f.Extra, Key: "x-k"}.Set(tabletest.Pick(s, []string{"1", "2"}), s.N(2) == 0)
	case 5, 6:
		mutateAxis(s, &f)
	case 7:
		return genTable(s, f.ID)
	default:
		for range 1 + s.N(3) {
			f.Values[s.N(len(f.Values))] = tabletest.Pick(s, tabletest.Near)
		}
	}
	return tabletest.Must(tables.NewTable(f))
}

// mutateAxis inserts, drops or moves a breakpoint of x or y.
func mutateAxis(s tabletest.Source, f *tables.Fields) {
	axis, alongX := &f.X, true
	if f.Y != nil && s.N(2) == 0 {
		axis, alongX = &f.Y, false
	}
	if *axis == nil {
		return
	}
	p := slices.Clone((*axis).Points())
	at := s.N(len(p))
	switch s.N(3) {
	case 0:
		v := tabletest.Pick(s, points)
		i, found := slices.BinarySearch(p, v)
		if found {
			return
		}
		p = slices.Insert(p, i, v)
		insertLine(f, alongX, i, func() float64 { return tabletest.Pick(s, tabletest.Near) })
	case 1:
		if len(p) == 1 {
			return
		}
		p = slices.Delete(p, at, at+1)
		dropLine(f, alongX, at)
	case 2:
		p[at] += 0.25
	}
	if a, err := tables.NewAxis((*axis).Quantity(), (*axis).Unit(), p); err == nil {
		*axis = a
	}
}

func insertLine(f *tables.Fields, alongX bool, at int, v func() float64) {
	r, c := f.Y.Len(), f.X.Len()
	var out []float64
	for i := range r {
		if !alongX && i == at {
			for range c {
				out = append(out, v())
			}
		}
		for j := range c {
			if alongX && j == at {
				out = append(out, v())
			}
			out = append(out, f.Values[i*c+j])
		}
		if alongX && at == c {
			out = append(out, v())
		}
	}
	if !alongX && at == r {
		for range c {
			out = append(out, v())
		}
	}
	f.Values = out
}

func dropLine(f *tables.Fields, alongX bool, at int) {
	c := f.X.Len()
	var out []float64
	for i, v := range f.Values {
		if alongX && i%c != at || !alongX && i/c != at {
			out = append(out, v)
		}
	}
	f.Values = out
}

// spell is a document in words, for messages of failing tests.
func spell(doc *tables.Calibration) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%q %q %s %v\n", doc.Name(), doc.Notes(), doc.Engine().Text(), doc.Contents().Extra)
	for _, t := range doc.Tables() {
		f := t.Fields()
		fmt.Fprintf(&b, "  %s", f.ID)
		for _, g := range tables.TableFields.Of(&f) {
			fmt.Fprintf(&b, " %s %s", g.Name, g.Text(&f))
		}
		b.WriteString(": ")
		for _, v := range f.Values {
			fmt.Fprintf(&b, "%s ", cellText(v))
		}
		b.WriteByte('\n')
	}
	return b.String()
}
