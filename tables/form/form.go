// Package form writes calibrations to be filled in: for each role a table with
// its unit, the headings of its axes and what it means, and every fact about the
// engine, all blank. A person types or pastes the numbers, and the file is a
// calibration, read like any other. What is left blank is refused in the cell
// where it stands, with what to do: fill it in, or delete its row or sheet.
//
// CSV and workbooks have the same rows. What explains one begins with "#" and stands
// behind its cells, or in a row of its own, where every reader passes it over. JSON has
// no remarks, and null in place of each number.
//
// A workbook has a sheet for each role, on which the cells to be filled in stand out,
// and one more with an example of a table that is filled in, which begins with a
// remark and is therefore read by nobody.
//
// The package knows how a document is laid out in each format, and nothing of
// how it is read. It promises no more than that: a form that is filled in is held to
// the rules of its format when it is read.
package form

import (
	"fmt"
	"io"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/strictcsv"
)

// Form is a calibration to be filled in.
type Form struct {
	Name  string
	Roles []tables.Role
}

// Write writes the form in a format: json, csv or xlsx.
func (f *Form) Write(w io.Writer, format string) error {
	switch format {
	case "xlsx":
		return f.workbook(w)
	case "csv":
		return f.csv(w)
	}
	return f.json(w)
}

// facts say what a person should type for a fact about the engine, and the unit that
// stands with it.
var facts = map[string]struct{ unit, help string }{
	"cylinders":        {help: "such as 4"},
	"strokes":          {help: "4, or 2"},
	"injectors":        {help: "of the whole engine, such as 4"},
	"pulses_per_cycle": {help: "how often each injector opens in one engine cycle: 1 or 2"},
	"displacement":     {unit: "L", help: "such as 2.5 L"},
	"rail_pressure":    {unit: "kPa", help: "such as 300 kPa, relative to atmosphere (constant at the rail), manifold (the regulator follows it) or absolute"},
	"stoich_afr":       {help: "air/fuel ratio at lambda 1, such as 14.7 for petrol"},
	"fuel_density":     {unit: "kg/L", help: "such as 0.745 kg/L for petrol"},
}

const wholeHelp = "Fill in what is blank. Delete the line of a fact that you do not have, and the whole table of a role that you do not have."

// tableHelp says how a table of a role is filled in.
func tableHelp(s tables.Shape) string {
	switch len(s.Axes) {
	case 0:
		return "One number."
	case 1:
		return "The breakpoints, from low to high, and the values under them."
	}
	return fmt.Sprintf("The breakpoints of %s along the first line, those of %s down the first column, from low to high; the values between.", s.Axes[0].Quantity, s.Axes[1].Quantity)
}

// filler takes the rows of a form.
type filler interface {
	sheet.Writer
	table(id string)     // what follows is of a table: a workbook begins a sheet
	blank()              // a cell to be filled in
	remark(words string) // explains the row, behind its cells
	grid(s tables.Shape) // the place for breakpoints and values
}

// rows writes the facts about the engine, and what is known of each table.
func (f *Form) rows(l filler) {
	if l.Name("name"); f.Name == "" {
		l.blank()
	} else {
		l.Word(f.Name)
	}
	l.Name("# " + wholeHelp)
	of := &tables.Engine{}
	for _, fact := range tables.EngineFields.Of(of) {
		l.Name("engine")
		l.Word(fact.Name)
		for _, p := range fact.Parts(of) {
			if isUnit(p) {
				l.Word(facts[fact.Name].unit)
			} else {
				l.blank()
			}
		}
		l.remark(facts[fact.Name].help)
	}
	for _, r := range f.Roles {
		l.table(string(r))
		table(l, r.Shape(), string(r))
	}
}

// isUnit reports whether a part of a fact is its unit, which a form fills in; numbers
// and words to choose from are a person's.
func isUnit(p tables.Part) bool { return p.Text != nil && p.Words == nil }

// table writes what is known of a table, and then the place for its numbers.
func table(l filler, s tables.Shape, role string) {
	l.Name("table")
	l.Word(role)
	l.Name("# " + s.Meaning)
	l.Name("role")
	l.Word(role)
	l.Name("unit")
	l.Word(s.Unit)
	l.remark("of the values; another one may be written")
	l.Name("resolution")
	l.blank()
	l.remark("the smallest step that the controller stores; may stay blank")
	for i, h := range s.Axes {
		l.Name(axisNames[i])
		l.Word(h.Quantity)
		l.Word(h.Unit)
	}
	if l.Name("# " + tableHelp(s)); len(s.Axes) > 0 {
		l.grid(s)
		return
	}
	l.Name("value")
	l.blank()
}

var axisNames = []string{"x", "y"}

// text is a form as CSV, in which a blank is an empty field and a grid is typed under
// what is there.
type text struct{ *strictcsv.Writer }

func (l text) table(string)        { l.Blank() }
func (l text) blank()              { l.Word("") }
func (l text) remark(words string) { l.Word("# " + words) }
func (l text) grid(tables.Shape)   {}

func (f *Form) csv(w io.Writer) error {
	l := text{strictcsv.NewWriter(w)}
	l.Row("calsplice", "1", "calibration")
	f.rows(l)
	l.Blank()
	l.Row("end")
	return l.Close()
}
