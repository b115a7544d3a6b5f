package schema_test

import (
	"bytes"
	"strings"
	"testing"

	"calsplice/cmd/calsplice/schema"
	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/merge/conflictfile"
	"calsplice/tables/tablejson"
	"calsplice/tables/tabletest"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// compile has an independent validator (santhosh-tekuri/jsonschema) take a
// schema in, which also checks it against the 2020-12 metaschema.
func compile(t *testing.T, name string) *jsonschema.Schema {
	t.Helper()
	text, err := schema.Text(name)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("urn:test", doc); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	s, err := c.Compile("urn:test")
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return s
}

func valid(s *jsonschema.Schema, text []byte) error {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return err
	}
	return s.Validate(doc)
}

func TestWhatIsWrittenIsValid(t *testing.T) {
	calibration, cells, changes := compile(t, "calibration"), compile(t, "cells"), compile(t, "changes")
	for seed := range uint64(300) {
		src := tabletest.Rand(seed)
		var b bytes.Buffer
		a, c := tabletest.Document(src), tabletest.Cells(src)
		tablejson.Write(&b, a)
		if err := valid(calibration, b.Bytes()); err != nil {
			t.Fatalf("%v\n%s", err, b.Bytes())
		}
		b.Reset()
		tablejson.Write(&b, c)
		if err := valid(cells, b.Bytes()); err != nil {
			t.Fatalf("%v\n%s", err, b.Bytes())
		}
		b.Reset()
		for _, cs := range []*merge.ChangeSet{merge.Diff(a, tabletest.Document(src)), merge.Diff(c, tabletest.Cells(src))} {
			b.Reset()
			changefile.WriteJSON(&b, cs)
			if err := valid(changes, b.Bytes()); err != nil {
				t.Fatalf("%v\n%s", err, b.Bytes())
			}
		}
	}
}

// TestBrokenIsRefused breaks a sound document in one place at a time: the
// validator and the reader must both refuse it.
func TestBrokenIsRefused(t *testing.T) {
	calibration := compile(t, "calibration")
	const sound = `{"format": "calsplice/1", "engine": {"cylinders": 4, "strokes": 4, "displacement": {"value": 2, "unit": "L"},
  "rail_pressure": {"value": 380, "unit": "kPa", "relative_to": "manifold"}},
 "tables": [{"id": "a", "unit": "V", "role": "other", "resolution": 0.1, "limits": [0, 2],
  "x": {"unit": "r/min", "points": [1, 2]}, "y": {"unit": "kPa", "points": [1]}, "values": [[1, 2]]}]}`
	if err := valid(calibration, []byte(sound)); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ from, to, why string }{
		{`"calsplice/1"`, `"calsplice/2"`, "a newer version"},
		{`"format": "calsplice/1",`, ``, "no format"},
		{`"cylinders": 4`, `"cylinders": 4.5`, "a count that is not whole"},
		{`"cylinders": 4`, `"cylinders": 0`, "no cylinder"},
		{`"strokes": 4`, `"strokes": 3`, "neither two nor four strokes"},
		{`"cylinders"`, `"Cylinders"`, "a key in other capitals"},
		{`"value": 2, `, ``, "a measure without a value"},
		{`"manifold"`, `"sea"`, "relative to nothing known"},
		{`"id": "a"`, `"id": "A"`, "a capital in an id"},
		{`"id": "a", `, ``, "no id"},
		{`"unit": "V", `, ``, "no unit"},
		{`"other"`, `"another"`, "an unknown role"},
		{`0.1`, `0`, "a resolution of 0"},
		{`[0, 2]`, `[0]`, "one limit"},
		{`"points": [1, 2]`, `"points": []`, "no breakpoints"},
		{`"points": [1, 2]`, `"points": [1, 1]`, "a breakpoint twice"},
		{`"points": [1, 2]`, `"points": [1, "2"]`, "text for a number"},
		{`"x": {"unit": "r/min", "points": [1, 2]}, `, ``, "y without x"},
		{`[[1, 2]]`, `[1, 2]`, "a list where rows are wanted"},
		{`[[1, 2]]`, `[[1, null]]`, "an empty cell in a calibration"},
		{`[[1, 2]]`, `[[[1, 2]]]`, "nested too deep"},
		{`"limits"`, `"bounds"`, "an unknown key"},
	} {
		broken := strings.Replace(sound, c.from, c.to, 1)
		if broken == sound {
			t.Fatalf("%s: nothing to break", c.why)
		}
		if valid(calibration, []byte(broken)) == nil {
			t.Errorf("%s: the schema takes it", c.why)
		}
		if _, err := tablejson.Parse([]byte(broken), "broken"); err == nil {
			t.Errorf("%s: the reader takes it", c.why)
		}
	}
}

func TestConflictsCompile(t *testing.T) {
	s := compile(t, "conflicts")
	if err := valid(s, []byte(`[{"table": "a", "at": [0, 1], "base": 1, "ours": 2, "theirs": 3}]`)); err != nil {
		t.Error(err)
	}
	if valid(s, []byte(`[{"table": "a", "at": [0], "base": 1, "ours": 2, "theirs": 3}]`)) == nil {
		t.Error("one number is no place")
	}
}

// TestDecisions: the schema and the reader take and refuse the same.
func TestDecisions(t *testing.T) {
	s := compile(t, "decisions")
	const sound = `{"format": "calsplice.decisions/1", "merged": {"name": "van", "sha256": "00"}, "decisions": [{"table": "a", "at": [0, 1], "take": "ours"}, {"table": "", "at": "name", "value": "van"}]}`
	for _, c := range []struct{ from, to, why string }{
		{"", "", ""},
		{`"calsplice.decisions/1"`, `"calsplice.decisions/2"`, "a newer version"},
		{`"take": "ours"`, `"take": "mine"`, "no side"},
		{`"take": "ours"`, `"take": "ours", "value": 1`, "a side and a value"},
		{`, "take": "ours"`, ``, "neither"},
		{`"at": [0, 1]`, `"at": [0]`, "one number is no place"},
		{`"at": [0, 1], `, ``, "no place"},
		{`"take"`, `"Take"`, "a key in other capitals"},
		{`"decisions": [`, `"choices": [`, "no decisions"},
	} {
		text := []byte(strings.Replace(sound, c.from, c.to, 1))
		_, err := conflictfile.ParseDecisions(text, "d.json")
		if judged := valid(s, text); (judged == nil) != (c.why == "") || (err == nil) != (c.why == "") {
			t.Errorf("%s: the schema says %v, the reader %v", c.why, judged, err)
		}
	}
}
