package conflictfile

import (
	"bytes"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tablejson"
)

func read(t *testing.T, s string) *tables.Calibration {
	t.Helper()
	doc, err := tablejson.Parse([]byte(s), "doc")
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// Every kind of conflict comes back from its file as it went in, and settles
// the same.
func TestRoundTrip(t *testing.T) {
	const axis = `"x": {"quantity": "load", "unit": "%", "points": `
	base := read(t, `{"format": "calsplice/1", "name": "o", "engine": {"cylinders": 4}, "tables": [
		{"id": "a", "unit": "ms", "values": 1}, {"id": "b", "unit": "ms", `+axis+`[1, 2, 3]}, "values": [1, 2, 3]},
		{"id": "c", "unit": "ms", `+axis+`[1, 2]}, "values": [1, 2]}, {"id": "d", "unit": "ms", "values": 1}, {"id": "e", "unit": "ms", `+axis+`[1, 2, 3]}, "values": [1, 1, 1]}]}`)
	ours := read(t, `{"format": "calsplice/1", "name": "a", "engine": {"cylinders": 5, "strokes": 4}, "tables": [
		{"id": "b", "title": "B", "unit": "ms", `+axis+`[1, 2, 3]}, "values": [1, 2.5, 3], "x-k": null},
		{"id": "a", "unit": "ms", "values": 1.5}, {"id": "c", "unit": "ms", `+axis+`[1, 4]}, "values": [1, 2]}, {"id": "e", "unit": "ms", `+axis+`[1, 2, 3]}, "values": [1, 9, 1]}], "x-d": {"a": 1}}`)
	theirs := read(t, `{"format": "calsplice/1", "name": "b", "engine": {"cylinders": 6, "strokes": 2}, "tables": [
		{"id": "d", "unit": "ms", "values": 1}, {"id": "a", "unit": "ms", "resolution": 0.5, "values": 2}, {"id": "c", "unit": "ms", `+axis+`[1, 3]}, "values": [1, 2]},
		{"id": "b", "title": "C", "unit": "ms", `+axis+`[1, 2, 3]}, "values": [1, 2.7, 3], "x-k": 1}, {"id": "e", "unit": "ms", `+axis+`[1, 3]}, "values": [1, 1]}], "x-d": null}`)
	for _, p := range [][2]*tables.Calibration{{ours, theirs}, {theirs, ours}} {
		r, err := merge.Merge(base, p[0], p[1], merge.MergeOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Conflicts) < 8 {
			t.Fatalf("%d conflicts, want every kind", len(r.Conflicts))
		}
		data := Append(nil, List{"van.json", r.Conflicts})
		list, err := Parse(data, "conflicts")
		if err != nil {
			t.Fatalf("%v\n%s", err, data)
		}
		if again := Append(nil, list); !bytes.Equal(again, data) {
			t.Fatalf("read and written again\n%s\nwas\n%s", again, data)
		}
		for _, side := range []merge.Side{merge.Ours, merge.Theirs} {
			one, _, _, err := merge.Resolve(r.Merged, r.Conflicts, side, merge.Selection{})
			if err != nil {
				t.Fatal(err)
			}
			two, left, _, err := merge.Resolve(r.Merged, list.Conflicts, side, merge.Selection{})
			if err != nil || len(left) > 0 || tablejson.SHA256(one) != tablejson.SHA256(two) {
				t.Errorf("from the file, %s settles otherwise: %v", side, err)
			}
		}
	}
}

// TestAbsent: a field that holds something is read though it is listed as absent, and a
// kept key that holds a null is there unless it is.
func TestAbsent(t *testing.T) {
	list, err := Parse([]byte(`[{"table": "a", "at": "title", "base": null, "ours": "A", "theirs": "B", "absent": ["base", "ours"]},
		{"table": "a", "at": "x-k", "base": null, "ours": null, "theirs": 1, "absent": ["base"]}]`), "c.json")
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range [][2]string{{"nothing", `"A"`}, {"nothing", "null"}} {
		if c := list.Conflicts[i]; c.SideText(merge.Original) != want[0] || c.SideText(merge.Ours) != want[1] {
			t.Errorf("%s: base %s, ours %s, want %s", c.Name, c.SideText(merge.Original), c.SideText(merge.Ours), want)
		}
	}
}

func TestRefuses(t *testing.T) {
	for _, c := range []struct{ in, why string }{
		{`{}`, "no list"},
		{`[{"table": "a"}]`, "sides missing"},
		{`[{"table": "a", "at": [1], "base": 1, "ours": 2, "theirs": 3}]`, "one number is no place"},
		{`[{"table": "a", "at": "colour", "base": 1, "ours": 2, "theirs": 3}]`, "no such field"},
		{`[{"table": "a", "at": [0, 0], "base": "1", "ours": 2, "theirs": 3}]`, "text for a cell"},
		{`[{"table": "a", "at": [0, 0], "base": 1, "ours": 2, "theirs": 3, "note": ""}]`, "there is no key"},
	} {
		if list, err := Parse([]byte(c.in), "c.json"); err == nil {
			t.Errorf("%s read as %v: %s", c.in, list.Conflicts, c.why)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(`[{"id": "1", "table": "a", "at": [0, 0], "x": 1, "base": 1, "ours": null, "theirs": 3, "absent": ["ours"]}]`))
	f.Add([]byte(`[{"table": "", "at": "engine.cylinders", "base": {}, "ours": {"cylinders": 4}, "theirs": null}]`))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, err := Parse(data, "f")
		if err != nil {
			return
		}
		if again, err := Parse(Append(nil, list), "f"); err != nil || len(again.Conflicts) != len(list.Conflicts) {
			t.Fatalf("written again it does not read: %v", err)
		}
	})
}
