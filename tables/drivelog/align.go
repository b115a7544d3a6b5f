package drivelog

import "math"

// alignment is how rows become instants.
type alignment struct {
	maxAge  float64 // seconds after which a reading no longer stands
	gapOver float64 // a longer step in time ends a stretch
	held    bool    // an empty cell means "as above"
	wraps   bool    // the clock starts again at midnight
}

// aligner turns the rows of batches into instants: each input's latest reading
// as of the row, and whether it is new.
type aligner struct {
	alignment
	faults    *tally
	prev      float64 // time of the row before; NaN before the first
	day       float64 // seconds that midnights added
	stretch   int
	time      []float64
	stretches []int
	resets    []int // rows before which nothing stands
	inputs    []input
	trues     []bool
}

// input is one column as of the batch's instants: the batch's own cells where
// each is a reading, else a copy.
type input struct {
	value          []float64
	fresh          []bool
	latest, readAt float64
	ourValue       []float64
	ourFresh       []bool
}

func newAligner(inputs int, how alignment, faults *tally) *aligner {
	a := &aligner{alignment: how, faults: faults, prev: math.NaN(), inputs: make([]input, inputs)}
	for k := range a.inputs {
		a.inputs[k].latest = math.NaN()
	}
	return a
}

// clock goes through the times of a batch: midnights, steps back, repeats and
// gaps. Rows without a time are taken out of the batch.
func (a *aligner) clock(b *batch, column, base int) {
	if !b.full[column] {
		b.dropUntimed(column, base, a.faults)
	}
	raw := b.vals[column]
	a.time, a.stretches, a.resets = resize(a.time, len(raw)), resize(a.stretches, len(raw)), a.resets[:0]
	prev, day, stretch := a.prev, a.day, a.stretch
	times, stretches := a.time, a.stretches
	for i, t := range raw {
		t += day
		step := t - prev
		switch {
		case step > 0 && step <= a.gapOver:
		case step == 0:
			a.faults.add(clockRepeat, base+int(b.line[i]))
		case step < 0:
			if a.wraps && step < -43200 && t-day < 43200 {
				day += 86400
				t += 86400
				if t-prev > a.gapOver {
					stretch++
					a.faults.add(gap, base+int(b.line[i]))
				}
				break
			}
			stretch++
			a.faults.add(clockBack, base+int(b.line[i]))
			a.resets = append(a.resets, i)
		case step > a.gapOver:
			stretch++
			a.faults.add(gap, base+int(b.line[i]))
		}
		prev = t
		times[i], stretches[i] = t, stretch
	}
	a.prev, a.day, a.stretch = prev, day, stretch
}

// fill brings input k up to date through a batch.
func (a *aligner) fill(k int, raw []float64, full bool) {
	in, n := &a.inputs[k], len(raw)
	if full && n > 0 {
		for len(a.trues) < n {
			a.trues = append(a.trues, true)
		}
		in.value, in.fresh = raw, a.trues[:n]
		in.latest, in.readAt = raw[n-1], a.time[n-1]
		return
	}
	in.ourValue, in.ourFresh = resize(in.ourValue, n), resize(in.ourFresh, n)
	in.value, in.fresh = in.ourValue, in.ourFresh
	value, fresh := in.value, in.fresh
	latest, at, next := in.latest, in.readAt, 0
	for i, v := range raw {
		if next < len(a.resets) && a.resets[next] == i {
			next++
			if !a.held {
				latest = math.NaN()
			}
		}
		t := a.time[i]
		fresh[i] = v == v
		switch {
		case v == v:
			latest, at = v, t
		case a.held:
			fresh[i] = latest == latest && math.Float64bits(v) == emptyBits
			v = latest
		case t-at <= a.maxAge+1e-9+float64(t*5e-16): // the bound is included, whatever a double makes of 0.8 - 0.6
			v = latest
		default:
			v = noReading
		}
		value[i] = v
	}
	in.latest, in.readAt = latest, at
}

func resize[T any](v []T, n int) []T {
	if cap(v) < n {
		return make([]T, n, n+n/4)
	}
	return v[:n]
}
