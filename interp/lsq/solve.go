package lsq

import (
	"math"
	"slices"

	"calsplice/interp/cells/exact"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// solution is a factored problem: the scaled, weighted rows A (penalties below
// the samples), their QR, and the coefficients z of the scaled columns.
type solution struct {
	rows, n   int
	a         []float64 // A, row after row
	b         []float64
	power     []float64 // column j of A is column j of the model × power[j], a power of two
	qr        blas64.General
	tau, work []float64
	z         []float64
	r         []float64 // b − A·z
	condition float64

	products, counted []float64 // of the normal equations, with the robust weights of the rows in them
}

// factor weighs the rows, factors them and solves.
func (p *Problem) factor(robust []float64) (*solution, error) {
	s := p.weigh(robust)
	if err := s.decompose(); err != nil {
		return nil, err
	}
	s.solve()
	return s, nil
}

// weigh weighs the rows by the problem's weights times the robust ones, and scales
// the columns.
func (p *Problem) weigh(robust []float64) *solution {
	n, m := p.Columns, len(p.Y)
	s := &solution{rows: m + len(p.Penalty), n: n, power: make([]float64, n)}
	s.a, s.b = make([]float64, s.rows*n), make([]float64, s.rows)
	for i, y := range p.Y {
		root := math.Sqrt(p.weight(i) * robust[i])
		s.b[i] = y * root
		for j := range n {
			s.a[i*n+j] = p.X[i*n+j] * root
		}
	}
	for k, q := range p.Penalty {
		root := math.Sqrt(q.Weight)
		s.b[m+k] = q.Value * root
		for j, c := range q.Columns {
			s.a[(m+k)*n+c] += float64(q.Factors[j] * root)
		}
	}
	s.scale()
	return s
}

// scale brings each column's size between 1 and 2. A power of two does so
// without rounding anything.
func (s *solution) scale() {
	for j := range s.n {
		size := blas64.Nrm2(blas64.Vector{N: s.rows, Data: s.a[j:], Inc: s.n})
		_, e := math.Frexp(size)
		s.power[j] = math.Ldexp(1, 1-e)
		if size == 0 {
			s.power[j] = 1
		}
		for i := range s.rows {
			s.a[i*s.n+j] *= s.power[j]
		}
	}
}

func (s *solution) decompose() error {
	s.qr = blas64.General{Rows: s.rows, Cols: s.n, Stride: s.n, Data: slices.Clone(s.a)}
	s.tau = make([]float64, s.n)
	size := make([]float64, 1)
	lapack64.Geqrf(s.qr, s.tau, size, -1)
	s.work = make([]float64, max(int(size[0]), s.rows, s.n))
	lapack64.Geqrf(s.qr, s.tau, s.work, len(s.work))

	// R holds all that the rows say about what can be told apart.
	s.condition = mat.Cond(mat.NewTriDense(s.n, mat.Upper, s.qr.Data[:s.n*s.n]), 2)
	if !(s.condition < worstCondition) {
		return &SingularError{s.condition}
	}
	return nil
}

func (s *solution) triangle() blas64.Triangular {
	return blas64.Triangular{Uplo: blas.Upper, Diag: blas.NonUnit, N: s.n, Data: s.qr.Data, Stride: s.n}
}

// inverseR is R⁻¹, row after row.
func (s *solution) inverseR() []float64 {
	inv := make([]float64, s.n*s.n)
	for j := range s.n {
		inv[j*s.n+j] = 1
	}
	blas64.Trsm(blas.Left, blas.NoTrans, 1, s.triangle(), blas64.General{Rows: s.n, Cols: s.n, Data: inv, Stride: s.n})
	return inv
}

// rotate replaces v by Qᵀv, or Qv.
func (s *solution) rotate(t blas.Transpose, v []float64) {
	c := blas64.General{Rows: s.rows, Cols: 1, Stride: 1, Data: v}
	lapack64.Ormqr(blas.Left, t, s.qr, s.tau, c, s.work, len(s.work))
}

// solve sets z, and r to what Q has of b beside the columns.
func (s *solution) solve() {
	s.r = slices.Clone(s.b)
	s.rotate(blas.Trans, s.r)
	s.z = slices.Clone(s.r[:s.n])
	blas64.Trsv(blas.NoTrans, s.triangle(), blas64.Vector{N: s.n, Data: s.z, Inc: 1})
	clear(s.r[:s.n])
	s.rotate(blas.NoTrans, s.r)
}

// refine improves z and r together, as the solution of the augmented system
// r + A·z = b, Aᵀr = 0, until a step changes nothing that counts.
func (s *solution) refine() {
	last := math.Inf(1)
	f, g := make([]float64, s.rows), make([]float64, s.n)
	sums := make([]exact.Double, s.n)
	for range 8 {
		clear(sums)
		for i := range s.rows {
			sum := exact.Double{High: s.b[i]}
			sum.Add(-s.r[i])
			for j, z := range s.z {
				sum.AddProduct(-s.a[i*s.n+j], z)
				sums[j].AddProduct(-s.a[i*s.n+j], s.r[i])
			}
			f[i] = sum.Float64()
		}
		for j := range g {
			g[j] = sums[j].Float64()
		}
		blas64.Trsv(blas.Trans, s.triangle(), blas64.Vector{N: s.n, Data: g, Inc: 1})
		s.rotate(blas.Trans, f)
		step := make([]float64, s.n)
		for j := range step {
			step[j] = f[j] - g[j]
		}
		blas64.Trsv(blas.NoTrans, s.triangle(), blas64.Vector{N: s.n, Data: step, Inc: 1})
		copy(f, g)
		s.rotate(blas.NoTrans, f)
		size, whole := norm(step), norm(s.z)
		if !(size < last) {
			return
		}
		for j := range step {
			s.z[j] += step[j]
		}
		for i := range f {
			s.r[i] += f[i]
		}
		if last = size; size <= 1e-16*whole {
			return
		}
	}
}

func norm(v []float64) float64 { return blas64.Nrm2(blas64.Vector{N: len(v), Data: v, Inc: 1}) }

// Cholesky solves a·x = h by the lower half of a, which it overwrites; false where
// a row is not its own beside those before it.
func Cholesky(a, h []float64) ([]float64, bool) {
	const leastPivot = 1e-7
	m := len(h)
	for i := range m {
		for j := range i + 1 {
			v := a[i*m+j]
			for k := range j {
				v -= float64(a[i*m+k] * a[j*m+k])
			}
			switch {
			case j < i:
				a[i*m+j] = v / a[j*m+j]
			case !(v > leastPivot):
				return nil, false
			default:
				a[i*m+i] = math.Sqrt(v)
			}
		}
		for k := range i {
			h[i] -= float64(a[i*m+k] * h[k])
		}
		h[i] /= a[i*m+i]
	}
	x := make([]float64, m)
	for i := m - 1; i >= 0; i-- {
		v := h[i]
		for k := i + 1; k < m; k++ {
			v -= float64(a[k*m+i] * x[k])
		}
		x[i] = v / a[i*m+i]
	}
	return x, true
}
