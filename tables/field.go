package tables

import (
	"cmp"
	"errors"
	"maps"
	"slices"
	"strings"
)

// Field is one named part of a table ([TableFields]), a document
// ([DocumentFields]) or an engine ([EngineFields]): how two of it compare, how
// one is taken over, and where it stands, so that whoever reads, writes,
// compares or merges fields asks here which there are, and lists none.
type Field[T any] struct {
	Name string
	// OfCells says that only cell averages have the field.
	OfCells bool

	// At is where v keeps the field: a pointer to what it holds, of the type that
	// the struct has it in, or [Kept].
	At func(v *T) any
	// Same reports whether the field is the same in two, to the bit.
	Same func(a, b *T) bool
	// Take takes the field over from another.
	Take func(to, from *T)
	// Given reports whether v has the field. A unit is always given.
	Given func(v *T) bool
	// Text is what the field holds in an error line: short, and clean of what could
	// steer a terminal; "nothing" where it is not given.
	Text func(v *T) string
	// Parse sets the field to what a person typed: "2.5 L", "380 kPa atmosphere",
	// "0,12". No text at all removes what the field held. It is nil where the field
	// is not typed in one piece.
	Parse func(v *T, text string) error

	wrong func(v *T, is string) (part int, what string)
}

// Part is one number or one text of those that a field holds, or a member of what
// else a file holds: one of its pointers leads to where it is kept.
type Part struct {
	Name   string // in an object; "" where a field is one part, or a list of them
	Number *float64
	Whole  *int
	Text   *string
	At     any      // what is neither a number nor a text, and stands in JSON alone
	Words  []string // the text is one of these: blanks around it mean nothing
	Empty  bool     // the number may be missing, which is NaN
	Must   bool     // an object without it is not sound
	Omit   bool     // it is left out where it is empty
}

// Parts are what a field holds, in the order of every file format, so that a
// reader or a writer of one needs no case for each type. A field that v does not
// have yet is made, with nothing in it. Kept keys, axes, values, an engine,
// sources and state have none: they are not made of a few parts.
func (f Field[T]) Parts(v *T) []Part {
	switch p := f.At(v).(type) {
	case *string:
		return []Part{{Text: p}}
	case *Role:
		return []Part{{Text: (*string)(p), Words: RoleNames()}}
	case *Kind:
		return []Part{{Text: (*string)(p), Words: []string{string(Calibrated), string(Cells)}}}
	case *int:
		return []Part{{Whole: p}}
	case *float64:
		return []Part{{Number: p}}
	case **Limits:
		l := made(p)
		return []Part{{Number: &l.Low}, {Number: &l.High}}
	case **Measure:
		m := made(p)
		return []Part{{Name: "value", Number: &m.Value, Must: true}, {Name: "unit", Text: &m.Unit, Must: true}}
	case **RailPressure:
		r := made(p)
		return []Part{{Name: "value", Number: &r.Value, Must: true}, {Name: "unit", Text: &r.Unit, Must: true},
			{Name: "relative_to", Must: true, Text: (*string)(&r.RelativeTo), Words: []string{string(Atmosphere), string(Manifold), string(Absolute)}}}
	}
	return nil
}

func made[V any](p **V) *V {
	if *p == nil {
		*p = new(V)
	}
	return *p
}

// Typed reports whether a person can type the field in one piece of text: all
// can be but axes, values, and what machines keep.
func (f Field[T]) Typed() bool { return f.Parse != nil }

// Wrong says what a field holds and should hold, and in which of its parts; ""
// where it holds what it should. A number or a count that is not given is wrong
// here: whoever may leave it out asks [Field.Given] first. The sentence begins
// with the field's name, "strokes is 3, expected 2 or 4", or where the place of the
// error names it, with "found".
func (f Field[T]) Wrong(v *T, named bool) (part int, what string) {
	switch {
	case f.wrong == nil: // a field that another package made for itself
		return 0, ""
	case named:
		return f.wrong(v, f.Name+" is")
	}
	return f.wrong(v, "found")
}

// FieldsWithin are the fields of something that an S has, as fields of the S.
func FieldsWithin[S, T any](s Fieldset[T], of func(*S) *T) Fieldset[S] {
	w := Fieldset[S]{extra: func(v *S) *Extra { return s.extra(of(v)) }}
	for _, f := range s.list {
		w.list = append(w.list, within(f, of))
	}
	if s.within != nil {
		w.within = func(name string) (Field[S], bool) {
			f, ok := s.within(name)
			return within(f, of), ok
		}
	}
	return w
}

// within is one field of [FieldsWithin].
func within[S, T any](f Field[T], of func(*S) *T) Field[S] {
	return Field[S]{Name: f.Name, OfCells: f.OfCells,
		At:    func(v *S) any { return f.At(of(v)) },
		Same:  func(a, b *S) bool { return f.Same(of(a), of(b)) },
		Take:  func(to, from *S) { f.Take(of(to), of(from)) },
		Given: func(v *S) bool { return f.Given(of(v)) },
		Text:  func(v *S) string { return f.Text(of(v)) },
		wrong: func(v *S, is string) (int, string) { return f.wrong(of(v), is) },
	}
}

// kind is what all fields that hold a V have in common.
type kind[V any] struct {
	same  func(a, b V) bool
	given func(V) bool
	text  func(V) string // of one that is given
	none  string         // the text of one that is not; "nothing" where ""
	cells bool           // for [Field.OfCells]
	// wrong is for [Field.Wrong] of one that is given; nil where any V is good. Is
	// begins the sentence.
	wrong func(v V, is string) (part int, what string)
	parse func(string) (V, error)
}

func field[T, V any](name string, at func(*T) *V, k kind[V]) Field[T] {
	f := Field[T]{
		Name: name, OfCells: k.cells,
		At:    func(v *T) any { return at(v) },
		Same:  func(a, b *T) bool { return k.same(*at(a), *at(b)) },
		Take:  func(to, from *T) { *at(to) = *at(from) },
		Given: func(v *T) bool { return k.given(*at(v)) },
		Text: func(v *T) string {
			if k.given(*at(v)) {
				return k.text(*at(v))
			}
			return cmp.Or(k.none, "nothing")
		},
		wrong: func(v *T, is string) (int, string) {
			if k.wrong == nil {
				return 0, ""
			}
			return k.wrong(*at(v), is)
		},
	}
	if k.parse == nil {
		return f
	}
	f.Parse = func(v *T, text string) (err error) {
		if text = strings.TrimSpace(text); text == "" {
			*at(v) = *new(V)
			return nil
		}
		if *at(v), err = k.parse(text); err != nil {
			return err
		}
		if _, wrong := f.Wrong(v, false); wrong != "" {
			return errors.New(wrong)
		}
		return nil
	}
	return f
}

// Fieldset is the fields of a T, in the order of the format. Kept "x-…" keys
// are fields too, by their key.
type Fieldset[T any] struct {
	list   []Field[T]
	extra  func(*T) *Extra
	within func(name string) (Field[T], bool) // finds a part of a field; may be nil
}

// Of lists the fields of the format, and then every kept key that any of some
// has.
func (s Fieldset[T]) Of(some ...*T) []Field[T] {
	var keys []string
	for _, v := range some {
		keys = slices.AppendSeq(keys, maps.Keys(*s.extra(v)))
	}
	slices.Sort(keys)
	list := s.list[:len(s.list):len(s.list)]
	for _, key := range slices.Compact(keys) {
		list = append(list, s.kept(key))
	}
	return list
}

// Names lists the fields of the format by name.
func (s Fieldset[T]) Names() []string {
	return Each(s.list, func(f Field[T]) string { return f.Name })
}

// Typed lists the fields of the format that a person can type, by name; facts
// about the engine as "engine.NAME".
func (s Fieldset[T]) Typed() (names []string) {
	for _, f := range s.list {
		if f.Typed() {
			names = append(names, f.Name)
		}
		if f.Name == engineName {
			for _, g := range EngineFields.Typed() {
				names = append(names, engineName+"."+g)
			}
		}
	}
	return names
}

// Find is the field with a name. A fact about the engine is a field of the
// document as well, as "engine.NAME".
func (s Fieldset[T]) Find(name string) (f Field[T], ok bool) {
	if i := slices.IndexFunc(s.list, func(f Field[T]) bool { return f.Name == name }); i >= 0 {
		return s.list[i], true
	}
	if strings.HasPrefix(name, "x-") {
		return s.kept(name), true
	}
	if s.within != nil {
		return s.within(name)
	}
	return f, false
}

// Different names the fields in which two differ.
func (s Fieldset[T]) Different(a, b *T) (names []string) {
	for _, f := range s.Of(a, b) {
		if !f.Same(a, b) {
			names = append(names, f.Name)
		}
	}
	return names
}

// Take takes named fields over. A name that no field has changes nothing.
func (s Fieldset[T]) Take(names []string, to, from *T) {
	for _, name := range names {
		if f, ok := s.Find(name); ok {
			f.Take(to, from)
		}
	}
}

// Extra is where v keeps its "x-…" keys.
func (s Fieldset[T]) Extra(v *T) *Extra { return s.extra(v) }

// Sort sorts names as the format lists their fields, kept keys last.
func (s Fieldset[T]) Sort(names []string) {
	rank := func(name string) int {
		if i := slices.Index(s.Names(), name); i >= 0 {
			return i
		}
		return len(s.list)
	}
	slices.SortFunc(names, func(a, b string) int {
		if d := rank(a) - rank(b); d != 0 {
			return d
		}
		return strings.Compare(a, b)
	})
}

// Kept is where one "x-…" key stands among those that are kept.
type Kept struct {
	In  *Extra
	Key string
}

// Value is the key's JSON, and whether it is there.
func (k Kept) Value() (value string, ok bool) {
	value, ok = (*k.In)[k.Key]
	return value, ok
}

// JSON is [Kept.Value], "" where the key is not there.
func (k Kept) JSON() string { return (*k.In)[k.Key] }

// Set sets the key's JSON, or takes the key away where !ok. Whoever else holds
// the keys does not see it.
func (k Kept) Set(value string, ok bool) {
	e := maps.Clone(*k.In)
	if delete(e, k.Key); ok {
		e.Keep(k.Key, value)
	}
	if *k.In = e; len(e) == 0 {
		*k.In = nil
	}
}

func (s Fieldset[T]) kept(key string) Field[T] {
	f := field(key, func(v *T) *Kept { return &Kept{s.extra(v), key} }, keptKeys)
	f.Take = func(to, from *T) { (Kept{s.extra(to), key}).Set(Kept{s.extra(from), key}.Value()) }
	return f
}
