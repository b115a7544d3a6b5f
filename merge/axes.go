package merge

import (
	"math"
	"slices"
	"strings"

	"calsplice/interp"
	"calsplice/merge/blocks"
	"calsplice/merge/surface"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// AxisChange is what happened to one axis. Breakpoints are known by their
// value: one that stands in both axes is the same one. One taken away where one
// was put between the same neighbours is told as moved.
type AxisChange struct {
	Axis     string      `json:"axis"` // "x" or "y"
	Quantity string      `json:"quantity"`
	Unit     string      `json:"unit"`
	Change   string      `json:"change"` // "breakpoints", "rescaled", "replaced", "added", "removed" or "renamed"
	Added    []Number    `json:"added,omitempty"`
	Removed  []Number    `json:"removed,omitempty"`
	Moved    [][2]Number `json:"moved,omitempty"`
	Factor   *float64    `json:"factor,omitempty"` // of a rescaled axis
	From     string      `json:"from"`
	To       string      `json:"to"`
}

func axisChanges(a, b *tables.Table) []AxisChange {
	var list []AxisChange
	for _, p := range []struct {
		name     string
		old, new *tables.Axis
	}{{"x", a.X(), b.X()}, {"y", a.Y(), b.Y()}} {
		if !p.old.Equal(p.new) {
			list = append(list, axisChange(p.name, p.old, p.new))
		}
	}
	return list
}

func axisChange(name string, a, b *tables.Axis) AxisChange {
	c := AxisChange{Axis: name, From: a.Text(), To: b.Text()}
	switch {
	case a == nil:
		c.Change, c.Quantity, c.Unit = "added", b.Quantity(), b.Unit()
		return c
	case b == nil:
		c.Change, c.Quantity, c.Unit = "removed", a.Quantity(), a.Unit()
		return c
	}
	c.Quantity, c.Unit = b.Quantity(), b.Unit()
	fate := surface.Walk(a.Points(), b.Points())
	c.Removed, c.Added = numbers(fate.Removed), numbers(fate.Added)
	for _, m := range fate.Moved {
		c.Moved = append(c.Moved, [2]Number{Number(m[0]), Number(m[1])})
	}
	switch {
	case len(c.Moved)+len(c.Added)+len(c.Removed) == 0:
		c.Change = "renamed"
	case a.Len() > 1 && (fate.Kept == 0 || a.Len() > 2) && sameFactor(a.Points(), b.Points()):
		// Of three and more breakpoints some may be there again, as 20 and 40 are where
		// 10, 20, 40 are doubled.
		factor := blocks.Round(b.At(b.Len()-1)/a.At(a.Len()-1), 9)
		c.Change, c.Factor, c.Moved, c.Added, c.Removed = "rescaled", &factor, nil, nil, nil
	case fate.Kept == 0 && a.Len() > 1:
		c.Change = "replaced"
	default:
		c.Change = "breakpoints"
	}
	return c
}

func numbers(p []float64) (out []Number) {
	for _, v := range p {
		out = append(out, Number(v))
	}
	return out
}

// sameFactor reports whether one list is the other times one number.
func sameFactor(a, b []float64) bool {
	f := b[len(b)-1] / a[len(a)-1]
	for i := range a {
		if len(a) != len(b) || !(math.Abs(float64(a[i]*f)-b[i]) <= 1e-9*math.Abs(b[i])) {
			return false
		}
	}
	return true
}

// Surface is how far two tables on different axes are apart: exactly, on the
// union of their breakpoints.
type Surface struct {
	Largest      Number    `json:"largest"`
	At           []Number  `json:"at"` // coordinates, x and then y
	Mean         Number    `json:"mean"`
	RMS          Number    `json:"rms"`
	Unchanged    bool      `json:"unchanged"`
	Measured     int       `json:"measured"`     // nodes at a breakpoint of both
	Interpolated int       `json:"interpolated"` // nodes between breakpoints of one
	Extrapolated int       `json:"extrapolated"` // nodes past the end of one
	Worst        string    `json:"worst"`        // which of these the largest stands on
	XUnit, YUnit string    `json:"-"`
	Axes         [2]string `json:"-"`
}

// surface compares two tables whose axes differ. The surface is unchanged where
// no cell that both have is listed, and nothing between is further apart than
// the tolerance. A difference at an edge that was held is worth less than one that
// was measured, so the reader learns where the largest stands.
func (t *TableReport) surface(a, b *tables.Table, bound bounds) {
	d, err := interp.Compare(a, b)
	if err != nil {
		t.Notes = append(t.Notes, "the surfaces cannot be compared: "+err.Error())
		return
	}
	s := &Surface{Largest: Number(d.Largest), Mean: Number(d.Mean), RMS: Number(d.RMS)}
	if d.X != nil {
		s.At, s.XUnit, s.Axes[0] = append(s.At, Number(d.AtX)), d.X.Unit(), d.X.Quantity()
	}
	if d.Y != nil {
		s.At, s.YUnit, s.Axes[1] = append(s.At, Number(d.AtY)), d.Y.Unit(), d.Y.Quantity()
	}
	// Without a tolerance, what interpolating twice leaves is no difference. It goes
	// with the size of the values, for small ones are sums of large ones as well.
	scale := 0.0
	for _, v := range a.Values() {
		if !math.IsNaN(v) {
			scale = max(scale, math.Abs(v))
		}
	}
	allowed := max(bound.half, 1e-9*scale)
	if bound.given {
		allowed = max(bound.abs, bound.rel*scale, 1e-9*scale)
	}
	s.Unchanged = t.Changed == 0 && d.Empty == 0 && d.Largest <= allowed*(1+1e-9)
	for i := range d.Values {
		switch max(d.First[i], d.Second[i]) {
		case interp.Measured:
			s.Measured++
		case interp.Interpolated:
			s.Interpolated++
		default:
			s.Extrapolated++
		}
	}
	n := d.Row*columnsOf(d.X) + d.Column
	s.Worst = max(d.First[n], d.Second[n]).String()
	t.Surface = s
	t.Notes = append(t.Notes, d.Notes...)
	if s.Unchanged {
		t.Finding = refinement(t.Axes)
	}
}

func columnsOf(a *tables.Axis) int {
	if a == nil {
		return 1
	}
	return a.Len()
}

// refinement names a change of axes that leaves the surface as it was.
func refinement(axes []AxisChange) string {
	added, removed, other := false, false, false
	for _, c := range axes {
		added = added || len(c.Added) > 0
		removed = removed || len(c.Removed) > 0
		other = other || len(c.Moved) > 0 || c.Change != "breakpoints"
	}
	switch {
	case other || added && removed:
		return "other axis, surface unchanged"
	case added:
		return "refined axis, surface unchanged"
	}
	return "thinned axis, surface unchanged"
}

// otherUnit sees whether one table is the other in another unit. Where it is,
// to the digits given, that is the finding and the whole of it; where the units
// convert but cells changed too, it is the old table in the new units.
func (c *comparison) otherUnit(t *TableReport, a, b *tables.Table) *tables.Table {
	pairs := unitPairs(a, b)
	if !slices.ContainsFunc(pairs, func(p [2]string) bool { return !unit.Same(p[0], p[1]) }) {
		return nil
	}
	f := a.Fields()
	// From here on the old table is the new one's spelling of it. Where any part
	// does not convert there is no such table, and the two are compared as they are.
	conv, notes, ok := c.conversion(a.Unit(), b.Unit())
	if !ok {
		return nil
	}
	f.Unit = b.Unit()
	f.Values = conv.ApplyAll(a.Values())
	var okx, oky bool
	if f.X, okx = c.axisIn(a.X(), b.X()); !okx {
		return nil
	}
	if f.Y, oky = c.axisIn(a.Y(), b.Y()); !oky {
		return nil
	}
	old, err := tables.NewTable(f)
	if err != nil {
		return nil
	}
	t.Notes = append(t.Notes, notes...)
	if len(f.Values) == len(b.Values()) && old.Columns() == b.Columns() && f.X.SamePoints(b.X()) && f.Y.SamePoints(b.Y()) &&
		surface.SameDigits(f.Values, b.Values(), b.Tolerance()) {
		t.Finding = "same data, other unit: " + unitChange(pairs)
		t.Fields = withoutUnits(t.Fields, a, b, conv)
		return old
	}
	t.Notes = append(t.Notes, "old values read as "+b.Unit())
	return old
}

// conversion finds how values convert; flows by mass and by volume with the
// fuel density that a document gives, the new one's first.
func (c *comparison) conversion(from, to string) (unit.Conversion, []string, bool) {
	if unit.Same(from, to) {
		return unit.Conversion{Mul: 1, Div: 1}, nil, true
	}
	if conv, err := unit.Find(from, to); err == nil {
		return conv, nil, true
	}
	a, oka := unit.Parse(from)
	b, okb := unit.Parse(to)
	// Mass and volume flow convert with a density alone, and only a document can say
	// which: no usual one would be right for both of two fuels.
	for _, doc := range []*tables.Calibration{c.b, c.a} {
		if e := doc.Engine(); oka && okb && e != nil && e.FuelDensity != nil {
			density, err := unit.Convert(e.FuelDensity.Value, e.FuelDensity.Unit, "kg/L")
			if err != nil {
				continue
			}
			if conv, err := unit.Flow(a, b, density); err == nil {
				return conv, []string{"converted with a fuel density of " + tables.FormatValue(density) + " kg/L"}, true
			}
		}
	}
	return unit.Conversion{}, nil, false
}

// axisIn is an axis in the unit of another. Breakpoints that land on the
// other's, to the digits given, are the other's.
func (c *comparison) axisIn(a, like *tables.Axis) (*tables.Axis, bool) {
	if a == nil || like == nil || a.Unit() == like.Unit() {
		return a, true
	}
	conv, _, ok := c.conversion(a.Unit(), like.Unit())
	if !ok {
		return nil, false
	}
	p := conv.ApplyAll(a.Points())
	if a.Len() == like.Len() && surface.SameDigits(p, like.Points(), 0) {
		p = like.Points()
	}
	axis, err := tables.NewAxisExtra(a.Quantity(), like.Unit(), p, a.Extra())
	return axis, err == nil
}

// unitPairs are the units of the values, and of each axis that both tables have,
// before and after.
func unitPairs(a, b *tables.Table) [][2]string {
	pairs := [][2]string{{a.Unit(), b.Unit()}}
	for _, p := range [][2]*tables.Axis{{a.X(), b.X()}, {a.Y(), b.Y()}} {
		if p[0] != nil && p[1] != nil {
			pairs = append(pairs, [2]string{p[0].Unit(), p[1].Unit()})
		}
	}
	return pairs
}

func unitChange(pairs [][2]string) string {
	var parts []string
	for _, p := range pairs {
		if p[0] != p[1] {
			parts = append(parts, p[0]+" → "+p[1])
		}
	}
	return strings.Join(parts, ", ")
}

// withoutUnits leaves out the fields that only say the other unit again.
func withoutUnits(fields []FieldChange, a, b *tables.Table, conv unit.Conversion) []FieldChange {
	l, m := a.Limits(), b.Limits()
	same := l != nil && m != nil && surface.SameDigits(conv.ApplyAll([]float64{l.Low, l.High}), []float64{m.Low, m.High}, 0)
	return slices.DeleteFunc(fields, func(f FieldChange) bool { return f.Field == "unit" || f.Field == "limits" && same })
}
