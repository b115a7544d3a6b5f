package tables

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"calsplice/tables/unit"
)

// MaxRailPressure is the highest rail pressure, in kPa, that a document may
// state: the tool is for low-pressure port injection only.
const MaxRailPressure = 1000

// Engine holds the facts about an engine that computation needs. Every one is
// optional; a count or ratio that is not given is 0.
type Engine struct {
	Cylinders      int
	Strokes        int // 2 or 4
	Injectors      int
	PulsesPerCycle int // injections of each injector in one engine cycle
	Displacement   *Measure
	RailPressure   *RailPressure
	StoichAFR      float64 // stoichiometric air/fuel ratio by mass
	FuelDensity    *Measure
	Extra          Extra
}

// Measure is a number with its unit.
type Measure struct {
	Value float64
	Unit  string
}

// Reference is what a rail pressure is measured against.
type Reference string

// The references of a rail pressure, each with the differential pressure Δp
// that follows from it.
const (
	Atmosphere Reference = "atmosphere" // gauge, constant at the rail: Δp = gauge + barometer − manifold
	Manifold   Reference = "manifold"   // the regulator follows the manifold: Δp = the value
	Absolute   Reference = "absolute"   // Δp = the value − manifold
)

// RailPressure is the fuel pressure at the rail and what it is relative to.
type RailPressure struct {
	Value      float64
	Unit       string
	RelativeTo Reference
}

// wrong refuses a rail pressure that is not finite, relative to nothing known,
// or higher than any port injection has. A unit that is not known is text, and
// nothing is computed with it.
func (p *RailPressure) wrong(is string) (part int, what string) {
	if math.IsNaN(p.Value) || math.IsInf(p.Value, 0) {
		return 0, fmt.Sprintf("%s %v, expected a finite number", is, p.Value)
	}
	if r := p.RelativeTo; r != Atmosphere && r != Manifold && r != Absolute {
		return 2, fmt.Sprintf("%s relative to %s, expected %q, %q or %q", is, Quote(string(r)), Atmosphere, Manifold, Absolute)
	}
	if v, _, err := p.convert(); err == nil && v > MaxRailPressure {
		return 0, fmt.Sprintf("%s %s kPa, above %d kPa: low-pressure port injection only", is, FormatValue(v), MaxRailPressure)
	}
	return 1, wrongText(p.Unit, "unit is")
}

// KPa is the rail pressure in kPa over what it is relative to. It is an error
// where its unit is no pressure, or says that it is relative to something else.
func (p *RailPressure) KPa() (float64, error) {
	v, kind, err := p.convert()
	switch {
	case err != nil:
		return 0, fmt.Errorf("rail_pressure: %w", err)
	case kind == unit.AbsolutePressure && p.RelativeTo != Absolute || kind == unit.GaugePressure && p.RelativeTo == Absolute:
		return 0, fmt.Errorf("rail_pressure: %s is not relative to %s", p.Unit, p.RelativeTo)
	case !(v > 0):
		return 0, fmt.Errorf("rail_pressure is %s, expected more than 0", p.Text())
	}
	return v, nil
}

func (p *RailPressure) convert() (kPa float64, kind unit.Dimension, err error) {
	u, ok := unit.Parse(p.Unit)
	if !ok {
		return 0, "", fmt.Errorf("unit %s is not known, so nothing can be computed with it", Quote(p.Unit))
	}
	for _, own := range []string{"kPa", "kPa(g)", "kPa(a)"} {
		if v, err := unit.Convert(p.Value, p.Unit, own); err == nil {
			return v, u.Dimension(), nil
		}
	}
	return 0, "", fmt.Errorf("%s is no unit of pressure", u.Name())
}

// Equal reports whether the facts about two engines are the same to the bit. No
// engine is one of which no fact is given.
func (e *Engine) Equal(o *Engine) bool {
	if e == nil {
		e = &Engine{}
	}
	if o == nil {
		o = &Engine{}
	}
	return EngineFields.Different(e, o) == nil
}

// Fact is one fact about an engine as a person reads it.
type Fact struct{ Name, Text string }

// Facts lists the facts that are given, in the order of the format.
func (e *Engine) Facts() (facts []Fact) {
	if e == nil {
		return nil
	}
	for _, f := range EngineFields.Of(e) {
		if f.Given(e) {
			facts = append(facts, Fact{f.Name, f.Text(e)})
		}
	}
	return facts
}

// Text is the facts in one line.
func (e *Engine) Text() string {
	words := Each(e.Facts(), func(f Fact) string { return f.Name + " " + f.Text })
	return cmp.Or(strings.Join(words, ", "), "nothing")
}

// Text is the measure as a person reads it.
func (m *Measure) Text() string { return FormatValue(m.Value) + " " + m.Unit }

// Text is the rail pressure as a person reads it.
func (p *RailPressure) Text() string {
	return fmt.Sprintf("%s %s relative to %s", FormatValue(p.Value), p.Unit, p.RelativeTo)
}
