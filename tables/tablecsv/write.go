package tablecsv

import (
	"io"
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
	l.unlessEmpty("name", d.Name)
	l.unlessEmpty("notes", d.Notes)
	l.engine(d.Engine)
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

func (l *lines) unlessEmpty(key, s string) {
	if s != "" {
		l.key(key).text(s).end()
	}
}

func (l *lines) engine(e *tables.Engine) {
	if e == nil {
		return
	}
	for _, n := range []struct {
		name string
		v    int
	}{{"cylinders", e.Cylinders}, {"strokes", e.Strokes}, {"injectors", e.Injectors}, {"pulses_per_cycle", e.PulsesPerCycle}} {
		if n.v != 0 {
			l.key("engine").raw(n.name).count(n.v).end()
		}
	}
	if m := e.Displacement; m != nil {
		l.key("engine").raw("displacement").number(m.Value).text(m.Unit).end()
	}
	if p := e.RailPressure; p != nil {
		l.key("engine").raw("rail_pressure").number(p.Value).text(p.Unit).raw(string(p.RelativeTo)).end()
	}
	if e.StoichAFR != 0 {
		l.key("engine").raw("stoich_afr").number(e.StoichAFR).end()
	}
	if m := e.FuelDensity; m != nil {
		l.key("engine").raw("fuel_density").number(m.Value).text(m.Unit).end()
	}
	for _, k := range e.Extra {
		l.key("engine").field(k.Key).field(k.Value).end()
	}
}

func (l *lines) table(t *tables.Table) {
	l.key("table").text(t.ID()).end()
	l.unlessEmpty("title", t.Title())
	l.unlessEmpty("role", string(t.Role()))
	l.key("unit").text(t.Unit()).end()
	if t.Resolution() != 0 {
		l.key("resolution").number(t.Resolution()).end()
	}
	if t.Limits() != nil {
		l.key("limits").number(t.Limits().Low).number(t.Limits().High).end()
	}
	l.unlessEmpty("notes", t.Notes())
	for _, k := range t.Fields().Extra {
		l.key(k.Key).field(k.Value).end()
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
