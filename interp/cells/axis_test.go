package cells

import (
	"math"
	"strings"
	"testing"
)

// FuzzParseAxis: any text is an axis whose breakpoints rise, or one line.
func FuzzParseAxis(f *testing.F) {
	for _, s := range []string{"engine_speed: 600,800,1200", "engine speed [rpm]: 1, 2", "load:1", ":", "x: 1,1", "x: NaN", "x [: 1", "x [kPa: 1,2", "a:b:c", "x: 1e999"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := ParseAxis(s)
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("more than a line: %v", err)
			}
			return
		}
		last := math.Inf(-1)
		for _, v := range a.Points() {
			if !(v > last) || math.IsInf(v, 0) {
				t.Fatalf("%q has breakpoints %v", s, a.Points())
			}
			last = v
		}
		r, err := newRuler(a, a.Unit())
		if err != nil {
			return
		}
		for i, v := range a.Points() {
			if got := r.nearest(v, 0); got != i {
				t.Errorf("%q: nearest to breakpoint %d is %d", s, i, got)
			}
		}
	})
}
