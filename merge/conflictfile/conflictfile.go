// Package conflictfile keeps the conflicts of a merge in a file beside the
// merged document: a list in JSON with one entry a conflict,
//
//	{"id": "1f0c…", "merged": "van.json", "table": "spark.advance", "at": [3, 4], "x": 1600, "y": 240,
//	 "base": 14, "ours": 15.5, "theirs": 12}
//
// Merged is the file that they are conflicts of, in the folder of the list. At is the row and the column of a cell, or the name of the field or axis, or
// "table" for a whole table; table is "" for the document's own fields, and
// "order" the order of its tables. A cell has its coordinates in axis units. A
// side that has no such cell or table is null, and listed under "absent", since
// null is also an empty cell. An axis conflicts together with the cells that
// stand on it: "whole" has the three tables. A whole table has its place in the
// order: "after" lists the tables before it, the nearest first.
//
// The list is not read by people first: resolve and the page that it writes show
// it. But it is one that a person can read and a line tool compare, since a merge
// in git leaves it in the working tree, and since whoever decides by hand edits
// nothing else. Everything that a decision needs is in it, so that conflicts can be
// decided after the three documents have moved on.
//
// The package promises that a list that is written and read back is the same, that
// no list with conflicts in it is replaced by another one unless these are decided
// there, and that nothing which is no list is ever written over.
package conflictfile

import (
	"bytes"
	"encoding/json"
	"io"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
)

// List is the conflicts of a merged document.
type List struct {
	Merged    string // the document's file, without its folder; "" where it is not known
	Conflicts []merge.Conflict
}

// Write writes a list, replacing the file whole; first is run before, as
// [tablefile.ReplaceAfter] has it.
func Write(path string, list List, stdout io.Writer, first func() error) error {
	return tablefile.ReplaceAfter(path, stdout, func(w io.Writer) error {
		_, err := w.Write(Append(nil, list))
		return err
	}, first)
}

// Append appends the JSON of a list.
func Append(b []byte, list List) []byte {
	b = append(b, '[')
	for i, c := range list.Conflicts {
		if i > 0 {
			b = append(b, ',')
		}
		b = strictjson.AppendText(append(b, "\n  {\"id\": "...), c.ID)
		if list.Merged != "" {
			b = strictjson.AppendText(append(b, `, "merged": `...), list.Merged)
		}
		b = append(appendConflict(b, c), '}')
	}
	if len(list.Conflicts) > 0 {
		b = append(b, '\n')
	}
	return append(b, "]\n"...)
}

var sides = []merge.Side{merge.Original, merge.Ours, merge.Theirs}

// appendConflict appends the keys of one conflict: where it is on the first
// line, what each side has on the second, so that a person can read the list as
// it is.
func appendConflict(b []byte, c merge.Conflict) []byte {
	b = strictjson.AppendText(append(b, `, "table": `...), c.Table)
	if b = append(b, `, "at": `...); c.Cell() {
		b = strictjson.AppendNumbers(b, []float64{float64(c.Row), float64(c.Column)})
	} else {
		b = strictjson.AppendText(b, c.Name)
	}
	if c.In != "" {
		b = strictjson.AppendText(append(b, `, "in": `...), string(c.In))
	}
	if c.X != nil {
		b = strictjson.AppendNumber(append(b, `, "x": `...), *c.X)
	}
	if c.Y != nil {
		b = strictjson.AppendNumber(append(b, `, "y": `...), *c.Y)
	}
	if c.Gone != "" {
		b = strictjson.AppendText(append(b, `, "gone": `...), c.Gone)
	}
	b = append(b, ",\n   "...)
	var absent []string
	whole := false
	for i, s := range sides {
		if i > 0 {
			b = append(b, ", "...)
		}
		b = append(strictjson.AppendText(b, string(s)), ": "...)
		v := c.Side(s)
		var isAbsent bool
		if b, isAbsent = appendSide(b, c, v); isAbsent {
			absent = append(absent, string(s))
		}
		whole = whole || !c.Cell() && c.Name != merge.WholeTable && v.Table != nil
	}
	if whole {
		b = appendWhole(b, c)
	}
	if absent != nil {
		b = strictjson.AppendTexts(append(b, `, "absent": `...), absent)
	}
	if c.Name == merge.WholeTable {
		b = strictjson.AppendTexts(append(b, `, "after": `...), c.After)
	}
	return b
}

// appendWhole appends the three tables of a conflict of an axis: the cells on it
// are decided together with it, and only a table says what they are.
func appendWhole(b []byte, c merge.Conflict) []byte {
	b = append(b, ",\n   \"whole\": {"...)
	for i, s := range sides {
		if i > 0 {
			b = append(b, ", "...)
		}
		b = append(strictjson.AppendText(b, string(s)), ": "...)
		b = tablejson.AppendTable(b, c.Side(s).Table, 3)
	}
	return append(b, '}')
}

// appendSide appends what one document holds, and reports whether that is
// nothing.
func appendSide(b []byte, c merge.Conflict, s merge.ConflictSide) (_ []byte, absent bool) {
	null := func() ([]byte, bool) { return append(b, "null"...), true }
	switch {
	case c.Cell() && s.Absent, c.Name == merge.WholeTable && s.Table == nil:
		return null()
	case c.Cell():
		return strictjson.AppendNumber(b, s.Value), false
	case c.Name == merge.WholeTable:
		return tablejson.AppendTable(b, s.Table, 3), false
	case c.Table == "" && c.Name == merge.TableOrder:
		return strictjson.AppendTexts(b, s.Order), false
	case c.Table == "":
		return appendField(b, tables.DocumentFields, c.Name, s.Contents)
	}
	return appendField(b, tables.TableFields, c.Name, s.Fields)
}

// appendField appends a field as a document writes it, and reports whether it is
// absent. What would take several lines there stands on one here.
func appendField[T any](b []byte, all tables.Fieldset[T], name string, of *T) (_ []byte, absent bool) {
	f, ok := all.Find(name)
	if !ok || !f.Given(of) {
		return append(b, "null"...), true
	}
	if _, engine := f.At(of).(**tables.Engine); engine { // on one line
		line := bytes.NewBuffer(b)
		if json.Compact(line, tablejson.AppendField(nil, f, of, 0)) == nil {
			return line.Bytes(), false
		}
	}
	return tablejson.AppendField(b, f, of, 3), false
}
