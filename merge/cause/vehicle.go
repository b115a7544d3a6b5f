package cause

import (
	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// vehicle is what of a calibration the causes need, bound for use, with what was
// assumed where it is silent.
type vehicle struct {
	engine.Facts
	*engine.Injector
	meter, efficiency bool
	boost             bool // the calibration has breakpoints in boost
	notes             tables.Notes
}

// newVehicle binds a calibration's injector and facts. A table that cannot be computed with
// is an error here: a cause found by half of an injector would be a wrong one.
func newVehicle(c *tables.Calibration) (*vehicle, error) {
	facts, err := engine.NewFacts(c.Engine())
	if err != nil {
		return nil, err
	}
	injector, err := engine.NewInjector(c)
	if err != nil {
		return nil, err
	}
	if len(injector.Faults) > 0 {
		return nil, injector.Faults[0]
	}
	e := &vehicle{Facts: facts, Injector: injector, meter: len(c.ByRole(tables.AirMeter)) > 0, efficiency: len(c.ByRole(tables.AirVolumetricEfficiency)) > 0}
	if !e.RailGiven {
		e.notes.Addf("the calibration gives no rail pressure: %g kPa over the manifold assumed", engine.UsualRail)
	}
	for _, t := range c.Tables() {
		if k := t.Axes().Of(tables.ManifoldPressure); k >= 0 {
			points, err := lookup.Points(t.Axes()[k])
			e.boost = e.boost || err == nil && points[len(points)-1] > 115
		}
	}
	return e, nil
}

// gauge is the rail pressure over what it is held against, kPa.
func (e *vehicle) gauge() float64 {
	if e.Rail.RelativeTo == tables.Absolute {
		return e.Rail.Pressure - unit.Atmosphere
	}
	return e.Rail.Pressure
}
