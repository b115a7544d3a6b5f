// Package form writes calibrations to be filled in: for each role a table with
// its unit, the headings of its axes and what it means, and every fact about the
// engine, all blank. A person types or pastes the numbers, and the file is a
// calibration, read like any other. What is left blank is refused in the cell
// where it stands, with what to do: fill it in, or delete its row or sheet.
//
// What explains a form begins with "#", and is passed over by every reader of
// workbooks and CSV. JSON has no remarks.
//
// The three layouts differ where their readers do: in CSV a remark stands on the line
// before, in a workbook behind the cell, where nothing is read; JSON has null in
// place of each number. A workbook has a sheet for each role, on which the cells to be
// filled in stand out, and one more with an example of a table that is filled in,
// which begins with a remark and is therefore read by nobody.
//
// The package knows how a document is laid out in each format, and nothing of
// how it is read. It promises no more than that: a form that is filled in is held to
// the rules of its format when it is read.
package form

import (
	"fmt"
	"io"

	"calsplice/tables"
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

// fact is a fact about the engine to be filled in: the unit and the words that
// stand with it.
type fact struct{ name, unit, help string }

// facts are all facts about an engine, in the order of the registry, which knows
// their names. What a person should type for one is said here alone.
func facts() (list []fact) {
	help := map[string]fact{
		"cylinders":        {help: "such as 4"},
		"strokes":          {help: "4, or 2"},
		"injectors":        {help: "of the whole engine, such as 4"},
		"pulses_per_cycle": {help: "how often each injector opens in one engine cycle: 1 or 2"},
		"displacement":     {unit: "L", help: "such as 2.5 L"},
		"rail_pressure":    {unit: "kPa", help: "such as 300 kPa, relative to atmosphere (constant at the rail), manifold (the regulator follows it) or absolute"},
		"stoich_afr":       {help: "air/fuel ratio at lambda 1, such as 14.7 for petrol"},
		"fuel_density":     {unit: "kg/L", help: "such as 0.745 kg/L for petrol"},
	}
	for _, name := range tables.EngineFields.Names() {
		list = append(list, fact{name, help[name].unit, help[name].help})
	}
	return list
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

// beside is what stands behind the fact's number: its unit, and of a pressure
// what it is relative to, which is blank.
func (f fact) beside() []string {
	switch {
	case f.name == "rail_pressure":
		return []string{f.unit, ""}
	case f.unit != "":
		return []string{f.unit}
	}
	return nil
}

var axisNames = []string{"x", "y"}
