package interp

import (
	"math"
	"slices"

	"calsplice/tables"
)

// noteShapeLoss says what a table newly suffers from on its new axes: its highest or
// lowest value lost, a row or column that was monotonic and no longer is.
func (r *Resampled) noteShapeLoss(p nodes) {
	t, n := r.of, r.Table
	oldLow, oldHigh := tables.Range(t.Values())
	low, high := tables.Range(n.Values())
	if r.Loss.Empty > 0 {
		r.note("at %d of %d places one of the two surfaces is empty, and they are not compared", r.Loss.Empty, len(r.Loss.Values))
	}
	if math.IsInf(low, 0) { // no value is left to compare
		return
	}
	bound := math.Max(t.Tolerance(), fitNoise*math.Max(math.Abs(oldLow), math.Abs(oldHigh)))
	lost := func(name string, was, now float64) {
		r.note("its %s value is lost: it was %s at %s, and is %s now", name, tables.FormatValue(was), t.Place(slices.Index(t.Values(), was)), tables.FormatValue(now))
	}
	if high < oldHigh-bound {
		lost("highest", oldHigh, high)
	}
	if low > oldLow+bound {
		lost("lowest", oldLow, low)
	}
	turned := 0
	for _, l := range []struct {
		axis     *tables.Axis // across the lines
		nodes    []float64
		was, now func(int) []float64
	}{{t.Y(), p[1], t.Row, n.Row}, {t.X(), p[0], t.Column, n.Column}} {
		for i := range max(len(l.nodes), 1) {
			if old := sameLine(l.axis, l.nodes, i); old >= 0 && monotonic(l.was(old)) && !monotonic(l.now(i)) {
				turned++
			}
		}
	}
	if turned > 0 {
		r.note("%d rows or columns rose or fell throughout, and no longer do", turned)
	}
}

// sameLine is where new node i stood on the old axis, or −1.
func sameLine(old *tables.Axis, nodes []float64, i int) int {
	if old == nil {
		return 0
	}
	return old.Find(nodes[i])
}

// monotonic reports whether a line never falls, or never rises.
func monotonic(line []float64) bool {
	up, down := Line{Step: 1, N: len(line)}.Trend(line)
	return up || down
}
