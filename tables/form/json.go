package form

import (
	_ "embed"
	"fmt"
	"io"
	"text/template"

	"calsplice/tables"
	"calsplice/tables/strictjson"
)

//go:embed form.json.tmpl
var jsonForm string

// json writes null where a number is to be filled in, which the reader refuses in the
// place where it stands.
func (f *Form) json(w io.Writer) error {
	of := &tables.Engine{}
	form, err := template.New("form").Funcs(template.FuncMap{"isUnit": isUnit,
		"json":  func(text any) string { return string(strictjson.AppendText(nil, fmt.Sprint(text))) },
		"parts": func(fact tables.Field[tables.Engine]) []tables.Part { return fact.Parts(of) },
		"unit":  func(fact string) string { return facts[fact].unit },
	}).Parse(jsonForm)
	if err != nil {
		return err
	}
	return form.Execute(w, map[string]any{"Format": tables.Calibrated, "Name": f.Name, "Facts": tables.EngineFields.Of(of),
		"Roles": f.Roles, "AxisNames": axisNames})
}
