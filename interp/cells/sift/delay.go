package sift

import (
	"context"
	"fmt"
	"math"
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

// LongestDelay in seconds is as far back as a delay reaches.
const LongestDelay = 10

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
			return nil, fmt.Errorf("delay is %s, expected auto, seconds, or lag=SECONDS,cycles=N,exhaust=GRAMS", tables.Quote(s))
		}
		*to = v
	}
	if d.Lag > LongestDelay {
		return nil, fmt.Errorf("delay is %s, expected %d seconds at most", tables.Quote(s), LongestDelay)
	}
	return d, nil
}

// String is the delay as [ParseDelay] reads it and documents keep it, so that two
// questions can be compared.
func (d *Delay) String() string {
	if d.Steps {
		return "from steps"
	}
	return fmt.Sprintf("lag=%s cycles=%s exhaust=%s", tables.FormatValue(d.Lag), tables.FormatValue(d.Cycles), tables.FormatValue(d.Exhaust))
}

// Delayed reports whether a channel is read from the exhaust.
func Delayed(channel string) bool { return channel == "lambda" || channel == "mixture_error" }

// StepDelay estimates a log's delay: the time from a step of the commanded
// mixture, or the beginning or end of a fuel cut, until lambda is halfway to
// where it then goes; the median of all such steps.
func StepDelay(ctx context.Context, log *drivelog.Log) (delay float64, note string, err error) {
	s := &stepScan{}
	var q drivelog.Query
	q.Ask("lambda")
	s.commanded = q.AskIf(log.Has("lambda_commanded"), "lambda_commanded")
	s.pulse = q.AskIf(log.Has("pulse_width"), "pulse_width")
	if s.commanded < 0 && s.pulse < 0 {
		return 0, "no delay of lambda applied: the log has neither lambda_commanded nor pulse_width, whose steps would tell it", nil
	}
	if _, err = log.Scan(ctx, q, s.frame); err != nil {
		return 0, "", err
	}
	// Two steps may agree by chance, or be one step and the engine's answer to it.
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
	commanded, pulse int // columns; −1 where the log has none
	stretch          int
	recent           []reading
	last             float64 // time of the last step taken
	delays           []float64
}

// reading is one instant of what a delay is estimated from.
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

// frame takes the instants of a frame. A step of the command and a fuel cut are steps of one
// input, since the sensor answers both.
func (s *stepScan) frame(f *drivelog.Frame) error {
	for i := range f.N {
		if f.Stretch[i] != s.stretch {
			s.recent, s.stretch = s.recent[:0], f.Stretch[i]
			s.last = math.Inf(-1)
		}
		r := reading{time: f.Time[i], lambda: f.Columns[0].Value[i], fresh: f.Columns[0].Fresh[i]}
		if s.commanded >= 0 {
			r.input = f.Columns[s.commanded].Value[i]
		}
		if s.pulse >= 0 && f.Columns[s.pulse].Value[i] < 0.05 {
			r.input += 1 // a fuel cut is a step too
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
	// Halfway is where a sensor's own lag and the spreading of the gas on its way cancel best:
	// both make the answer slow, neither moves its middle.
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

// mean is the mean of lambda between two times; NaN without a reading.
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
