package sift

import (
	"slices"
	"testing"
)

// A log has one fingerprint, however many instants come at a time; one of
// another time, another place of the engine or another reading has another.
func TestFingerprint(t *testing.T) {
	columns := func() (c [4][]float64) {
		for i := range c {
			for k := range 100 {
				c[i] = append(c[i], float64(k%(7+i))/10)
			}
		}
		return c
	}
	of := func(c [4][]float64, cut int) string {
		f := make(Fingerprint, 2)
		for channel := range f {
			f.Add(channel, c[0][:cut], c[1][:cut], c[2][:cut], c[3][:cut])
			f.Add(channel, c[0][cut:], c[1][cut:], c[2][cut:], c[3][cut:])
		}
		return f.String()
	}
	seen := []string{of(columns(), 0)}
	if got := of(columns(), 37); got != seen[0] {
		t.Errorf("in two parts %s, whole %s", got, seen[0])
	}
	for i := range 4 {
		for _, k := range []int{0, 63, 64, 99} {
			c := columns()
			c[i][k] += 0.01
			seen = append(seen, of(c, 0))
		}
	}
	turned := columns()
	slices.Reverse(turned[3])
	seen = append(seen, of(turned, 0))
	slices.Sort(seen)
	if n := len(slices.Compact(seen)); n != 18 {
		t.Errorf("18 logs have %d fingerprints", n)
	}
}
