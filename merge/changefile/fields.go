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

// fields are those that an edit of a table or of the document changes, with both
// sides of each.
type fields interface {
	names() *[]string
	known() []string // what the edit may name, but for kept keys
	sort()
	read(r *reader, name string, side int)
	null(name string, side int) // a kept key holds a null, which is not the same as none
	append(b []byte, name string, side, indent int) (_ []byte, absent bool, err error)
}

// fieldsOf are the fields of an edit, nil where it is of another kind.
func fieldsOf(e merge.Edit) fields {
	switch e := e.(type) {
	case *merge.TableEdit:
		return edited[tables.Fields]{tables.TableFields, &e.Names, []*tables.Fields{&e.From, &e.To}}
	case *merge.DocumentEdit:
		return edited[tables.Contents]{tables.DocumentFields, &e.Names, []*tables.Contents{&e.From, &e.To}}
	}
	return nil
}

type edited[T any] struct {
	all   tables.Fieldset[T]
	list  *[]string
	sides []*T
}

func (e edited[T]) names() *[]string { return e.list }
func (e edited[T]) known() []string  { return e.all.Names() }
func (e edited[T]) sort()            { e.all.Sort(*e.list) }

func (e edited[T]) null(name string, side int) {
	f, _ := e.all.Find(name)
	f.At(e.sides[side]).(*tables.Kept).Set("null", true)
}

// read reads one side of a field. Values stand in an edit whatever its axes, so
// that their shape is not held to them.
func (e edited[T]) read(r *reader, name string, side int) {
	f, _ := e.all.Find(name)
	values, isValues := f.At(e.sides[side]).(*[]float64)
	if !isValues {
		tablejson.Field(&r.Reader, f, e.sides[side])
		return
	}
	v := r.Values()
	*values = v.Flat()
	if err := v.Sound(); err != nil {
		r.Fault(r.Mark(), "", err.Error())
	}
}

// append appends one side of a field as a document would write it, so that a
// change set reads like the documents that it is between, and reports whether it is
// absent there: then it is null.
func (e edited[T]) append(b []byte, name string, side, indent int) (_ []byte, absent bool, err error) {
	f, ok := e.all.Find(name)
	if !ok {
		return b, true, fmt.Errorf("an edit names the field %s, which no document has", tables.Quote(name))
	}
	of := e.sides[side]
	if values, ok := f.At(of).(*[]float64); !ok {
		return tablejson.AppendField(b, f, of, indent), !f.Given(of), nil
	} else if len(*values) == 0 {
		return b, false, fmt.Errorf("an edit to a table's values holds none")
	}
	return appendLoose(b, *e.list, *any(of).(*tables.Fields), indent), false, nil
}

// appendLoose appends one side of an edit to a table's values. Their shape
// follows from the axes that the same edit quotes: rows where it quotes y, or x
// and more values than one row has; else one list; a lone value is a number.
func appendLoose(b []byte, names []string, f tables.Fields, indent int) []byte {
	n := len(f.Values)
	byX, byY := slices.Contains(names, "x") && f.X != nil, slices.Contains(names, "y") && f.Y != nil
	switch {
	case !byX && !byY && n == 1:
		return strictjson.AppendNumber(b, f.Values[0])
	case byY && n%f.Y.Len() == 0:
		return tablejson.AppendRows(b, f.Values, n/f.Y.Len(), indent)
	case byX && n > f.X.Len() && n%f.X.Len() == 0:
		return tablejson.AppendRows(b, f.Values, f.X.Len(), indent)
	}
	return strictjson.AppendNumbers(b, f.Values)
}

// readFields reads the two sides of an edit to fields, and names these.
func readFields(r *reader, e fields) {
	start, before, names := r.Mark(), r.Faults(), e.names()
	r.Object(strictjson.Keys{Known: e.known(), Extra: true}, func(key string) {
		*names = append(*names, key)
		readSides(r, e, key)
	})
	if len(*names) == 0 && r.Faults() == before {
		r.Fault(start, "", "changes nothing")
	}
	e.sort()
}

// readSides reads the two sides of an edit to one field, either of which may be
// null. A kept key may hold a null of its own: the key "null" lists the sides on
// which it does.
func readSides(r *reader, e fields, name string) {
	keys := pairKeys
	if strings.HasPrefix(name, "x-") {
		keys.Known = append(slices.Clone(keys.Known), "null")
	}
	r.Object(keys, func(key string) {
		switch {
		case key == "null":
			r.Array(func(int) {
				at := r.Mark()
				found, ok := r.Text()
				if side := slices.Index(sides, found); side >= 0 {
					e.null(name, side)
				} else if ok {
					r.Fault(at, "", fmt.Sprintf("found %s, expected \"from\" or \"to\"", tables.Quote(found)))
				}
			})
		case name != "values" && r.Null(): // values always stand: there a null is an empty cell
		default:
			e.read(r, name, slices.Index(sides, key))
		}
	})
}

// appendFields appends the two sides of each field of an edit, each side on a
// line of its own.
func appendFields(b []byte, e fields, indent int, fail func(error)) []byte {
	b = append(b, '{')
	for i, name := range *e.names() {
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
			start := len(b)
			added, absent, err := e.append(b, name, i, indent)
			if b = added; err != nil {
				fail(err)
			}
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
