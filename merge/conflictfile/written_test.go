package conflictfile

import (
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
)

// TestWritten holds the list of every kind of conflict to its very text: what is
// not given is null and listed, and an engine stands on one line.
func TestWritten(t *testing.T) {
	axis := func(points ...float64) *tables.Axis {
		a, err := tables.NewAxis("load", "%", points)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	curve := func(points ...float64) *tables.Table {
		c, err := tables.NewTable(tables.Fields{ID: "c", Unit: "ms", X: axis(points...), Values: points})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	field := func(f tables.Fields) merge.State { return merge.State{Fields: &f} }
	document := func(c tables.Contents) merge.State { return merge.State{Contents: &c} }
	whole := func(tb *tables.Table) merge.State {
		f := tb.Fields()
		return merge.State{Fields: &f, Table: tb}
	}
	y := 240.0
	list := List{"van.json", []merge.Conflict{
		{ID: "1", Table: "a", Row: 1, Column: 2, In: merge.Theirs, Y: &y, Gone: "y", Base: merge.State{Value: 1}, Ours: merge.State{Absent: true}, Theirs: merge.State{Value: 2}},
		{ID: "2", Table: "a", Name: "title", Base: field(tables.Fields{}), Ours: field(tables.Fields{Title: "A"}), Theirs: field(tables.Fields{Title: "B"})},
		{ID: "3", Table: "c", Name: "x", Base: whole(curve(1, 2)), Ours: whole(curve(1, 3)), Theirs: whole(curve(1, 4))},
		{ID: "4", Table: "c", Name: merge.WholeTable, Base: merge.State{Table: curve(1)}, Ours: merge.State{Table: curve(2)}, Theirs: merge.State{Absent: true}, After: []string{"b", "a"}},
		{ID: "5", Name: "engine.strokes", Base: document(tables.Contents{Engine: &tables.Engine{}}), Ours: document(tables.Contents{Engine: &tables.Engine{Strokes: 2}}), Theirs: document(tables.Contents{Engine: &tables.Engine{Strokes: 4, Extra: tables.Extra{"x-a": "1"}}})},
		{ID: "6", Name: merge.TableOrder, Base: merge.State{Order: []string{"a", "b"}}, Ours: merge.State{Order: []string{"b", "a"}}, Theirs: merge.State{Order: []string{"c"}}},
		{ID: "7", Name: "x-k", Base: document(tables.Contents{}), Ours: document(tables.Contents{Extra: tables.Extra{"x-k": "null"}}), Theirs: document(tables.Contents{Extra: tables.Extra{"x-k": "3"}})},
		{ID: "8", Table: "order", Name: "order", Base: field(tables.Fields{}), Ours: field(tables.Fields{}), Theirs: field(tables.Fields{})},
	}}
	const want = `[
  {"id": "1", "merged": "van.json", "table": "a", "at": [1, 2], "in": "theirs", "y": 240, "gone": "y",
   "base": 1, "ours": null, "theirs": 2, "absent": ["ours"]},
  {"id": "2", "merged": "van.json", "table": "a", "at": "title",
   "base": null, "ours": "A", "theirs": "B", "absent": ["base"]},
  {"id": "3", "merged": "van.json", "table": "c", "at": "x",
   "base": {"quantity": "load", "unit": "%", "points": [1, 2]}, "ours": {"quantity": "load", "unit": "%", "points": [1, 3]}, "theirs": {"quantity": "load", "unit": "%", "points": [1, 4]},
   "whole": {"base": {
     "id": "c",
     "unit": "ms",
     "x": {"quantity": "load", "unit": "%", "points": [1, 2]},
     "values": [1, 2]
   }, "ours": {
     "id": "c",
     "unit": "ms",
     "x": {"quantity": "load", "unit": "%", "points": [1, 3]},
     "values": [1, 3]
   }, "theirs": {
     "id": "c",
     "unit": "ms",
     "x": {"quantity": "load", "unit": "%", "points": [1, 4]},
     "values": [1, 4]
   }}},
  {"id": "4", "merged": "van.json", "table": "c", "at": "table",
   "base": {
     "id": "c",
     "unit": "ms",
     "x": {"quantity": "load", "unit": "%", "points": [1]},
     "values": [1]
   }, "ours": {
     "id": "c",
     "unit": "ms",
     "x": {"quantity": "load", "unit": "%", "points": [2]},
     "values": [2]
   }, "theirs": null, "absent": ["theirs"], "after": ["b", "a"]},
  {"id": "5", "merged": "van.json", "table": "", "at": "engine.strokes",
   "base": null, "ours": {"strokes":2}, "theirs": {"strokes":4,"x-a":1}, "absent": ["base"]},
  {"id": "6", "merged": "van.json", "table": "", "at": "order",
   "base": ["a", "b"], "ours": ["b", "a"], "theirs": ["c"]},
  {"id": "7", "merged": "van.json", "table": "", "at": "x-k",
   "base": null, "ours": null, "theirs": 3, "absent": ["base"]},
  {"id": "8", "merged": "van.json", "table": "order", "at": "order",
   "base": null, "ours": null, "theirs": null, "absent": ["base", "ours", "theirs"]}
]
`
	got := string(Append(nil, list))
	if got != want {
		t.Errorf("written is\n%s", got)
	}
	list.Conflicts = list.Conflicts[:7]
	read, err := Parse(Append(nil, list), "list")
	if err != nil || string(Append(nil, read)) != string(Append(nil, list)) {
		t.Errorf("%v: read and written again it is\n%s", err, Append(nil, read))
	}
	if got := string(Append(nil, List{Merged: "van.json"})); got != "[]\n" {
		t.Errorf("no conflicts are written as %q", got)
	}
}

// TestRefusesInOneLine names the place and what is wrong with a side.
func TestRefusesInOneLine(t *testing.T) {
	for side, want := range map[string]string{
		`"table": "a", "at": "values", "base": 1`:                        `c.json:1:2: [0].base: no table has a field "values"`,
		`"table": "a", "at": "", "base": 1`:                              `c.json:1:2: [0].base: no table has a field "?"`,
		`"table": "", "at": "engine.horns", "base": {}`:                  `c.json:1:2: [0].base: no document has a field "engine.horns"`,
		`"table": "", "at": "engine.strokes", "base": {"strokes": 3}`:    `c.json:1:2: [0].base: strokes: found 3, expected 2 or 4`,
		`"table": "a", "at": "resolution", "base": 0`:                    `c.json:1:2: [0].base: found 0, expected a number above 0`,
		`"table": "a", "at": "table", "base": {"id": "a", "unit": "ms"}`: `c.json:1:2: [0].base: has no "values"`,
		`"table": "a", "at": "title", "base": 1`:                         `c.json:1:2: [0].base: found 1, expected text`,
	} {
		_, err := Parse([]byte("[{"+side+`, "ours": null, "theirs": null}]`), "c.json")
		if err == nil || !strings.HasPrefix(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want %s", side, err, want)
		}
	}
}
