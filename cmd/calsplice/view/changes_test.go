package view

import (
	"math"
	"testing"
)

func TestDifferenceReadsAsDecimals(t *testing.T) {
	for _, c := range []struct{ a, b, want float64 }{{2.62, 2.531, -0.089}, {0.1, 0.3, 0.2}, {1e-9, 2e-9, 1e-9}, {5, 5, 0}} {
		if got := difference(c.a, c.b); got != c.want {
			t.Errorf("%v to %v: got %v, want %v", c.a, c.b, got, c.want)
		}
	}
	if !math.IsNaN(difference(math.NaN(), 1)) {
		t.Error("from an empty cell there is no difference")
	}
}
