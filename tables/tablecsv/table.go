package tablecsv

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/strictcsv"
)

// tableReader gathers one table.
type tableReader struct {
	f      tables.Fields
	at     strictcsv.Field
	faults int // there were before the table began
	seen   map[string]bool
	extra  []tables.ExtraKey
	x, y   *axisReader
	header bool // the line with the points of x was met
	rows   int
}

type axisReader struct {
	quantity, unit string
	points         []float64
	n              int // points as many as there were, sound or not
	extra          []tables.ExtraKey
	at             strictcsv.Field
}

// wantsCurve reports whether the next line must hold a curve's values.
func (t *tableReader) wantsCurve() bool {
	return t.x != nil && t.y == nil && t.header && t.rows == 0
}

func (r *reader) startTable(record []strictcsv.Field) {
	before := len(r.faults)
	record, ok := r.want(record, 1, 1)
	id := strictcsv.Unsafe(record[1].Text)
	r.table = &tableReader{f: tables.Fields{ID: id}, at: record[0], faults: before, seen: map[string]bool{}}
	if !ok {
		return
	}
	r.check(record[1], tables.ValidID(id))
	if line, ok := r.ids[id]; ok {
		r.fault(record[1], fmt.Sprintf("the table of line %d has the id %q too", line, id))
	}
	r.ids[id] = record[0].Line
}

// tableWord takes in one line of a table but for its numbers.
func (r *reader) tableWord(record []strictcsv.Field) {
	t, word := r.table, record[0]
	switch word.Text {
	case "value":
		r.once(word, word.Text, t.seen)
		record, _ = r.want(record, 0, 1)
		t.f.Values = append(t.f.Values, r.value(record[1]))
	case "x":
		t.x = r.axis(record)
	case "y":
		t.y = r.axis(record)
	default:
		if strings.HasPrefix(word.Text, "x-") {
			t.extra = r.kept(t.extra, record, "", t.seen)
			return
		}
		f, _ := tables.TableFields.Find(word.Text)
		r.once(word, word.Text, t.seen)
		readField(r, f, &t.f, record)
	}
}

// axis reads a line x,QUANTITY,UNIT[,x-NAME,JSON]….
func (r *reader) axis(record []strictcsv.Field) *axisReader {
	t := r.table
	r.once(record[0], record[0].Text, t.seen)
	if t.header {
		r.fault(record[0], record[0].Text+" stands after the numbers, want it before")
	}
	for len(record) < 3 || len(record)%2 == 0 {
		record = append(record, strictcsv.Field{Line: record[0].Line, Column: record[0].Column})
	}
	a := &axisReader{quantity: strictcsv.Unsafe(record[1].Text), unit: strictcsv.Unsafe(record[2].Text), at: record[0]}
	for i := 3; i < len(record); i += 2 {
		if !strings.HasPrefix(record[i].Text, "x-") {
			r.fault(record[i], fmt.Sprintf("found %s, want x-NAME and JSON (text that holds the delimiter wants quotes)", tables.Quote(record[i].Text)))
			break
		}
		if slices.ContainsFunc(a.extra, func(k tables.ExtraKey) bool { return k.Key == record[i].Text }) {
			r.fault(record[i], tables.Clean(record[i].Text)+" stands twice")
		}
		if v, ok := r.json(record[i+1]); ok {
			a.extra = append(a.extra, tables.ExtraKey{Key: record[i].Text, Value: v})
		}
	}
	return a
}

// points reads the line with the breakpoints of x.
func (r *reader) points(record []strictcsv.Field) {
	t := r.table
	t.header = true
	if record[0].Text != "" {
		r.fault(record[0], fmt.Sprintf("found %s, want nothing before the breakpoints of x", tables.Quote(record[0].Text)))
	}
	for _, at := range record[1:] {
		r.point(t.x, at)
	}
	if t.x.n == 0 {
		r.fault(record[0], "x has no breakpoints")
	}
}

func (r *reader) point(a *axisReader, at strictcsv.Field) {
	a.n++
	v, ok := r.number(at)
	if !ok {
		return
	}
	a.points = append(a.points, v)
	r.check(at, tables.ValidPoint(a.points, len(a.points)-1))
}

// row reads one row of values.
func (r *reader) row(record []strictcsv.Field) {
	t := r.table
	if t.rows++; t.y == nil && t.rows > 1 {
		r.fault(record[0], "a curve has one row of values: want a line y before the numbers of a map")
		return
	}
	if t.y != nil {
		r.point(t.y, record[0])
	} else if record[0].Text != "" {
		r.fault(record[0], fmt.Sprintf("found %s, want nothing before a curve's values", tables.Quote(record[0].Text)))
	}
	record = record[1:]
	for len(record) > t.x.n && record[len(record)-1].Text == "" {
		record = record[:len(record)-1]
	}
	if len(record) != t.x.n {
		at := t.at
		if len(record) > 0 {
			at = record[len(record)-1]
		}
		r.fault(at, fmt.Sprintf("row has %s, x has %s", tables.Count(len(record), "value"), tables.Count(t.x.n, "breakpoint")))
		return
	}
	for _, at := range record {
		t.f.Values = append(t.f.Values, r.value(at))
	}
	if r.cells += len(record); r.cells > tables.MaxCells() {
		r.fault(t.at, tables.TooManyCells())
		r.done = true
	}
}

// value reads one cell, which may be empty among cell averages.
func (r *reader) value(at strictcsv.Field) float64 {
	if at.Text == "" && r.c.Kind == tables.Cells {
		return math.NaN()
	}
	if at.Text == "" {
		r.fault(at, "cell is empty, want a number")
		return 0
	}
	v, _ := r.number(at)
	return v
}

// finishTable builds the table that was being read.
func (r *reader) finishTable() {
	t := r.table
	if t == nil {
		return
	}
	if !t.seen["unit"] {
		r.fault(t.at, "table has no line unit")
	}
	switch {
	case t.x == nil && t.y != nil:
		r.fault(t.y.at, "table has a y axis and no x axis")
	case t.x == nil && !t.seen["value"]:
		r.fault(t.at, "table has no values: want a line value, or x and numbers")
	case t.x != nil && t.seen["value"]:
		r.fault(t.at, "table has a line value and an axis, want one of them")
	case t.x != nil && !t.header:
		r.fault(t.x.at, "x has no breakpoints")
	case t.x != nil && t.rows == 0:
		r.fault(t.at, "table has no row of values")
	}
	if len(r.faults) == t.faults {
		r.build(t)
	}
	r.table = nil
}

func (r *reader) build(t *tableReader) {
	var err error
	if t.f.Extra, err = tables.NewExtra(t.extra); err == nil {
		t.f.X, err = t.x.build()
	}
	if err == nil {
		t.f.Y, err = t.y.build()
	}
	var table *tables.Table
	if err == nil {
		table, err = tables.NewTable(t.f)
	}
	if err != nil {
		r.fault(t.at, err.Error())
		return
	}
	r.c.Tables = append(r.c.Tables, table)
}

func (a *axisReader) build() (*tables.Axis, error) {
	if a == nil {
		return nil, nil
	}
	extra, err := tables.NewExtra(a.extra)
	if err != nil {
		return nil, err
	}
	return tables.NewAxisExtra(a.quantity, a.unit, a.points, extra)
}
