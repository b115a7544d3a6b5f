package merge_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
)

// TestResolveGuard: each kind of conflict knows a document that it is not
// about.
func TestResolveGuard(t *testing.T) {
	const axis = `"x": {"quantity": "load", "unit": "%", "points": `
	base := `{"format": "calsplice/1", "name": "o", "engine": {"cylinders": 4}, "tables": [
		{"id": "a", "unit": "ms", "values": 1}, {"id": "b", "unit": "ms", "values": 1}, {"id": "c", "unit": "ms", ` + axis + `[1, 2]}, "values": [1, 2]},
		{"id": "d", "unit": "ms", "values": 1}, {"id": "e", "unit": "ms", ` + axis + `[1, 2, 3]}, "values": [1, 1, 1]}]}`
	ours := `{"format": "calsplice/1", "name": "ours", "engine": {"cylinders": 5, "strokes": 4}, "tables": [
		{"id": "b", "title": "B", "unit": "ms", "values": 1}, {"id": "a", "unit": "ms", "values": 1}, {"id": "c", "unit": "ms", ` + axis + `[1, 4]}, "values": [1, 2]},
		{"id": "d", "unit": "ms", "values": 2}, {"id": "e", "unit": "ms", ` + axis + `[1, 3]}, "values": [1, 1]}]}`
	theirs := `{"format": "calsplice/1", "name": "theirs", "engine": {"cylinders": 6, "strokes": 4}, "tables": [
		{"id": "c", "unit": "ms", ` + axis + `[1, 3]}, "values": [1, 2]}, {"id": "b", "title": "C", "unit": "ms", "values": 1}, {"id": "a", "unit": "ms", "values": 1},
		{"id": "e", "unit": "ms", ` + axis + `[1, 2, 3]}, "values": [1, 9, 1]}]}`
	r, err := merge.Merge(parse(base), parse(ours), parse(theirs), merge.MergeOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ old, new, want string }{
		{`"name": "ours"`, `"name": "mine"`, `name: found "mine", expected "ours"`},
		{`"cylinders": 5`, `"cylinders": 3`, "engine.cylinders: found cylinders 3"},
		{`"id": "b", "title": "B"`, `"id": "b", "title": "D"`, `b title: found "D", expected "B"`},
		{`"id": "d", "unit": "ms", "values": 2`, `"id": "d", "unit": "ms", "values": 3`, "d [0, 0]: found 3, expected 2"},
		{`"id": "d"`, `"id": "d2"`, ""}, // theirs has no such table either
		{axis + `[1, 4]}, "values": [1, 2]`, axis + `[1, 4]}, "values": [1, 7]`, "c [0, 1]: found 7, expected 2"},
		{axis + `[1, 4]}`, axis + `[1, 5]}`, "c x: found load [%] 1, 5"},
		{`"id": "c"`, `"id": "c2"`, "c: found no such table, expected the table"},
		{axis + `[1, 3]}, "values": [1, 1]`, axis + `[1, 2, 3]}, "values": [1, 500, 1]`, "e [0, 1]: found 500, expected nothing"},
		{axis + `[1, 3]}, "values": [1, 1]`, axis + `[1, 2, 3]}, "values": [1, 9, 1]`, ""}, // taken from theirs before
		{axis + `[1, 3]}, "values": [1, 1]`, axis + `[1, 2, 3]}, "values": [1, 5, 1]`, "e [0, 1]: found 5, expected nothing"},
		{axis + `[1, 3]}, "values": [1, 1]`, axis + `[1, 2, 3]}, "values": [1, 0.5, 1]`, "e [0, 1]: found 0.5, expected nothing"},
		{`{"id": "b", "title": "B", "unit": "ms", "values": 1}, {"id": "a", "unit": "ms", "values": 1}, `, `{"id": "a", "unit": "ms", "values": 1}, `,
			"order: found "},
	} {
		text := strings.Replace(ours, c.old, c.new, 1)
		if text == ours {
			t.Fatalf("ours has no %s", c.old)
		}
		doc, _, _, err := merge.Resolve(parse(text), r.Conflicts, merge.Theirs, merge.Selection{})
		var bad *merge.MismatchError
		switch {
		case c.want == "" && errors.As(err, &bad):
			t.Errorf("%s: %v", c.new, err)
		case c.want != "" && (doc != nil || !errors.As(err, &bad) || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%s: %v, want %s", c.new, err, c.want)
		}
	}
}

// TestResolveByHand: a conflict that someone wrote down goes to its row and
// column where it gives no breakpoints; what does not fit the document is
// refused and named.
func TestResolveByHand(t *testing.T) {
	doc := func(y string, values string) *tables.Calibration {
		return parse(`{"format": "calsplice/1", "tables": [{"id": "t", "unit": "ms", "x": {"quantity": "load", "unit": "%", "points": [10, 20]}` + y + `, "values": ` + values + `}]}`)
	}
	curve := doc("", "[1, 2]")
	grid := doc(`, "y": {"quantity": "engine speed", "unit": "r/min", "points": [1000, 2000]}`, "[[1, 2], [3, 4]]")
	ten, far := 10., 2000.
	sides := merge.Conflict{Table: "t", Ours: merge.State{Value: 2}, Theirs: merge.State{Value: 9}}
	with := func(how func(c *merge.Conflict)) merge.Conflict {
		c := sides
		how(&c)
		return c
	}
	for _, c := range []struct {
		why      string
		doc      *tables.Calibration
		conflict merge.Conflict
		want     string // values, or in the refusal
	}{
		{"by column", curve, with(func(c *merge.Conflict) { c.Column = 1 }), "[1 9]"},
		{"by row and column", grid, with(func(c *merge.Conflict) { c.Row, c.Column, c.Ours.Value = 1, 1, 4 }), "[1 2 3 9]"},
		{"a column too far", curve, with(func(c *merge.Conflict) { c.Column = 2 }), "t [0, 2]: found no such cell, expected 2"},
		{"a row too far", grid, with(func(c *merge.Conflict) { c.Row, c.Column = 2, 1 }), "t [2, 1]: found no such cell, expected 2"},
		{"by breakpoint", curve, with(func(c *merge.Conflict) { c.X, c.Ours.Value = &ten, 1 }), "[9 2]"},
		{"a breakpoint of x alone on a map", grid, with(func(c *merge.Conflict) { c.X, c.Gone, c.Ours.Absent = &ten, "x", true }), "the merged table has other axes than the conflict"},
		{"a breakpoint of y on a curve", curve, with(func(c *merge.Conflict) { c.X, c.Y, c.Gone, c.Ours.Absent = &ten, &far, "x", true }), "the merged table has other axes than the conflict"},
		{"an unknown table", curve, with(func(c *merge.Conflict) { c.Table = "u" }), "the merged document has no such table"},
		{"an unknown field", curve, merge.Conflict{Table: "t", Name: "colour", Theirs: merge.State{Fields: &tables.Fields{}}}, "is no field of a table"},
		{"a field that a side does not have", curve, merge.Conflict{Table: "t", Name: "title"}, "[1 2]"},
		{"an axis that a side does not have", curve, merge.Conflict{Table: "t", Name: "x"}, "has no theirs side"},
		{"an unknown field of the document", curve, merge.Conflict{Name: "colour", Theirs: merge.State{Contents: &tables.Contents{}}}, "is no field of a document"},
		{"a field that a side of the document does not have", curve, merge.Conflict{Name: "name"}, "[1 2]"},
		{"a whole table of which no side has any", curve, merge.Conflict{Table: "t", Name: merge.WholeTable}, "has no side with the table"},
		{"a whole table of another name", curve, merge.Conflict{Table: "u", Name: merge.WholeTable, Theirs: merge.State{Table: curve.Table("t")}}, "is about another table than t, which it holds"},
		{"no table, where a side holds one of another name", curve, merge.Conflict{Table: "u", Name: merge.WholeTable, Ours: merge.State{Table: curve.Table("t")}}, "is about another table than t, which it holds"},
		{"the only breakpoint is gone", parse(`{"format": "calsplice/1", "tables": [{"id": "t", "unit": "ms", "x": {"quantity": "load", "unit": "%", "points": [10]}, "values": [1]}]}`),
			with(func(c *merge.Conflict) { c.X, c.Gone, c.Ours.Value, c.Theirs.Absent = &ten, "x", 1, true }), "what is left of the table's breakpoints is not valid: axis has no breakpoints"},
		{"which breakpoint is gone", curve, with(func(c *merge.Conflict) { c.X, c.Ours.Value, c.Theirs.Absent = &ten, 1, true }), `lacks "gone"`},
	} {
		got, _, _, err := merge.Resolve(c.doc, []merge.Conflict{c.conflict}, merge.Theirs, merge.Selection{})
		switch {
		case err != nil && strings.Contains(err.Error(), c.want):
		case err == nil && fmt.Sprint(got.Table("t").Values()) == c.want:
		default:
			t.Errorf("%s: %v, want %s", c.why, err, c.want)
		}
	}
}

// TestLeftConflictsMove: conflicts that are left go with their cells when a
// breakpoint is put back beside them, and stay where they are without.
func TestLeftConflictsMove(t *testing.T) {
	doc := func(x, y, title, values string) *tables.Calibration {
		return parse(`{"format": "calsplice/1", "tables": [{"id": "t", "title": "` + title + `", "unit": "ms", "x": {"quantity": "load", "unit": "%", "points": ` + x + `},
			"y": {"quantity": "engine speed", "unit": "r/min", "points": ` + y + `}, "values": ` + values + `}]}`)
	}
	base := doc("[10, 20, 30]", "[1, 2, 3]", "a", "[[1, 1, 1], [1, 1, 1], [1, 1, 1]]")
	ours := doc("[10, 30]", "[1, 3]", "b", "[[1, 1], [1, 5]]")
	theirs := doc("[10, 20, 30]", "[1, 2, 3]", "c", "[[1, 9, 1], [1, 1, 7], [1, 1, 8]]")
	m, err := merge.Merge(base, ours, theirs, merge.MergeOptions{})
	if err != nil {
		t.Fatal(err)
	}
	places := func(list []merge.Conflict) string {
		var s []string
		for _, c := range list {
			if c.Cell() {
				s = append(s, fmt.Sprintf("[%d, %d]%s at %v %v", c.Row, c.Column, c.In, *c.X, *c.Y))
			}
		}
		return strings.Join(s, "; ")
	}
	if got, want := places(m.Conflicts), "[0, 1]base at 20 1; [1, 2]base at 30 2; [1, 1] at 30 3"; got != want {
		t.Fatalf("conflicts %s, want %s", got, want)
	}
	if same, _, said, err := merge.Resolve(m.Merged, m.Conflicts, merge.Ours, merge.Selection{}); err != nil || !same.Equal(m.Merged) || len(said) > 0 {
		t.Errorf("ours are there already: %v, %q, %v", same, said, err)
	}
	got, left, _, err := merge.ResolveEach(m.Merged, m.Conflicts, func(c merge.Conflict) merge.Side {
		if c.Cell() && *c.X == 20 {
			return merge.Theirs
		}
		return ""
	})
	if err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprint(got.Table("t").X().Points()); got != "[10 20 30]" {
		t.Errorf("the breakpoint is not back: %s", got)
	}
	if got, want := places(left), "[1, 2]base at 30 2; [1, 2] at 30 3"; got != want || len(left) != 3 {
		t.Errorf("left %d: %s, want %s", len(left), got, want)
	}
}

// TestLeftConflictsOfNoTable: a conflict about a table that is not there is left
// as it was where it is not chosen.
func TestLeftConflictsOfNoTable(t *testing.T) {
	doc := parse(`{"format": "calsplice/1", "tables": [{"id": "t", "unit": "ms", "values": 1}]}`)
	list := []merge.Conflict{{Table: "t", Ours: merge.State{Value: 1}, Theirs: merge.State{Value: 2}}, {Table: "u", Row: 3}}
	got, left, _, err := merge.Resolve(doc, list, merge.Theirs, merge.Selection{Tables: []string{"t"}})
	if err != nil || got.Table("t").At(0, 0) != 2 || len(left) != 1 || left[0].Table != "u" || left[0].Row != 3 {
		t.Errorf("%v, %v", left, err)
	}
}
