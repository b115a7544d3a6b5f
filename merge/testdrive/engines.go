package testdrive

import (
	"cmp"
	"math"

	"calsplice/tables"
)

// Design is an engine to invent.
type Design struct {
	Name         string
	Cylinders    int
	Litres       float64
	Rated        float64 // injector flow in g/s at 300 kPa
	Rail         tables.RailPressure
	FlowBy       string    // the quantity that flow is against: differential pressure, manifold vacuum, or empty for a scalar
	FlowAt       []float64 // kPa of that quantity; nil: all that the injector meets
	Boost        float64   // kPa that the flow's axis reaches to
	MeterMost    float64   // g/s that the air meter can measure; 0 for air computed from the manifold's pressure
	BestSpeed    float64   // r/min of the highest volumetric efficiency; 3,600 where 0
	OffsetFactor float64   // of the usual injector offset; 1 where 0
}

const usualBestSpeed = 3600

// Calibration is the design's, in every table true to the engine.
func (d Design) Calibration() *tables.Calibration {
	rail := d.Rail
	e := &tables.Engine{Cylinders: d.Cylinders, Strokes: 4, Injectors: d.Cylinders, PulsesPerCycle: 1,
		Displacement: &tables.Measure{Value: d.Litres, Unit: "L"}, RailPressure: &rail,
		StoichAFR: 14.7, FuelDensity: &tables.Measure{Value: 0.745, Unit: "kg/L"}}
	// Air is metered or computed, never both: which one it is decides which causes a
	// fault can have.
	air := efficiency(cmp.Or(d.BestSpeed, usualBestSpeed))
	if d.MeterMost > 0 {
		air = meter(d.MeterMost)
	}
	c := Must(tables.NewCalibration(tables.Contents{Name: d.Name, Engine: e, Tables: []*tables.Table{
		d.flow(), offsetTable(),
		table(tables.Fields{ID: "injector.min_pulse", Role: tables.InjectorMinPulse, Unit: "ms", Values: []float64{1.2}}),
		sparkTable("spark.advance", tables.SparkAdvance, 0),
		sparkTable("spark.fallback", tables.SparkFallback, -8),
		air,
	}}))
	if d.OffsetFactor != 0 {
		c = Scaled(c, "injector.offset", d.OffsetFactor, 0)
	}
	return c
}

// flowAxis spans the pressures that an injector meets, whatever the rail follows,
// from full boost to the deepest vacuum.
func (d Design) flowAxis() *tables.Axis {
	points := d.FlowAt
	for vacuum := -20 * math.Ceil(d.Boost/20); d.FlowAt == nil && vacuum <= 90; vacuum += 18 {
		at := vacuum
		if d.FlowBy == tables.DifferentialPressure {
			at += d.Rail.Value
		}
		points = append(points, at)
	}
	return axis(d.FlowBy, "kPa", points...)
}

// Four is the calibration of the invented 2.0 L four-cylinder van: air metered
// upstream, a rail at constant gauge pressure, flow against differential
// pressure.
func Four() *tables.Calibration {
	return Design{Name: "Fell rescue van, as found", Cylinders: 4, Litres: 2, Rated: 2.6, MeterMost: 140,
		Rail:   tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Atmosphere},
		FlowBy: tables.DifferentialPressure, FlowAt: []float64{280, 300, 320, 340, 360, 380}}.Calibration()
}

// Six is the calibration of an invented two-bank 3.0 L six: speed–density air,
// a regulator that follows the manifold, and so a scalar flow.
func Six() *tables.Calibration {
	return Design{Name: "Two-bank six, as found", Cylinders: 6, Litres: 3, Rated: 2.75,
		Rail: tables.RailPressure{Value: 350, Unit: "kPa", RelativeTo: tables.Manifold}}.Calibration()
}

// Turbo is the calibration of an invented boosted 1.8 L four: air metered
// upstream, a regulator that follows the manifold.
func Turbo() *tables.Calibration {
	return Design{Name: "Harbour pilot tender, as found", Cylinders: 4, Litres: 1.8, Rated: 4.6, MeterMost: 220,
		Rail:   tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Manifold},
		FlowBy: tables.DifferentialPressure, FlowAt: []float64{200, 250, 300, 350, 400}}.Calibration()
}

// flow follows the square root of the pressure from what the injector is rated
// at. A scalar holds at the rail's pressure.
func (d Design) flow() *tables.Table {
	f := tables.Fields{ID: "injector.flow", Title: "Injector flow", Role: tables.InjectorFlow, Unit: "g/s",
		Resolution: 0.001, Limits: &tables.Limits{Low: 0.5, High: 12}}
	if d.FlowBy != "" {
		f.X = d.flowAxis()
	}
	return Filled(f, func(at, _ float64) float64 {
		switch d.FlowBy {
		case "":
			at = d.Rail.Value
		// At constant gauge pressure the vacuum adds to what drives the fuel.
		case tables.ManifoldVacuum:
			at += d.Rail.Value
		}
		return d.Rated * math.Sqrt(at/300)
	})
}

// offsetTable is illustrative, not measured: falling and convex in voltage,
// rising with pressure (from memory, no source).
func offsetTable() *tables.Table {
	return Filled(tables.Fields{ID: "injector.offset", Title: "Injector offset", Role: tables.InjectorOffset, Unit: "ms",
		Resolution: 0.001, Limits: &tables.Limits{Low: 0, High: 6},
		X: axis(tables.BatteryVoltage, "V", 8, 10, 11, 12, 13, 14, 15, 16),
		Y: axis(tables.DifferentialPressure, "kPa", 250, 350, 450)}, func(volts, delta float64) float64 {
		shape := 0.42 + float64(0.47*math.Pow(14/volts, 2.4))
		return shape * (1 + float64(0.0004*(delta-300)))
	})
}

func sparkTable(id string, role tables.Role, shift float64) *tables.Table {
	return Filled(tables.Fields{ID: id, Role: role, Unit: "deg", Resolution: 0.25, Limits: &tables.Limits{Low: -10, High: 50},
		X: axis(tables.EngineSpeed, "r/min", 600, 1000, 1500, 2000, 2500, 3000, 4000, 5000, 6000),
		Y: axis(tables.AirCharge, "mg", 80, 160, 240, 320, 400, 480, 560, 800)}, func(speed, charge float64) float64 {
		base := 14 + float64(20*(1-math.Exp(-speed/2200))) - float64(0.026*max(0, charge-160))
		return base + float64(shift*min(1, charge/480))
	})
}

// meter is an air meter that answers with a frequency.
func meter(most float64) *tables.Table {
	return Filled(tables.Fields{ID: "air.meter", Title: "Air meter", Role: tables.AirMeter, Unit: "g/s", Resolution: 0.01,
		Limits: &tables.Limits{Low: 0, High: 400},
		X:      axis("meter frequency", "Hz", 1500, 2000, 2500, 3000, 3500, 4000, 5000, 6000, 7000, 8000, 9000, 10000)},
		func(hz, _ float64) float64 { return most * math.Pow(hz/10000, 2.6) })
}

// efficiency is highest at a speed in r/min.
func efficiency(best float64) *tables.Table {
	return Filled(tables.Fields{ID: "air.efficiency", Title: "Volumetric efficiency", Role: tables.AirVolumetricEfficiency, Unit: "%",
		Resolution: 0.1, Limits: &tables.Limits{Low: 20, High: 140},
		X: axis(tables.EngineSpeed, "r/min", 600, 1000, 1500, 2000, 2500, 3000, 4000, 5000, 6000),
		Y: axis(tables.ManifoldPressure, "kPa", 20, 30, 40, 50, 60, 80, 100)}, func(speed, pressure float64) float64 {
		// Best at one speed, and better the less exhaust gas is left in the cylinder.
		hump := 1 - math.Pow((speed-best)/6500, 2)
		return (60 + float64(28*(1-math.Exp(-pressure/35)))) * hump
	})
}

// Filled is a table with what a formula gives at its breakpoints, rounded to its
// resolution; an axis that it lacks is at 0.
func Filled(f tables.Fields, of func(x, y float64) float64) *tables.Table {
	xs, ys := []float64{0}, []float64{0}
	if f.X != nil {
		xs = f.X.Points()
	}
	if f.Y != nil {
		ys = f.Y.Points()
	}
	for _, y := range ys {
		for _, x := range xs {
			f.Values = append(f.Values, rounded(of(x, y), f.Resolution))
		}
	}
	return table(f)
}

func axis(quantity, unit string, points ...float64) *tables.Axis {
	return Must(tables.NewAxis(quantity, unit, points))
}

func table(f tables.Fields) *tables.Table { return Must(tables.NewTable(f)) }

// Scaled is a calibration with every value of one table multiplied, then
// shifted, then rounded to the table's resolution: the table that somebody got
// wrong.
func Scaled(c *tables.Calibration, id string, factor, shift float64) *tables.Calibration {
	t := c.Table(id)
	values := tables.Each(t.Values(), func(v float64) float64 { return t.Round(float64(v*factor) + shift) })
	return Must(c.WithTable(Must(t.WithValues(values))))
}

// Must panics on an error: this package's own tables are sound, or the package
// is wrong.
func Must[V any](v V, err error) V {
	if err != nil {
		panic(err)
	}
	return v
}

// rounded is v at a whole number of steps, as the decimal a person would write.
func rounded(v, step float64) float64 { return math.Round(v/step) / math.Round(1/step) }
