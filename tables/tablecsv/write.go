package tablecsv

import (
	"io"
	"math"
	"slices"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/strictcsv"
)

// Write writes a document.
func Write(w io.Writer, c *tables.Calibration) error {
	d := c.Contents()
	kind := "calibration"
	if d.Kind == tables.Cells {
		kind = "cells"
	}
	l := strictcsv.NewWriter(w)
	l.Row("calsplice", "1", kind)
	for _, name := range []string{"name", "notes"} {
		f, _ := tables.DocumentFields.Find(name)
		sheet.WriteField(l, f, &d)
	}
	sheet.WriteEngine(l, d.Engine)
	sheet.WriteKept(l, "", d.Extra)
	for _, s := range d.Source {
		l.Name("source")
		sheet.WriteParts(l, s.Parts())
		for _, dropped := range s.Dropped {
			l.Text(dropped.Reason)
			l.Number(float64(dropped.Count))
		}
	}
	for key, value := range d.State.Sorted() {
		l.Name("state")
		l.Text(key)
		l.JSON(value)
	}
	for _, t := range d.Tables {
		l.Blank()
		writeTable(l, t)
	}
	l.Blank()
	l.Row("end")
	return l.Close()
}

func writeTable(l *strictcsv.Writer, t *tables.Table) {
	l.Row("table", t.ID())
	fields := t.Fields()
	for _, f := range tables.TableFields.Of(&fields) {
		if !slices.Contains(tables.OnAxes, f.Name) {
			sheet.WriteField(l, f, &fields)
		}
	}
	if t.X() == nil {
		l.Name("value")
		l.Number(t.Values()[0])
		return
	}
	for i, a := range t.Axes().All() {
		l.Row("xy"[i:i+1], a.Quantity(), a.Unit())
		for key, value := range a.Extra().Sorted() {
			l.Word(key)
			l.JSON(value)
		}
	}
	l.Name("")
	l.Numbers(t.X().Points())
	for row := range t.Rows() {
		if l.Name(""); t.Y() != nil {
			l.First(t.Y().At(row))
		}
		l.Numbers(t.Row(row))
	}
}

// WriteLong writes a row a cell: table, y, x, value.
func WriteLong(w io.Writer, c *tables.Calibration) error {
	l := strictcsv.NewWriter(w)
	l.Row("table", "y", "x", "value")
	for _, t := range c.Tables() {
		for i, v := range t.Values() {
			l.Name(t.ID())
			l.Number(point(t.Y(), i/t.Columns()))
			l.Number(point(t.X(), i%t.Columns()))
			l.Number(v)
		}
	}
	return l.Close()
}

// point is a breakpoint, or the empty number where there is no such axis.
func point(a *tables.Axis, i int) float64 {
	if a == nil {
		return math.NaN()
	}
	return a.At(i)
}
