package envelope

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestHidesNoSpike: whatever the series, each value lies within the extremes of
// its stretch, and each extreme is a value that occurred there.
func TestHidesNoSpike(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		most := rapid.IntRange(2, 16).Draw(t, "most")
		steps := rapid.SliceOfN(rapid.Float64Range(0, 3), 1, 200).Draw(t, "steps")
		e := New(1, most)
		var times, values []float64
		now := rapid.Float64Range(-10, 1e6).Draw(t, "start")
		for _, s := range steps {
			now += s
			v := rapid.Float64Range(-1e6, 1e6).Draw(t, "value")
			times, values = append(times, now), append(values, v)
			e.Add(now, []float64{v})
		}
		if e.Len() > most {
			t.Fatalf("%d stretches, want at most %d", e.Len(), most)
		}
		low, high := e.Series(0)
		seenLow, seenHigh := make([]bool, e.Len()), make([]bool, e.Len())
		for i, v := range values {
			at := int(math.Floor((times[i] - e.Start()) / e.Width()))
			if v < low[at] || v > high[at] {
				t.Fatalf("%v at %v lies outside %v to %v", v, times[i], low[at], high[at])
			}
			seenLow[at], seenHigh[at] = seenLow[at] || v == low[at], seenHigh[at] || v == high[at]
		}
		for i := range low {
			if !math.IsNaN(low[i]) && !(seenLow[i] && seenHigh[i]) {
				t.Fatalf("stretch %d has extremes %v, %v that never occurred", i, low[i], high[i])
			}
		}
	})
}

func TestNoValueIsNone(t *testing.T) {
	e := New(2, 4)
	e.Add(0, []float64{1, math.NaN()})
	if low, high := e.Series(1); e.Len() != 1 || !math.IsNaN(low[0]) || !math.IsNaN(high[0]) {
		t.Errorf("got %v, %v in %d stretches", low, high, e.Len())
	}
}
