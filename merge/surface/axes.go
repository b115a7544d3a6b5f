package surface

import (
	"slices"

	"calsplice/tables"
)

// Axes merges both axes. Where one cannot be merged it gives its name.
func (s *Sides) Axes() (x, y *tables.Axis, failed string) {
	x, ok := mergeAxis(s.Base.X(), s.Ours.X(), s.Theirs.X())
	if !ok {
		return nil, nil, "x"
	}
	if y, ok = mergeAxis(s.Base.Y(), s.Ours.Y(), s.Theirs.Y()); !ok {
		return nil, nil, "y"
	}
	return x, y, ""
}

// mergeAxis merges one axis. Its breakpoints are a set: what either side added is
// in, what either side took away is out.
func mergeAxis(o, a, b *tables.Axis) (*tables.Axis, bool) {
	if v, ok := Three(o, a, b, (*tables.Axis).Equal); ok {
		// The other side kept the axis; its cells have to fit on the new one.
		// An axis of another unit or quantity fits where its breakpoints are the same
		// places; otherwise the other side's cells would stand on nothing they know.
		fits := SameBreakpoints(v, o) || v != nil && o != nil && v.Unit() == o.Unit() && v.Quantity() == o.Quantity()
		return v, fits
	}
	if o == nil || a == nil || b == nil {
		return nil, false
	}
	var f tables.AxisParts
	po, pa, pb := o.Parts(), a.Parts(), b.Parts()
	for _, g := range tables.AxisFields.Of(&po, &pa, &pb) {
		v, ok := Three(&po, &pa, &pb, g.Same)
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
	var ok bool
	if f.Points, ok = mergePoints(o.Points(), a.Points(), b.Points()); !ok {
		return nil, false
	}
	merged, err := f.Axis()
	return merged, err == nil
}

// Three picks the merged one of three: the side that changed, or either where
// both are the same. It reports false where both changed differently.
func Three[T any](o, a, b T, same func(a, b T) bool) (T, bool) {
	switch {
	case same(a, b) || same(b, o):
		return a, true
	case same(a, o):
		return b, true
	}
	return a, false
}

// mergePoints merges breakpoints as sets. It reports false where one breakpoint
// was moved to two places, or moved and taken away, where a side put a wholly
// other axis in the place of the one that the other side changed, and where
// nothing would be left.
func mergePoints(o, a, b []float64) ([]float64, bool) {
	if v, ok := Three(o, a, b, slices.Equal[[]float64]); ok {
		return v, true
	}
	if !shares(o, a) || !shares(o, b) {
		return nil, false
	}
	// A set has no memory of what was moved: 3000 moved to 3200 by one side and to
	// 3300 by the other would merge to both. That is a conflict of the axis instead.
	movedA, movedB := Walk(o, a).moves(), Walk(o, b).moves()
	for _, p := range o {
		to, isA := movedA[p]
		other, isB := movedB[p]
		if !has(a, p) && !has(b, p) && (isA != isB || to != other) {
			return nil, false
		}
	}
	var out []float64
	for _, p := range o {
		if has(a, p) && has(b, p) {
			bits, _ := Three(p, a[index(a, p)], b[index(b, p)], tables.SameBit) // 0 or −0
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

func shares(a, b []float64) bool {
	return slices.ContainsFunc(a, func(p float64) bool { return has(b, p) })
}

// Fate is what became of the breakpoints of an axis. As many put where others
// were taken away, between the same neighbours, have moved.
type Fate struct {
	Kept           int
	Moved          [][2]float64 // from and to
	Removed, Added []float64
}

// Walk finds the fate of breakpoints. One that stands in both lists is the same
// one.
func Walk(old, now []float64) (f Fate) {
	for i, j := 0, 0; i < len(old) || j < len(now); i, j = i+1, j+1 {
		i0, j0 := i, j
		for i < len(old) && !has(now, old[i]) {
			i++
		}
		for j < len(now) && !has(old, now[j]) {
			j++
		}
		gone, come := old[i0:i], now[j0:j]
		// Between two breakpoints that stayed, as many gone as new: each was moved, in
		// order. Where the counts differ nobody can say which became which.
		if len(gone) == len(come) {
			for k := range gone {
				f.Moved = append(f.Moved, [2]float64{gone[k], come[k]})
			}
		} else {
			f.Removed, f.Added = append(f.Removed, gone...), append(f.Added, come...)
		}
		if i == len(old) || j == len(now) {
			break // those that both have end together
		}
		f.Kept++
	}
	return f
}

func (f Fate) moves() map[float64]float64 {
	to := make(map[float64]float64, len(f.Moved))
	for _, m := range f.Moved {
		to[m[0]] = m[1]
	}
	return to
}

func index(points []float64, p float64) int {
	if i, ok := slices.BinarySearch(points, p); ok {
		return i
	}
	return -1
}

func has(points []float64, p float64) bool { return index(points, p) >= 0 }
