// Package tableunit gives a table other units: its values, limits and
// resolution, or the breakpoints of an axis, converted exactly (tables/unit),
// and nothing rounded.
//
// A difference has no zero: the resolution of a temperature, and its standard
// deviation among cell averages, convert by the factor alone. Mass and volume
// flow convert through a fuel density, which the result says.
//
// A unit that is not known is text: converting from it or to it is refused, as is
// one of another dimension. Nothing is converted that was not asked for.
package tableunit

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// Convert gives one table of a document another unit. The target is a table's
// id, or an id and ".x" or ".y" for an axis. Tables of cell averages share
// their axes, so there an axis is converted in all of them. said reports what the
// conversion rests on.
func Convert(c *tables.Calibration, target, to string) (_ *tables.Calibration, notes []string, err error) {
	t := c.Table(target)
	for i, suffix := range []string{".x", ".y"} {
		if id, ok := strings.CutSuffix(target, suffix); ok && t == nil && c.Table(id) != nil {
			c, err = convertAxis(c, c.Table(id), i, to)
			return c, nil, err
		}
	}
	if t == nil {
		return nil, nil, errors.New(tables.Unknown("table", target, c.IDs()))
	}
	conv, via, err := conversion(c, t.Unit(), to)
	if err != nil {
		return nil, nil, fmt.Errorf("table %s: %w", t.ID(), err)
	}
	if via != "" {
		notes = append(notes, fmt.Sprintf("table %s: %s to %s through %s", t.ID(), t.Unit(), to, via))
	}
	t, err = values(t, to, conv, isDifference(c, t))
	if err != nil {
		return nil, nil, err
	}
	c, err = c.WithTable(t)
	return c, notes, err
}

// Into converts numbers in another unit to that of a table of the document. Via names
// the fuel density, where that is what stands between the two.
func Into(c *tables.Calibration, t *tables.Table, from string, numbers []float64) (_ []float64, via string, err error) {
	conv, via, err := conversion(c, from, t.Unit())
	if err != nil || conv.Identity() {
		return numbers, via, err
	}
	if isDifference(c, t) {
		conv = conv.Step()
	}
	return conv.ApplyAll(numbers), via, nil
}

// conversion finds how to get from one unit to another, and names the fuel
// density where that is what stands between them.
func conversion(c *tables.Calibration, from, to string) (conv unit.Conversion, via string, err error) {
	conv, err = unit.Find(from, to)
	var apart *unit.MismatchError
	if !errors.As(err, &apart) || !apart.From.IsFlow() || !apart.To.IsFlow() {
		return conv, "", err
	}
	if c.Engine() == nil || c.Engine().FuelDensity == nil {
		return conv, "", fmt.Errorf("%s to %s needs a fuel density, and the document's engine has no fuel_density", from, to)
	}
	m := c.Engine().FuelDensity
	density, err := unit.Convert(m.Value, m.Unit, "kg/L")
	if err != nil {
		return conv, "", fmt.Errorf("fuel_density: %w", err)
	}
	conv, err = unit.Flow(apart.From, apart.To, density)
	return conv, fmt.Sprintf("the fuel density of the document, %s %s", tables.FormatValue(m.Value), m.Unit), err
}

// isDifference reports whether a table of cell averages holds spreads rather
// than readings.
func isDifference(c *tables.Calibration, t *tables.Table) bool {
	return c.Kind() == tables.Cells && (strings.HasSuffix(t.ID(), ".sd") || strings.HasSuffix(t.ID(), ".se"))
}

// values converts a table's numbers.
func values(t *tables.Table, to string, conv unit.Conversion, difference bool) (*tables.Table, error) {
	step := conv.Step()
	if difference {
		conv = step
	}
	f := t.Fields()
	f.Unit = to
	if !conv.Identity() {
		f.Values = conv.ApplyAll(f.Values)
		if f.Limits != nil {
			f.Limits = &tables.Limits{Low: conv.Apply(f.Limits.Low), High: conv.Apply(f.Limits.High)}
		}
		if f.Resolution != 0 {
			f.Resolution = step.Apply(f.Resolution)
		}
	}
	n, err := tables.NewTable(f)
	if err != nil {
		return nil, fmt.Errorf("table %s in %s: %w", t.ID(), to, err)
	}
	return n, nil
}

// convertAxis gives an axis, x or y, another unit: of one table, or among cell averages
// of all tables that share it, since they are one grid.
func convertAxis(c *tables.Calibration, t *tables.Table, axis int, to string) (*tables.Calibration, error) {
	a, name := t.Axes()[axis], "xy"[axis:axis+1]
	if a == nil {
		return nil, fmt.Errorf("table %s has no axis %s", t.ID(), name)
	}
	conv, err := unit.Find(a.Unit(), to)
	if err != nil {
		return nil, fmt.Errorf("table %s: axis %s: %w", t.ID(), name, err)
	}
	parts := a.Parts()
	if parts.Unit = to; !conv.Identity() {
		parts.Points = conv.ApplyAll(parts.Points)
	}
	n, err := parts.Axis()
	if err != nil {
		return nil, fmt.Errorf("table %s: axis %s in %s: %w", t.ID(), name, to, err)
	}
	contents := c.Contents()
	contents.Tables = slices.Clone(contents.Tables)
	for i, other := range contents.Tables {
		if other != t && (c.Kind() != tables.Cells || !other.Axes()[axis].Equal(a)) {
			continue
		}
		f := other.Fields()
		*[]**tables.Axis{&f.X, &f.Y}[axis] = n
		if contents.Tables[i], err = tables.NewTable(f); err != nil {
			return nil, err
		}
	}
	return tables.NewCalibration(contents)
}
