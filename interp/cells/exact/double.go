package exact

import "math"

// Double is a Double-Double sum: it holds 106 bits, and is used only where the
// order of its terms is always the same.
type Double struct{ High, low float64 }

// twoSum is a + b and what rounding took from it (Knuth).
func twoSum(a, b float64) (s, low float64) {
	s = a + b
	t := s - a
	return s, (a - (s - t)) + (b - t)
}

// Add adds a number.
func (d *Double) Add(v float64) {
	var low float64
	d.High, low = twoSum(d.High, v)
	d.low += low
}

// AddProduct adds a product, unrounded.
func (d *Double) AddProduct(a, b float64) {
	p := float64(a * b) // rounded here: some processors would fuse it with the sum
	d.Add(p)
	d.low += math.FMA(a, b, -p)
}

// Float64 is the sum, rounded.
func (d *Double) Float64() float64 { return d.High + d.low }

// Num is the sum, rounded to 106 bits.
func (d *Double) Num() Num { return Of(d.High).Add(Of(d.low)) }

// AddLow adds a number that is small beside the sum.
func (d *Double) AddLow(v float64) { d.low += v }
