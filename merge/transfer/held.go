package transfer

import (
	"slices"

	"calsplice/interp"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// kindsOf lists what the axes of a role's table may tell.
var kindsOf = map[tables.Role][]kind{
	tables.InjectorOffset:    {voltage, pressure},
	tables.InjectorNonlinear: {pulse, voltage, pressure},
	tables.InjectorMinPulse:  {voltage, pressure},
}

// dimensionsOf lists what a role's values may measure.
var dimensionsOf = map[tables.Role][]unit.Dimension{
	tables.InjectorFlow:              {unit.MassFlow, unit.VolumeFlow},
	tables.InjectorOffset:            {unit.Time},
	tables.InjectorNonlinear:         {unit.Time, unit.Ratio},
	tables.InjectorMinPulse:          {unit.Time},
	tables.InjectorReferencePressure: {unit.Pressure},
}

// checkUnit refuses a table whose unit is not known or measures something else.
func (s *side) checkUnit(t *tables.Table) error {
	u, ok := unit.Parse(t.Unit())
	if !ok {
		return s.fault(t, "unit %s is not known, so nothing can be computed with it", tables.Quote(t.Unit()))
	}
	if !slices.Contains(dimensionsOf[t.Role()], u.Dimension()) {
		return s.fault(t, "%s (%s) is no unit for %s", u.Name(), u.Dimension(), t.Role())
	}
	return nil
}

// reading is a table as a function of an operating point: pressure, voltage and
// effective pulse, whichever its axes tell.
type reading struct {
	t    *tables.Table
	x, y *scale // nil for no axis, or one along which nothing changes
}

// newReading reads a table's axes. An axis along which its values do not change
// tells nothing, and needs no fact to be read by.
func (s *side) newReading(t *tables.Table) (*reading, error) {
	if err := s.checkUnit(t); err != nil {
		return nil, err
	}
	r := &reading{t: t}
	for _, a := range []struct {
		axis *tables.Axis
		same bool
		to   **scale
	}{{t.X(), sameAlongX(t), &r.x}, {t.Y(), sameAlongY(t), &r.y}} {
		if a.axis == nil {
			continue
		}
		if k, ok := kindOf[a.axis.Quantity()]; ok && a.same && slices.Contains(kindsOf[t.Role()], k) {
			s.sayOnePoint(t, a.axis)
			continue
		}
		sc, err := s.readAxis(t, a.axis, kindsOf[t.Role()]...)
		if err != nil {
			return nil, err
		}
		if sc.flat && !a.same {
			return nil, s.fault(t, "it changes with %s, but with a regulator that follows the manifold the differential pressure is %s kPa everywhere: one of the two is wrong",
				a.axis.Quantity(), tables.FormatValue(sc.at[0]))
		}
		*a.to = sc
	}
	if r.x != nil && r.y != nil && r.x.kind == r.y.kind {
		return nil, s.fault(t, "both axes tell the %s", r.x.kind)
	}
	return r, nil
}

func sameAlongX(t *tables.Table) bool {
	for r := range t.Rows() {
		for _, v := range t.Row(r) {
			if v != t.At(r, 0) {
				return false
			}
		}
	}
	return true
}

func sameAlongY(t *tables.Table) bool {
	for r := range t.Rows() {
		if !slices.Equal(t.Row(r), t.Row(0)) {
			return false
		}
	}
	return true
}

// place is an operating point, by kind.
type place [kinds]float64

// at reads the table, held at its edges.
func (r *reading) at(p place) (float64, Origin) {
	origin := AtBreakpoint
	along := func(sc *scale) float64 {
		if sc == nil {
			return 0
		}
		v, past := sc.coordinate(p[sc.kind])
		switch {
		case past:
			origin = Held
		case !sc.on(v):
			origin = max(origin, Between)
		}
		return v
	}
	x, y := along(r.x), along(r.y)
	v, _, _ := interp.At(r.t, x, y, interp.Hold)
	return v, origin
}

func (r *reading) needs() []kind {
	var list []kind
	for _, sc := range []*scale{r.x, r.y} {
		if sc != nil {
			list = append(list, sc.kind)
		}
	}
	return list
}

// held brings a table that is held past its axes across.
func held(from, to *side, role tables.Role) (values []float64, origins []Origin, err error) {
	src, dst := from.member[role], to.member[role]
	r, err := from.newReading(src)
	if err != nil {
		return nil, nil, err
	}
	if err := to.checkUnit(dst); err != nil {
		return nil, nil, err
	}
	conv, err := unit.Find(src.Unit(), dst.Unit())
	if err != nil {
		return nil, nil, to.fault(dst, "%v", err)
	}
	places, err := to.places(dst, r, from)
	if err != nil {
		return nil, nil, err
	}
	for _, p := range places {
		v, origin := r.at(p)
		if !conv.Identity() {
			v = conv.Apply(v)
		}
		values, origins = append(values, v), append(origins, origin)
	}
	return values, origins, nil
}

// places are the operating points of a table's cells, in what the reading needs.
func (s *side) places(t *tables.Table, r *reading, from *side) ([]place, error) {
	needs := r.needs()
	var fixed place
	var have []kind
	scales := [2]*scale{}
	for i, a := range []*tables.Axis{t.X(), t.Y()} {
		if a == nil {
			continue
		}
		k, ok := kindOf[a.Quantity()]
		if ok && slices.Contains(kindsOf[t.Role()], k) && !slices.Contains(needs, k) {
			s.notes.cautions.Addf("the %s's table %s does not change with %s: the %s's table %s gets the same at every breakpoint of it", from.whose, r.t.ID(), k, s.whose, t.ID())
			continue
		}
		sc, err := s.readAxis(t, a, kindsOf[t.Role()]...)
		if err != nil {
			return nil, err
		}
		scales[i], have = sc, append(have, k)
	}
	for _, k := range needs {
		if slices.Contains(have, k) {
			continue
		}
		v, err := s.fix(t, k, r.t, from)
		if err != nil {
			return nil, err
		}
		fixed[k] = v
	}
	var places []place
	for row := range t.Rows() {
		for col := range t.Columns() {
			p := fixed
			if scales[0] != nil {
				p[scales[0].kind] = scales[0].at[col]
			}
			if scales[1] != nil {
				p[scales[1].kind] = scales[1].at[row]
			}
			places = append(places, p)
		}
	}
	return places, nil
}

// fix is the value that stands for an axis which the donor's table has and the
// recipient's has not.
func (s *side) fix(t *tables.Table, k kind, src *tables.Table, from *side) (float64, error) {
	lacks := func(supply string) error {
		return s.fault(t, "it has no axis of %s, along which the %s's table %s changes: %s", k, from.whose, src.ID(), supply)
	}
	switch k {
	case pressure:
		v, whence, ok := s.fixedDelta()
		if !ok {
			return 0, lacks("give --pressure KPA to take the values at, or the " + s.whose + "'s engine rail_pressure relative to the manifold")
		}
		s.notes.assume("differential pressure of "+s.whose+"'s table "+t.ID(), tables.FormatValue(v)+" kPa", whence)
		s.notes.cautions.Addf("the %s's table %s is taken at a differential pressure of %s kPa (%s), since the %s's %s has no axis of pressure",
			from.whose, src.ID(), tables.FormatValue(v), whence, s.whose, t.ID())
		return v, nil
	case voltage:
		if s.fixedVoltage > 0 {
			s.notes.assume("battery voltage of "+s.whose+"'s table "+t.ID(), tables.FormatValue(s.fixedVoltage)+" V", "--voltage")
			s.notes.cautions.Addf("the %s's table %s is taken at %s V, since the %s's %s has no axis of battery voltage", from.whose, src.ID(), tables.FormatValue(s.fixedVoltage), s.whose, t.ID())
			return s.fixedVoltage, nil
		}
		return 0, lacks("give --voltage V to take the values at")
	}
	return 0, lacks("give the " + s.whose + "'s table that axis")
}

// sayOnePoint says where one breakpoint stands for a whole axis.
func (s *side) sayOnePoint(t *tables.Table, a *tables.Axis) {
	if a.Len() == 1 {
		s.notes.cautions.Addf("the %s's table %s has one breakpoint of %s, %s %s: its value is held everywhere", s.whose, t.ID(), a.Quantity(),
			tables.FormatValue(a.At(0)), a.Unit())
	}
}
