package cause

import (
	"math"
	"slices"
)

// gram is what every fit of a drive's rows needs, gathered once: for each fold
// the weighted products of all shapes with each other and with the trim. A
// model of a few shapes is then fitted, and judged on the folds that its fit
// has not seen, in a few operations, so that every shape of every cause can
// compete with every other, alone and in pairs.
type gram struct {
	n      int         // shapes
	shapes [][]float64 // of each fold, n × n
	trims  [][]float64 // of each fold, shape · trim
	square []float64   // of each fold, Σ weight · trim²
	sum    []float64   // over the folds, n × n
	trim   []float64   // over the folds
	total  float64     // over the folds, Σ weight · trim²
	weight float64     // Σ weight
}

// newGram gathers the rows that are kept; all where keep is nil.
func (r *rows) newGram(pool [][]float64, trims []float64, keep func(row int) bool) *gram {
	n := len(pool)
	g := &gram{n: n, sum: make([]float64, n*n), trim: make([]float64, n)}
	for range folds {
		g.shapes = append(g.shapes, make([]float64, n*n))
		g.trims = append(g.trims, make([]float64, n))
		g.square = append(g.square, 0)
	}
	row := make([]float64, n)
	for i, y := range trims {
		if keep != nil && !keep(i) {
			continue
		}
		k, w := r.fold[i], r.w[i]
		for a := range row {
			row[a] = pool[a][i]
		}
		g.square[k] += float64(w * y * y)
		g.weight += w
		for a, v := range row {
			if v == 0 {
				continue
			}
			weighted := float64(w * v)
			g.trims[k][a] += float64(weighted * y)
			to := g.shapes[k][a*n : (a+1)*n]
			for b := a; b < n; b++ {
				to[b] += float64(weighted * row[b])
			}
		}
	}
	for k := range folds {
		g.total += g.square[k]
		for a := range n {
			g.trim[a] += g.trims[k][a]
			for b := a; b < n; b++ {
				g.sum[a*n+b] += g.shapes[k][a*n+b]
			}
		}
	}
	return g
}

func (g *gram) at(of []float64, a, b int) float64 { return of[min(a, b)*g.n+max(a, b)] }

// terms are the shapes of a model, by their place in the pool.
type terms struct {
	shapes []int
	fixed  []int   // shapes that hold as they are, beside those that are fitted
	ridge  float64 // holds each coefficient small, by that share of its shape's own weight
}

// fit fits the shapes by least squares and returns what is left unexplained of
// each fold by a fit that has not seen it; ok is false where the rows do not
// tell the shapes apart. The fixed shapes' coefficients, 1, come last.
func (g *gram) fit(t *terms) (coef, left []float64, ok bool) {
	m := len(t.shapes)
	a, h := make([]float64, m*m), make([]float64, m)
	if coef, ok = g.solve(t, -1, a, h); !ok {
		return nil, nil, false
	}
	all := slices.Concat(t.shapes, t.fixed)
	left = make([]float64, folds)
	for k := range folds {
		if g.square[k] == 0 {
			continue
		}
		unseen, ok := g.solve(t, k, a, h)
		if !ok {
			left[k] = g.square[k] // the rest does not say: nothing is predicted
			continue
		}
		left[k] = g.leftOf(all, unseen, k)
	}
	return coef, left, true
}

func (g *gram) leftOf(shapes []int, coef []float64, k int) float64 {
	sum := g.square[k]
	for i, a := range shapes {
		sum -= 2 * float64(coef[i]*g.trims[k][a])
		for j, b := range shapes {
			sum += float64(coef[i] * coef[j] * g.at(g.shapes[k], a, b))
		}
	}
	return max(0, sum)
}

// solve solves the normal equations without one fold (−1 for all), by Cholesky on
// columns scaled to size 1; a and h are its room.
func (g *gram) solve(t *terms, without int, a, h []float64) ([]float64, bool) {
	of := func(i, j int) float64 { // of shapes
		v := g.at(g.sum, i, j)
		if without >= 0 {
			v -= g.at(g.shapes[without], i, j)
		}
		return v
	}
	m := len(t.shapes)
	size := make([]float64, m)
	for i, s := range t.shapes {
		whole := g.at(g.sum, s, s)
		d := of(s, s) + float64(t.ridge*whole)
		if !(d > 1e-6*whole) {
			return nil, false
		}
		size[i] = 1 / math.Sqrt(d)
		h[i] = g.trim[s]
		if without >= 0 {
			h[i] -= g.trims[without][s]
		}
		for _, x := range t.fixed {
			h[i] -= of(s, x)
		}
		h[i] *= size[i]
		a[i*m+i] = 1
		for j := range i {
			a[i*m+j] = float64(of(s, t.shapes[j]) * size[i] * size[j])
		}
	}
	coef, ok := cholesky(a, h)
	for i := range coef {
		coef[i] *= size[i]
	}
	for range t.fixed {
		coef = append(coef, 1)
	}
	return coef, ok
}

// cholesky solves a·x = h by the lower half of a, which it overwrites; false where
// a row is not its own beside those before it.
func cholesky(a, h []float64) ([]float64, bool) {
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
