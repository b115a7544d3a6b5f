package transfer

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/interp"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// flowLaw is a flow table as a function of differential pressure, in the table's
// own unit, on its own fluid.
type flowLaw struct {
	t     *tables.Table
	scale *scale  // nil for a scalar
	ref   float64 // kPa, of a scalar or of the nearest end
}

// newFlowLaw reads a side's flow table.
func (s *side) newFlowLaw(t *tables.Table) (*flowLaw, error) {
	at, sc, err := s.flowPlaces(t)
	if err != nil {
		return nil, err
	}
	for i, v := range t.Values() {
		if !(v > 0) {
			return nil, s.fault(t, "flow at %s is %s %s: want more than 0", t.Place(i), tables.FormatValue(v), t.Unit())
		}
	}
	if sc != nil && sc.flat && !sameAlongX(t) {
		return nil, s.fault(t, "it changes with %s, but with a regulator that follows the manifold the differential pressure is %s kPa everywhere: one of the two is wrong",
			sc.axis.Quantity(), tables.FormatValue(at[0]))
	}
	if sc != nil && (sc.flat || sc.axis.Len() == 1) {
		if sc.axis.Len() == 1 {
			s.notes.cautions.Addf("the %s's table %s has one breakpoint of %s: from it the flow follows the square-root law", s.whose, t.ID(), sc.axis.Quantity())
		}
		sc = nil
	}
	return &flowLaw{t, sc, at[0]}, nil
}

// flowPlaces are the differential pressures at which a flow table's values hold.
func (s *side) flowPlaces(t *tables.Table) ([]float64, *scale, error) {
	if err := s.checkUnit(t); err != nil {
		return nil, nil, err
	}
	switch {
	case t.Y() != nil:
		return nil, nil, s.fault(t, "flow is a map, want a scalar, or a curve against differential pressure, manifold vacuum or manifold pressure")
	case t.X() == nil:
		ref, err := s.reference(t)
		return []float64{ref}, nil, err
	}
	sc, err := s.readAxis(t, t.X(), pressure)
	if err != nil {
		return nil, nil, err
	}
	return sc.at, sc, nil
}

// reference is the differential pressure at which a scalar flow holds.
func (s *side) reference(t *tables.Table) (float64, error) {
	if ref := s.member[tables.InjectorReferencePressure]; ref != nil {
		if ref.X() != nil {
			return 0, s.fault(ref, "the reference pressure of a flow is one number, not a curve or map")
		}
		if err := s.checkUnit(ref); err != nil {
			return 0, err
		}
		kPa, err := lookup.Base(ref.Unit())
		if err != nil {
			return 0, s.fault(ref, "%v", err)
		}
		v := kPa.Apply(ref.At(0, 0))
		if !(v > 0) {
			return 0, s.fault(ref, "reference pressure is %s %s, want more than 0", tables.FormatValue(ref.At(0, 0)), ref.Unit())
		}
		s.notes.assume(s.whose+"'s reference pressure", tables.FormatValue(ref.At(0, 0))+" "+ref.Unit(), s.whose+"'s table "+ref.ID())
		return v, nil
	}
	if v, from, ok := s.fixedDelta(); ok {
		s.notes.assume(s.whose+"'s reference pressure", tables.FormatValue(v)+" kPa", from)
		return v, nil
	}
	return 0, s.fault(t, "a scalar flow needs the differential pressure at which it holds: give a table of role %s, or the %s's engine rail_pressure relative to the manifold",
		tables.InjectorReferencePressure, s.whose)
}

// at is the flow at a differential pressure: bilinear within the table's
// breakpoints, from the nearest of them by the orifice's square-root law past
// them (Q ∝ √Δp).
func (f *flowLaw) at(dp float64) (float64, Origin) {
	if f.scale == nil {
		return orifice(f.t.At(0, 0), f.ref, dp)
	}
	v, past := f.scale.coordinate(dp)
	flow, _, _ := interp.At(f.t, v, 0, interp.Hold)
	switch {
	case past:
		return orifice(flow, f.scale.at[f.scale.axis.Find(v)], dp)
	case f.scale.on(v):
		return flow, AtBreakpoint
	}
	return flow, Between
}

func orifice(flow, ref, dp float64) (float64, Origin) {
	if interp.Snap([]float64{ref}, dp) == ref {
		return flow, AtBreakpoint
	}
	return flow * math.Sqrt(dp/ref), Inferred
}

// flow brings the flow table across.
func flow(from, to *side) (values []float64, origins []Origin, at []float64, err error) {
	src, dst := from.member[tables.InjectorFlow], to.member[tables.InjectorFlow]
	law, err := from.newFlowLaw(src)
	if err != nil {
		return nil, nil, nil, err
	}
	at, _, err = to.flowPlaces(dst)
	if err != nil {
		return nil, nil, nil, err
	}
	factor, err := flowFactor(from, to, src, dst)
	if err != nil {
		return nil, nil, nil, err
	}
	for _, dp := range at {
		v, origin := law.at(dp)
		values, origins = append(values, factor(v)), append(origins, origin)
	}
	law.say(from, to, at, origins)
	return values, origins, at, nil
}

// say reports where the square-root law stood in for the donor's numbers.
func (f *flowLaw) say(from, to *side, at []float64, origins []Origin) {
	span := inferredAt(at, origins)
	if span == "" {
		return
	}
	known := "at " + short(f.ref) + " kPa alone"
	if f.scale != nil {
		known = fmt.Sprintf("from %s to %s kPa", short(slices.Min(f.scale.at)), short(slices.Max(f.scale.at)))
	}
	from.notes.cautions.Addf("flow at %s kPa of differential pressure is inferred by the square-root law (flow goes with the root of the pressure): the %s's table %s is known %s",
		span, from.whose, f.t.ID(), known)
	if slices.Contains(at, 0) {
		from.notes.cautions.Addf("at a differential pressure of 0 the square-root law leaves no flow in the %s's table %s", to.whose, to.member[tables.InjectorFlow].ID())
	}
}

// inferredAt lists the pressures at which flow is inferred, those that follow
// each other as one range: "200 to 250 and 450".
func inferredAt(at []float64, origins []Origin) string {
	order := make([]int, len(at))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(at[i], at[j]) })
	var spans []string
	for k := 0; k < len(order); k++ {
		first := order[k]
		if origins[first] != Inferred {
			continue
		}
		for k+1 < len(order) && origins[order[k+1]] == Inferred {
			k++
		}
		span := short(at[first])
		if last := order[k]; last != first {
			span += " to " + short(at[last])
		}
		spans = append(spans, span)
	}
	return strings.Join(spans, " and ")
}

// flowFactor turns a flow in the donor's unit, on the donor's fluid, into one in
// the recipient's unit, on the recipient's: at the same differential pressure
// mass flow goes with √ρ and volume flow with 1/√ρ.
func flowFactor(from, to *side, src, dst *tables.Table) (func(float64) float64, error) {
	u, _ := unit.Parse(src.Unit())
	v, _ := unit.Parse(dst.Unit())
	if err := sameFuel(from, to); err != nil {
		return nil, err
	}
	if u.Dimension() == v.Dimension() && (from.fluid == to.fluid || from.fluid == 0 || to.fluid == 0) {
		c, err := unit.Between(u, v)
		if err != nil {
			return nil, from.fault(src, "%v", err)
		}
		if c.Identity() {
			return func(q float64) float64 { return q }, nil
		}
		return c.Apply, nil
	}
	a, b, err := fluids(from, to, src, dst)
	if err != nil {
		return nil, err
	}
	if a == b {
		c, err := unit.Flow(u, v, a)
		if err != nil {
			return nil, from.fault(src, "%v", err)
		}
		return c.Apply, nil
	}
	grams, _ := unit.Parse("g/s")
	in, err := unit.Flow(u, grams, a)
	if err != nil {
		return nil, from.fault(src, "%v", err)
	}
	out, err := unit.Flow(grams, v, b)
	if err != nil {
		return nil, to.fault(dst, "%v", err)
	}
	root := math.Sqrt(b / a)
	from.notes.cautions.Addf("fluids differ: flow measured at %s kg/L (%s) is turned to %s kg/L (%s) at the same pressure, mass flow × √(%s/%s) = %s",
		tables.FormatValue(a), from.fluidFrom, tables.FormatValue(b), to.fluidFrom, tables.FormatValue(b), tables.FormatValue(a), short(root))
	return func(q float64) float64 { return out.Apply(in.Apply(q) * root) }, nil
}

// fluids are the densities of what the two tables' flows are of, each noted. One
// that is not known is taken to be the other: one fuel for both.
func fluids(from, to *side, src, dst *tables.Table) (a, b float64, err error) {
	a, b = from.fluid, to.fluid
	use := func(s *side) {
		s.notes.assume("fluid of "+s.whose+"'s flow", tables.FormatValue(s.fluid)+" kg/L", s.fluidFrom)
	}
	switch {
	case a == 0 && b == 0:
		return 0, 0, from.fault(src, "%s to %s needs a fuel density: give the donor's engine fuel_density, or --donor-density", src.Unit(), dst.Unit())
	case a == 0:
		use(to)
		to.notes.cautions.Addf("a fuel density of %s kg/L, from %s, turns %s into %s: the %s gives none, and is taken to run the same fuel",
			tables.FormatValue(b), to.fluidFrom, src.Unit(), dst.Unit(), from.whose)
		return b, b, nil
	case b == 0:
		use(from)
		from.notes.cautions.Addf("a fuel density of %s kg/L, from %s, turns %s into %s: the %s gives none, and is taken to run the same fuel",
			tables.FormatValue(a), from.fluidFrom, src.Unit(), dst.Unit(), to.whose)
		return a, a, nil
	}
	use(from)
	use(to)
	if a == b {
		from.notes.cautions.Addf("a fuel density of %s kg/L, from %s, turns %s into %s", tables.FormatValue(a), from.fluidFrom, src.Unit(), dst.Unit())
	}
	return a, b, nil
}

// alike is how far two stoichiometric ratios of one kind of fuel may lie apart:
// petrol's own varies by that much (common practice, no source).
const alike = 0.03

// sameFuel refuses two fuels that plainly differ where their densities, by which
// flow is turned from one to the other, are not both known.
func sameFuel(from, to *side) error {
	a, b := from.engine().StoichAFR, to.engine().StoichAFR
	if a == 0 || b == 0 || math.Abs(a-b) <= alike*math.Max(a, b) {
		return nil
	}
	if from.fuel > 0 && to.fuel > 0 {
		from.notes.cautions.Addf("donor and recipient run different fuels (stoichiometric ratio %s in the %s, %s in the %s): flow is turned by density alone (%s and %s kg/L)",
			short(a), from.whose, short(b), to.whose, tables.FormatValue(from.fuel), tables.FormatValue(to.fuel))
		return nil
	}
	return to.fault(nil, "donor and recipient run different fuels (stoichiometric ratio %s in the %s, %s in the %s): give both fuel densities (engine fuel_density, or --donor-density and --density)",
		short(a), from.whose, short(b), to.whose)
}
