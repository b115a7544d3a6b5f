package lsq_test

import (
	"fmt"

	"calsplice/interp/lsq"
)

// Trims of three pulses in two visits, one of them misread, split into a share
// that is the same everywhere and one that goes with 1/pulse.
func ExampleProblem_Solve() {
	p := lsq.Problem{Columns: 2}
	for i, pulse := range []float64{2, 4, 8, 2, 4, 8, 3, 5} {
		trim := 0.04 + 0.1/pulse
		if i == 5 {
			trim += 0.3
		}
		p.X = append(p.X, 1, 1/pulse)
		p.Y = append(p.Y, trim)
		p.Cluster = append(p.Cluster, i/2)
	}
	fit, err := p.Solve(lsq.Options{Loss: lsq.Bisquare, Floor: 0.004})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("constant %.3f, slope %.3f\n", fit.Coef[0], fit.Coef[1])
	fmt.Printf("the misread row counts %.0f\n", fit.Robust[5])
	// Output:
	// constant 0.040, slope 0.100
	// the misread row counts 0
}
