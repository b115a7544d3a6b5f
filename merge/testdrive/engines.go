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
	FlowBy       string  // the quantity that flow is against: differential pressure, manifold vacuum, or empty for a scalar
	Boost        float64 // kPa that the flow's axis reaches to
	MeterMost    float64 // g/s that the air meter can measure; 0 for air computed from the manifold's pressure
	BestSpeed    float64 // r/min of the highest volumetric efficiency; 3,600 where 0
	OffsetFactor float64 // of the usual injector offset; 1 where 0
}

// Calibration is the design's, in every table true to the engine.
func (d Design) Calibration() *tables.Calibration {
	rail := d.Rail
	e := &tables.Engine{Cylinders: d.Cylinders, Strokes: 4, Injectors: d.Cylinders, PulsesPerCycle: 1,
		Displacement: &tables.Measure{Value: d.Litres, Unit: "L"}, RailPressure: &rail,
		StoichAFR: 14.7, FuelDensity: &tables.Measure{Value: 0.745, Unit: "kg/L"}}
	var flow *tables.Axis
	if d.FlowBy != "" {
		flow = d.flowAxis()
	}
	var air *tables.Table
	if d.MeterMost > 0 {
		air = meter(d.MeterMost)
	} else {
		air = efficiency(cmp.Or(d.BestSpeed, 3600))
	}
	c := document(d.Name, e, d.Rated, flow, air)
	if d.OffsetFactor != 0 {
		c = Scaled(c, "injector.offset", d.OffsetFactor, 0)
	}
	return c
}

// flowAxis spans the pressures that an injector meets, whatever the rail follows,
// from full boost to the deepest vacuum.
func (d Design) flowAxis() *tables.Axis {
	points := []float64{}
	for vacuum := -20 * math.Ceil(d.Boost/20); vacuum <= 90; vacuum += 18 {
		at := vacuum
		if d.FlowBy == tables.DifferentialPressure {
			at += d.Rail.Value
		}
		points = append(points, at)
	}
	return flowAxis(d.FlowBy, points...)
}

// Four is the calibration of the invented 2.0 L four-cylinder van: air metered
// upstream, a rail at constant gauge pressure, flow against differential
// pressure.
func Four() *tables.Calibration {
	return document("Fell rescue van, as found", &tables.Engine{
		Cylinders: 4, Strokes: 4, Injectors: 4, PulsesPerCycle: 1,
		Displacement: &tables.Measure{Value: 2, Unit: "L"},
		RailPressure: &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Atmosphere},
		StoichAFR:    14.7, FuelDensity: &tables.Measure{Value: 0.745, Unit: "kg/L"},
	}, 2.6, flowAxis(tables.DifferentialPressure, 280, 300, 320, 340, 360, 380), meter(140))
}

// Six is the calibration of an invented two-bank 3.0 L six: speed–density air,
// a regulator that follows the manifold, and so a scalar flow.
func Six() *tables.Calibration {
	return document("Two-bank six, as found", &tables.Engine{
		Cylinders: 6, Strokes: 4, Injectors: 6, PulsesPerCycle: 1,
		Displacement: &tables.Measure{Value: 3, Unit: "L"},
		RailPressure: &tables.RailPressure{Value: 350, Unit: "kPa", RelativeTo: tables.Manifold},
		StoichAFR:    14.7, FuelDensity: &tables.Measure{Value: 0.745, Unit: "kg/L"},
	}, 2.75, nil, nil)
}

// Turbo is the calibration of an invented boosted 1.8 L four: air metered
// upstream, a regulator that follows the manifold.
func Turbo() *tables.Calibration {
	return document("Harbour pilot tender, as found", &tables.Engine{
		Cylinders: 4, Strokes: 4, Injectors: 4, PulsesPerCycle: 1,
		Displacement: &tables.Measure{Value: 1.8, Unit: "L"},
		RailPressure: &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Manifold},
		StoichAFR:    14.7, FuelDensity: &tables.Measure{Value: 0.745, Unit: "kg/L"},
	}, 4.6, flowAxis(tables.DifferentialPressure, 200, 250, 300, 350, 400), meter(220))
}

// document builds a calibration around an injector that flows rated g/s at
// 300 kPa; a nil flow axis makes the flow a scalar at the rail's pressure.
func document(name string, e *tables.Engine, rated float64, flow *tables.Axis, extra *tables.Table) *tables.Calibration {
	list := []*tables.Table{
		flowTable(rated, flow, e.RailPressure.Value),
		offsetTable(),
		table(tables.Fields{ID: "injector.min_pulse", Role: tables.InjectorMinPulse, Unit: "ms", Values: []float64{1.2}}),
		sparkTable("spark.advance", tables.SparkAdvance, 0),
		sparkTable("spark.fallback", tables.SparkFallback, -8),
	}
	if extra != nil {
		list = append(list, extra)
	} else {
		list = append(list, efficiency(3600))
	}
	c, err := tables.NewCalibration(tables.Contents{Name: name, Engine: e, Tables: list})
	must(err)
	return c
}

func flowTable(rated float64, axis *tables.Axis, scalarAt float64) *tables.Table {
	f := tables.Fields{ID: "injector.flow", Title: "Injector flow", Role: tables.InjectorFlow, Unit: "g/s",
		Resolution: 0.001, Limits: &tables.Limits{Low: 0.5, High: 12}, X: axis}
	at := []float64{scalarAt}
	if axis != nil {
		at = axis.Points()
	}
	for _, delta := range at {
		if axis != nil && axis.Quantity() == tables.ManifoldVacuum {
			delta += scalarAt
		}
		f.Values = append(f.Values, rounded(rated*math.Sqrt(delta/300), 0.001))
	}
	return table(f)
}

// offsetTable is illustrative, not measured: falling and convex in voltage,
// rising with pressure (from memory, no source).
func offsetTable() *tables.Table {
	f := tables.Fields{ID: "injector.offset", Title: "Injector offset", Role: tables.InjectorOffset, Unit: "ms",
		Resolution: 0.001, Limits: &tables.Limits{Low: 0, High: 6},
		X: axis(tables.BatteryVoltage, "V", 8, 10, 11, 12, 13, 14, 15, 16),
		Y: flowAxis(tables.DifferentialPressure, 250, 350, 450)}
	for _, delta := range f.Y.Points() {
		for _, volts := range f.X.Points() {
			shape := 0.42 + float64(0.47*math.Pow(14/volts, 2.4))
			f.Values = append(f.Values, rounded(shape*(1+float64(0.0004*(delta-300))), 0.001))
		}
	}
	return table(f)
}

func sparkTable(id string, role tables.Role, shift float64) *tables.Table {
	f := tables.Fields{ID: id, Role: role, Unit: "deg", Resolution: 0.25, Limits: &tables.Limits{Low: -10, High: 50},
		X: axis(tables.EngineSpeed, "r/min", 600, 1000, 1500, 2000, 2500, 3000, 4000, 5000, 6000),
		Y: axis(tables.AirCharge, "mg", 80, 160, 240, 320, 400, 480, 560, 800)}
	for _, charge := range f.Y.Points() {
		for _, speed := range f.X.Points() {
			base := 14 + float64(20*(1-math.Exp(-speed/2200))) - float64(0.026*max(0, charge-160))
			f.Values = append(f.Values, rounded(base+float64(shift*min(1, charge/480)), 0.25))
		}
	}
	return table(f)
}

// meter is an air meter that answers with a frequency.
func meter(most float64) *tables.Table {
	f := tables.Fields{ID: "air.meter", Title: "Air meter", Role: tables.AirMeter, Unit: "g/s", Resolution: 0.01,
		Limits: &tables.Limits{Low: 0, High: 400},
		X:      axis("meter frequency", "Hz", 1500, 2000, 2500, 3000, 3500, 4000, 5000, 6000, 7000, 8000, 9000, 10000)}
	for _, hz := range f.X.Points() {
		f.Values = append(f.Values, rounded(most*math.Pow(hz/10000, 2.6), 0.01))
	}
	return table(f)
}

// efficiency is highest at a speed in r/min.
func efficiency(best float64) *tables.Table {
	f := tables.Fields{ID: "air.efficiency", Title: "Volumetric efficiency", Role: tables.AirVolumetricEfficiency, Unit: "%",
		Resolution: 0.1, Limits: &tables.Limits{Low: 20, High: 140},
		X: axis(tables.EngineSpeed, "r/min", 600, 1000, 1500, 2000, 2500, 3000, 4000, 5000, 6000),
		Y: axis(tables.ManifoldPressure, "kPa", 20, 30, 40, 50, 60, 80, 100)}
	for _, pressure := range f.Y.Points() {
		for _, speed := range f.X.Points() {
			hump := 1 - math.Pow((speed-best)/6500, 2)
			f.Values = append(f.Values, rounded((60+float64(28*(1-math.Exp(-pressure/35))))*hump, 0.1))
		}
	}
	return table(f)
}

func flowAxis(quantity string, points ...float64) *tables.Axis {
	return axis(quantity, "kPa", points...)
}

func axis(quantity, unit string, points ...float64) *tables.Axis {
	a, err := tables.NewAxis(quantity, unit, points)
	must(err)
	return a
}

func table(f tables.Fields) *tables.Table {
	t, err := tables.NewTable(f)
	must(err)
	return t
}

// Scaled is a calibration with every value of one table multiplied, then
// shifted, then rounded to the table's resolution: the table that somebody got
// wrong.
func Scaled(c *tables.Calibration, id string, factor, shift float64) *tables.Calibration {
	t := c.Table(id)
	values := make([]float64, len(t.Values()))
	for i, v := range t.Values() {
		values[i] = t.Round(float64(v*factor) + shift)
	}
	t, err := t.WithValues(values)
	must(err)
	c, err = c.WithTable(t)
	must(err)
	return c
}

// must panics: this package's own tables are sound, or the package is wrong.
func must(err error) {
	if err != nil {
		panic(err)
	}
}

// rounded is v at a whole number of steps, as the decimal a person would write.
func rounded(v, step float64) float64 { return math.Round(v/step) / math.Round(1/step) }
