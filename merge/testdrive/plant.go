package testdrive

import (
	"cmp"
	"math"
	"slices"

	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/tables"
)

// Plant is an engine as it truly is.
type Plant struct {
	Truth     *tables.Calibration // what the parts really do, and the pressure really set
	Fault     Fault
	Banks     int     // 1 where 0; banks alternate over the cylinders
	Boost     float64 // kPa over the barometer at full throttle, from 3,300 r/min
	Barometer float64 // kPa; 98.5 where 0
	Mass      float64 // of the vehicle, kg; 1,750 where 0
	Stoich    float64 // stoichiometric air/fuel ratio of the fuel in the tank; the truth's where 0
	Later     *Fault  // replaces Fault at minute LaterAt of the log
	LaterAt   float64
	Knock     Knock // of one drive; nil: a margin over the true spark table
}

// Fault is what is wrong with an engine that no table should hide, or that one
// should mend. The zero Fault is a healthy engine.
type Fault struct {
	FlowScale    float64                       // true injector flow is this times the truth's; 0 is 1
	Offset       float64                       // ms on the true offset
	OffsetShape  func(volts float64) float64   // ms on the true offset, over voltage
	Leak         float64                       // unmetered air in g/s where the leak is choked
	HoseOff      bool                          // the regulator has lost the manifold: it holds against the atmosphere
	Rail         *tables.RailPressure          // the pressure really set, where it is not the truth's
	SupplyLimit  float64                       // total fuel in g/s past which the rail sags; 0 is none
	MeterError   func(airFlow float64) float64 // share by which the meter reads high at a true air flow in g/s
	Efficiency   func(speed, manifold float64) float64
	Bank2        float64 // share by which bank 2 gets less fuel than commanded
	Bank2From    float64 // g/s of total fuel from which on it gets less, all of it at twice that flow; 0 is everywhere
	SupplySlope  float64 // share of pressure lost for each share of fuel past SupplyLimit; 0.8 where 0
	Restriction  float64 // kPa of rail pressure lost at 1 g/s of total fuel, growing with its square
	SensorBias   float64 // share by which the lambda sensors that control read lean
	ExhaustLeak  float64 // share by which they read lean at 2 g/s of air, fading as the exhaust flows
	Pulsation    float64 // share by which the meter reads high at open throttle round 2,000 r/min
	WarmUp       float64 // share of fuel too much at 20 degC, none from 80 degC on
	Hunting      float64 // r/min by which the idle swings to each side
	OldFuel      float64 // degrees of knock margin lost at full charge
	SingleKnock  float64 // degrees of one knock event at high load, once in the drive
	SparkMissing float64 // degrees that the controller takes off the table for a reason of its own
}

// parts are what a calibration says of an engine, bound for reading: the truth of one, or
// what its controller takes for that.
type parts struct {
	*engine.Injector
	engine.Facts
	spark, fallback, efficiency *lookup.Table
	meter                       *curve // nil where air is not metered
}

func newParts(c *tables.Calibration) parts {
	return parts{Must(engine.NewInjector(c)), Must(engine.NewFacts(c.Engine())),
		bind(c, tables.SparkAdvance), bind(c, tables.SparkFallback), bind(c, tables.AirVolumetricEfficiency), meterCurve(c)}
}

// plant is a Plant made ready to run.
type plant struct {
	*Plant
	parts
	rail   lookup.Rail // as it is set, not as the truth has it
	volume float64     // L a cylinder
	wide   float64     // highest charge of the spark table, mg
}

func newPlant(p Plant) *plant {
	e := p.Truth.Engine()
	p.Banks, p.Barometer, p.Mass, p.Stoich = cmp.Or(p.Banks, 1), cmp.Or(p.Barometer, 98.5), cmp.Or(p.Mass, 1750), cmp.Or(p.Stoich, e.StoichAFR)
	p.Fault.FlowScale, p.Fault.SupplySlope = cmp.Or(p.Fault.FlowScale, 1), cmp.Or(p.Fault.SupplySlope, 0.8)
	r := &plant{Plant: &p, parts: newParts(p.Truth), rail: Must(lookup.NewRail(cmp.Or(p.Fault.Rail, e.RailPressure)))}
	r.efficiency = cmp.Or(r.efficiency, Must(lookup.Bind(efficiency(usualBestSpeed))))
	// The regulator works as before, but against the air outside.
	if p.Fault.HoseOff {
		r.rail.RelativeTo = tables.Atmosphere
	}
	r.volume = r.Volume / r.Cylinders
	// A cylinder full of air at 1.1 g/L, about what a warm engine takes in.
	r.wide = r.volume * 1000 * 1.1
	return r
}

func bind(c *tables.Calibration, role tables.Role) *lookup.Table {
	found := c.ByRole(role)
	if len(found) == 0 {
		return nil
	}
	return Must(lookup.Bind(found[0]))
}

// charge is the air in a cylinder in mg, by the ideal gas law with the
// efficiency of a table.
func charge(efficiency *lookup.Table, at *lookup.Point, volume, intake float64) float64 {
	share := efficiency.At(at)
	if efficiency.Table().Unit() == "%" {
		share /= 100
	}
	const gas = 0.28705 // J/(g·K), dry air
	return snap(1000 * share * at.Manifold * volume / (gas * (intake + 273.15)))
}

// Filling is the air in mg that a cylinder takes in, at a speed, a manifold pressure
// and a temperature of the intake air.
func (p Plant) Filling() func(speed, manifold, intake float64) float64 {
	ready := newPlant(p)
	return func(speed, manifold, intake float64) float64 {
		return charge(ready.efficiency, &lookup.Point{Speed: speed, Manifold: manifold, Barometer: ready.Barometer}, ready.volume, intake)
	}
}

// filling is the air in mg that a cylinder takes in, as it is, and the air flow in g/s for
// each mg of it.
func (p *plant) filling(at *lookup.Point, intake float64) (cylinder, perCharge float64) {
	cylinder = charge(p.efficiency, at, p.volume, intake)
	if f := p.Fault.Efficiency; f != nil {
		cylinder = snap(cylinder * (1 + f(at.Speed, at.Manifold)))
	}
	return cylinder, p.Cylinders * at.Speed / 120 / 1000
}

// takes is what a controller makes of an operating point, the charge in mg, which it
// measures or computes, and the air flow given.
func (k *controller) takes(at *lookup.Point, charge, airFlow float64) {
	at.Charge, at.AirFlow = charge, airFlow
	at.Load = 100 * charge / (k.volume * 1184) // of a cylinder full of air at 25 degC and sea level
	at.Delta = k.Rail.Delta(at.Manifold, at.Barometer)
}

// injects is the true injector at an operating point and a total fuel flow in g/s: its flow
// in g/s, its offset in ms, and the pressure that drives it.
func (p *plant) injects(at *lookup.Point, supply float64) (flow, offset, delta float64) {
	truth := *at
	truth.Delta = p.sag(p.rail.Delta(at.Manifold, at.Barometer), supply)
	return p.trueFlow(&truth), p.trueOffset(&truth), truth.Delta
}

// trueFlow is the injector's flow in g/s. Past the table's pressures it goes
// with the square root of the pressure, as an orifice does.
func (p *plant) trueFlow(at *lookup.Point) float64 {
	// Within its breakpoints the table is the truth. Past them it would be held, and
	// a real injector is not.
	read := p.Rail.Pressure // at which the table gives its flow
	if q := p.FlowTable.Quantities(); slices.Contains(q, tables.DifferentialPressure) {
		points := p.FlowTable.Table().X().Points()
		read = min(max(at.Delta, points[0]), points[len(points)-1])
	} else if len(q) > 0 {
		read = p.Rail.Delta(at.Manifold, at.Barometer)
	}
	return p.Flow(at) * p.Fault.FlowScale * math.Sqrt(max(0, at.Delta)/read)
}

func (p *plant) trueOffset(at *lookup.Point) float64 {
	v := p.Offset(at) + p.Fault.Offset
	if p.Fault.OffsetShape != nil {
		v += p.Fault.OffsetShape(at.Battery)
	}
	return v
}

// curve is an air meter: its signal against flow, both ways.
type curve struct{ signal, flow []float64 }

func meterCurve(c *tables.Calibration) *curve {
	found := c.ByRole(tables.AirMeter)
	if len(found) == 0 {
		return nil
	}
	return &curve{found[0].X().Points(), found[0].Values()}
}

func (m *curve) reading(signal float64) float64 { return along(m.signal, m.flow, signal) }
func (m *curve) signalOf(flow float64) float64  { return along(m.flow, m.signal, flow) }

// along interpolates y over rising x and goes on straight past the ends.
func along(x, y []float64, v float64) float64 {
	i := 1
	for i < len(x)-1 && v > x[i] {
		i++
	}
	w := (v - x[i-1]) / (x[i] - x[i-1])
	return y[i-1] + float64((y[i]-y[i-1])*w)
}

// snap rounds what feeds back into the next step.
func snap(v float64) float64 { return math.Round(v*1e6) / 1e6 }
