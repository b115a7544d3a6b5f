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
	r := newReader(data, name)
	r.forms = newForms(r)
	cs := &merge.ChangeSet{}
	r.Parts(r.set(cs, nil), &cs.Extra)
	if err := r.Err(); err != nil {
		return nil, err
	}
	return cs, nil
}

// reader reads the JSON of change sets, and of the frames and tables that a list
// quotes. An empty cell is a null in it, as among cell averages.
type reader struct {
	tablejson.Reader
	forms *forms // of the edits of a change set
}

func newReader(data []byte, name string) *reader {
	return &reader{Reader: tablejson.Reader{Reader: strictjson.New(data, name), Empty: true}}
}

// frame reads a frame of a table that has not been seen.
func (r *reader) frame(seen map[string]*merge.Frame) merge.Frame {
	start := r.Mark()
	var f merge.Frame
	r.Parts(r.frameParts(&f), nil)
	switch {
	case seen[f.Table] != nil:
		r.Fault(start, "", fmt.Sprintf("is a second frame of %s", tables.Quote(f.Table)))
	case f.X == nil && f.Y != nil:
		r.Fault(start, "", "has y and no x")
	}
	seen[f.Table] = &f
	return f
}

// edit reads one edit. What it may hold is known by its kind, and that by the key
// that no other kind has, which may stand last.
func (r *reader) edit() merge.Edit {
	start, before := r.Mark(), r.Faults()
	mark := r.First(editMarks)
	i := slices.Index(editMarks, mark)
	if i < 0 {
		if r.Object(strictjson.Keys{Known: editKeys}, func(string) { r.Skip() }); r.Faults() == before {
			r.Fault(start, "", `is no edit: expected "at", "set", "document", "add", "remove" or "order"`)
		}
		return nil
	}
	parts := r.forms.parts[i]
	r.forms.cell, r.forms.field = merge.CellEdit{}, merge.FieldEdit{}
	r.Object(strictjson.Keys{Known: editKeys, Need: r.forms.needs[i]}, func(key string) {
		if i := slices.IndexFunc(parts, func(p tables.Part) bool { return p.Name == key }); i >= 0 {
			r.Part(parts[i])
			return
		}
		r.FaultAt(start, strings.TrimSuffix(r.Path(), "."+key), fmt.Sprintf("has %q beside %q: an edit is of one kind", key, mark))
		r.Skip()
	})
	return r.forms.edit(kinds[i])
}
