package changefile

import (
	"fmt"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

// sides are the two sides of an edit, by their keys and by their columns.
var sides = []string{"from", "to"}

// sideOf is what one side of an edit holds.
func sideOf(e *merge.FieldEdit, side int) *merge.State { return []*merge.State{&e.From, &e.To}[side] }

// readSide reads one side of a field. Values stand in an edit whatever its axes, so
// that their shape is not held to them.
func (r *reader) readSide(f tables.Field[merge.State], of *merge.State) {
	values, isValues := f.At(of).(*[]float64)
	if !isValues {
		tablejson.Field(&r.Reader, f, of)
		return
	}
	v := r.Values()
	*values = v.Flat()
	if err := v.Sound(); err != nil {
		r.Fault(r.Mark(), "", err.Error())
	}
}

// appendSide appends one side of a field as a document would write it, so that a
// change set reads like the documents that it is between, and reports whether it is
// absent there: then it is null.
func appendSide(b []byte, e *merge.FieldEdit, name string, side, indent int) (_ []byte, absent bool) {
	f, ok := merge.FieldsOf(e.Table).Find(name)
	if !ok {
		panic("changefile: an edit names the field " + name + ", which no document has")
	}
	of := sideOf(e, side)
	if name == "values" {
		return appendLoose(b, e, of.Fields, indent), false
	}
	return tablejson.AppendField(b, f, of, indent), !f.Given(of)
}

// appendLoose appends one side of an edit to a table's values. Their shape
// follows from the axes that the same edit quotes: rows where it quotes y, or x
// and more values than one row has; else one list; a lone value is a number.
func appendLoose(b []byte, e *merge.FieldEdit, f *tables.Fields, indent int) []byte {
	n := len(f.Values)
	byX, byY := e.Of("x") && f.X != nil, e.Of("y") && f.Y != nil
	switch {
	case !byX && !byY && n == 1:
		return strictjson.AppendNumber(b, f.Values[0])
	case n > 0 && byY && n%f.Y.Len() == 0:
		return tablejson.AppendRows(b, f.Values, n/f.Y.Len(), indent)
	case byX && n > f.X.Len() && n%f.X.Len() == 0:
		return tablejson.AppendRows(b, f.Values, f.X.Len(), indent)
	}
	return strictjson.AppendNumbers(b, f.Values)
}

// readFields reads the two sides of an edit to fields, and names these.
func readFields(r *reader, e *merge.FieldEdit, all tables.Fieldset[merge.State]) {
	start, before := r.Mark(), r.Faults()
	r.Object(strictjson.Keys{Known: all.Names(), Extra: true}, func(key string) {
		e.Names = append(e.Names, key)
		f, _ := all.Find(key)
		readSides(r, e, f)
	})
	if len(e.Names) == 0 && r.Faults() == before {
		r.Fault(start, "", "changes nothing")
	}
	all.Sort(e.Names)
}

// readSides reads the two sides of an edit to one field, either of which may be
// null. A kept key may hold a null of its own: the key "null" lists the sides on
// which it does.
func readSides(r *reader, e *merge.FieldEdit, f tables.Field[merge.State]) {
	keys := pairKeys
	if strings.HasPrefix(f.Name, "x-") {
		keys.Known = append(slices.Clone(keys.Known), "null")
	}
	r.Object(keys, func(key string) {
		switch {
		case key == "null":
			r.Array(func(int) {
				at := r.Mark()
				found, ok := r.Text()
				if side := slices.Index(sides, found); side >= 0 {
					f.At(sideOf(e, side)).(*tables.Kept).Set("null", true)
				} else if ok {
					r.Fault(at, "", fmt.Sprintf("found %s, expected \"from\" or \"to\"", tables.Quote(found)))
				}
			})
		case f.Name != "values" && r.Null(): // values always stand: there a null is an empty cell
		default:
			r.readSide(f, sideOf(e, slices.Index(sides, key)))
		}
	})
}

// appendFields appends the two sides of each field of an edit, each side on a
// line of its own.
func appendFields(b []byte, e *merge.FieldEdit, indent int) []byte {
	b = append(b, '{')
	for i, name := range e.Names {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(strictjson.AppendText(append(b, "\n      "...), name), ": {"...)
		nulls := []string{}
		for i, side := range sides {
			if i > 0 {
				b = append(b, ",\n        "...)
			}
			b = append(strictjson.AppendText(b, side), ": "...)
			start, absent := len(b), false
			b, absent = appendSide(b, e, name, i, indent)
			if strings.HasPrefix(name, "x-") && !absent && string(b[start:]) == "null" {
				nulls = append(nulls, side)
			}
		}
		if len(nulls) > 0 {
			b = strictjson.AppendTexts(append(b, `, "null": `...), nulls)
		}
		b = append(b, '}')
	}
	return append(b, '}')
}
