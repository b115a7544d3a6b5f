package cells

import (
	"math"
	"slices"
	"sort"

	"calsplice/interp/cells/sift"
	"calsplice/tables/drivelog"
)

// The gas that a wideband sensor reads now burned some engine cycles and one length of the
// exhaust ago, at another operating point if the driver moved. Averaged where the engine is
// now, the readings of every acceleration would land in the cell it led to. So the delayer
// keeps the last seconds and looks up where the engine was; the reading belongs there if
// that instant was evidence too.

// delayer assigns each reading of a delayed channel to the operating point at
// which that mixture burned.
type delayer struct {
	d       sift.Delay
	then    *locator
	columns struct{ speed, airFlow, trim, lambda, commanded int }
	past    []pastInstant
	stretch int
	cycle   float64 // seconds of one engine cycle, times r/min

	// of the frame, by instant: when and where the mixture read now burned, what
	// became of the reading, and its value
	time, x, y     []float64
	results        []result
	lambda, mixing []float64 // NaN for none
}

// pastInstant is one instant of the past.
type pastInstant struct {
	time, x, y, trim, commanded float64
	kept                        bool
}

// newDelayer asks for the columns that it needs. It is nil where no channel is
// delayed.
func newDelayer(log *drivelog.Log, g *Grid, d *sift.Delay, q *drivelog.Query) (*delayer, error) {
	if d == nil {
		return nil, nil
	}
	then, err := newLocator(g)
	if err != nil {
		return nil, err
	}
	// Which columns are asked for depends on what the delay is made of, and on whether a
	// mixture error has to be computed anew with the trim of that time.
	l := &delayer{d: *d, then: then, cycle: 120} // four strokes: two turns a cycle
	if e := log.Engine(); e != nil && e.Strokes > 0 {
		l.cycle = 30 * float64(e.Strokes)
	}
	want := func(name string, needed bool) int {
		if needed && err == nil {
			err = log.Resolve(name)
		}
		return q.AskIf(needed, name)
	}
	mixture := slices.Contains(g.channelNames(), "mixture_error")
	l.columns.lambda = want("lambda", true)
	l.columns.speed = want("engine_speed", d.Cycles > 0)
	l.columns.airFlow = want("air_flow", d.Exhaust > 0)
	l.columns.trim = want("trim", mixture)
	l.columns.commanded = want("lambda_commanded", mixture)
	return l, err
}

// frame takes the instants of a frame, with where the engine is now and whether
// the filters keep them.
func (l *delayer) frame(f *drivelog.Frame, x, y []float64, why []sift.Reason) {
	l.time, l.x, l.y, l.results = l.time[:0], l.x[:0], l.y[:0], l.results[:0]
	l.lambda, l.mixing = l.lambda[:0], l.mixing[:0]
	for i := range f.N {
		now := pastInstant{time: f.Time[i], x: x[i], kept: why[i] == sift.Kept}
		if y != nil {
			now.y = y[i]
		}
		if l.columns.trim >= 0 {
			now.trim, now.commanded = f.Columns[l.columns.trim].Value[i], f.Columns[l.columns.commanded].Value[i]
		}
		then, lambda, outcome := l.next(f, i, now)
		// The sensor's lambda belongs to the fuel of then: to the trim and the command of
		// then, not to those of now.
		mixing := ((1+then.trim/100)*lambda/then.commanded - 1) * 100
		if outcome != sampled {
			lambda, mixing = math.NaN(), math.NaN()
		}
		l.time, l.x, l.y, l.results = append(l.time, then.time), append(l.x, then.x), append(l.y, then.y), append(l.results, outcome)
		l.lambda, l.mixing = append(l.lambda, lambda), append(l.mixing, mixing)
	}
	if y == nil {
		l.y = nil
	}
	l.then.locate(l.x, l.y, f.Stretch)
}

// next puts the sensor's reading where the engine was, and says what became of it.
func (l *delayer) next(f *drivelog.Frame, i int, now pastInstant) (then pastInstant, lambda float64, outcome result) {
	// Before a gap is not before: what burned then has long left the exhaust.
	if f.Stretch[i] != l.stretch {
		l.past, l.stretch = l.past[:0], f.Stretch[i]
	}
	l.past = append(l.past, now)
	then, ok := l.at(now.time - l.delay(f, i))
	c := &f.Columns[l.columns.lambda]
	lambda = c.Value[i]
	switch {
	case !ok:
		return pastInstant{time: now.time, x: math.NaN()}, lambda, tooOld
	case !now.kept || !c.Fresh[i] || lambda != lambda:
		return then, lambda, unread
	case !then.kept:
		return then, lambda, filtered
	case then.x != then.x || then.y != then.y:
		return then, lambda, offAxes
	}
	return then, lambda, sampled
}

// values are those of a delayed channel at the frame's instants; NaN where it has no
// sample.
func (l *delayer) values(channel string) []float64 {
	if channel == "mixture_error" {
		return l.mixing
	}
	return l.lambda
}

// delay is that of one instant; NaN where it is not known.
func (l *delayer) delay(f *drivelog.Frame, i int) float64 {
	d := l.d.Lag
	if l.d.Cycles > 0 {
		d += l.d.Cycles * l.cycle / f.Columns[l.columns.speed].Value[i]
	}
	if l.d.Exhaust > 0 {
		d += l.d.Exhaust / f.Columns[l.columns.airFlow].Value[i]
	}
	return d
}

// at finds the instant of the past at a time, and forgets those long before it.
func (l *delayer) at(time float64) (pastInstant, bool) {
	n := sort.Search(len(l.past), func(i int) bool { return drivelog.Lasted(time, l.past[i].time) > 0 })
	if n == 0 || time != time {
		return pastInstant{}, false
	}
	m := l.past[n-1]
	newest := l.past[len(l.past)-1].time
	// Half of the past at once, so that forgetting costs nothing for each instant.
	if len(l.past) > 4096 && l.past[len(l.past)/2].time < newest-sift.LongestDelay {
		l.past = l.past[:copy(l.past, l.past[len(l.past)/2:])]
	}
	return m, drivelog.Lasted(m.time, newest) <= sift.LongestDelay
}
