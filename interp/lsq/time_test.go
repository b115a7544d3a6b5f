package lsq

import (
	"math"
	"math/rand/v2"
	"testing"
)

// inTime is y = 2 + 3x in the order of time, with an error that is the same over a
// whole drive, one that wanders within a tenth of it, and one of each row.
func inTime(random *rand.Rand, rows int, shared, wander, own float64) *Problem {
	p := &Problem{Columns: 2}
	always, now := shared*random.NormFloat64(), wander*random.NormFloat64()
	keep := 1 - 20/float64(rows)
	for range rows {
		x := random.Float64()
		now = keep*now + wander*math.Sqrt(1-keep*keep)*random.NormFloat64()
		p.X = append(p.X, 1, x)
		p.Y = append(p.Y, 2+3*x+always+now+own*random.NormFloat64())
	}
	return p
}

// TestIntervalsInTimeCover: with errors that wander over minutes, and one that
// stays, intervals hold the truth 93 to 97 times in 100; without the one that
// stays, and from each row for itself, they do not.
func TestIntervalsInTimeCover(t *testing.T) {
	const drives, shared = 1000, 0.05
	random := rand.New(rand.NewPCG(4, 4))
	var held [2]float64
	var without, rows float64
	for range drives {
		p := inTime(random, 200, shared, 0.1, 0.1)
		fit, err := p.SolveInTime(Options{}, shared)
		if err != nil {
			t.Fatal(err)
		}
		for j, want := range []float64{2, 3} {
			if math.Abs(fit.Coef[j]-want) <= fit.Half[j] {
				held[j]++
			}
		}
		off := math.Abs(fit.Coef[0] - 2)
		if off <= fit.Quantile(0.95)*fit.SE[0] {
			without++
		}
		if fit, err = p.Solve(Options{}); err == nil && off <= fit.Quantile(0.95)*fit.SE[0] {
			rows++
		}
	}
	for j, n := range held {
		if share := n / drives; share < 0.93 || share > 0.97 {
			t.Errorf("coefficient %d: intervals cover %.1f %%, want 93 to 97", j, 100*share)
		}
	}
	if without/drives > 0.9 || rows/drives > 0.7 {
		t.Errorf("without what stays %.1f %%, from rows %.1f %%: the check cannot tell", 100*without/drives, 100*rows/drives)
	}
}

// TestSharedShift: what is wrong by the same amount all the time goes into a
// constant in full and into a slope beside it not at all, and a penalty's value is
// no such error; rows that a robust fit leaves out do not carry it.
func TestSharedShift(t *testing.T) {
	p := &Problem{Columns: 2, Penalty: []Penalty{{Columns: []int{1}, Factors: []float64{1}, Value: 3, Weight: 1e9}}}
	for i := range 70 {
		p.X, p.Y = append(p.X, 1, float64(i%7)), append(p.Y, 2+3*float64(i%7))
	}
	p.Y[3] = 500
	fit, err := p.SolveInTime(Options{Loss: Bisquare, Floor: 0.01}, 0.1)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(fit.Half[0]-0.2) > 1e-6 || fit.Half[1] > 1e-6 || fit.Clusters != 6 || fit.DOF != 5 {
		t.Errorf("half intervals %v from %d parts with %v degrees of freedom", fit.Half, fit.Clusters, fit.DOF)
	}
}
