package lsq

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Fit is what the samples say. Covariance and intervals come from the clusters
// where the problem has them (leaving out one at a time), and else from the
// size of the residuals.
type Fit struct {
	Coef []float64
	SE   []float64 // standard error of each coefficient; NaN where nothing is left to judge it by
	Cov  []float64 // covariance of the coefficients, row after row
	Half []float64 // half of each coefficient's 95 % interval, by [Problem.SolveInTime]
	// Residual is observation − prediction of each row. LeftOut is the same by a
	// fit that has not seen the row's cluster: nil without clusters, and the row's
	// own observation where the other clusters do not determine the prediction.
	Residual, LeftOut []float64
	Robust            []float64 // the factor by which each row counted, 1 at most
	RSS               float64   // Σ weight · robust · residual²
	Scale             float64   // √(RSS / (rows − effective columns)); a robust fit's own scale where it had one
	Columns           float64   // effective number of coefficients that the samples had to pay for
	Clusters          int       // clusters with any weight; rows with any weight where there are none
	DOF               float64   // degrees of freedom of the intervals: Clusters − 1, or rows − Columns without clusters
	Condition         float64   // of the weighted columns, each scaled to size about 1, penalties included
	VIF               []float64 // how many times each variance exceeds that of its column alone
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
	n, m := p.Columns, len(p.Y)
	f := &Fit{Coef: make([]float64, n), SE: make([]float64, n), Cov: make([]float64, n*n), Robust: robust,
		Condition: s.condition, VIF: s.vif, Residual: p.residuals(s)}
	for j := range n {
		f.Coef[j] = s.z[j] * s.power[j]
	}
	inverse := s.inverseR()
	q := thinQ(s, inverse, m)
	for _, v := range q {
		f.Columns += float64(v * v)
	}
	used := 0
	for i, r := range f.Residual {
		w := p.weight(i) * robust[i]
		f.RSS += float64(w * r * r)
		if w > 0 {
			used++
		}
	}
	f.Clusters = used
	if f.Scale = scale; scale == 0 {
		f.Scale = math.Sqrt(f.RSS / (float64(used) - f.Columns))
	}
	// meat is the covariance of Qᵀ(weighted residuals): the identity times the
	// variance where rows are independent.
	var meat []float64
	if p.Cluster != nil {
		meat = p.jackknife(f, s, q)
		f.DOF = float64(f.Clusters) - 1
	} else {
		f.DOF = float64(used) - f.Columns
		meat = make([]float64, n*n)
		variance := f.RSS / (float64(used) - f.Columns)
		for j := range n {
			meat[j*n+j] = variance
		}
	}
	r := mat.NewDense(n, n, inverse)
	var half, cov mat.Dense
	half.Mul(r, mat.NewDense(n, n, meat))
	cov.Mul(&half, r.T())
	for i := range n {
		for j := range n {
			f.Cov[i*n+j] = cov.At(i, j) * s.power[i] * s.power[j]
		}
		f.SE[i] = math.Sqrt(f.Cov[i*n+i])
	}
	return f
}

// thinQ is the first n columns of Q for the samples' rows: A·R⁻¹.
func thinQ(s *solution, inverse []float64, m int) []float64 {
	q := make([]float64, m*s.n)
	for i := range m {
		for k, a := range s.a[i*s.n : (i+1)*s.n] {
			if a == 0 {
				continue
			}
			for j := k; j < s.n; j++ {
				q[i*s.n+j] += float64(a * inverse[k*s.n+j])
			}
		}
	}
	return q
}

// jackknife leaves out one cluster after the other: the shift of the
// coefficients in the coordinates of Q is (I − Q_gᵀQ_g)⁻¹ Q_gᵀ r_g. It sets
// LeftOut and Clusters and returns (G−1)/G · Σ shift·shiftᵀ, the covariance
// known as CR3 (MacKinnon, Nielsen and Webb, "Cluster-robust inference: a guide
// to empirical practice", 2023), which does not come out too small when there
// are few clusters or uneven ones.
//
// A cluster without which the rest does not determine the coefficients has no
// such shift: it adds its plain term, and its rows are not predicted.
func (p *Problem) jackknife(f *Fit, s *solution, q []float64) []float64 {
	n := s.n
	f.LeftOut = make([]float64, len(p.Y))
	meat := make([]float64, n*n)
	f.Clusters = 0
	for _, rows := range clusters(p.Cluster) {
		left := mat.NewSymDense(n, nil)
		for j := range n {
			left.SetSym(j, j, 1)
		}
		score := make([]float64, n)
		weight := 0.0
		for _, i := range rows {
			row := q[i*n : (i+1)*n]
			weight += float64(p.weight(i) * f.Robust[i])
			weighted := f.Residual[i] * math.Sqrt(p.weight(i)*f.Robust[i])
			for a, v := range row {
				score[a] += float64(v * weighted)
				for b := a; b < n; b++ {
					left.SetSym(a, b, left.At(a, b)-float64(v*row[b]))
				}
			}
		}
		if weight > 0 {
			f.Clusters++
		}
		shift, known := solveSym(left, score)
		for a := range n {
			for b := range n {
				meat[a*n+b] += float64(shift[a] * shift[b])
			}
		}
		p.leaveOut(f, s, rows, shift, known)
	}
	g := float64(f.Clusters)
	for i := range meat {
		meat[i] *= (g - 1) / g
	}
	return meat
}

// leaveOut predicts a cluster's rows without it.
func (p *Problem) leaveOut(f *Fit, s *solution, rows []int, shift []float64, known bool) {
	n := s.n
	change := slices.Clone(shift) // of the scaled coefficients: R⁻¹·shift
	blas64.Trsv(blas.NoTrans, s.triangle(), blas64.Vector{N: n, Data: change, Inc: 1})
	for _, i := range rows {
		if f.LeftOut[i] = p.Y[i]; !known {
			continue
		}
		f.LeftOut[i] = f.Residual[i]
		for j := range n {
			f.LeftOut[i] += float64(p.X[i*n+j] * s.power[j] * change[j])
		}
	}
}

// solveSym solves left·x = score; where left is singular to working precision it
// returns score itself and false.
func solveSym(left *mat.SymDense, score []float64) ([]float64, bool) {
	// The identity is left where a cluster leaves nothing out: so the inverse is
	// judged beside 1, not beside what is left.
	var c mat.Cholesky
	if !c.Factorize(left) || c.Cond() > 1e10*mat.Norm(left, 1) {
		return score, false
	}
	var x mat.VecDense
	if err := c.SolveVecTo(&x, mat.NewVecDense(len(score), score)); err != nil {
		return score, false
	}
	return x.RawVector().Data, true
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
