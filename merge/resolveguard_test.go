package merge_test

import (
	"errors"
	"strings"
	"testing"

	"calsplice/merge"
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
		{`"name": "ours"`, `"name": "mine"`, `name: wanted "ours", found "mine"`},
		{`"cylinders": 5`, `"cylinders": 3`, "engine.cylinders: wanted "},
		{`"id": "b", "title": "B"`, `"id": "b", "title": "D"`, `b title: wanted "B", found "D"`},
		{`"id": "d", "unit": "ms", "values": 2`, `"id": "d", "unit": "ms", "values": 3`, "d [0, 0]: wanted 2, found 3"},
		{`"id": "d"`, `"id": "d2"`, ""}, // theirs has no such table either
		{axis + `[1, 4]}, "values": [1, 2]`, axis + `[1, 4]}, "values": [1, 7]`, "c [0, 1]: wanted 2, found 7"},
		{axis + `[1, 4]}`, axis + `[1, 5]}`, "c x: wanted "},
		{`"id": "c"`, `"id": "c2"`, "c: wanted the table, found no such table"},
		{axis + `[1, 3]}, "values": [1, 1]`, axis + `[1, 2, 3]}, "values": [1, 500, 1]`, "e [0, 1]: wanted nothing, found 500"},
		{axis + `[1, 3]}, "values": [1, 1]`, axis + `[1, 2, 3]}, "values": [1, 9, 1]`, ""}, // taken from theirs before
		{`{"id": "b", "title": "B", "unit": "ms", "values": 1}, {"id": "a", "unit": "ms", "values": 1}, `, `{"id": "a", "unit": "ms", "values": 1}, `,
			"order: wanted "},
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
