package transfer

import (
	"cmp"
	"math"
	"slices"

	"calsplice/interp"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// rule is how the tables of a role are read.
type rule struct {
	axes     []kind           // what they may depend on
	measures []unit.Dimension // what their values may be
	orifice  bool             // past the axis they follow the square-root law; others are held there
}

// rules has the group that [Run] moves, and the reference pressure that goes
// with a flow of one number.
var rules = map[tables.Role]rule{
	tables.InjectorFlow:              {axes: []kind{pressure}, measures: []unit.Dimension{unit.MassFlow, unit.VolumeFlow}, orifice: true},
	tables.InjectorOffset:            {axes: []kind{voltage, pressure}, measures: []unit.Dimension{unit.Time}},
	tables.InjectorNonlinear:         {axes: []kind{pulse, voltage, pressure}, measures: []unit.Dimension{unit.Time, unit.Ratio}},
	tables.InjectorMinPulse:          {axes: []kind{voltage, pressure}, measures: []unit.Dimension{unit.Time}},
	tables.InjectorReferencePressure: {measures: []unit.Dimension{unit.Pressure}},
}

// check refuses a table whose unit is not known or measures something else, and
// a flow that is a map.
func (s *side) check(t *tables.Table) {
	u, ok := unit.Parse(t.Unit())
	switch {
	case !ok:
		s.refuse(t, "unit %s is not known, so nothing can be computed with it", tables.Quote(t.Unit()))
	case !slices.Contains(rules[t.Role()].measures, u.Dimension()):
		s.refuse(t, "%s (%s) is no unit for %s", u.Name(), u.Dimension(), t.Role())
	// Flow is the part's, at a pressure. A second axis would be something that the
	// controller corrects by, and not the injector.
	case t.Y() != nil && rules[t.Role()].orifice:
		s.refuse(t, "flow is a map, expected a scalar, or a curve against differential pressure, manifold vacuum or manifold pressure")
	}
}

// reading is a table as a function of an operating point: pressure, voltage and
// effective pulse, whichever its axes tell, in the table's own unit.
type reading struct {
	t       *tables.Table
	along   [2]*scale       // of x and y
	over    *tables.Table   // its values over the places that these tell
	surface *interp.Surface // of it
	orifice bool
	toBase  unit.Conversion // of the values, to g/s or ms, where the report asks for these
}

// lay lays the table's values over the places that its axes tell, as they rise, so
// that a place is looked up where it is and not by a number of some axis that means
// it.
func (s *side) lay(r *reading) {
	var at [2][]float64
	for i, sc := range r.along {
		at[i] = slices.Compact(slices.Sorted(slices.Values(sc.at)))
	}
	var values []float64
	for _, y := range at[1] {
		for _, x := range at[0] {
			values = append(values, r.t.At(slices.Index(r.along[1].at, y), slices.Index(r.along[0].at, x)))
		}
	}
	x, err := tables.NewAxis("", "", at[0])
	y, errY := tables.NewAxis("", "", at[1])
	s.need(r.t, cmp.Or(err, errY))
	r.over, err = tables.NewTable(tables.Fields{ID: r.t.ID(), X: x, Y: y, Values: values})
	s.need(r.t, err)
	r.surface = interp.NewSurface(r.over)
}

// read reads a table's axes. An axis along which its values do not change tells
// nothing, and needs no fact to be read by; but a flow always holds at some
// pressure, past which it follows the square-root law.
func (s *side) read(t *tables.Table) *reading {
	s.check(t)
	r := &reading{t: t, along: [2]*scale{everywhere, everywhere}, orifice: rules[t.Role()].orifice}
	// One number is a curve of one breakpoint: the pressure at which it holds.
	if r.orifice && t.X() == nil {
		r.along[0] = &scale{pressure, []float64{s.reference(t)}}
	}
	lines := interp.Lines(t)
	for i, a := range t.Axes().All() {
		same := !slices.ContainsFunc([][]interp.Line{lines[:t.Rows()], lines[t.Rows():]}[i], func(l interp.Line) bool {
			up, down := l.Trend(t.Values())
			return !up || !down
		})
		// A curve that is the same at every vacuum is one number, whatever the rail: to
		// ask for the rail pressure then would refuse a document for nothing.
		if _, ok := kindOf(t, a); ok && same && !r.orifice {
			s.sayOnePoint(t, a, "its value is held everywhere")
			continue
		}
		sc := s.readAxis(t, a)
		// The values differ and the pressures do not: one of the two facts is wrong, and
		// nobody but the person can say which.
		if sc.flat() && !same {
			s.refuse(t, "it changes with %s, but with a regulator that follows the manifold the differential pressure is %s kPa everywhere: one of the two is wrong",
				a.Quantity(), tables.FormatValue(sc.at[0]))
		}
		r.along[i] = sc
	}
	if k := r.along[0].kind; k == r.along[1].kind && k != anything {
		s.refuse(t, "both axes tell the %s", k)
	}
	s.checkFlow(r)
	s.lay(r)
	return r
}

// checkFlow refuses a flow of nothing, from which no pulse follows.
func (s *side) checkFlow(r *reading) {
	if !r.orifice {
		return
	}
	if i := slices.IndexFunc(r.t.Values(), func(v float64) bool { return !(v > 0) }); i >= 0 {
		s.refuse(r.t, "flow at %s is %s %s: expected more than 0", r.t.Place(i), tables.FormatValue(r.t.Values()[i]), r.t.Unit())
	}
	if x := r.t.X(); x != nil {
		s.sayOnePoint(r.t, x, "from it the flow follows the square-root law")
	}
}

// sayOnePoint says where one breakpoint stands for a whole axis.
func (s *side) sayOnePoint(t *tables.Table, a *tables.Axis, so string) {
	if a.Len() == 1 {
		s.notes.cautions.Addf("the %s's table %s has one breakpoint of %s, %s %s: %s", s.whose, t.ID(), a.Quantity(), tables.FormatValue(a.At(0)), a.Unit(), so)
	}
}

// reference is the differential pressure at which a scalar flow holds.
func (s *side) reference(t *tables.Table) float64 {
	if ref := s.member[tables.InjectorReferencePressure]; ref != nil {
		if ref.X() != nil {
			s.refuse(ref, "the reference pressure of a flow is one number, not a curve or map")
		}
		s.check(ref)
		kPa, err := lookup.Base(ref.Unit())
		s.need(ref, err)
		v, told := kPa.Apply(ref.At(0, 0)), tables.FormatValue(ref.At(0, 0))+" "+ref.Unit()
		if !(v > 0) {
			s.refuse(ref, "reference pressure is %s, expected more than 0", told)
		}
		s.notes.assume(s.whose+"'s reference pressure", told, s.whose+"'s table "+ref.ID())
		return v
	}
	// Without a table for it, the pressure that never changes serves: the one that
	// was given, or that of a regulator which follows the manifold.
	v, from, ok := s.fixedDelta()
	if !ok {
		s.refuse(t, "a scalar flow needs the differential pressure at which it holds: give a table of role %s, or the %s's engine rail_pressure relative to the manifold",
			tables.InjectorReferencePressure, s.whose)
	}
	s.notes.assume(s.whose+"'s reference pressure", tables.FormatValue(v)+" kPa", from)
	return v
}

// place is an operating point, by kind.
type place [anything + 1]float64

// at reads the table. Past its axes it is held at the edge; a flow goes on from
// there by the orifice's square-root law (Q ∝ √Δp).
func (r *reading) at(p place) (float64, Origin) {
	origin := AtBreakpoint
	var at [2]float64
	for i, a := range r.over.Axes() {
		// The worst of both axes is the origin of the value: held past one, it is held.
		at[i] = interp.Snap(a.Points(), p[r.along[i].kind])
		switch {
		case at[i] != held(a, at[i]):
			origin = Held
		case a.Find(at[i]) < 0:
			origin = max(origin, Between)
		}
	}
	v := r.surface.At(at[0], at[1])
	if r.orifice && origin == Held {
		// A curve that is held would starve the engine above its last breakpoint, where the
		// part goes on flowing more.
		return v * math.Sqrt(p[pressure]/held(r.over.X(), p[pressure])), Inferred
	}
	return v, origin
}

// held is a place, or the end of an axis that it is past.
func held(a *tables.Axis, v float64) float64 { return min(max(v, a.At(0)), a.At(a.Len()-1)) }

func (r *reading) needs() (list []kind) {
	for _, sc := range r.along {
		if sc != everywhere {
			list = append(list, sc.kind)
		}
	}
	return list
}

// carried is a member's values at the recipient's cells, before rounding.
type carried struct {
	values  []float64
	origins []Origin
	places  []place
}

// carry reads one side's member where the cells of the other's stand, in the
// other's unit.
func carry(from, to *side, role tables.Role) (c carried) {
	src, dst := from.member[role], to.member[role]
	r := from.read(src)
	to.check(dst)
	c.places = to.places(dst, r, from)
	turn := conversion(from, to, src, dst)
	for _, p := range c.places {
		v, origin := r.at(p)
		c.values, c.origins = append(c.values, turn(v)), append(c.origins, origin)
	}
	// What was inferred is said once the values are known to be used.
	r.sayInferred(from, to, c)
	return c
}

// places are the operating points of a table's cells, in what the reading needs.
func (s *side) places(t *tables.Table, r *reading, from *side) []place {
	needs := r.needs()
	var fixed place
	scales := [2]*scale{}
	for i, a := range t.Axes().All() {
		// An axis of the recipient's that the donor does not know needs no reading, and no
		// fact to read it by; but it is said that nothing changes along it.
		if k, ok := kindOf(t, a); ok && !slices.Contains(needs, k) {
			s.notes.cautions.Addf("the %s's table %s does not change with %s: the %s's table %s gets the same at every breakpoint of it", from.whose, r.t.ID(), k, s.whose, t.ID())
			continue
		}
		scales[i] = s.readAxis(t, a)
	}
	for _, k := range needs {
		if !slices.ContainsFunc(scales[:], func(sc *scale) bool { return sc != nil && sc.kind == k }) {
			fixed[k] = s.fix(t, k, r.t, from)
		}
	}
	places := make([]place, 0, len(t.Values()))
	for i := range t.Values() {
		p := fixed
		for k, at := range []int{i % t.Columns(), i / t.Columns()} {
			if sc := scales[k]; sc != nil {
				p[sc.kind] = sc.at[at]
			}
		}
		places = append(places, p)
	}
	return places
}

// fix is the value that stands for an axis which the donor's table has and the
// recipient's has not.
func (s *side) fix(t *tables.Table, k kind, src *tables.Table, from *side) (v float64) {
	var what, unit, whence, supply string
	switch {
	case rules[t.Role()].orifice:
		return s.reference(t)
	case k == pressure:
		what, unit, supply = "differential pressure", " kPa", "give --pressure KPA to take the values at, or the "+s.whose+"'s engine rail_pressure relative to the manifold"
		v, whence, _ = s.fixedDelta()
	case k == voltage:
		what, unit, supply = "battery voltage", " V", "give --voltage V to take the values at"
		v, whence = s.fixedVoltage, "--voltage"
	default:
		supply = "give the " + s.whose + "'s table that axis"
	}
	// None is given. There is no usual voltage or pressure to take a whole table at.
	if v == 0 {
		s.refuse(t, "it has no axis of %s, along which the %s's table %s changes: %s", k, from.whose, src.ID(), supply)
	}
	s.notes.assume(what+" of "+s.whose+"'s table "+t.ID(), tables.FormatValue(v)+unit, whence)
	s.notes.cautions.Addf("the %s's table %s is taken at a %s of %s%s (%s), since the %s's %s has no axis of %s",
		from.whose, src.ID(), what, tables.FormatValue(v), unit, whence, s.whose, t.ID(), k)
	return v
}
