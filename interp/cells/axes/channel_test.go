package axes

import (
	"testing"

	"calsplice/tables"
)

// TestChannelOfAnAxis: a quantity of the format, a channel, and a channel's name
// with blanks mean the channel; what is none stays as it is written.
func TestChannelOfAnAxis(t *testing.T) {
	for name, want := range map[string]string{
		"engine speed": "engine_speed", "engine_speed": "engine_speed", "trim 1": "trim_1", "mixture error": "mixture_error", "knock retard": "knock_retard",
		"manifold vacuum": "manifold_vacuum", "battery voltage": "battery", "battery_voltage": "battery", "mood": "mood", "my mood": "my mood",
	} {
		if got := Channel(name); got != want {
			t.Errorf("%s is channel %s, want %s", name, got, want)
		}
	}
}

// Halfway between decimals is halfway, although doubles are not decimals.
func TestHalfway(t *testing.T) {
	for _, tc := range []struct{ low, high, v float64 }{{600, 800, 700}, {.1, .2, .15}, {.9, 1, .95}, {1.1, 1.3, 1.2}, {-1, -.9, -.95}} {
		r, err := NewRuler(&Axis{"lambda", must(tables.NewAxis("lambda", "", []float64{tc.low, tc.high}))}, 1)
		if err != nil {
			t.Fatal(err)
		}
		if r.Index(tc.v) != 1 || r.Index(tc.v-1e-9) != 0 {
			t.Errorf("%v between %v and %v does not go to the higher one", tc.v, tc.low, tc.high)
		}
	}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}
