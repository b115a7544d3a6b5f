package sift

import (
	"context"
	"math"
	"strings"
	"testing"

	"calsplice/interp/cells/logtest"
	"calsplice/tables/drivelog"
)

func TestStepDelay(t *testing.T) {
	for _, want := range []float64{0.2, 0.4, 0.8} {
		log, err := drivelog.Open(logtest.Sensor(t, want), nil, drivelog.Options{})
		if err != nil {
			t.Fatal(err)
		}
		got, said, err := StepDelay(context.Background(), log)
		log.Close()
		if err != nil || math.Abs(got-want) > 0.051 || !strings.Contains(said, "the median of ") {
			t.Errorf("delay %v, %q, %v, want %v", got, said, err, want)
		}
	}
}

func TestParseDelay(t *testing.T) {
	for s, want := range map[string]string{"auto": "from steps", "0.3": "lag=0.3 cycles=0 exhaust=0", "cycles=2, exhaust=1.5,lag=0.05": "lag=0.05 cycles=2 exhaust=1.5", "10": "lag=10 cycles=0 exhaust=0"} {
		if d, err := ParseDelay(s); err != nil || d.String() != want {
			t.Errorf("%q: %v, %v, want %s", s, d, err, want)
		}
	}
	for _, s := range []string{"", "-1", "lag=", "distance=3", "1e999", "NaN", "10.1", "250"} {
		if d, err := ParseDelay(s); err == nil {
			t.Errorf("%q was read as %v", s, d)
		}
	}
}
