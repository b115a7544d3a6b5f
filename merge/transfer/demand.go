package transfer

import (
	"context"
	"errors"
	"fmt"
	"math"

	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// FindDemand is the instant of a log at which the engine takes the most air, and
// so needs the most fuel. notes lists the assumptions.
func FindDemand(ctx context.Context, log *drivelog.Log, e *tables.Engine) (d Demand, notes []string, err error) {
	var engine tables.Engine
	if e != nil {
		engine = *e
	}
	columns := []string{"engine_speed", "air_flow"}
	flow := log.Has("air_flow")
	if !flow {
		columns[1] = "air_charge" // milligrams a cylinder and cycle, as wanted
		if !log.Has("air_charge") {
			return d, nil, errors.New(log.Name() + ": the highest demand wants air_flow or air_charge, and the log has neither: give --air-mass and --speed")
		}
	} else if engine.Cylinders == 0 {
		return d, nil, errors.New(log.Name() + ": the highest demand wants the recipient's engine cylinders, to share the air flow out")
	}
	strokes := engine.Strokes
	if flow && strokes == 0 {
		strokes = 4
		notes = append(notes, "4 strokes assumed, to share the log's air flow out")
	}
	at := map[string]int{}
	for _, name := range []string{"manifold_pressure", "battery", "lambda_commanded"} {
		if log.Has(name) {
			at[name] = len(columns)
			columns = append(columns, name)
		}
	}
	most := 0.0
	reading, err := log.Scan(ctx, drivelog.Query{Columns: columns}, func(f *drivelog.Frame) error {
		for i := range f.N {
			speed, air := f.Columns[0].Value[i], f.Columns[1].Value[i]
			grams := air // a second; for a charge, anything that goes with it
			if flow {
				air *= 1000 * 60 * float64(strokes) / 2 / (speed * float64(engine.Cylinders))
			} else {
				grams *= speed
			}
			if !(speed > 0) || !(grams > most) || math.IsInf(air, 0) {
				continue
			}
			most = grams
			d = Demand{AirMass: air, Speed: speed, From: fmt.Sprintf("%s, line %d", log.Name(), f.Line[i])}
			for name, field := range map[string]*float64{"manifold_pressure": &d.Manifold, "battery": &d.Battery, "lambda_commanded": &d.Lambda} {
				if k, ok := at[name]; ok {
					if v := f.Columns[k].Value[i]; v > 0 {
						*field = v
					}
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
