package view

import (
	"fmt"
	"math"
	"testing"

	"calsplice/interp/envelope"
)

// TestMarkedTime: what is marked is as wide as the stretches that have the retard, a gap
// ends it, and a value at the threshold is none above it.
func TestMarkedTime(t *testing.T) {
	e := envelope.New(2, 10)
	for i := range 36 {
		e.Add(10+float64(i)/4, []float64{800, []float64{0, 2.5, 3, 2, math.NaN(), 4, math.NaN(), 9, 9}[i/4]})
	}
	tr := &Trace{Channels: []TraceChannel{{"engine_speed", "r/min"}, {"knock_retard", "deg"}}, Envelope: e, Above: 2}
	w := e.Width()
	if got, want := fmt.Sprint(tr.Marked()), fmt.Sprint([]Span{{10 + w, 10 + 3*w}, {10 + 5*w, 10 + 6*w}, {10 + 7*w, 10 + 9*w}}); w != 1 || got != want {
		t.Errorf("%v, want %v, of stretches of %v s", got, want, w)
	}
	tr.Channels[1].Name = "knock"
	if tr.Marked() != nil {
		t.Error("another channel's time is marked")
	}
}
