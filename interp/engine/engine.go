// Package engine is the engine that the arithmetic of transfer, causes and
// proposals shares: its facts with what stands for those that nobody gave, its
// injectors, bound for reading at an operating point, and the air that flows through
// a leak.
//
// It promises one meaning to each fact: a rail pressure, a minimum pulse or a
// linear range is read here and nowhere else. It leaves out what is judged
// about them, and every number that a log measures.
package engine

import (
	"cmp"
	"fmt"
	"math"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// What stands for a fact that neither calibration nor log gives.
const (
	UsualRail    = 300.0 // kPa over the manifold; common practice, no source
	usualStrokes = 4
	UsualStoich  = 14.7 // petrol; common practice, no source
)

// Facts are those about an engine that computation needs. A count or measure
// of 0 is not known; strokes, pulses and the ratio then hold what is usual.
type Facts struct {
	Strokes     float64
	Pulses      float64 // injections of an injector in one cycle
	Cylinders   float64
	Injectors   float64 // one a cylinder where not given
	Volume      float64 // of all cylinders, L
	Stoich      float64 // stoichiometric air/fuel ratio by mass
	StoichGiven bool
}

// NewFacts reads what a calibration says of its engine, which may be nothing.
func NewFacts(e *tables.Engine) (Facts, error) {
	if e == nil {
		e = &tables.Engine{}
	}
	f := Facts{Strokes: float64(cmp.Or(e.Strokes, usualStrokes)), Pulses: float64(cmp.Or(e.PulsesPerCycle, 1)),
		Cylinders: float64(e.Cylinders), Injectors: float64(cmp.Or(e.Injectors, e.Cylinders)),
		Stoich: cmp.Or(e.StoichAFR, UsualStoich), StoichGiven: e.StoichAFR > 0}
	if e.Displacement != nil {
		var err error
		if f.Volume, err = unit.Convert(e.Displacement.Value, e.Displacement.Unit, "L"); err != nil {
			return f, fmt.Errorf("engine displacement: %w", err)
		}
	}
	return f, nil
}

// Cycles is the number of engine cycles a second at a speed in r/min.
func (f *Facts) Cycles(speed float64) float64 { return speed / 30 / f.Strokes }

// Period is the time from one injection of an injector to its next, in ms.
func (f *Facts) Period(speed float64) float64 { return 1000 / (f.Cycles(speed) * f.Pulses) }

// OneSet refuses an engine of more injectors than cylinders: which of them opens
// when, and what each set delivers, is not modelled, and to treat them as one
// would give every number of the injectors wrong.
func OneSet(e *tables.Engine) error {
	if e == nil || e.Cylinders == 0 || e.Injectors <= e.Cylinders {
		return nil
	}
	return fmt.Errorf("engine has %d injectors for %d cylinders: two injectors a cylinder, or two sets, are not modelled (which of them opens when, and what each delivers), and one set cannot stand for both",
		e.Injectors, e.Cylinders)
}

// Orifice is the flow of air through a hole from the atmosphere into a manifold
// at a ratio of the two pressures, against the choked flow: 1 up to the critical
// ratio, falling to 0 at equal pressures, and negative in boost, when the hole
// leaks out (de Saint-Venant and Wantzel's compressible orifice).
func Orifice(ratio float64) float64 {
	if ratio > 1 {
		return -ratio * Orifice(1/ratio)
	}
	const gamma = 1.4 // ratio of the specific heats of air
	critical := math.Pow(2/(gamma+1), gamma/(gamma-1))
	if ratio <= critical {
		return 1
	}
	flow := func(r float64) float64 {
		return math.Sqrt(max(0, math.Pow(r, 2/gamma)-math.Pow(r, (gamma+1)/gamma)))
	}
	return flow(ratio) / flow(critical)
}
