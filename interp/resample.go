package interp

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"calsplice/tables"
)

// Method is how new values are found.
type Method int

const (
	Sample Method = iota // the old surface at the new breakpoints
	Fit                  // the values whose surface is nearest to the old one, by least squares over the area
)

// ParseMethod reads "sample" or "fit".
func ParseMethod(s string) (Method, error) {
	for m := Sample; m <= Fit; m++ {
		if s == m.String() {
			return m, nil
		}
	}
	return 0, fmt.Errorf("method is %q, expected sample or fit", s)
}

// String is what the flag --method calls it.
func (m Method) String() string { return [...]string{"sample", "fit"}[m] }

// Resampled is a table on other axes, with what that did to it.
type Resampled struct {
	Table  *tables.Table
	Status []Status    // of each cell: at an old breakpoint, between, or past them
	Moved  int         // cells at an old breakpoint whose value the fit moved
	Loss   *Difference // new surface minus old, over the box that both span
	Notes  []string    // clamped values, converted units, breakpoints past the old axes, what was lost
}

// Resample is a table on other axes of the same quantities, in the units that
// those axes have. Under [Sample] a breakpoint that stays keeps its value, to the
// bit; under [Fit] it does so where the fit does not move it by more than half a
// resolution step, and everywhere where no breakpoint is lost. Other values are
// rounded to the table's resolution and kept within its limits.
//
// Under [Fit] the area is the box that old and new axes span together; past its
// own ends the new surface is held there, as a controller will.
func Resample(t *tables.Table, x, y *tables.Axis, m Method, out Outside) (*Resampled, error) {
	if (x == nil) != (t.X() == nil) || (y == nil) != (t.Y() == nil) {
		kind, has := shape(t.X(), t.Y())
		return nil, fmt.Errorf("table %s is a %s and stays one: it needs %s", t.ID(), kind, has)
	}
	r := &Resampled{}
	values, status, err := lay(t, x, y, out)
	if err != nil {
		return nil, err
	}
	r.Status = status
	sampled, fresh := slices.Clone(values), make([]bool, len(values)) // cells that hold a new value
	for i, s := range status {
		fresh[i] = s != Measured
	}
	if m == Fit {
		if err := fitCells(t, x, y, out, values, fresh); err != nil {
			return nil, err
		}
	}
	r.finish(t, values, fresh)
	for i, v := range values {
		if status[i] == Measured && math.Float64bits(v) != math.Float64bits(sampled[i]) {
			r.Moved++
		}
	}
	f := t.Fields()
	f.X, f.Y, f.Values = x, y, values
	if r.Table, err = tables.NewTable(f); err != nil {
		return nil, fmt.Errorf("table %s: %w", t.ID(), err)
	}
	if r.Loss, err = compare(t, r.Table, out); err != nil {
		return nil, err
	}
	r.Notes = append(r.Notes, r.Loss.Notes...)
	r.Notes = append(r.Notes, pastAxis(t, "x", t.X(), x, out)...)
	r.Notes = append(r.Notes, pastAxis(t, "y", t.Y(), y, out)...)
	r.noteShapeLoss(t)
	return r, nil
}

// fitCells replaces sampled values by fitted ones where an axis loses breakpoints, and
// marks the cells that hold a new value.
func fitCells(t *tables.Table, x, y *tables.Axis, out Outside, values []float64, fresh []bool) error {
	px, errX := pointsIn(x, t.X())
	py, errY := pointsIn(y, t.Y())
	if err := cmp.Or(errX, errY); err != nil {
		return err
	}
	if (x == nil || holdsAll(px, t.X().Points())) && (y == nil || holdsAll(py, t.Y().Points())) {
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
	for i, v := range fitted(t, px, py, out) {
		if fresh[i] = fresh[i] || math.Abs(v-values[i]) > noise; fresh[i] {
			values[i] = v
		}
	}
	return nil
}

// fitNoise is what solving leaves of a value, relative to the table's largest.
const fitNoise = 1e-12

// finish rounds the fresh values and keeps them within the limits.
func (r *Resampled) finish(t *tables.Table, values []float64, fresh []bool) {
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
		r.Notes = append(r.Notes, fmt.Sprintf("table %s: %s rounded to its resolution of %s %s, by %.2g at most", t.ID(), tables.Plural(rounded, "value"),
			tables.FormatValue(t.Resolution()), t.Unit(), most))
	}
	if clamped > 0 {
		l := t.Limits()
		r.Notes = append(r.Notes, fmt.Sprintf("table %s: %s clamped to its limits, %s to %s", t.ID(), tables.Plural(clamped, "value"),
			tables.FormatValue(l.Low), tables.FormatValue(l.High)))
	}
}

// pastAxis says which new breakpoints lie past an old axis, and what was done.
func pastAxis(t *tables.Table, name string, old, new *tables.Axis, out Outside) []string {
	points, err := pointsIn(new, old)
	if err != nil || old == nil {
		return nil
	}
	low, high := old.At(0), old.At(old.Len()-1)
	var below, above []string
	for i, p := range points {
		if p < low {
			below = append(below, tables.FormatValue(new.At(i)))
		} else if p > high {
			above = append(above, tables.FormatValue(new.At(i)))
		}
	}
	how := "the edge value is held"
	if out == Extend {
		how = "the last two breakpoints' line is extended"
		if old.Len() == 1 {
			how = "its one value is held, since one breakpoint has no line to extend"
		}
	}
	var notes []string
	for _, past := range [][]string{below, above} {
		if past != nil {
			notes = append(notes, fmt.Sprintf("table %s: %s %s %s past the old axis (%s to %s %s): %s", t.ID(), name, list(past),
				new.Unit(), tables.FormatValue(low), tables.FormatValue(high), old.Unit(), how))
		}
	}
	return notes
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
