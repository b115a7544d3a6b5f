package tally

import (
	"math"
	"testing"
)

// TestHalfInterval: t at 97.5 % of one degree of freedom less than visits.
func TestHalfInterval(t *testing.T) {
	for visits, want := range map[float64]float64{2: 12.7062, 3: 4.30265, 11: 2.22814, 121: 1.97993} {
		if got := HalfInterval(1, visits); math.Abs(got-want) > 1e-4 {
			t.Errorf("%v visits: %v, want %v", visits, got, want)
		}
	}
}
