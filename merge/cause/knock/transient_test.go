package knock

import (
	"slices"
	"testing"

	"calsplice/tables/drivelog"
)

// TestNothingOverAGap: throttle, speed and gear on either side of a gap in the log are not
// compared; where there is none, each of them tells.
func TestNothingOverAGap(t *testing.T) {
	logged := []string{"throttle", "engine_speed", "gear"}
	for stretch, want := range []uint8{thrown | lifted | geared, 0} {
		var tr transients
		tr.judge(func(name string) bool { return slices.Contains(logged, name) })
		f := &drivelog.Frame{N: 2, Since: []float64{0, 0.1}, Stretch: []int{0, stretch}}
		for _, values := range [][]float64{{50, 10}, {3000, 2500}, {3, 4}} {
			f.Columns = append(f.Columns, drivelog.Column{Value: values})
		}
		said := make([]uint8, 2)
		if tr.frame(f, said); said[0] != 0 || said[1] != want {
			t.Errorf("stretch %d: %b, want 0 and %b", stretch, said, want)
		}
	}
}
