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
	for ; at >= e.most; at = e.stretch(t) {
		e.halve()
	}
	e.used = max(e.used, at+1)
	for i, v := range values {
		e.min[i][at], e.max[i][at] = lower(e.min[i][at], v), higher(e.max[i][at], v)
	}
}

// lower and higher are one of two values, of which NaN is none.
func lower(a, b float64) float64 {
	if a <= b || b != b {
		return a
	}
	return b
}

func higher(a, b float64) float64 {
	if a >= b || b != b {
		return a
	}
	return b
}

func (e *Envelope) stretch(t float64) int {
	n := math.Floor((t - e.start) / e.width)
	if !(n >= 0) {
		return max(e.used-1, 0)
	}
	return int(min(n, 1e9))
}

// halve makes every stretch twice as long.
func (e *Envelope) halve() {
	e.width *= 2
	for i := range e.min {
		fold(e.min[i], lower)
		fold(e.max[i], higher)
	}
	e.used = (e.used + 1) / 2
}

// fold picks one value of each pair of neighbours.
func fold(values []float64, pick func(a, b float64) float64) {
	half := len(values) / 2
	for i := range half {
		values[i] = pick(values[2*i], values[2*i+1])
	}
	for i := half; i < len(values); i++ {
		values[i] = math.NaN()
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
