package main

import (
	"fmt"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/unit"
)

func set(in *input) {
	path, out := in.arg(0), in.text("o")
	doc := in.doc(path)
	refuse(len(in.args) == 1 && !in.given("remove"), "set needs KEY=VALUE or --remove TABLE; %s", keyList(doc))
	in.needs("o")
	s := setter{before: doc, contents: doc.Contents()}
	s.contents.Tables = slices.Clone(doc.Tables())
	var after *tables.Calibration
	within(path, attempt(func() { after = s.make(in.rest(), in.many("remove")) }))
	in.caution(s.cautions...)
	in.caution(newFindings(doc, after)...)
	if !in.yes("changes") {
		check(tablefile.Write(out, after, in.output()))
		return
	}
	cs := merge.Diff(doc, after)
	cs.Title, cs.MadeBy = "Facts", "set"
	check(changefile.Write(out, cs, doc, in.output()))
}

// setter is a document whose facts are being set.
type setter struct {
	before   *tables.Calibration
	contents tables.Contents
	cautions []string
}

// assignment is KEY=VALUE; field is the key without its table and axis.
type assignment struct{ key, field, value string }

func (s *setter) make(assignments, remove []string) *tables.Calibration {
	given := map[string]bool{}
	for _, a := range assignments {
		key, value, ok := strings.Cut(a, "=")
		key = strings.TrimSpace(key)
		refuse(!ok, "%s is no KEY=VALUE; %s", tables.Quote(a), keyList(s.before))
		refuse(given[key], "%s is given twice", tables.Quote(key))
		given[key] = true
		s.fact(assignment{key, key, value})
	}
	for _, id := range remove {
		i := s.table("--remove: ", id)
		s.contents.Tables = slices.Delete(s.contents.Tables, i, i+1)
	}
	return must(tables.NewCalibration(s.contents))
}

// table is the place of a table among those that are left.
func (s *setter) table(of, id string) int {
	i := slices.IndexFunc(s.contents.Tables, func(t *tables.Table) bool { return t.ID() == id })
	refuse(i < 0, "%s%s", of, tables.Unknown("table", id, s.before.IDs()))
	return i
}

// fact sets one fact: of the document, or of a table and its axes.
func (s *setter) fact(a assignment) {
	id, field, ofTable := strings.Cut(a.key, ":")
	if !ofTable {
		parseFact(s, tables.DocumentFields, &s.contents, a)
		return
	}
	t := &s.contents.Tables[s.table("", id)]
	a.field = field
	f := (*t).Fields()
	s.tableFact(&f, a)
	*t = must(tables.NewTable(f))
}

func (s *setter) tableFact(f *tables.Fields, a assignment) {
	name, ofAxis, is := strings.Cut(a.field, ".")
	axis := map[string]**tables.Axis{"x": &f.X, "y": &f.Y}[name]
	if !is || axis == nil {
		parseFact(s, tables.TableFields, f, a)
		return
	}
	refuse(*axis == nil, "%s: table %s has no %s axis", a.key, f.ID, name)
	a.field = ofAxis
	parts := (*axis).Parts()
	parseFact(s, tables.AxisFields, &parts, a)
	*axis = must(parts.Axis())
}

// parseFact sets a field by what was typed for it.
func parseFact[T any](s *setter, in tables.Fieldset[T], of *T, a assignment) {
	f, ok := in.Find(a.field)
	refuse(!ok || !f.Typed(), "there is no key %s; %s", tables.Quote(a.key), keyList(s.before))
	err := f.Parse(of, a.value)
	refuse(err != nil, "%s: %w", a.key, err)
	u := ""
	switch p := f.At(of).(type) {
	case *string:
		if a.field == "unit" {
			u = *p
			s.cautions = append(s.cautions, a.key+": the numbers stay as they are; calsplice convert --unit converts them")
		}
	case **tables.Engine:
		u = engineUnit(*p, strings.TrimPrefix(a.field, "engine."))
	}
	if _, known := unit.Parse(u); u != "" && !known {
		s.cautions = append(s.cautions, fmt.Sprintf("%s: unit %s is not known, and nothing can be computed with it; calsplice help units lists them", a.key, tables.Quote(u)))
	}
}

// engineUnit is the unit of a fact about the engine; "" where it has none.
func engineUnit(e *tables.Engine, name string) string {
	f, ok := tables.EngineFields.Find(name)
	if !ok || !f.Given(e) {
		return ""
	}
	switch p := f.At(e).(type) {
	case **tables.Measure:
		return (*p).Unit
	case **tables.RailPressure:
		return (*p).Unit
	}
	return ""
}

// keyList names every key that can be set.
func keyList(doc *tables.Calibration) string {
	return "keys are " + strings.Join(tables.DocumentFields.Typed(), ", ") + "; and of a table " +
		strings.Join(doc.IDs(), ", ") + ", such as TABLE:role: " + strings.Join(tables.TableFields.Typed(), ", ") + ", x.quantity, x.unit, y.quantity, y.unit"
}
