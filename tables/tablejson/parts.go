package tablejson

import (
	"fmt"
	"math"
	"slices"

	"calsplice/tables"
	"calsplice/tables/strictjson"
)

// Reader reads the parts of a document. A part with a fault in it is nil; the
// fault is recorded in the reader that it stands on.
type Reader struct {
	*strictjson.Reader
	Empty bool // a null among a table's values is an empty cell, and no fault
}

// tableParts are what a table is made of, its opening bracket at an indent.
func (r *Reader) tableParts(f *tables.Fields, indent int) []tables.Part {
	return append([]tables.Part{r.IDPart("id", &f.ID)}, fields(r, tables.TableFields, f, indent+2)...)
}

// Table reads one table. Its values are read before all of its axes may be known, and
// held to them afterwards.
func (r *Reader) Table() *tables.Table {
	start, ok := r.Mark(), r.Faults()
	var f tables.Fields
	var v Values
	parts := r.tableParts(&f, 0)
	last := len(parts) - 1
	parts[last] = tables.Part{Name: "values", Must: true, At: Custom{Read: func() { v = r.Values(f.X, f.Y) }}}
	marks := r.Parts(parts, &f.Extra)
	if r.Faults() != ok {
		return nil
	}
	if f.Y != nil && f.X == nil {
		r.Fault(start, ".y", "table has a y axis and no x axis")
		return nil
	}
	if f.Values = r.Shape(v, f.X, f.Y, marks[last], ".values"); r.Faults() != ok {
		return nil
	}
	t, err := tables.NewTable(f)
	r.check(start, err)
	return t
}

// IDPart is a table's id, which must be there. One that no document can have is
// refused with its place.
func (r *Reader) IDPart(name string, to *string) tables.Part {
	return tables.Part{Name: name, Must: true, At: Custom{
		Read:   func() { *to = r.ID() },
		Append: func(b []byte) []byte { return strictjson.AppendText(b, *to) },
	}}
}

// ID reads a table's id.
func (r *Reader) ID() string {
	at := r.Mark()
	s, ok := r.Text()
	if ok {
		r.check(at, tables.ValidID(s))
	}
	return s
}

// fields are some fields as parts of an object, which are read as [Field] does and
// appended as [AppendField] does. A unit must be there.
func fields[T any](r *Reader, all tables.Fieldset[T], of *T, indent int) (parts []tables.Part) {
	for _, f := range all.Of() {
		parts = append(parts, tables.Part{Name: f.Name, Must: f.Name == "unit", Omit: true, At: Custom{
			Read:   func() { Field(r, f, of) },
			Append: func(b []byte) []byte { return AppendField(b, f, of, indent) },
			Given:  func() bool { return f.Given(of) },
		}})
	}
	return parts
}

// Field reads one of the fields of what it is handed. A table's values are not
// read here, since they have the shape of its axes: see [Reader.Values].
func Field[T any](r *Reader, f tables.Field[T], to *T) {
	start, before := r.Mark(), r.Faults()
	marks := []int{start}
	if parts := f.Parts(to); parts != nil {
		marks = r.parts(parts)
	} else {
		r.Part(tables.Part{At: f.At(to)})
	}
	if r.Faults() > before {
		return
	}
	if f.Name == "role" && !f.Given(to) {
		r.Fault(start, "", "role is empty, expected one of the roles, or none at all")
	}
	if part, wrong := f.Wrong(to, false); wrong != "" {
		path := ""
		if len(marks) > 1 {
			path = "." + f.Parts(to)[part].Name
		}
		r.Fault(marks[min(part, len(marks)-1)], path, wrong)
	}
}

// parts reads what a field is made of: one value, a list, or an object of named
// ones. It returns the mark of each.
func (r *Reader) parts(parts []tables.Part) (marks []int) {
	start := r.Mark()
	switch {
	case len(parts) == 1:
		r.Part(parts[0])
	case parts[0].Name != "":
		return r.Parts(parts, nil)
	default:
		r.list(parts, "expected a lower and a higher one")
	}
	return []int{start}
}

// Parts reads an object of parts, and keeps its other keys, "x-…", in extra; they are
// refused where that is nil. It returns the mark of each part, 0 for one that is not
// there, which stays what it is.
func (r *Reader) Parts(parts []tables.Part, extra *tables.Extra) (marks []int) {
	keys := strictjson.Keys{Extra: extra != nil}
	for _, p := range parts {
		if keys.Known = append(keys.Known, p.Name); p.Must {
			keys.Need = append(keys.Need, p.Name)
		}
	}
	marks = make([]int, len(parts))
	var kept tables.Extra
	r.Object(keys, func(key string) {
		i := slices.Index(keys.Known, key)
		if i < 0 {
			r.kept(&kept, key)
			return
		}
		marks[i] = r.Mark()
		r.Part(parts[i])
	})
	if extra != nil {
		*extra = kept
		r.check(r.Mark(), kept.Validate())
	}
	return marks
}

// kept reads the value of a key that is kept.
func (r *Reader) kept(in *tables.Extra, key string) {
	if v, ok := r.Raw(); ok {
		in.Keep(key, v)
	}
}

// Custom is a value of which only its own format knows how it is read and
// appended, and whether it is empty.
type Custom struct {
	Read   func()
	Append func(b []byte) []byte
	Given  func() bool // nil where it always is
}

// FormatPart is the name of a format, which ends reading where it is another one:
// every other fault would follow from that.
func (r *Reader) FormatPart(known ...string) tables.Part {
	return tables.Part{Name: "format", Must: true, At: Custom{
		Read: func() {
			at := r.Mark()
			if found, ok := r.Text(); ok && !slices.Contains(known, found) {
				r.Only(at, "format", tables.UnknownFormat(found, known...))
			}
		},
		Append: func(b []byte) []byte { return strictjson.AppendText(b, known[0]) },
	}}
}

// Place reads the row and the column of a cell, both from 0.
func (r *Reader) Place(want string) (row, column int) {
	r.list([]tables.Part{{Whole: &row}, {Whole: &column}}, want)
	return row, column
}

// list reads a list of as many parts.
func (r *Reader) list(parts []tables.Part, want string) {
	at, n := r.Mark(), 0
	if ok := r.Array(func(i int) {
		if n++; i < len(parts) {
			r.Part(parts[i])
		} else {
			r.Skip()
		}
	}); ok && n != len(parts) {
		r.Fault(at, "", "has "+tables.Plural(n, "number")+", "+want)
	}
}

// Part reads a value into the place where it is kept. A fault leaves nothing of
// use there, and nothing is built of a document with a fault.
func (r *Reader) Part(p tables.Part) {
	switch {
	case p.Empty && r.Null():
		*p.Number = math.NaN()
	case p.Number != nil:
		*p.Number, _ = r.Number()
	case p.Whole != nil:
		*p.Whole, _ = r.Whole()
	case p.Text != nil:
		*p.Text, _ = r.Text()
	default:
		r.custom(p.At, 0).Read()
	}
}

// custom is how a value that is neither a number nor a text is read, and appended at an
// indent, by the type of the place where it is kept.
func (r *Reader) custom(at any, indent int) Custom {
	switch at := at.(type) {
	case Custom:
		return at
	case []tables.Part:
		return Custom{Read: func() { r.Parts(at, nil) }, Append: func(b []byte) []byte { return AppendParts(b, at) }}
	case *[]string:
		return of(at, func() []string { return r.Texts() }, strictjson.AppendTexts)
	case **float64:
		return of(at, r.number, func(b []byte, v *float64) []byte { return strictjson.AppendNumber(b, *v) })
	case **tables.Axis:
		return of(at, r.Axis, AppendAxis)
	case **tables.Table:
		return of(at, r.Table, func(b []byte, t *tables.Table) []byte { return AppendTable(b, t, indent) })
	case **tables.Engine:
		return of(at, r.engine, func(b []byte, e *tables.Engine) []byte { return appendEngine(b, e, indent) })
	case *[]tables.Source:
		return of(at, r.sources, func(b []byte, list []tables.Source) []byte { return appendSources(b, list, indent) })
	case *[]tables.Dropped:
		return of(at, r.dropped, appendDropped)
	case *tables.Extra:
		return of(at, r.state, func(b []byte, state tables.Extra) []byte { return appendState(b, state, indent) })
	case *tables.Kept:
		return Custom{Read: func() { at.Set(r.Raw()) }, Append: func(b []byte) []byte { return append(b, at.JSON()...) }}
	}
	panic(fmt.Sprintf("tablejson: no value of a document is kept in a %T", at))
}

// of is a value that is read whole.
func of[V any](at *V, read func() V, appendTo func(b []byte, v V) []byte) Custom {
	return Custom{Read: func() { *at = read() }, Append: func(b []byte) []byte { return appendTo(b, *at) }}
}

// number reads a number that may be absent, where it is not.
func (r *Reader) number() *float64 {
	v, _ := r.Number()
	return &v
}

// engine reads the facts about an engine.
func (r *Reader) engine() *tables.Engine {
	e := &tables.Engine{}
	r.Parts(fields(r, tables.EngineFields, e, 0), &e.Extra)
	return e
}

// sources reads a list of logs.
func (r *Reader) sources() (list []tables.Source) {
	r.Array(func(int) {
		s := tables.Source{}
		r.Parts(sourceParts(&s), nil)
		list = append(list, s)
	})
	return list
}

// dropped reads how many rows went for each reason.
func (r *Reader) dropped() (list []tables.Dropped) {
	r.Object(strictjson.Keys{}, func(reason string) {
		n, _ := r.Whole()
		list = append(list, tables.Dropped{Reason: reason, Count: n})
	})
	return list
}

// state reads what cell averages carry, whatever it is.
func (r *Reader) state() (state tables.Extra) {
	r.Object(strictjson.Keys{}, func(key string) { r.kept(&state, key) })
	return state
}

// sourceParts are what a log is known by, and why rows of it went.
func sourceParts(s *tables.Source) []tables.Part {
	return append(s.Parts(), tables.Part{Name: "dropped", At: &s.Dropped})
}

// check records what a constructor would refuse, at the place where it stands.
func (r *Reader) check(at int, err error) {
	if err != nil {
		r.Fault(at, "", err.Error())
	}
}

// axisParts are what an axis is made of.
func (r *Reader) axisParts(a *tables.AxisParts) []tables.Part {
	return append(fields(r, tables.AxisFields, a, 0), tables.Part{Name: "points", Must: true, At: Custom{
		Read:   func() { a.Points = r.points() },
		Append: func(b []byte) []byte { return strictjson.AppendNumbers(b, a.Points) },
	}})
}

// Axis reads an axis.
func (r *Reader) Axis() *tables.Axis {
	start, before := r.Mark(), r.Faults()
	var a tables.AxisParts
	if r.Parts(r.axisParts(&a), &a.Extra); r.Faults() != before {
		return nil
	}
	axis, err := a.Axis()
	r.check(start, err)
	return axis
}

// points reads the breakpoints of an axis.
func (r *Reader) points() (points []float64) {
	start := r.Mark()
	if r.Array(func(i int) {
		at := r.Mark()
		v, ok := r.Number()
		if points = append(points, v); ok {
			r.check(at, tables.ValidPoint(points, i))
		}
	}) && len(points) == 0 {
		r.Fault(start, "", "axis has no breakpoints")
	}
	return points
}

// Values are a table's values as they stood, before their axes are known. They are
// kept row after row in one list, as the table will have them, with what is needed
// to hold their shape to the axes later, and to say where it is another.
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
	v := Values{kind: '0', flat: make([]float64, 0, min(room, 1+r.Left()/2, 1+tables.MaxCells()))}
	at := r.Mark()
	if !r.List() {
		r.Cell(&v.flat)
		return v
	}
	v.kind = '['
	r.Array(func(i int) {
		switch isRow := r.List(); {
		case isRow && i == 0:
			v.kind = '#'
		case isRow && v.kind == '[':
			v.kind = 0
		}
		switch {
		case len(v.flat) > tables.MaxCells():
			r.Only(at, r.Path(), tables.TooManyCells())
		case v.kind == '#' || r.List():
			v.at = append(v.at, r.Mark())
			r.Array(func(int) { r.Cell(&v.flat) })
			v.ends = append(v.ends, len(v.flat))
		default:
			r.Cell(&v.flat)
		}
	})
	return v
}

// Cell reads one value, a number or a null, and appends it.
func (r *Reader) Cell(dst *[]float64) {
	at, v := r.Mark(), math.NaN()
	if !r.Null() {
		v, _ = r.Number()
	} else if !r.Empty {
		r.Fault(at, "", "found null, expected a number: only cell averages have empty cells")
	}
	*dst = append(*dst, v)
}

// Shape fits values to their axes, recording what does not fit; below is the
// path to the values from where the reader stands.
func (r *Reader) Shape(v Values, x, y *tables.Axis, at int, below string) []float64 {
	switch {
	case x == nil && v.kind != '0':
		r.Fault(at, below, "found a list, expected a number: the table has no axis")
	case x != nil && y == nil && v.kind != '[':
		r.Fault(at, below, fmt.Sprintf("found %s, expected a list of %s, one for each breakpoint of x", v.name(), tables.Plural(x.Len(), "number")))
	case x != nil && y == nil && len(v.flat) != x.Len():
		r.Fault(at, below, fmt.Sprintf("has %s, x has %s", tables.Plural(len(v.flat), "value"), tables.Plural(x.Len(), "breakpoint")))
	case y != nil && v.kind == '[' && len(v.flat) == 0:
		r.Fault(at, below, "has no rows, y has "+tables.Plural(y.Len(), "breakpoint"))
	case y != nil && v.kind != '#':
		r.Fault(at, below, fmt.Sprintf("found %s, expected %s of %s", v.name(), tables.Plural(y.Len(), "row"), tables.Plural(x.Len(), "number")))
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
		return fmt.Errorf("found %s, expected one or the other", v.name())
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
