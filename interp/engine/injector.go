package engine

import (
	"fmt"
	"math"
	"slices"

	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// Injector is a calibration's injector and the rail that feeds it.
type Injector struct {
	FlowTable   *lookup.Table   // nil where the calibration has none that can be computed with
	OffsetTable *lookup.Table   // nil likewise
	OffsetUnit  unit.Conversion // of the offset table, to ms
	Density     float64         // kg/L, of the fuel that makes a volume flow a mass; 0 where not needed
	MinPulse    float64         // ms; 0 where not given
	LinearFrom  float64         // ms of effective pulse from which nothing is corrected; 0 where not given
	Rail        lookup.Rail
	RailGiven   bool // else Rail is the usual one

	// Faults tell which tables were left out, since nothing can be computed
	// with them.
	Faults []error

	flowUnit unit.Conversion // to g/s, which is mg/ms
}

// NewInjector binds whatever injector tables a calibration has. It is an error
// where its rail pressure is none.
func NewInjector(cal *tables.Calibration) (*Injector, error) {
	j := &Injector{Rail: lookup.Rail{Pressure: UsualRail, RelativeTo: tables.Manifold}}
	for _, member := range []struct {
		role tables.Role
		read func(t *tables.Table, e *tables.Engine) error
	}{
		{tables.InjectorFlow, j.flow}, {tables.InjectorOffset, j.offset},
		{tables.InjectorMinPulse, j.minimum}, {tables.InjectorNonlinear, j.nonlinear},
	} {
		found := cal.ByRole(member.role)
		if len(found) > 1 {
			j.Faults = append(j.Faults, fmt.Errorf("table %s is a second one of role %s (%s is the first): which one describes the injector?", found[1].ID(), member.role, found[0].ID()))
		} else if len(found) == 1 {
			if err := member.read(found[0], cal.Engine()); err != nil {
				j.Faults = append(j.Faults, err)
			}
		}
	}
	if e := cal.Engine(); e != nil && e.RailPressure != nil {
		rail, err := lookup.NewRail(e.RailPressure)
		if err != nil {
			return nil, fmt.Errorf("engine %w", err)
		}
		j.Rail, j.RailGiven = rail, true
	}
	return j, nil
}

func (j *Injector) flow(t *tables.Table, e *tables.Engine) error {
	bound, err := lookup.Bind(t)
	if err != nil {
		return err
	}
	if j.flowUnit, j.Density, err = lookup.FlowUnit(t.Unit(), e); err != nil {
		return fmt.Errorf("table %s: %w", t.ID(), err)
	}
	j.FlowTable = bound
	return nil
}

func (j *Injector) offset(t *tables.Table, _ *tables.Engine) error {
	bound, err := lookup.Bind(t)
	if err != nil {
		return err
	}
	if j.OffsetUnit, err = unit.Find(t.Unit(), "ms"); err != nil {
		return fmt.Errorf("table %s: %w", t.ID(), err)
	}
	j.OffsetTable = bound
	return nil
}

// minimum is the longest minimum pulse of the table: no shorter pulse tells
// anything for certain.
func (j *Injector) minimum(t *tables.Table, _ *tables.Engine) error {
	c, err := unit.Find(t.Unit(), "ms")
	if err != nil {
		return fmt.Errorf("table %s: %w", t.ID(), err)
	}
	for _, v := range t.Values() {
		j.MinPulse = max(j.MinPulse, c.Apply(v))
	}
	return nil
}

// nonlinear finds the effective pulse from which the correction changes
// nothing: the breakpoint after the last that it changes, or that one where it
// is the table's last.
func (j *Injector) nonlinear(t *tables.Table, _ *tables.Engine) error {
	points, last, err := CorrectedTo(t)
	if last >= 0 {
		j.LinearFrom = points[min(last+1, len(points)-1)]
	}
	return err
}

// CorrectedTo finds the last breakpoint of effective pulse at which a nonlinear
// correction changes anything, and gives all of them in ms; −1 where it changes
// nothing, or has no such axis.
func CorrectedTo(t *tables.Table) (points []float64, last int, err error) {
	k := t.Axes().Of(tables.EffectivePulse)
	if k < 0 {
		return nil, -1, nil
	}
	along := []func(i int) []float64{t.Column, t.Row}[k]
	if points, err = lookup.Points(t.Axes()[k]); err != nil {
		return nil, -1, fmt.Errorf("table %s: %w", t.ID(), err)
	}
	last = -1
	for k := range points {
		if slices.ContainsFunc(along(k), func(v float64) bool { return Corrected(t.Unit(), 1, v) != 1 }) {
			last = k
		}
	}
	return points, last, nil
}

// Corrected is an effective pulse in ms after a nonlinear correction: in a unit
// of time it is added, in % it is a share to add, as a plain number a factor.
func Corrected(spelled string, effective, correction float64) float64 {
	u, _ := unit.Parse(spelled)
	switch {
	case u.Dimension() == unit.Time:
		c, _ := unit.Find(u.Name(), "ms")
		return effective + c.Apply(correction)
	case u.Name() == "%":
		return effective * (1 + correction/100)
	}
	return effective * correction
}

// Offset is the dead time in ms; NaN where a quantity is missing or there is no
// table.
func (j *Injector) Offset(at *lookup.Point) float64 {
	if j.OffsetTable == nil {
		return math.NaN()
	}
	return j.OffsetUnit.Apply(j.OffsetTable.At(at))
}

// Flow is in mg/ms; NaN likewise.
func (j *Injector) Flow(at *lookup.Point) float64 {
	if j.FlowTable == nil {
		return math.NaN()
	}
	return j.flowUnit.Apply(j.FlowTable.At(at))
}
