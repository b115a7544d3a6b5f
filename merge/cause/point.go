package cause

import (
	"math"

	"calsplice/interp/drive"
)

// Point is the mean of settled driving at one operating point within one
// stretch of about ten seconds: long enough for whole limit cycles of the
// trims, short enough that the drive has many of them. Numbers that the log
// does not give are NaN.
type Point struct {
	Log     int     // from 0 in the order given
	Time    float64 // s, on the log's clock, of the first sample
	Seconds float64
	Samples int

	Speed     float64 // r/min
	Manifold  float64 // kPa, absolute
	Barometer float64 // kPa, absolute
	AirFlow   float64 // g/s, as metered
	FuelFlow  float64 // g/s of all injectors, as commanded without the trim
	Inverse   float64 // mean of 1/p, 1/ms: p = (pulse − offset) / (1 + trim)
	Duty      float64 // %
	Rail      float64 // logged differential pressure against the nominal, as a share

	Trim    [2]float64 // %, of each bank; the second is NaN where there is one trim
	AtLimit [2]float64 // share of samples in which that bank's trim stands at its limit

	railPressure float64 // kPa, as measured
	foreign      float64 // share of samples whose pulse this calibration would not have commanded

	Open bool // open loop: the trim is what a wideband sensor says was missing

	mixture    float64 // mean of the wideband's mixture error, %
	clock      float64 // s of driving from the first log's beginning
	cell, fold int
	moving     moving
	ends       [2][2]end       // of each bank's short trim: lowest and highest
	sums       *[13]drive.Mean // that become its numbers, until it is finished
}

// sample is one settled instant. Numbers that the log does not give are NaN.
type sample struct {
	log                   int
	time, seconds         float64
	clock                 float64 // s, never falling, over all logs
	speed, manifold, baro float64
	air, fuel, pulse, p   float64
	duty, rail            float64
	railPressure          float64    // kPa
	foreign               float64    // 1 where the calibration would have commanded another pulse, else 0; NaN where it cannot be told
	unapplied             bool       // the pulse is nearer to what the air wants without the trim than with it
	offset                float64    // ms
	mixture               float64    // %, by a wideband sensor
	bias                  float64    // share by which that sensor is off in closed loop; NaN where it cannot be told
	trim                  [2]float64 // %
	held                  [2]float64 // what the controller limits: each bank's short trim, %
}

// gatherer turns samples, in the order of the drive, into points. However long the
// drive, there are no more than mostPoints of them, or one for each operating point
// of each log.
type gatherer struct {
	length  float64 // s of a drive that go into one point at most
	points  []*Point
	open    map[key]int // of the current slice of time
	slice   key         // log, visit's stretch and slice of time
	at      key         // of the last sample
	last    int         // its point
	cells   drive.Numbers[cellKey]
	speed   steps
	load    steps
	here    cellKey // of the last sample
	number  int     // of that
	limits  [2]limits
	seconds float64
	bias    drive.Mean // of a wideband sensor
}

// suffices reports whether the samples serve, whatever others there are.
func (g *gatherer) suffices() bool {
	return g.seconds >= enoughSeconds && len(g.cells) >= enoughCells
}

// key is a place in a slice of a log.
type key struct{ log, slice, cell int }

// cellKey is an operating point by its steps.
type cellKey struct{ speed, load int }

// moving is a straight line through a trim over time, and the mean square of those
// that were joined before it.
type moving struct{ n, first, last, t, y, tt, ty, yy, joined, mean float64 }

// add takes a reading; times count from the first, for the sums of a long log lose digits.
func (m *moving) add(t, y float64) {
	if y != y {
		return
	}
	if m.n == 0 {
		m.first = t
	}
	m.last = t
	t -= m.first
	m.n++
	m.t, m.y = m.t+t, m.y+y
	m.tt, m.ty, m.yy = m.tt+float64(t*t), m.ty+float64(t*y), m.yy+float64(y*y)
}

// join takes the lines of another stretch of the drive.
func (m *moving) join(o *moving) {
	a, b := m.n+m.joined, o.n+o.joined
	if b > 0 {
		*m = moving{joined: a + b, mean: (float64(a*m.square()) + float64(b*o.square())) / (a + b)}
	}
}

// square is the square of how far the lines go from their first reading to their
// last, by their readings.
func (m *moving) square() float64 {
	if m.joined == 0 {
		return m.line()
	}
	return (float64(m.joined*m.mean) + float64(m.n*m.line())) / (m.joined + m.n)
}

// line is the square of how far the line goes from the first reading to the last,
// less what readings that only scatter about it would make of that.
func (m *moving) line() float64 {
	if m.n == 0 {
		return 0
	}
	spread := m.tt - float64(m.t*m.t)/m.n
	if !(spread > 1e-9) {
		return 0
	}
	slope, long := (m.ty-float64(m.t*m.y)/m.n)/spread, m.last-m.first
	scatter := max(0, m.yy-float64(m.y*m.y)/m.n-float64(slope*slope*spread))
	return max(0, float64(slope*slope)-scatter/max(1, m.n-2)/spread) * long * long
}

// stillMoving is how far a trim may move within a point for it to count half, %:
// a loop that is still finding its trim, or a part of a limit cycle, is off by
// about half of its movement. A quantum of the trim is 0.78 %.
const stillMoving = 1.0

// settled is how much a point counts for its trim's movement, 0 to 1; a wideband
// sensor in open loop shows a mixture that no loop moves.
func (p *Point) settled() float64 {
	if p.Open {
		return 1
	}
	return 1 / (1 + p.moving.square()/(stillMoving*stillMoving))
}

// sliceSeconds is how much of a drive goes into one point at most, while it has no
// more than mostPoints.
const sliceSeconds = 10

// mostPoints is some ten hours of driving. Past it two slices of the drive become
// one, and so on: the causes are then told by the means of longer stays, each place
// having as many hours as before.
const mostPoints = 8192

// newGatherer gathers points of ten seconds.
func newGatherer() *gatherer {
	return &gatherer{length: sliceSeconds, open: map[key]int{}, cells: drive.Numbers[cellKey]{}}
}

// key is a place in the slice of time under way.
func (g *gatherer) key(log int, clock float64, cell int) key {
	return key{log, int(math.Floor(clock / g.length)), cell}
}

// coarsen joins the points of one place within twice the time, until half as many are
// left or no two are of one log and place.
func (g *gatherer) coarsen() {
	for longest := g.points[len(g.points)-1].clock; len(g.points) > mostPoints/2 && g.length <= longest; {
		g.length *= 2
		left, _ := drive.Join(g.points, func(p **Point) key { return g.key((*p).Log, (*p).clock, (*p).cell) },
			func(into, one **Point) { (*into).join(*one) })
		clear(g.points[len(left):])
		g.points = left
	}
}

// join takes a later point of the same place.
func (p *Point) join(o *Point) {
	p.Samples += o.Samples
	p.Seconds += o.Seconds
	p.moving.join(&o.moving)
	for k := range p.sums {
		p.sums[k].Join(o.sums[k])
	}
	for b := range p.ends {
		for side := range p.ends[b] {
			p.ends[b][side].join(o.ends[b][side], float64(2*side-1))
		}
	}
}

// cell numbers operating points: speed in steps of about 15 %, load in steps of
// 8 kPa of manifold pressure or, without it, of 15 % of air or pulse. Most samples are
// at the point of the one before, for which no map is asked.
func (g *gatherer) cell(s *sample) int {
	k := cellKey{speed: g.speed.of(s.speed)}
	switch {
	case !math.IsNaN(s.manifold):
		k.load = int(math.Floor(s.manifold / 8))
	case !math.IsNaN(s.air):
		k.load = g.load.of(s.air / s.speed)
	case !math.IsNaN(s.pulse):
		k.load = g.load.of(s.pulse)
	}
	if k != g.here || len(g.cells) == 0 {
		g.here, g.number = k, g.cells.Of(k)
	}
	return g.number
}

// steps are those of a constant ratio. What lies between two values of the step that was
// asked for last is in it too, and costs no logarithm.
type steps struct {
	last      int
	low, high float64 // of what was seen in it
}

const stepRatio = 1.15

// of is a value's step; what is not above 0 is in one of its own.
func (s *steps) of(v float64) int {
	if !(v > 0) {
		return -1 << 20
	}
	if !(v >= s.low && v <= s.high) {
		k := int(math.Floor(math.Log(v) / math.Log(stepRatio)))
		if k != s.last || s.high == 0 {
			*s = steps{k, v, v}
		}
		s.low, s.high = min(s.low, v), max(s.high, v)
	}
	return s.last
}

// add takes one sample.
func (g *gatherer) add(s *sample) {
	k := g.key(s.log, s.clock, 0)
	if k != g.slice {
		if len(g.points) >= mostPoints {
			g.coarsen()
			k = g.key(s.log, s.clock, 0)
		}
		clear(g.open)
		g.slice = k
	}
	// Most samples follow another of the same place and slice: no map is asked for those.
	if k.cell = g.cell(s); k != g.at || len(g.open) == 0 {
		g.at, g.last = k, g.place(k, s)
	}
	p := g.points[g.last]
	p.Samples++
	p.Seconds += s.seconds
	g.seconds += s.seconds
	g.bias.Add(s.bias, 1)
	for j, v := range [...]float64{s.speed, s.manifold, s.baro, s.air, s.fuel, 1 / s.p, s.duty, s.rail, s.trim[0], s.trim[1], s.mixture, s.railPressure, s.foreign} {
		p.sums[j].Add(v, 1)
	}
	p.moving.add(s.clock, meanOf(s.trim[0], s.trim[1]))
	for b, v := range s.held {
		if math.Abs(v) >= leastLimit-besideLimit {
			g.limits[b].add(v)
			for side := range p.ends[b] {
				p.ends[b][side].join(end{v, 1}, float64(2*side-1))
			}
		}
	}
}

// place is the point of a place in the slice of time under way.
func (g *gatherer) place(k key, s *sample) int {
	i, ok := g.open[k]
	if !ok {
		i = len(g.points)
		g.open[k] = i
		g.points = append(g.points, &Point{Log: s.log, Time: s.time, clock: s.clock, cell: k.cell, sums: new([13]drive.Mean)})
	}
	return i
}

// finish ends the gathering.
func (g *gatherer) finish() []*Point {
	for _, p := range g.points {
		// Rows that share one reading of the clock took some time all the same.
		p.Seconds = max(p.Seconds, 0.02*float64(p.Samples))
		for j, v := range [...]*float64{&p.Speed, &p.Manifold, &p.Barometer, &p.AirFlow, &p.FuelFlow,
			&p.Inverse, &p.Duty, &p.Rail, &p.Trim[0], &p.Trim[1], &p.mixture, &p.railPressure, &p.foreign} {
			*v = p.sums[j].Value()
		}
		p.sums = nil
		for b := range p.Trim {
			for side, e := range p.ends[b] {
				if e.n > 0 && g.limits[b].stands(e.v, float64(2*side-1)) {
					p.AtLimit[b] += float64(e.n) / float64(p.Samples)
				}
			}
		}
	}
	return g.points
}

// leastLimit is the least size of a trim that may be a limit, %: smaller ones
// are peaks of a limit cycle (8 % is common practice, no source; in steps of
// 0.78 % it reads 7.8).
const leastLimit = 7.6

// besideLimit is how near to a limit readings must be rarer than at it, %. What lies
// further in than that from the least limit is not counted.
const besideLimit = 2.5

// limits reports whether a trim stands at a limit from how its readings pile up:
// a trim that is held back stands at its extreme more often than anywhere near
// it, one that is not has few readings at its ends.
type limits struct {
	count map[float64]int
}

// most is how many different readings are told apart; a logged trim has some
// hundred.
const most = 4096

// add counts a reading. Past so many different ones the newest are not kept: a trim that is
// computed rather than stored has no step, and so no limit that could be told.
func (l *limits) add(v float64) {
	if l.count == nil {
		l.count = map[float64]int{}
	}
	if l.count[v]++; len(l.count) > most {
		delete(l.count, v)
	}
}

// stands reports whether v is a limit on one side (sign).
func (l *limits) stands(v, sign float64) bool {
	if !(v*sign >= leastLimit) {
		return false
	}
	beside := 0
	for u, n := range l.count {
		switch d := (v - u) * sign; {
		case d < 0:
			return false // others went further
		case d > 0 && d < besideLimit:
			beside += n
		}
	}
	return l.count[v] >= 10 && l.count[v] > beside
}

// end is the furthest reading of a point on one side, and how often it was read.
type end struct {
	v float64
	n int
}

// join takes the furthest of another stretch; equal ones add up.
func (e *end) join(o end, sign float64) {
	switch {
	case o.n == 0:
	case e.n == 0 || o.v*sign > e.v*sign:
		*e = o
	case o.v == e.v:
		e.n += o.n
	}
}
