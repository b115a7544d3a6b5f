package conflictfile

import (
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
	return &reader{Reader: tablejson.Reader{Reader: strictjson.New(data, name), EmptyCell: func(int) {}}}
}

var (
	conflictKeys = strictjson.Keys{Known: []string{"id", "merged", "table", "at", "in", "x", "y", "gone", "base", "ours", "theirs", "whole", "absent", "after"},
		Need: []string{"table", "at", "base", "ours", "theirs"}}
	wholeKeys = strictjson.Keys{Known: []string{"base", "ours", "theirs"}, Need: []string{"base", "ours", "theirs"}}
)

// conflict reads one entry. What its sides are depends on its other keys, so
// that they are kept as they are until all keys are known.
func (r *reader) conflict() (merge.Conflict, bool) {
	start, before := r.Mark(), r.Faults()
	var c merge.Conflict
	raw := map[string]string{}
	var absent []string
	whole := map[string]*tables.Table{}
	r.Object(conflictKeys, func(key string) {
		switch key {
		case "id":
			c.ID, _ = r.Text()
		case "merged":
			r.merged, _ = r.Text()
		case "table":
			c.Table, _ = r.Text()
		case "at":
			r.at(&c)
		case "in":
			s, _ := r.Text()
			c.In = merge.Side(s)
		case "x":
			c.X = r.pointer()
		case "y":
			c.Y = r.pointer()
		case "gone":
			c.Gone, _ = r.Text()
		case "whole":
			r.Object(wholeKeys, func(side string) { whole[side] = r.Table() })
		case "absent":
			absent = r.Texts()
		case "after":
			c.After = r.Texts()
		default:
			raw[key], _ = r.Raw()
		}
	})
	if r.Faults() > before {
		return c, false
	}
	for _, s := range sides {
		q := quoted{raw[string(s)], slices.Contains(absent, string(s)), whole[string(s)]}
		if err := q.into(&c, s); err != nil {
			r.Fault(start, "."+string(s), err.Error())
			return c, false
		}
	}
	return c, true
}

// quoted is what an entry says of one side: its JSON, or a whole table.
type quoted struct {
	raw    string
	absent bool
	whole  *tables.Table
}

// into reads a side of a conflict.
func (q *quoted) into(c *merge.Conflict, s merge.Side) error {
	side, err := q.side(c)
	if q.whole != nil {
		side.Table = q.whole
	}
	*map[merge.Side]*merge.ConflictSide{merge.Original: &c.Base, merge.Ours: &c.Ours, merge.Theirs: &c.Theirs}[s] = side
	return err
}

func (r *reader) pointer() *float64 {
	v, _ := r.Number()
	return &v
}

// at reads the place of a conflict: a row and a column, or the name of a field.
func (r *reader) at(c *merge.Conflict) {
	if r.Kind() == '"' {
		if c.Name, _ = r.Text(); c.Name == "" {
			c.Name = "?" // no field has this name, and resolving says so
		}
		return
	}
	at := r.Mark()
	var rc []int
	r.Array(func(int) {
		n, _ := r.Whole()
		rc = append(rc, n)
	})
	if len(rc) != 2 {
		r.Fault(at, "", "want [row, column] or the name of a field")
		return
	}
	c.Row, c.Column = rc[0], rc[1]
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
	switch _, ok := all.Find(name); {
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
		tablejson.Field(&r.Reader, all, name, to, r.Extras())
	}
	return err
}
