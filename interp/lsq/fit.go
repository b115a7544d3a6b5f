package lsq

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/stat/distuv"
)

// Fit is what the samples say. Standard errors and intervals come from the clusters
// where the problem has them (leaving out one at a time), and else from the size of
// the residuals.
type Fit struct {
	Coef      []float64
	SE        []float64 // standard error of each coefficient; NaN where nothing is left to judge it by
	Half      []float64 // half of each coefficient's 95 % interval, by [Problem.SolveInTime]
	Residual  []float64 // observation − prediction of each row
	Robust    []float64 // the factor by which each row counted, 1 at most
	Scale     float64   // √(Σ weight · robust · residual² / (rows − effective columns)); a robust fit's own scale where it had one
	Columns   float64   // effective number of coefficients that the samples had to pay for
	Clusters  int       // clusters with any weight; rows with any weight where there are none
	DOF       float64   // degrees of freedom of the intervals: Clusters − 1, or rows − Columns without clusters
	Condition float64   // of the weighted columns, each scaled to size about 1, penalties included
	VIF       []float64 // how many times each variance exceeds that of its column alone
}

// Quantile is Student's t at which intervals of a level end, such as 1.96 for
// 0.95 with many degrees of freedom.
func (f *Fit) Quantile(level float64) float64 {
	if !(f.DOF > 0) {
		return math.Inf(1)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: f.DOF}.Quantile((1 + level) / 2)
}

func (p *Problem) finish(s *solution, robust []float64, scale float64) *Fit {
	n := p.Columns
	f := &Fit{Coef: make([]float64, n), SE: make([]float64, n), VIF: make([]float64, n), Robust: robust,
		Condition: s.condition, Residual: p.residuals(s)}
	q := slices.Clone(s.a[:len(p.Y)*n]) // the first n columns of Q for the samples' rows: A·R⁻¹
	blas64.Trsm(blas.Right, blas.NoTrans, 1, s.triangle(), blas64.General{Rows: len(p.Y), Cols: n, Stride: n, Data: q})
	for _, v := range q {
		f.Columns += float64(v * v)
	}
	squares := 0.0
	for i, r := range f.Residual {
		w := p.weight(i) * robust[i]
		squares += float64(w * r * r)
		if w > 0 {
			f.Clusters++
		}
	}
	f.DOF = float64(f.Clusters) - f.Columns
	left := squares / f.DOF // what the fit leaves of a row of weight 1
	if f.Scale = scale; scale == 0 {
		f.Scale = math.Sqrt(left)
	}
	variance := make([]float64, n) // of the scaled coefficients
	if p.Cluster != nil {
		p.jackknife(f, s, q, variance)
	}
	inverse := s.inverseR()
	for j := range n {
		own := norm(inverse[j*n : (j+1)*n])
		column := blas64.Nrm2(blas64.Vector{N: j + 1, Data: s.qr.Data[j:], Inc: n}) // of R
		if f.VIF[j] = own * own * column * column; p.Cluster == nil {
			variance[j] = left * own * own
		}
		f.Coef[j], f.SE[j] = s.z[j]*s.power[j], math.Sqrt(variance[j])*s.power[j]
	}
	return f
}

// jackknife leaves out one cluster after the other: the shift of the coefficients in
// the coordinates of Q is (I − Q_gᵀQ_g)⁻¹ Q_gᵀ r_g, and R⁻¹ times that is theirs. It
// counts the clusters and sets the variances to (G−1)/G · Σ shift², those known as CR3
// (MacKinnon, Nielsen and Webb, "Cluster-robust inference: a guide to empirical
// practice", 2023), which do not come out too small when there are few clusters or
// uneven ones.
//
// A cluster without which the rest does not determine the coefficients has no such
// shift: it adds its plain term.
func (p *Problem) jackknife(f *Fit, s *solution, q, variance []float64) {
	n := s.n
	f.Clusters = 0
	for _, rows := range clusters(p.Cluster) {
		left, score, weight := make([]float64, n*n), make([]float64, n), 0.0
		for j := range n {
			left[j*n+j] = 1
		}
		for _, i := range rows {
			row := q[i*n : (i+1)*n]
			weight += float64(p.weight(i) * f.Robust[i])
			weighted := f.Residual[i] * math.Sqrt(p.weight(i)*f.Robust[i])
			for a, v := range row {
				score[a] += float64(v * weighted)
				for b, o := range row[:a+1] {
					left[a*n+b] -= float64(v * o)
				}
			}
		}
		if weight > 0 {
			f.Clusters++
		}
		// The identity is left where a cluster leaves nothing out: so a pivot is judged beside 1,
		// not beside what is left.
		shift, ok := Cholesky(left, slices.Clone(score))
		if !ok {
			shift = score
		}
		blas64.Trsv(blas.NoTrans, s.triangle(), blas64.Vector{N: n, Data: shift, Inc: 1})
		for j, v := range shift {
			variance[j] += float64(v * v)
		}
	}
	f.DOF = float64(f.Clusters) - 1
	for j := range variance {
		variance[j] *= f.DOF / float64(f.Clusters)
	}
}

// clusters groups row numbers by cluster, in order of each cluster's first row.
func clusters(of []int) [][]int {
	place := make(map[int]int)
	var groups [][]int
	for i, c := range of {
		k, ok := place[c]
		if !ok {
			k = len(groups)
			place[c] = k
			groups = append(groups, nil)
		}
		groups[k] = append(groups[k], i)
	}
	return groups
}
