package form

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tablecsv"
	"calsplice/tables/tablejson"
	"calsplice/tables/tablexlsx"
)

// TestBlanks: in every format a form is refused until it is filled in, with a
// line of every role and every fact.
func TestBlanks(t *testing.T) {
	roles := slices.DeleteFunc(slices.Clone(tables.Roles), func(r tables.Role) bool { return r == tables.Other })
	for format, read := range map[string]func([]byte) error{
		"json": func(b []byte) error { _, err := tablejson.Parse(b, "form"); return err },
		"csv":  func(b []byte) error { _, _, err := tablecsv.Parse(b, "form"); return err },
		"xlsx": func(b []byte) error {
			_, _, err := tablexlsx.Parse(b, "form")
			return err
		},
	} {
		var out, again bytes.Buffer
		f := Form{"As found", roles}
		if err := f.Write(&out, format); err != nil {
			t.Fatal(err)
		}
		if err := f.Write(&again, format); err != nil || !bytes.Equal(out.Bytes(), again.Bytes()) {
			t.Errorf("%s: the same form gave other bytes (%v)", format, err)
		}
		err := read(out.Bytes())
		if err == nil {
			t.Fatalf("%s: an unfilled form was read", format)
		}
		if format == "json" {
			continue // its faults have the tables' indices
		}
		for _, r := range roles {
			if !strings.Contains(err.Error(), string(r)) {
				t.Errorf("%s: no line names a blank of %s", format, r)
			}
		}
	}
}

// TestFacts: every fact about an engine has words that explain it.
func TestFacts(t *testing.T) {
	for _, name := range tables.EngineFields.Names() {
		if facts[name].help == "" {
			t.Errorf("a form does not explain the fact %s", name)
		}
	}
}

// TestShapes: every role but other has a unit and, in a form, a place to type.
func TestShapes(t *testing.T) {
	for _, r := range tables.Roles {
		s := r.Shape()
		if s.Meaning == "" || (s.Unit == "") != (r == tables.Other) || len(s.Axes) > 2 {
			t.Errorf("role %s has the shape %+v", r, s)
		}
	}
}
