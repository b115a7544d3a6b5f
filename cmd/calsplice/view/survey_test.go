package view

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"calsplice/interp/envelope"
	"calsplice/tables/drivelog"
)

// TestSurveyNames: a header that is too long for its column stands whole behind
// the figures, with why it is no channel; a short one stands once.
func TestSurveyNames(t *testing.T) {
	long := strings.Repeat("ä", 29)
	for _, c := range []struct{ header, why, name, from string }{
		{long[:2*28], "not recognised", long[:2*28], ""},
		{long, "not recognised", strings.Repeat("ä", 27) + "…", `"` + long + `"`},
		{long, "spark is read from \"KR\"", strings.Repeat("ä", 27) + "…", `"` + long + `"; spark is read from "KR"`},
		{"short", "spark is read from \"KR\"", "short", `spark is read from "KR"`},
	} {
		got := unrecognised(&drivelog.Channel{Shown: c.header, Why: c.why})
		if got[0] != c.name || got[len(got)-1] != c.from {
			t.Errorf("%s: %q", c.header, got)
		}
	}
}

// TestFigure: three decimals at most, no zeros at the end, and nine characters.
func TestFigure(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want string
	}{{math.NaN(), ""}, {0, "0"}, {-0.0001, "0"}, {100, "100"}, {-8.25, "−8.25"}, {13.51666, "13.517"}, {98765.4321, "98765.432"}, {1234567.891, "1235000"}} {
		if got := figure(c.v); got != c.want {
			t.Errorf("%v is %q, want %q", c.v, got, c.want)
		}
	}
}

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
