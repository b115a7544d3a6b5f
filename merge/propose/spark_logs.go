package propose

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"calsplice/interp/cells"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// SparkFromLogs takes advance away where drive logs show persistent knock.
// Unlike averages, a log tells where retard began from where it only decays,
// and knock from a blip after lifting the throttle.
func SparkFromLogs(ctx context.Context, cal *tables.Calibration, logs []cells.Log, opt Options) (*Proposal, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	target, err := sparkTarget(cal, opt.Target)
	if err != nil {
		return nil, err
	}
	place, err := newPlacer(target)
	if err != nil {
		return nil, err
	}
	l := &listener{cal: cal, target: target, place: place, blend: newBlend(cal)}
	for i := range logs {
		if err := l.read(ctx, logs[i]); err != nil {
			return nil, tables.In(logs[i].Name, 0, 0, "", err)
		}
	}
	first := l.replay()
	g, k := l.judge()
	p, err := sparkByCells(cal, target, g, k, &opt)
	if err != nil {
		return nil, err
	}
	p.Report.First = append(first, p.Report.First...)
	p.Report.Notes = append(l.said, p.Report.Notes...)
	p.seal()
	return p, nil
}

// heard is one sample of knock retard.
type heard struct {
	log, run int // run: one stay in one cell
	event    int // −1 where there is none
	cell     int
	time     float64
	at       lookup.Point
	retard   float64
	deficit  float64 // advance − blended table
	off      float64 // logged spark against the tables, in tolerances; NaN where not logged
	lean     float64 // share; NaN where not known
	rise     bool    // knock was heard here
	lift     bool    // just after the throttle was lifted
	stands   bool    // the retard does not decay
}

// listener reads logs for knock.
type listener struct {
	cal     *tables.Calibration
	target  *tables.Table
	place   *placer
	blend   *blend
	log     int
	run     int
	events  int
	samples []heard
	said    []string
}

// What counts as knock heard anew, as retard that stands rather than decays
// (common practice, no source: it decays by some tenths of a degree a second),
// and as a lifted throttle.
const (
	riseBy       = 0.4 // degrees above the lowest reading since the last rise
	standsIn     = 0.2 // degrees within which the retard stays
	standSeconds = 5.0
	liftPoints   = 10.0 // % of throttle within the second before
	liftSeconds  = 1.0
)

var sparkChannels = []string{"engine_speed", "manifold_pressure", "barometric_pressure", "differential_pressure", "battery",
	"air_charge", "air_flow", "load", "trim", "pulse_width", "lambda_commanded", "spark", "knock_retard", "spark_blend",
	"lambda", "fuel_status", "throttle"}

// Places of the channels that differ from blockChannels.
const (
	hearLambda = inRail
	hearStatus = inLong
)

func (l *listener) read(ctx context.Context, source cells.Log) error {
	log, err := source.Open()
	if err != nil {
		return err
	}
	defer log.Close()
	if err := log.Resolve("knock_retard"); err != nil {
		return err
	}
	var columns []string
	place := make([]int, len(sparkChannels))
	for k, name := range sparkChannels {
		place[k] = -1
		if log.Has(name) {
			place[k] = len(columns)
			columns = append(columns, name)
		}
	}
	if place[inThrottle] < 0 {
		l.say(source.Name, "throttle is not logged: blips after lifting it cannot be told from knock")
	}
	if place[hearLambda] < 0 && place[inTrim] < 0 {
		l.say(source.Name, "neither lambda nor trims are logged: a lean mixture cannot be told")
	}
	before := len(l.samples)
	e := &ear{l: l, place: place, event: -1, cell: -1, low: math.Inf(1)}
	reading, err := log.Scan(ctx, drivelog.Query{Columns: columns}, e.frame)
	if err != nil {
		return err
	}
	for _, s := range told(reading) {
		l.say(source.Name, s)
	}
	l.log++
	if len(l.samples) == before {
		return errors.New("no reading of knock_retard lies on the spark table's axes")
	}
	return nil
}

func (l *listener) say(name, s string) {
	if s = tables.Clean(name) + ": " + s; !slices.Contains(l.said, s) {
		l.said = append(l.said, s)
	}
}

// ear hears one log, reading by reading.
type ear struct {
	l       *listener
	place   []int
	stretch int
	cell    int
	event   int
	low     float64 // lowest retard since it last rose
	opened  [][2]float64
}

func (e *ear) frame(f *drivelog.Frame) error {
	for i := range f.N {
		value := func(k int) float64 {
			if e.place[k] < 0 {
				return math.NaN()
			}
			return f.Columns[e.place[k]].Value[i]
		}
		if f.Stretch[i] != e.stretch {
			e.stretch, e.event, e.cell, e.low, e.opened = f.Stretch[i], -1, -1, math.Inf(1), nil
		}
		lift := e.lifted(f.Time[i], value(inThrottle))
		retard := value(inRetard)
		if math.IsNaN(retard) || !f.Columns[e.place[inRetard]].Fresh[i] {
			continue
		}
		e.hear(f.Time[i], retard, lift, value)
	}
	return nil
}

// lifted remembers the throttle of the last second and reports whether it fell.
func (e *ear) lifted(time, throttle float64) bool {
	if math.IsNaN(throttle) {
		return false
	}
	e.opened = append(e.opened, [2]float64{time, throttle})
	for len(e.opened) > 1 && e.opened[0][0] < time-liftSeconds {
		e.opened = e.opened[1:]
	}
	for _, o := range e.opened {
		if o[1]-throttle >= liftPoints {
			return true
		}
	}
	return false
}

// hear takes one reading of retard.
func (e *ear) hear(time, retard float64, lift bool, value func(k int) float64) {
	l := e.l
	s := heard{log: l.log, time: time, retard: retard, event: -1, off: math.NaN(), lean: math.NaN(), at: point(value)}
	charged(&s.at, l.cal.Engine())
	rise := retard >= e.low+riseBy
	if rise || retard < e.low {
		e.low = retard
	}
	if retard > noiseFloor {
		if e.event < 0 {
			e.event = l.events
			l.events++
		}
		s.event = e.event
		// The first reading of a stretch may be a decay that began before it.
		s.rise = rise
		s.lift = s.rise && lift
	} else {
		e.event = -1
	}
	if s.cell = l.place.cell(&s.at); s.cell < 0 {
		e.cell = -1
		return
	}
	if s.cell != e.cell {
		e.cell = s.cell
		l.run++
	}
	s.run = l.run
	reading := value(inBlend)
	if l.blend != nil && !math.IsNaN(reading) {
		s.deficit = l.blend.advance.At(&s.at) - l.blend.at(&s.at, reading)
	}
	if spark := value(inSpark); !math.IsNaN(spark) {
		want := l.place.bound.At(&s.at) - s.deficit - retard
		s.off = math.Abs(spark-want) / (0.5 + l.target.Resolution() + slack(l.place.bound, &s.at))
	}
	s.lean = leanOf(value(hearLambda), value(inCommanded), value(inTrim), value(inPulse))
	l.samples = append(l.samples, s)
}

// leanOf is the share by which a sample runs lean: by a wideband sensor, or by
// what the trim asks for.
func leanOf(lambda, commanded, trim, pulse float64) float64 {
	switch {
	case pulse < 0.05:
		return math.NaN() // fuel cut
	case lambda > 0.4 && commanded > 0.4:
		return lambda/commanded - 1
	case lambda > 0.4:
		return lambda - 1
	}
	return trim / 100
}

// charged fills in the air charge from the air flow where only that is logged.
func charged(at *lookup.Point, e *tables.Engine) {
	if !math.IsNaN(at.Charge) || math.IsNaN(at.AirFlow) || e == nil || e.Cylinders == 0 || !(at.Speed > 0) {
		return
	}
	strokes := 4.0
	if e.Strokes > 0 {
		strokes = float64(e.Strokes)
	}
	at.Charge = at.AirFlow * 30000 * strokes / (at.Speed * float64(e.Cylinders))
}

// replay asks whether this is the spark table that drove, and takes the samples
// that do not fit out of the evidence.
func (l *listener) replay() []string {
	var off []float64
	for i := range l.samples {
		if v := l.samples[i].off; !math.IsNaN(v) {
			off = append(off, v)
		}
	}
	if len(off) == 0 {
		l.said = append(l.said, "spark is not logged: whether this calibration drove cannot be told")
		return nil
	}
	sorted := slices.Clone(off)
	slices.Sort(sorted)
	if sorted[len(sorted)/2] <= 1 {
		return nil
	}
	out := len(l.samples)
	l.samples = slices.DeleteFunc(l.samples, func(s heard) bool { return s.off > 1 })
	out -= len(l.samples)
	return []string{fmt.Sprintf("the log does not come from this calibration, or another limit was in charge: spark table and log disagree in %.0f %% of time, which is no evidence",
		100*float64(out)/float64(len(off)))}
}

// stand marks the samples whose retard stands: knock keeps it there, in
// whatever cell it was heard first.
func (l *listener) stand() {
	for i := 0; i < len(l.samples); i++ {
		s := &l.samples[i]
		if s.event < 0 {
			continue
		}
		last := i
		for last+1 < len(l.samples) && l.samples[last+1].event == s.event && math.Abs(l.samples[last+1].retard-s.retard) <= standsIn+1e-9 {
			last++
		}
		if l.samples[last].time-s.time < standSeconds {
			continue
		}
		for ; i < last; i++ {
			l.samples[i].stands = true
		}
		l.samples[last].stands = true
	}
}

// judge makes cells of the samples. Retard that only decays after it came along
// from another cell, and retard after lifting the throttle, is evidence for
// nothing.
func (l *listener) judge() (*grid, *knock) {
	n := len(l.target.Values())
	k := &knock{events: make([]int, n), lifts: make([]int, n)}
	type stay struct{ event, run int }
	own := map[stay]bool{} // knock was heard there, and not after a lift
	lifted := map[stay]bool{}
	stood := map[stay]bool{} // it came along from elsewhere, and stands
	decays := make([]bool, n)
	counted := map[[2]int]bool{}
	for i := range l.samples {
		s := &l.samples[i]
		if !s.rise {
			continue
		}
		key := stay{s.event, s.run}
		if s.lift {
			lifted[key] = true
		} else {
			own[key] = true
		}
		if at := [2]int{s.event, s.cell}; !counted[at] {
			counted[at] = true
			if s.lift {
				k.lifts[s.cell]++
			} else {
				k.events[s.cell]++
			}
		}
	}
	l.stand()
	for i := range l.samples {
		// A stay in which it stands is an event of its own: what stands for long
		// is heard once, and knocks on.
		s := &l.samples[i]
		if key := (stay{s.event, s.run}); s.stands && !own[key] && !lifted[key] && !stood[key] {
			stood[key] = true
			k.events[s.cell]++
		}
	}
	t := newTally(n)
	values := make([][]float64, n)
	lean, leanN := make([]float64, n), make([]float64, n)
	for i := range l.samples {
		s := &l.samples[i]
		if !math.IsNaN(s.lean) {
			lean[s.cell] += s.lean
			leanN[s.cell]++
		}
		if key := (stay{s.event, s.run}); s.event >= 0 && !own[key] && !(stood[key] && s.stands) {
			decays[s.cell] = decays[s.cell] || !lifted[key]
			continue
		}
		v := s.retard + s.deficit
		t.add(s.cell, s.run, 1, v)
		values[s.cell] = append(values[s.cell], v)
	}
	g := &grid{channel: "knock_retard", unit: "deg"}
	for i := range n {
		e := t.evidence(i)
		if len(values[i]) > 0 {
			slices.Sort(values[i])
			e.p95 = values[i][(len(values[i])*95+99)/100-1]
			e.max = values[i][len(values[i])-1]
		}
		g.cells = append(g.cells, e)
		g.lean = append(g.lean, lean[i]/leanN[i])
	}
	k.decays = decays
	k.learned = l.learned(n)
	l.singles(k)
	return g, k
}

// learned is by cell the mean of what a blend channel takes off the table.
func (l *listener) learned(n int) []float64 {
	sum, num := make([]float64, n), make([]float64, n)
	for i := range l.samples {
		sum[l.samples[i].cell] += l.samples[i].deficit
		num[l.samples[i].cell]++
	}
	for i := range sum {
		if num[i] > 0 {
			sum[i] /= num[i]
		}
	}
	return sum
}

// singles lists every event of 5° or more at high load, the first few in words.
func (l *listener) singles(k *knock) {
	const most = 5
	n := 0
	for i := 0; i < len(l.samples); {
		s := l.samples[i]
		if s.event < 0 {
			i++
			continue
		}
		peak := s
		for ; i < len(l.samples) && l.samples[i].event == s.event; i++ {
			if l.samples[i].retard > peak.retard {
				peak = l.samples[i]
			}
		}
		if peak.retard < inspect || !(highLoad(l.target, peak.cell) || peak.at.Manifold >= 80) {
			continue
		}
		if n++; n <= most {
			k.single = append(k.single, fmt.Sprintf("knock took %.1f deg away at high load at %s s, %.0f r/min, %s",
				peak.retard, tables.FormatValue(peak.time), peak.at.Speed, l.target.Where(peak.cell)))
		}
	}
	if n > most {
		k.single = append(k.single, fmt.Sprintf("and %d more such events", n-most))
	}
}
