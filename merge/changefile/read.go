package changefile

import (
	"fmt"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablejson"
)

// fileFormat is what a change set's file calls itself.
const fileFormat = "calsplice.changes/1"

// ParseJSON reads the JSON spelling; name is what errors call the input.
func ParseJSON(data []byte, name string) (*merge.ChangeSet, error) {
	r := &reader{tablejson.Reader{Reader: strictjson.New(data, name), EmptyCell: func(int) {}}}
	cs := r.changeSet()
	if err := r.Err(); err != nil {
		return nil, err
	}
	return cs, nil
}

// reader reads the JSON of change sets, and of the frames and tables that a list
// quotes. An empty cell is a null in it, as among cell averages.
type reader struct{ tablejson.Reader }

// What each object of a change set may hold. An edit's keys are checked together
// once all of them are read: which may stand beside which depends on its kind.
var (
	setKeys = strictjson.Keys{Known: []string{"format", "title", "made_by", "base", "frames", "edits", "cautions", "left_out"},
		Need: []string{"format", "edits"}, Extra: true}
	frameKeys = strictjson.Keys{Known: []string{"table", "unit", "x", "y"}, Need: []string{"table", "unit"}}
	editKeys  = strictjson.Keys{Known: []string{"table", "at", "from", "to", "why", "set", "document", "add", "after", "remove", "order"}}
	pairKeys  = strictjson.Keys{Known: []string{"from", "to"}, Need: []string{"from", "to"}}
)

// changeSet reads the outermost object. Another format ends reading with one
// fault, since every other one would follow from that.
func (r *reader) changeSet() *merge.ChangeSet {
	cs := &merge.ChangeSet{}
	extra := r.Extras()
	r.Object(setKeys, func(key string) {
		switch at := r.Mark(); key {
		case "format":
			if f, ok := r.Text(); ok && f != fileFormat {
				r.Only(at, "format", tables.UnknownFormat(f, fileFormat))
			}
		case "title":
			cs.Title, _ = r.Text()
		case "made_by":
			cs.MadeBy, _ = r.Text()
		case "base":
			r.Parts(baseParts(&cs.Base), nil)
		case "frames":
			seen := map[string]*merge.Frame{}
			r.Array(func(int) { cs.Frames = append(cs.Frames, r.frame(seen)) })
		case "edits":
			r.Array(func(int) { r.edit(cs) })
		case "cautions":
			cs.Cautions = r.Texts()
		case "left_out":
			cs.LeftOut, _ = r.Whole()
		default:
			extra.Read(key)
		}
	})
	cs.Extra = extra.Done()
	return cs
}

// frame reads a frame of a table that has not been seen.
func (r *reader) frame(seen map[string]*merge.Frame) merge.Frame {
	start := r.Mark()
	var f merge.Frame
	r.Object(frameKeys, func(key string) {
		switch key {
		case "table":
			f.Table = r.id()
		case "unit":
			f.Unit, _ = r.Text()
		case "x":
			f.X = r.Axis()
		case "y":
			f.Y = r.Axis()
		}
	})
	switch {
	case seen[f.Table] != nil:
		r.Fault(start, "", fmt.Sprintf("is a second frame of %s", tables.Quote(f.Table)))
	case f.X == nil && f.Y != nil:
		r.Fault(start, "", "has y and no x")
	}
	seen[f.Table] = &f
	return f
}

// kinds lists which keys make which edit.
var kinds = []struct {
	mark  string // the key that tells the kind
	needs []string
	may   []string
}{
	{"set", []string{"table", "set"}, []string{"why"}},
	{"document", []string{"document"}, nil},
	{"add", []string{"add"}, []string{"after"}},
	{"remove", []string{"remove"}, []string{"after"}},
	{"order", []string{"order"}, nil},
	{"at", []string{"table", "at", "from", "to"}, []string{"why"}},
}

// edit reads one edit and appends it. Its keys are known only together, so
// what they hold is kept until then.
func (r *reader) edit(cs *merge.ChangeSet) {
	start, before := r.Mark(), r.Faults()
	var p editParts
	r.Object(editKeys, func(key string) { p.read(r, key) })
	kind := r.kind(start, p.keys, before)
	if r.Faults() == before {
		cs.Edits = append(cs.Edits, p.edit(kind))
	}
}

// editParts are what the keys of an edit hold.
type editParts struct {
	keys        []string
	cell        merge.CellEdit
	set         merge.TableEdit
	document    merge.DocumentEdit
	add, remove *tables.Table
	after       string
	order       *merge.OrderEdit
}

func (p *editParts) read(r *reader, key string) {
	p.keys = append(p.keys, key)
	switch key {
	case "table":
		p.cell.Table = r.id()
	case "at":
		p.cell.Row, p.cell.Column = r.at()
	case "from":
		p.cell.From = r.cell()
	case "to":
		p.cell.To = r.cell()
	case "why":
		p.cell.Why = r.why()
	case "set":
		p.set.Names = readFields(r, tables.TableFields, &p.set.From, &p.set.To)
	case "document":
		p.document.Names = readFields(r, tables.DocumentFields, &p.document.From, &p.document.To)
	case "add":
		p.add = r.Table()
	case "after":
		if !r.Null() {
			p.after = r.id()
		}
	case "remove":
		p.remove = r.Table()
	case "order":
		p.order = r.order()
	}
}

// edit is the edit of a kind.
func (p *editParts) edit(kind string) merge.Edit {
	switch kind {
	case "set":
		p.set.Table, p.set.Why = p.cell.Table, p.cell.Why
		return &p.set
	case "document":
		return &p.document
	case "add":
		return &merge.AddTable{Table: p.add, After: p.after}
	case "remove":
		return &merge.RemoveTable{Table: p.remove, After: p.after}
	case "order":
		return p.order
	}
	return &merge.CellEdit{Table: p.cell.Table, Row: p.cell.Row, Column: p.cell.Column, From: p.cell.From, To: p.cell.To, Why: p.cell.Why}
}

// kind tells an edit's kind from its keys and refuses keys of two kinds.
// What may not stand together is refused, since one of the two would be lost.
func (r *reader) kind(start int, keys []string, before int) string {
	if r.Faults() != before {
		return ""
	}
	for _, k := range kinds {
		if !slices.Contains(keys, k.mark) {
			continue
		}
		for _, need := range k.needs {
			if !slices.Contains(keys, need) {
				r.Fault(start, "", fmt.Sprintf("has %q and no %q", k.mark, need))
			}
		}
		for _, key := range keys {
			if !slices.Contains(k.needs, key) && !slices.Contains(k.may, key) {
				r.Fault(start, "", fmt.Sprintf("has %q beside %q: an edit is of one kind", key, k.mark))
				break
			}
		}
		return k.mark
	}
	r.Fault(start, "", `is no edit: want "at", "set", "document", "add", "remove" or "order"`)
	return ""
}

// id reads a table's id. One that no document can have is refused here, with its
// place, and not when the change set is applied.
func (r *reader) id() string {
	at := r.Mark()
	s, ok := r.Text()
	if err := tables.ValidID(s); ok && err != nil {
		r.Fault(at, "", err.Error())
	}
	return s
}

// cell reads the value of a cell; null is the empty cell, NaN.
func (r *reader) cell() float64 {
	var v []float64
	r.Cell(&v)
	return v[0]
}

// at reads the row and the column of a cell, both from 0, of the frame's own
// axes.
func (r *reader) at() (row, column int) {
	at := r.Mark()
	var rc []int
	if r.Array(func(int) {
		n, _ := r.Whole()
		rc = append(rc, n)
	}) && len(rc) != 2 {
		r.Fault(at, "", "has "+tables.Plural(len(rc), "number")+", want a row and a column")
	}
	if len(rc) != 2 {
		return 0, 0
	}
	return rc[0], rc[1]
}

// why reads the evidence of an edit. None of its keys must be there, since a
// person who writes a change set by hand has none to give.
func (r *reader) why() *merge.Evidence {
	if r.Null() {
		return nil
	}
	w := &merge.Evidence{}
	r.Parts(evidenceParts(w), nil)
	return w
}

// order reads the ids of all tables before and after, so that reversing needs no
// more than to swap them.
func (r *reader) order() *merge.OrderEdit {
	o := &merge.OrderEdit{}
	r.Object(pairKeys, func(key string) {
		r.Array(func(int) {
			if id := r.id(); key == "from" {
				o.From = append(o.From, id)
			} else {
				o.To = append(o.To, id)
			}
		})
	})
	return o
}

// sides reads the two sides of an edit to one field, either of which may be
// null. A kept key may hold a null of its own: the key "null" lists the sides
// on which it does.
func (r *reader) sides(name string, from, to func(null bool)) {
	keys := pairKeys
	if strings.HasPrefix(name, "x-") {
		keys.Known = append(slices.Clone(keys.Known), "null")
	}
	isNull := map[string]bool{}
	defer func() {
		if isNull["from"] {
			from(true)
		}
		if isNull["to"] {
			to(true)
		}
	}()
	r.Object(keys, func(key string) {
		switch {
		case key == "null":
			r.Array(func(int) {
				at := r.Mark()
				side, ok := r.Text()
				if ok && side != "from" && side != "to" {
					r.Fault(at, "", fmt.Sprintf("found %s, want \"from\" or \"to\"", tables.Quote(side)))
				}
				isNull[side] = true
			})
		case name != "values" && r.Null(): // values always stand: there a null is an empty cell
		case key == "from":
			from(false)
		default:
			to(false)
		}
	})
}
