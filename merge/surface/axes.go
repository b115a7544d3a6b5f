package surface

import (
	"cmp"
	"slices"

	"calsplice/tables"
)

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
	if f.Points, ok = mergePoints(o, a, b); !ok {
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
func mergePoints(o, a, b *tables.Axis) ([]float64, bool) {
	if v, ok := Three(o, a, b, (*tables.Axis).SamePoints); ok {
		return v.Points(), true
	}
	if !shares(o, a) || !shares(o, b) {
		return nil, false
	}
	// A set has no memory of what was moved: 3000 moved to 3200 by one side and to
	// 3300 by the other would merge to both. That is a conflict of the axis instead.
	fateA, fateB := Walk(o, a), Walk(o, b)
	for _, p := range o.Points() {
		if !has(a, p) && !has(b, p) && fateA.to(p) != fateB.to(p) {
			return nil, false
		}
	}
	var out []float64
	for _, p := range o.Points() {
		if has(a, p) && has(b, p) {
			bits, _ := Three(p, a.At(a.Find(p)), b.At(b.Find(p)), tables.SameBit) // 0 or −0
			out = append(out, bits)
		}
	}
	for _, p := range slices.Concat(a.Points(), b.Points()) {
		if !has(o, p) {
			out = append(out, p)
		}
	}
	slices.Sort(out)
	out = slices.Compact(out)
	return out, len(out) > 0
}

func shares(a, b *tables.Axis) bool {
	return slices.ContainsFunc(a.Points(), func(p float64) bool { return has(b, p) })
}

func has(a *tables.Axis, p float64) bool { return a.Find(p) >= 0 }

// Fate is what became of the breakpoints of an axis. As many put where others
// were taken away, between the same neighbours, have moved.
type Fate struct {
	Kept           int
	Moved          [][2]float64 // from and to
	Removed, Added []float64
}

// Walk finds the fate of breakpoints. One that stands in both lists is the same
// one.
func Walk(old, now *tables.Axis) (f Fate) {
	was, is := old.Points(), now.Points()
	for i, j := 0, 0; i < len(was) || j < len(is); i, j = i+1, j+1 {
		i0, j0 := i, j
		for i < len(was) && !has(now, was[i]) {
			i++
		}
		for j < len(is) && !has(old, is[j]) {
			j++
		}
		gone, come := was[i0:i], is[j0:j]
		// Between two breakpoints that stayed, as many gone as new: each was moved, in
		// order. Where the counts differ nobody can say which became which.
		if len(gone) == len(come) {
			for k := range gone {
				f.Moved = append(f.Moved, [2]float64{gone[k], come[k]})
			}
		} else {
			f.Removed, f.Added = append(f.Removed, gone...), append(f.Added, come...)
		}
		if i == len(was) || j == len(is) {
			break // those that both have end together
		}
		f.Kept++
	}
	return f
}

// to is where a breakpoint that is gone went; itself where it did not move.
func (f Fate) to(p float64) float64 {
	i, moved := slices.BinarySearchFunc(f.Moved, p, func(m [2]float64, p float64) int { return cmp.Compare(m[0], p) })
	if !moved {
		return p
	}
	return f.Moved[i][1]
}
