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

// FindDemand is the instant of a log at which the engine takes the most air, and
// so needs the most fuel. notes lists the assumptions.
//
// What is known at that instant alone is taken: a manifold pressure, voltage or
// commanded lambda of another one would describe an engine under no such load.
func FindDemand(ctx context.Context, log *drivelog.Log, e *tables.Engine) (d Demand, notes []string, err error) {
	refuse := func(why string) (Demand, []string, error) { return d, notes, errors.New(log.Name() + ": " + why) }
	facts, _ := engine.NewFacts(e) // a displacement that cannot be read is not needed here
	// Of either channel: what goes with the air of all cylinders in a second, and
	// mg of air a cylinder and cycle.
	air, total, charge := "air_charge", func(v, speed float64) float64 { return v * speed }, func(v, _ float64) float64 { return v }
	if log.Has("air_flow") {
		air, total = "air_flow", func(v, _ float64) float64 { return v }
		charge = func(v, speed float64) float64 { return 1000 * v / (facts.Cycles(speed) * facts.Cylinders) }
		if facts.Cylinders == 0 {
			return refuse("the highest demand wants the recipient's engine cylinders, to share the air flow out")
		}
		if e.Strokes == 0 {
			notes = append(notes, "4 strokes assumed, to share the log's air flow out")
		}
	} else if !log.Has(air) {
		return refuse("the highest demand wants air_flow or air_charge, and the log has neither: give --air-mass and --speed")
	}
	columns, into := []string{"engine_speed", air}, []*float64{nil, nil}
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
			mg := charge(v, speed)
			if !(speed > 0) || !(total(v, speed) > most) || math.IsInf(mg, 0) {
				continue
			}
			most = total(v, speed)
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
		return refuse("no instant has both engine speed and air, so that no demand is known")
	}
	return d, notes, nil
}
