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
			s.judge(fmt.Sprint(q.names[i], q.bound), q.names[i:i+1], func() func(r *run) { return (&watch{bound: q.bound}).take })
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

// watch tells whether a channel changes slowly. Whether one reading came by a fast change is
// looked at only where it decides something: between two that did, as long as these are no
// further apart than the time to settle, nothing is to be known.
type watch struct {
	bound float64
	last  float64 // time of the last fast change, or of one that may have been
	track []timed // the latest reading of each instant, and before them those that are looked back to
	back  int     // the last of the track that was looked back to
}

// rateSpan is the seconds over which a rate is taken, so that one step of a sensor is none.
const rateSpan = 0.4

// begin forgets what was: what is not known may have moved. Before the first reading there is
// one so old that nothing changes fast from it on.
func (w *watch) begin(t float64) {
	w.last, w.back = t, 0
	w.track = append(w.track[:0], timed{math.Inf(-1), 0})
}

func (w *watch) take(r *run) {
	if r.first {
		w.begin(r.time[0])
	}
	values, fresh := r.values(0), r.fresh(0)
	for i := 0; i < len(values); i++ {
		first := i
		w.track, w.back = w.track[:copy(w.track, w.track[w.back:])], 0
		for now := w.track[len(w.track)-1]; i < len(values) && values[i] == values[i]; i++ {
			if fresh[i] {
				now = timed{r.time[i], values[i]}
			}
			w.track = append(w.track, now)
		}
		w.judge(r.time[first:i], r.why[first:i])
		if i < len(values) {
			w.begin(r.time[i])
			r.drop(i, NotSteady)
		}
	}
}

// judge leaves out the instants soon after a fast change, of the last of the track.
func (w *watch) judge(time []float64, why []uint8) {
	const ahead = 32
	before := len(w.track) - len(time)
	for i, seen, tried := 0, 0, 0; i < len(time); {
		for ; i < len(time) && time[i]-w.last < settleRates-drivelog.Tick; i++ {
			why[i] = uint8(NotSteady)
		}
		if look := min(i+ahead, len(time)-1); i >= tried && seen <= look {
			if tried = look + 1; w.quiet(before+seen, before+look) {
				i, seen = tried, tried
				continue
			}
		}
		// Only the last fast change of those and the next tells how long others are left out.
		look := min(i, len(time)-1)
		next := look + 1
		for look >= seen && !w.fast(before+look) {
			look--
		}
		if look >= seen {
			w.last = w.track[before+look].time
		} else {
			i++ // nor is the next one
		}
		seen = next
	}
}

// quiet reports whether readings differ so little that none of them can be a fast change.
func (w *watch) quiet(from, to int) bool {
	w.lookBack(from)
	low, high := w.track[from].value, w.track[from].value
	for _, r := range w.track[w.back : to+1] {
		switch {
		case r.value < low:
			low = r.value
		case r.value > high:
			high = r.value
		default:
			continue
		}
		if high-low > w.bound*(rateSpan-drivelog.Tick) {
			return false
		}
	}
	return true
}

// fast reports whether a reading changed too fast since the one that is looked back to.
func (w *watch) fast(k int) bool {
	w.lookBack(k)
	now, then := &w.track[k], &w.track[w.back]
	return math.Abs((now.value-then.value)/(now.time-then.time)) > w.bound*(1+drivelog.Tick)
}

// lookBack finds the last reading that is at least so much older than one.
func (w *watch) lookBack(k int) {
	now, back := w.track[k].time, w.back
	for now-w.track[back+1].time >= rateSpan-drivelog.Tick {
		back++
	}
	for back > 0 && now-w.track[back].time < rateSpan-drivelog.Tick {
		back--
	}
	w.back = back
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
	events              []int   // of the run
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
	var status, pulse []float64
	if t.status >= 0 {
		status = r.values(t.status)
	}
	if t.pulse >= 0 {
		pulse = r.values(t.pulse)
	}
	events, was := t.events[:0], t.open
	for i := range r.time {
		if status != nil && status[i] == status[i] {
			t.openLoop = !closedLoop(status[i])
		}
		open := t.openLoop || pulse != nil && pulse[i] < 0.05
		if was && !open {
			events = append(events, i)
		}
		was = open
	}
	t.open = was
	for k := range t.long {
		l := &t.long[k]
		for i, v := range r.values(l.column) {
			if v != v {
				continue
			}
			if math.Abs(v-l.was) >= learnedStep {
				events = append(events, i)
			}
			l.was = v
		}
	}
	slices.Sort(events)
	t.events = slices.Compact(events)
	return t.events
}
