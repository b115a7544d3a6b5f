package tables

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// TableFields are the fields of a table but for its id.
var TableFields = Fieldset[Fields]{
	list: []Field[Fields]{
		field("title", func(f *Fields) *string { return &f.Title }, words[string]()),
		field("role", func(f *Fields) *Role { return &f.Role }, roles),
		field("unit", func(f *Fields) *string { return &f.Unit }, units),
		field("resolution", func(f *Fields) *float64 { return &f.Resolution }, numbers),
		field("limits", func(f *Fields) **Limits { return &f.Limits }, limits),
		field("notes", func(f *Fields) *string { return &f.Notes }, words[string]()),
		field("x", func(f *Fields) **Axis { return &f.X }, axes),
		field("y", func(f *Fields) **Axis { return &f.Y }, axes),
		field("values", func(f *Fields) *[]float64 { return &f.Values },
			kind[[]float64]{same: SameBits, given: full[float64], text: func(v []float64) string { return Plural(len(v), "value") }}),
	},
	extra: func(f *Fields) *Extra { return &f.Extra },
}

// What belongs together: the fields that are given in the unit of the values,
// and those that say where the values stand.
var (
	InUnit = []string{"unit", "resolution", "limits"}
	OnAxes = []string{"x", "y", "values"}
)

// AxisFields are the fields of an axis but for its breakpoints.
var AxisFields = Fieldset[AxisParts]{
	list: []Field[AxisParts]{
		field("quantity", func(a *AxisParts) *string { return &a.Quantity }, words[string]()),
		field("unit", func(a *AxisParts) *string { return &a.Unit }, units),
	},
	extra: func(a *AxisParts) *Extra { return &a.Extra },
}

// DocumentFields are the fields of a document but for its tables.
var DocumentFields = Fieldset[Contents]{
	list: []Field[Contents]{
		field("format", func(c *Contents) *Kind { return &c.Kind }, kinds),
		field("name", func(c *Contents) *string { return &c.Name }, words[string]()),
		field("notes", func(c *Contents) *string { return &c.Notes }, words[string]()),
		engineField,
		field("source", func(c *Contents) *[]Source { return &c.Source },
			kind[[]Source]{same: func(a, b []Source) bool { return slices.EqualFunc(a, b, Source.Equal) }, given: full[Source],
				text: func(s []Source) string { return Plural(len(s), "log") }, wrong: refusedBy(validSources), cells: true}),
		field("state", func(c *Contents) *Extra { return &c.State },
			kind[Extra]{same: Extra.Equal, given: func(s Extra) bool { return len(s) > 0 }, text: func(s Extra) string { return Plural(len(s), "key") },
				wrong: refusedBy(validState), cells: true}),
	},
	extra:  func(c *Contents) *Extra { return &c.Extra },
	within: fact,
}

// EngineFields are the facts about an engine.
var EngineFields = Fieldset[Engine]{
	list: []Field[Engine]{
		field("cylinders", func(e *Engine) *int { return &e.Cylinders }, counts),
		field("strokes", func(e *Engine) *int { return &e.Strokes }, strokes),
		field("injectors", func(e *Engine) *int { return &e.Injectors }, counts),
		field("pulses_per_cycle", func(e *Engine) *int { return &e.PulsesPerCycle }, counts),
		field("displacement", func(e *Engine) **Measure { return &e.Displacement }, measures),
		field("rail_pressure", func(e *Engine) **RailPressure { return &e.RailPressure }, rails),
		field("stoich_afr", func(e *Engine) *float64 { return &e.StoichAFR }, numbers),
		field("fuel_density", func(e *Engine) **Measure { return &e.FuelDensity }, measures),
	},
	extra: func(e *Engine) *Extra { return &e.Extra },
}

const engineName = "engine"

var engineField = field(engineName, func(c *Contents) **Engine { return &c.Engine },
	kind[*Engine]{same: (*Engine).Equal, given: func(e *Engine) bool { return !e.Equal(nil) }, text: (*Engine).Text,
		wrong: refusedBy(func(e *Engine) error {
			if err := EngineFields.validate(e); err != nil {
				return fmt.Errorf("engine %w", err)
			}
			return nil
		})})

// fact is one fact about the engine as a field of the document, "engine.NAME":
// it stands in a document of which nothing but the fact is taken.
func fact(name string) (f Field[Contents], ok bool) {
	inner, ok := strings.CutPrefix(name, engineName+".")
	if !ok {
		return f, false
	}
	g, ok := EngineFields.Find(inner)
	of := func(c *Contents) *Engine {
		if c.Engine == nil {
			return &Engine{}
		}
		return c.Engine
	}
	f = engineField
	f.Name = name
	if g.Typed() {
		f.Parse = func(c *Contents, text string) error {
			e := *of(c)
			c.Engine = &e
			return g.Parse(&e, text)
		}
	}
	f.Same = func(a, b *Contents) bool { return g.Same(of(a), of(b)) }
	f.Take = func(to, from *Contents) {
		e := *of(to)
		g.Take(&e, of(from))
		to.Engine = &e
	}
	return f, ok
}

// validate refuses what no field may hold. Axes are valid by construction, and values are held to them where a table is built.
func (s Fieldset[T]) validate(v *T) error {
	for _, f := range s.list {
		if !f.Given(v) {
			continue
		}
		if _, wrong := f.Wrong(v, true); wrong != "" {
			return errors.New(wrong)
		}
	}
	return s.extra(v).Validate()
}

// words are a person's, which must be clean text.
func words[S ~string]() kind[S] {
	return kind[S]{same: func(a, b S) bool { return a == b }, given: func(s S) bool { return s != "" },
		text:  func(s S) string { return Quote(string(s)) },
		wrong: func(s S, is string) (int, string) { return 0, wrongText(string(s), is) },
		parse: func(s string) (S, error) { return S(s), nil }}
}

func full[V any](list []V) bool { return len(list) > 0 }

// parts is the kind of what a pointer leads to, nil where it is not given. Two are the
// same where they read the same: text has all of both, to the bit.
func parts[V any](text func(*V) string, parse func(string) (*V, error), wrong func(v *V, is string) (int, string)) kind[*V] {
	same := func(a, b *V) bool { return a == b || a != nil && b != nil && text(a) == text(b) }
	return kind[*V]{same: same, given: func(v *V) bool { return v != nil }, text: text, parse: parse, wrong: wrong}
}

// refusedBy makes what is wrong of a check that names what it refuses itself.
func refusedBy[V any](check func(V) error) func(V, string) (int, string) {
	return func(v V, _ string) (int, string) { return 0, message(check(v)) }
}

func message(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

// but is a kind with another check, such as words of which only a few are good.
func (k kind[V]) but(wrong func(v V, is string) (int, string)) kind[V] {
	k.wrong = wrong
	return k
}

var (
	roles = words[Role]().but(refusedBy(Role.Validate))
	kinds = kind[Kind]{same: words[Kind]().same, given: words[Kind]().given, text: words[Kind]().text, wrong: refusedBy(Kind.validate)}
	units = kind[string]{same: words[string]().same, given: func(string) bool { return true }, text: Quote,
		wrong: words[string]().wrong, parse: words[string]().parse}
	axes = kind[*Axis]{same: (*Axis).Equal, given: func(a *Axis) bool { return a != nil }, text: (*Axis).Text, none: "no axis"}

	keptKeys = kind[Kept]{
		same: func(a, b Kept) bool {
			va, oka := a.Value()
			vb, okb := b.Value()
			return oka == okb && va == vb
		},
		given: func(k Kept) bool { _, ok := k.Value(); return ok },
		text:  func(k Kept) string { return Clean(k.JSON()) },
		wrong: refusedBy(func(k Kept) error { return Extra{k.Key: k.JSON()}.Validate() })}

	limits   = parts((*Limits).Text, parseLimits, refusedBy((*Limits).validate))
	rails    = parts((*RailPressure).Text, parseRail, (*RailPressure).wrong)
	measures = parts((*Measure).Text, parseMeasure, func(m *Measure, is string) (int, string) {
		if part, what := numbers.wrong(m.Value, is); what != "" {
			return part, what
		}
		return 1, wrongText(m.Unit, "unit is")
	})
	numbers = kind[float64]{same: SameBit, given: func(v float64) bool { return v != 0 }, text: FormatValue, parse: ParseValue,
		wrong: func(v float64, is string) (int, string) {
			return 0, unless(v > 0 && !math.IsInf(v, 0), is, v, "a number above 0")
		}}
	counts = kind[int]{same: func(a, b int) bool { return a == b }, given: func(n int) bool { return n != 0 }, text: strconv.Itoa, parse: parseCount,
		wrong: func(n int, is string) (int, string) {
			return 0, unless(n > 0 && n <= math.MaxInt32, is, float64(n), "a whole number above 0")
		}}
	strokes = counts.but(func(n int, is string) (int, string) { return 0, unless(n == 2 || n == 4, is, float64(n), "2 or 4") })
)

// unless says what was found and what was wanted, unless that is so.
func unless(ok bool, is string, found float64, want string) string {
	if ok {
		return ""
	}
	return is + " " + FormatValue(found) + ", expected " + want
}
