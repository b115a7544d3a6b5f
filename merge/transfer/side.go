package transfer

import (
	"cmp"
	"fmt"
	"slices"

	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// side is one of the two calibrations, with the facts that a transfer needs.
type side struct {
	whose  string // "donor" or "recipient"
	file   string // as the person named it, for errors
	cal    *tables.Calibration
	member map[tables.Role]*tables.Table
	rail   *lookup.Rail
	baro   float64 // kPa
	// fixed is what stands for an axis that a table lacks, as the person gave it.
	fixedPressure, fixedVoltage float64

	fuel  fluid
	fluid fluid // what its flow table is measured with

	notes *notes
}

// fluid is a fuel, or what stands for it on a flow bench: its density in kg/L, 0
// where not known, and where that comes from.
type fluid struct {
	density float64
	from    string
}

func (f fluid) String() string { return tables.FormatValue(f.density) }

// notes gathers what the result rests on, each once, in the order of use.
type notes struct {
	assumed  []Assumption
	cautions tables.Notes
}

func (n *notes) assume(name, value, from string) {
	if a := (Assumption{name, value, from}); !slices.Contains(n.assumed, a) {
		n.assumed = append(n.assumed, a)
	}
}

// fault is an error about one of the side's tables, or about the whole side
// where t is nil.
func (s *side) fault(t *tables.Table, format string, args ...any) *tables.Fault {
	f := &tables.Fault{File: s.file, What: fmt.Sprintf(format, args...)}
	if t != nil {
		f.Path = "table " + t.ID()
	}
	return f
}

// refuse ends what is computed, since something of one of the side's tables, or of the
// whole side, is missing or contradicts itself: [attempt] has the fault.
func (s *side) refuse(t *tables.Table, format string, args ...any) {
	panic(s.fault(t, format, args...))
}

// need refuses a table for an error.
func (s *side) need(t *tables.Table, err error) {
	if err != nil {
		s.refuse(t, "%v", err)
	}
}

// attempt computes something, and gives what was refused; nil where nothing was.
func attempt(f func()) (refused *tables.Fault) {
	defer func() {
		switch r := recover().(type) {
		case nil:
		case *tables.Fault:
			refused = r
		default:
			panic(r)
		}
	}()
	f()
	return nil
}

// newSide reads what one calibration says.
func newSide(whose, file string, cal *tables.Calibration, density float64, flag string, n *notes) (*side, tables.Faults) {
	s := &side{whose: whose, file: file, cal: cal, member: map[tables.Role]*tables.Table{}, notes: n}
	if s.file == "" {
		s.file = whose
	}
	if cal.Kind() != tables.Calibrated {
		return s, tables.Faults{s.fault(nil, "this holds cell averages, expected a calibration")}
	}
	var faults tables.Faults
	// All faults of a side are gathered before any is reported: whoever mends a file
	// wants to read the whole list once.
	if err := engine.OneSet(cal.Engine()); err != nil {
		faults = append(faults, s.fault(nil, "%v", err))
	}
	for _, role := range tables.InjectorGroup {
		list := cal.ByRole(role)
		if len(list) > 1 {
			faults = append(faults, s.fault(list[1], "a second table of role %s (%s is the first): two sets of injectors are not modelled; where there is one, give the other table another role", role, list[0].ID()))
		}
		if len(list) > 0 {
			s.member[role] = list[0]
		}
	}
	if f := s.readRail(); f != nil {
		faults = append(faults, f)
	}
	if f := s.readFuel(density, flag); f != nil {
		faults = append(faults, f)
	}
	return s, faults
}

func (s *side) engine() *tables.Engine { return cmp.Or(s.cal.Engine(), &tables.Engine{}) }

func (s *side) readRail() *tables.Fault {
	p := s.engine().RailPressure
	if p == nil {
		return nil
	}
	r, err := lookup.NewRail(p)
	if err != nil {
		return s.fault(nil, "engine %v", err)
	}
	s.rail = &r
	return nil
}

func (s *side) readFuel(given float64, flag string) *tables.Fault {
	switch d := s.engine().FuelDensity; {
	case given > 0:
		s.fuel = fluid{given, flag}
	case d != nil:
		v, err := unit.Convert(d.Value, d.Unit, "kg/L")
		if err != nil {
			return s.fault(nil, "engine fuel_density: %v", err)
		}
		s.fuel = fluid{v, s.whose + "'s document"}
	}
	s.fluid = s.fuel
	return nil
}

// useRail is the rail pressure, noted as used; where there is none, what for is refused.
func (s *side) useRail(t *tables.Table, quantity string) lookup.Rail {
	if s.rail == nil {
		s.refuse(t, "its axis of %s tells no differential pressure without the rail pressure: give the %s's engine rail_pressure", quantity, s.whose)
	}
	// A gauge unit for an absolute pressure, or the other way round, was refused with
	// it: one of the two words is wrong, by 100 kPa.
	words := map[tables.Reference]string{tables.Atmosphere: "relative to atmosphere", tables.Manifold: "relative to the manifold", tables.Absolute: "absolute"}
	p := s.engine().RailPressure
	s.notes.assume(s.whose+"'s rail pressure", fmt.Sprintf("%s %s %s", tables.FormatValue(p.Value), p.Unit, words[p.RelativeTo]), s.whose+"'s document")
	return *s.rail
}

// useBaro is the barometer, noted as used.
func (s *side) useBaro() float64 {
	if s.baro > 0 {
		s.notes.assume("barometer", tables.FormatValue(s.baro)+" kPa", "--barometer")
		return s.baro
	}
	// A barometer is needed only where a gauge pressure meets an absolute one, and is
	// noted only there: so an assumption that plays no part is not listed.
	s.notes.assume("barometer", "101.325 kPa", "assumed: standard atmosphere")
	return unit.Atmosphere
}

// fixedDelta is the differential pressure that does not change with the
// manifold: the one given, or that of a regulator that follows the manifold.
func (s *side) fixedDelta() (kPa float64, from string, ok bool) {
	if s.fixedPressure > 0 {
		return s.fixedPressure, "--pressure", true
	}
	if s.rail != nil && s.rail.RelativeTo == tables.Manifold {
		return s.rail.Pressure, s.whose + "'s rail pressure, relative to the manifold", true
	}
	return 0, "", false
}
