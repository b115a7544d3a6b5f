package knock

import (
	"math"
	"slices"

	"calsplice/interp/drive"
)

// spot is where the engine was at a reading.
type spot struct {
	time, load float64
	fx, fy     float64
	stay       int
}

// pace is how often a channel that changes is logged anew: a logger that polls
// in turn is late by that much.
type pace struct {
	value, since float64
	gaps         [11]int // between changes, by twentieths of a second
}

// see takes a reading; one that repeats the last is a held value.
func (p *pace) see(time, value float64) {
	if value != p.value {
		p.gaps[min(max(0, int(float64(20*(time-p.since))+0.5)), len(p.gaps)-1)]++
		p.value, p.since = value, time
	}
}

// late is the tenth of the gaps, half a second while few are known: a steady
// engine changes later than it is polled.
func (p *pace) late() float64 {
	total, n := 0, 0
	for _, k := range p.gaps {
		total += k
	}
	for i, k := range p.gaps {
		if n += k; total >= 20 && 10*n >= total {
			return float64(i) / 20
		}
	}
	return settling
}

// rise is knock heard anew. Where, and whether it was knock, is known only a
// little later: the throttle may show that the driver was lifting already, and
// the channels of load and speed may have been polled before retard was.
type rise struct {
	time          float64
	kind          transient
	before, after float64 // degrees, with what the blend took
	lifted        bool    // less than a second after a lift, or about a lower gear
}

// pass keeps where the engine was around the rises that wait.
func (s *Listener) pass(r *reading) {
	at := s.recent.next()
	at.time, at.load, at.fx, at.fy, at.stay = r.time, r.load, r.fx, r.fy, s.opened-1
	s.pace[0].see(r.time, r.at.Speed)
	s.pace[1].see(r.time, r.load)
	from := r.time - settling
	if len(s.rises) > 0 {
		from = s.rises[0].time - settling
	}
	old := 0
	for s.recent.all()[old].time < from-1e-9 {
		old++
	}
	s.recent.drop(old)
}

// resolve asks of each rise that waits whether a throttle lift or a gear change
// has begun since, and hears the ones that have waited long enough.
func (s *Listener) resolve(now float64) {
	for i := range s.rises {
		s.rises[i].lifted = s.rises[i].lifted || s.said&lowered != 0
		switch k := &s.rises[i].kind; {
		case *k == lift || *k == shift:
		case s.said&lifted != 0:
			*k = lift
		case s.jumped == now:
			*k = shift
		}
	}
	for len(s.rises) > 0 && now > s.rises[0].time+settling {
		s.hear(&s.rises[0])
		s.rises = s.rises[1:]
	}
}

// hear puts a rise where it was read, or where load was clearly higher while the
// channels may have been late: an engine knocks under load. The cells that set
// the spark all that time certainly knocked.
func (s *Listener) hear(r *rise) {
	// The slower of the two channels that place the engine says how late it may be.
	late := max(s.pace[0].late(), s.pace[1].late())
	near := func(p spot) bool { return math.Abs(p.time-r.time) <= late+1e-9 }
	recent := s.recent.all()
	around := recent[slices.IndexFunc(recent, near):]
	if past := slices.IndexFunc(around, func(p spot) bool { return !near(p) }); past > 0 {
		around = around[:past]
	}
	at := around[slices.IndexFunc(around, func(p spot) bool { return p.time >= r.time })]
	for _, p := range around {
		if p.load > 1.1*at.load {
			at = p
		}
	}
	st := s.pendingStay(at.stay)
	st.hear(r)
	if r.kind == lift || r.kind == shift || r.after-r.before < noiseFloor && st.Heard[steady]+st.Heard[tip] < 2 {
		return // once and so little is the sensor's noise
	}
	s.d.confirm(around)
}

// hold marks a stay in which retard stays where it is: knock keeps it there, in
// whatever cell it was heard first.
func (s *Listener) hold(r *reading) {
	if s.stay.Held {
		return
	}
	retard := r.v[drive.Retard]
	if retard <= noiseFloor {
		s.calm = r.time
		return
	}
	if s.calm == s.calm { // what came before it makes no difference until it is forgotten
		s.held.clear()
		s.held.push(s.calm, 0)
		s.calm = math.NaN()
	}
	s.held.push(r.time, retard)
	if r.time-s.held.began >= heldSeconds-0.5 {
		low, high := s.held.extremes()
		s.stay.Held = low > noiseFloor && high-low <= heldWithin+1e-9
	}
}

// follow keeps the event that is under way.
func (s *Listener) follow(r *reading, rose bool, bin int) {
	retard := r.v[drive.Retard]
	if retard <= noiseFloor {
		s.endEvent()
		return
	}
	if s.event == nil {
		s.event = &Event{Log: s.log, Start: r.clock, Peak: math.Inf(-1), clock: s.clock}
	}
	s.event.Peak = max(s.event.Peak, retard)
	if retard >= inspectFrom && retard > s.event.High && s.d.high(&r.at) {
		s.event.High, s.event.At, s.event.Speed, s.event.Bin = retard, r.clock, r.at.Speed, bin
	}
	if rose {
		s.event.Lift = s.transient() == lift
	}
}

// endEvent ends the event under way, if there is one.
func (s *Listener) endEvent() {
	if s.event != nil {
		s.d.finishEvent(s.event)
		s.event = nil
	}
}
