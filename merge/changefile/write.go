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
	o.Text("format", fileFormat)
	o.Text("title", cs.Title)
	o.Text("made_by", cs.MadeBy)
	o.Key("base")
	o.B = tablejson.AppendParts(o.B, baseParts(&cs.Base))
	o.Key("frames")
	o.B = appendFrames(o.B, cs.Frames)
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
	if cs.LeftOut > 0 {
		o.Key("left_out")
		o.B = strconv.AppendInt(o.B, int64(cs.LeftOut), 10)
	}
	o.Extras(cs.Extra)
	_, err := w.Write(append(o.B, "\n}\n"...))
	return err
}

// appendFrames appends the frames, one on each line: a difference between two
// change sets then shows which table's axes are others.
func appendFrames(b []byte, frames []merge.Frame) []byte {
	return appendLines(b, len(frames), func(b []byte, i int) []byte { return appendFrame(b, &frames[i]) })
}

// appendCautions appends the cautions as they were when the set was made;
// whoever applies it adds its own.
func appendCautions(b []byte, cautions []string) []byte {
	return appendLines(b, len(cautions), func(b []byte, i int) []byte { return strictjson.AppendText(b, cautions[i]) })
}

// appendLines appends a list, one line for each of n.
func appendLines(b []byte, n int, one func(b []byte, i int) []byte) []byte {
	b = append(b, '[')
	for i := range n {
		if i > 0 {
			b = append(b, ',')
		}
		b = one(append(b, "\n    "...), i)
	}
	if n > 0 {
		b = append(b, "\n  "...)
	}
	return append(b, ']')
}

// appendFrame appends what an edit of a cell needs to find its breakpoints: the
// unit of the values and the axes, with nothing else of the table.
func appendFrame(b []byte, f *merge.Frame) []byte {
	b = strictjson.AppendText(append(b, `{"table": `...), f.Table)
	b = strictjson.AppendText(append(b, `, "unit": `...), f.Unit)
	if f.X != nil {
		b = tablejson.AppendAxis(append(b, `, "x": `...), f.X)
	}
	if f.Y != nil {
		b = tablejson.AppendAxis(append(b, `, "y": `...), f.Y)
	}
	return append(b, '}')
}

// appendEdit appends the keys of one edit.
func appendEdit(b []byte, e merge.Edit) (_ []byte, err error) {
	switch e := e.(type) {
	case *merge.CellEdit:
		b = strictjson.AppendText(append(b, `"table": `...), e.Table)
		b = strconv.AppendInt(append(b, `, "at": [`...), int64(e.Row), 10)
		b = append(strconv.AppendInt(append(b, ", "...), int64(e.Column), 10), ']')
		b = strictjson.AppendNumber(append(b, `, "from": `...), e.From)
		b = strictjson.AppendNumber(append(b, `, "to": `...), e.To)
		return appendWhy(b, e.Why), nil
	case *merge.TableEdit:
		b = strictjson.AppendText(append(b, `"table": `...), e.Table)
		if b, err = appendFields(append(b, `, "set": {`...), e, e.Names, 8); err != nil {
			return b, err
		}
		return appendWhy(b, e.Why), nil
	case *merge.DocumentEdit:
		return appendFields(append(b, `"document": {`...), e, e.Names, 6)
	case *merge.AddTable:
		b = tablejson.AppendTable(append(b, `"add": `...), e.Table, 4)
		return appendAfter(b, e.After), nil
	case *merge.RemoveTable:
		b = tablejson.AppendTable(append(b, `"remove": `...), e.Table, 4)
		return appendAfter(b, e.After), nil
	case *merge.OrderEdit:
		b = strictjson.AppendTexts(append(b, `"order": {"from": `...), e.From)
		return append(strictjson.AppendTexts(append(b, `, "to": `...), e.To), '}'), nil
	}
	return b, fmt.Errorf("changes nothing")
}

// appendAfter appends the table in front of one that is added or removed, so
// that undoing puts it back in its place; null is the first place.
func appendAfter(b []byte, id string) []byte {
	if b = append(b, `, "after": `...); id == "" {
		return append(b, "null"...)
	}
	return strictjson.AppendText(b, id)
}

// appendFields appends the two sides of each field of an edit, each side on a
// line of its own.
func appendFields(b []byte, e merge.Edit, names []string, indent int) (_ []byte, err error) {
	for i, name := range names {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(strictjson.AppendText(append(b, "\n      "...), name), ": {"...)
		nulls := []string{} // the sides on which a kept key holds a null, which is not the same as none
		for _, side := range []string{"from", "to"} {
			if side == "to" {
				b = append(b, ",\n        "...)
			}
			b = append(strictjson.AppendText(b, side), ": "...)
			start, absent := len(b), false
			if b, absent, err = appendSide(b, e, name, side == "from", indent); err != nil {
				return b, err
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
	return append(b, '}'), nil
}

// appendWhy appends the evidence of an edit on a line of its own, under the
// edit, so that the line of the edit stays short enough to compare by eye.
func appendWhy(b []byte, w *merge.Evidence) []byte {
	if w == nil {
		return b
	}
	return tablejson.AppendParts(append(b, ",\n     \"why\": "...), evidenceParts(w))
}
