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

var tableFieldKeys = strictjson.Keys{
	Known: []string{"title", "role", "unit", "resolution", "limits", "notes", "x", "y", "values"}, Extra: true}

// tableFields reads what a "set" edit changes in a table.
func (r *reader) tableFields(set *merge.TableEdit) {
	start, before := r.Mark(), r.Faults()
	fromExtra, toExtra := r.Extras(), r.Extras()
	r.Object(tableFieldKeys, func(key string) {
		set.Names = append(set.Names, key)
		r.sides(key, func(null bool) { r.tableField(key, null, &set.From, fromExtra) },
			func(null bool) { r.tableField(key, null, &set.To, toExtra) })
	})
	set.From.Extra, set.To.Extra = fromExtra.Done(), toExtra.Done()
	if len(set.Names) == 0 && r.Faults() == before {
		r.Fault(start, "", "changes nothing")
	}
	set.Names = inOrder(set.Names, tableFieldKeys.Known)
}

func (r *reader) tableField(key string, null bool, f *tables.Fields, extra *tablejson.Extras) {
	switch {
	case null:
		extra.Null(key)
	case key == "unit":
		f.Unit, _ = r.Text()
	case key == "values":
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
	start, before := r.Mark(), r.Faults()
	d := &merge.DocumentEdit{}
	fromExtra, toExtra := r.Extras(), r.Extras()
	r.Object(documentFieldKeys, func(key string) {
		d.Names = append(d.Names, key)
		r.sides(key, func(null bool) { r.documentField(key, null, &d.From, fromExtra) },
			func(null bool) { r.documentField(key, null, &d.To, toExtra) })
	})
	d.From.Extra, d.To.Extra = fromExtra.Done(), toExtra.Done()
	if len(d.Names) == 0 && r.Faults() == before {
		r.Fault(start, "", "changes nothing")
	}
	d.Names = inOrder(d.Names, documentFieldKeys.Known)
	return d
}

func (r *reader) documentField(key string, null bool, c *tables.Contents, extra *tablejson.Extras) {
	if null {
		extra.Null(key)
		return
	}
	switch at := r.Mark(); key {
	case "format":
		s, ok := r.Text()
		if c.Kind = tables.Kind(s); ok && c.Kind != tables.Calibrated && c.Kind != tables.Cells {
			r.Fault(at, "", tables.UnknownFormat(s, string(tables.Calibrated), string(tables.Cells)))
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
		return strings.Compare(a, b)
	})
	return names
}

// appendTableField appends one side of an edit to a table's field, and reports
// whether the field is absent there: then it is null.
func appendTableField(b []byte, names []string, key string, f tables.Fields, indent int) (_ []byte, absent bool, err error) {
	switch key {
	case "title":
		return textOrNull(b, f.Title)
	case "role":
		return textOrNull(b, string(f.Role))
	case "unit":
		return strictjson.AppendText(b, f.Unit), false, nil
	case "resolution":
		if f.Resolution == 0 {
			return null(b)
		}
		return strictjson.AppendNumber(b, f.Resolution), false, nil
	case "limits":
		if f.Limits == nil {
			return null(b)
		}
		return tablejson.AppendLimits(b, f.Limits), false, nil
	case "notes":
		return textOrNull(b, f.Notes)
	case "x":
		return axisOrNull(b, f.X)
	case "y":
		return axisOrNull(b, f.Y)
	case "values":
		if len(f.Values) == 0 {
			return b, false, fmt.Errorf("an edit to a table's values holds none")
		}
		return appendLoose(b, names, f, indent), false, nil
	}
	return extraOrNull(b, key, f.Extra)
}

func null(b []byte) ([]byte, bool, error) { return append(b, "null"...), true, nil }

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

func appendDocumentField(b []byte, key string, c tables.Contents, indent int) (_ []byte, absent bool, err error) {
	switch key {
	case "format":
		return textOrNull(b, string(c.Kind))
	case "name":
		return textOrNull(b, c.Name)
	case "notes":
		return textOrNull(b, c.Notes)
	case "engine":
		if c.Engine == nil || c.Engine.Equal(&tables.Engine{}) {
			return null(b)
		}
		return tablejson.AppendEngine(b, c.Engine, indent), false, nil
	case "source":
		if len(c.Source) == 0 {
			return null(b)
		}
		return tablejson.AppendSources(b, c.Source, indent), false, nil
	case "state":
		if len(c.State) == 0 {
			return null(b)
		}
		return tablejson.AppendState(b, c.State, indent), false, nil
	}
	return extraOrNull(b, key, c.Extra)
}

func textOrNull(b []byte, s string) ([]byte, bool, error) {
	if s == "" {
		return null(b)
	}
	return strictjson.AppendText(b, s), false, nil
}

func axisOrNull(b []byte, a *tables.Axis) ([]byte, bool, error) {
	if a == nil {
		return null(b)
	}
	return tablejson.AppendAxis(b, a), false, nil
}

func extraOrNull(b []byte, key string, extra tables.Extra) ([]byte, bool, error) {
	if !strings.HasPrefix(key, "x-") {
		return b, true, fmt.Errorf("an edit names the field %s, which no document has", tables.Quote(key))
	}
	for _, k := range extra {
		if k.Key == key {
			return append(b, k.Value...), false, nil
		}
	}
	return null(b)
}
