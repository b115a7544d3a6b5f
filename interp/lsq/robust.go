package lsq

import (
	"math"
	"slices"

	"calsplice/interp/cells/exact"
)

// Tuning constants that keep 95 % efficiency for normal errors (Holland and
// Welsch, "Robust regression using iteratively reweighted least-squares", 1977).
const (
	huberK    = 1.345
	bisquareC = 4.685
)

// reweight repeats the fit with rows far from it counting less, until it stands
// still, and leaves the last factors in robust. The bisquare has several
// resting places, so it starts from Huber's, which has one, and keeps its scale.
func (p *Problem) reweight(s *solution, robust []float64, opt Options) (*solution, float64, error) {
	scale := opt.Scale
	stage := func(weigh func(u float64) float64, fixed bool) error {
		before := p.residuals(s)
		for range 100 {
			if !fixed {
				scale = max(p.spread(before), opt.Floor)
			}
			if scale == 0 {
				return nil // more than half of the rows fit exactly: nothing to weigh by
			}
			for i, r := range before {
				robust[i] = weigh(math.Abs(r) * math.Sqrt(p.weight(i)) / scale)
			}
			var err error
			if s, err = p.factor(robust); err != nil {
				return err
			}
			after := p.residuals(s)
			moved := 0.0
			for i := range after {
				moved = max(moved, math.Abs(after[i]-before[i])*math.Sqrt(p.weight(i)))
			}
			if before = after; moved <= 1e-9*scale {
				return nil
			}
		}
		return nil
	}
	err := stage(func(u float64) float64 { return min(1, huberK/max(u, huberK)) }, opt.Scale > 0)
	if err == nil && opt.Loss == Bisquare {
		err = stage(func(u float64) float64 {
			if u >= bisquareC {
				return 0
			}
			v := 1 - u*u/(bisquareC*bisquareC)
			return v * v
		}, true)
	}
	return s, scale, err
}

// residuals are y − X·coef of the rows as they are, unweighted.
func (p *Problem) residuals(s *solution) []float64 {
	r := make([]float64, len(p.Y))
	for i := range r {
		sum := exact.Double{High: p.Y[i]}
		for j, z := range s.z {
			sum.AddProduct(-p.X[i*p.Columns+j]*s.power[j], z)
		}
		r[i] = sum.Float64()
	}
	return r
}

// spread is the standard deviation that the median size of the weighted
// residuals speaks for, were they normal.
func (p *Problem) spread(r []float64) float64 {
	var sizes []float64
	for i, v := range r {
		if w := p.weight(i); w > 0 {
			sizes = append(sizes, math.Abs(v)*math.Sqrt(w))
		}
	}
	if len(sizes) == 0 {
		return 0
	}
	slices.Sort(sizes)
	m := len(sizes) / 2
	return (sizes[m] + sizes[(len(sizes)-1)/2]) / 2 / 0.6744897501960817
}
