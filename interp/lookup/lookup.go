// Package lookup reads a calibration's table as a controller does: at an
// operating point of the engine, whatever quantity, unit and order the table's
// axes have.
//
// [Bind] ties a table's axes to the quantities of a [Point] once; [Table.At]
// then interpolates with the edge value held outside, which is what
// controllers do. The numbers of a Point are in the units of drive-log
// channels (r/min, kPa, g/s, mg, %, V, ms), and so is what [Delta] makes of a
// rail pressure.
//
// It does not convert the table's values: they stay in the table's unit (see
// [FlowUnit] for the one conversion that needs a fact about the fuel).
package lookup

import (
	"fmt"
	"math"
	"slices"

	"calsplice/interp"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// Point is one operating point, in the units of the channels. A number that is
// not known is NaN.
type Point struct {
	Speed     float64 // engine speed, r/min
	Manifold  float64 // absolute, kPa
	Barometer float64 // absolute, kPa
	Delta     float64 // rail minus manifold, kPa
	Battery   float64 // V
	Charge    float64 // air a cylinder and cycle, mg
	AirFlow   float64 // g/s
	Load      float64 // %
	Pulse     float64 // effective pulse, ms
}

// of is the number of a point that an axis quantity measures.
var of = map[string]func(p *Point) float64{
	tables.EngineSpeed:          func(p *Point) float64 { return p.Speed },
	tables.ManifoldPressure:     func(p *Point) float64 { return p.Manifold },
	tables.ManifoldVacuum:       func(p *Point) float64 { return p.Barometer - p.Manifold },
	tables.DifferentialPressure: func(p *Point) float64 { return p.Delta },
	tables.BatteryVoltage:       func(p *Point) float64 { return p.Battery },
	tables.AirCharge:            func(p *Point) float64 { return p.Charge },
	tables.AirFlow:              func(p *Point) float64 { return p.AirFlow },
	tables.Load:                 func(p *Point) float64 { return p.Load },
	tables.EffectivePulse:       func(p *Point) float64 { return p.Pulse },
}

// bases names the channels' unit of each dimension.
var bases = map[unit.Dimension]string{
	unit.Pressure: "kPa", unit.GaugePressure: "kPa(g)", unit.AbsolutePressure: "kPa(a)",
	unit.MassFlow: "g/s", unit.VolumeFlow: "mL/min", unit.Mass: "mg", unit.Time: "ms",
	unit.Voltage: "V", unit.Rotation: "r/min", unit.Ratio: "%", unit.Angle: "deg",
}

// Base is the conversion from a unit to the channels' unit of its dimension.
func Base(spelled string) (unit.Conversion, error) {
	u, ok := unit.Parse(spelled)
	if !ok {
		return unit.Conversion{}, fmt.Errorf("unit %s is not known, so nothing can be computed with it", tables.Quote(spelled))
	}
	base, ok := bases[u.Dimension()]
	if !ok {
		return unit.Conversion{}, fmt.Errorf("unit %s measures %s, which no table is read by", tables.Quote(spelled), u.Dimension())
	}
	return unit.Find(spelled, base)
}

// Table is a table bound to quantities.
type Table struct {
	t       *tables.Table
	x, y    axis
	surface *interp.Surface // in the channels' units
}

// axis is a table's axis, bound to the quantity of a point that goes along it.
type axis struct {
	quantity string    // "" where the table has no such axis
	points   []float64 // in the channels' unit
	of       func(p *Point) float64
}

// Bind ties a table's axes to the quantities that computation understands. It
// refuses an axis of another quantity, and one whose unit does not measure it.
func Bind(t *tables.Table) (*Table, error) {
	b := &Table{t: t}
	var err error
	if b.x, err = bindAxis(t.X()); err == nil {
		b.y, err = bindAxis(t.Y())
	}
	if err != nil {
		return nil, fmt.Errorf("table %s: %w", t.ID(), err)
	}
	b.surface = interp.SurfaceOn(t, b.x.points, b.y.points)
	return b, nil
}

// Only binds the one table of a role; nil where there is none, or several, or one that
// cannot be read at a point.
func Only(cal *tables.Calibration, role tables.Role) *Table {
	if found := cal.ByRole(role); len(found) == 1 {
		if b, err := Bind(found[0]); err == nil {
			return b
		}
	}
	return nil
}

// bindAxis ties an axis to its quantity. One that a table lacks has a single place,
// whatever the point is.
func bindAxis(a *tables.Axis) (axis, error) {
	if a == nil {
		return axis{points: []float64{0}, of: func(*Point) float64 { return 0 }}, nil
	}
	f, ok := of[a.Quantity()]
	if !ok {
		return axis{}, fmt.Errorf("axis %s is not a quantity that can be computed with", tables.Quote(a.Quantity()))
	}
	points, err := Points(a)
	return axis{a.Quantity(), points, f}, err
}

// Points are an axis's breakpoints in the channels' unit. It is an error where the
// axis's own unit does not measure its quantity.
func Points(a *tables.Axis) ([]float64, error) {
	if !unit.Fits(a.Quantity(), a.Unit()) {
		return nil, fmt.Errorf("axis %s is in %s, which does not measure it", tables.Quote(a.Quantity()), tables.Quote(a.Unit()))
	}
	c, err := Base(a.Unit())
	if err != nil {
		return nil, fmt.Errorf("axis %s: %w", tables.Quote(a.Quantity()), err)
	}
	return c.ApplyAll(a.Points()), nil
}

// PointsOf are an axis's breakpoints in the channels' unit, or as they stand where that is
// not known. An axis that a table lacks has one, at 0.
func PointsOf(a *tables.Axis) []float64 {
	if a == nil {
		return []float64{0}
	}
	if p, err := Points(a); err == nil {
		return p
	}
	return a.Points()
}

// Table is the table that was bound.
func (b *Table) Table() *tables.Table { return b.t }

// Quantities lists what the table is read by, x first.
func (b *Table) Quantities() []string {
	return slices.DeleteFunc([]string{b.x.quantity, b.y.quantity}, func(q string) bool { return q == "" })
}

// At is the table's value at a point, in the table's unit; NaN where the point
// lacks a quantity.
func (b *Table) At(p *Point) float64 {
	x, y := b.XY(p)
	return b.Read(x, y)
}

// XY are the point's places on the table's axes, in the channels' units; 0
// where there is no such axis.
func (b *Table) XY(p *Point) (x, y float64) { return b.x.of(p), b.y.of(p) }

// Read is the table's value at a place on its axes, in the channels' units.
func (b *Table) Read(x, y float64) float64 {
	if math.IsNaN(x) || math.IsNaN(y) {
		return math.NaN()
	}
	return b.surface.At(x, y)
}

// Find is where a point lies on the table's axes; false where it lacks a quantity.
func (b *Table) Find(p *Point) (interp.Position, bool) {
	x, y := b.XY(p)
	return b.surface.Find(x, y), x == x && y == y
}

// ReadAt is the table's value at a position on its axes, or on the same axes of another.
func (b *Table) ReadAt(p interp.Position) float64 { return b.surface.Read(p) }

// sameAxes reports whether a position on one table's axes is one on the other's.
func (b *Table) sameAxes(o *Table) bool {
	return b.x.quantity == o.x.quantity && b.y.quantity == o.y.quantity && slices.Equal(b.x.points, o.x.points) && slices.Equal(b.y.points, o.y.points)
}

// FlowUnit is the conversion from an injector flow's unit to g/s (mg/ms). A
// volume flow needs the engine's fuel density; used is that density in kg/L, 0
// where none was needed.
func FlowUnit(spelled string, e *tables.Engine) (c unit.Conversion, used float64, err error) {
	from, ok := unit.Parse(spelled)
	if !ok {
		return c, 0, fmt.Errorf("unit %s is not known, so nothing can be computed with it", tables.Quote(spelled))
	}
	to, _ := unit.Parse("g/s")
	if from.Dimension() == unit.VolumeFlow {
		if e == nil || e.FuelDensity == nil {
			return c, 0, fmt.Errorf("%s to g/s needs a fuel density, and the calibration gives none", from.Name())
		}
		if used, err = unit.Convert(e.FuelDensity.Value, e.FuelDensity.Unit, "kg/L"); err != nil {
			return c, 0, err
		}
	}
	c, err = unit.Flow(from, to, used)
	return c, used, err
}

// Rail is a rail pressure in kPa and what it is relative to.
type Rail struct {
	Pressure   float64
	RelativeTo tables.Reference
}

// NewRail converts a calibration's rail pressure.
func NewRail(r *tables.RailPressure) (Rail, error) {
	v, err := r.KPa()
	return Rail{v, r.RelativeTo}, err
}

// Delta is the pressure that drives fuel through an injector, in kPa, with the
// manifold and the barometer in absolute kPa.
func (r Rail) Delta(manifold, barometer float64) float64 {
	switch r.RelativeTo {
	case tables.Manifold:
		return r.Pressure
	case tables.Absolute:
		return r.Pressure - manifold
	}
	return r.Pressure + barometer - manifold
}
