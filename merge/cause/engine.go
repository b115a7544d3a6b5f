package cause

import (
	"fmt"
	"math"

	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// engine is what of a calibration the causes need, bound for use, with what
// was assumed where it is silent.
type engine struct {
	offset            *lookup.Table // nil where the calibration has none
	offsetUnit        unit.Conversion
	flow              *lookup.Table
	flowUnit          unit.Conversion
	minPulse          float64 // ms; 0 where none
	shortest          float64 // ms of effective pulse, below which flow is not linear; 0 where none
	rail              lookup.Rail
	railGiven         bool
	strokes, pulses   int
	injectors         float64 // 0 where not known
	cylinders         float64 // 0 where not known
	volume            float64 // L; 0 where not known
	stoich            float64
	stoichGiven       bool
	meter, efficiency bool
	boost             bool // the calibration has breakpoints in boost
	said              []string
}

// What stands for a fact that neither the calibration nor the log gives.
const (
	usualRail      = 300.0 // kPa over the manifold; common practice, no source
	usualBarometer = 101.325
	usualStoich    = 14.7
	mostRail       = 1000.0 // kPa: above it is direct injection
)

func newEngine(c *tables.Calibration) (*engine, error) {
	e := &engine{strokes: 4, pulses: 1, stoich: usualStoich, rail: lookup.Rail{Pressure: usualRail, RelativeTo: tables.Manifold}}
	if err := e.facts(c.Engine()); err != nil {
		return nil, err
	}
	if err := e.bindInjector(c); err != nil {
		return nil, err
	}
	e.meter = len(c.ByRole(tables.AirMeter)) > 0
	e.efficiency = len(c.ByRole(tables.AirVolumetricEfficiency)) > 0
	for _, t := range c.Tables() {
		for _, a := range []*tables.Axis{t.X(), t.Y()} {
			if a == nil || a.Quantity() != tables.ManifoldPressure {
				continue
			}
			if points, err := lookup.Points(a); err == nil && points[len(points)-1] > 115 {
				e.boost = true
			}
		}
	}
	return e, nil
}

func (e *engine) say(format string, args ...any) {
	e.said = append(e.said, fmt.Sprintf(format, args...))
}

func (e *engine) facts(f *tables.Engine) error {
	if f == nil {
		f = &tables.Engine{}
	}
	if f.Strokes > 0 {
		e.strokes = f.Strokes
	}
	if f.PulsesPerCycle > 0 {
		e.pulses = f.PulsesPerCycle
	}
	e.cylinders, e.injectors = float64(f.Cylinders), float64(f.Injectors)
	if e.injectors == 0 {
		e.injectors = e.cylinders
	}
	if f.StoichAFR > 0 {
		e.stoich, e.stoichGiven = f.StoichAFR, true
	}
	if f.Displacement != nil {
		v, err := unit.Convert(f.Displacement.Value, f.Displacement.Unit, "L")
		if err != nil {
			return fmt.Errorf("engine displacement: %w", err)
		}
		e.volume = v
	}
	if f.RailPressure == nil {
		e.say("the calibration gives no rail pressure: %g kPa over the manifold assumed", usualRail)
		return nil
	}
	var err error
	if e.rail, err = lookup.NewRail(f.RailPressure); err != nil {
		return fmt.Errorf("engine %w", err)
	}
	e.railGiven = true
	if e.rail.Pressure > mostRail {
		return fmt.Errorf("engine rail_pressure is %.0f kPa, expected at most %.0f kPa: only port injection is supported", e.rail.Pressure, mostRail)
	}
	return nil
}

func (e *engine) bindInjector(c *tables.Calibration) error {
	var err error
	if t := first(c, tables.InjectorOffset); t != nil {
		if e.offset, err = lookup.Bind(t); err != nil {
			return err
		}
		if e.offsetUnit, err = unit.Find(t.Unit(), "ms"); err != nil {
			return fmt.Errorf("table %s: %w", t.ID(), err)
		}
	}
	if t := first(c, tables.InjectorFlow); t != nil {
		if e.flow, err = lookup.Bind(t); err != nil {
			return err
		}
		if e.flowUnit, _, err = lookup.FlowUnit(t.Unit(), c.Engine()); err != nil {
			return fmt.Errorf("table %s: %w", t.ID(), err)
		}
	}
	if t := first(c, tables.InjectorMinPulse); t != nil && t.X() == nil {
		if e.minPulse, err = unit.Convert(t.Values()[0], t.Unit(), "ms"); err != nil {
			return fmt.Errorf("table %s: %w", t.ID(), err)
		}
	}
	if t := first(c, tables.InjectorNonlinear); t != nil && t.X() != nil && t.X().Quantity() == tables.EffectivePulse {
		points, err := lookup.Points(t.X())
		if err != nil {
			return fmt.Errorf("table %s: %w", t.ID(), err)
		}
		for j, p := range points {
			for i := range t.Rows() {
				if t.At(i, j) != 0 {
					e.shortest = p
				}
			}
		}
	}
	return nil
}

func first(c *tables.Calibration, role tables.Role) *tables.Table {
	if found := c.ByRole(role); len(found) > 0 {
		return found[0]
	}
	return nil
}

// offsetAt is the offset in ms; NaN where a quantity is missing or there is no
// table.
func (e *engine) offsetAt(at *lookup.Point) float64 {
	if e.offset == nil {
		return math.NaN()
	}
	return e.offsetUnit.Apply(e.offset.At(at))
}

// flowAt is an injector's flow by the table, mg/ms; NaN likewise.
func (e *engine) flowAt(at *lookup.Point) float64 {
	if e.flow == nil {
		return math.NaN()
	}
	return e.flowUnit.Apply(e.flow.At(at))
}

// gauge is the rail pressure over what it is held against, kPa.
func (e *engine) gauge() float64 {
	if e.rail.RelativeTo == tables.Absolute {
		return e.rail.Pressure - usualBarometer
	}
	return e.rail.Pressure
}
