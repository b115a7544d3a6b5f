// Package lsq fits linear models to weighted samples, honestly enough to act
// on: the solution to nearly the last digit that the numbers hold, intervals
// that know that neighbouring samples are not independent, and a plain measure
// of what the samples cannot tell apart.
//
// A [Problem] is rows of regressors and an observation for each row; [Problem.Solve]
// gives a [Fit]. Three things may be added to a plain fit:
//
//   - [Penalty] rows hold combinations of coefficients near a value, so that a
//     breakpoint without samples follows its neighbours;
//   - robust reweighting (Huber's weights, then Tukey's bisquare) keeps samples
//     that no model explains from steering the rest;
//   - clusters (the visits of a drive) say which rows belong together; standard
//     errors then come from leaving one cluster out at a time.
//
// The solver is Householder QR on columns scaled by powers of two, followed by
// iterative refinement of the augmented system with residuals in twice the
// working precision (Björck, "Iterative refinement of linear least squares
// solutions I", BIT 7, 1967). Normal equations only find a robust fit's weights, where
// [Problem.Residuals] ends; the fit with those weights is solved anew.
//
// Sums in twice the working precision are those of cells/exact.
//
// It does not choose models, and it does not bound coefficients.
package lsq

import (
	"fmt"
	"math"
)

// Problem is a linear model with its samples. The solver does not change it,
// and keeps one copy of X while it works.
type Problem struct {
	Columns int       // coefficients
	X       []float64 // regressors, row after row: len(Y) × Columns
	Y       []float64
	Weight  []float64 // of each row, inverse to its variance; nil is 1 for all
	Cluster []int     // which visit each row belongs to; nil where rows are independent
	Penalty []Penalty
}

// Penalty is one thing known beforehand: Σ Factors[i]·coef[Columns[i]] is near
// Value, with the weight of that many rows of weight 1.
type Penalty struct {
	Columns []int
	Factors []float64
	Value   float64
	Weight  float64
}

// Loss says how rows far from the fit count.
type Loss int

const (
	Squares  Loss = iota // every row in full
	Huber                // beyond 1.345 scales by the inverse of their distance
	Bisquare             // Huber first, then not at all beyond 4.685 scales
)

// Options tune a fit. The zero value is plain weighted least squares.
type Options struct {
	Loss Loss
	// Scale is the residuals' standard deviation, for rows of weight 1, by which
	// a robust loss judges distance; 0 takes it from their median size.
	Scale float64
	// Floor is the smallest scale that is believed: half a quantum of what was
	// measured, where most residuals may be 0.
	Floor float64
}

// SingularError says that the samples do not tell some coefficients apart at all.
type SingularError struct{ Condition float64 }

// Error says so in words.
func (e *SingularError) Error() string {
	return fmt.Sprintf("the samples do not tell the coefficients apart: condition number %.2g", e.Condition)
}

// Columns scaled to size 1 with a larger condition number than this leave no
// digit of the answer certain.
const worstCondition = 1e14

// Solve fits the model. It refuses fewer rows than coefficients, numbers that
// are not finite, weights below zero, and columns that the rows do not tell
// apart (a [*SingularError]).
func (p *Problem) Solve(opt Options) (*Fit, error) {
	fit, _, err := p.solve(opt)
	return fit, err
}

func (p *Problem) solve(opt Options) (*Fit, *solution, error) {
	if err := p.validate(); err != nil {
		return nil, nil, err
	}
	robust, scale := ones(len(p.Y)), opt.Scale
	if opt.Loss != Squares {
		var err error
		if _, scale, err = p.reweight(robust, opt); err != nil {
			return nil, nil, err
		}
	}
	s, err := p.factor(robust)
	if err != nil {
		return nil, nil, err
	}
	s.refine()
	return p.finish(s, robust, scale), s, nil
}

func (p *Problem) validate() error {
	n, rows := p.Columns, len(p.Y)
	switch {
	case n < 1:
		return fmt.Errorf("a model needs at least one column")
	case len(p.X) != rows*n:
		return fmt.Errorf("%d numbers in X, expected %d rows of %d", len(p.X), rows, n)
	case rows+len(p.Penalty) < n:
		return fmt.Errorf("%d rows for %d coefficients, expected at least as many", rows+len(p.Penalty), n)
	case p.Weight != nil && len(p.Weight) != rows, p.Cluster != nil && len(p.Cluster) != rows:
		return fmt.Errorf("weights and clusters need one entry a row, %d", rows)
	}
	for i, w := range p.Weight {
		if !(w >= 0) || math.IsInf(w, 0) {
			return fmt.Errorf("weight of row %d is %v, expected a finite number not below 0", i, w)
		}
	}
	for i, y := range p.Y {
		if !finite(y) {
			return fmt.Errorf("observation %d is %v, expected a finite number", i, y)
		}
	}
	for i, x := range p.X {
		if !finite(x) {
			return fmt.Errorf("row %d, column %d is %v, expected a finite number", i/n, i%n, x)
		}
	}
	for i, q := range p.Penalty {
		if len(q.Columns) != len(q.Factors) || !(q.Weight >= 0) || !finite(q.Value) || !finite(q.Weight) {
			return fmt.Errorf("penalty %d is not sound", i)
		}
		for j, c := range q.Columns {
			if c < 0 || c >= n || !finite(q.Factors[j]) {
				return fmt.Errorf("penalty %d is not sound", i)
			}
		}
	}
	return nil
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func (p *Problem) weight(i int) float64 {
	if p.Weight == nil {
		return 1
	}
	return p.Weight[i]
}
