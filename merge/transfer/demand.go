package transfer

import (
	"context"
	"errors"
	"fmt"
	"math"

	"calsplice/interp/engine"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// airReading is how a channel of a log tells an engine's air.
type airReading struct {
	channel string
	total   func(v, speed float64) float64 // goes with the air of all cylinders in a second
	charge  func(v, speed float64) float64 // mg a cylinder and cycle
}

// airOf chooses the channel: a flow is measured, a charge often computed from it.
func airOf(log *drivelog.Log, e *tables.Engine) (a airReading, notes []string, err error) {
	facts, _ := engine.NewFacts(e) // a displacement that cannot be read is not needed here
	switch {
	case log.Has("air_flow") && facts.Cylinders == 0:
		return a, nil, errors.New(log.Name() + ": the highest demand needs the recipient's engine cylinders, to share the air flow out")
	case log.Has("air_flow"):
		if e.Strokes == 0 {
			notes = append(notes, "4 strokes assumed, to share the log's air flow out")
		}
		return airReading{"air_flow", func(v, _ float64) float64 { return v },
			func(v, speed float64) float64 { return 1000 * v / (facts.Cycles(speed) * facts.Cylinders) }}, notes, nil
	case log.Has("air_charge"):
		return airReading{"air_charge", func(v, speed float64) float64 { return v * speed }, func(v, _ float64) float64 { return v }}, nil, nil
	}
	return a, nil, errors.New(log.Name() + ": the highest demand needs air_flow or air_charge, and the log has neither: give --air-mass and --speed")
}

// FindDemand is the instant of a log at which the engine takes the most air, and
// so needs the most fuel. notes lists the assumptions.
//
// What is known at that instant alone is taken: a manifold pressure, voltage or
// commanded lambda of another one would describe an engine under no such load.
func FindDemand(ctx context.Context, log *drivelog.Log, e *tables.Engine) (d Demand, notes []string, err error) {
	air, notes, err := airOf(log, e)
	if err != nil {
		return d, nil, err
	}
	columns, into := []string{"engine_speed", air.channel}, []*float64{nil, nil}
	for _, c := range []struct {
		name  string
		field *float64
	}{{"manifold_pressure", &d.Manifold}, {"battery", &d.Battery}, {"lambda_commanded", &d.Lambda}} {
		if log.Has(c.name) {
			columns, into = append(columns, c.name), append(into, c.field)
		}
	}
	most := 0.0
	reading, err := log.Scan(ctx, drivelog.Query{Columns: columns}, func(f *drivelog.Frame) error {
		for i := range f.N {
			speed, v := f.Columns[0].Value[i], f.Columns[1].Value[i]
			// A speed of 0 makes an infinite charge of any flow, and is no running engine.
			mg := air.charge(v, speed)
			if !(speed > 0) || !(air.total(v, speed) > most) || math.IsInf(mg, 0) {
				continue
			}
			most = air.total(v, speed)
			d = Demand{AirMass: mg, Speed: speed, From: fmt.Sprintf("%s, line %d", log.Name(), f.Line[i])}
			for k, field := range into {
				if v := f.Columns[k].Value[i]; field != nil && v > 0 {
					*field = v
				}
			}
		}
		return nil
	})
	if err != nil {
		return d, notes, err
	}
	notes = append(notes, reading.Notes...)
	if most == 0 {
		return d, notes, errors.New(log.Name() + ": no instant has both engine speed and air, so that no demand is known")
	}
	return d, notes, nil
}
