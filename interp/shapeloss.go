package interp

import (
	"fmt"
	"math"
	"slices"

	"calsplice/tables"
)

// noteShapeLoss says what a table newly suffers from on its new axes: its highest or
// lowest value lost, a row or column that was monotonic and no longer is.
func (r *Resampled) noteShapeLoss(t *tables.Table) {
	n := r.Table
	oldLow, oldHigh := extremes(t.Values())
	low, high := extremes(n.Values())
	if r.Loss.Empty > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("table %s: at %d of %d places one of the two surfaces is empty, and they are not compared", t.ID(), r.Loss.Empty, len(r.Loss.Values)))
	}
	if math.IsInf(low, 0) { // no value is left to compare
		return
	}
	bound := math.Max(t.Tolerance(), fitNoise*math.Max(math.Abs(oldLow), math.Abs(oldHigh)))
	for _, p := range []struct {
		name     string
		was, now float64
		lost     bool
	}{{"highest", oldHigh, high, high < oldHigh-bound}, {"lowest", oldLow, low, low > oldLow+bound}} {
		if p.lost {
			r.Notes = append(r.Notes, fmt.Sprintf("table %s: its %s value is lost: it was %s at %s, and is %s now", t.ID(), p.name,
				tables.FormatValue(p.was), t.Place(slices.Index(t.Values(), p.was)), tables.FormatValue(p.now)))
		}
	}
	turned := 0
	for i := range n.Rows() {
		if old := sameLine(t.Y(), n.Y(), i); old >= 0 && monotonic(t.Row(old)) && !monotonic(n.Row(i)) {
			turned++
		}
	}
	for i := range n.Columns() {
		if old := sameLine(t.X(), n.X(), i); old >= 0 && monotonic(t.Column(old)) && !monotonic(n.Column(i)) {
			turned++
		}
	}
	if turned > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("table %s: %d rows or columns rose or fell throughout, and no longer do", t.ID(), turned))
	}
}

// extremes are the lowest and the highest value; infinite where all cells are empty.
func extremes(values []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if v < low {
			low = v
		}
		if v > high {
			high = v
		}
	}
	return low, high
}

// sameLine is where new breakpoint i stood on the old axis, or −1.
func sameLine(old, new *tables.Axis, i int) int {
	if old == nil {
		return 0
	}
	points, err := pointsIn(new, old)
	if err != nil {
		return -1
	}
	return old.Find(points[i])
}

// monotonic reports whether a line never falls, or never rises.
func monotonic(line []float64) bool {
	up, down := Line{Step: 1, N: len(line)}.Trend(line)
	return up || down
}
