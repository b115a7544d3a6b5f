package transfer

import (
	"maps"
	"math"

	"calsplice/interp/engine"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// short is a number for reading.
func short(v float64) string { return tables.Digits(v, 4) }

var unknown = tables.Number(math.NaN())

// grams is the unit of a flow by which fuel and pulse turn into each other: 1 g/s is
// 1 mg/ms.
func grams() unit.Unit {
	u, _ := unit.Parse("g/s")
	return u
}

// injector is a calibration's injector as its controller computes it, fuel to
// pulse width: the tables of its group that are there.
type injector map[tables.Role]*reading

// newInjector reads a side's injector. A flow must be there; other members may be
// missing.
func (s *side) newInjector() injector {
	if s.member[tables.InjectorFlow] == nil {
		s.refuse(nil, "there is no table of role %s", tables.InjectorFlow)
	}
	i := injector{}
	for _, role := range moved {
		t := s.member[role]
		if t == nil {
			continue
		}
		r := s.read(t)
		switch u, _ := unit.Parse(t.Unit()); role {
		case tables.InjectorFlow:
			var err error
			r.toBase, err = unit.Flow(u, grams(), s.fluid.density)
			s.need(t, err)
			// A curve is held past its ends, as the controller does; a scalar follows
			// the square-root law, as the injector does.
			r.orifice = r.over.X().Len() == 1
		// Whether the correction is a time, a share or a factor, engine.Corrected tells
		// by its unit.
		case tables.InjectorNonlinear:
			r.toBase = unit.Conversion{Mul: 1, Div: 1} // its own unit says what it does
		default:
			r.toBase, _ = unit.Find(t.Unit(), "ms")
		}
		i[role] = r
	}
	return i
}

// with is the side with other tables in the group, that notes what it uses elsewhere.
func (s *side) with(members []Member, n *notes) *side {
	c := *s
	c.notes = n
	c.member = maps.Clone(s.member)
	for _, m := range members {
		c.member[m.Role] = m.After
	}
	return &c
}

// value is a member's value at a place, in g/s or ms; missing where there is no
// such table.
func (i injector) value(role tables.Role, p place, missing float64) float64 {
	if i[role] == nil {
		return missing
	}
	v, _ := i[role].at(p)
	return i[role].toBase.Apply(v)
}

// flow is in g/s, which is mg/ms.
func (i injector) flow(dp float64) float64 {
	return i.value(tables.InjectorFlow, place{pressure: dp}, math.NaN())
}

// minimum is the shortest pulse in ms; NaN where no table says.
func (i injector) minimum(p place) float64 { return i.value(tables.InjectorMinPulse, p, math.NaN()) }

// pulse is the commanded pulse for a fuel mass in mg, and the effective part of
// it, in ms: fuel/flow, corrected below the linear range, plus the offset.
func (i injector) pulse(fuel float64, p place) (total, effective float64) {
	effective = fuel / i.flow(p[pressure])
	corrected := effective
	if r := i[tables.InjectorNonlinear]; r != nil {
		// The correction is read at the pulse that it corrects: it is given by the
		// pulse without the offset.
		p[pulse] = effective
		v, _ := r.at(p)
		corrected = engine.Corrected(r.t.Unit(), effective, v)
	}
	return corrected + i.value(tables.InjectorOffset, p, 0), effective
}

// linearFrom is the effective pulse in ms from which nothing is corrected; NaN
// where there is no table, or one that corrects to its end or nowhere.
func (i injector) linearFrom() float64 {
	if r := i[tables.InjectorNonlinear]; r != nil {
		if points, last, err := engine.CorrectedTo(r.t); err == nil && last >= 0 && last+1 < len(points) {
			return points[last+1]
		}
	}
	return math.NaN()
}

// grounds says in words which correction convention the report used.
func (i injector) grounds() string {
	r := i[tables.InjectorNonlinear]
	if r == nil {
		return ""
	}
	u, _ := unit.Parse(r.t.Unit())
	switch {
	case u.Dimension() == unit.Time:
		return "added to the effective pulse"
	case u.Name() == "%":
		return "a share added to the effective pulse"
	}
	return "a factor on the effective pulse"
}
