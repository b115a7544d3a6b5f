package tally

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// The quantile of Student's t is the library's, on both sides of where a series
// takes over.
func TestQuantile975(t *testing.T) {
	for _, freedom := range []float64{0.5, 1, 2.5, 49.9, 50, 50.5, 99, 1e3, 1e7} {
		want := distuv.StudentsT{Sigma: 1, Nu: freedom}.Quantile(0.975)
		if got := quantile975(freedom); math.Abs(got-want) > 2e-9*want {
			t.Errorf("t(0.975, %v) is %v, want %v", freedom, got, want)
		}
	}
}
