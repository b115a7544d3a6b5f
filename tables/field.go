package tables

import (
	"cmp"
	"errors"
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

	at    func(*T) any
	same  func(a, b *T) bool
	take  func(to, from *T)
	given func(*T) bool
	text  func(*T) string
	wrong func(*T) string
	parse func(v *T, text string) error // nil where it is not typed in one piece
}

// At is where v keeps the field: a pointer to what it holds, of the type that
// the struct has it in, or [Kept]. A reader or a writer needs one case a type.
func (f Field[T]) At(v *T) any { return f.at(v) }

// Same reports whether the field is the same in two, to the bit.
func (f Field[T]) Same(a, b *T) bool { return f.same(a, b) }

// Take takes the field over from another.
func (f Field[T]) Take(to, from *T) { f.take(to, from) }

// Given reports whether v has the field. A unit is always given.
func (f Field[T]) Given(v *T) bool { return f.given(v) }

// Text is what the field holds in an error line: short, and clean of what could
// steer a terminal; "nothing" where it is not given.
func (f Field[T]) Text(v *T) string { return f.text(v) }

// Typed reports whether a person can type the field in one piece of text: all
// can be but axes, values, and what machines keep.
func (f Field[T]) Typed() bool { return f.parse != nil }

// Parse sets the field to what a person typed: "2.5 L", "380 kPa atmosphere",
// "0,12". No text at all removes what the field held.
func (f Field[T]) Parse(v *T, text string) error { return f.parse(v, text) }

// Wrong is what a field of numbers holds and should hold, "3, want 2 or 4"; ""
// where it holds what it should.
func (f Field[T]) Wrong(v *T) string { return f.wrong(v) }

// kind is what all fields that hold a V have in common.
type kind[V any] struct {
	same  func(a, b V) bool
	given func(V) bool
	text  func(V) string // of one that is given
	none  string         // the text of one that is not; "nothing" where ""
	wrong func(V) string // nil where any V is good
	parse func(string) (V, error)
}

func field[T, V any](name string, at func(*T) *V, k kind[V]) Field[T] {
	f := Field[T]{
		Name:  name,
		at:    func(v *T) any { return at(v) },
		same:  func(a, b *T) bool { return k.same(*at(a), *at(b)) },
		take:  func(to, from *T) { *at(to) = *at(from) },
		given: func(v *T) bool { return k.given(*at(v)) },
		text: func(v *T) string {
			if k.given(*at(v)) {
				return k.text(*at(v))
			}
			return cmp.Or(k.none, "nothing")
		},
		wrong: func(v *T) string {
			if k.wrong == nil {
				return ""
			}
			return k.wrong(*at(v))
		},
	}
	if k.parse == nil {
		return f
	}
	f.parse = func(v *T, text string) (err error) {
		if text = strings.TrimSpace(text); text == "" {
			*at(v) = *new(V)
			return nil
		}
		if *at(v), err = k.parse(text); err != nil {
			return err
		}
		if wrong := f.Wrong(v); wrong != "" {
			return errors.New(wrong)
		}
		return nil
	}
	return f
}

func ofCells[T any](f Field[T]) Field[T] {
	f.OfCells = true
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
		for _, k := range *s.extra(v) {
			keys = append(keys, k.Key)
		}
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
	names := make([]string, len(s.list))
	for i, f := range s.list {
		names[i] = f.Name
	}
	return names
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
		if !f.same(a, b) {
			names = append(names, f.Name)
		}
	}
	return names
}

// Take takes named fields over. A name that no field has changes nothing.
func (s Fieldset[T]) Take(names []string, to, from *T) {
	for _, name := range names {
		if f, ok := s.Find(name); ok {
			f.take(to, from)
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
	for _, e := range *k.In {
		if e.Key == k.Key {
			return e.Value, true
		}
	}
	return "", false
}

// Set sets the key's JSON, or takes the key away where !ok. Whoever else holds
// the keys does not see it.
func (k Kept) Set(value string, ok bool) {
	e := slices.DeleteFunc(slices.Clone(*k.In), func(e ExtraKey) bool { return e.Key == k.Key })
	if ok {
		at, _ := slices.BinarySearchFunc(e, k.Key, func(e ExtraKey, key string) int { return strings.Compare(e.Key, key) })
		e = slices.Insert(e, at, ExtraKey{k.Key, value})
	}
	if *k.In = e; len(e) == 0 {
		*k.In = nil
	}
}

func (s Fieldset[T]) kept(key string) Field[T] {
	at := func(v *T) Kept { return Kept{s.extra(v), key} }
	given := func(v *T) bool { _, ok := at(v).Value(); return ok }
	return Field[T]{
		Name: key,
		at:   func(v *T) any { return at(v) },
		same: func(a, b *T) bool {
			va, oka := at(a).Value()
			vb, okb := at(b).Value()
			return oka == okb && va == vb
		},
		take:  func(to, from *T) { at(to).Set(at(from).Value()) },
		given: given,
		text: func(v *T) string {
			if value, ok := at(v).Value(); ok {
				return Clean(value)
			}
			return "nothing"
		},
		wrong: func(*T) string { return "" },
	}
}
