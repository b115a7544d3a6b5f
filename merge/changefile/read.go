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
	forms []form
}

func newReader(data []byte, name string) *reader {
	r := &reader{Reader: tablejson.Reader{Reader: strictjson.New(data, name), Empty: true}}
	r.forms = r.editForms(nil)
	return r
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
		if r.Object(editKeys, nil, func(string) { r.Skip() }); r.Faults() == before {
			r.Fault(start, "", `is no edit: want "at", "set", "document", "add", "remove" or "order"`)
		}
		return nil
	}
	f := r.forms[i]
	f.clear()
	missing := slices.Clone(f.needs)
	r.Object(editKeys, nil, func(key string) {
		missing = slices.DeleteFunc(missing, func(need string) bool { return need == key })
		if i := slices.IndexFunc(f.parts, func(p tables.Part) bool { return p.Name == key }); i >= 0 {
			r.Part(f.parts[i])
			return
		}
		r.FaultAt(start, strings.TrimSuffix(r.Path(), "."+key), fmt.Sprintf("has %q beside %q: an edit is of one kind", key, mark))
		r.Skip()
	})
	for _, need := range missing {
		r.Fault(start, "", fmt.Sprintf("has %q and no %q", mark, need))
	}
	return f.edit()
}

// readFields reads the two sides of an edit to fields, and names these.
func readFields[T any](r *reader, all tables.Fieldset[T], from, to *T) (names []string) {
	start, before := r.Mark(), r.Faults()
	r.Reader.Reader.Object(strictjson.Keys{Known: all.Names(), Extra: true}, func(key string) {
		names = append(names, key)
		readSides(r, all, key, map[string]*T{"from": from, "to": to})
	})
	if len(names) == 0 && r.Faults() == before {
		r.Fault(start, "", "changes nothing")
	}
	all.Sort(names)
	return names
}

// readSides reads the two sides of an edit to one field, either of which may be
// null. A kept key may hold a null of its own: the key "null" lists the sides on
// which it does.
func readSides[T any](r *reader, all tables.Fieldset[T], name string, sides map[string]*T) {
	f, _ := all.Find(name)
	keys := pairKeys
	if strings.HasPrefix(name, "x-") {
		keys.Known = append(slices.Clone(keys.Known), "null")
	}
	r.Object(keys, nil, func(key string) {
		switch {
		case key == "null":
			r.Array(func(int) {
				at := r.Mark()
				side, ok := r.Text()
				if of := sides[side]; of != nil {
					f.At(of).(*tables.Kept).Set("null", true)
				} else if ok {
					r.Fault(at, "", fmt.Sprintf("found %s, want \"from\" or \"to\"", tables.Quote(side)))
				}
			})
		case name != "values" && r.Null(): // values always stand: there a null is an empty cell
		default:
			readField(r, f, sides[key])
		}
	})
}

// readField reads one side of a field. Values stand in an edit whatever its
// axes, so that their shape is not held to them.
func readField[T any](r *reader, f tables.Field[T], to *T) {
	values, isValues := f.At(to).(*[]float64)
	if !isValues {
		tablejson.Field(&r.Reader, f, to)
		return
	}
	v := r.Values()
	*values = v.Flat()
	if err := v.Sound(); err != nil {
		r.Fault(r.Mark(), "", err.Error())
	}
}
