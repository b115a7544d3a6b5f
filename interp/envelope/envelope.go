// Package envelope keeps the picture of series too long to draw: for each of a
// bounded number of equal stretches of time the smallest and the largest value,
// so that no spike is hidden however long the log.
//
// Memory does not grow with the series: where it outgrows its stretches, each
// becomes twice as long. The result does not depend on how the series was cut
// into calls.
package envelope

import (
	"math"
	"slices"
)

// Envelope holds the extremes of several series over one time.
type Envelope struct {
	most     int
	started  bool
	start    float64
	width    float64
	used     int
	min, max [][]float64 // [series][stretch]; NaN where there was no value
}

// finest is the shortest stretch, in seconds: no logger samples faster.
const finest = 1.0 / 1024

// New makes an envelope of so many series in at most so many stretches, two at
// least.
func New(series, most int) *Envelope {
	e := &Envelope{most: max(most, 2) &^ 1, width: finest}
	e.min, e.max = make([][]float64, series), make([][]float64, series)
	for i := range series {
		blank := slices.Repeat([]float64{math.NaN()}, e.most)
		e.min[i], e.max[i] = blank, slices.Clone(blank)
	}
	return e
}

// Add takes one value a series at time t in seconds, NaN where there is none.
// Times must not decrease; one that does is taken as the latest.
func (e *Envelope) Add(t float64, values []float64) {
	if !e.started {
		e.started, e.start = true, t
	}
	at := e.stretch(t)
	for at >= e.most {
		e.halve()
		at = e.stretch(t)
	}
	e.used = max(e.used, at+1)
	for i, v := range values {
		if math.IsNaN(v) {
			continue
		}
		if !(e.min[i][at] <= v) {
			e.min[i][at] = v
		}
		if !(e.max[i][at] >= v) {
			e.max[i][at] = v
		}
	}
}

func (e *Envelope) stretch(t float64) int {
	n := math.Floor((t - e.start) / e.width)
	if !(n >= 0) {
		return max(e.used-1, 0)
	}
	if n > 1e9 {
		return 1e9
	}
	return int(n)
}

// halve makes every stretch twice as long.
func (e *Envelope) halve() {
	e.width *= 2
	for i := range e.min {
		fold(e.min[i], e.used, math.Min)
		fold(e.max[i], e.used, math.Max)
	}
	e.used = (e.used + 1) / 2
}

// fold picks one value of each pair of neighbours; NaN is none.
func fold(values []float64, used int, pick func(a, b float64) float64) {
	at := func(i int) float64 {
		if i < used {
			return values[i]
		}
		return math.NaN()
	}
	for i := range values {
		a, b := at(2*i), at(2*i+1)
		switch {
		case math.IsNaN(a):
			values[i] = b
		case math.IsNaN(b):
			values[i] = a
		default:
			values[i] = pick(a, b)
		}
	}
}

// Start is the time in seconds at which the first stretch begins.
func (e *Envelope) Start() float64 { return e.start }

// Width is how many seconds a stretch lasts.
func (e *Envelope) Width() float64 { return e.width }

// Len is the number of stretches in use.
func (e *Envelope) Len() int { return e.used }

// Series are the smallest and the largest values of one series, a pair a
// stretch; NaN where it had none.
func (e *Envelope) Series(i int) (least, largest []float64) {
	return e.min[i][:e.used], e.max[i][:e.used]
}
