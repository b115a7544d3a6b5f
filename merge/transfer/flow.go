package transfer

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// sayInferred reports where the square-root law stood in for the donor's numbers.
func (r *reading) sayInferred(from, to *side, c carried) {
	if !slices.Contains(c.origins, Inferred) {
		return
	}
	x := r.over.X()
	low, high := x.At(0), x.At(x.Len()-1)
	known := "at " + short(low) + " kPa alone"
	if low != high {
		known = fmt.Sprintf("from %s to %s kPa", short(low), short(high))
	}
	from.notes.cautions.Addf("flow at %s kPa of differential pressure is inferred by the square-root law (flow goes with the root of the pressure): the %s's table %s is known %s",
		inferredAt(c), from.whose, r.t.ID(), known)
	if slices.ContainsFunc(c.places, func(p place) bool { return p[pressure] == 0 }) {
		from.notes.cautions.Addf("at a differential pressure of 0 the square-root law leaves no flow in the %s's table %s", to.whose, to.member[tables.InjectorFlow].ID())
	}
}

// inferredAt lists the pressures at which flow is inferred, those that follow
// each other as one range: "200 to 250 and 450".
func inferredAt(c carried) string {
	order := make([]int, len(c.places))
	for i := range order {
		order[i] = i
	}
	at := func(i int) float64 { return c.places[i][pressure] }
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(at(i), at(j)) })
	// Neighbours in pressure, which are not neighbours in the table where an axis
	// falls: a run of inferred ones is one range, and no known one lies in it.
	var spans []string
	first := 0
	for k, i := range order {
		if c.origins[i] != Inferred {
			first = k + 1
			continue
		}
		if first == k {
			spans = append(spans, short(at(i)))
		} else {
			spans[len(spans)-1] = short(at(order[first])) + " to " + short(at(i))
		}
	}
	return strings.Join(spans, " and ")
}

// conversion turns a value in the donor's unit into one in the recipient's. A flow
// comes from the donor's fluid to the recipient's too: at the same differential
// pressure mass flow goes with √ρ and volume flow with 1/√ρ.
func conversion(from, to *side, src, dst *tables.Table) func(float64) float64 {
	u, _ := unit.Parse(src.Unit())
	v, _ := unit.Parse(dst.Unit())
	flow := rules[src.Role()].orifice
	if flow {
		sameFuel(from, to)
	}
	p, q := from.fluid.density, to.fluid.density
	// Of one fluid, known or not, a flow of one dimension only changes its unit: then
	// no density is asked for.
	if !flow || u.Dimension() == v.Dimension() && (p == q || p == 0 || q == 0) {
		c, err := unit.Between(u, v)
		to.need(dst, err)
		return c.Apply
	}
	a, b := fluids(from, to, src, dst)
	if a != b {
		return throughMass(from, to, src, dst)
	}
	c, err := unit.Flow(u, v, a)
	from.need(src, err)
	return c.Apply
}

// throughMass turns a flow of one fluid into one of another: mass flow goes with √ρ
// at one pressure, and either volume flow is made of it with its own density.
func throughMass(from, to *side, src, dst *tables.Table) func(float64) float64 {
	a, b := from.fluid.density, to.fluid.density
	u, _ := unit.Parse(src.Unit())
	v, _ := unit.Parse(dst.Unit())
	in, err := unit.Flow(u, grams(), a)
	from.need(src, err)
	out, err := unit.Flow(grams(), v, b)
	to.need(dst, err)
	root := math.Sqrt(b / a)
	from.notes.cautions.Addf("fluids differ: flow measured at %s kg/L (%s) is turned to %s kg/L (%s) at the same pressure, mass flow × √(%s/%s) = %s",
		from.fluid, from.fluid.from, to.fluid, to.fluid.from, to.fluid, from.fluid, short(root))
	return func(q float64) float64 { return out.Apply(float64(in.Apply(q) * root)) }
}

// fluids are the densities of what the two tables' flows are of, each noted. One
// that is not known is taken to be the other: one fuel for both.
func fluids(from, to *side, src, dst *tables.Table) (a, b float64) {
	// The donor's own fuel comes first: the flow was given for it.
	known, other := from, to
	if known.fluid.density == 0 {
		known, other = to, from
	}
	if known.fluid.density == 0 {
		from.refuse(src, "%s to %s needs a fuel density: give the donor's engine fuel_density, or --donor-density", src.Unit(), dst.Unit())
	}
	for _, s := range []*side{known, other} {
		if s.fluid.density > 0 {
			s.notes.assume("fluid of "+s.whose+"'s flow", s.fluid.String()+" kg/L", s.fluid.from)
		}
	}
	by := fmt.Sprintf("a fuel density of %s kg/L, from %s, turns %s into %s", known.fluid, known.fluid.from, src.Unit(), dst.Unit())
	switch {
	case other.fluid.density == 0:
		from.notes.cautions.Addf("%s: the %s gives none, and is taken to run the same fuel", by, other.whose)
		return known.fluid.density, known.fluid.density
	case from.fluid.density == to.fluid.density:
		from.notes.cautions.Add(by)
	}
	return from.fluid.density, to.fluid.density
}

// alike is how far two stoichiometric ratios of one kind of fuel may lie apart:
// petrol's own varies by that much (common practice, no source).
const alike = 0.03

// sameFuel refuses two fuels that plainly differ where their densities, by which
// flow is turned from one to the other, are not both known.
func sameFuel(from, to *side) {
	a, b := from.engine().StoichAFR, to.engine().StoichAFR
	if a == 0 || b == 0 || math.Abs(a-b) <= alike*math.Max(a, b) {
		return
	}
	if from.fuel.density > 0 && to.fuel.density > 0 {
		from.notes.cautions.Addf("donor and recipient run different fuels (stoichiometric ratio %s in the %s, %s in the %s): flow is turned by density alone (%s and %s kg/L)",
			short(a), from.whose, short(b), to.whose, from.fuel, to.fuel)
		return
	}
	to.refuse(nil, "donor and recipient run different fuels (stoichiometric ratio %s in the %s, %s in the %s): give both fuel densities (engine fuel_density, or --donor-density and --density)",
		short(a), from.whose, short(b), to.whose)
}
