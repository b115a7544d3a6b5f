// Package plausible judges whether a calibration's values can be true for what
// its tables mean.
//
// [Check] takes a sound document and gives findings, each with its place, its
// reason and what the reason rests on: a law, the document's own words, or
// "common practice, no source". A finding is a doubt for a person to look at,
// never an error; a table without a role is only held against its own limits,
// resolution and neighbours. Cell averages are measurements, and are not
// judged.
//
// What it cannot judge, for want of a role, or of a unit or quantity that it
// knows, it says.
//
// A table is read at other places by package interp, and pressures by package lookup.
//
// The tolerances are wide on purpose: a check that cries at every real table is
// switched off. They are named beside each rule.
package plausible

import (
	"fmt"
	"strings"

	"calsplice/tables"
)

// practice is the basis of a finding that rests on no published source.
const practice = "common practice, no source"

// Finding is one doubt.
type Finding struct {
	Table string `json:"table"` // its id; "" for the document
	At    []int  `json:"at"`    // row and column, from 0; nil where the finding is of the whole table
	Rule  string `json:"rule"`  // a short name, for machines
	Text  string `json:"text"`  // what was found, with the axis values, and what was expected
	Basis string `json:"basis"`
}

// String is the finding in a line, with its place before it.
func (f Finding) String() string {
	place := f.Table
	if f.At != nil {
		place += fmt.Sprintf(" [%d, %d]", f.At[0], f.At[1])
	}
	if place != "" {
		place += ": "
	}
	return place + f.Text + "; " + f.Basis
}

// Check judges a calibration. The notes say what could not be judged.
func Check(c *tables.Calibration) (findings []Finding, notes []string) {
	if c.Kind() != tables.Calibrated {
		return nil, nil
	}
	k := &checker{doc: c, seen: map[string]int{}, met: map[*tables.Table]map[int]bool{}}
	k.document()
	for _, t := range c.Tables() {
		k.table(t)
	}
	k.unjudged()
	k.count()
	return k.findings, k.notes
}

// most is how many findings of one rule are listed for one table; past that
// they are counted.
const most = 12

// checker is a check under way.
type checker struct {
	doc               *tables.Calibration
	findings          []Finding
	notes             tables.Notes
	judged            bool                           // some table has a role that is judged
	units, quantities unknownWords                   // of tables that are not
	seen              map[string]int                 // findings by table and rule
	order             []string                       // keys of seen, as met
	met               map[*tables.Table]map[int]bool // cells that a finding is about
}

// add keeps a finding, as far as there are not too many of its kind.
func (k *checker) add(f Finding) {
	key := f.Table + " " + f.Rule
	if k.seen[key] == 0 {
		k.order = append(k.order, key)
	}
	if k.seen[key]++; k.seen[key] <= most {
		k.findings = append(k.findings, f)
	}
}

// count says how many findings of a kind were not listed.
func (k *checker) count() {
	for _, key := range k.order {
		if n := k.seen[key] - most; n > 0 {
			table, rule, _ := strings.Cut(key, " ")
			k.findings = append(k.findings, Finding{Table: table, Rule: rule,
				Text: fmt.Sprintf("and %d more cells like that", n), Basis: "see above"})
		}
	}
}

// cell adds a finding of the i-th value of a table.
func (k *checker) cell(t *tables.Table, i int, rule, basis, format string, args ...any) {
	if k.met[t] == nil {
		k.met[t] = map[int]bool{}
	}
	k.met[t][i] = true
	n := t.Columns()
	text := fmt.Sprintf(format, args...)
	if where := Where(t, i); where != "" {
		text += " (" + where + ")"
	}
	k.add(Finding{Table: t.ID(), At: []int{i / n, i % n}, Rule: rule, Text: text, Basis: basis})
}

// outlierOf is the one of a line's i-th value and the next that a finding is about:
// one of which there is one already, or else the one out of line.
func (k *checker) outlierOf(t *tables.Table, l line, i int) int {
	switch met := k.met[t]; {
	case met[l.at[i]] && !met[l.at[i+1]]:
		return l.at[i]
	case met[l.at[i+1]] && !met[l.at[i]]:
		return l.at[i+1]
	}
	return l.at[l.outlierOf(i)]
}

// whole adds a finding of a table as a whole.
func (k *checker) whole(t *tables.Table, rule, basis, format string, args ...any) {
	k.add(Finding{Table: t.ID(), Rule: rule, Text: fmt.Sprintf(format, args...), Basis: basis})
}

// Where is the place of a table's i-th value by its axes, such as "at 12 V, 350
// kPa"; "" for a scalar.
func Where(t *tables.Table, i int) string {
	if t.X() == nil {
		return ""
	}
	s := "at " + amount(t.X().At(i%t.Columns()), t.X().Unit())
	if t.Y() != nil {
		s += ", " + amount(t.Y().At(i/t.Columns()), t.Y().Unit())
	}
	return s
}

// amount is a number and its unit, but for the unit 1.
func amount(v float64, unit string) string {
	if unit == "" || unit == "1" {
		return tables.FormatValue(v)
	}
	return tables.FormatValue(v) + " " + unit
}
