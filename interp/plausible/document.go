package plausible

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"calsplice/interp"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// document judges what concerns more than one table.
func (k *checker) document() {
	k.engine(k.doc.Engine())
	for _, role := range tables.Roles {
		if list := k.doc.ByRole(role); len(list) > 1 && role != tables.Other {
			for _, t := range list[1:] {
				k.whole(t, "role-twice", "a role names the one table that is computed with",
					"table %s has the role %s already: what computes with it cannot tell which is meant", list[0].ID(), role)
			}
		}
	}
	k.group()
	k.fallback()
}

// The bounds of an engine's facts, far beyond any engine: common practice, no
// source. Outside them a unit or a factor of ten has slipped.
const (
	mostCylinders                     = 24
	stoichLow, stoichHigh             = 5, 20     // by mass, from methanol's 6.4 to methane's 17.2
	displacementLow, displacementHigh = 0.02, 30  // L, of all cylinders together
	densityLow, densityHigh           = 500, 1100 // kg/m³
	railLow                           = 50        // kPa
)

// engine judges the engine's facts, each by bounds that a slip of unit passes.
func (k *checker) engine(e *tables.Engine) {
	if e == nil {
		return
	}
	fact := func(rule, basis, text string) { k.add(Finding{Rule: rule, Text: text, Basis: basis}) }
	// measured holds a fact between two bounds, which are reported in its own unit.
	measured := func(name, rule string, m *tables.Measure, low, high float64, in string) {
		if m == nil {
			return
		}
		u, ok := unit.Parse(m.Unit)
		own, err := unit.Find(in, m.Unit)
		switch low, high := own.Apply(low), own.Apply(high); {
		case !ok:
			k.notes.Addf("engine %s: its unit %s is not known, so it was not checked", name, tables.Quote(m.Unit))
		case err != nil:
			fact("engine-unit", "the unit's dimension", "engine "+name+" is in "+tables.Quote(m.Unit)+", which measures "+string(u.Dimension()))
		case !(m.Value >= low && m.Value <= high):
			fact(rule, practice, fmt.Sprintf("engine %s is %s, expected one from %s to %s", name, amount(m.Value, m.Unit),
				tables.FormatValue(round(low)), amount(round(high), m.Unit)))
		}
	}
	if e.Cylinders > mostCylinders {
		fact("cylinders", practice, fmt.Sprintf("engine has %d cylinders, expected %d at most", e.Cylinders, mostCylinders))
	}
	if s := e.StoichAFR; s != 0 && !(s > stoichLow && s < stoichHigh) {
		fact("stoich", practice, fmt.Sprintf("engine stoich_afr is %s, expected one between %d and %d", tables.FormatValue(s), stoichLow, stoichHigh))
	}
	measured("displacement", "displacement", e.Displacement, displacementLow, displacementHigh, "L")
	measured("fuel_density", "fuel-density", e.FuelDensity, densityLow, densityHigh, "kg/m3")
	p := e.RailPressure
	if p == nil {
		return
	}
	u, ok := unit.Parse(p.Unit)
	switch {
	case !ok:
		k.notes.Addf("engine rail_pressure: its unit %s is not known, so it was not checked", tables.Quote(p.Unit))
	case !slices.Contains([]unit.Dimension{unit.Pressure, unit.GaugePressure, unit.AbsolutePressure}, u.Dimension()):
		fact("engine-unit", "the unit's dimension", "engine rail_pressure is in "+tables.Quote(p.Unit)+", which measures "+string(u.Dimension()))
	case !(p.Value > 0):
		fact("rail-pressure", "fuel flows from the rail", "engine rail_pressure is "+amount(p.Value, p.Unit)+", expected one above 0")
	default:
		if v, err := p.KPa(); err != nil {
			fact("rail-pressure", "what a gauge or absolute unit says", "engine "+err.Error())
		} else if v < railLow {
			fact("rail-pressure", practice, fmt.Sprintf("engine rail_pressure is %s, expected %d kPa at least", amount(p.Value, p.Unit), railLow))
		}
	}
}

// group judges whether the tables that describe an injector stand together.
func (k *checker) group() {
	has := func(r tables.Role) bool { return len(k.doc.ByRole(r)) > 0 }
	any := slices.ContainsFunc(tables.InjectorGroup, has)
	if !any {
		return
	}
	const basis = "fuel per pulse = flow × (pulse − offset): SAE J1832's slope and offset belong together"
	for _, need := range []tables.Role{tables.InjectorFlow, tables.InjectorOffset} {
		if !has(need) {
			k.add(Finding{Rule: "group-incomplete", Basis: basis,
				Text: "no table has the role " + string(need) + ", but others describe an injector"})
		}
	}
	for _, t := range k.doc.ByRole(tables.InjectorFlow) {
		e := k.doc.Engine()
		constant := e != nil && e.RailPressure != nil && e.RailPressure.RelativeTo == tables.Manifold
		if t.X() == nil && !constant && !has(tables.InjectorReferencePressure) {
			k.whole(t, "no-reference-pressure", "incompressible orifice, Q ∝ √Δp (Bernoulli)",
				"a single flow holds at one differential pressure only: no table has the role %s", tables.InjectorReferencePressure)
		}
	}
}

// fallback holds the spark table that is blended towards against the one that
// is blended away from.
func (k *checker) fallback() {
	const basis = "a controller that learns knock blends from spark.advance towards spark.fallback"
	advance, fallback := k.doc.ByRole(tables.SparkAdvance), k.doc.ByRole(tables.SparkFallback)
	if len(advance) != 1 || len(fallback) != 1 {
		return
	}
	a, f := advance[0], fallback[0]
	above, _, err := interp.Lay(a, f.X(), f.Y())
	own, inOwn := unit.Find(a.Unit(), f.Unit())
	if (a.X() == nil) != (f.X() == nil) || (a.Y() == nil) != (f.Y() == nil) {
		err = errors.New("one has an axis that the other has not")
	}
	if err = cmp.Or(inOwn, err); err != nil {
		k.notes.Addf("%s was not held against %s: %v", f.ID(), a.ID(), err)
		return
	}
	for i, v := range f.Values() {
		if above := own.Apply(above[i]); v > above+max(a.Tolerance(), f.Tolerance(), 1e-9) {
			k.cell(f, i, "fallback-above-advance", basis, "%s is above %s, what %s has there",
				amount(v, f.Unit()), amount(round(above), f.Unit()), a.ID())
		}
	}
}
