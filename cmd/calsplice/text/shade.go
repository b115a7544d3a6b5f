package text

import (
	"math"
	"strconv"

	"calsplice/tables"
	"calsplice/tables/shade"
)

// Size shades v by its size between low and high; an empty cell and a range of
// nothing have no shade.
func Size(v, low, high float64) *shade.RGB {
	if math.IsNaN(v) || !(high > low) {
		return nil
	}
	c := shade.Size(v, low, high)
	return &c
}

// Sign shades a difference, the largest of which is most in size; nothing has
// no shade.
func Sign(v, most float64) *shade.RGB {
	if math.IsNaN(v) || v == 0 || !(most > 0) {
		return nil
	}
	c := shade.Sign(v, most)
	return &c
}

// Range is the lowest and the highest of the values that are not empty.
func Range(values []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if !math.IsNaN(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	return low, high
}

// orDot writes a value, an empty cell as "·".
func orDot(v float64, digits int) string {
	switch {
	case math.IsNaN(v):
		return "·"
	case digits > 0:
		return Digits(v, digits)
	}
	return tables.FormatValue(v)
}

// Digits writes a value with so many significant digits, whole numbers whole.
func Digits(v float64, digits int) string {
	if v == math.Trunc(v) && math.Abs(v) < 1e15 {
		return tables.FormatValue(v)
	}
	s := strconv.FormatFloat(v, 'g', digits, 64)
	rounded, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return s
	}
	return tables.FormatValue(rounded)
}
