package plausible

import (
	"slices"

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

func (k *checker) engine(e *tables.Engine) {
	if e == nil {
		return
	}
	fact := func(rule, basis, text string) { k.add(Finding{Rule: rule, Text: text, Basis: basis}) }
	measured := func(name string, m *tables.Measure, dim unit.Dimension) {
		if m == nil {
			return
		}
		if u, ok := unit.Parse(m.Unit); ok && u.Dimension() != dim {
			fact("engine-unit", "the unit's dimension", "engine "+name+" is in "+tables.Quote(m.Unit)+", which measures "+string(u.Dimension()))
		}
	}
	measured("displacement", e.Displacement, unit.Volume)
	measured("fuel_density", e.FuelDensity, unit.Density)
	p := e.RailPressure
	if p == nil {
		return
	}
	u, ok := unit.Parse(p.Unit)
	switch {
	case !ok:
		k.note("engine rail_pressure: its unit %s is not known, so it was not judged", tables.Quote(p.Unit))
	case !slices.Contains([]unit.Dimension{unit.Pressure, unit.GaugePressure, unit.AbsolutePressure}, u.Dimension()):
		fact("engine-unit", "the unit's dimension", "engine rail_pressure is in "+tables.Quote(p.Unit)+", which measures "+string(u.Dimension()))
	default:
		if !(p.Value > 0) {
			fact("rail-pressure", "fuel flows from the rail", "engine rail_pressure is "+amount(p.Value, p.Unit)+", want one above 0")
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
	above, err := over(f, a)
	if err != nil {
		k.note("%s was not held against %s: %v", f.ID(), a.ID(), err)
		return
	}
	for i, v := range f.Values() {
		if v > above[i]+max(a.Tolerance(), f.Tolerance(), 1e-9) {
			k.cell(f, i, "fallback-above-advance", basis, "%s is above %s, what %s has there",
				amount(v, f.Unit()), amount(round(above[i]), a.Unit()), a.ID())
		}
	}
}
