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
	var list []merge.Conflict
	r.Array(func(int) {
		if c, ok := r.conflict(); ok {
			list = append(list, c)
		}
	})
	if err := r.Err(); err != nil {
		return List{}, err
	}
	return List{r.merged, list}, nil
}

// reader reads entries one by one; the merged file's name is the same in all.
type reader struct {
	tablejson.Reader
	merged string
}

// newReader reads values with empty cells allowed: a side may be cell averages.
func newReader(data []byte, name string) *reader {
	return &reader{Reader: tablejson.Reader{Reader: strictjson.New(data, name), Empty: true}}
}

// conflict reads one entry.
func (r *reader) conflict() (merge.Conflict, bool) {
	start, before := r.Mark(), r.Faults()
	e := entry{merged: r.merged}
	r.Parts(r.parts(&e), nil)
	if r.merged = e.merged; r.Faults() > before {
		return e.Conflict, false
	}
	for i, to := range []*merge.ConflictSide{&e.Base, &e.Ours, &e.Theirs} {
		q := quoted{e.raw[i], slices.Contains(e.absent, string(sides[i]))}
		side, err := q.side(&e.Conflict)
		if err != nil {
			r.Fault(start, "."+string(sides[i]), err.Error())
			return e.Conflict, false
		}
		side.Table = cmp.Or(e.whole[i], side.Table)
		*to = side
	}
	return e.Conflict, true
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

// quoted is what an entry says of one side.
type quoted struct {
	raw    string // its JSON
	absent bool
}

// side reads what one document holds.
func (q *quoted) side(c *merge.Conflict) (s merge.ConflictSide, err error) {
	r := newReader([]byte(q.raw), "")
	null := q.raw == "null"
	switch {
	case c.Cell():
		var v []float64
		r.Cell(&v)
		s.Absent = q.absent
		if len(v) > 0 {
			s.Value = v[0]
		}
	case null && c.Name == merge.WholeTable:
		return merge.ConflictSide{Absent: true}, nil
	case c.Name == merge.WholeTable:
		s.Table = r.Table()
	case c.Table == "" && c.Name == merge.TableOrder:
		s.Order = r.Texts()
	case c.Table == "":
		s.Contents = &tables.Contents{}
		err = readField(r, tables.DocumentFields, c.Name, s.Contents, q)
	default:
		s.Fields = &tables.Fields{}
		err = readField(r, tables.TableFields, c.Name, s.Fields, q)
	}
	if err == nil && !null && !strings.HasPrefix(c.Name, "x-") {
		err = oneLine(r.Err())
	}
	return s, err
}

// oneLine is a fault within a side, without a place of its own.
func oneLine(err error) error {
	if fs, ok := err.(tables.Faults); ok && len(fs) > 0 {
		return errors.New(strings.TrimPrefix(fs[0].Path+": "+fs[0].What, ": "))
	}
	return err
}

// readField reads one side of a conflict of a field. A null is an absent field,
// but of a kept key only where the entry lists it as absent: such a key may hold
// a null.
func readField[T any](r *reader, all tables.Fieldset[T], name string, to *T, q *quoted) (err error) {
	switch f, ok := all.Find(name); {
	case !ok || name == "values":
		whose := "document"
		if _, ofTable := any(to).(*tables.Fields); ofTable {
			whose = "table"
		}
		return fmt.Errorf("no %s has a field %s", whose, tables.Quote(name))
	case strings.HasPrefix(name, "x-"):
		if !q.absent {
			*all.Extra(to), err = tables.NewExtra([]tables.ExtraKey{{Key: name, Value: q.raw}})
		}
	case q.raw != "null":
		tablejson.Field(&r.Reader, f, to)
	}
	return err
}
