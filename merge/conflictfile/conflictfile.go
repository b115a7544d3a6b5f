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
	w := newWriter(list.Merged)
	b = append(b, '[')
	for i, c := range list.Conflicts {
		if i > 0 {
			b = append(b, ',')
		}
		b = w.append(append(b, "\n  "...), c)
	}
	if len(list.Conflicts) > 0 {
		b = append(b, '\n')
	}
	return append(b, "]\n"...)
}

// writer writes entries one by one.
type writer struct {
	entry entry
	parts []tables.Part
}

func newWriter(merged string) *writer {
	w := &writer{entry: entry{merged: merged}}
	w.parts = (&reader{}).parts(&w.entry)
	return w
}

func (w *writer) append(b []byte, c merge.Conflict) []byte {
	w.entry.begin(c)
	o := tablejson.Object{B: append(b, '{'), Inline: true, Indent: 3}
	for _, p := range w.parts {
		if o.Break = ""; p.Name == string(sides[0]) || p.Name == "whole" {
			o.Break = "\n   "
		}
		o.Part(p)
	}
	return append(o.B, '}')
}

// entry is one conflict as the list has it; each takes the place of the last. What
// its sides are depends on its other keys, so that their JSON is kept until all keys
// are known.
type entry struct {
	merge.Conflict
	merged string
	raw    [3]string
	absent []string
	whole  [3]*tables.Table
}

// begin makes the entry that of another conflict of the same document.
func (e *entry) begin(c merge.Conflict) {
	*e = entry{Conflict: c, merged: e.merged}
	for i, s := range sides {
		if !c.Cell() && c.Name != merge.WholeTable {
			e.whole[i] = c.Side(s).Table
		}
	}
}

var sides = []merge.Side{merge.Original, merge.Ours, merge.Theirs}

// parts are what an entry is made of, for reading and for writing: where the
// conflict is first, then what each side has, so that a person can read the list as
// it is. A reader is nothing where they are only written.
func (r *reader) parts(e *entry) []tables.Part {
	c := &e.Conflict
	whole := []tables.Part{}
	parts := []tables.Part{{Name: "id", Text: &c.ID}, {Name: "merged", Text: &e.merged, Omit: true}, {Name: "table", Text: &c.Table, Must: true},
		r.at(c), {Name: "in", Text: (*string)(&c.In), Omit: true}, {Name: "x", At: &c.X, Omit: true}, {Name: "y", At: &c.Y, Omit: true},
		{Name: "gone", Text: &c.Gone, Omit: true}}
	for i, s := range sides {
		parts = append(parts, tables.Part{Name: string(s), Must: true, At: tablejson.Custom{
			Read:   func() { e.raw[i], _ = r.Raw() },
			Append: func(b []byte) []byte { return e.appendSide(b, s) }}})
		whole = append(whole, tables.Part{Name: string(s), Must: true, At: &e.whole[i]})
	}
	return append(parts, tables.Part{Name: "whole", Omit: true, At: tablejson.Custom{
		Read:  func() { r.Parts(whole, nil) },
		Given: func() bool { return e.whole != [3]*tables.Table{} },
		Append: func(b []byte) []byte {
			o := tablejson.Object{B: append(b, '{'), Inline: true, Indent: 3}
			for _, p := range whole {
				o.Part(p)
			}
			return append(o.B, '}')
		}}},
		tables.Part{Name: "absent", At: &e.absent, Omit: true},
		tables.Part{Name: "after", Omit: true, At: tablejson.Custom{
			Read:   func() { c.After = r.Texts() },
			Given:  func() bool { return c.Name == merge.WholeTable },
			Append: func(b []byte) []byte { return strictjson.AppendTexts(b, c.After) }}})
}

// appendSide appends what one document holds, as a document writes it, and lists it
// as absent where that is nothing. What would take several lines stands on one here.
func (e *entry) appendSide(b []byte, side merge.Side) []byte {
	of := e.Side(side)
	f, known := e.Field()
	if !known || !f.Given(&of) {
		e.absent = append(e.absent, string(side))
		return append(b, "null"...)
	}
	if _, engine := f.At(&of).(**tables.Engine); engine {
		line := bytes.NewBuffer(b)
		json.Compact(line, tablejson.AppendField(nil, f, &of, 0)) // which is JSON
		return line.Bytes()
	}
	return tablejson.AppendField(b, f, &of, 3)
}
