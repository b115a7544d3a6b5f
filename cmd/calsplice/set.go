package main

import (
	"errors"
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
	after, err := s.make(in.rest(), in.many("remove"))
	within(path, err)
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

func (s *setter) make(assignments, remove []string) (*tables.Calibration, error) {
	given := map[string]bool{}
	for _, a := range assignments {
		key, value, ok := strings.Cut(a, "=")
		if key = strings.TrimSpace(key); !ok {
			return nil, fmt.Errorf("%s is no KEY=VALUE; %s", tables.Quote(a), keyList(s.before))
		}
		if given[key] {
			return nil, fmt.Errorf("%s is given twice", tables.Quote(key))
		}
		given[key] = true
		if err := s.fact(assignment{key, key, value}); err != nil {
			return nil, err
		}
	}
	for _, id := range remove {
		i := slices.IndexFunc(s.contents.Tables, func(t *tables.Table) bool { return t.ID() == id })
		if i < 0 {
			return nil, fmt.Errorf("--remove: %s", tables.Unknown("table", id, s.before.IDs()))
		}
		s.contents.Tables = slices.Delete(s.contents.Tables, i, i+1)
	}
	return tables.NewCalibration(s.contents)
}

// fact sets one fact: of the document, or of a table and its axes.
func (s *setter) fact(a assignment) error {
	id, field, ofTable := strings.Cut(a.key, ":")
	if !ofTable {
		return parseFact(s, tables.DocumentFields, &s.contents, a)
	}
	i := slices.IndexFunc(s.contents.Tables, func(t *tables.Table) bool { return t.ID() == id })
	if i < 0 {
		return errors.New(tables.Unknown("table", id, s.before.IDs()))
	}
	a.field = field
	f := s.contents.Tables[i].Fields()
	err := s.tableFact(&f, a)
	if err == nil {
		s.contents.Tables[i], err = tables.NewTable(f)
	}
	return err
}

func (s *setter) tableFact(f *tables.Fields, a assignment) error {
	name, ofAxis, is := strings.Cut(a.field, ".")
	axis := map[string]**tables.Axis{"x": &f.X, "y": &f.Y}[name]
	if !is || axis == nil {
		return parseFact(s, tables.TableFields, f, a)
	}
	own := *axis
	if own == nil {
		return fmt.Errorf("%s: table %s has no %s axis", a.key, f.ID, name)
	}
	a.field = ofAxis
	parts := own.Parts()
	err := parseFact(s, tables.AxisFields, &parts, a)
	if err == nil {
		*axis, err = parts.Axis()
	}
	return err
}

// parseFact sets a field by what was typed for it.
func parseFact[T any](s *setter, in tables.Fieldset[T], of *T, a assignment) error {
	f, ok := in.Find(a.field)
	if !ok || !f.Typed() {
		return fmt.Errorf("there is no key %s; %s", tables.Quote(a.key), keyList(s.before))
	}
	if err := f.Parse(of, a.value); err != nil {
		return fmt.Errorf("%s: %w", a.key, err)
	}
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
	return nil
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
