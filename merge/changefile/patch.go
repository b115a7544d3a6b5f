package changefile

import (
	"bytes"
	"io"
	"slices"
	"strconv"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

// WritePatch writes a change set as an RFC 6902 JSON Patch to the canonical
// JSON of the document that it applies to: what turns this document into the
// one with the change set applied. Paths name a table by its position, so the
// id, the unit and the breakpoints of every table that is touched are tested
// first; a test stands before every replace, remove and move too. A library
// that knows nothing of calibrations so refuses a document that has moved on.
func WritePatch(w io.Writer, base *tables.Calibration, cs *merge.ChangeSet) error {
	a, err := merge.ApplyWith(base, cs, merge.ApplyOptions{BeyondLimits: true})
	if err != nil {
		return err
	}
	p := &patcher{}
	from, to := base.Contents(), a.Document.Contents()
	patchFields(p, "", tables.DocumentFields.Of(&from, &to), &from, &to)
	for i, t := range base.Tables() {
		if b := a.Document.Table(t.ID()); b != nil && !t.Equal(b) {
			p.table("/tables/"+strconv.Itoa(i), t, b)
		}
	}
	p.order(base, a.Document)
	out := append([]byte("["), p.b...)
	if p.n > 0 {
		out = append(out, '\n')
	}
	_, err = w.Write(append(out, "]\n"...))
	return err
}

// patcher gathers the operations of a JSON Patch in the order in which they
// apply.
type patcher struct {
	b []byte
	n int // operations
}

// op appends one operation; value is JSON, or nil where the operation has none.
func (p *patcher) op(op, path, from string, value []byte) {
	if p.n++; p.n > 1 {
		p.b = append(p.b, ',')
	}
	p.b = append(append(append(p.b, "\n  {\"op\": \""...), op...), '"')
	if from != "" {
		p.b = strictjson.AppendText(append(p.b, `, "from": `...), from)
	}
	p.b = strictjson.AppendText(append(p.b, `, "path": `...), path)
	if value != nil {
		p.b = append(append(p.b, `, "value": `...), value...)
	}
	p.b = append(p.b, '}')
}

// test appends what a library must find at a path before it goes on.
func (p *patcher) test(path string, value []byte) { p.op("test", path, "", value) }

// change appends what turns one value into another; nil is none at all.
func (p *patcher) change(path string, from, to []byte) {
	switch {
	case bytes.Equal(from, to):
	case from == nil:
		p.op("add", path, "", to)
	case to == nil:
		p.test(path, from)
		p.op("remove", path, "", nil)
	default:
		p.test(path, from)
		p.op("replace", path, "", to)
	}
}

// patchFields appends what turns the fields of one thing into those of another.
func patchFields[T any](p *patcher, path string, fields []tables.Field[T], a, b *T) {
	side := func(f tables.Field[T], of *T) []byte {
		if !f.Given(of) {
			return nil
		}
		return oneLine(tablejson.AppendField(nil, f, of, 0))
	}
	for _, f := range fields {
		p.change(path+"/"+pointers.Replace(f.Name), side(f, a), side(f, b))
	}
}

// table appends what turns a table, known by its id, unit and breakpoints, into
// another: cell by cell where both have the same rows and columns.
func (p *patcher) table(path string, t, u *tables.Table) {
	a, b := t.Fields(), u.Fields()
	p.test(path+"/id", strictjson.AppendText(nil, a.ID))
	p.test(path+"/unit", strictjson.AppendText(nil, a.Unit))
	p.axis(path+"/x", a.X)
	p.axis(path+"/y", a.Y)
	fields := tables.TableFields.Of(&a, &b)
	patchFields(p, path, slices.DeleteFunc(slices.Clone(fields), func(f tables.Field[tables.Fields]) bool { return f.Name == "values" }), &a, &b)
	path += "/values"
	if t.Rows() != u.Rows() || t.Columns() != u.Columns() || (a.X == nil) != (b.X == nil) || (a.Y == nil) != (b.Y == nil) {
		p.change(path, oneLine(tablejson.AppendValues(nil, a, 0)), oneLine(tablejson.AppendValues(nil, b, 0)))
		return
	}
	for i, v := range a.Values {
		if tables.SameBit(v, b.Values[i]) {
			continue
		}
		cell := path
		if a.Y != nil {
			cell += "/" + strconv.Itoa(i/t.Columns())
		}
		if a.X != nil {
			cell += "/" + strconv.Itoa(i%t.Columns())
		}
		p.change(cell, strictjson.AppendNumber(nil, v), strictjson.AppendNumber(nil, b.Values[i]))
	}
}

// axis tests what says where a table's cells are: without it an edit of a cell
// could land on another breakpoint of a document that has moved on.
func (p *patcher) axis(path string, a *tables.Axis) {
	if a != nil {
		p.test(path+"/unit", strictjson.AppendText(nil, a.Unit()))
		p.test(path+"/points", strictjson.AppendNumbers(nil, a.Points()))
	}
}

// order takes tables away from the last to the first, moves those that stay
// one after the other to their places, and adds the others from the first on.
func (p *patcher) order(a, b *tables.Calibration) {
	path := func(i int) string { return "/tables/" + strconv.Itoa(i) }
	id := func(i int, id string) { p.test(path(i)+"/id", strictjson.AppendText(nil, id)) }
	ids := a.IDs()
	for i := len(ids) - 1; i >= 0; i-- {
		if b.Table(ids[i]) == nil {
			p.change(path(i), oneLine(tablejson.AppendTable(nil, a.Table(ids[i]), 0)), nil)
			ids = slices.Delete(ids, i, i+1)
		}
	}
	stay := slices.DeleteFunc(b.IDs(), func(id string) bool { return a.Table(id) == nil })
	for to, at := range stay {
		if from := slices.Index(ids, at); from != to {
			id(from, at)
			p.op("move", path(to), path(from), nil)
			ids = slices.Insert(slices.Delete(ids, from, from+1), to, at)
		}
	}
	for i, t := range b.Tables() {
		if a.Table(t.ID()) != nil {
			continue
		}
		if i > 0 {
			id(i-1, b.IDs()[i-1])
		}
		p.op("add", path(i), "", oneLine(tablejson.AppendTable(nil, t, 0)))
	}
}

// oneLine takes the line ends and indents out of canonical JSON, which has
// them between its parts only.
func oneLine(b []byte) []byte {
	out := b[:0]
	for line := range bytes.Lines(b) {
		comma := bytes.HasSuffix(line, []byte(",\n"))
		if out = append(out, bytes.TrimSpace(line)...); comma {
			out = append(out, ' ')
		}
	}
	return out
}

// pointers escapes a key for a JSON Pointer (RFC 6901).
var pointers = strings.NewReplacer("~", "~0", "/", "~1")
