package merge

import (
	"fmt"
	"math"

	"calsplice/interp"
	"calsplice/merge/surface"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// sideEffectsOf lists what a merge newly causes in tables that are neither side's: a
// row or column that was monotonic on both sides and no longer is, a step
// between neighbours that is larger than on either side, a limit that neither
// side passed there.
func sideEffectsOf(a, b, merged *tables.Calibration) []string {
	var notes []string
	for _, t := range merged.Tables() {
		ta, tb := a.Table(t.ID()), b.Table(t.ID())
		if ta == nil || tb == nil || t.Equal(ta) || t.Equal(tb) || !unit.Same(t.Unit(), ta.Unit()) || !unit.Same(t.Unit(), tb.Unit()) {
			continue
		}
		e, ok := newSideEffects(t, ta, tb)
		if !ok {
			continue
		}
		for _, s := range append(append(e.limits(), e.monotony()...), e.steps()...) {
			notes = append(notes, t.ID()+": "+s)
		}
	}
	return notes
}

// sideEffects compares a merged table with its parents, both read on its axes.
type sideEffects struct {
	t          *tables.Table
	lines      []interp.Line
	parents    [2][]float64
	parentLims [2]*tables.Limits
}

func newSideEffects(t, a, b *tables.Table) (*sideEffects, bool) {
	e := &sideEffects{t: t, lines: interp.Lines(t), parentLims: [2]*tables.Limits{a.Limits(), b.Limits()}}
	for i, p := range []*tables.Table{a, b} {
		var ok bool
		if e.parents[i], ok = surface.On(p, t); !ok {
			return nil, false
		}
	}
	return e, true
}

func (e *sideEffects) limits() []string {
	l := e.t.Limits()
	if l == nil {
		return nil
	}
	past := func(v float64, l *tables.Limits) bool { return l != nil && (v < l.Low || v > l.High) }
	var found surface.Places
	for i, v := range e.t.Values() {
		if past(v, l) && !past(e.parents[0][i], e.parentLims[0]) && !past(e.parents[1][i], e.parentLims[1]) {
			found.Add(0, func() string {
				return fmt.Sprintf("%s is %s, past the limits %s; neither side passed its own there", e.t.Place(i), cellText(v), l.Text())
			})
		}
	}
	return found.Worst()
}

func (e *sideEffects) monotony() []string {
	var found surface.Places
	for _, l := range e.lines {
		// Two breakpoints have a trend whatever they hold, and a flat line has both: only
		// a line that both sides bent one way can lose its shape.
		trend := func(values []float64) (t [2]bool) {
			t[0], t[1] = l.Trend(values)
			return t
		}
		was := trend(e.parents[0])
		if l.N >= 3 && was[0] != was[1] && was == trend(e.parents[1]) && was != trend(e.t.Values()) {
			found.Add(0, func() string {
				return l.Name() + map[bool]string{true: " rose", false: " fell"}[was[0]] + " from end to end on both sides and no longer does"
			})
		}
	}
	return found.Worst()
}

func (e *sideEffects) steps() []string {
	v := e.t.Values()
	var found surface.Places
	for _, l := range e.lines {
		for i := 1; i < l.N; i++ {
			p, q := l.First+(i-1)*l.Step, l.First+i*l.Step
			a, b := math.Abs(e.parents[0][q]-e.parents[0][p]), math.Abs(e.parents[1][q]-e.parents[1][p])
			d := math.Abs(v[q] - v[p])
			most := max(a, b)
			// A step as large as a parent's is that parent's. Rounding to the resolution may
			// add one step of it.
			if !(d-most > max(e.t.Tolerance(), 1e-9*(math.Abs(v[q])+math.Abs(v[p])))) {
				continue
			}
			found.Add(d-most, func() string {
				return fmt.Sprintf("the step from %s to %s is %s, larger than on either side (%s and %s)", e.t.Place(p), e.t.Place(q),
					tables.FormatValue(tables.Brief(d)), tables.FormatValue(tables.Brief(min(a, b))), tables.FormatValue(tables.Brief(most)))
			})
		}
	}
	return found.Worst()
}
