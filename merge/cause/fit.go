package cause

import (
	"math"
	"slices"

	"calsplice/interp/drive"
	"calsplice/interp/lsq"
)

// square is Σ weight · value² of a column.
func (r *rows) square(column []float64) float64 {
	sum := 0.0
	for i, v := range column {
		sum += float64(r.w[i] * v * v)
	}
	return sum
}

// Costs of a model that explains more by being richer: a fixed share of the
// trim for each thing fitted, so that a bent line does not win over a constant
// by following a drift, and what is left unexplained growing as in Schwarz's
// criterion with the number of operating points.
const (
	costOfEach    = 0.012
	costOfAgainst = 0.02
)

// price is the share of the trim that a variant explains, less what its
// richness costs.
func (r *rows) price(raw float64, v *variant) float64 {
	// Operating points, not rows, are what a shape can be fitted to: a place that was
	// visited ten times is no ten places.
	n := float64(max(r.cells, 4))
	share := 1 - float64((1-raw)*math.Pow(n, v.free/n)) - float64(costOfEach*max(0, v.free-1))
	if v.against {
		share -= costOfAgainst
	}
	return share
}

// whole is the weight of all rows.
func (r *rows) whole() float64 { return drive.Sum(r.w) }

// largest is the size of a prediction that is reached where at least three
// hundredths of the weight lie.
func (r *rows) largest(predicted []float64) float64 {
	// By bisection over sizes, for the rows are in the order of the drive.
	whole := r.whole()
	low, high := 0.0, 0.0
	for _, v := range predicted {
		high = max(high, math.Abs(v))
	}
	for range 40 {
		middle, past := (low+high)/2, 0.0
		for i, v := range predicted {
			if math.Abs(v) >= middle {
				past += r.w[i]
			}
		}
		if past >= 0.03*whole {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// together is the variant of two shapes at once.
func together(a, b *variant) *variant {
	v := &variant{columns: slices.Concat(a.columns, b.columns), at: slices.Concat(a.at, b.at), unit: slices.Concat(a.unit, b.unit),
		free: a.free + b.free, against: a.against || b.against, ridge: max(a.ridge, b.ridge)}
	for _, part := range []*variant{a, b} {
		for j := range part.columns {
			low, high := math.Inf(-1), math.Inf(1)
			if part.low != nil {
				low, high = part.low[j], part.high[j]
			}
			v.low, v.high = append(v.low, low), append(v.high, high)
		}
	}
	return v
}

// slowDrift is what stays wrong over a whole drive, % of trim (one standard
// deviation): see [lsq.Problem.SolveInTime] for the figures that chose it.
const slowDrift = 0.08

// problem is a fit of columns to trims; where held is not nil, each column's coefficient is
// held small by so many rows of weight 1 that say 0.
func problem(columns [][]float64, trims, weights []float64, held func(column []float64) float64) *lsq.Problem {
	p := &lsq.Problem{Columns: len(columns), X: make([]float64, 0, len(trims)*len(columns)), Y: trims, Weight: weights}
	for i := range trims {
		for _, column := range columns {
			p.X = append(p.X, column[i])
		}
	}
	for j := range columns {
		if held != nil {
			p.Penalty = append(p.Penalty, lsq.Penalty{Columns: []int{j}, Factors: []float64{1}, Weight: float64(held(columns[j])) + 1e-9})
		}
	}
	return p
}

// coefficients are what a model fits, with their 95 % intervals.
func (c *contest) coefficients(m *model) []Coefficient {
	var held func(column []float64) float64
	if m.shape.ridge > 0 {
		held = func(column []float64) float64 { return m.shape.ridge * c.r.square(column) }
	}
	fit, err := problem(m.shape.columns, m.y, c.r.w, held).SolveInTime(lsq.Options{}, slowDrift)
	if err != nil {
		return nil
	}
	list := make([]Coefficient, len(fit.Coef))
	for j, v := range fit.Coef {
		list[j] = Coefficient{v, v - fit.Half[j], v + fit.Half[j], m.shape.unit[j]}
	}
	return list
}
