package tally

import (
	"math"

	"calsplice/interp/cells/exact"
)

// Statistics of a cell, in the order in which a document lists them.
var Statistics = []string{"count", "visits", "mean", "sd", "se", "min", "max", "p95", "at_limit"}

// Statistics computes all of them but se; those that the evidence does not give
// are NaN. An empty cell (nil) has none.
func (c *Cell) Statistics(counted bool, se float64) [9]float64 {
	none := math.NaN()
	if c == nil || c.visits == 0 {
		return [9]float64{none, none, none, none, none, none, none, none, none}
	}
	n, x := c.sum[sumN], c.sum[sumX]
	p95 := 0.0
	if counted {
		p95 = c.counts.quantile(0.95, whole)
	} else {
		p95 = c.counts.share(0.95)
	}
	return [9]float64{n.Float64(), float64(c.visits), exact.Quo(x, n), c.sd(n, x), se,
		c.min, c.max, p95, exact.Quo(c.sum[sumLimit], n)}
}

// Simple are those statistics that a cell has without more arithmetic than a quotient:
// count, mean, min, max and visits.
func (c *Cell) Simple() [5]float64 {
	n := c.sum[sumN].Float64()
	return [5]float64{n, c.sum[sumX].Float64() / n, c.min, c.max, float64(c.visits)}
}

// sd is the standard deviation over n − 1; of weighted samples, over Σw −
// Σw²/Σw, which is the same where every weight is 1.
func (c *Cell) sd(n, x exact.Num) float64 {
	// Σw·(v − mean)² / (Σw − Σw²/Σw) = (Σw·Σwv² − (Σwv)²) / ((Σw)² − Σw²)
	below := n.Mul(n).Sub(c.sum[sumW2])
	if below.Sign() <= 0 {
		return math.NaN()
	}
	above := n.Mul(c.sum[sumXX]).Sub(x.Mul(x))
	return exact.SqrtQuo(above, below)
}

// HalfInterval is half the width of the 95 % interval of a cell's mean, from its
// standard error and number of visits: t(0.975, visits − 1)·se. It is NaN where
// there are fewer than two visits.
func HalfInterval(se, visits float64) float64 {
	if !(visits >= 2) {
		return math.NaN()
	}
	return quantile975(visits-1) * se
}
