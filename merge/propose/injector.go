package propose

import (
	"fmt"
	"math"

	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// injector is the calibration's injector, bound for reading at an operating
// point.
type injector struct {
	flowTable, offsetTable *lookup.Table // nil where the calibration has none
	flowUnit, offsetUnit   unit.Conversion
	minPulse               float64 // ms; 0 where not given
	shortest               float64 // ms of effective pulse below which flow is not linear; 0 where not given
	rail                   lookup.Rail
	railGiven              bool
	said                   []string
}

// newInjector binds whatever injector tables the calibration has.
func newInjector(cal *tables.Calibration) (*injector, error) {
	j := &injector{flowUnit: unit.Conversion{Mul: 1, Div: 1}, offsetUnit: unit.Conversion{Mul: 1, Div: 1}}
	j.flowTable = j.bind(only(cal, tables.InjectorFlow), func(t *tables.Table) error {
		c, density, err := lookup.FlowUnit(t.Unit(), cal.Engine())
		if j.flowUnit = c; density > 0 {
			j.said = append(j.said, fmt.Sprintf("table %s is a volume flow: the calibration's fuel density of %s kg/L makes it a mass", t.ID(), tables.FormatValue(density)))
		}
		return err
	})
	j.offsetTable = j.bind(only(cal, tables.InjectorOffset), func(t *tables.Table) (err error) {
		j.offsetUnit, err = unit.Find(t.Unit(), "ms")
		return err
	})
	if t := only(cal, tables.InjectorMinPulse); t != nil && t.X() == nil {
		if c, err := unit.Find(t.Unit(), "ms"); err == nil {
			j.minPulse = c.Apply(t.Values()[0])
		}
	}
	j.linear(cal)
	if e := cal.Engine(); e != nil && e.RailPressure != nil {
		var err error
		if j.rail, err = lookup.NewRail(e.RailPressure); err != nil {
			return nil, err
		}
		j.railGiven = true
	}
	return j, nil
}

// bind binds a table where it can be computed with; where not, that is said,
// since a correction by cells does not need it.
func (j *injector) bind(t *tables.Table, units func(t *tables.Table) error) *lookup.Table {
	if t == nil {
		return nil
	}
	b, err := lookup.Bind(t)
	if err == nil {
		if err = units(t); err != nil {
			err = fmt.Errorf("table %s: %w", t.ID(), err)
		}
	}
	if err != nil {
		j.said = append(j.said, "not computed with: "+err.Error())
		return nil
	}
	return b
}

// linear finds the effective pulse from which the nonlinear correction is
// nothing.
func (j *injector) linear(cal *tables.Calibration) {
	t := only(cal, tables.InjectorNonlinear)
	if t == nil || t.X() == nil || t.Y() != nil || t.X().Quantity() != tables.EffectivePulse {
		return
	}
	points := pointsOf(t.X())
	last := t.Values()[len(points)-1]
	for i := len(points) - 1; i >= 0 && t.Values()[i] == last; i-- {
		j.shortest = points[i]
	}
	if j.shortest == points[len(points)-1] || j.shortest == points[0] {
		j.shortest = 0
	}
}

func only(cal *tables.Calibration, role tables.Role) *tables.Table {
	if found := cal.ByRole(role); len(found) == 1 {
		return found[0]
	}
	return nil
}

// offset is the table's dead time in ms; NaN where it cannot be read.
func (j *injector) offset(at *lookup.Point) float64 {
	if j.offsetTable == nil {
		return math.NaN()
	}
	return j.offsetUnit.Apply(j.offsetTable.At(at))
}

// flow is the table's flow in g/s; NaN where it cannot be read.
func (j *injector) flow(at *lookup.Point) float64 {
	if j.flowTable == nil {
		return math.NaN()
	}
	return j.flowUnit.Apply(j.flowTable.At(at))
}
