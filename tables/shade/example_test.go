package shade_test

import (
	"fmt"

	"calsplice/tables/shade"
)

func ExampleSize() {
	for _, v := range []float64{0, 5, 10} {
		c := shade.Size(v, 0, 10)
		fmt.Println(c, "under", c.Text())
	}
	// Output:
	// #440154 under #ffffff
	// #21918d under #000000
	// #fde725 under #000000
}
