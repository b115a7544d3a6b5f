package conflictfile

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
)

// three are conflicts of two cells and of a title.
func three() []merge.Conflict {
	value := func(v float64) merge.State { return merge.State{Value: v} }
	title := func(s string) merge.State {
		return merge.State{Fields: &tables.Fields{Title: s}}
	}
	return []merge.Conflict{
		{ID: "1", Table: "a", Row: 0, Column: 1, Base: value(1), Ours: value(2), Theirs: value(3)},
		{ID: "2", Table: "a", Row: 0, Column: 1, In: merge.Theirs, Base: value(1), Ours: value(2), Theirs: value(3)},
		{ID: "3", Table: "a", Name: "title", Base: title("o"), Ours: title("a"), Theirs: title("b")},
	}
}

// TestDecide: each decision goes to the conflict that it names, and to no other; what
// is typed is the conflict's own value, of its own kind.
func TestDecide(t *testing.T) {
	const head = `{"format": "calsplice.decisions/1", "merged": {"name": "van", "sha256": "12ab"}, "decisions": [`
	d, err := ParseDecisions([]byte(head+`{"table": "a", "at": [0, 1], "value": 2.5}, {"table": "a", "at": [0, 1], "in": "theirs", "take": "base"}]}`), "d.json")
	if err != nil || d.Name != "van" || d.SHA256 != "12ab" {
		t.Fatalf("%+v, %v", d, err)
	}
	list := three()
	decided, take, err := d.Decide(list)
	if err != nil {
		t.Fatal(err)
	}
	got := ""
	for _, c := range decided {
		got += fmt.Sprintf("%s:%s ", c.ID, take(c))
	}
	if got != fmt.Sprintf("1:%s 2:base 3: ", merge.Typed) || decided[0].Typed == nil || decided[0].Typed.Value != 2.5 {
		t.Errorf("%s, typed %+v", got, decided[0].Typed)
	}
	if list[0].Typed != nil {
		t.Error("the list that was given is changed")
	}
	for _, c := range []struct{ why, decisions, want string }{
		{"another cell", `{"table": "a", "at": [1, 1], "take": "ours"}`, `d.json: decisions[0]: a [1, 1]: found no such conflict in the list: the decisions are of another merge, or it is resolved already`},
		{"the same one twice", `{"table": "a", "at": "title", "take": "ours"}, {"table": "a", "at": "title", "take": "ours"}`, `d.json: decisions[1]: a title: found a second decision of the same conflict`},
		{"a number for a title", `{"table": "a", "at": "title", "value": 5}`, `d.json: decisions[0]: a title: found 5, expected text`},
		{"nothing typed", `{"table": "a", "at": "title", "value": null}`, `d.json: decisions[0]: a title: found null, expected a value`},
	} {
		d, err := ParseDecisions([]byte(head+c.decisions+`]}`), "d.json")
		if err != nil {
			t.Fatalf("%s: %v", c.why, err)
		}
		if _, _, err := d.Decide(three()); err == nil || err.Error() != c.want {
			t.Errorf("%s:\n%v, want\n%s", c.why, err, c.want)
		}
	}
	for _, c := range []struct{ why, text, want string }{
		{"another format", `{"format": "calsplice.decisions/2", "decisions": []}`, tables.UnknownFormat("calsplice.decisions/2", DecisionsFormat)},
		{"a side that there is not", head + `{"table": "a", "at": "title", "take": "mine"}]}`, `found "mine", expected ours, theirs or base`},
		{"neither side nor value", head + `{"table": "a", "at": "title"}]}`, `expected one of "take" and "value"`},
		{"both", head + `{"table": "a", "at": "title", "take": "ours", "value": "x"}]}`, `expected one of "take" and "value"`},
		{"no place", head + `{"table": "a", "take": "ours"}]}`, `has no "at"`},
		{"no decisions", `{"format": "calsplice.decisions/1"}`, `has no "decisions"`},
	} {
		if _, err := ParseDecisions([]byte(c.text), "d.json"); err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want %s", c.why, err, c.want)
		}
	}
}

// TestTyped: what a person types is JSON, or words where the field holds words; a
// conflict that is not one value takes none.
func TestTyped(t *testing.T) {
	whole := merge.Conflict{Table: "a", Name: merge.WholeTable}
	for _, c := range []struct {
		why, typed string
		of         merge.Conflict
		want       string // an error; "" for none
	}{
		{"a cell", "2.5", three()[0], ""},
		{"a cell in words", "two", three()[0], "two"},
		{"a title in quotes", `"x"`, three()[2], ""},
		{"a title as it is", `new title`, three()[2], ""},
		{"a whole table", "2.5", whole, "is not one value: take ours, theirs or base"},
		{"nothing", "null", three()[0], "found null, expected a value"},
	} {
		got := TypeText(&c.of, c.typed)
		if (got != nil) != (c.want != "") || got != nil && !strings.Contains(got.Error(), c.want) || (c.of.Typed != nil) != (c.want == "") {
			t.Errorf("%s: %v, typed %+v", c.why, got, c.of.Typed)
		}
	}
	c := three()[2]
	if err := TypeText(&c, "new title"); err != nil || c.Typed.Fields.Title != "new title" {
		t.Errorf("%+v, %v", c.Typed, err)
	}
	if err := Type(&c, "new title"); err == nil {
		t.Error("words that are no JSON are taken for JSON")
	}
}

// TestWhereAListStands: beside its document, under the document's whole name where
// the place is another one's; a list gives way only where all of it is decided, and
// nothing that is no list gives way at all.
func TestWhereAListStands(t *testing.T) {
	always := func(ok bool) func([]merge.Conflict) bool { return func([]merge.Conflict) bool { return ok } }
	for _, c := range []struct {
		why     string
		files   map[string]string // beside van.json; "LIST" and "LIST:name" for a list of three
		settles bool
		place   string // "" where nothing may be written
		stands  string // the list that stands
		what    string // of the refusal
	}{
		{"nothing there", nil, false, "van.conflicts.json", "", ""},
		{"its own list, decided", map[string]string{"van.conflicts.json": "LIST:van.json"}, true, "van.conflicts.json", "van.conflicts.json", ""},
		{"its own list, not decided", map[string]string{"van.conflicts.json": "LIST:van.json"}, false, "", "van.conflicts.json", "still lists 3 conflicts, and would be replaced: resolve them first, or delete the list"},
		{"an empty list", map[string]string{"van.conflicts.json": "[]\n"}, false, "van.conflicts.json", "", ""},
		{"the list of another document", map[string]string{"van.csv": "x", "van.conflicts.json": "LIST:van.csv"}, false, "van.json.conflicts.json", "", ""},
		{"of one that is gone", map[string]string{"van.conflicts.json": "LIST:van.csv"}, true, "van.conflicts.json", "van.conflicts.json", ""},
		{"of nobody knows which", map[string]string{"van.csv": "x", "van.conflicts.json": "LIST"}, false, "van.json.conflicts.json", "", ""},
		{"of nobody knows which, and no other document", map[string]string{"van.conflicts.json": "LIST"}, true, "van.conflicts.json", "van.conflicts.json", ""},
		{"its own list in the second place", map[string]string{"van.csv": "x", "van.conflicts.json": "LIST:van.csv", "van.json.conflicts.json": "LIST:van.json"}, true, "van.json.conflicts.json", "van.json.conflicts.json", ""},
		{"something else", map[string]string{"van.conflicts.json": "my notes"}, true, "", "", "is no list of conflicts, and would be replaced by one: move it"},
		{"a link", map[string]string{"van.conflicts.json": "LINK"}, true, "", "", "is a symbolic link, and no list of conflicts is written through one: move it"},
		{"a folder", map[string]string{"van.conflicts.json": "FOLDER"}, true, "", "", "is no list of conflicts, and would be replaced by one: move it"},
	} {
		dir := t.TempDir()
		for name, text := range c.files {
			path := filepath.Join(dir, name)
			var err error
			switch of, isList := strings.CutPrefix(text, "LIST"); {
			case isList:
				err = Write(path, List{strings.TrimPrefix(of, ":"), three()}, nil, nil)
			case text == "LINK":
				if err = os.Symlink(filepath.Join(dir, "elsewhere"), path); err != nil {
					t.Skip(err)
				}
			case text == "FOLDER":
				err = os.Mkdir(path, 0o700)
			default:
				err = os.WriteFile(path, []byte(text), 0o600)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		doc := filepath.Join(dir, "van.json")
		stands, list := Standing(doc)
		if stands != "" {
			stands = filepath.Base(stands)
		}
		if stands != c.stands || (len(list.Conflicts) == 3) != (c.stands != "") {
			t.Errorf("%s: %q stands, with %d conflicts", c.why, stands, len(list.Conflicts))
		}
		file, err := Place(doc, 1, always(c.settles))
		if c.place == "" {
			if err == nil || !strings.HasSuffix(err.Error(), "van.conflicts.json: "+c.what) {
				t.Errorf("%s: %v", c.why, err)
			}
		} else if err != nil || filepath.Base(file) != c.place {
			t.Errorf("%s: %s, %v", c.why, file, err)
		}
	}
}

// TestWithin: a list is within another where each of its conflicts is one of the
// other's, wherever its cell has come to stand.
func TestWithin(t *testing.T) {
	moved := three()
	moved[0].Row, moved[0].Column, moved[1].In, moved[2].After = 7, 8, merge.Original, []string{"z"}
	other := three()
	other[0].Ours.Value = 2.5
	for _, c := range []struct {
		why   string
		list  []merge.Conflict
		under []merge.Conflict
		want  bool
	}{
		{"the same", three(), three(), true}, {"some of them", three()[:1], three(), true}, {"moved", moved, three(), true}, {"one more", three(), three()[:2], false},
		{"another value", other, three(), false}, {"none", nil, nil, true},
	} {
		if got := Within(c.list, c.under); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestAFieldOfAnAxis: only a conflict of an axis has the three tables with it; that a
// side has no such cell says nothing of a field.
func TestAFieldOfAnAxis(t *testing.T) {
	table, err := tables.NewTable(tables.Fields{ID: "a", Unit: "ms", Values: []float64{1}})
	if err != nil {
		t.Fatal(err)
	}
	c := three()[0]
	c.Ours.Table = table
	if got := string(Append(nil, List{Conflicts: []merge.Conflict{c}})); strings.Contains(got, "whole") {
		t.Errorf("a cell with tables:\n%s", got)
	}
	c = three()[2]
	c.Ours.Absent = true
	if got := string(Append(nil, List{Conflicts: []merge.Conflict{c}})); !strings.Contains(got, `"ours": "a"`) {
		t.Errorf("a title:\n%s", got)
	}
}
