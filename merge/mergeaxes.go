package merge

import (
	"slices"

	"calsplice/tables"
)

// axes merges both axes into t.f. Where one cannot be merged it gives its name.
func (t *tableMerge) axes() (name string, ok bool) {
	for _, p := range []struct {
		name string
		get  func(*tables.Table) *tables.Axis
		to   **tables.Axis
	}{{"x", (*tables.Table).X, &t.f.X}, {"y", (*tables.Table).Y, &t.f.Y}} {
		o, a, b := p.get(t.o), p.get(t.a), p.get(t.b)
		merged, ok := t.axis(o, a, b)
		if !ok {
			return p.name, false
		}
		*p.to = merged
	}
	return "", true
}

// axis merges one axis. Its breakpoints are a set: what either side added is
// in, what either side took away is out.
func (t *tableMerge) axis(o, a, b *tables.Axis) (*tables.Axis, bool) {
	if v, ok := three(o, a, b, (*tables.Axis).Equal); ok {
		// The other side kept the axis; its cells have to fit on the new one.
		fits := v == nil == (o == nil) && (v == nil || sameBreakpoints(v, o) || v.Unit() == o.Unit() && v.Quantity() == o.Quantity())
		return v, fits
	}
	if o == nil || a == nil || b == nil {
		return nil, false
	}
	var f tables.AxisParts
	po, pa, pb := o.Parts(), a.Parts(), b.Parts()
	for _, g := range tables.AxisFields.Of(&po, &pa, &pb) {
		v, ok := three(&po, &pa, &pb, g.Same)
		if !ok {
			return nil, false
		}
		g.Take(&f, v)
	}
	moved := !a.SamePoints(o) || !b.SamePoints(o)
	named := a.Unit() != o.Unit() || b.Unit() != o.Unit() || a.Quantity() != o.Quantity() || b.Quantity() != o.Quantity()
	if moved && named {
		return nil, false // breakpoints of different things are not one set
	}
	points, ok := mergePoints(o.Points(), a.Points(), b.Points())
	if !ok {
		return nil, false
	}
	merged, err := tables.NewAxisExtra(f.Quantity, f.Unit, points, f.Extra)
	return merged, err == nil
}

// mergePoints merges breakpoints as sets. It reports false where one breakpoint
// was moved to two places, or moved and taken away, where a side put a wholly
// other axis in the place of the one that the other side changed, and where
// nothing would be left.
func mergePoints(o, a, b []float64) ([]float64, bool) {
	if slices.Equal(a, b) || slices.Equal(b, o) {
		return a, true
	}
	if slices.Equal(a, o) {
		return b, true
	}
	if !shares(o, a) || !shares(o, b) {
		return nil, false
	}
	movedA, movedB := moves(o, a), moves(o, b)
	for _, p := range o {
		to, isA := movedA[p]
		other, isB := movedB[p]
		if isA && isB && to != other || isA && !isB && !has(b, p) || isB && !isA && !has(a, p) {
			return nil, false
		}
	}
	var out []float64
	for _, p := range o {
		if has(a, p) && has(b, p) {
			bits, _ := three(p, a[index(a, p)], b[index(b, p)], tables.SameBit) // 0 or −0
			out = append(out, bits)
		}
	}
	for _, side := range [][]float64{a, b} {
		for _, p := range side {
			if !has(o, p) {
				out = append(out, p)
			}
		}
	}
	slices.Sort(out)
	out = slices.Compact(out)
	return out, len(out) > 0
}

func has(points []float64, p float64) bool {
	_, ok := slices.BinarySearch(points, p)
	return ok
}

func index(points []float64, p float64) int {
	i, ok := slices.BinarySearch(points, p)
	if !ok {
		return -1
	}
	return i
}

func shares(a, b []float64) bool {
	return slices.ContainsFunc(a, func(p float64) bool { return has(b, p) })
}

// moves pairs breakpoints taken away with as many put in their place, between
// the same neighbours.
func moves(o, a []float64) map[float64]float64 {
	m := map[float64]float64{}
	for i, j := 0, 0; i < len(o) || j < len(a); {
		i0, j0 := i, j
		for i < len(o) && !has(a, o[i]) {
			i++
		}
		for j < len(a) && !has(o, a[j]) {
			j++
		}
		if i-i0 == j-j0 {
			for k := range i - i0 {
				m[o[i0+k]] = a[j0+k]
			}
		}
		i, j = min(i+1, len(o)), min(j+1, len(a))
	}
	return m
}
