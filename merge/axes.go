package merge

import (
	"math"
	"slices"
	"strings"

	"calsplice/interp"
	"calsplice/merge/blocks"
	"calsplice/merge/surface"
	"calsplice/tables"
	"calsplice/tables/tableunit"
	"calsplice/tables/unit"
)

// AxisChange is what happened to one axis. Breakpoints are known by their
// value: one that stands in both axes is the same one. One taken away where one
// was put between the same neighbours is told as moved.
type AxisChange struct {
	Axis     string             `json:"axis"` // "x" or "y"
	Quantity string             `json:"quantity"`
	Unit     string             `json:"unit"`
	Change   string             `json:"change"` // "breakpoints", "rescaled", "replaced", "added", "removed" or "renamed"
	Added    []tables.Number    `json:"added,omitempty"`
	Removed  []tables.Number    `json:"removed,omitempty"`
	Moved    [][2]tables.Number `json:"moved,omitempty"`
	Factor   *float64           `json:"factor,omitempty"` // of a rescaled axis
	From     string             `json:"from"`
	To       string             `json:"to"`
}

func axisChanges(a, b *tables.Table) []AxisChange {
	var list []AxisChange
	for i, old := range a.Axes() {
		if now := b.Axes()[i]; !old.Equal(now) {
			list = append(list, axisChange("xy"[i:i+1], old, now))
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
	fate := surface.Walk(a, b)
	c.Removed, c.Added = numbers(fate.Removed), numbers(fate.Added)
	for _, m := range fate.Moved {
		c.Moved = append(c.Moved, [2]tables.Number{tables.Number(m[0]), tables.Number(m[1])})
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

func numbers(p []float64) []tables.Number {
	return tables.Each(p, func(v float64) tables.Number { return tables.Number(v) })
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
	Largest      tables.Number   `json:"largest"`
	At           []tables.Number `json:"at"` // coordinates, x and then y
	Mean         tables.Number   `json:"mean"`
	RMS          tables.Number   `json:"rms"`
	Unchanged    bool            `json:"unchanged"`
	Measured     int             `json:"measured"`     // nodes at a breakpoint of both
	Interpolated int             `json:"interpolated"` // nodes between breakpoints of one
	Extrapolated int             `json:"extrapolated"` // nodes past the end of one
	Worst        string          `json:"worst"`        // which of these the largest stands on
	Axes         tables.Axes     `json:"-"`
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
	s := &Surface{Axes: d.Axes, Largest: tables.Number(d.Largest), Mean: tables.Number(d.Mean), RMS: tables.Number(d.RMS)}
	for k := range d.Axes.All() {
		s.At = append(s.At, tables.Number(d.At[k]))
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
	var nodes [interp.Extrapolated + 1]int
	for _, status := range d.Status {
		nodes[status]++
	}
	s.Measured, s.Interpolated, s.Extrapolated = nodes[interp.Measured], nodes[interp.Interpolated], nodes[interp.Extrapolated]
	s.Worst = d.Status[d.Node].String()
	t.Surface = s
	t.Notes = append(t.Notes, d.Notes...)
	if s.Unchanged {
		t.Finding = refinement(t.Axes)
	}
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
	if !slices.ContainsFunc(pairs, func(p unitPair) bool { return !unit.Same(p.old, p.new) }) {
		return nil
	}
	// From here on the old table is the new one's spelling of it. Where any part
	// does not convert there is no such table, and the two are compared as they are.
	old, notes := c.inUnits(a, b, pairs)
	if old == nil {
		return nil
	}
	t.Notes = append(t.Notes, notes...)
	if old.Axes().SamePoints(b.Axes()) && surface.SameDigits(old.Values(), b.Values(), b.Tolerance()) {
		t.Finding = "same data, other unit: " + unitChange(pairs)
		t.Fields = withoutUnits(t.Fields, old, b)
		return old
	}
	t.Notes = append(t.Notes, "old values read as "+b.Unit())
	return old
}

// inUnits is an old table in the units of the new one; flows by mass and by volume
// convert with the fuel density that a document gives, the new one's first. It is
// nil where anything does not convert.
func (c *comparison) inUnits(a, b *tables.Table, parts []unitPair) (*tables.Table, []string) {
	for _, doc := range []*tables.Calibration{c.b, c.a} {
		alone, err := tables.NewCalibration(tables.Contents{Kind: doc.Kind(), Engine: doc.Engine(), Tables: []*tables.Table{a}})
		var notes []string
		for _, p := range parts {
			if err == nil && !unit.Same(p.old, p.new) {
				var said []string
				alone, said, err = tableunit.Convert(alone, a.ID()+p.of, p.new)
				for _, s := range said {
					notes = append(notes, strings.TrimPrefix(s, "table "+a.ID()+": "))
				}
			}
		}
		if err != nil {
			continue
		}
		f := alone.Table(a.ID()).Fields()
		f.Unit, f.X, f.Y = b.Unit(), landed(f.X, a.X(), b.X()), landed(f.Y, a.Y(), b.Y())
		if t, err := tables.NewTable(f); err == nil {
			return t, notes
		}
	}
	return nil, nil
}

// landed is an axis, read in the unit of another, under that one's unit name.
// Converted breakpoints that are the other's to the digits given are the other's.
func landed(a, was, like *tables.Axis) *tables.Axis {
	if a == nil || like == nil {
		return a
	}
	parts := a.Parts()
	if !unit.Same(was.Unit(), like.Unit()) && a.Len() == like.Len() && surface.SameDigits(a.Points(), like.Points(), 0) {
		parts.Points = like.Points()
	}
	parts.Unit = like.Unit()
	axis, err := parts.Axis()
	if err != nil {
		return a
	}
	return axis
}

// unitPair is a unit before and after: of the values, or of an axis that both tables
// have, which of says as tableunit does.
type unitPair struct{ of, old, new string }

func unitPairs(a, b *tables.Table) []unitPair {
	pairs := []unitPair{{"", a.Unit(), b.Unit()}}
	for i, p := range a.Axes() {
		if q := b.Axes()[i]; p != nil && q != nil {
			pairs = append(pairs, unitPair{[]string{".x", ".y"}[i], p.Unit(), q.Unit()})
		}
	}
	return pairs
}

func unitChange(pairs []unitPair) string {
	var parts []string
	for _, p := range pairs {
		if p.old != p.new {
			parts = append(parts, p.old+" → "+p.new)
		}
	}
	return strings.Join(parts, ", ")
}

// withoutUnits leaves out the fields that only say the other unit again.
func withoutUnits(fields []FieldChange, a, b *tables.Table) []FieldChange {
	l, m := a.Limits(), b.Limits()
	same := l != nil && m != nil && surface.SameDigits([]float64{l.Low, l.High}, []float64{m.Low, m.High}, 0)
	return slices.DeleteFunc(fields, func(f FieldChange) bool { return f.Field == "unit" || f.Field == "limits" && same })
}
