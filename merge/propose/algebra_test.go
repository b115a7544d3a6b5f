package propose

import (
	"math"
	"testing"
)

// TestAlgebra checks what the package comment says with the numbers of
// testdata/reference/injector-facts.md, section 2, examples 1 and 2: an
// injector of 3.02394913 g/s and an offset of 0.9 ms delivers 6.35029318 mg in
// 3 ms; at 400 kPa it flows 3.49175569 g/s and delivers 7.33268695 mg.
func TestAlgebra(t *testing.T) {
	const flowTrue, offsetTrue = 3.02394913, 0.9
	for _, row := range []struct{ pulse, fuel, flow float64 }{
		{2, 3.32634405, flowTrue}, {3, 6.35029318, flowTrue}, {6, 15.4221406, flowTrue}, {10, 27.5179370, flowTrue}, {3, 7.33268695, 3.49175569},
	} {
		if got := row.flow * (row.pulse - offsetTrue); math.Abs(got/row.fuel-1) > 1e-8 {
			t.Errorf("%v ms delivers %v mg, want %v", row.pulse, got, row.fuel)
		}
		// Tables that are wrong, and the trim with which closed loop delivers the
		// same fuel through them.
		for _, wrong := range [][2]float64{{1, 0}, {1.07, 0}, {0.9, 0.2}, {1.2, -0.3}} {
			flow, offset := row.flow*wrong[0], offsetTrue+wrong[1]
			trim := flow*(row.pulse-offset)/row.fuel - 1
			p := (row.pulse - offset) / (1 + trim)
			if got := flow/row.flow - 1 + (offsetTrue-offset)/p; math.Abs(got-trim) > 1e-8 {
				t.Errorf("tables × %v, %+v ms: trim %v, the algebra says %v", wrong[0], wrong[1], trim, got)
			}
			// And back: the new tables are the true ones.
			a, b := flow/row.flow-1, offsetTrue-offset
			if got := flow / (1 + a) * (row.pulse - (offset + b)); math.Abs(got/row.fuel-1) > 1e-8 {
				t.Errorf("corrected tables deliver %v mg, want %v", got, row.fuel)
			}
		}
	}
}
