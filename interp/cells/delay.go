package cells

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Delay is the time from the fuel to the sensor that reads its mixture: some
// engine cycles, the way through the exhaust, which is the shorter the more gas
// flows, and the sensor's own lag. It applies to lambda and mixture_error only.
type Delay struct {
	Lag     float64 // seconds
	Cycles  float64 // of the engine
	Exhaust float64 // grams of gas between valve and sensor
	Steps   bool    // estimated from each log's own steps instead
}

// ParseDelay reads a delay: seconds, "auto", or any of lag=SECONDS, cycles=N and
// exhaust=GRAMS, comma separated.
func ParseDelay(s string) (*Delay, error) {
	if s == "auto" {
		return &Delay{Steps: true}, nil
	}
	d := &Delay{}
	for part := range strings.SplitSeq(s, ",") {
		name, text, ok := strings.Cut(strings.TrimSpace(part), "=")
		if !ok {
			name, text = "lag", name
		}
		v, err := strconv.ParseFloat(text, 64)
		to := map[string]*float64{"lag": &d.Lag, "cycles": &d.Cycles, "exhaust": &d.Exhaust}[name]
		if err != nil || to == nil || !(v >= 0) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("delay is %s, want auto, seconds, or lag=SECONDS,cycles=N,exhaust=GRAMS", tables.Quote(s))
		}
		*to = v
	}
	return d, nil
}

func (d *Delay) String() string {
	if d.Steps {
		return "from steps"
	}
	return fmt.Sprintf("lag=%s cycles=%s exhaust=%s", tables.FormatValue(d.Lag), tables.FormatValue(d.Cycles), tables.FormatValue(d.Exhaust))
}

// delayed reports whether a channel is read from the exhaust.
func delayed(channel string) bool { return channel == "lambda" || channel == "mixture_error" }

// delayer assigns each reading of a delayed channel to the operating point at
// which that mixture burnt.
type delayer struct {
	d       Delay
	then    *locator
	columns struct{ speed, airFlow, trim, lambda, commanded int }
	past    []moment
	stretch int
	cycle   float64 // seconds of one engine cycle, times r/min

	// of the frame, by instant: when and where that burnt which is read now, what
	// became of the reading, and what it says
	time, x, y     []float64
	results        []result
	lambda, mixing []float64 // NaN for none
}

// moment is one instant of the past.
type moment struct {
	time, x, y, trim, commanded float64
	kept                        bool
}

// longestDelay in seconds is as far back as a delayer looks.
const longestDelay = 10

// newDelayer asks for the columns that it needs. It is nil where no channel is
// delayed.
func newDelayer(log *drivelog.Log, spec Spec, g *Grid, d *Delay, columns []string) (*delayer, []string, error) {
	if d == nil || !slices.ContainsFunc(spec.Values, delayed) {
		return nil, columns, nil
	}
	then, err := newLocator(g)
	if err != nil {
		return nil, nil, err
	}
	l := &delayer{d: *d, then: then, cycle: 120} // four strokes: two turns a cycle
	if e := log.Engine(); e != nil && e.Strokes > 0 {
		l.cycle = 30 * float64(e.Strokes)
	}
	want := func(name string, needed bool) int {
		if !needed {
			return -1
		}
		if err == nil {
			err = log.Resolve(name)
		}
		columns = append(columns, name)
		return len(columns) - 1
	}
	mixture := slices.Contains(spec.Values, "mixture_error")
	l.columns.lambda = want("lambda", true)
	l.columns.speed = want("engine_speed", d.Cycles > 0)
	l.columns.airFlow = want("air_flow", d.Exhaust > 0)
	l.columns.trim = want("trim", mixture)
	l.columns.commanded = want("lambda_commanded", mixture)
	return l, columns, err
}

// frame takes the instants of a frame, with where the engine is now and whether
// the filters keep them.
func (l *delayer) frame(f *drivelog.Frame, x, y []float64, why []Reason) {
	l.time, l.x, l.y, l.results = l.time[:0], l.x[:0], l.y[:0], l.results[:0]
	l.lambda, l.mixing = l.lambda[:0], l.mixing[:0]
	for i := range f.N {
		now := moment{time: f.Time[i], x: x[i], kept: why[i] == Kept}
		if y != nil {
			now.y = y[i]
		}
		if l.columns.trim >= 0 {
			now.trim, now.commanded = f.Columns[l.columns.trim].Value[i], f.Columns[l.columns.commanded].Value[i]
		}
		then, lambda, outcome := l.next(f, i, now)
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
func (l *delayer) next(f *drivelog.Frame, i int, now moment) (then moment, lambda float64, outcome result) {
	if f.Stretch[i] != l.stretch {
		l.past, l.stretch = l.past[:0], f.Stretch[i]
	}
	l.past = append(l.past, now)
	then, ok := l.at(now.time - l.delay(f, i))
	c := &f.Columns[l.columns.lambda]
	lambda = c.Value[i]
	switch {
	case !ok:
		return moment{time: now.time, x: math.NaN()}, lambda, tooOld
	case !now.kept || !c.Fresh[i] || lambda != lambda:
		return then, lambda, unread
	case !then.kept:
		return then, lambda, filtered
	case then.x != then.x || then.y != then.y:
		return then, lambda, offAxes
	}
	return then, lambda, sampled
}

// into records the samples of a delayed channel, and is the instants that have one.
func (l *delayer) into(r *recorder, channel int, take []bool) []bool {
	values := l.lambda
	if r.g.channels[channel].name == "mixture_error" {
		values = l.mixing
	}
	for _, v := range values {
		take = append(take, math.Abs(v) < most)
	}
	r.add(channel, &l.then.shares, l.time, values, take)
	return take
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

// at is the moment that stood at a time, and forgets those long past.
func (l *delayer) at(time float64) (moment, bool) {
	const slack = 1e-9
	n := sort.Search(len(l.past), func(i int) bool { return l.past[i].time > time+slack })
	if n == 0 || time != time {
		return moment{}, false
	}
	m := l.past[n-1]
	newest := l.past[len(l.past)-1].time
	if len(l.past) > 4096 && l.past[len(l.past)/2].time < newest-longestDelay {
		l.past = l.past[:copy(l.past, l.past[len(l.past)/2:])]
	}
	return m, newest-m.time <= longestDelay
}

// stepDelay estimates a log's delay: the time from a step of the commanded
// mixture, or the beginning or end of a fuel cut, until lambda is halfway to
// where it then goes; the median of all such steps.
func stepDelay(ctx context.Context, log *drivelog.Log) (delay float64, said string, err error) {
	s := &stepScan{}
	columns := []string{"lambda"}
	for _, c := range []string{"lambda_commanded", "pulse_width"} {
		if log.Has(c) {
			columns = append(columns, c)
		}
	}
	if len(columns) == 1 {
		return 0, "no delay of lambda applied: the log has neither lambda_commanded nor pulse_width, whose steps would tell it", nil
	}
	s.hasCommanded = columns[1] == "lambda_commanded"
	if _, err = log.Scan(ctx, drivelog.Query{Columns: columns}, s.frame); err != nil {
		return 0, "", err
	}
	if len(s.delays) < 3 {
		return 0, fmt.Sprintf("no delay of lambda applied: %d clear steps are too few to tell it", len(s.delays)), nil
	}
	sort.Float64s(s.delays)
	n := len(s.delays)
	delay = (s.delays[(n-1)/2] + s.delays[n/2]) / 2
	return delay, fmt.Sprintf("delay of lambda %.2f s: the median of %d steps, %.2f to %.2f s", delay, n, s.delays[0], s.delays[n-1]), nil
}

// stepScan looks for steps and the sensor's answers.
type stepScan struct {
	hasCommanded bool
	stretch      int
	recent       []reading
	last         float64 // time of the last step taken
	delays       []float64
}

type reading struct {
	time, lambda, input float64
	fresh               bool
}

// What a clear step is: the input still for calm seconds before and after, and
// moved by at least leastStep in between.
const (
	calmBefore, calmAfter = 1, 2
	leastStep             = 0.04
	calmBand              = 0.012
)

func (s *stepScan) frame(f *drivelog.Frame) error {
	for i := range f.N {
		if f.Stretch[i] != s.stretch {
			s.recent, s.stretch = s.recent[:0], f.Stretch[i]
			s.last = math.Inf(-1)
		}
		r := reading{time: f.Time[i], lambda: f.Columns[0].Value[i], fresh: f.Columns[0].Fresh[i]}
		if s.hasCommanded {
			r.input = f.Columns[1].Value[i]
		}
		if k := len(f.Columns) - 1; !s.hasCommanded || k == 2 {
			if f.Columns[k].Value[i] < 0.05 {
				r.input += 1 // a fuel cut is a step too
			}
		}
		s.recent = append(s.recent, r)
		s.look()
	}
	return nil
}

// look takes the instant that now lies calmAfter seconds back for the one after
// a step, and forgets those before it.
func (s *stepScan) look() {
	newest := s.recent[len(s.recent)-1].time
	for len(s.recent) > 2 && s.recent[0].time < newest-calmAfter-calmBefore-0.5 {
		s.recent = s.recent[1:]
	}
	i := sort.Search(len(s.recent), func(i int) bool { return s.recent[i].time >= newest-calmAfter })
	if i == 0 || i >= len(s.recent)-3 || s.recent[i].time <= s.last {
		return
	}
	step := s.recent[i].input - s.recent[i-1].input
	if !(math.Abs(step) >= leastStep) || !s.calm(0, i) || !s.calm(i, len(s.recent)) {
		return
	}
	s.last = s.recent[i].time
	before := s.mean(s.recent[i].time-0.5, s.recent[i].time-1e-9)
	after := s.mean(newest-0.5, newest)
	if moved := after - before; !(moved*step > 0) || math.Abs(moved) < leastStep/2 {
		return
	}
	half := (before + after) / 2
	for _, r := range s.recent[i:] {
		if r.fresh && (r.lambda-half)*step >= 0 {
			s.delays = append(s.delays, r.time-s.recent[i].time)
			return
		}
	}
}

// calm reports whether the input stands still among the instants from..to.
func (s *stepScan) calm(from, to int) bool {
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range s.recent[from:to] {
		low, high = min(low, r.input), max(high, r.input)
	}
	return high-low <= calmBand
}

func (s *stepScan) mean(from, to float64) float64 {
	sum, n := 0.0, 0.0
	for _, r := range s.recent {
		if r.time >= from && r.time <= to && r.lambda == r.lambda {
			sum += r.lambda
			n++
		}
	}
	return sum / n
}
