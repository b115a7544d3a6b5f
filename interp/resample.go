package interp

import (
	"fmt"
	"math"
	"slices"

	"calsplice/tables"
)

// Method is how new values are found, as the flag --method has it.
type Method string

const (
	Sample Method = "sample" // the old surface at the new breakpoints
	Fit    Method = "fit"    // the values whose surface is nearest to the old one, by least squares over the area
)

// Resampled is a table on other axes, with what that did to it.
type Resampled struct {
	Table  *tables.Table
	Status []Status     // of each cell: at an old breakpoint, between, or past them
	Moved  int          // cells at an old breakpoint whose value the fit moved
	Loss   *Difference  // new surface minus old, over the box that both span
	Notes  tables.Notes // clamped values, converted units, breakpoints past the old axes, what was lost

	Method  Method
	Outside Outside
	of      *tables.Table
}

// Resample is a table on other axes of the same quantities, in the units that
// those axes have. Under [Sample] a breakpoint that stays keeps its value, to the
// bit; under [Fit] it does so where the fit does not move it by more than half a
// resolution step, and everywhere where no breakpoint is lost. Other values are
// rounded to the table's resolution and kept within its limits.
//
// Under [Fit] the area is the box that old and new axes span together; past its
// own ends the new surface is held there, as a controller will.
func Resample(t *tables.Table, axes tables.Axes, m Method, out Outside) (*Resampled, error) {
	if (axes[0] == nil) != (t.X() == nil) || (axes[1] == nil) != (t.Y() == nil) {
		kind, has := shape(t.X(), t.Y())
		return nil, fmt.Errorf("table %s is a %s and stays one: it needs %s", t.ID(), kind, has)
	}
	p, err := nodesOn(t, axes)
	if err == nil && out == Refuse {
		err = refusePast(t, p)
	}
	if err != nil {
		return nil, err
	}
	r := &Resampled{Method: m, Outside: out, of: t}
	values, status := lay(t, p, out)
	r.Status = status
	sampled, fresh := slices.Clone(values), make([]bool, len(values)) // cells that hold a new value
	for i, s := range status {
		fresh[i] = s != Measured
	}
	if m == Fit {
		if err := fitCells(t, p, out, values, fresh); err != nil {
			return nil, err
		}
	}
	r.finish(values, fresh)
	for i, v := range values {
		if status[i] == Measured && math.Float64bits(v) != math.Float64bits(sampled[i]) {
			r.Moved++
		}
	}
	f := t.Fields()
	f.X, f.Y, f.Values = axes[0], axes[1], values
	if r.Table, err = tables.NewTable(f); err != nil {
		return nil, fmt.Errorf("table %s: %w", t.ID(), err)
	}
	if r.Loss, err = compare(t, r.Table, out); err != nil {
		return nil, err
	}
	r.Notes.Add(r.Loss.Notes...)
	r.notePast(p)
	r.noteShapeLoss(p)
	return r, nil
}

// refusePast refuses nodes past a table's ends.
func refusePast(t *tables.Table, p nodes) error {
	for i, a := range t.Axes().All() {
		first, last := a.At(0), a.At(a.Len()-1)
		for _, v := range p[i] {
			if v < first || v > last {
				return fmt.Errorf("table %s: %s %s is past its axis (%s to %s %s)", t.ID(), "xy"[i:i+1], tables.FormatValue(v),
					tables.FormatValue(first), tables.FormatValue(last), a.Unit())
			}
		}
	}
	return nil
}

// fitCells replaces sampled values by fitted ones where an axis loses breakpoints, and
// marks the cells that hold a new value.
func fitCells(t *tables.Table, p nodes, out Outside, values []float64, fresh []bool) error {
	loses := func(i int, a *tables.Axis) bool { return a != nil && !holdsAll(p[i], a.Points()) }
	if !loses(0, t.X()) && !loses(1, t.Y()) {
		return nil
	}
	for i, v := range t.Values() {
		if math.IsNaN(v) {
			return fmt.Errorf("table %s is empty at %s: a fit needs a value in every cell, sampling does not", t.ID(), t.Place(i))
		}
	}
	// Where the fit says what the table said, it is the table's own value: so a
	// table put back onto the axes that it came from is itself again.
	noise := t.Tolerance()
	for _, v := range t.Values() {
		noise = max(noise, fitNoise*math.Abs(v))
	}
	for i, v := range fitted(t, p, out) {
		if fresh[i] = fresh[i] || math.Abs(v-values[i]) > noise; fresh[i] {
			values[i] = v
		}
	}
	return nil
}

// fitNoise is what solving leaves of a value, relative to the table's largest.
const fitNoise = 1e-12

// finish rounds the fresh values and keeps them within the limits.
func (r *Resampled) finish(values []float64, fresh []bool) {
	t := r.of
	clamped, rounded, most := 0, 0, 0.0
	for i, v := range values {
		if !fresh[i] {
			continue
		}
		round := t.Round(v)
		values[i] = t.Clamp(round)
		if math.Abs(values[i]-round) > t.Tolerance()+float64(1e-9*math.Abs(round)) {
			clamped++
		} else if by := math.Abs(values[i] - v); by > fitNoise*math.Abs(v) {
			rounded, most = rounded+1, max(most, by)
		}
	}
	if rounded > 0 {
		r.note("%s rounded to its resolution of %s %s, by %.2g at most", tables.Plural(rounded, "value"), tables.FormatValue(t.Resolution()), t.Unit(), most)
	}
	if clamped > 0 {
		r.note("%s clamped to its limits, %s", tables.Plural(clamped, "value"), t.Limits().Text())
	}
}

// note adds a note about the table.
func (r *Resampled) note(format string, args ...any) {
	r.Notes.Add("table " + r.of.ID() + ": " + fmt.Sprintf(format, args...))
}

// notePast says which new breakpoints lie past an old axis, and what was done.
func (r *Resampled) notePast(p nodes) {
	for i, old := range r.of.Axes().All() {
		low, high, new := old.At(0), old.At(old.Len()-1), r.Table.Axes()[i]
		var below, above []string
		for k, v := range p[i] {
			if v < low {
				below = append(below, tables.FormatValue(new.At(k)))
			} else if v > high {
				above = append(above, tables.FormatValue(new.At(k)))
			}
		}
		how := "the edge value is held"
		if r.Outside == Extend && old.Len() == 1 {
			how = "its one value is held, since one breakpoint has no line to extend"
		} else if r.Outside == Extend {
			how = "the last two breakpoints' line is extended"
		}
		for _, past := range [][]string{below, above} {
			if past != nil {
				r.note("%s %s %s past the old axis (%s to %s %s): %s", "xy"[i:i+1], list(past), new.Unit(),
					tables.FormatValue(low), tables.FormatValue(high), old.Unit(), how)
			}
		}
	}
}

// list is "1, 2 and 3", cut short where it is long.
func list(words []string) string {
	const most = 6
	if len(words) > most {
		return fmt.Sprintf("%s to %s (%d breakpoints)", words[0], words[len(words)-1], len(words))
	}
	return tables.Listed(words, "and")
}

// shape is what a table with these axes is called, and what axes it has.
func shape(x, y *tables.Axis) (kind, has string) {
	switch {
	case y != nil:
		return "map", "an x and a y axis"
	case x != nil:
		return "curve", "an x axis and no y axis"
	}
	return "scalar", "no axis"
}
