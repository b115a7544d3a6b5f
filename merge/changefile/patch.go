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
// JSON of the document that it applies to. Paths name a table by its position
// at that point of the patch; a test stands before every replace, remove and
// move, so that a library that knows nothing of calibrations refuses a
// document that has moved on.
func WritePatch(w io.Writer, base *tables.Calibration, cs *merge.ChangeSet) error {
	if _, err := merge.Apply(base, cs); err != nil {
		return err
	}
	p := &patcher{c: base.Contents(), order: base.IDs(), fields: map[string]*tables.Fields{}}
	for _, t := range base.Tables() {
		f := t.Fields()
		f.Values = slices.Clone(f.Values)
		p.fields[t.ID()] = &f
	}
	p.place()
	for _, e := range cs.Edits {
		if err := p.edit(e); err != nil {
			return err
		}
	}
	out := append([]byte("["), p.b...)
	if p.n > 0 {
		out = append(out, '\n')
	}
	_, err := w.Write(append(out, "]\n"...))
	return err
}

// patcher follows the document through its edits, since each path and each
// test speaks of what stands there by then.
type patcher struct {
	b      []byte
	n      int
	c      tables.Contents
	order  []string
	index  map[string]int
	fields map[string]*tables.Fields
}

func (p *patcher) place() {
	p.index = make(map[string]int, len(p.order))
	for i, id := range p.order {
		p.index[id] = i
	}
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

// change appends what turns one value into another; nil is none at all.
func (p *patcher) change(path string, from, to []byte) {
	switch {
	case bytes.Equal(from, to):
	case from == nil:
		p.op("add", path, "", to)
	case to == nil:
		p.op("test", path, "", from)
		p.op("remove", path, "", nil)
	default:
		p.op("test", path, "", from)
		p.op("replace", path, "", to)
	}
}

func (p *patcher) edit(e merge.Edit) error {
	switch {
	case e.Cell != nil:
		f := p.fields[e.Cell.Table]
		path, i := p.tablePath(e.Cell.Table)+"/values", e.Cell.Column
		if f.Y != nil {
			path += "/" + strconv.Itoa(e.Cell.Row)
			i += e.Cell.Row * f.X.Len()
		}
		if f.X != nil {
			path += "/" + strconv.Itoa(e.Cell.Column)
		}
		p.change(path, strictjson.AppendNumber(nil, f.Values[i]), strictjson.AppendNumber(nil, e.Cell.To))
		f.Values[i] = e.Cell.To
	case e.Set != nil:
		return p.set(e.Set)
	case e.Document != nil:
		return p.document(e.Document)
	case e.Add != nil:
		at := slices.Index(p.order, e.Add.After) + 1
		p.op("add", "/tables/"+strconv.Itoa(at), "", oneLine(tablejson.AppendTable(nil, e.Add.Table, 0)))
		f := e.Add.Table.Fields()
		f.Values = slices.Clone(f.Values)
		p.fields[f.ID] = &f
		p.order = slices.Insert(p.order, at, f.ID)
		p.place()
	case e.Remove != nil:
		id := e.Remove.Table.ID()
		t, err := tables.NewTable(*p.fields[id])
		if err != nil {
			return err
		}
		p.change(p.tablePath(id), oneLine(tablejson.AppendTable(nil, t, 0)), nil)
		p.order = slices.Delete(p.order, p.index[id], p.index[id]+1)
		p.place()
	case e.Order != nil:
		return p.reorder(e.Order)
	}
	return nil
}

func (p *patcher) tablePath(id string) string { return "/tables/" + strconv.Itoa(p.index[id]) }

func (p *patcher) set(e *merge.TableEdit) error {
	f := p.fields[e.Table]
	before := *f
	setFields(f, &e.To, e.Names)
	path := p.tablePath(e.Table) + "/"
	for _, name := range e.Names {
		if name == "values" {
			continue
		}
		from, err := present(appendTableField(nil, nil, name, before, 0))
		if err != nil {
			return err
		}
		to, err := present(appendTableField(nil, nil, name, *f, 0))
		if err != nil {
			return err
		}
		p.change(path+pointer(name), from, to)
	}
	// Another axis gives the same numbers another shape.
	from, to := oneLine(tablejson.AppendValues(nil, before, 0)), oneLine(tablejson.AppendValues(nil, *f, 0))
	p.change(path+"values", from, to)
	return nil
}

// setFields sets the named fields of a table as another has them.
func setFields(f, to *tables.Fields, names []string) {
	for _, name := range names {
		switch name {
		case "title":
			f.Title = to.Title
		case "role":
			f.Role = to.Role
		case "unit":
			f.Unit = to.Unit
		case "resolution":
			f.Resolution = to.Resolution
		case "limits":
			f.Limits = to.Limits
		case "notes":
			f.Notes = to.Notes
		case "x":
			f.X = to.X
		case "y":
			f.Y = to.Y
		case "values":
			f.Values = slices.Clone(to.Values)
		default:
			f.Extra = withKept(f.Extra, to.Extra, name)
		}
	}
}

// withKept is extra with one key as to has it.
func withKept(extra, to tables.Extra, key string) tables.Extra {
	has := func(k tables.ExtraKey) bool { return k.Key == key }
	extra = slices.DeleteFunc(slices.Clone(extra), has)
	if i := slices.IndexFunc(to, has); i >= 0 {
		extra = append(extra, to[i])
		tables.SortKeys(extra)
	}
	return extra
}

func (p *patcher) document(e *merge.DocumentEdit) error {
	for _, name := range e.Names {
		from, err := present(appendDocumentField(nil, name, p.c, 0))
		if err != nil {
			return err
		}
		to, err := present(appendDocumentField(nil, name, e.To, 0))
		if err != nil {
			return err
		}
		p.change("/"+pointer(name), oneLine(from), oneLine(to))
		switch name {
		case "format":
			p.c.Kind = e.To.Kind
		case "name":
			p.c.Name = e.To.Name
		case "notes":
			p.c.Notes = e.To.Notes
		case "engine":
			p.c.Engine = e.To.Engine
		case "source":
			p.c.Source = e.To.Source
		case "state":
			p.c.State = e.To.State
		default:
			p.c.Extra = withKept(p.c.Extra, e.To.Extra, name)
		}
	}
	return nil
}

// reorder moves one table after the other to its place.
func (p *patcher) reorder(e *merge.OrderEdit) error {
	to, err := orderAfter(p.order, e)
	if err != nil {
		return err
	}
	for i, id := range to {
		if at := slices.Index(p.order, id); at != i {
			path := "/tables/" + strconv.Itoa(at)
			p.op("test", path+"/id", "", strictjson.AppendText(nil, id))
			p.op("move", "/tables/"+strconv.Itoa(i), path, nil)
			p.order = slices.Insert(slices.Delete(p.order, at, at+1), i, id)
		}
	}
	p.place()
	return nil
}

// orderAfter is what Apply makes of an order: asked of Apply itself, with
// tables that are nothing but their ids.
func orderAfter(ids []string, e *merge.OrderEdit) ([]string, error) {
	var c tables.Contents
	for _, id := range ids {
		t, err := tables.NewTable(tables.Fields{ID: id, Values: []float64{0}})
		if err != nil {
			return nil, err
		}
		c.Tables = append(c.Tables, t)
	}
	doc, err := tables.NewCalibration(c)
	if err != nil {
		return nil, err
	}
	if doc, err = merge.Apply(doc, &merge.ChangeSet{Edits: []merge.Edit{{Order: e}}}); err != nil {
		return nil, err
	}
	return doc.IDs(), nil
}

// present is a field's JSON, nil where the field is absent.
func present(b []byte, absent bool, err error) ([]byte, error) {
	if absent {
		return nil, err
	}
	return b, err
}

// oneLine takes the line ends and indents out of canonical JSON, which has
// them between its parts only.
func oneLine(b []byte) []byte {
	if b == nil {
		return nil
	}
	out := b[:0]
	for i := 0; i < len(b); i++ {
		if b[i] != '\n' {
			out = append(out, b[i])
			continue
		}
		for i+1 < len(b) && b[i+1] == ' ' {
			i++
		}
		if n := len(out); n > 0 && out[n-1] == ',' {
			out = append(out, ' ')
		}
	}
	return out
}

// pointer escapes a key for a JSON Pointer (RFC 6901).
func pointer(key string) string {
	return strings.NewReplacer("~", "~0", "/", "~1").Replace(key)
}
