package form

import (
	"io"

	"calsplice/tables"
	"calsplice/tables/tablejson"
)

// json writes null where a number is to be filled in, which the reader refuses in the
// place where it stands.
func (f *Form) json(w io.Writer) error {
	o := tablejson.Object{B: []byte("{\n"), Indent: 2}
	o.Text("format", string(tables.Calibrated))
	o.Text("name", f.Name)
	e, of := tablejson.Object{B: []byte("{\n"), Indent: 4}, &tables.Engine{}
	for _, fact := range tables.EngineFields.Of(of) {
		parts := fact.Parts(of)
		if len(parts) == 1 {
			e.Raw(fact.Name, "null")
			continue
		}
		in := tablejson.Object{B: []byte("{"), Inline: true}
		for _, p := range parts {
			if isUnit(p) {
				in.Text(p.Name, facts[fact.Name].unit)
			} else {
				in.Raw(p.Name, "null")
			}
		}
		e.Raw(fact.Name, string(in.B)+"}")
	}
	o.Raw("engine", string(e.B)+"\n  }")
	list := "["
	for i, r := range f.Roles {
		if i > 0 {
			list += ","
		}
		list += "\n    " + object(string(r), r.Shape())
	}
	o.Raw("tables", list+"\n  ]")
	_, err := w.Write(append(o.B, "\n}\n"...))
	return err
}

// object is a role's table with its breakpoints and values left out.
func object(role string, s tables.Shape) string {
	t := tablejson.Object{B: []byte("{\n"), Indent: 6}
	t.Text("id", role)
	t.Text("role", role)
	t.Text("unit", s.Unit)
	values := "null"
	for i, h := range s.Axes {
		a := tablejson.Object{B: []byte("{"), Inline: true}
		a.Text("quantity", h.Quantity)
		a.Text("unit", h.Unit)
		a.Raw("points", "[]")
		t.Raw(axisNames[i], string(a.B)+"}")
		values = "[]"
	}
	t.Raw("values", values)
	return string(t.B) + "\n    }"
}
