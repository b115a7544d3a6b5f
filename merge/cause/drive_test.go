package cause

import (
	"fmt"
	"math"
	"math/rand/v2"

	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// faulty is a calibration and the engine that it does not fit.
func faulty(fault Cause, random *rand.Rand) (*tables.Calibration, testdrive.Plant, string) {
	size := 0.04 + 0.16*random.Float64()
	sign := 1.0
	if random.IntN(2) == 0 {
		sign = -1
	}
	cal := testdrive.Four()
	plant := testdrive.Plant{}
	switch random.IntN(3) {
	case 0:
		cal = testdrive.Turbo()
		plant.Boost = 60
	case 1:
		if fault == FlowScale || fault == InjectorOffset || fault == BankDifference || fault == None || fault == PressureReference {
			cal = testdrive.Six()
			plant.Banks = 2
		}
	}
	if fault == BankDifference {
		plant.Banks = 2
	}
	plant.Truth = cal
	said := fmt.Sprintf("%.1f%% %s", 100*sign*size, cal.Name())
	switch fault {
	case FlowScale:
		plant.Fault.FlowScale = 1 + sign*size
	case InjectorOffset:
		plant.Fault.Offset = sign * size * 1.8
	case UnmeteredAir:
		plant.Fault.Leak = size * 3
	case PressureReference:
		if cal.Engine().RailPressure.RelativeTo == tables.Manifold {
			plant.Fault.HoseOff = true
		} else {
			plant.Fault.Rail = &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Manifold}
		}
	case SupplyLimit:
		plant.Fault.SupplyLimit = 1.2 + 1.2*random.Float64()
		said += fmt.Sprintf(" limit %.2f g/s", plant.Fault.SupplyLimit)
	case AirMeter:
		top := 50 + 20*random.Float64()
		kind := random.IntN(3)
		said += fmt.Sprintf(" kind %d", kind)
		plant.Fault.MeterError = func(q float64) float64 {
			switch kind {
			case 0:
				return -sign * size * q / top
			case 1:
				return -sign * size * (1 - 2*q/top)
			}
			u := math.Log(q / 10)
			return sign * size * math.Exp(-u*u)
		}
	case BankDifference:
		plant.Fault.Bank2 = sign * size
	}
	return cal, plant, said
}
