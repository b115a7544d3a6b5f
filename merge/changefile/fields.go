package changefile

import (
	"fmt"
	"slices"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

var tableFieldKeys = strictjson.Keys{
	Known: []string{"title", "role", "unit", "resolution", "limits", "notes", "x", "y", "values"}, Extra: true}

// tableFields reads what a "set" edit changes in a table.
func (r *reader) tableFields(set *merge.TableEdit) {
	start := r.Mark()
	fromExtra, toExtra := r.Extras(), r.Extras()
	r.Object(tableFieldKeys, func(key string) {
		set.Names = append(set.Names, key)
		r.sides(func() { r.tableField(key, &set.From, fromExtra) }, func() { r.tableField(key, &set.To, toExtra) })
	})
	set.From.Extra, set.To.Extra = fromExtra.Done(), toExtra.Done()
	if len(set.Names) == 0 {
		r.Fault(start, "", "changes nothing")
	}
	set.Names = inOrder(set.Names, tableFieldKeys.Known)
}

func (r *reader) tableField(key string, f *tables.Fields, extra *tablejson.Extras) {
	switch key {
	case "unit":
		f.Unit, _ = r.Text()
	case "values":
		v := r.Values()
		f.Values = v.Flat()
		if err := v.Sound(); err != nil {
			r.Fault(r.Mark(), "", err.Error())
		}
	default:
		r.Field(key, f, extra)
	}
}

var documentFieldKeys = strictjson.Keys{
	Known: []string{"format", "name", "notes", "engine", "source", "state"}, Extra: true}

// documentFields reads what a "document" edit changes.
func (r *reader) documentFields() *merge.DocumentEdit {
	start := r.Mark()
	d := &merge.DocumentEdit{}
	fromExtra, toExtra := r.Extras(), r.Extras()
	r.Object(documentFieldKeys, func(key string) {
		d.Names = append(d.Names, key)
		r.sides(func() { r.documentField(key, &d.From, fromExtra) }, func() { r.documentField(key, &d.To, toExtra) })
	})
	d.From.Extra, d.To.Extra = fromExtra.Done(), toExtra.Done()
	if len(d.Names) == 0 {
		r.Fault(start, "", "changes nothing")
	}
	d.Names = inOrder(d.Names, documentFieldKeys.Known)
	return d
}

func (r *reader) documentField(key string, c *tables.Contents, extra *tablejson.Extras) {
	switch at := r.Mark(); key {
	case "format":
		s, ok := r.Text()
		if c.Kind = tables.Kind(s); ok && c.Kind != tables.Calibrated && c.Kind != tables.Cells {
			r.Fault(at, "", tablejson.UnknownFormat(s, string(tables.Calibrated), string(tables.Cells)))
		}
	case "name":
		c.Name, _ = r.Text()
	case "notes":
		c.Notes, _ = r.Text()
	case "engine":
		c.Engine = r.Engine()
	case "source":
		c.Source = r.Sources()
	case "state":
		c.State = r.State()
	default:
		extra.Read(key)
	}
}

// inOrder sorts field names as the format lists them, kept keys last.
func inOrder(names, known []string) []string {
	rank := func(n string) int {
		if i := slices.Index(known, n); i >= 0 {
			return i
		}
		return len(known)
	}
	slices.SortFunc(names, func(a, b string) int {
		if d := rank(a) - rank(b); d != 0 {
			return d
		}
		return cmpText(a, b)
	})
	return names
}

func cmpText(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// appendTableField appends one side of an edit to a table's field: null where
// the field is absent.
func appendTableField(b []byte, names []string, key string, f tables.Fields, indent int) ([]byte, error) {
	switch key {
	case "title":
		return textOrNull(b, f.Title), nil
	case "role":
		return textOrNull(b, string(f.Role)), nil
	case "unit":
		return strictjson.AppendText(b, f.Unit), nil
	case "resolution":
		if f.Resolution == 0 {
			return append(b, "null"...), nil
		}
		return strictjson.AppendNumber(b, f.Resolution), nil
	case "limits":
		if f.Limits == nil {
			return append(b, "null"...), nil
		}
		return tablejson.AppendLimits(b, f.Limits), nil
	case "notes":
		return textOrNull(b, f.Notes), nil
	case "x":
		return axisOrNull(b, f.X), nil
	case "y":
		return axisOrNull(b, f.Y), nil
	case "values":
		return appendLoose(b, names, f, indent), nil
	}
	return extraOrNull(b, key, f.Extra)
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
	case f.Values == nil:
		return append(b, "null"...)
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

func appendDocumentField(b []byte, key string, c tables.Contents, indent int) ([]byte, error) {
	switch key {
	case "format":
		return textOrNull(b, string(c.Kind)), nil
	case "name":
		return textOrNull(b, c.Name), nil
	case "notes":
		return textOrNull(b, c.Notes), nil
	case "engine":
		if c.Engine == nil {
			return append(b, "null"...), nil
		}
		return tablejson.AppendEngine(b, c.Engine, indent), nil
	case "source":
		if len(c.Source) == 0 {
			return append(b, "null"...), nil
		}
		return tablejson.AppendSources(b, c.Source, indent), nil
	case "state":
		if len(c.State) == 0 {
			return append(b, "null"...), nil
		}
		return tablejson.AppendState(b, c.State, indent), nil
	}
	return extraOrNull(b, key, c.Extra)
}

func textOrNull(b []byte, s string) []byte {
	if s == "" {
		return append(b, "null"...)
	}
	return strictjson.AppendText(b, s)
}

func axisOrNull(b []byte, a *tables.Axis) []byte {
	if a == nil {
		return append(b, "null"...)
	}
	return tablejson.AppendAxis(b, a)
}

func extraOrNull(b []byte, key string, extra tables.Extra) ([]byte, error) {
	if len(key) < 2 || key[:2] != "x-" {
		return b, fmt.Errorf("an edit names the field %s, which no document has", tables.Quote(key))
	}
	for _, k := range extra {
		if k.Key == key {
			return append(b, k.Value...), nil
		}
	}
	return append(b, "null"...), nil
}
