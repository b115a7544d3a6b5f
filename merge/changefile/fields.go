package changefile

import (
	"fmt"
	"slices"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

// appendSide appends one side of a field that an edit changes, and reports
// whether the field is absent there: then it is null.
func appendSide(b []byte, e merge.Edit, name string, from bool, indent int) (_ []byte, absent bool, err error) {
	switch e := e.(type) {
	case *merge.TableEdit:
		side := &e.To
		if from {
			side = &e.From
		}
		if name != "values" {
			return appendField(b, tables.TableFields, name, side, indent)
		}
		if len(side.Values) == 0 {
			return b, false, fmt.Errorf("an edit to a table's values holds none")
		}
		return appendLoose(b, e.Names, *side, indent), false, nil
	case *merge.DocumentEdit:
		side := &e.To
		if from {
			side = &e.From
		}
		return appendField(b, tables.DocumentFields, name, side, indent)
	}
	return b, true, fmt.Errorf("an edit of another kind has no field %s", tables.Quote(name))
}

// appendField appends one side of a field as a document would write it, so that
// a change set reads like the documents that it is between.
func appendField[T any](b []byte, all tables.Fieldset[T], name string, of *T, indent int) (_ []byte, absent bool, err error) {
	f, ok := all.Find(name)
	if !ok {
		return b, true, fmt.Errorf("an edit names the field %s, which no document has", tables.Quote(name))
	}
	return tablejson.AppendField(b, f, of, indent), !f.Given(of), nil
}

// appendLoose appends one side of an edit to a table's values. Their shape
// follows from the axes that the same edit quotes: rows where it quotes y, or x
// and more values than one row has; else one list; a lone value is a number.
func appendLoose(b []byte, names []string, f tables.Fields, indent int) []byte {
	n := len(f.Values)
	x, y := f.X, f.Y
	if !slices.Contains(names, "x") {
		x = nil
	}
	if !slices.Contains(names, "y") {
		y = nil
	}
	columns := n
	switch {
	case x == nil && y == nil && n == 1:
		return strictjson.AppendNumber(b, f.Values[0])
	case y != nil && n%y.Len() == 0:
		columns = n / y.Len()
	case x != nil && n > x.Len() && n%x.Len() == 0:
		columns = x.Len()
	default:
		return strictjson.AppendNumbers(b, f.Values)
	}
	b = append(b, '[')
	for i := 0; i < n; i += columns {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(append(b, '\n'), blanks[:indent+2]...)
		b = strictjson.AppendNumbers(b, f.Values[i:i+columns])
	}
	return append(append(append(b, '\n'), blanks[:indent]...), ']')
}

const blanks = "                "
