package unit

import (
	"math"
	"testing"
)

// FuzzUnit: any two spellings convert there and back to the same value, or say
// in a line why not.
func FuzzUnit(f *testing.F) {
	for _, s := range [][2]string{{"lb/h", "g/s"}, {"psi", "kPa"}, {"degF", "degC"}, {"rpm", "r/min"}, {"kPa(g)", "kPa(a)"}, {"", "%"}, {"cc/min", "g/s"}, {"zork", "zork"}, {" ms ", "µs"}} {
		f.Add(s[0], s[1], 12.5)
	}
	f.Fuzz(func(t *testing.T, from, to string, v float64) {
		if math.IsNaN(v) || math.Abs(v) > 1e250 || v != 0 && math.Abs(v) < 1e-250 {
			return
		}
		there, err := Convert(v, from, to)
		if err != nil {
			return
		}
		back, err := Convert(there, to, from)
		if err != nil {
			t.Fatalf("%q to %q, but not back: %v", from, to, err)
		}
		// An offset, as from °F, takes digits of a value near its zero.
		if math.Abs(back-v) > 1e-12*max(math.Abs(v), 1000) {
			t.Errorf("%v %q is %v %q and back %v", v, from, there, to, back)
		}
	})
}
