package form

import (
	"io"

	"calsplice/tables"
	"calsplice/tables/strictcsv"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

// csv writes a line for each fact and each part of a table, the remark that explains
// it on the line before. The reader names a blank by its line and column.
func (f *Form) csv(w io.Writer) error {
	l := strictcsv.NewWriter(w)
	l.Row("calsplice", "1", "calibration")
	l.Row("# " + wholeHelp)
	l.Row("name", f.Name)
	for _, e := range facts() {
		l.Row("# " + e.name + ": " + e.help)
		l.Row("engine", append([]string{e.name, ""}, e.beside()...)...)
	}
	for _, r := range f.Roles {
		s := r.Shape()
		l.Blank()
		l.Row("# " + s.Meaning)
		l.Row("# " + tableHelp(s))
		l.Row("table", string(r))
		l.Row("role", string(r))
		l.Row("unit", s.Unit)
		for i, h := range s.Axes {
			l.Row(axisNames[i], h.Quantity, h.Unit)
		}
		if len(s.Axes) == 0 {
			l.Row("value", "")
		}
	}
	l.Blank()
	l.Row("end")
	return l.Close()
}

// json writes null where a number is to be filled in, which the reader refuses in the
// place where it stands.
func (f *Form) json(w io.Writer) error {
	o := tablejson.Object{B: []byte("{\n"), Indent: 2}
	o.Text("format", string(tables.Calibrated))
	o.Text("name", f.Name)
	e := tablejson.Object{B: []byte("{\n"), Indent: 4}
	for _, fact := range facts() {
		switch {
		case fact.name == "rail_pressure":
			e.Raw(fact.name, `{"value": null, "unit": "kPa", "relative_to": null}`)
		case fact.unit != "":
			e.Raw(fact.name, `{"value": null, "unit": `+text(fact.unit)+`}`)
		default:
			e.Raw(fact.name, "null")
		}
	}
	o.Raw("engine", string(e.B)+"\n  }")
	list := "["
	for i, r := range f.Roles {
		if i > 0 {
			list += ","
		}
		list += "\n    " + table(r)
	}
	o.Raw("tables", list+"\n  ]")
	_, err := w.Write(append(o.B, "\n}\n"...))
	return err
}

// table is a role's table with its breakpoints and values left out.
func table(r tables.Role) string {
	s, t := r.Shape(), tablejson.Object{B: []byte("{\n"), Indent: 6}
	t.Text("id", string(r))
	t.Text("role", string(r))
	t.Text("unit", s.Unit)
	for i, h := range s.Axes {
		t.Raw(axisNames[i], `{"quantity": `+text(h.Quantity)+`, "unit": `+text(h.Unit)+`, "points": []}`)
	}
	t.Raw("values", map[int]string{0: "null", 1: "[]", 2: "[]"}[len(s.Axes)])
	return string(t.B) + "\n    }"
}

func text(s string) string { return string(strictjson.AppendText(nil, s)) }
