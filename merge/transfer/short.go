package transfer

import (
	"math"
	"strconv"

	"calsplice/tables"
)

// short is a number for reading, at four significant digits.
func short(v float64) string {
	if math.IsNaN(v) {
		return "–"
	}
	if math.Abs(v) >= 1e4 {
		return tables.FormatValue(math.Round(v))
	}
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64)
	if err != nil {
		return tables.FormatValue(v)
	}
	return tables.FormatValue(r)
}
