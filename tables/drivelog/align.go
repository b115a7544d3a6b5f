package drivelog

import (
	"math"
)

// aligner turns the rows of batches into instants: each input's latest reading
// as of the row, and whether it is new.
type aligner struct {
	maxAge   float64
	held     bool
	gapOver  float64
	wraps    bool // the clock starts again at midnight
	latest   []float64
	readAt   []float64
	prev     float64 // time of the row before; NaN before the first
	day      float64 // seconds that midnights added
	stretch  int
	faults   *tally
	time     []float64
	stretchN []int
	resets   []int       // rows before which nothing stands
	value    [][]float64 // by input: the batch's own cells where each is a reading, else one of ours
	fresh    [][]bool
	ourValue [][]float64
	ourFresh [][]bool
	trues    []bool
}

func newAligner(inputs int, maxAge, gapOver float64, held, wraps bool, faults *tally) *aligner {
	a := &aligner{maxAge: maxAge, gapOver: gapOver, held: held, wraps: wraps, faults: faults, prev: math.NaN(),
		latest: make([]float64, inputs), readAt: make([]float64, inputs),
		value: make([][]float64, inputs), fresh: make([][]bool, inputs),
		ourValue: make([][]float64, inputs), ourFresh: make([][]bool, inputs)}
	for i := range a.latest {
		a.latest[i] = math.NaN()
	}
	return a
}

// clock goes through the times of a batch: midnights, steps back, repeats and
// gaps. Rows without a time are taken out of the batch.
func (a *aligner) clock(b *batch, slot, base int) {
	if !b.full[slot] {
		b.dropUntimed(slot, base, a.faults)
	}
	raw := b.vals[slot]
	a.time, a.stretchN, a.resets = resize(a.time, len(raw)), resize(a.stretchN, len(raw)), a.resets[:0]
	prev, day, stretch := a.prev, a.day, a.stretch
	times, stretches := a.time, a.stretchN
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

// dropUntimed takes the rows out whose time could not be read.
func (b *batch) dropUntimed(slot, base int, faults *tally) {
	keep := 0
	for i, t := range b.vals[slot] {
		if t != t {
			faults.add(clockMissing, base+int(b.line[i]))
			continue
		}
		if keep < i {
			for k := range b.vals {
				b.vals[k][keep] = b.vals[k][i]
			}
			b.line[keep] = b.line[i]
		}
		keep++
	}
	for k := range b.vals {
		b.vals[k] = b.vals[k][:keep]
	}
	b.line, b.n = b.line[:keep], keep
}

// fill brings input k up to date through a batch.
func (a *aligner) fill(k int, raw []float64, full bool) {
	n := len(raw)
	if full && n > 0 {
		a.value[k] = raw
		for len(a.trues) < n {
			a.trues = append(a.trues, true)
		}
		a.fresh[k] = a.trues[:n]
		a.latest[k], a.readAt[k] = raw[n-1], a.time[n-1]
		return
	}
	value, fresh := resize(a.ourValue[k], n), resize(a.ourFresh[k], n)
	a.ourValue[k], a.ourFresh[k] = value, fresh
	latest, at, next := a.latest[k], a.readAt[k], 0
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
	a.latest[k], a.readAt[k] = latest, at
	a.value[k], a.fresh[k] = value, fresh
}
