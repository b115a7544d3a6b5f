package merge

import (
	"slices"
	"strings"

	"calsplice/tables"
)

// field is one named part of a table or a document: how two are compared, how
// one is taken over from another, and how it looks in an error line.
type field[T any] struct {
	name string
	same func(a, b *T) bool
	take func(to, from *T)
	text func(f *T) string
}

// tableFields are the fields of a table but for its id and its "x-…" keys, in
// the order of the format.
var tableFields = []field[tables.Fields]{
	{"title", func(a, b *tables.Fields) bool { return a.Title == b.Title },
		func(to, from *tables.Fields) { to.Title = from.Title },
		func(f *tables.Fields) string { return quoted(f.Title) }},
	{"role", func(a, b *tables.Fields) bool { return a.Role == b.Role },
		func(to, from *tables.Fields) { to.Role = from.Role },
		func(f *tables.Fields) string { return quoted(string(f.Role)) }},
	{"unit", func(a, b *tables.Fields) bool { return a.Unit == b.Unit },
		func(to, from *tables.Fields) { to.Unit = from.Unit },
		func(f *tables.Fields) string { return tables.Quote(f.Unit) }},
	{"resolution", func(a, b *tables.Fields) bool { return tables.SameBit(a.Resolution, b.Resolution) },
		func(to, from *tables.Fields) { to.Resolution = from.Resolution },
		func(f *tables.Fields) string { return number(f.Resolution) }},
	{"limits", func(a, b *tables.Fields) bool { return a.Limits.Equal(b.Limits) },
		func(to, from *tables.Fields) { to.Limits = from.Limits },
		func(f *tables.Fields) string { return limitsText(f.Limits) }},
	{"notes", func(a, b *tables.Fields) bool { return a.Notes == b.Notes },
		func(to, from *tables.Fields) { to.Notes = from.Notes },
		func(f *tables.Fields) string { return quoted(f.Notes) }},
	{"x", func(a, b *tables.Fields) bool { return a.X.Equal(b.X) },
		func(to, from *tables.Fields) { to.X = from.X },
		func(f *tables.Fields) string { return axisText(f.X) }},
	{"y", func(a, b *tables.Fields) bool { return a.Y.Equal(b.Y) },
		func(to, from *tables.Fields) { to.Y = from.Y },
		func(f *tables.Fields) string { return axisText(f.Y) }},
	{"values", sameValues,
		func(to, from *tables.Fields) { to.Values = from.Values },
		func(f *tables.Fields) string { return shape(f) + " values" }},
}

// documentFields are the fields of a document but for its tables and its "x-…"
// keys.
var documentFields = []field[tables.Contents]{
	{"format", func(a, b *tables.Contents) bool { return a.Kind == b.Kind },
		func(to, from *tables.Contents) { to.Kind = from.Kind },
		func(f *tables.Contents) string { return tables.Quote(string(f.Kind)) }},
	{"name", func(a, b *tables.Contents) bool { return a.Name == b.Name },
		func(to, from *tables.Contents) { to.Name = from.Name },
		func(f *tables.Contents) string { return quoted(f.Name) }},
	{"notes", func(a, b *tables.Contents) bool { return a.Notes == b.Notes },
		func(to, from *tables.Contents) { to.Notes = from.Notes },
		func(f *tables.Contents) string { return quoted(f.Notes) }},
	{"engine", func(a, b *tables.Contents) bool { return a.Engine.Equal(b.Engine) },
		func(to, from *tables.Contents) { to.Engine = from.Engine },
		func(f *tables.Contents) string { return engineText(f.Engine) }},
	{"source", func(a, b *tables.Contents) bool { return slices.EqualFunc(a.Source, b.Source, tables.Source.Equal) },
		func(to, from *tables.Contents) { to.Source = from.Source },
		func(f *tables.Contents) string { return sourceText(f.Source) }},
	{"state", func(a, b *tables.Contents) bool { return slices.Equal(a.State, b.State) },
		func(to, from *tables.Contents) { to.State = from.State },
		func(f *tables.Contents) string { return tables.Plural(len(f.State), "key") }},
}

// sameValues reports whether two tables have the same cells in the same shape.
func sameValues(a, b *tables.Fields) bool {
	return columns(a) == columns(b) && tables.SameBits(a.Values, b.Values)
}

func columns(f *tables.Fields) int {
	if f.X == nil {
		return 1
	}
	return f.X.Len()
}

func rows(f *tables.Fields) int {
	if f.Y == nil {
		return 1
	}
	return f.Y.Len()
}

// tableField is the field with a name; a kept "x-…" key is one too.
func tableField(name string) (field[tables.Fields], bool) {
	return find(tableFields, name, func(f *tables.Fields) *tables.Extra { return &f.Extra })
}

// documentField is the field with a name; a kept "x-…" key is one too.
func documentField(name string) (field[tables.Contents], bool) {
	return find(documentFields, name, func(c *tables.Contents) *tables.Extra { return &c.Extra })
}

func find[T any](fields []field[T], name string, extra func(*T) *tables.Extra) (field[T], bool) {
	if i := slices.IndexFunc(fields, func(f field[T]) bool { return f.name == name }); i >= 0 {
		return fields[i], true
	}
	if !strings.HasPrefix(name, "x-") {
		return field[T]{}, false
	}
	return field[T]{name,
		func(a, b *T) bool {
			va, oka := extraValue(*extra(a), name)
			vb, okb := extraValue(*extra(b), name)
			return oka == okb && va == vb
		},
		func(to, from *T) {
			v, ok := extraValue(*extra(from), name)
			*extra(to) = withExtra(*extra(to), name, v, ok)
		},
		func(f *T) string {
			if v, ok := extraValue(*extra(f), name); ok {
				return tables.Clean(v)
			}
			return "nothing"
		}}, true
}

func extraValue(e tables.Extra, key string) (string, bool) {
	for _, k := range e {
		if k.Key == key {
			return k.Value, true
		}
	}
	return "", false
}

// withExtra is e with a key set, or taken away where !ok.
func withExtra(e tables.Extra, key, value string, ok bool) tables.Extra {
	e = slices.DeleteFunc(slices.Clone(e), func(k tables.ExtraKey) bool { return k.Key == key })
	if ok {
		at, _ := slices.BinarySearchFunc(e, key, func(k tables.ExtraKey, key string) int { return strings.Compare(k.Key, key) })
		e = slices.Insert(e, at, tables.ExtraKey{Key: key, Value: value})
	}
	if len(e) == 0 {
		return nil
	}
	return e
}

// extraKeys lists the keys of any of several documents' or tables' kept keys,
// sorted.
func extraKeys(es ...tables.Extra) []string {
	var keys []string
	for _, e := range es {
		for _, k := range e {
			keys = append(keys, k.Key)
		}
	}
	slices.Sort(keys)
	return slices.Compact(keys)
}

// engineFields are the facts about an engine but for its "x-…" keys.
var engineFields = []field[tables.Engine]{
	{"cylinders", func(a, b *tables.Engine) bool { return a.Cylinders == b.Cylinders },
		func(to, from *tables.Engine) { to.Cylinders = from.Cylinders }, engineText},
	{"strokes", func(a, b *tables.Engine) bool { return a.Strokes == b.Strokes },
		func(to, from *tables.Engine) { to.Strokes = from.Strokes }, engineText},
	{"injectors", func(a, b *tables.Engine) bool { return a.Injectors == b.Injectors },
		func(to, from *tables.Engine) { to.Injectors = from.Injectors }, engineText},
	{"pulses_per_cycle", func(a, b *tables.Engine) bool { return a.PulsesPerCycle == b.PulsesPerCycle },
		func(to, from *tables.Engine) { to.PulsesPerCycle = from.PulsesPerCycle }, engineText},
	{"displacement", func(a, b *tables.Engine) bool { return a.Displacement.Equal(b.Displacement) },
		func(to, from *tables.Engine) { to.Displacement = from.Displacement }, engineText},
	{"rail_pressure", func(a, b *tables.Engine) bool { return a.RailPressure.Equal(b.RailPressure) },
		func(to, from *tables.Engine) { to.RailPressure = from.RailPressure }, engineText},
	{"stoich_afr", func(a, b *tables.Engine) bool { return tables.SameBit(a.StoichAFR, b.StoichAFR) },
		func(to, from *tables.Engine) { to.StoichAFR = from.StoichAFR }, engineText},
	{"fuel_density", func(a, b *tables.Engine) bool { return a.FuelDensity.Equal(b.FuelDensity) },
		func(to, from *tables.Engine) { to.FuelDensity = from.FuelDensity }, engineText},
}
