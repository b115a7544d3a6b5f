package changefile

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"calsplice/merge"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

// WriteJSON writes the canonical JSON of a change set: its own keys always, an
// edit to a cell on one line and its evidence on the next, and each side of a
// field on a line of its own.
func WriteJSON(w io.Writer, cs *merge.ChangeSet) error {
	o := tablejson.Object{B: []byte("{\n"), Indent: 2}
	o.Text("format", Format)
	o.Text("title", cs.Title)
	o.Text("made_by", cs.MadeBy)
	o.Key("base")
	o.B = strictjson.AppendText(append(o.B, `{"name": `...), cs.Base.Name)
	o.B = append(strictjson.AppendText(append(o.B, `, "sha256": `...), cs.Base.SHA256), '}')
	o.Key("edits")
	o.B = append(o.B, '[')
	for i, e := range cs.Edits {
		if i > 0 {
			o.B = append(o.B, ',')
		}
		o.B = append(o.B, "\n    {"...)
		var err error
		if o.B, err = appendEdit(o.B, e); err != nil {
			return fmt.Errorf("edit %d: %w", i, err)
		}
		o.B = append(o.B, '}')
		if len(o.B) >= 1<<16 {
			if _, err := w.Write(o.B); err != nil {
				return err
			}
			o.B = o.B[:0]
		}
	}
	if len(cs.Edits) > 0 {
		o.B = append(o.B, "\n  "...)
	}
	o.B = append(o.B, ']')
	o.Key("cautions")
	o.B = appendCautions(o.B, cs.Cautions)
	o.Extras(cs.Extra)
	_, err := w.Write(append(o.B, "\n}\n"...))
	return err
}

func appendCautions(b []byte, cautions []string) []byte {
	b = append(b, '[')
	for i, c := range cautions {
		if i > 0 {
			b = append(b, ',')
		}
		b = strictjson.AppendText(append(b, "\n    "...), c)
	}
	if len(cautions) > 0 {
		b = append(b, "\n  "...)
	}
	return append(b, ']')
}

// appendEdit appends the keys of one edit.
func appendEdit(b []byte, e merge.Edit) ([]byte, error) {
	switch {
	case e.Cell != nil:
		c := e.Cell
		b = strictjson.AppendText(append(b, `"table": `...), c.Table)
		b = strconv.AppendInt(append(b, `, "at": [`...), int64(c.Row), 10)
		b = append(strconv.AppendInt(append(b, ", "...), int64(c.Column), 10), ']')
		b = strictjson.AppendNumber(append(b, `, "from": `...), c.From)
		b = strictjson.AppendNumber(append(b, `, "to": `...), c.To)
		if c.Why != nil {
			b = appendWhy(append(b, ",\n     "...), c.Why)
		}
		return b, nil
	case e.Set != nil:
		return appendSet(b, e.Set)
	case e.Document != nil:
		b = append(b, `"document": {`...)
		for i, name := range e.Document.Names {
			var err error
			if b, err = appendSides(b, i, name, func(b []byte, from bool) ([]byte, bool, error) {
				if from {
					return appendDocumentField(b, name, e.Document.From, 6)
				}
				return appendDocumentField(b, name, e.Document.To, 6)
			}); err != nil {
				return b, err
			}
		}
		return append(b, '}'), nil
	case e.Add != nil:
		b = tablejson.AppendTable(append(b, `"add": `...), e.Add.Table, 4)
		return appendAfter(b, e.Add.After), nil
	case e.Remove != nil:
		b = tablejson.AppendTable(append(b, `"remove": `...), e.Remove.Table, 4)
		return appendAfter(b, e.Remove.After), nil
	case e.Order != nil:
		b = appendTexts(append(b, `"order": {"from": `...), e.Order.From)
		return append(appendTexts(append(b, `, "to": `...), e.Order.To), '}'), nil
	}
	return b, fmt.Errorf("changes nothing")
}

func appendAfter(b []byte, id string) []byte {
	b, _, _ = textOrNull(append(b, `, "after": `...), id)
	return b
}

func appendSet(b []byte, s *merge.TableEdit) ([]byte, error) {
	b = strictjson.AppendText(append(b, `"table": `...), s.Table)
	b = append(b, `, "set": {`...)
	for i, name := range s.Names {
		var err error
		if b, err = appendSides(b, i, name, func(b []byte, from bool) ([]byte, bool, error) {
			if from {
				return appendTableField(b, s.Names, name, s.From, 8)
			}
			return appendTableField(b, s.Names, name, s.To, 8)
		}); err != nil {
			return b, err
		}
	}
	b = append(b, '}')
	if s.Why != nil {
		b = appendWhy(append(b, ",\n     "...), s.Why)
	}
	return b, nil
}

// appendSides appends the two sides of a field, each on a line of its own.
func appendSides(b []byte, i int, name string, side func([]byte, bool) ([]byte, bool, error)) ([]byte, error) {
	if i > 0 {
		b = append(b, ',')
	}
	b = append(strictjson.AppendText(append(b, "\n      "...), name), ": {\"from\": "...)
	start := len(b)
	b, noFrom, err := side(b, true)
	if err != nil {
		return b, err
	}
	keptKey := strings.HasPrefix(name, "x-")
	nullFrom := keptKey && !noFrom && string(b[start:]) == "null"
	b = append(b, ",\n        \"to\": "...)
	start = len(b)
	b, noTo, err := side(b, false)
	if err != nil {
		return b, err
	}
	// A kept key may hold a null, which is not the same as none.
	switch nullTo := keptKey && !noTo && string(b[start:]) == "null"; {
	case nullFrom && nullTo:
		b = append(b, `, "null": ["from", "to"]`...)
	case nullFrom:
		b = append(b, `, "null": ["from"]`...)
	case nullTo:
		b = append(b, `, "null": ["to"]`...)
	}
	return append(b, '}'), nil
}

func appendTexts(b []byte, list []string) []byte {
	b = append(b, '[')
	for i, s := range list {
		if i > 0 {
			b = append(b, ", "...)
		}
		b = strictjson.AppendText(b, s)
	}
	return append(b, ']')
}

func appendWhy(b []byte, w *merge.Evidence) []byte {
	b = strconv.AppendInt(append(b, `"why": {"count": `...), int64(w.Count), 10)
	b = strconv.AppendInt(append(b, `, "visits": `...), int64(w.Visits), 10)
	b = strictjson.AppendNumber(append(b, `, "mean": `...), w.Mean)
	b = strictjson.AppendNumber(append(b, `, "se": `...), w.SE)
	b = strictjson.AppendNumber(append(b, `, "at_limit": `...), w.AtLimit)
	b = strictjson.AppendText(append(b, `, "unit": `...), w.Unit)
	b = strictjson.AppendText(append(b, `, "note": `...), w.Note)
	return append(b, '}')
}
