package tablejson

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"slices"
	"strconv"

	"calsplice/tables"
	"calsplice/tables/strictjson"
)

// Write writes the canonical form of a document.
func Write(w io.Writer, c *tables.Calibration) error {
	return write(w, c)
}

// SHA256 is the hash of the document's canonical form, in hexadecimal: what a
// change set calls its base by.
func SHA256(c *tables.Calibration) string {
	h := sha256.New()
	write(h, c) // a hash takes every write
	return hex.EncodeToString(h.Sum(nil))
}

// flushAt is how much text is gathered before it is written.
const flushAt = 1 << 16

// write gathers text and hands it on in large pieces, so that a document of
// millions of cells is not in memory twice.
func write(w io.Writer, c *tables.Calibration) error {
	d := c.Contents()
	o := Object{B: append(make([]byte, 0, flushAt+1<<12), "{\n"...), Indent: 2}
	of := tables.DocumentFields.Of(&d)
	first := slices.IndexFunc(of, func(f tables.Field[tables.Contents]) bool { return f.OfCells })
	appendFields(&o, of[:first], &d)
	if len(d.Tables) == 0 {
		o.Raw("tables", "[]")
	} else {
		o.Key("tables")
		o.B = append(o.B, '[')
		for i, t := range d.Tables {
			o.B = separate(o.B, i, 4)
			o.B = AppendTable(o.B, t, 4)
			if len(o.B) >= flushAt {
				if _, err := w.Write(o.B); err != nil {
					return err
				}
				o.B = o.B[:0]
			}
		}
		o.B = append(o.B, "\n  ]"...)
	}
	appendFields(&o, of[first:], &d)
	_, err := w.Write(append(o.B, "\n}\n"...))
	return err
}

// Object appends an object's keys to B, a key a line.
type Object struct {
	B      []byte
	Indent int // of the keys
	n      int
}

// Key appends a key, after which its value follows.
func (o *Object) Key(key string) {
	if o.n++; o.n > 1 {
		o.B = append(o.B, ",\n"...)
	}
	o.B = spaces(o.B, o.Indent)
	o.B = append(strictjson.AppendText(o.B, key), ": "...)
}

// Text appends a key with text.
func (o *Object) Text(key, s string) {
	o.Key(key)
	o.B = strictjson.AppendText(o.B, s)
}

// Raw appends a key with a value that is JSON already.
func (o *Object) Raw(key, value string) {
	o.Key(key)
	o.B = append(o.B, value...)
}

// Extras appends kept keys.
func (o *Object) Extras(extra tables.Extra) {
	for _, k := range extra {
		o.Raw(k.Key, k.Value)
	}
}

// spaces appends an indent.
func spaces(b []byte, n int) []byte {
	for ; n > 0; n-- {
		b = append(b, ' ')
	}
	return b
}

// separate begins element i of a list that has an element a line.
func separate(b []byte, i, indent int) []byte {
	if i > 0 {
		b = append(b, ',')
	}
	return spaces(append(b, '\n'), indent)
}

// AppendTable appends a table whose opening bracket stands at an indent.
func AppendTable(b []byte, t *tables.Table, indent int) []byte {
	f := t.Fields()
	o := Object{B: append(b, "{\n"...), Indent: indent + 2}
	o.Text("id", f.ID)
	appendFields(&o, tables.TableFields.Of(&f), &f)
	return append(spaces(append(o.B, '\n'), indent), '}')
}

// appendFields appends those of some fields that are given.
func appendFields[T any](o *Object, fields []tables.Field[T], of *T) {
	for _, f := range fields {
		if f.Given(of) {
			o.Key(f.Name)
			o.B = AppendField(o.B, f, of, o.Indent)
		}
	}
}

// AppendField appends what a field holds, at an indent; null where it is not
// given. It is what [Field] reads.
func AppendField[T any](b []byte, f tables.Field[T], of *T, indent int) []byte {
	if !f.Given(of) {
		return append(b, "null"...)
	}
	switch p := f.At(of).(type) {
	case tables.Kept:
		value, _ := p.Value()
		return append(b, value...)
	case **tables.Axis:
		return AppendAxis(b, *p)
	case **tables.Engine:
		return appendEngine(b, *p, indent)
	case *[]tables.Source:
		return appendSources(b, *p, indent)
	case *[]tables.ExtraKey:
		return appendState(b, *p, indent)
	case *[]float64:
		return AppendValues(b, *any(of).(*tables.Fields), indent)
	}
	return AppendParts(b, f.Parts(of))
}

// AppendParts appends numbers and texts on one line: one value, a list, or an
// object of named ones.
func AppendParts(b []byte, parts []tables.Part) []byte {
	open, end := "[", "]"
	switch {
	case len(parts) == 1:
		open, end = "", ""
	case parts[0].Name != "":
		open, end = "{", "}"
	}
	b = append(b, open...)
	for i, p := range parts {
		if i > 0 {
			b = append(b, ", "...)
		}
		if p.Name != "" {
			b = append(strictjson.AppendText(b, p.Name), ": "...)
		}
		switch {
		case p.Number != nil:
			b = strictjson.AppendNumber(b, *p.Number)
		case p.Whole != nil:
			b = strconv.AppendInt(b, int64(*p.Whole), 10)
		default:
			b = strictjson.AppendText(b, *p.Text)
		}
	}
	return append(b, end...)
}

// AppendAxis appends an axis on one line.
func AppendAxis(b []byte, a *tables.Axis) []byte {
	b = append(b, '{')
	if a.Quantity() != "" {
		b = append(strictjson.AppendText(append(b, `"quantity": `...), a.Quantity()), ", "...)
	}
	b = strictjson.AppendText(append(b, `"unit": `...), a.Unit())
	b = strictjson.AppendNumbers(append(b, `, "points": `...), a.Points())
	return append(appendInline(b, a.Extra()), '}')
}

// appendInline appends kept keys to an object that stands on one line.
func appendInline(b []byte, extra tables.Extra) []byte {
	for _, k := range extra {
		b = append(strictjson.AppendText(append(b, ", "...), k.Key), ": "...)
		b = append(b, k.Value...)
	}
	return b
}

// AppendValues appends the values of a table as its axes shape them: a number,
// a list, or rows of which each has a line of its own, at an indent.
func AppendValues(b []byte, f tables.Fields, indent int) []byte {
	switch {
	case f.X == nil:
		return strictjson.AppendNumber(b, f.Values[0])
	case f.Y == nil:
		return strictjson.AppendNumbers(b, f.Values)
	}
	b = append(b, '[')
	n := f.X.Len()
	for i := range f.Y.Len() {
		b = separate(b, i, indent+2)
		b = strictjson.AppendNumbers(b, f.Values[i*n:(i+1)*n])
	}
	return append(spaces(append(b, '\n'), indent), ']')
}

// appendEngine appends the facts about an engine, a fact a line.
func appendEngine(b []byte, e *tables.Engine, indent int) []byte {
	o := Object{B: append(b, "{\n"...), Indent: indent + 2}
	appendFields(&o, tables.EngineFields.Of(e), e)
	return append(spaces(append(o.B, '\n'), indent), '}')
}

// appendSources appends the logs behind cell averages, a log a line.
func appendSources(b []byte, sources []tables.Source, indent int) []byte {
	b = append(b, '[')
	for i, s := range sources {
		b = separate(b, i, indent+2)
		parts := s.Parts()
		if s.SHA256 == "" {
			parts = slices.Delete(parts, 1, 2)
		}
		b = bytes.TrimSuffix(AppendParts(b, parts), []byte("}"))
		b = append(b, `, "dropped": {`...)
		for j, d := range s.Dropped {
			if j > 0 {
				b = append(b, ", "...)
			}
			b = append(strictjson.AppendText(b, d.Reason), ": "...)
			b = strconv.AppendInt(b, int64(d.Count), 10)
		}
		b = append(b, "}}"...)
	}
	return append(spaces(append(b, '\n'), indent), ']')
}

// appendState appends what cell averages carry, a key a line.
func appendState(b []byte, state []tables.ExtraKey, indent int) []byte {
	o := Object{B: append(b, "{\n"...), Indent: indent + 2}
	o.Extras(state)
	return append(spaces(append(o.B, '\n'), indent), '}')
}
