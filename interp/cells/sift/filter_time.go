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
	back int // the reading that rate looked back to
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
	k.back, k.full = max(0, k.back-drop), max(64, 2*len(k.list))
}

// reset forgets everything: what comes next does not follow from what was.
func (k *track) reset() { k.list, k.back = k.list[:0], 0 }

// rate is the change each second from the last reading that is at least span
// older to the newest; 0 where there is none. A track is asked for one span only.
func (k *track) rate(span float64) float64 {
	last := len(k.list) - 1
	now := k.list[last]
	for k.back+1 < last && now.time-k.list[k.back+1].time >= span-drivelog.Tick {
		k.back++
	}
	if k.back < last {
		then := k.list[k.back]
		if dt := now.time - then.time; dt >= span-drivelog.Tick {
			return (now.value - then.value) / dt
		}
	}
	return 0
}

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
	watched := false
	for _, q := range []struct {
		names []string // of which the first that the log has is watched
		bound float64
	}{
		{[]string{"engine_speed"}, s.speedRate},
		// Both say how hard the engine is working, in numbers of one size.
		{[]string{"load", "manifold_pressure"}, loadRate},
		{[]string{"throttle"}, throttleRate},
	} {
		if i := slices.IndexFunc(q.names, s.log.Has); i >= 0 {
			watched = true
			s.judge(fmt.Sprint(q.names[i], q.bound), q.names[i:i+1], func() func(r *run) { return (&watch{bound: q.bound, last: math.Inf(-1)}).take })
		} else {
			notes.Add("filter rates goes without " + strings.Join(q.names, " or ") + ": the log has none")
		}
	}
	if !watched {
		return "engine_speed, load or throttle"
	}
	s.notes.Add(notes...)
	return ""
}

// watch tells whether a channel changes slowly: its last readings, and the rate that is too
// fast for it.
type watch struct {
	bound float64
	track track
	last  float64 // time of the last fast change, or of one that may have been
}

func (w *watch) take(r *run) {
	const span = 0.4 // seconds over which a rate is taken, so that one step of a sensor is none
	if r.first {
		w.last = r.time[0]
		w.track.reset()
	}
	fresh := r.fresh(0)
	for i, v := range r.values(0) {
		t := r.time[i]
		switch {
		case v != v: // what is not known may have moved
			w.last = t
			w.track.reset()
		case fresh[i]:
			w.track.push(t, v, 4*span)
			if math.Abs(w.track.rate(span)) > w.bound*(1+drivelog.Tick) {
				w.last = t
			}
		}
		if t-w.last < settleRates-drivelog.Tick {
			r.drop(i, NotSteady)
		}
	}
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
			t.long = append(t.long, longTrim{c, math.NaN()})
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
	long                []longTrim
	openLoop            bool    // as the status was last read
	open                bool    // the loop was, or fuel was cut
	event               float64 // time of the last thing after which the trim must settle
	track               track   // of the trim since then
	turns               turns   // likewise
}

// longTrim is one of them, and its last reading.
type longTrim struct {
	column int
	was    float64
}

func (t *settling) take(r *run) {
	if r.first {
		t.openLoop, t.open, t.event = false, false, math.Inf(-1)
		for k := range t.long {
			t.long[k].was = math.NaN()
		}
	}
	const driftSpan, mostDrift = 2, 1 // seconds, %
	var trims []float64
	var fresh []bool
	if t.trim >= 0 {
		trims, fresh = r.values(t.trim), r.fresh(t.trim)
	}
	for i, now := range r.time {
		if trims != nil && fresh[i] && trims[i] == trims[i] {
			t.track.push(now, trims[i], 2*driftSpan)
			t.turns.next(trims[i], 0)
		}
		if t.happened(r, i) { // which the trim's reading of this instant still belongs before
			t.event = now
			t.track.reset()
			t.turns = turns{}
		}
		// A trim that has turned twice swings about its value, and one that drifts no longer has
		// found it; a controller that does neither is not waited for without end.
		switch since := now - t.event + drivelog.Tick; {
		case since < t.least:
			r.drop(i, NotSettled)
		case since < longestSettle && t.turns.count < 2 && t.track.drift(driftSpan) > mostDrift:
			r.drop(i, NotSettled)
		}
	}
}

// happened reports whether the loop closes, a fuel cut ends, or the controller goes on with
// what it learned in another cell. Status and long trims may be polled seldom: they are
// compared with their last readings, however long ago.
func (t *settling) happened(r *run, i int) bool {
	if t.status >= 0 {
		if v := r.values(t.status)[i]; v == v {
			t.openLoop = !closedLoop(v)
		}
	}
	open := t.openLoop || t.pulse >= 0 && r.values(t.pulse)[i] < 0.05
	closes := t.open && !open
	t.open = open
	for k := range t.long {
		l := &t.long[k]
		if v := r.values(l.column)[i]; v == v {
			closes = closes || math.Abs(v-l.was) >= learnedStep
			l.was = v
		}
	}
	return closes
}
