package tablecsv

import (
	"io"
	"slices"
	"strconv"

	"calsplice/tables"
	"calsplice/tables/strictcsv"
)

// Write writes a document.
func Write(w io.Writer, c *tables.Calibration) error {
	d := c.Contents()
	l := &lines{w: w}
	kind := "calibration"
	if d.Kind == tables.Cells {
		kind = "cells"
	}
	l.key("calsplice").raw("1").raw(kind).end()
	for _, name := range []string{"name", "notes"} {
		f, _ := tables.DocumentFields.Find(name)
		appendField(l, "", f, &d)
	}
	if d.Engine != nil {
		for _, f := range tables.EngineFields.Of(d.Engine) {
			appendField(l, "engine", f, d.Engine)
		}
	}
	for _, k := range d.Extra {
		l.key(k.Key).field(k.Value).end()
	}
	for _, s := range d.Source {
		l.key("source").text(s.Name).text(s.SHA256).count(s.Rows).count(s.Kept)
		for _, dropped := range s.Dropped {
			l.text(dropped.Reason).count(dropped.Count)
		}
		l.end()
	}
	for _, k := range d.State {
		l.key("state").text(k.Key).field(k.Value).end()
	}
	for _, t := range d.Tables {
		l.end()
		l.table(t)
	}
	l.end()
	l.key("end").end()
	l.flush(0)
	return l.err
}

// WriteLong writes a row a cell: table, y, x, value.
func WriteLong(w io.Writer, c *tables.Calibration) error {
	l := &lines{w: w}
	l.key("table").raw("y").raw("x").raw("value").end()
	for _, t := range c.Tables() {
		for i, v := range t.Values() {
			l.b = strictcsv.AppendText(l.b, t.ID())
			l.b = append(l.b, ',')
			if t.Y() != nil {
				l.b = tables.AppendValue(l.b, t.Y().At(i/t.Columns()))
			}
			l.b = append(l.b, ',')
			if t.X() != nil {
				l.b = tables.AppendValue(l.b, t.X().At(i%t.Columns()))
			}
			l.number(v).end()
		}
	}
	l.flush(0)
	return l.err
}

// lines gathers text and writes it in large pieces.
type lines struct {
	w   io.Writer
	b   []byte
	err error
}

func (l *lines) key(s string) *lines {
	l.b = strictcsv.AppendField(l.b, s)
	return l
}

// raw appends a field that needs no quotes, field one that may need them, and
// text one that a person wrote.
func (l *lines) raw(s string) *lines {
	l.b = append(append(l.b, ','), s...)
	return l
}

func (l *lines) field(s string) *lines {
	l.b = strictcsv.AppendField(append(l.b, ','), s)
	return l
}

func (l *lines) text(s string) *lines {
	l.b = strictcsv.AppendText(append(l.b, ','), s)
	return l
}

func (l *lines) number(v float64) *lines {
	l.b = tables.AppendValue(append(l.b, ','), v)
	return l
}

func (l *lines) count(n int) *lines {
	l.b = strconv.AppendInt(append(l.b, ','), int64(n), 10)
	return l
}

func (l *lines) end() {
	l.b = append(l.b, '\n')
	l.flush(1 << 16)
}

func (l *lines) flush(at int) {
	if len(l.b) < at || l.err != nil {
		return
	}
	_, l.err = l.w.Write(l.b)
	l.b = l.b[:0]
}

// appendField writes the line of a field that is given, behind a keyword where
// it has one. It is what [readField] reads.
func appendField[T any](l *lines, key string, f tables.Field[T], of *T) {
	if !f.Given(of) {
		return
	}
	if key == "" {
		l.key(f.Name)
	} else {
		l.key(key).field(f.Name)
	}
	switch p := f.At(of).(type) {
	case tables.Kept:
		value, _ := p.Value()
		l.field(value)
	case *string:
		l.text(*p)
	case *tables.Role:
		l.text(string(*p))
	case *int:
		l.count(*p)
	case *float64:
		l.number(*p)
	case **tables.Limits:
		l.number((*p).Low).number((*p).High)
	case **tables.Measure:
		l.number((*p).Value).text((*p).Unit)
	case **tables.RailPressure:
		l.number((*p).Value).text((*p).Unit).raw(string((*p).RelativeTo))
	}
	l.end()
}

func (l *lines) table(t *tables.Table) {
	l.key("table").text(t.ID()).end()
	fields := t.Fields()
	for _, f := range tables.TableFields.Of(&fields) {
		if !slices.Contains(tables.OnAxes, f.Name) {
			appendField(l, "", f, &fields)
		}
	}
	if t.X() == nil {
		l.key("value").number(t.Values()[0]).end()
		return
	}
	l.axis("x", t.X())
	l.axis("y", t.Y())
	for _, p := range t.X().Points() {
		l.number(p)
	}
	l.end()
	for row := range t.Rows() {
		if t.Y() != nil {
			l.b = tables.AppendValue(l.b, t.Y().At(row))
		}
		for _, v := range t.Row(row) {
			l.number(v)
		}
		l.end()
	}
}

func (l *lines) axis(key string, a *tables.Axis) {
	if a == nil {
		return
	}
	l.key(key).text(a.Quantity()).text(a.Unit())
	for _, k := range a.Extra() {
		l.field(k.Key).field(k.Value)
	}
	l.end()
}
