package sift

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// track remembers a channel's last readings, to look back by some time.
type track struct {
	list []timed
	full int // readings at which those that are too old are forgotten
}

// timed is a value and its time.
type timed struct{ time, value float64 }

// push adds a reading and forgets, now and then, what is older than keep seconds, but
// for one.
func (k *track) push(t, v, keep float64) {
	if len(k.list) >= k.full {
		k.forget(t - keep)
	}
	k.list = append(k.list, timed{t, v})
}

// forget drops the readings up to a time, but for the last of them.
func (k *track) forget(until float64) {
	drop := 0
	for drop+1 < len(k.list) && k.list[drop+1].time <= until {
		drop++
	}
	k.list = k.list[:copy(k.list, k.list[drop:])]
	k.full = max(64, 2*len(k.list))
}

// reset forgets everything: what comes next does not follow from what was.
func (k *track) reset() { k.list = k.list[:0] }

// drift is how far the mean of the newer half of the last span seconds is from
// that of the older half; 0 where the older half is empty.
func (k *track) drift(span float64) float64 {
	last := len(k.list) - 1
	var sum, n [2]float64
	for i := last; i >= 0; i-- {
		ago, half := k.list[last].time-k.list[i].time-drivelog.Tick, 0
		if ago > span {
			break
		}
		if ago > span/2 {
			half = 1
		}
		sum[half] += k.list[i].value
		n[half]++
	}
	if n[1] == 0 {
		return 0
	}
	return math.Abs(sum[0]/n[0] - sum[1]/n[1])
}

// In a transient the mixture is not what the tables say: fuel wets the walls, air fills the
// manifold, and the sensor lags behind. What is measured then is the transient.

// buildRates leaves out the time from a fast change of speed, load or throttle
// until the settling time has passed without another.
func (s *Selector) buildRates() (missing string) {
	var notes tables.Notes
	var w watch
	var q drivelog.Query
	name := "rates"
	for _, c := range []struct {
		names []string // of which the first that the log has is watched
		bound float64
	}{
		{[]string{"engine_speed"}, s.speedRate},
		// Both say how hard the engine is working, in numbers of one size.
		{[]string{"load", "manifold_pressure"}, loadRate},
		{[]string{"throttle"}, throttleRate},
	} {
		if i := slices.IndexFunc(c.names, s.log.Has); i >= 0 {
			w.channels = append(w.channels, watched{column: q.Ask(c.names[i]), bound: c.bound})
			name += fmt.Sprint(" ", c.names[i], c.bound)
		} else {
			notes.Add("filter rates goes without " + strings.Join(c.names, " or ") + ": the log has none")
		}
	}
	if w.channels == nil {
		return "engine_speed, load or throttle"
	}
	s.judge(name, q.Columns, func() func(r *run) { return w.take })
	s.notes.Add(notes...)
	return ""
}

// watch tells whether channels change slowly. Whether a reading came by a fast change is looked
// at only where it decides something: between two that did, as long as these are no further
// apart than the time to settle, nothing is to be known.
type watch struct {
	channels []watched
	last     float64   // time of the last fast change, or of one that may have been
	time     []float64 // of the run's instants, and before them of those that are looked back to
	back     int       // the last place that was looked back to
}

// watched is one channel, and the rate each second that is too fast for it.
type watched struct {
	column int
	bound  float64
	track  []lastReading // by place
}

// lastReading is a channel's last reading as of an instant, or what came after it and was none.
type lastReading struct {
	timed
	gaps int // that were none so far: from before one, nothing is known to have changed
}

// rateSpan is the seconds over which a rate is taken, so that one step of a sensor is none.
const rateSpan = 0.4

func (w *watch) take(r *run) {
	if r.first { // there is one so old that nothing changes fast from it on
		w.last, w.back, w.time = r.time[0], 0, append(w.time[:0], math.Inf(-1))
		for k := range w.channels {
			w.channels[k].track = append(w.channels[k].track[:0], lastReading{timed: timed{time: math.Inf(-1)}})
		}
	}
	first := copy(w.time, w.time[w.back:]) // those before are no more looked back to
	w.time = append(w.time[:first], r.time...)
	for k := range w.channels {
		c := &w.channels[k]
		copy(c.track, c.track[w.back:])
		c.track = slices.Grow(c.track[:first], len(r.time))[:len(w.time)]
		c.read(r, c.track[first-1:])
	}
	w.back = 0
	w.judge(r, first)
}

// read takes the channel's readings behind the last one.
func (c *watched) read(r *run, track []lastReading) {
	values, fresh, now := r.values(c.column), r.fresh(c.column), track[0]
	for i, at := range r.time {
		switch v := values[i]; {
		case v != v:
			now.time, now.value = at, v
			now.gaps++
		case fresh[i]:
			now.time, now.value = at, v
		}
		track[1+i] = now
	}
}

// judge leaves out the instants soon after a fast change, of a run that begins at a place.
func (w *watch) judge(r *run, first int) {
	for i, seen := 0, 0; i < len(r.time); {
		for ; i < len(r.time) && r.time[i]-w.last < settleRates-drivelog.Tick; i++ {
			r.drop(i, NotSteady)
		}
		// Only the last fast change of those and the next tells how long others are left out.
		look := min(i, len(r.time)-1)
		next := look + 1
		for look >= seen && !w.fast(first+look) {
			look--
		}
		if look >= seen {
			w.last = r.time[look]
		} else {
			i++ // nor is the next one
		}
		seen = next
	}
}

// fast reports whether a channel changed too fast to its reading at a place, since the last
// one that is at least so much older; what is not known may have moved.
func (w *watch) fast(place int) bool {
	at, back := w.time[place], w.back
	for at-w.time[back+1] >= rateSpan-drivelog.Tick {
		back++
	}
	for at-w.time[back] < rateSpan-drivelog.Tick { // the first is older than any
		back--
	}
	w.back = back
	for k := range w.channels {
		c := &w.channels[k]
		now, then := &c.track[place], &c.track[back]
		switch {
		case now.time != at: // and was looked at before
		case now.value != now.value, now.gaps == then.gaps && math.Abs((now.value-then.value)/(at-then.time)) > c.bound*(1+drivelog.Tick):
			return true
		}
	}
	return false
}

// A narrow-band controller never stands still: it adds fuel until the sensor says rich, takes
// it away until it says lean, and the trim swings about its mean. A mean over half a swing
// is off by half of it, so only whole ones count.

// turns counts the turning points of a signal, with a band so that noise within
// it is no turn. Where the signal begins is none either.
type turns struct {
	way     int     // −1 falling, +1 rising, 0 not known yet
	low     float64 // furthest down since it was last certain to rise
	lowAt   int     // and its instant
	high    float64 // furthest up since it was last certain to fall
	valleys int     // lower turning points
	at      int     // instant of the last one
	count   int     // turning points of either kind
	started bool
}

const turnBand = 1.0 // %: one step of a trim and a bit

// next takes a reading at instant i and reports whether a lower turning point
// has become certain.
func (u *turns) next(v float64, i int) bool {
	if !u.started {
		*u = turns{low: v, lowAt: i, high: v, started: true}
		return false
	}
	if v < u.low {
		u.low, u.lowAt = v, i
	}
	u.high = max(u.high, v)
	// A turn is certain only once the signal has come back by more than the band, so the
	// extreme that it turned at lies in the past.
	switch {
	case u.way >= 0 && v <= u.high-turnBand:
		if u.way > 0 {
			u.count++
		}
		u.way, u.low, u.lowAt = -1, v, i
	case u.way <= 0 && v >= u.low+turnBand:
		turned := u.way < 0
		u.way, u.high = 1, v
		if turned {
			u.count++
			u.valleys++
			u.at = u.lowAt
		}
		return turned
	}
	return false
}

// buildSettled leaves out the time after the loop closes, a fuel cut ends or
// the long trim jumps to what the controller learned elsewhere, until the trim
// has settled: a least time, and then until it has turned twice or no longer
// drifts.
func (s *Selector) buildSettled() (missing string) {
	var q drivelog.Query
	ask := func(channel string) int { return q.AskIf(s.log.Has(channel), channel) }
	t := settling{least: s.settleTrim, status: ask("fuel_status"), pulse: ask("pulse_width"), trim: ask("trim"), event: math.Inf(-1)}
	for _, name := range []string{"long_trim_1", "long_trim_2"} {
		if c := ask(name); c >= 0 {
			t.long = append(t.long, c)
		}
	}
	if t.status < 0 && t.long == nil {
		return "fuel_status or long_trim_1"
	}
	s.judge(fmt.Sprint("settled", s.settleTrim), q.Columns, func() func(r *run) { return t.take })
	return ""
}

// settling waits for the trim after whatever unsettles it.
type settling struct {
	least               float64 // seconds that it gets
	status, pulse, trim int     // columns; −1 where the log has none
	long                []int
	openLoop            bool       // as the status was last read
	open                bool       // the loop was, or fuel was cut
	event               float64    // time of the last thing after which the trim must settle
	track               track      // of the trim since then
	turns               turns      // likewise
	was                 [2]float64 // the last readings of long
	events              []int      // of the run
}

func (t *settling) take(r *run) {
	if r.first {
		t.openLoop, t.open, t.event, t.was = false, false, math.Inf(-1), [2]float64{math.NaN(), math.NaN()}
	}
	from := 0
	for _, i := range t.find(r) {
		t.wait(r, from, i)
		// The trim's reading of this instant still belongs before.
		t.event, from = r.time[i], i+1
		t.track.reset()
		if t.turns = (turns{}); t.least > drivelog.Tick {
			r.drop(i, NotSettled)
		}
	}
	t.wait(r, from, len(r.time))
}

// wait leaves out the instants from one to another until the trim has settled. One that has
// turned twice swings about its value, and one that drifts no longer has found it; a
// controller that does neither is not waited for without end.
func (t *settling) wait(r *run, from, to int) {
	const driftSpan, mostDrift = 2, 1 // seconds, %
	for i := from; i < to; i++ {
		now := r.time[i]
		since := now - t.event + drivelog.Tick
		if since >= max(t.least, longestSettle) {
			return
		}
		if t.trim >= 0 && r.fresh(t.trim)[i] {
			if v := r.values(t.trim)[i]; v == v {
				t.track.push(now, v, 2*driftSpan)
				t.turns.next(v, 0)
			}
		}
		if since < t.least || since < longestSettle && t.turns.count < 2 && t.track.drift(driftSpan) > mostDrift {
			r.drop(i, NotSettled)
		}
	}
}

// find finds the instants at which the loop closes, a fuel cut ends, or the controller goes on
// with what it learned in another cell. Status and long trims may be polled seldom: they are
// compared with their last readings, however long ago.
func (t *settling) find(r *run) []int {
	status, pulse := r.values(t.status), r.values(t.pulse)
	events, openLoop, was := t.events[:0], t.openLoop, t.open
	for i := range r.time {
		if status != nil && status[i] == status[i] {
			openLoop = !closedLoop(status[i])
		}
		open := openLoop || pulse != nil && pulse[i] < 0.05
		if was && !open {
			events = append(events, i)
		}
		was = open
	}
	t.openLoop, t.open = openLoop, was
	for k, column := range t.long {
		for i, v := range r.values(column) {
			if math.Abs(v-t.was[k]) >= learnedStep {
				events = append(events, i)
			}
			if v == v {
				t.was[k] = v
			}
		}
	}
	slices.Sort(events)
	t.events = events
	return events
}
