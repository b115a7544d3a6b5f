package changefile

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
)

// rowsOf is a change set as CSV of some rows, under a title and the headings.
func rowsOf(rows ...string) string {
	return "calsplice,1,changes\ntitle,by hand\n\n" + strings.Join(headings, ",") + "\n" + strings.Join(rows, "\n") + "\n\nend\n"
}

// TestRowsByHand: what a person may write into the rows of a list, and what it then says.
func TestRowsByHand(t *testing.T) {
	const cell, title = "cell,a,0,0,,,,,1,2,,,,,,,", "set,a,,,,title,,,,A,,,,,,,"
	for _, c := range []struct {
		why, text string
		edits     int
		fault     string // "": it is read
	}{
		{"a row", rowsOf(cell), 1, ""},
		{"blanks round what it is", rowsOf(" cell ,a,0,0,,,,,1,2,,,,,,,"), 1, ""},
		{"a row of nothing between two", rowsOf(cell, ",,,,,,,,,,,,,,,,", "cell,a,0,1,,,,,1,2,,,,,,,"), 2, ""},
		{"a row of evidence alone", rowsOf(cell, ",,,,,,,,,,5,,,,,,"), 1, ""},
		{"more behind a blank line", rowsOf(title, "", "more,a,,,,title,,,,B,,,,,,,"), 0, "c.csv:7:1: goes on from a row that is not above it"},
		{"more behind a row of nothing", rowsOf(title, ",,,,,,,,,,,,,,,,", "more,a,,,,title,,,,B,,,,,,,"), 0, "c.csv:7:1: goes on from a row that is not above it"},
		{"more below", rowsOf(title, "more,a,,,,title,,,,B,,,,,,,"), 1, ""},
		// The first row has no edit to go with, and says so by itself.
		{"half of a change that is no edit", rowsOf("turn,a,,,,title,title notes,,,A,,,,,,,"), 0, `found "turn", expected one of`},
		// Its fault is of the row it is in, and not of the one that was read last.
		{"a fault before a row of nothing", rowsOf("set,a,,,,colour,,,,A,,,,,,,", ",,,,,,,,,,,,,,,,"), 0, `c.csv:5:10: a table has no field "colour"`},
		{"a document's row with a table", rowsOf("document,a,,,,name,,,,A,,,,,,,"), 1, ""},
		{"a table under its own id", rowsOf(`add,a,,,,,,,,"{""id"": ""a"", ""unit"": ""ms"", ""values"": 1}",,,,,,,`), 1, ""},
		{"a table under another's id", rowsOf(`add,b,,,,,,,,"{""id"": ""a"", ""unit"": ""ms"", ""values"": 1}",,,,,,,`), 0, `c.csv:5:14: the table's id is "a", the row is for "b"`},
		{"an id that is none", rowsOf("cell,A b,0,0,,,,,1,2,,,,,,,"), 0, "c.csv:5:6: "},
		{"values in rows of two lengths", rowsOf(`set,a,,,,values,,,1,"[[1, 2], [3]]",,,,,,,`), 0, "row 1 has 1 value, row 0 has 2"},
		{"a field behind no name", strings.Replace(rowsOf(cell), "title,by hand", ",by hand", 1), 0, "c.csv:2:2: "},
		{"none left out", strings.Replace(rowsOf(cell), "title,by hand", "left_out,0", 1), 1, ""},
		{"fewer than none left out", strings.Replace(rowsOf(cell), "title,by hand", "left_out,-1", 1), 0, `found "-1", expected a whole number from 0`},
		{"kept keys", strings.Replace(rowsOf(cell), "title,by hand", "x-b,2\nx-a,1", 1), 1, ""},
		{"a kept key twice", strings.Replace(rowsOf(cell), "title,by hand", "x-b,2\nx-b,1", 1), 0, "x-b"},
	} {
		cs, _, err := ParseCSV([]byte(c.text), "c.csv")
		switch {
		case c.fault == "" && (err != nil || len(cs.Edits) != c.edits):
			t.Errorf("%s: %v, want %d edits: %+v", c.why, err, c.edits, cs)
		case c.fault != "" && (err == nil || !strings.Contains(err.Error(), c.fault)):
			t.Errorf("%s: %v, want %s", c.why, err, c.fault)
		}
	}
	read := func(text string) *merge.ChangeSet {
		cs, _, err := ParseCSV([]byte(text), "c.csv")
		if err != nil {
			t.Fatal(err)
		}
		return cs
	}
	if e := read(rowsOf(cell)).Edits[0].(*merge.CellEdit); e.Why != nil {
		t.Errorf("a row without evidence rests on %+v", e.Why)
	}
	if e := read(rowsOf("cell,a,0,0,,,,,1,2,,,,,,,seen")).Edits[0].(*merge.CellEdit); e.Why == nil || e.Why.Note != "seen" {
		t.Errorf("a row with a note alone rests on %+v", e.Why)
	}
	if e, ok := read(rowsOf("document,a,,,,name,,,,A,,,,,,,")).Edits[0].(*merge.FieldEdit); !ok || e.Table != "" || e.To.Contents.Name != "A" {
		t.Errorf("a row of the document edits %+v", e)
	}
	if e := read(rowsOf("set,a,,,,values,,,1,,,,,,,,")).Edits[0].(*merge.FieldEdit); len(e.To.Fields.Values) != 1 || !math.IsNaN(e.To.Fields.Values[0]) {
		t.Errorf("a value that was emptied is %v", e.To.Fields.Values)
	}
	kept := read(strings.Replace(rowsOf(cell), "title,by hand", "x-b,2\nx-a,1", 1)).Extra
	if want := (tables.Extra{"x-a": "1", "x-b": "2"}); !reflect.DeepEqual(kept, want) {
		t.Errorf("kept keys are %v, want them in their order", kept)
	}
	if e := read(rowsOf(title, "more,a,,,,title,,,,B,,,,,,,")).Edits[0].(*merge.FieldEdit); e.To.Fields.Title != "AB" {
		t.Errorf("a title in two rows is %q", e.To.Fields.Title)
	}
}
