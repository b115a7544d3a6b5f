package changefile_test

import (
	"bytes"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/merge/changefile"
)

// inUnit is after in another unit, so that the unit, the limits and the values
// of the table change together, and its title beside them.
var inUnit = strings.NewReplacer(`"id": "flow"`, `"id": "flow", "title": "Flow"`, `"unit": "g/s"`, `"unit": "kg/h", "limits": [0, 40]`).Replace(after)

// What a reviewer may do to the lines of a change set, and what takes half of a
// change or another place than the one that was reviewed.
func TestReviewedCSV(t *testing.T) {
	for _, c := range []struct {
		why, to  string
		old, new string // of the file
		fault    string // "": taken
	}{
		{"a remark", after, "\nedit,", "\n# for Ida\nedit,", ""},
		{"a title twice", after, "\nframe,", "\ntitle,a\ntitle,b\nframe,", `:5:1: title stands twice`},
		{"a field too many before the list", after, "\nframe,", "\ntitle,a,b\nframe,", `:4:9: title has 2 fields, expected 1 (text that holds the delimiter needs quotes)`},
		{"a keyword that there is not", after, "\nframe,", "\ncolour,a\nframe,", `:4:1: there is no keyword "colour"`},
		{"a field past the headings", after, "cell,flow,0,1,300 kPa,,,,2.425,2.4,,,,,,,", "cell,flow,0,1,300 kPa,,,,2.425,2.4,,,,,,,,x", `cell has 17 fields, expected 16`},
		{"a row that is no number", after, "cell,flow,0,1,", "cell,flow,0.5,1,", `:8:11: found "0.5", expected a whole number from 0`},
		{"a heading twice", after, "edit,table,row,column,place,field,with,after,from,to,count", "edit,table,row,column,place,field,with,after,from,to,to", `heading "to" is not known or stands twice`},
		{"a cell's line deleted", after, "cell,flow,0,1,300 kPa,,,,2.425,2.4,,,,,,,\n", "", ""},
		{"a place with a decimal comma of its own", after, ",300 kPa,", ",300.0 kPa,", ""},
		{"no place", after, ",300 kPa,", ",,", ""},
		{"another place", after, ",300 kPa,", ",350 kPa,", `:8:15: is "350 kPa", but row 0, column 1 of its frame is "300 kPa"`},
		{"another column", after, "cell,flow,0,1,", "cell,flow,0,2,", `:8:15: is "300 kPa", but row 0, column 2 of its frame is "350 kPa"`},
		{"no frame", after, "frame,", "caution,", `has a place and no frame of flow`},
		{"a frame twice", after, "\nedit,", "\nframe,\"{\"\"table\"\": \"\"flow\"\", \"\"unit\"\": \"\"\"\"}\"\nedit,", `is a second frame of "flow"`},
		{"a frame that is none", after, "\nedit,", "\nframe,{}\nedit,", `:6:7: character 1: has no "table"`},
		{"a frame with y and no x", after, "\nedit,", "\nframe,\"{\"\"table\"\": \"\"a\"\", \"\"unit\"\": \"\"\"\", \"\"y\"\": {\"\"unit\"\": \"\"V\"\", \"\"points\"\": [1]}}\"\nedit,", `has y and no x`},
		{"the title deleted", inUnit, "set,flow,,,,title,,,,Flow,,,,,,,\nand,", "set,", ""},
		{"the unit deleted", inUnit, "and,flow,,,,unit,unit limits values,,g/s,kg/h,,,,,,,\n", "", `changes together with unit, whose row is gone: take all of unit limits values or none`},
		{"the values deleted", inUnit, "and,flow,,,,values,", "and,flow,,,,notes,", `unit of flow changes together with values`},
	} {
		var b bytes.Buffer
		if err := changefile.WriteCSV(&b, merge.Diff(document(t, before), document(t, c.to))); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(b.String(), c.old) {
			t.Fatalf("%s: the file has no %q:\n%s", c.why, c.old, &b)
		}
		_, _, err := changefile.ParseCSV([]byte(strings.Replace(b.String(), c.old, c.new, 1)), "x.csv")
		if c.fault == "" && err != nil || c.fault != "" && (err == nil || !strings.Contains(err.Error(), c.fault)) {
			t.Errorf("%s: %v\n%s", c.why, err, &b) // promise: an edit lands on its breakpoints or nowhere
		}
	}
}

// A workbook with rows that its reviewer did not see is refused.
func TestHiddenRows(t *testing.T) {
	a, b := document(t, before), document(t, after)
	var book bytes.Buffer
	if err := changefile.WriteXLSX(&book, merge.Diff(a, b), a); err != nil {
		t.Fatal(err)
	}
	const list = "xl/worksheets/sheet1.xml"
	filter := func(condition string) string {
		return `</sheetData><autoFilter ref="A8:I11"><filterColumn colId="5">` + condition + `</filterColumn></autoFilter>`
	}
	for _, c := range []struct{ why, old, new, fault string }{
		{"a hidden row", `<row r="9"`, `<row hidden="1" r="9"`, "x.xlsx: Changes!9: 1 row is hidden or filtered out"},
		{"a row that is hidden in other words", `<row r="9"`, `<row hidden="true" r="9"`, "x.xlsx: Changes!9: 1 row is hidden or filtered out"},
		{"a row of no height", `<row r="10"`, `<row ht="0" customHeight="1" r="10"`, "x.xlsx: Changes!10: 1 row is hidden or filtered out"},
		{"a row that is shown", `<row r="9"`, `<row hidden="0" r="9"`, "none"},
		{"a filter with a condition", `</sheetData>`, filter(`<filters><filter val="2.2"/></filters>`), "x.xlsx: Changes: the list has a filter set"},
		{"a filter without one", `</sheetData>`, filter(""), "none"},
	} {
		_, _, err := changefile.ParseXLSX(edit(t, book.Bytes(), list, c.old, c.new), "x.xlsx")
		if c.fault == "none" && err != nil || c.fault != "none" && (err == nil || !strings.HasPrefix(err.Error(), c.fault)) {
			t.Errorf("%s: %v", c.why, err) // promise: an edit lands on its breakpoints or nowhere
		}
	}
}
