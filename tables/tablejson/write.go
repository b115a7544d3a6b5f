package tablejson

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"reflect"
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
	parts := fields(nil, tables.DocumentFields, &d, o.Indent)
	first := slices.IndexFunc(tables.DocumentFields.Of(), func(f tables.Field[tables.Contents]) bool { return f.OfCells })
	o.Parts(parts[:first], nil)
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
	o.Parts(parts[first:], d.Extra)
	_, err := w.Write(append(o.B, "\n}\n"...))
	return err
}

// Object appends an object's keys to B, a key a line at an indent, or all on one.
type Object struct {
	B      []byte
	Indent int
	Inline bool
	Break  string // what the next key begins with where all stand on one line; "" is a blank
	n      int
}

// Key appends a key, after which its value follows.
func (o *Object) Key(key string) {
	if o.n++; o.n > 1 {
		o.B = append(o.B, ',')
	}
	switch {
	case o.Inline && o.n > 1:
		o.B = append(o.B, cmp.Or(o.Break, " ")...)
		o.Break = ""
	case !o.Inline:
		if o.n > 1 {
			o.B = append(o.B, '\n')
		}
		o.B = spaces(o.B, o.Indent)
	}
	o.B = append(strictjson.AppendText(o.B, key), ": "...)
}

// Text appends a key with text.
func (o *Object) Text(key, s string) { o.Part(tables.Part{Name: key, Text: &s}) }

// Raw appends a key with a value that is JSON already.
func (o *Object) Raw(key, value string) {
	o.Key(key)
	o.B = append(o.B, value...)
}

// Parts appends parts, each as [Object.Part] does, and kept keys.
func (o *Object) Parts(parts []tables.Part, extra tables.Extra) {
	for _, p := range parts {
		o.Part(p)
	}
	o.Extras(extra)
}

// Extras appends kept keys.
func (o *Object) Extras(extra tables.Extra) {
	for key, value := range extra.Sorted() {
		o.Raw(key, value)
	}
}

// Part appends a part under its key, unless it is empty and to be left out then.
func (o *Object) Part(p tables.Part) {
	if !p.Omit || given(p) {
		o.Key(p.Name)
		o.B = appendPart(o.B, p, o.Indent)
	}
}

// given reports whether a part holds anything.
func given(p tables.Part) bool {
	switch {
	case p.Whole != nil:
		return *p.Whole != 0
	case p.Text != nil:
		return *p.Text != ""
	}
	if c, ok := p.At.(Custom); ok {
		return c.Given()
	}
	return !reflect.ValueOf(p.At).Elem().IsZero()
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
	o.Parts((*Reader)(nil).tableParts(&f, indent), f.Extra)
	return append(spaces(append(o.B, '\n'), indent), '}')
}

// AppendField appends what a field holds, at an indent; null where it is not
// given. It is what [Field] reads.
func AppendField[T any](b []byte, f tables.Field[T], of *T, indent int) []byte {
	if !f.Given(of) {
		return append(b, "null"...)
	}
	at := f.At(of)
	if _, ok := at.(*[]float64); ok {
		return AppendValues(b, *any(of).(*tables.Fields), indent)
	}
	if parts := f.Parts(of); parts != nil {
		return AppendParts(b, parts)
	}
	return appendPart(b, tables.Part{At: at}, indent)
}

// AppendParts appends parts on one line: one value, a list, or an object of named
// ones.
func AppendParts(b []byte, parts []tables.Part) []byte {
	switch {
	case len(parts) == 1:
		return appendPart(b, parts[0], 0)
	case parts[0].Name != "":
		o := Object{B: append(b, '{'), Inline: true}
		o.Parts(parts, nil)
		return append(o.B, '}')
	}
	return strictjson.AppendList(b, parts, func(b []byte, p tables.Part) []byte { return appendPart(b, p, 0) })
}

// appendPart appends a value; what takes several lines stands at an indent.
func appendPart(b []byte, p tables.Part, indent int) []byte {
	switch {
	case p.Number != nil:
		return strictjson.AppendNumber(b, *p.Number)
	case p.Whole != nil:
		return strconv.AppendInt(b, int64(*p.Whole), 10)
	case p.Text != nil:
		return strictjson.AppendText(b, *p.Text)
	}
	return (*Reader)(nil).custom(p.At, indent).Append(b)
}

// appendEngine appends the facts about an engine, a fact a line.
func appendEngine(b []byte, e *tables.Engine, indent int) []byte {
	o := Object{B: append(b, "{\n"...), Indent: indent + 2}
	o.Parts(fields(nil, tables.EngineFields, e, o.Indent), e.Extra)
	return append(spaces(append(o.B, '\n'), indent), '}')
}

// appendSources appends a list of logs, a log a line.
func appendSources(b []byte, list []tables.Source, indent int) []byte {
	b = append(b, '[')
	for i := range list {
		b = AppendParts(separate(b, i, indent+2), sourceParts(&list[i]))
	}
	return append(spaces(append(b, '\n'), indent), ']')
}

// appendDropped appends how many rows went for each reason.
func appendDropped(b []byte, list []tables.Dropped) []byte {
	o := Object{B: append(b, '{'), Inline: true}
	for _, d := range list {
		o.Part(tables.Part{Name: d.Reason, Whole: &d.Count})
	}
	return append(o.B, '}')
}

// appendState appends what cell averages carry, a key a line: megabytes, for which
// room is made once.
func appendState(b []byte, state tables.Extra, indent int) []byte {
	size := 0
	for key, value := range state {
		size += len(key) + len(value) + 16
	}
	o := Object{B: append(slices.Grow(b, size), "{\n"...), Indent: indent + 2}
	o.Extras(state)
	return append(spaces(append(o.B, '\n'), indent), '}')
}

// AppendPlace appends the row and the column of a cell.
func AppendPlace(b []byte, row, column int) []byte {
	return AppendParts(b, []tables.Part{{Whole: &row}, {Whole: &column}})
}

// AppendAxis appends an axis on one line.
func AppendAxis(b []byte, a *tables.Axis) []byte {
	o, parts := Object{B: append(b, '{'), Inline: true}, a.Parts()
	o.Parts((*Reader)(nil).axisParts(&parts), parts.Extra)
	return append(o.B, '}')
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
	return AppendRows(b, f.Values, f.X.Len(), indent)
}

// AppendRows appends values in rows of so many, each on a line of its own.
func AppendRows(b []byte, values []float64, columns, indent int) []byte {
	b = append(b, '[')
	for i := 0; i < len(values); i += columns {
		b = separate(b, i, indent+2)
		b = strictjson.AppendNumbers(b, values[i:i+columns])
	}
	return append(spaces(append(b, '\n'), indent), ']')
}
