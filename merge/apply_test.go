package merge_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tablejson"
)

const (
	found = `{"format": "calsplice/1", "name": "van, as found", "tables": [
		{"id": "flow", "unit": "g/s", "resolution": 0.01, "x": {"quantity": "load", "unit": "%", "points": [10, 20]}, "values": [1, 2]},
		{"id": "gone", "unit": "ms", "values": 1}, {"id": "last", "unit": "ms", "values": 1}]}`
	corrected = `{"format": "calsplice/1", "name": "van, corrected", "tables": [
		{"id": "new", "unit": "ms", "values": 3}, {"id": "last", "unit": "ms", "title": "Last", "values": 1},
		{"id": "flow", "unit": "g/s", "resolution": 0.01, "x": {"quantity": "load", "unit": "%", "points": [10, 20, 30]}, "values": [1.5, 2, 3]}]}`
	moved = `{"format": "calsplice/1", "name": "boat", "tables": [
		{"id": "gone", "unit": "ms", "values": 2}, {"id": "last", "unit": "ms", "title": "First", "values": 1}, {"id": "new", "unit": "ms", "values": 4},
		{"id": "flow", "unit": "g/s", "resolution": 0.01, "x": {"quantity": "load", "unit": "%", "points": [10, 25]}, "values": [1.1, 2]}]}`
)

func parse(s string) *tables.Calibration {
	doc, err := tablejson.Parse([]byte(s), "doc.json")
	if err != nil {
		panic(err)
	}
	return doc
}

// A refusal names every place, what was wanted there and what was found.
func TestEveryMismatchIsNamed(t *testing.T) {
	cs := merge.Diff(parse(found), parse(corrected))
	_, err := merge.Apply(parse(moved), cs)
	var bad *merge.MismatchError
	if !errors.As(err, &bad) || bad.Already {
		t.Fatalf("a document that has moved on gave %v", err)
	}
	got := strings.Split(bad.Faults("van.json").Error(), "\n")
	want := []string{
		`van.json: name: found "boat", expected "van, as found"`,
		`van.json: order: found gone, last, new, flow, expected flow, gone, last`,
		`van.json: gone [0, 0]: found 2, expected 1`,
		`van.json: last title: found "First", expected nothing`,
		`van.json: flow x: found load [%] 10, 25, expected load [%] 10, 20`,
		`van.json: flow [0, 0]: found 1.1, expected 1`,
		`van.json: new: found the table, expected no such table yet`,
	}
	for _, w := range want {
		if !containsLine(got, w) {
			t.Errorf("no line %s", w)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d lines, want %d:\n%s", len(got), len(want), strings.Join(got, "\n"))
	}
}

func containsLine(lines []string, want string) bool {
	for _, l := range lines {
		if l == want {
			return true
		}
	}
	return false
}

// Nearer than half the resolution is the same value to a guard, but an edit
// smaller than that is guarded exactly, or it would apply twice.
func TestGuards(t *testing.T) {
	for _, c := range []struct {
		found, from, to float64
		ok              bool
		why             string
	}{
		{1, 1, 2, true, "just what it expects"},
		{1.004, 1, 2, true, "nearer than half of 0.01"},
		{1.005, 1, 2, false, "half the resolution is another value"},
		{1.01, 1, 2, false, "the next step"},
		{1, 1, 1.003, true, "a small edit of just the value"},
		{1.001, 1, 1.003, false, "a small edit of another value"},
		{1.003, 1, 1.003, false, "a small edit, made already"},
	} {
		f := parse(found).Table("flow").Fields()
		f.Values = []float64{c.found, 2}
		table, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := parse(found).WithTable(table)
		if err != nil {
			t.Fatal(err)
		}
		cs := &merge.ChangeSet{Edits: []merge.Edit{&merge.CellEdit{Table: "flow", From: c.from, To: c.to}}}
		if _, err := merge.Apply(doc, cs); (err == nil) != c.ok {
			t.Errorf("%v where %v is found, from %v to %v: %v", c.why, c.found, c.from, c.to, err)
		}
	}
}

// Places that are not there are refused like any other.
func TestNowhere(t *testing.T) {
	for _, e := range []merge.Edit{
		&merge.CellEdit{Table: "none", From: 1, To: 2},
		&merge.CellEdit{Table: "flow", Column: 2, From: 1, To: 2},
		&merge.CellEdit{Table: "flow", Row: -1, From: 1, To: 2},
		&merge.FieldEdit{Table: "none", Names: []string{"title"}},
		&merge.FieldEdit{Table: "flow", Names: []string{"colour"}},
		&merge.FieldEdit{Names: []string{"colour"}},
		merge.AddTable(parse(corrected).Table("new"), "none"),
		merge.RemoveTable(parse(corrected).Table("new"), ""),
	} {
		if _, err := merge.Apply(parse(found), &merge.ChangeSet{Edits: []merge.Edit{e}}); err == nil {
			t.Errorf("%+v applied", e)
		}
	}
}

func ExampleDiff() {
	old, new := parse(found), parse(corrected)
	changes := merge.Diff(old, new)
	there, _ := merge.Apply(old, changes)
	back, _ := merge.Apply(there, changes.Reverse())
	fmt.Println(there.Equal(new), back.Equal(old))
	_, err := merge.Apply(there, changes)
	fmt.Println(err)
	// Output:
	// true true
	// already applied: the document holds what every edit would make
}

func ExampleMerge() {
	base := parse(`{"format": "calsplice/1", "tables": [{"id": "a", "unit": "ms", "values": 1}, {"id": "b", "unit": "ms", "values": 1}]}`)
	ours := parse(`{"format": "calsplice/1", "tables": [{"id": "a", "unit": "ms", "values": 2}, {"id": "b", "unit": "ms", "values": 2}]}`)
	theirs := parse(`{"format": "calsplice/1", "tables": [{"id": "a", "title": "A", "unit": "ms", "values": 1}, {"id": "b", "unit": "ms", "values": 3}]}`)
	r, _ := merge.Merge(base, ours, theirs, merge.MergeOptions{})
	for _, c := range r.Conflicts {
		fmt.Println(c.Table, c.At(), c.SideText(merge.Original), c.SideText(merge.Ours), c.SideText(merge.Theirs))
	}
	settled, _, _, _ := merge.Resolve(r.Merged, r.Conflicts, merge.Theirs, merge.Selection{})
	a, b := settled.Table("a"), settled.Table("b")
	fmt.Println(a.Title(), a.At(0, 0), b.At(0, 0))
	// Output:
	// b [0, 0] 1 2 3
	// A 2 3
}

// TestBreakpointThatIsGone: the refusal names the axis whose breakpoint is not there, the
// breakpoint, and what the axis has.
func TestBreakpointThatIsGone(t *testing.T) {
	grid := func(x, y string, v string) *tables.Calibration {
		return parse(`{"format": "calsplice/1", "tables": [{"id": "m", "unit": "ms", "x": {"quantity": "load", "unit": "%", "points": ` + x + `},
			"y": {"quantity": "engine speed", "unit": "r/min", "points": ` + y + `}, "values": ` + v + `}]}`)
	}
	cs := merge.Diff(grid("[10, 20]", "[1, 2]", "[[1, 1], [1, 1]]"), grid("[10, 20]", "[1, 2]", "[[1, 1], [5, 1]]"))
	for _, c := range []struct{ x, y, want string }{
		{"[10, 20]", "[1, 3]", "m at 10 %, 2 r/min: found y engine speed [r/min] 1, 3, expected y engine speed [r/min] 2"},
		{"[15, 20]", "[1, 2]", "m at 10 %, 2 r/min: found x load [%] 15, 20, expected x load [%] 10"},
	} {
		_, err := merge.Apply(grid(c.x, c.y, "[[1, 1], [1, 1]]"), cs)
		if err == nil || !strings.HasSuffix(err.Error(), c.want) {
			t.Errorf("%s and %s: %v, want %s", c.x, c.y, err, c.want)
		}
	}
}
