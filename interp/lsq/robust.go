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

// Residuals is what a fit with a robust loss leaves of each row, and its scale: enough to
// tell which rows are wild, without the errors that [Problem.Solve] gives.
func (p *Problem) Residuals(opt Options) (left []float64, scale float64, err error) {
	if err := p.validate(); err != nil {
		return nil, 0, err
	}
	s, scale, err := p.reweight(ones(len(p.Y)), opt)
	if err != nil {
		return nil, 0, err
	}
	return p.residuals(s), scale, nil
}

func ones(n int) []float64 { return slices.Repeat([]float64{1}, n) }

// reweight repeats the fit with rows far from it counting less, until it stands
// still, and leaves the last factors in robust. The bisquare has several
// resting places, so it starts from Huber's, which has one, and keeps its scale.
func (p *Problem) reweight(robust []float64, opt Options) (*solution, float64, error) {
	s := p.weigh(robust)
	s.z, s.r = make([]float64, s.n), slices.Clone(s.b)
	s.products, s.counted = make([]float64, s.n*s.n), make([]float64, s.rows)
	scale := opt.Scale
	stage := func(weigh func(u float64) float64, fixed bool) error {
		for range 100 {
			if !fixed {
				scale = max(p.spread(s.r), opt.Floor)
			}
			if scale == 0 {
				return nil // more than half of the rows fit exactly: nothing to weigh by
			}
			for i := range robust {
				robust[i] = weigh(math.Abs(s.r[i]) / scale)
			}
			if moved, err := p.step(s, robust); err != nil || moved <= 1e-9*scale {
				return err
			}
		}
		return nil
	}
	_, err := p.step(s, robust)
	if err == nil {
		err = stage(func(u float64) float64 { return min(1, huberK/max(u, huberK)) }, opt.Scale > 0)
	}
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

// step goes from a solution to the one with other robust weights, and is how far that moved
// a row. What it solves for is what is still to be corrected: the digits that normal
// equations lose, the next step makes good.
func (p *Problem) step(s *solution, robust []float64) (moved float64, err error) {
	change, ok := s.correction(robust)
	if !ok {
		// Columns that are nearly one are beyond what normal equations can tell apart.
		apart, err := p.factor(robust)
		if err != nil {
			return 0, err
		}
		change = apart.z
		for j := range change {
			change[j] = float64(change[j]*apart.power[j]/s.power[j]) - s.z[j]
		}
	}
	for j, v := range change {
		s.z[j] += v
	}
	for i := range s.r {
		by := 0.0
		for j, v := range s.a[i*s.n : (i+1)*s.n] {
			by += float64(v * change[j])
		}
		if s.r[i] -= by; i < len(robust) {
			moved = max(moved, math.Abs(by))
		}
	}
	return moved, nil
}

// correction solves the normal equations of what is left of the rows, each with its robust
// weight; false where columns are near to one another.
func (s *solution) correction(robust []float64) (change []float64, ok bool) {
	n := s.n
	h := make([]float64, n)
	for i, left := range s.r {
		counts, row := 1.0, s.a[i*n:(i+1)*n]
		if i < len(robust) {
			counts = robust[i]
		}
		for j, v := range row {
			h[j] += float64(counts * v * left)
		}
		if counts != s.counted[i] {
			for j, v := range row {
				weighted, to := float64((counts-s.counted[i])*v), s.products[j*n:]
				for k, o := range row[:j+1] {
					to[k] += float64(weighted * o)
				}
			}
			s.counted[i] = counts
		}
	}
	return Cholesky(slices.Clone(s.products), h)
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
	for i := range p.Y {
		if p.weight(i) > 0 {
			sizes = append(sizes, math.Abs(r[i]))
		}
	}
	if len(sizes) == 0 {
		return 0
	}
	m := len(sizes) / 2
	return (Nth(sizes, m) + Nth(sizes, (len(sizes)-1)/2)) / 2 / 0.6744897501960817
}

// Nth is what stands at a place of a list once it is sorted, of which it sorts no more than
// it needs (C. A. R. Hoare, "Algorithm 65: find", 1961).
func Nth(s []float64, k int) float64 {
	for low, high := 0, len(s)-1; low < high; {
		pivot, i, j := s[(low+high)/2], low, high
		for i <= j {
			for s[i] < pivot {
				i++
			}
			for pivot < s[j] {
				j--
			}
			if i <= j {
				s[i], s[j] = s[j], s[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return s[k]
		}
	}
	return s[k]
}
