package rows

import (
	"math"

	"calsplice/tables/drivelog/dialect"
)

// Alignment is how rows become instants.
type Alignment struct {
	MaxAge  float64 // seconds after which a reading no longer stands
	GapOver float64 // a longer step in time ends a stretch
	Held    bool    // an empty cell means "as above"
	Wraps   bool    // the clock starts again at midnight
}

// Aligner turns the rows of batches into instants: each input's latest reading
// as of the row, and whether it is new.
type Aligner struct {
	Alignment
	faults    *Tally
	prev      float64 // time of the row before; NaN before the first
	day       float64 // seconds that midnights added
	stretch   int
	Time      []float64
	Stretches []int
	resets    []int // rows before which nothing stands
	inputs    []input
}

// input is the latest reading of one column.
type input struct{ latest, readAt float64 }

// NewAligner aligns so many inputs; it counts what is wrong with the clock.
func NewAligner(inputs int, how Alignment, faults *Tally) *Aligner {
	a := &Aligner{Alignment: how, faults: faults, prev: math.NaN(), inputs: make([]input, inputs)}
	for k := range a.inputs {
		a.inputs[k].latest = math.NaN()
	}
	return a
}

// Clock goes through the times of a batch: midnights, steps back, repeats and
// gaps. A row without a time gets none.
func (a *Aligner) Clock(b *Batch, column, base int) {
	raw := b.Vals[column]
	a.Time, a.Stretches, a.resets = Resize(a.Time, len(raw)), Resize(a.Stretches, len(raw)), a.resets[:0]
	prev, day, stretch := a.prev, a.day, a.stretch
	times, stretches := a.Time, a.Stretches
	for i, t := range raw {
		t += day
		step := t - prev
		switch {
		case step > 0 && within(step, a.GapOver, t):
		case step == 0:
			a.faults.add(clockRepeat, base+int(b.Line[i]))
		case step < 0:
			// A step back by most of a day is midnight; by less, a clock that was set.
			if a.Wraps && step < -43200 && t-day < 43200 {
				day += 86400
				t += 86400
				if !within(t-prev, a.GapOver, t) {
					stretch++
					a.faults.add(gap, base+int(b.Line[i]))
				}
				break
			}
			stretch++
			a.faults.add(clockBack, base+int(b.Line[i]))
			a.resets = append(a.resets, i)
		case step > 0:
			stretch++
			a.faults.add(gap, base+int(b.Line[i]))
		case t != t:
			a.faults.add(clockMissing, base+int(b.Line[i]))
			times[i], stretches[i] = t, stretch
			continue
		}
		prev = t
		times[i], stretches[i] = t, stretch
	}
	a.prev, a.day, a.stretch = prev, day, stretch
}

// Fill brings input k up to date through a batch, and puts into cells without a reading
// what stands there. It returns the rows, of those, in which the input is not new.
func (a *Aligner) Fill(k int, raw []float64, gaps []int32) (stale []int32) {
	in, n := &a.inputs[k], len(raw)
	stale = gaps[:0]
	latest, at, next, behind := in.latest, in.readAt, 0, 0
	for _, gap := range gaps {
		i := int(gap)
		if behind < i {
			latest, at = raw[i-1], a.Time[i-1]
		}
		behind = i + 1
		for next < len(a.resets) && a.resets[next] < i {
			next++
		}
		if next < len(a.resets) && a.resets[next] == i && !a.Held {
			latest = math.NaN()
		}
		t := a.Time[i]
		if !a.Held || latest != latest || math.Float64bits(raw[i]) != dialect.EmptyBits {
			stale = append(stale, gap)
		}
		switch {
		case a.Held:
			raw[i] = latest
		case within(t-at, a.MaxAge, t):
			raw[i] = latest
		default:
			raw[i] = dialect.NoReading
		}
	}
	if behind < n {
		latest, at = raw[n-1], a.Time[n-1]
	}
	in.latest, in.readAt = latest, at
	return stale
}

// within reports whether a time that ends at t is no longer than a bound, whatever a
// double makes of 0.8 - 0.6.
func within(step, bound, t float64) bool { return step <= bound+1e-9+float64(t*5e-16) }

// Resize is a slice of n elements of which nothing is promised: the old one where it
// is long enough.
func Resize[T any](v []T, n int) []T {
	if cap(v) < n {
		return make([]T, n, n+n/4)
	}
	return v[:n]
}
