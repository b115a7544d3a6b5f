package transfer

import (
	"maps"
	"math"

	"calsplice/interp"
	"calsplice/interp/engine"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// Num is a number that may be unknown: NaN, null in JSON.
type Num float64

// MarshalJSON writes null for what is not known.
func (n Num) MarshalJSON() ([]byte, error) {
	if v := float64(n); !math.IsNaN(v) && !math.IsInf(v, 0) {
		return tables.AppendValue(nil, v), nil
	}
	return []byte("null"), nil
}

// Known reports whether there is a number.
func (n Num) Known() bool { return !math.IsNaN(float64(n)) && !math.IsInf(float64(n), 0) }

// String is the number as a report shows it.
func (n Num) String() string { return short(float64(n)) }

var unknown = Num(math.NaN())

// injector is a calibration's injector as its controller computes it: fuel to
// pulse width.
type injector struct {
	law       *flowLaw
	grams     unit.Conversion
	offset    *reading
	offsetMS  unit.Conversion
	nonlinear *reading
	minPulse  *reading
	minMS     unit.Conversion
}

// newInjector reads a side's injector. It wants a flow; other members may be
// missing.
func (s *side) newInjector() (*injector, error) {
	t := s.member[tables.InjectorFlow]
	if t == nil {
		return nil, s.fault(nil, "there is no table of role %s", tables.InjectorFlow)
	}
	i := &injector{}
	var err error
	if i.law, err = s.newFlowLaw(t); err != nil {
		return nil, err
	}
	u, _ := unit.Parse(t.Unit())
	grams, _ := unit.Parse("g/s")
	if i.grams, err = unit.Flow(u, grams, s.fluid); err != nil {
		return nil, s.fault(t, "%v", err)
	}
	if t := s.member[tables.InjectorOffset]; t != nil {
		if i.offset, err = s.newReading(t); err != nil {
			return nil, err
		}
		i.offsetMS, _ = unit.Find(t.Unit(), "ms")
	}
	if t := s.member[tables.InjectorNonlinear]; t != nil {
		if i.nonlinear, err = s.newReading(t); err != nil {
			return nil, err
		}
	}
	if t := s.member[tables.InjectorMinPulse]; t != nil {
		if i.minPulse, err = s.newReading(t); err != nil {
			return nil, err
		}
		i.minMS, _ = unit.Find(t.Unit(), "ms")
	}
	return i, nil
}

// with is the side with other tables in the group, quiet about what it uses.
func (s *side) with(members []Member) *side {
	c := *s
	c.notes = &notes{}
	c.member = maps.Clone(s.member)
	for _, m := range members {
		c.member[m.Role] = m.After
	}
	return &c
}

// flow is in g/s, which is mg/ms. A curve is held past its ends, as the
// controller does; a scalar follows the square-root law, as the injector does.
func (i *injector) flow(dp float64) float64 {
	v, origin := i.law.at(dp)
	if origin == Inferred && i.law.scale != nil {
		c, _ := i.law.scale.coordinate(dp)
		v, _, _ = interp.At(i.law.t, c, 0, interp.Hold)
	}
	return i.grams.Apply(v)
}

// offsetAt is in ms; 0 where there is no table.
func (i *injector) offsetAt(p place) float64 {
	if i.offset == nil {
		return 0
	}
	v, _ := i.offset.at(p)
	return i.offsetMS.Apply(v)
}

// minimum is the shortest pulse in ms; NaN where there is no table.
func (i *injector) minimum(p place) float64 {
	if i.minPulse == nil {
		return math.NaN()
	}
	v, _ := i.minPulse.at(p)
	return i.minMS.Apply(v)
}

// pulse is the commanded pulse for a fuel mass in mg, and the effective part of
// it, in ms: fuel/flow, corrected below the linear range, plus the offset.
func (i *injector) pulse(fuel float64, p place) (total, effective float64) {
	effective = fuel / i.flow(p[pressure])
	corrected := effective
	if i.nonlinear != nil {
		p[pulse] = effective
		v, _ := i.nonlinear.at(p)
		corrected = i.correct(effective, v)
	}
	return corrected + i.offsetAt(p), effective
}

func (i *injector) correct(effective, v float64) float64 {
	return engine.Corrected(i.nonlinear.t.Unit(), effective, v)
}

// linearFrom is the effective pulse in ms from which nothing is corrected; NaN
// where there is no table, or one that corrects to its end.
func (i *injector) linearFrom() float64 {
	if i.nonlinear == nil {
		return math.NaN()
	}
	t := i.nonlinear.t
	for _, a := range []struct {
		sc *scale
		at func(k, line int) float64
		n  int
	}{
		{i.nonlinear.x, func(k, line int) float64 { return t.At(line, k) }, t.Rows()},
		{i.nonlinear.y, func(k, line int) float64 { return t.At(k, line) }, t.Columns()},
	} {
		if a.sc == nil || a.sc.kind != pulse {
			continue
		}
		last := -1
		for k := range a.sc.at {
			for line := range a.n {
				if i.correct(1, a.at(k, line)) != 1 {
					last = k
				}
			}
		}
		if last+1 < len(a.sc.at) {
			return a.sc.at[last+1]
		}
	}
	return math.NaN()
}

// grounds says in words which correction convention the report used.
func (i *injector) grounds() string {
	if i == nil || i.nonlinear == nil {
		return ""
	}
	u, _ := unit.Parse(i.nonlinear.t.Unit())
	switch {
	case u.Dimension() == unit.Time:
		return "added to the effective pulse"
	case u.Name() == "%":
		return "a share added to the effective pulse"
	}
	return "a factor on the effective pulse"
}
