package tablejson

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/strictjson"
)

// Reader reads the parts of a document. A part with a fault in it is nil; the
// fault is recorded in the reader that it stands on.
type Reader struct {
	*strictjson.Reader
	// EmptyCell, where set, hears the place of every null among a table's
	// values: such a cell is empty. Where nil, a null is a fault.
	EmptyCell func(at int)
}

// Extras gathers the "x-…" keys of one object.
type Extras struct {
	r    *Reader
	keys []tables.ExtraKey
}

// Extras starts on an object's kept keys.
func (r *Reader) Extras() *Extras { return &Extras{r: r} }

// Read reads the value of one kept key.
func (e *Extras) Read(key string) {
	if v, ok := e.r.Raw(); ok {
		e.keys = append(e.keys, tables.ExtraKey{Key: key, Value: v})
	}
}

// Null takes in a kept key whose value is null, read elsewhere.
func (e *Extras) Null(key string) {
	e.keys = append(e.keys, tables.ExtraKey{Key: key, Value: "null"})
}

// Done is what was gathered.
func (e *Extras) Done() tables.Extra {
	extra, err := tables.NewExtra(e.keys)
	if err != nil {
		e.r.Fault(e.r.Mark(), "", err.Error())
	}
	return extra
}

// tableKeys are the keys of a table.
var tableKeys = strictjson.Keys{
	Known: append([]string{"id"}, tables.TableFields.Names()...),
	Need:  []string{"id", "unit", "values"},
	Extra: true,
}

// Table reads one table.
func (r *Reader) Table() *tables.Table {
	start, ok := r.Mark(), r.Faults()
	var f tables.Fields
	var v Values
	extra := r.Extras()
	valuesAt := start
	r.Object(tableKeys, func(key string) {
		switch at := r.Mark(); key {
		case "id":
			f.ID, _ = r.Text()
			if r.Faults() == ok || f.ID != "" {
				r.check(at, tables.ValidID(f.ID))
			}
		case "values":
			valuesAt = at
			v = r.Values(f.X, f.Y)
		default:
			Field(r, tables.TableFields, key, &f, extra)
		}
	})
	f.Extra = extra.Done()
	if r.Faults() != ok {
		return nil
	}
	if f.Y != nil && f.X == nil {
		r.Fault(start, ".y", "table has a y axis and no x axis")
		return nil
	}
	if f.Values = r.Shape(v, f.X, f.Y, valuesAt, ".values"); r.Faults() != ok {
		return nil
	}
	t, err := tables.NewTable(f)
	if err != nil {
		r.Fault(start, "", err.Error())
		return nil
	}
	return t
}

// Field reads one of the fields of what it is handed; kept keys are gathered in
// extra. A table's values are not read here, since they have the shape of its
// axes: see [Reader.Values].
func Field[T any](r *Reader, fields tables.Fieldset[T], key string, to *T, extra *Extras) {
	f, _ := fields.Find(key)
	start, before := r.Mark(), r.Faults()
	marks := []int{start}
	switch p := f.At(to).(type) {
	case tables.Kept:
		extra.Read(key)
		return
	case **tables.Axis:
		*p = r.Axis()
	case **tables.Engine:
		*p = r.engine()
	case *[]tables.Source:
		*p = r.sources()
	case *[]tables.ExtraKey:
		*p = r.state()
	default:
		marks = r.parts(f.Name, f.Parts(to))
	}
	if r.Faults() > before {
		return
	}
	if f.Name == "role" && !f.Given(to) {
		r.Fault(start, "", "role is empty, want one of the roles, or none at all")
	}
	if part, wrong := f.Wrong(to, false); wrong != "" {
		path := ""
		if len(marks) > 1 {
			path = "." + f.Parts(to)[part].Name
		}
		r.Fault(marks[min(part, len(marks)-1)], strings.TrimSuffix(path, "."), wrong)
	}
}

// parts reads what a field is made of: one value, a list, or an object of named
// ones. It returns the mark of each.
func (r *Reader) parts(name string, parts []tables.Part) (marks []int) {
	start := r.Mark()
	switch {
	case len(parts) == 1:
		r.part(parts[0])
	case parts[0].Name != "":
		return r.Parts(parts, partNames(parts))
	default:
		pair, ok := r.Numbers(nil, func(at, i int) { r.FaultAt(at, r.Path(), "found null, want a number") })
		if ok && len(pair) != len(parts) {
			r.Fault(start, "", name+" has "+tables.Plural(len(pair), "number")+", want a lower and a higher one")
		}
		if len(pair) != len(parts) { // a list that is cut short may be of any length
			break
		}
		for i, v := range pair {
			*parts[i].Number = v
		}
	}
	return []int{start}
}

// Parts reads an object of named numbers and texts, and returns the mark of each.
// Those that are needed must be there; the others stay what they are.
func (r *Reader) Parts(parts []tables.Part, need []string) (marks []int) {
	marks = make([]int, len(parts))
	names := partNames(parts)
	r.Object(strictjson.Keys{Known: names, Need: need}, func(key string) {
		i := slices.Index(names, key)
		marks[i] = r.Mark()
		r.part(parts[i])
	})
	return marks
}

// part reads one number or text into the place where it is kept. A fault leaves
// zero there, and nothing is built of a document with a fault.
func (r *Reader) part(p tables.Part) {
	switch {
	case p.Empty && r.Null():
		*p.Number = math.NaN()
	case p.Number != nil:
		*p.Number, _ = r.Number()
	case p.Whole != nil:
		*p.Whole, _ = r.Whole()
	default:
		*p.Text, _ = r.Text()
	}
}

// partNames are the keys of an object that is made of parts.
func partNames(parts []tables.Part) []string {
	names := make([]string, len(parts))
	for i, p := range parts {
		names[i] = p.Name
	}
	return names
}

// check records what a constructor would refuse, at the place where it stands.
func (r *Reader) check(at int, err error) {
	if err != nil {
		r.Fault(at, "", err.Error())
	}
}

var axisKeys = strictjson.Keys{Known: []string{"quantity", "unit", "points"}, Need: []string{"unit", "points"}, Extra: true}

// Axis reads an axis.
func (r *Reader) Axis() *tables.Axis {
	start, before := r.Mark(), r.Faults()
	var a tables.AxisParts
	var points []float64
	extra := r.Extras()
	r.Object(axisKeys, func(key string) {
		if key != "points" {
			Field(r, tables.AxisFields, key, &a, extra)
			return
		}
		at := r.Mark()
		if r.Array(func(i int) {
			at := r.Mark()
			v, ok := r.Number()
			if points = append(points, v); ok {
				r.check(at, tables.ValidPoint(points, i))
			}
		}) && len(points) == 0 {
			r.Fault(at, "", "axis has no breakpoints")
		}
	})
	kept := extra.Done()
	if r.Faults() != before {
		return nil
	}
	axis, err := tables.NewAxisExtra(a.Quantity, a.Unit, points, kept)
	if err != nil {
		r.Fault(start, "", err.Error())
		return nil
	}
	return axis
}

// Values are a table's values as they stood, before their axes are known.
type Values struct {
	kind byte // '0' a number, '[' a list, '#' a list of rows; 0 none
	flat []float64
	ends []int // of each row in flat
	at   []int // each row's mark
}

// Values reads the value of a "values" key: a number, a list, or a list of
// rows. Where the axes are known, room is made for as many, and for no more than
// the text can hold.
func (r *Reader) Values(axes ...*tables.Axis) Values {
	room := 1
	for _, a := range axes {
		if a != nil {
			room *= a.Len()
		}
	}
	v := Values{flat: make([]float64, 0, min(room, 1+r.Left()/2, 1+tables.MaxCells()))}
	null := func(at, _ int) { r.null(at) }
	switch r.Kind() {
	case '[':
		v.kind = '['
		at := r.Mark()
		r.Array(func(i int) {
			if len(v.flat) > tables.MaxCells() {
				r.Only(at, r.Path(), tables.TooManyCells())
				return
			}
			if r.Kind() != '[' && v.kind == '[' {
				r.Cell(&v.flat)
				return
			}
			if i == 0 {
				v.kind = '#'
			}
			v.at = append(v.at, r.Mark())
			v.flat, _ = r.Numbers(v.flat, null)
			v.ends = append(v.ends, len(v.flat))
		})
		if v.kind == '[' && len(v.ends) > 0 {
			v.kind = 0
		}
	default:
		v.kind = '0'
		r.Cell(&v.flat)
	}
	return v
}

// Cell reads one value, a number or a null, and appends it.
func (r *Reader) Cell(dst *[]float64) {
	at := r.Mark()
	if r.Null() {
		r.null(at)
		*dst = append(*dst, math.NaN())
		return
	}
	v, _ := r.Number()
	*dst = append(*dst, v)
}

// null takes in a null among values: an empty cell where there may be one, else
// a fault. In a document that is known only once its format was read, which may
// stand last.
func (r *Reader) null(at int) {
	if r.EmptyCell != nil {
		r.EmptyCell(at)
		return
	}
	r.FaultAt(at, r.Path(), "found null, want a number")
}

// Shape fits values to their axes, recording what does not fit; below is the
// path to the values from where the reader stands.
func (r *Reader) Shape(v Values, x, y *tables.Axis, at int, below string) []float64 {
	switch {
	case x == nil && v.kind != '0':
		r.Fault(at, below, "found a list, want a number: the table has no axis")
	case x != nil && y == nil && v.kind != '[':
		r.Fault(at, below, fmt.Sprintf("found %s, want a list of %s, one for each breakpoint of x", v.name(), tables.Plural(x.Len(), "number")))
	case x != nil && y == nil && len(v.flat) != x.Len():
		r.Fault(at, below, fmt.Sprintf("has %s, x has %s", tables.Plural(len(v.flat), "value"), tables.Plural(x.Len(), "breakpoint")))
	case y != nil && v.kind == '[' && len(v.flat) == 0:
		r.Fault(at, below, "has no rows, y has "+tables.Plural(y.Len(), "breakpoint"))
	case y != nil && v.kind != '#':
		r.Fault(at, below, fmt.Sprintf("found %s, want %s of %s", v.name(), tables.Plural(y.Len(), "row"), tables.Plural(x.Len(), "number")))
	case y != nil && len(v.ends) != y.Len():
		r.Fault(at, below, fmt.Sprintf("has %s, y has %s", tables.Plural(len(v.ends), "row"), tables.Plural(y.Len(), "breakpoint")))
	case y != nil:
		for i, start := 0, 0; i < len(v.ends); i++ {
			if n := v.ends[i] - start; n != x.Len() {
				r.Fault(v.at[i], fmt.Sprintf("%s[%d]", below, i), fmt.Sprintf("has %s, x has %s", tables.Plural(n, "value"), tables.Plural(x.Len(), "breakpoint")))
			}
			start = v.ends[i]
		}
	}
	return v.flat
}

// name says what the values are, in an error about their shape.
func (v Values) name() string {
	switch v.kind {
	case '0':
		return "a number"
	case '[':
		return "a list of numbers"
	case '#':
		return "a list of rows"
	}
	return "a list of numbers and rows"
}

// Flat are the values row after row.
func (v Values) Flat() []float64 { return v.flat }

// Sound refuses values of no shape: numbers beside rows, or rows that differ in
// length.
func (v Values) Sound() error {
	if v.kind == 0 {
		return fmt.Errorf("found %s, want one or the other", v.name())
	}
	start := 0
	for i, end := range v.ends {
		if i > 0 && end-start != v.ends[0] {
			return fmt.Errorf("row %d has %s, row 0 has %d", i, tables.Plural(end-start, "value"), v.ends[0])
		}
		start = end
	}
	return nil
}

// engine reads the facts about an engine.
func (r *Reader) engine() *tables.Engine {
	before := r.Faults()
	e := &tables.Engine{}
	extra := r.Extras()
	r.Object(strictjson.Keys{Known: tables.EngineFields.Names(), Extra: true}, func(key string) { Field(r, tables.EngineFields, key, e, extra) })
	e.Extra = extra.Done()
	if r.Faults() != before {
		return nil
	}
	return e
}

// sources reads the logs behind cell averages.
func (r *Reader) sources() []tables.Source {
	var list []tables.Source
	r.Array(func(int) {
		s := tables.Source{}
		parts := s.Parts()
		names := partNames(parts)
		r.Object(strictjson.Keys{Known: append(names, "dropped"), Need: []string{"name", "rows", "kept"}}, func(key string) {
			if i := slices.Index(names, key); i >= 0 {
				r.part(parts[i])
				return
			}
			r.Object(strictjson.Keys{}, func(reason string) {
				n, _ := r.Whole()
				s.Dropped = append(s.Dropped, tables.Dropped{Reason: reason, Count: n})
			})
		})
		list = append(list, s)
	})
	return list
}

// state reads what cell averages carry, whatever it is.
func (r *Reader) state() []tables.ExtraKey {
	var keys []tables.ExtraKey
	r.Object(strictjson.Keys{}, func(key string) {
		if v, ok := r.Raw(); ok {
			keys = append(keys, tables.ExtraKey{Key: key, Value: v})
		}
	})
	tables.SortKeys(keys)
	return keys
}
