package transfer

import (
	"context"
	"errors"
	"fmt"
	"math"

	"calsplice/interp/drive"
	"calsplice/interp/engine"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// airOf chooses the channel that tells an engine's air: a flow is measured, a charge
// often computed from it.
func airOf(log *drivelog.Log, facts engine.Facts, e *tables.Engine) (air drive.Channel, notes []string, err error) {
	switch measured := log.Has(drive.AirFlow.Name()); {
	case !measured && !log.Has(drive.Charge.Name()):
		return air, nil, errors.New(log.Name() + ": the highest demand needs air_flow or air_charge, and the log has neither: give --air-mass and --speed")
	case !measured:
		return drive.Charge, nil, nil
	case facts.Cylinders == 0:
		return air, nil, errors.New(log.Name() + ": the highest demand needs the recipient's engine cylinders, to share the air flow out")
	case e.Strokes == 0:
		notes = append(notes, "4 strokes assumed, to share the log's air flow out")
	}
	return drive.AirFlow, notes, nil
}

// FindDemand is the instant of a log at which the engine takes the most air, and
// so needs the most fuel. notes lists the assumptions.
//
// What is known at that instant alone is taken: a manifold pressure, voltage or
// commanded lambda of another one would describe an engine under no such load.
func FindDemand(ctx context.Context, log *drivelog.Log, e *tables.Engine) (d Demand, notes []string, err error) {
	facts, _ := engine.NewFacts(e) // a displacement that cannot be read is not needed here
	air, notes, err := airOf(log, facts, e)
	if err != nil {
		return d, nil, err
	}
	columns := drive.Ask(log.Has, drive.Speed, air, drive.Manifold, drive.Battery, drive.Commanded)
	most := 0.0
	reading, err := log.Scan(ctx, drivelog.Query{Columns: columns.Names}, func(f *drivelog.Frame) error {
		columns.Take(f)
		for i := range f.N {
			now := columns.At(i)
			// What goes with the air of all cylinders in a second, and the air of one in a cycle.
			speed, all, mg := now[drive.Speed], now[air], now[air]
			if air == drive.Charge {
				all *= speed
			} else {
				mg = 1000 * mg / (facts.Cycles(speed) * facts.Cylinders)
			}
			// A speed of 0 makes an infinite charge of any flow, and is no running engine.
			if !(speed > 0) || !(all > most) || math.IsInf(mg, 0) {
				continue
			}
			most = all
			d = Demand{AirMass: mg, Speed: speed, From: fmt.Sprintf("%s, line %d", log.Name(), f.Line[i])}
			for k, field := range map[drive.Channel]*float64{drive.Manifold: &d.Manifold, drive.Battery: &d.Battery, drive.Commanded: &d.Lambda} {
				if now[k] > 0 {
					*field = now[k]
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
