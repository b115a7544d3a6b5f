package plausible

import (
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
	if e.Cylinders > mostCylinders {
		k.fact("cylinders", practice, fmt.Sprintf("has %d cylinders, expected %d at most", e.Cylinders, mostCylinders))
	}
	if s := e.StoichAFR; s != 0 && !(s > stoichLow && s < stoichHigh) {
		k.fact("stoich", practice, fmt.Sprintf("stoich_afr is %s, expected one between %d and %d", tables.FormatValue(s), stoichLow, stoichHigh))
	}
	for _, m := range []struct {
		name, rule string
		of         *tables.Measure
		dim        unit.Dimension
		low, high  float64 // reported in the fact's own unit
		in         string
	}{{"displacement", "displacement", e.Displacement, unit.Volume, displacementLow, displacementHigh, "L"},
		{"fuel_density", "fuel-density", e.FuelDensity, unit.Density, densityLow, densityHigh, "kg/m3"}} {
		if m.of == nil || !k.measures(m.name, m.of.Unit, m.dim) {
			continue
		}
		own, err := unit.Find(m.in, m.of.Unit)
		if low, high := own.Apply(m.low), own.Apply(m.high); err != nil || !(m.of.Value >= low && m.of.Value <= high) {
			k.fact(m.rule, practice, fmt.Sprintf("%s is %s, expected one from %s to %s", m.name, amount(m.of.Value, m.of.Unit),
				tables.FormatValue(round(low)), amount(round(high), m.of.Unit)))
		}
	}
	p := e.RailPressure
	if p == nil || !k.measures("rail_pressure", p.Unit, unit.Pressure, unit.GaugePressure, unit.AbsolutePressure) {
		return
	}
	switch v, err := p.KPa(); {
	case !(p.Value > 0):
		k.fact("rail-pressure", "fuel flows from the rail", "rail_pressure is "+amount(p.Value, p.Unit)+", expected one above 0")
	case err != nil:
		k.fact("rail-pressure", "what a gauge or absolute unit says", err.Error())
	case v < railLow:
		k.fact("rail-pressure", practice, fmt.Sprintf("rail_pressure is %s, expected %d kPa at least", amount(p.Value, p.Unit), railLow))
	}
}

// fact adds a finding of a fact about the engine.
func (k *checker) fact(rule, basis, text string) {
	k.add(Finding{Rule: rule, Text: "engine " + text, Basis: basis})
}

// measures reports whether a fact's unit is one of those that it may be in.
func (k *checker) measures(name, in string, dims ...unit.Dimension) bool {
	u, known := unit.Parse(in)
	if !known {
		k.notes.Addf("engine %s: its unit %s is not known, so it was not checked", name, tables.Quote(in))
	} else if known = slices.Contains(dims, u.Dimension()); !known {
		k.fact("engine-unit", "the unit's dimension", name+" is in "+tables.Quote(in)+", which measures "+string(u.Dimension()))
	}
	return known
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
		if t.X() == nil && !k.follows() && !has(tables.InjectorReferencePressure) {
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
	above, err := interp.LayOn(a, f)
	if err != nil {
		k.notes.Addf("%s was not held against %s: %v", f.ID(), a.ID(), err)
		return
	}
	for i, v := range f.Values() {
		if v > above[i]+max(a.Tolerance(), f.Tolerance(), 1e-9) {
			k.cell(f, i, "fallback-above-advance", basis, "%s is above %s, what %s has there",
				amount(v, f.Unit()), amount(round(above[i]), f.Unit()), a.ID())
		}
	}
}
