package conflictfile

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
)

// Read reads the conflicts of a file, or of standard input where path is "-".
func Read(path string, stdin io.Reader) (List, error) {
	data, err := tablefile.Any(path, stdin)
	if err != nil {
		return List{}, err
	}
	return Parse(data, path)
}

// Parse reads conflicts; name is what errors call the input.
func Parse(data []byte, name string) (List, error) {
	r := newReader(data, name)
	var e entry
	var list []merge.Conflict
	parts := r.parts(&e)
	r.Array(func(int) {
		start, before := r.Mark(), r.Faults()
		e.begin(merge.Conflict{})
		if r.Parts(parts, nil); r.Faults() == before {
			r.sides(&e, start)
		}
		list = append(list, e.Conflict)
	})
	if err := r.Err(); err != nil {
		return List{}, err
	}
	return List{e.merged, list}, nil
}

// reader reads lists and decisions.
type reader struct{ tablejson.Reader }

// newReader reads values with empty cells allowed: a side may be cell averages.
func newReader(data []byte, name string) *reader {
	return &reader{tablejson.Reader{Reader: strictjson.New(data, name), Empty: true}}
}

// sides reads what each of the three documents holds, once it is known of what.
func (r *reader) sides(e *entry, start int) {
	for i, to := range []*merge.State{&e.Base, &e.Ours, &e.Theirs} {
		side, err := side(&e.Conflict, e.raw[i], slices.Contains(e.absent, string(sides[i])))
		if err != nil {
			r.Fault(start, "."+string(sides[i]), err.Error())
			return
		}
		side.Table = cmp.Or(e.whole[i], side.Table)
		*to = side
	}
}

// at is the place of a conflict: a row and a column, or the name of a field.
func (r *reader) at(c *merge.Conflict) tables.Part {
	return tables.Part{Name: "at", Must: true, At: tablejson.Custom{
		Read: func() {
			if r.Kind() != '"' {
				c.Row, c.Column = r.Place("expected a row and a column, or the name of a field")
			} else if c.Name, _ = r.Text(); c.Name == "" {
				c.Name = "?" // no field has this name, and resolving says so
			}
		},
		Append: func(b []byte) []byte {
			if c.Cell() {
				return tablejson.AppendPlace(b, c.Row, c.Column)
			}
			return strictjson.AppendText(b, c.Name)
		}}}
}

// side reads the JSON of what one document holds of what a conflict is about. A
// null is nothing, but of a cell and of a kept key only where the entry lists it as
// absent: an empty cell is a null, and such a key may hold one.
func side(c *merge.Conflict, raw string, absent bool) (s merge.State, err error) {
	f, known := c.Field()
	if !known || c.Name == "values" {
		whose := "document"
		if c.Table != "" {
			whose = "table"
		}
		return s, fmt.Errorf("no %s has a field %s", whose, tables.Quote(c.Name))
	}
	r := newReader([]byte(raw), "")
	switch kept := strings.HasPrefix(c.Name, "x-"); {
	case c.Cell():
		r.Part(tables.Part{Number: &s.Value, Empty: true})
		s.Absent = absent
	case kept && absent || !kept && raw == "null":
		return s, nil
	default:
		tablejson.Field(&r.Reader, f, &s)
	}
	// A fault within a side has no place of its own.
	if fs, bad := r.Err().(tables.Faults); bad {
		err = errors.New(strings.TrimPrefix(fs[0].Path+": "+fs[0].What, ": "))
	}
	return s, err
}
