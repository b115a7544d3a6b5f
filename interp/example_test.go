package interp_test

import (
	"fmt"

	"calsplice/interp"
	"calsplice/tables"
)

func curve(points, values []float64) *tables.Table {
	x, err := tables.NewAxis("battery voltage", "V", points)
	if err != nil {
		panic(err)
	}
	t, err := tables.NewTable(tables.Fields{ID: "injector.offset", Unit: "ms", Resolution: 0.01, X: x, Values: values})
	if err != nil {
		panic(err)
	}
	return t
}

// A table onto other breakpoints, with what that lost and what would have kept
// it.
func ExampleResample() {
	t := curve([]float64{8, 10, 12, 14, 16}, []float64{2.1, 1.5, 1.12, 0.86, 0.7})
	x, err := tables.NewAxis("battery voltage", "V", []float64{6, 8, 11, 16})
	if err != nil {
		panic(err)
	}
	r, err := interp.Resample(t, tables.Axes{x, nil}, interp.Sample, interp.Hold)
	if err != nil {
		panic(err)
	}
	fmt.Println(r.Table.Values(), r.Status)
	fmt.Printf("largest loss %.3f ms at %v V\n", r.Loss.Largest, r.Loss.At[0])
	a, err := r.Advise(0.05)
	if err != nil {
		panic(err)
	}
	fmt.Printf("add %v V to lose at most %.3f ms\n", a.X, a.Loss)
	// Output:
	// [2.1 2.1 1.31 0.7] [extrapolated measured interpolated measured]
	// largest loss 0.084 ms at 14 V
	// add [10 14] V to lose at most 0.040 ms
}

// How far two tables on different axes are apart.
func ExampleCompare() {
	a := curve([]float64{8, 12, 16}, []float64{2, 1.2, 0.8})
	b := curve([]float64{8, 10, 12, 16}, []float64{2, 1.5, 1.2, 0.8})
	d, err := interp.Compare(a, b)
	if err != nil {
		panic(err)
	}
	fmt.Printf("largest %.2f at %v V, mean %.3f, rms %.4f\n", d.Largest, d.At[0], d.Mean, d.RMS)
	// Output:
	// largest 0.10 at 10 V, mean -0.025, rms 0.0408
}
