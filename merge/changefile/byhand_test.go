package changefile

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/tablefile"
)

// small is a change set of every kind of edit, as JSON.
const small = `{
  "format": "calsplice.changes/1",
  "title": "Flow, by hand",
  "made_by": "",
  "base": {"name": "van", "sha256": "12ab"},
  "frames": [
    {"table": "flow", "unit": "g/s", "x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 300]}}
  ],
  "edits": [
    {"table": "flow", "at": [0, 1], "from": 2.425, "to": 2.4,
     "why": {"count": 812, "visits": 41, "mean": 3.52, "se": 0.18, "at_limit": 0.25, "unit": "%", "note": "twice"}},
    {"table": "spark", "set": {
      "title": {"from": null,
        "to": "Spark"},
      "values": {"from": [1, 2],
        "to": [[1, 2], [3, 4]]}}},
    {"document": {
      "name": {"from": "van",
        "to": "Van"}}},
    {"order": {"from": ["flow", "spark"], "to": ["spark", "flow"]}}
  ],
  "cautions": [
    "Look."
  ],
  "left_out": 2
}
`

func parsed(t *testing.T, text string) *merge.ChangeSet {
	t.Helper()
	cs, err := ParseJSON([]byte(text), "c.json")
	if err != nil {
		t.Fatal(err)
	}
	return cs
}

// TestCSVToTheLetter: a change set as CSV: its own lines, a blank one, the headings and
// the edits, a blank one and the end.
func TestCSVToTheLetter(t *testing.T) {
	const want = `calsplice,1,changes
title,"Flow, by hand"
base,van,12ab
caution,Look.
left_out,2
frame,"{""table"": ""flow"", ""unit"": ""g/s"", ""x"": {""quantity"": ""differential pressure"", ""unit"": ""kPa"", ""points"": [250, 300]}}"

edit,table,row,column,place,field,with,after,from,to,count,visits,mean,se,at_limit,unit,note
cell,flow,0,1,300 kPa,,,,2.425,2.4,812,41,3.52,0.18,0.25,%,twice
set,spark,,,,title,,,,Spark,,,,,,,
and,spark,,,,values,values,,"[1, 2]","[1, 2, 3, 4]",,,,,,,
document,,,,,name,,,van,Van,,,,,,,
order,,,,,,,,flow spark,spark flow,,,,,,,

end
`
	var b bytes.Buffer
	if err := WriteCSV(&b, parsed(t, small)); err != nil || b.String() != want {
		t.Errorf("%v\n%s", err, b.String())
	}
	cs, cautions, err := ParseCSV(b.Bytes(), "c.csv")
	var again bytes.Buffer
	if err != nil || len(cautions) > 0 || WriteJSON(&again, cs) != nil || !strings.Contains(again.String(), `"left_out": 2`) {
		t.Errorf("%v %q\n%s", err, cautions, again.String())
	}
	for _, c := range []struct{ why, old, new, want string }{
		{"more behind the end", "\nend\n", "\nend\ncell,flow,0,0,,,,,1,2,,,,,,,\n", `c.csv:16:1: more follows after the line "end"`},
		{"another kind of file", "calsplice,1,changes", "calsplice,1,calibration", "c.csv:1:13: found \"calibration\", expected changes"},
		{"goes on from nothing", "\ncell,flow,0,1,300 kPa,,,,2.425,2.4,812,41,3.52,0.18,0.25,%,twice\n", "\nmore,flow,,,,,,,2,,,,,,,,\n", "goes on from a row that is not above it"},
		{"goes on from another table", "\nset,spark,", "\nmore,spark,,,,,,,2,,,,,,,,\nset,spark,", "goes on from a row that is not above it"},
		{"goes on from another field", "\nand,spark,", "\nmore,spark,,,,notes,,,2,,,,,,,,\nand,spark,", "goes on from a row that is not above it"},
		{"goes on from the row above", "\nset,spark,", "\nmore,flow,,,,,,,0,1,,,,,,,!\nset,spark,", ""},
		{"a set without a table", "\nset,spark,", "\nset,,", "a row set has no table"},
		{"a field that no table has", "\nand,spark,,,,values,", "\nand,spark,,,,colour,", `a table has no field "colour"`},
		{"a field that no document has", "\ndocument,,,,,name,", "\ndocument,,,,,colour,", `the document has no field "colour"`},
		{"an unknown row", "\norder,", "\nturn,", `found "turn", expected one of cell, set, document, and, add, remove, order`},
		{"a count that is none", "\nleft_out,2", "\nleft_out,-2", `found "-2", expected a whole number from 0`},
	} {
		_, _, err := ParseCSV([]byte(strings.Replace(want, c.old, c.new, 1)), "c.csv")
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", c.why, err, c.want)
		}
	}
	// A row "and" goes with the row above only where that is an edit of the same table; a
	// second edit of one field begins an edit of its own.
	for _, c := range []struct {
		why, rows string
		edits     int
	}{
		{"of the same", "set,a,,,,title,,,,A,,,,,,,\nand,a,,,,notes,,,,N,,,,,,,\n", 1},
		{"of another table", "set,a,,,,title,,,,A,,,,,,,\nand,b,,,,notes,,,,N,,,,,,,\n", 2},
		{"behind a cell", "cell,a,0,0,,,,,1,2,,,,,,,\nand,a,,,,notes,,,,N,,,,,,,\n", 2},
		{"first", "and,a,,,,notes,,,,N,,,,,,,\n", 1},
		{"two sets of one table", "set,a,,,,title,,,,A,,,,,,,\nset,a,,,,notes,,,,N,,,,,,,\n", 2},
		{"the same field again", "set,a,,,,title,,,,A,,,,,,,\nand,a,,,,title,,,,B,,,,,,,\n", 2},
		{"of the document", "document,,,,,name,,,,A,,,,,,,\nand,,,,,notes,,,,N,,,,,,,\n", 1},
	} {
		cs, _, err := ParseCSV([]byte("calsplice,1,changes\n\n"+strings.Join(headings, ",")+"\n"+c.rows+"\nend\n"), "c.csv")
		if err != nil || len(cs.Edits) != c.edits {
			t.Errorf("%s: %v, want %d edits: %+v", c.why, err, c.edits, cs)
		}
	}
}

// TestJSONToTheLetter: an empty change set has its lists closed on their line; a large one
// comes back whole.
func TestJSONToTheLetter(t *testing.T) {
	var b bytes.Buffer
	if err := WriteJSON(&b, &merge.ChangeSet{}); err != nil {
		t.Fatal(err)
	}
	const want = `{
  "format": "calsplice.changes/1",
  "title": "",
  "made_by": "",
  "base": {"name": "", "sha256": ""},
  "frames": [],
  "edits": [],
  "cautions": []
}
`
	if b.String() != want {
		t.Errorf("%s\nwant\n%s", b.String(), want)
	}
	large := &merge.ChangeSet{}
	for i := range 3000 {
		large.Edits = append(large.Edits, &merge.CellEdit{Table: "flow", Row: i, Column: 1, From: float64(i), To: float64(i) + 0.5})
	}
	b.Reset()
	if err := WriteJSON(&b, large); err != nil || b.Len() < 2<<16 {
		t.Fatal(b.Len(), err)
	}
	cs := parsed(t, b.String())
	for i, e := range cs.Edits {
		if c := e.(*merge.CellEdit); len(cs.Edits) != 3000 || c.Row != i || c.To != float64(i)+0.5 {
			t.Fatalf("edit %d of %d came back as %+v", i, len(cs.Edits), c)
		}
	}
}

// TestJSONRefuses: each wrong edit in one line, with its place.
func TestJSONRefuses(t *testing.T) {
	for edit, want := range map[string]string{
		`{"table": "a"}`:                        `c.json:1:51: edits[0]: is no edit: expected "at", "set", "document", "add", "remove" or "order"`,
		`{}`:                                    `c.json:1:51: edits[0]: is no edit: expected "at", "set", "document", "add", "remove" or "order"`,
		`{"at": [0, 0], "from": 1, "to": 2}`:    `c.json:1:51: edits[0]: has no "table"`,
		`{"table": "a", "at": [0, 0], "to": 2}`: `c.json:1:51: edits[0]: has no "from"`,
		`{"table": "a", "at": [0, 0], "from": 1, "to": 2, "after": "b"}`:                `c.json:1:51: edits[0]: has "after" beside "at": an edit is of one kind`,
		`{"table": "a", "at": [0], "from": 1, "to": 2}`:                                 `c.json:1:72: edits[0].at: has 1 number, expected a row and a column`,
		`{"table": "a", "at": [0, 1, 2], "from": 1, "to": 2}`:                           `c.json:1:72: edits[0].at: has 3 numbers, expected a row and a column`,
		`{"table": "A b", "at": [0, 1], "from": 1, "to": 2}`:                            `c.json:1:61: edits[0].table: `,
		`{"table": "a", "set": {}}`:                                                     `c.json:1:73: edits[0].set: changes nothing`,
		`{"table": "a", "set": {"x-k": {"from": null, "to": null, "null": ["frm"]}}}`:   `found "frm", expected "from" or "to"`,
		`{"table": "a", "set": {"title": {"from": null, "to": "T", "null": ["from"]}}}`: `there is no key "null", only from, to`,
		`{"table": "a", "set": {"title": {"from": null}}}`:                              `has no "to"`,
	} {
		_, err := ParseJSON([]byte(`{"format": "calsplice.changes/1", "edits": [      `+edit+`]}`), "c.json")
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s:\n%v, want\n%s", edit, err, want)
		}
	}
	cs := parsed(t, `{"format": "calsplice.changes/1", "edits": [{"table": "a", "set": {"x-k": {"from": null, "to": null, "null": ["to"]}}}]}`)
	e := cs.Edits[0].(*merge.FieldEdit)
	if e.From.Fields != nil || len(e.To.Fields.Extra) != 1 || e.To.Fields.Extra["x-k"] != "null" {
		t.Errorf("a kept null: %+v", e)
	}
}

// TestLooseValues: the shape of values in an edit follows from the axes that it quotes.
func TestLooseValues(t *testing.T) {
	axis := func(n int) *tables.Axis {
		var p []float64
		for i := range n {
			p = append(p, float64(i))
		}
		a, err := tables.NewAxis("load", "%", p)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	for _, c := range []struct {
		why   string
		names string
		x, y  int
		n     int
		want  string
	}{
		{"a scalar", "values", 0, 0, 1, "1"},
		{"a lone value on an axis", "values x", 1, 0, 1, "[1]"},
		{"a list", "values", 0, 0, 4, "[1, 2, 3, 4]"},
		{"rows by y", "values x y", 2, 2, 4, "[ [1, 2], [3, 4] ]"},
		{"rows by y alone", "values y", 0, 2, 6, "[ [1, 2, 3], [4, 5, 6] ]"},
		{"y that the edit does not quote", "values x", 2, 2, 2, "[1, 2]"},
		{"rows by x, since there are more than one has", "values x", 2, 2, 4, "[ [1, 2], [3, 4] ]"},
		{"x that the edit does not quote", "values", 2, 2, 4, "[1, 2, 3, 4]"},
		{"what does not fit", "values x", 3, 0, 4, "[1, 2, 3, 4]"},
		{"y that does not fit", "values y", 0, 3, 4, "[1, 2, 3, 4]"},
	} {
		f := tables.Fields{}
		if c.x > 0 {
			f.X = axis(c.x)
		}
		if c.y > 0 {
			f.Y = axis(c.y)
		}
		for i := range c.n {
			f.Values = append(f.Values, float64(i+1))
		}
		got := strings.Join(strings.Fields(string(appendLoose(nil, &merge.FieldEdit{Names: strings.Fields(c.names)}, &f, 2))), " ")
		if got = strings.ReplaceAll(got, "],[", "], ["); strings.ReplaceAll(got, " ", "") != strings.ReplaceAll(c.want, " ", "") {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
	f := tables.Fields{X: axis(2), Values: []float64{1, 2, 3, 4}}
	if got := string(appendLoose(nil, &merge.FieldEdit{Names: []string{"x"}}, &f, 2)); got != "[\n    [1, 2],\n    [3, 4]\n  ]" {
		t.Errorf("%q", got)
	}
}

// TestOneLine: line ends and indents go, and a blank stays behind a comma.
func TestOneLine(t *testing.T) {
	for text, want := range map[string]string{"{\n  \"a\": 1,\n  \"b\": [\n    1\n  ]\n}\n": `{"a": 1, "b": [1]}`, "7": "7", "\n": "", "\n  ": "", "[1, 2]": "[1, 2]", ",\n": ", "} {
		if got := string(oneLine([]byte(text))); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
	if oneLine(nil) != nil {
		t.Error("nothing is something")
	}
}

// TestWrittenByExtension: the extension chooses the file format, and a patch needs its
// document.
func TestWrittenByExtension(t *testing.T) {
	cs := parsed(t, small)
	for name, begins := range map[string]string{"c.json": "{\n", "c.csv": "calsplice,1,changes\n", "c.xlsx": "PK"} {
		path := filepath.Join(t.TempDir(), name)
		if err := Write(path, cs, nil, tablefile.Options{}); err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(path)
		if err != nil || !strings.HasPrefix(string(text), begins) {
			t.Errorf("%s: %.40q, %v", name, text, err)
		}
	}
	if err := Write(filepath.Join(t.TempDir(), "c.patch.json"), cs, nil, tablefile.Options{}); err == nil || !strings.Contains(err.Error(), "needs the document that it applies to") {
		t.Errorf("%v", err)
	}
	if err := Write(filepath.Join(t.TempDir(), "c.txt"), cs, nil, tablefile.Options{}); err == nil {
		t.Error("an extension that is not known")
	}
}

// TestWordsOfAComment: values as a person reads them beside a cell.
func TestWordsOfAComment(t *testing.T) {
	nan := math.NaN()
	for want, v := range map[string]float64{"empty": nan, "2.5 ms": 2.5} {
		if got := number(v, "ms"); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := number(2.5, ""); got != "2.5" {
		t.Errorf("%q", got)
	}
}

// TestNumbersOfFewDigits: a number of more than 15 digits, or that is not written as
// documents write it, stays text in a workbook.
func TestNumbersOfFewDigits(t *testing.T) {
	for text, want := range map[string]bool{"2.5": true, "-0.000123456789012345": true, "123456789012345": true, "1234567890123456": false, "0.1234567890123456": false, "2.50": false, "1e+300": true, "x": false, "": false} {
		if _, got := (row{Edit: rowCell}).asNumber(text); got != want {
			t.Errorf("%q: %v", text, got)
		}
	}
	if _, got := (row{Edit: rowSet, Field: "title"}).asNumber("2.5"); got {
		t.Error("a title is a number")
	}
	for i, r := range []row{{Edit: rowCell, From: "1", To: "2.5"}, {Edit: rowCell, From: "", To: "2.5"}, {Edit: rowCell, From: "1", To: "[2]"}, {Edit: rowOrder, From: "1", To: "2"}} {
		if from, to, ok := r.numbers(); ok != (i == 0) || ok && (from != 1 || to != 2.5) {
			t.Errorf("%+v: %v, %v, %v", r, from, to, ok)
		}
	}
	if got := fmt.Sprint(largest([]row{{Edit: rowCell, Table: "a", From: "1", To: "3"}, {Edit: rowCell, Table: "a", From: "9", To: "4"}, {Edit: rowSet, Table: "a", From: "0", To: "99"}, {Edit: rowCell, Table: "b", From: "", To: "1"}})); got != "map[a:5]" {
		t.Error(got)
	}
}

// TestRowsThatGoOn: a text longer than a cell goes on in the next row, on both sides and in
// the note; fields stand in the order of documents, whatever order rows have.
func TestRowsThatGoOn(t *testing.T) {
	read := func(rows string) *merge.ChangeSet {
		cs, _, err := ParseCSV([]byte("calsplice,1,changes\n\n"+strings.Join(headings, ",")+"\n"+rows+"\nend\n"), "c.csv")
		if err != nil {
			t.Fatal(err)
		}
		return cs
	}
	e := read("set,a,,,,notes,,,AB,CD,1,1,,,,,for\nmore,a,,,,notes,,,ef,gh,,,,,,,ever\nand,a,,,,title,,,,T,,,,,,,\n").Edits[0].(*merge.FieldEdit)
	if e.From.Fields.Notes != "ABef" || e.To.Fields.Notes != "CDgh" || e.Why == nil || e.Why.Note != "forever" || fmt.Sprint(e.Names) != "[title notes]" {
		t.Errorf("%q to %q, %+v, %v", e.From.Fields.Notes, e.To.Fields.Notes, e.Why, e.Names)
	}
	if _, err := ParseJSON([]byte(`{"format": "calsplice.changes/9", "edits": [7]}`), "c.json"); err == nil || err.Error() != "c.json:1:12: format: "+tables.UnknownFormat("calsplice.changes/9", fileFormat) {
		t.Errorf("%v", err)
	}
}

// TestFormulasInAList: what a cell shows depends on the program that shows it, so that a
// formula is refused wherever something is read, and each is told once.
func TestFormulasInAList(t *testing.T) {
	for heading, edits := range map[string][]string{
		"from": {"cell", "set", "more"}, "to": {"cell", "set", "and", "more"}, "note": {"cell", "set", "more"}, "row": {"cell"}, "column": {"cell"}, "place": {"cell"},
		"table": {"cell", "order"}, "field": {"set"}, "with": {"set"}, "after": {"add"}, "count": {"cell"}, "mean": {"set"}, "": {"cell", "set"},
	} {
		for _, edit := range edits {
			r := newListReader("list.xlsx")
			r.Sheet = "Changes"
			write := func(n int32, texts map[string]string) {
				var row sheet.Row
				for i, h := range headings {
					c := sheet.Cell{Text: texts[h], Row: n, At: int32(i + 1)}
					if c.Text != "" {
						c.Kind = sheet.Text
					}
					if h == heading && n == 3 {
						c.Kind = sheet.Formula
					}
					row = append(row, c)
				}
				r.read(row)
			}
			heads := map[string]string{}
			for _, h := range headings {
				heads[h] = h
			}
			write(1, heads)
			write(2, map[string]string{"edit": "set", "table": "a", "field": "notes", "from": "1"})
			texts := map[string]string{"edit": edit, "table": "a", "field": "title", "row": "0", "column": "0", "from": "1", "to": "2", "count": "1"}
			switch edit {
			case "more":
				texts["field"] = "notes"
			case "add":
				texts["to"] = `{"id": "a", "unit": "ms", "values": 1}`
			}
			write(3, texts)
			r.end()
			n := 0
			for _, f := range r.Faults {
				if strings.Contains(f.What, "holds a formula") {
					n++
				}
			}
			if want := min(1, len(heading)); n != want {
				t.Errorf("a formula under %q of a row %s is told %d times, want %d: %v", heading, edit, n, want, r.Faults)
			}
		}
	}
}

// TestPatchToTheLetter: a patch tests what it stands on before it changes anything: a
// table's id, unit and breakpoints, each value, and the table before one that is added.
func TestPatchToTheLetter(t *testing.T) {
	table := func(id string, values ...float64) *tables.Table {
		x, err := tables.NewAxis("load", "%", []float64{1, 2})
		if err != nil {
			t.Fatal(err)
		}
		made, err := tables.NewTable(tables.Fields{ID: id, Unit: "ms", X: x, Values: values})
		if err != nil {
			t.Fatal(err)
		}
		return made
	}
	doc := func(list ...*tables.Table) *tables.Calibration {
		d, err := tables.NewCalibration(tables.Contents{Name: "van", Tables: list})
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	a, b := doc(table("a", 1, 2), table("b", 3, 4)), doc(table("a", 1, 2), table("b", 3, 5), table("c", 6, 7))
	const want = `[
  {"op": "test", "path": "/tables/1/id", "value": "b"},
  {"op": "test", "path": "/tables/1/unit", "value": "ms"},
  {"op": "test", "path": "/tables/1/x/unit", "value": "%"},
  {"op": "test", "path": "/tables/1/x/points", "value": [1, 2]},
  {"op": "test", "path": "/tables/1/values/1", "value": 4},
  {"op": "replace", "path": "/tables/1/values/1", "value": 5},
  {"op": "test", "path": "/tables/1/id", "value": "b"},
  {"op": "add", "path": "/tables/2", "value": {"id": "c", "unit": "ms", "x": {"quantity": "load", "unit": "%", "points": [1, 2]}, "values": [6, 7]}}
]
`
	var out bytes.Buffer
	if err := WritePatch(&out, a, merge.Diff(a, b)); err != nil || out.String() != want {
		t.Errorf("%v\n%s", err, out.String())
	}
}
