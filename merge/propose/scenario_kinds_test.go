package propose_test

import (
	"math"

	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// kind is a kind of fault, and how it is put into an engine that can have it.
type kind struct {
	name  string
	needs needs
	put   func(s *Scenario, d draw)
}

// kinds are the scenarios of a set in turn. What the figures count apart (flow
// faults, healthy engines, what is driven on a mixed road) is there often enough
// to be counted.
var kinds = []kind{
	{"healthy", anything, healthy}, {"healthy", onRoad, healthy}, {"healthy", computed, healthy},
	{"healthy", meter, healthy}, {"healthy", banks, healthy}, {"healthy", hose, healthy},
	{"flow", anything, flow}, {"flow", onRoad, flow}, {"flow", onRoad | meter, flow}, {"flow", onRoad | computed, flow},
	{"flow", onRoad | banks, flow}, {"flow", onRoad | hose, flow}, {"flow", axis, flow}, {"flow", anything, flow},
	{"offset", onRoad, offset}, {"offset", onRoad | meter, offset}, {"offset", onRoad | computed, offset}, {"offset", anything, offset},
	{"leak", onRoad | meter, leak}, {"leak", onRoad | meter | hose, leak}, {"leak", onRoad | meter, leak}, {"leak", meter, leak},
	{"hose off", onRoad | hose, hoseOff}, {"hose off", onRoad | hose | meter, hoseOff}, {"hose off", hose, hoseOff},
	{"references differ", onRoad | hose | axis, referenced}, {"references differ", onRoad | hose | axis, referenced}, {"references differ", hose | axis, referenced},
	{"supply", onRoad, supply}, {"supply", onRoad | computed, supply}, {"supply, rail logged", onRoad, supplyLogged}, {"supply, rail logged", onRoad | meter, supplyLogged},
	{"air meter", onRoad | meter, airMeter}, {"air meter", onRoad | meter, airMeter}, {"air meter", onRoad | meter, airMeter}, {"air meter", meter, airMeter},
	{"efficiency", onRoad | computed, efficiency}, {"efficiency", onRoad | computed, efficiency}, {"efficiency", onRoad | computed | hose, efficiency}, {"efficiency", computed, efficiency},
	{"bank", onRoad | banks, bank}, {"bank", onRoad | banks | computed, bank}, {"bank", banks, bank},
	// Two faults at once, of which one alone would be a wrong name.
	{"flow and leak", onRoad | meter, both(flow, leak)}, {"flow and leak", onRoad | meter | axis, both(flow, leak)},
	{"flow and supply", onRoad, both(flow, supplyLogged)}, {"flow and supply", onRoad, both(flow, supply)},
	{"flow and offset", onRoad, both(flow, offset)}, {"flow and offset", onRoad | computed, both(flow, offset)},
	{"offset and leak", onRoad | meter, both(offset, leak)}, {"hose and flow", onRoad | hose, both(hoseOff, flow)},
	{"appears", meter, appears(leak)}, {"appears", hose, appears(hoseOff)}, {"appears", onRoad, appears(flow)}, {"appears", onRoad | hose, appears(hoseOff)},
	{"purge, not logged", anything, purge(false)}, {"purge, not logged", onRoad, purge(true)}, {"purge, not logged", onRoad | meter, purge(false)},
	{"exhaust leak", onRoad, exhaustLeak}, {"hunting and leak", onRoad | meter, huntingLeak}, {"pulsation", onRoad | meter, pulsation},
	{"warm-up fuel", onRoad, warmUp}, {"warm-up fuel", onRoad | meter, warmUp},
	// What no trim tells from flow: the name flow-scale is right, and what stands
	// behind it is for other tests.
	{"sensor bias", anything, sensorBias}, {"fuel", onRoad, fuel}, {"gain", onRoad | meter, gain}, {"rail pressure", onRoad, railPressure}, {"flow", onRoad | axis, flow},
	{"healthy", anything, roughly("none")}, {"flow", anything, roughly("flow-scale")}, {"offset", anything, roughly("injector-offset")},
	{"leak", anything, roughly("unmetered-air")}, {"references differ", anything, roughly("pressure-reference")}, {"supply", anything, roughly("supply-limit")},
	{"air meter", anything, roughly("air-meter")}, {"efficiency", anything, roughly("volumetric-efficiency")}, {"bank", anything, roughly("bank-difference")},
}

func healthy(*Scenario, draw) {}

// is adds a cause to the truth, with the role that holds it.
func (s *Scenario) is(cause string, role ...tables.Role) {
	s.Truth.Causes = append(s.Truth.Causes, cause)
	for _, r := range role {
		s.Truth.Tables = append(s.Truth.Tables, string(r))
	}
}

func flow(s *Scenario, d draw) {
	error := sign(d.varies) * between(d.varies, 0.03, 0.14)
	// The part is right and the table is not: the trims give the error back, turned
	// round, wherever the engine goes.
	s.scaled("injector.flow", 1+error, 0)
	s.Truth.Flow = 100 * error
	s.is("flow-scale", tables.InjectorFlow, tables.InjectorOffset)
	s.say("flow table %+.1f %%", 100*error)
}

func offset(s *Scenario, d draw) {
	ms := sign(d.varies) * between(d.varies, 0.06, 0.22)
	// Likewise. Its share of a pulse grows as pulses get short, which is how it shows.
	s.scaled("injector.offset", 1, -ms)
	s.Truth.Offset = ms
	s.is("injector-offset", tables.InjectorOffset, tables.InjectorFlow)
	s.say("offset true %+.3f ms", ms)
}

// leak is a share of the air at idle, some 1.5 g/s for each litre.
func leak(s *Scenario, d draw) {
	s.Truth.Leak = s.litres * 1.5 * between(d.varies, 0.05, 0.18)
	s.plant.Fault.Leak = s.Truth.Leak
	s.is("unmetered-air")
	s.say("leak %.2f g/s", s.Truth.Leak)
}

func hoseOff(s *Scenario, _ draw) {
	s.plant.Fault.HoseOff = true
	s.is("pressure-reference")
	s.say("hose off")
}

// referenced is a calibration whose rail is against the atmosphere while the
// engine's follows the manifold, as both go by the same number.
func referenced(s *Scenario, _ draw) {
	e := *s.Cal.Engine()
	rail := *e.RailPressure
	rail.RelativeTo = tables.Atmosphere
	e.RailPressure = &rail
	c := s.Cal.Contents()
	c.Engine = &e
	s.Cal = testdrive.Must(tables.NewCalibration(c))
	s.is("pressure-reference")
	s.say("the calibration's rail against the atmosphere")
}

// supply is a pump that fails within what closed loop asks for, which is 1.2 g/s
// for each litre at most where a van of that engine's size is driven.
func supply(s *Scenario, d draw) {
	limit := s.litres * between(d.varies, 0.65, 0.95) * (1 + s.boost/300)
	s.plant.Fault.SupplyLimit = limit
	// A pump that gives out at once would end the drive. These lose pressure slowly: a
	// tenth more fuel than their limit costs 4 % of it, or 2.5 %.
	s.plant.Fault.SupplySlope = one(d.stays, 0.4, 0.25)
	if s.fresh && d.stays.IntN(2) == 0 {
		s.plant.Fault.SupplyLimit = 0
		s.plant.Fault.Restriction = 25 / (limit * limit)
		s.say("line takes 25 kPa at %.2f g/s", limit)
	} else {
		s.say("supply to %.2f g/s, then × %v", limit, s.plant.Fault.SupplySlope)
	}
	if !s.options.RailSensor {
		// Fuel that runs short and a meter that reads low at high flow look the same to
		// every sensor but one in the rail.
		s.Truth.Apart = "supply without a rail pressure"
	}
	s.is("supply-limit")
}

func supplyLogged(s *Scenario, d draw) {
	s.options.RailSensor = true
	supply(s, d)
}

// meterShapes bend a meter, by the place between low and high flow (0 to 1, on a
// logarithmic scale) and by the share of high flow; those of the fresh set apart.
var meterShapes = map[bool][]func(u, share float64) float64{
	false: {
		func(_, share float64) float64 { return min(1.3, share) }, // wrong as the flow rises
		func(u, _ float64) float64 { return clip(1 - 1.6*u) },     // wrong at low flow
		func(u, _ float64) float64 { return bell(u, 0.5, 0.3) },   // a broad hump
	},
	true: {
		func(u, _ float64) float64 { return 1 - 2*math.Abs(clip(u)-0.5)*2 },    // wrong at both ends
		func(u, _ float64) float64 { return 1 / (1 + math.Exp(-12*(u-0.45))) }, // a step
		func(u, _ float64) float64 { return bell(u, 0.55, 0.18) },              // a notch
	},
}

// airMeter bends the meter's answer. Chosen and fresh bend it in different ways.
func airMeter(s *Scenario, d draw) {
	size := sign(d.varies) * between(d.varies, 0.05, 0.13)
	top := s.litres * 14 // g/s, about the most that closed loop meets
	low := s.litres * 1.4
	shape := d.stays.IntN(3)
	bent := meterShapes[s.fresh][shape]
	s.plant.Fault.MeterError = func(v float64) float64 { return size * bent(math.Log(v/low)/math.Log(top/low), v/top) }
	// The same the other way round: a meter that reads low as flow rises.
	if rises := shape == 0 && !s.fresh || shape == 1 && s.fresh; rises && size < 0 && !s.options.RailSensor {
		s.Truth.Apart = "meter low at high flow without a rail pressure"
	}
	s.is("air-meter", tables.AirMeter)
	s.say("meter shape %d, %+.1f %%", shape, 100*size)
}

func clip(v float64) float64 { return min(1, max(0, v)) }

func bell(v, at, wide float64) float64 { return math.Exp(-math.Pow((v-at)/wide, 2)) }

// efficiency is a volumetric efficiency unlike the table's at some places.
func efficiency(s *Scenario, d draw) {
	size := sign(d.varies) * between(d.varies, 0.06, 0.13)
	shape := d.stays.IntN(3)
	speed, pressure := between(d.stays, 1500, 2600), between(d.stays, 40, 60)
	f := map[bool][]func(n, p float64) float64{
		false: {
			func(n, _ float64) float64 { return bell(n, speed, 400) },                         // a dip over speed
			func(n, p float64) float64 { return bell(n, speed, 600) * bell(p, pressure, 22) }, // one place
			func(n, p float64) float64 { return bell(n, speed, 400) - 0.5*clip((p-40)/40) },   // a dip in speed and a tilt in pressure
		},
		true: {
			func(n, p float64) float64 { return bell(n, speed, 350)*bell(p, pressure, 18) - bell(n, 820, 250) }, // two places
			func(_, p float64) float64 { return clip((p-30)/50) - 0.3 },                                         // a tilt in pressure
			func(n, _ float64) float64 { return 1 / (1 + math.Exp(-(n-speed)/120)) },                            // cam timing: from a speed on
		},
	}[s.fresh][shape]
	s.plant.Fault.Efficiency = func(n, p float64) float64 { return size * f(n, p) }
	s.is("volumetric-efficiency", tables.AirVolumetricEfficiency)
	s.say("efficiency shape %d, %+.1f %% about %.0f r/min, %.0f kPa", shape, 100*size, speed, pressure)
}

func bank(s *Scenario, d draw) {
	s.plant.Fault.Bank2 = sign(d.varies) * between(d.varies, 0.05, 0.12)
	s.is("bank-difference")
	s.say("bank 2 %+.1f %%", -100*s.plant.Fault.Bank2)
}

func both(a, b func(*Scenario, draw)) func(*Scenario, draw) {
	return func(s *Scenario, d draw) {
		a(s, d)
		b(s, d)
	}
}

// appears is a fault that comes between a third and two thirds of the drive.
func appears(put func(*Scenario, draw)) func(*Scenario, draw) {
	return func(s *Scenario, d draw) {
		put(s, d)
		later := s.plant.Fault
		// A table does not change in the midst of a drive.
		if s.Truth.Flow != 0 { // of the part, then, and not of the table
			s.Cal = s.plant.Truth
			later.FlowScale = 1 / (1 + s.Truth.Flow/100)
		}
		s.plant.Fault, s.plant.Later = testdrive.Fault{}, &later
		// Long enough before and after that either half could be judged by itself.
		s.plant.LaterAt = s.options.Minutes * between(d.varies, 0.34, 0.66)
		s.Truth.Changes, s.Truth.Tables = true, nil
		s.say("from minute %.1f", s.plant.LaterAt)
	}
}

// purge takes the purge channel away.
func purge(steady bool) func(*Scenario, draw) {
	return func(s *Scenario, d draw) {
		o := &s.options
		o.Purge, o.PurgeSteady = !steady, steady
		o.Vapour = s.litres * between(d.varies, 0.012, 0.05)
		// A valve that opens now and then is seen in a part of the time, and has to carry
		// more for the same effect.
		if !steady {
			o.Vapour *= 2
		}
		o.Without = append(o.Without, "purge")
		s.Truth.Doubt = true
		s.say("purge %.3f g/s, steady %v", o.Vapour, steady)
	}
}

func exhaustLeak(s *Scenario, d draw) {
	s.plant.Fault.ExhaustLeak = between(d.varies, 0.06, 0.15)
	s.Truth.Doubt, s.Truth.Also = true, []string{"unmetered-air"}
	s.say("exhaust leak %.1f %%", 100*s.plant.Fault.ExhaustLeak)
}

func huntingLeak(s *Scenario, d draw) {
	leak(s, d)
	s.plant.Fault.Hunting = between(d.varies, 60, 180)
	s.Truth.Apart = "a leak under a hunting idle"
	s.say("idle hunts by %.0f r/min", s.plant.Fault.Hunting)
}

func pulsation(s *Scenario, d draw) {
	s.plant.Fault.Pulsation = sign(d.varies) * between(d.varies, 0.06, 0.14)
	s.Truth.Doubt = true
	s.say("pulsation %+.1f %%", 100*s.plant.Fault.Pulsation)
}

// warmUp is fuel too much or too little while a cold engine warms up, in a log
// without a coolant temperature.
func warmUp(s *Scenario, d draw) {
	s.plant.Fault.WarmUp = sign(d.varies) * between(d.varies, 0.08, 0.3)
	s.options.Cold, s.options.Before = true, 0
	s.options.Without = append(s.options.Without, "coolant")
	s.Truth.Doubt = true
	s.say("warm-up fuel %+.1f %%", 100*s.plant.Fault.WarmUp)
}

func (s *Scenario) byNature() {
	s.is("flow-scale", tables.InjectorFlow, tables.InjectorOffset)
	s.Truth.Nature = true
}

func sensorBias(s *Scenario, d draw) {
	s.plant.Fault.SensorBias = sign(d.varies) * between(d.varies, 0.03, 0.06)
	s.byNature()
	s.say("sensor %+.1f %% lean", 100*s.plant.Fault.SensorBias)
}

func fuel(s *Scenario, d draw) {
	// Petrol with some ethanol, more, and much: the engine wants more fuel of it
	// everywhere, which is a flow error to whoever sees trims.
	s.plant.Stoich = one(d.varies, 14.1, 13.8, 13.4)
	s.byNature()
	s.say("fuel of %v", s.plant.Stoich)
}

func gain(s *Scenario, d draw) {
	share := sign(d.varies) * between(d.varies, 0.03, 0.08)
	s.plant.Fault.MeterError = func(float64) float64 { return share }
	s.byNature()
	// One factor on the air is one factor on the fuel.
	s.Truth.Also, s.Truth.Tables = []string{"air-meter"}, append(s.Truth.Tables, string(tables.AirMeter))
	s.say("meter gain %+.1f %%", 100*share)
}

// railPressure is a regulator that holds another pressure than the calibration's:
// trims cannot tell it from flow, a logged pressure can.
func railPressure(s *Scenario, d draw) {
	rail := *s.plant.Truth.Engine().RailPressure
	// Flow goes with the root of the pressure, so that 8 to 16 % of it are half as
	// much in the trims.
	rail.Value *= 1 - sign(d.varies)*between(d.varies, 0.08, 0.16)
	s.plant.Fault.Rail = &rail
	if s.options.RailSensor {
		s.Truth.Doubt, s.Truth.Also = true, []string{"pressure-reference", "supply-limit"}
	} else {
		s.byNature()
	}
	s.say("rail really %.0f kPa", rail.Value)
}
