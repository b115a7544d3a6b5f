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

// TestFirst: a list that is cut off says how many it leaves out, and no other does.
func TestFirst(t *testing.T) {
	for _, c := range []struct {
		most, shown int
		more        string
	}{{4, 3, ""}, {3, 3, ""}, {2, 2, "and 1 more"}, {1, 1, "and 2 more"}} {
		shown, more := first([]int{1, 2, 3}, c.most, "and %s more")
		if len(shown) != c.shown || more != c.more {
			t.Errorf("at most %d: %v and %q, want %d and %q", c.most, shown, more, c.shown, c.more)
		}
	}
}
