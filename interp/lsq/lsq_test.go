package lsq

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func near(a, b, tolerance float64) bool {
	return math.Abs(a-b) <= tolerance*max(1, math.Abs(a), math.Abs(b))
}

// line is y = 2 + 3x with noise, in visits that share a part of it.
func line(random *rand.Rand, visits, each int, shared, own float64) *Problem {
	p := &Problem{Columns: 2}
	for v := range visits {
		common := random.NormFloat64() * shared
		at := random.Float64()
		for range each {
			x := at + 0.1*random.Float64()
			p.X = append(p.X, 1, x)
			p.Y = append(p.Y, 2+3*x+common+random.NormFloat64()*own)
			p.Cluster = append(p.Cluster, v)
		}
	}
	return p
}

func without(p *Problem, cluster int) *Problem {
	q := &Problem{Columns: p.Columns, Penalty: p.Penalty}
	for i, c := range p.Cluster {
		if c == cluster {
			continue
		}
		q.X = append(q.X, p.X[i*p.Columns:(i+1)*p.Columns]...)
		q.Y, q.Cluster = append(q.Y, p.Y[i]), append(q.Cluster, c)
		if p.Weight != nil {
			q.Weight = append(q.Weight, p.Weight[i])
		}
	}
	return q
}

// The jackknife's algebra against the plain thing: fit again without each visit.
func TestLeaveOneOutIsARefit(t *testing.T) {
	rapid.Check(t, leaveOneOutIsARefit)
}

func FuzzLeaveOneOutIsARefit(f *testing.F) { f.Fuzz(rapid.MakeFuzz(leaveOneOutIsARefit)) }

func leaveOneOutIsARefit(t *rapid.T) {
	random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	visits := rapid.IntRange(4, 9).Draw(t, "visits")
	p := line(random, visits, rapid.IntRange(1, 6).Draw(t, "each"), 0.2, 0.1)
	if rapid.Bool().Draw(t, "weighted") {
		for range p.Y {
			p.Weight = append(p.Weight, 0.2+random.Float64())
		}
	}
	if rapid.Bool().Draw(t, "penalised") {
		p.Penalty = []Penalty{{Columns: []int{1}, Factors: []float64{1}, Value: 2.5, Weight: 3}}
	}
	fit, err := p.Solve(Options{})
	if err != nil {
		t.Fatal(err)
	}
	var variance [2]float64
	for v := range visits {
		other, err := without(p, v).Solve(Options{})
		if err != nil {
			t.Fatal(err)
		}
		for j := range variance {
			shift := fit.Coef[j] - other.Coef[j]
			variance[j] += shift * shift * float64(visits-1) / float64(visits)
		}
	}
	for j, want := range variance {
		if !near(fit.SE[j]*fit.SE[j], want, 1e-6) {
			t.Fatalf("the variance of coefficient %d is %v, refits say %v", j, fit.SE[j]*fit.SE[j], want)
		}
	}
}

// Whole numbers as weights are repeated rows, and the unit of a column is the
// unit of its coefficient.
func TestWeightsAndUnits(t *testing.T) { rapid.Check(t, weightsAndUnits) }

func FuzzWeightsAndUnits(f *testing.F) { f.Fuzz(rapid.MakeFuzz(weightsAndUnits)) }

func weightsAndUnits(t *rapid.T) {
	random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	factor := rapid.Float64Range(1e-6, 1e6).Draw(t, "factor")
	a, b := line(random, 6, 3, 0.1, 0.1), &Problem{Columns: 2}
	for i, y := range a.Y {
		times := 1 + random.IntN(4)
		a.Weight = append(a.Weight, float64(times))
		for range times {
			b.X, b.Y = append(b.X, 1, factor*a.X[2*i+1]), append(b.Y, y)
		}
	}
	fa, errA := a.Solve(Options{})
	fb, errB := b.Solve(Options{})
	if errA != nil || errB != nil {
		t.Fatal(errA, errB)
	}
	if !near(fa.Coef[0], fb.Coef[0], 1e-10) || !near(fa.Coef[1], fb.Coef[1]*factor, 1e-10) {
		t.Fatalf("weighted %v, repeated %v", fa.Coef, fb.Coef)
	}
	if !near(fa.VIF[1], fb.VIF[1], 1e-8) {
		t.Fatalf("inflation %v and %v", fa.VIF, fb.VIF)
	}
}

// A tenth of the rows far off to one side moves squares away, and the bisquare
// by less than the noise.
func TestOutliers(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	p := line(random, 40, 10, 0, 0.05)
	for i := range p.Y {
		if i%10 == 3 {
			p.Y[i] += 2
		}
	}
	far := func(loss Loss) float64 {
		fit, err := p.Solve(Options{Loss: loss})
		if err != nil {
			t.Fatal(err)
		}
		return math.Abs(fit.Coef[0] + fit.Coef[1]/2 - 3.5)
	}
	squares, huber, bisquare := far(Squares), far(Huber), far(Bisquare)
	if !(squares > 0.15 && huber < 0.05 && bisquare < 0.01) {
		t.Errorf("off by %.3f with squares, %.3f with Huber, %.3f with the bisquare", squares, huber, bisquare)
	}
}

// A robust fit stands still: each row counts as what the fit leaves of it asks for. So it
// does where two columns are so nearly one that normal equations cannot tell them apart.
func TestRobustStandsStill(t *testing.T) { rapid.Check(t, robustStandsStill) }

func robustStandsStill(t *rapid.T) {
	random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	p := &Problem{Columns: 2, Penalty: []Penalty{{Columns: []int{0, 1}, Factors: []float64{1, 1}, Value: 2, Weight: 3}}}
	apart := rapid.SampledFrom([]float64{1, 1e-3, 1e-5}).Draw(t, "apart")
	for range rapid.IntRange(20, 300).Draw(t, "rows") {
		x := apart * random.NormFloat64()
		p.X, p.Weight = append(p.X, 1, 1+x), append(p.Weight, 0.2+random.Float64())
		p.Y = append(p.Y, 2+3*x+random.NormFloat64()*random.ExpFloat64())
	}
	opt := Options{Loss: Huber, Floor: 0.01}
	fit, err := p.Solve(opt)
	if err != nil {
		t.Fatal(err)
	}
	left, scale, err := p.Residuals(opt)
	if err != nil || !near(scale, fit.Scale, 1e-12) {
		t.Fatalf("the scale is %v, %v, want %v", scale, err, fit.Scale)
	}
	for i, r := range fit.Residual {
		if u := math.Abs(r) * math.Sqrt(p.Weight[i]) / fit.Scale; !near(fit.Robust[i], min(1, 1.345/u), 1e-6) {
			t.Fatalf("a row %v scales away counts %v", u, fit.Robust[i])
		}
		if !near(left[i], r, 1e-9) {
			t.Fatalf("row %d: %v is left, want %v", i, left[i], r)
		}
	}
}

// 95 % intervals from visits hold the truth about 95 times in 100, although the
// samples of a visit share most of their error; intervals that take each sample
// for itself do not.
func TestIntervalsCover(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 9))
	const drives = 1500
	var visits, samples int
	for range drives {
		p := line(random, 25, 8, 0.1, 0.05)
		for pass := range 2 {
			fit, err := p.Solve(Options{})
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(fit.Coef[1]-3) <= fit.Quantile(0.95)*fit.SE[1] {
				if pass == 0 {
					visits++
				} else {
					samples++
				}
			}
			p.Cluster = nil
		}
	}
	share := float64(visits) / drives
	if share < 0.93 || share > 0.97 {
		t.Errorf("intervals from visits cover %.1f %%, want 93 to 97", 100*share)
	}
	if s := float64(samples) / drives; s > 0.8 {
		t.Errorf("intervals from samples cover %.1f %%: the check cannot tell", 100*s)
	}
}

// straight is the penalties that hold a curve of coefficients, given at the
// breakpoints of an axis, near straight lines: second differences on the axis's
// own spacing, scaled so that even spacing gives 1, −2, 1. Two breakpoints have
// no curvature and get none.
func straight(columns []int, points []float64, weight float64) []Penalty {
	var rows []Penalty
	for i := 1; i+1 < len(points); i++ {
		left, right := points[i]-points[i-1], points[i+1]-points[i]
		rows = append(rows, Penalty{
			Columns: []int{columns[i-1], columns[i], columns[i+1]},
			Factors: []float64{2 * right / (left + right), -2, 2 * left / (left + right)},
			Weight:  weight,
		})
	}
	return rows
}

// A breakpoint without samples follows the straight line of its neighbours.
func TestPenalty(t *testing.T) {
	p := &Problem{Columns: 3, Penalty: straight([]int{0, 1, 2}, []float64{1, 2, 4}, 1e-3)}
	for _, y := range []float64{1, 1.2} {
		p.X, p.Y = append(p.X, 1, 0, 0, 0, 1, 0), append(p.Y, y, y+2)
	}
	fit, err := p.Solve(Options{})
	if err != nil {
		t.Fatal(err)
	}
	for j, want := range []float64{1.1, 3.1, 7.1} {
		if !near(fit.Coef[j], want, 1e-9) {
			t.Errorf("coefficient %d is %v, want %v", j, fit.Coef[j], want)
		}
	}
	if !near(fit.Columns, 2, 1e-9) {
		t.Errorf("effective columns %v, want the 2 that samples pay for", fit.Columns)
	}
}

func TestRefusals(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		why, want string
		p         Problem
	}{
		{"no column", "at least one column", Problem{}},
		{"more unknowns than rows", "expected at least as many", Problem{Columns: 2, X: []float64{1, 2}, Y: []float64{1}}},
		{"ragged", "expected 2 rows of 1", Problem{Columns: 1, X: []float64{1}, Y: []float64{1, 2}}},
		{"an observation that is none", "observation 1 is NaN", Problem{Columns: 1, X: []float64{1, 1}, Y: []float64{1, nan}}},
		{"a regressor that is none", "row 1, column 0 is NaN", Problem{Columns: 1, X: []float64{1, nan}, Y: []float64{1, 1}}},
		{"a negative weight", "weight of row 0", Problem{Columns: 1, X: []float64{1, 1}, Y: []float64{1, 1}, Weight: []float64{-1, 1}}},
		{"a penalty on no column", "penalty 0", Problem{Columns: 1, X: []float64{1, 1}, Y: []float64{1, 1},
			Penalty: []Penalty{{Columns: []int{1}, Factors: []float64{1}}}}},
		{"two columns that are one", "do not tell", Problem{Columns: 2, X: []float64{1, 2, 2, 4, 3, 6}, Y: []float64{1, 2, 3}}},
		{"a column of zeros", "do not tell", Problem{Columns: 2, X: []float64{1, 0, 2, 0, 3, 0}, Y: []float64{1, 2, 3}}},
	} {
		_, err := c.p.Solve(Options{})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q in it", c.why, err, c.want)
		}
	}
	p := Problem{Columns: 3, X: []float64{1, 5, 2, 2, 1, 4, 3, 3, 6, 4, 9, 8}, Y: []float64{1, 2, 3, 4}}
	var singular *SingularError
	if _, err := p.Solve(Options{}); !errors.As(err, &singular) || !(singular.Condition > 1e14) {
		t.Errorf("columns 0 and 2 are one: got %v", err)
	}
}

// As many rows as coefficients leave nothing to judge by, and say so.
func TestNothingLeft(t *testing.T) {
	p := Problem{Columns: 1, X: []float64{2}, Y: []float64{3}, Cluster: []int{0}}
	fit, err := p.Solve(Options{Loss: Bisquare})
	if err != nil {
		t.Fatal(err)
	}
	if q := fit.Quantile(0.95); !math.IsInf(q, 1) || fit.DOF != 0 {
		t.Errorf("one row: intervals of %v standard errors, %v degrees of freedom", q, fit.DOF)
	}
	if fit.Coef[0] != 1.5 {
		t.Errorf("the coefficient is %v, want 1.5", fit.Coef[0])
	}
}

func BenchmarkBisquare40Minutes(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 1))
	p := &Problem{Columns: 12}
	for i := range 60000 {
		y := random.NormFloat64()
		for range p.Columns {
			x := random.Float64()
			p.X = append(p.X, x)
			y += x
		}
		p.Y, p.Cluster = append(p.Y, y), append(p.Cluster, i/100)
	}
	for b.Loop() {
		if _, err := p.Solve(Options{Loss: Bisquare}); err != nil {
			b.Fatal(err)
		}
	}
}

// A cluster that alone determines a coefficient has no fit without it to be held to,
// whatever rounding leaves of one.
func TestAloneInACluster(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 7))
	for range 200 {
		p := &Problem{Columns: 1}
		for i := range 6 {
			x := 0.0
			if i >= 3 {
				x = 0.1 + random.Float64()
			}
			p.X, p.Y, p.Cluster = append(p.X, x), append(p.Y, random.NormFloat64()), append(p.Cluster, i/3)
		}
		fit, err := p.Solve(Options{})
		if err != nil {
			t.Fatal(err)
		}
		if !(fit.SE[0] < 1e-9) {
			t.Fatalf("x %v: ± %v, by a fit that has seen no such row", p.X, fit.SE[0])
		}
	}
}

// TestNthLaw: a place of a list holds what stands there once the list is sorted.
func TestNthLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(rapid.Float64Range(-3, 3), 1, 60).Draw(t, "list")
		for i := range list {
			list[i] = math.Round(4*list[i]) / 4 // many are equal
		}
		k := rapid.IntRange(0, len(list)-1).Draw(t, "place")
		if got, want := Nth(slices.Clone(list), k), slices.Sorted(slices.Values(list))[k]; got != want {
			t.Fatalf("%v stands at %d of %v, want %v", got, k, list, want)
		}
	})
}
