package cause

import (
	"math"

	"calsplice/interp/cells/tally"
	"calsplice/interp/drive"
	"calsplice/interp/lsq"
)

// gram is what every fit of a drive's rows needs, gathered once: for each fold
// the weighted products of all shapes with each other and with the trim. A
// model of a few shapes is then fitted, and judged on the folds that its fit
// has not seen, in a few operations, so that every shape of every cause can
// compete with every other, alone and in pairs.
type gram struct {
	r      *rows
	pool   [][]float64  // nil where a shape is not wanted
	rows   [folds][]int // that are kept, of each fold
	n      int          // shapes
	shapes [][]float64  // of each fold, n × n
	sum    []float64    // over the folds, n × n
	weight float64      // Σ weight

	y      []float64   // trims
	trims  [][]float64 // of each fold, shape · trim
	square []float64   // of each fold, Σ weight · trim²
	trim   []float64   // over the folds
	total  float64     // over the folds, Σ weight · trim²
}

// span is some of the pool's columns, one behind the other.
type span struct{ from, to int }

// newGram gathers the rows that are kept; all where keep is nil. beside has, by column, which
// of those from it on are fitted beside it, for no other products are asked for. Each fold is
// summed up by itself, and most shapes are 0 in most rows: a knee, or a place that is elsewhere.
func (r *rows) newGram(pool [][]float64, beside [][]span, trims []float64, keep func(row int) bool) *gram {
	n := len(pool)
	g := &gram{r: r, pool: pool, n: n, sum: make([]float64, n*n), shapes: make([][]float64, folds)}
	for i, w := range r.w {
		if keep == nil || keep(i) {
			g.rows[r.fold[i]] = append(g.rows[r.fold[i]], i)
			g.weight += w
		}
	}
	tally.Each(folds, func(k int) {
		sums := make([]float64, n*n)
		at, weighted := make([]int, len(g.rows[k])), make([]float64, len(g.rows[k]))
		for _, a := range g.wanted(span{0, n}) {
			column, found := pool[a], 0
			for _, i := range g.rows[k] {
				// Written in any case, and written over where it is 0: a branch here is often foreseen wrong.
				at[found], weighted[found] = i, float64(r.w[i]*column[i])
				if column[i] != 0 {
					found++
				}
			}
			g.products(weighted[:found], at[:found], g.wanted(beside[a]...), sums[a*n:])
		}
		g.shapes[k] = sums
	})
	for k := range folds {
		drive.AddScaled(g.sum, 1, g.shapes[k])
	}
	return g.to(trims)
}

// wanted are those columns of some spans that there are.
func (g *gram) wanted(spans ...span) (list []int) {
	for _, s := range spans {
		for a := s.from; a < s.to; a++ {
			if g.pool[a] != nil {
				list = append(list, a)
			}
		}
	}
	return list
}

// products are the sums of a weighted column, given where it is not 0, times others. Four
// are summed up at a time, for each sum waits for itself; where fewer are left, the last of
// them is all the rest.
func (g *gram) products(weighted []float64, at, others []int, to []float64) {
	for len(others) > 0 {
		var of [4]int
		for k := range of {
			of[k] = others[min(k, len(others)-1)]
		}
		a, b, c, d := g.pool[of[0]], g.pool[of[1]], g.pool[of[2]], g.pool[of[3]]
		var sumA, sumB, sumC, sumD float64
		for k, i := range at {
			w := weighted[k]
			sumA += float64(w * a[i])
			sumB += float64(w * b[i])
			sumC += float64(w * c[i])
			sumD += float64(w * d[i])
		}
		to[of[0]], to[of[1]], to[of[2]], to[of[3]] = sumA, sumB, sumC, sumD
		others = others[min(4, len(others)):]
	}
}

// to is the same for other trims.
func (g *gram) to(trims []float64) *gram {
	c, wanted := *g, g.wanted(span{0, g.n})
	c.y, c.trims, c.square, c.trim, c.total = trims, make([][]float64, folds), make([]float64, folds), make([]float64, g.n), 0
	tally.Each(folds, func(k int) {
		weighted, square := make([]float64, len(g.rows[k])), 0.0
		for j, i := range g.rows[k] {
			weighted[j] = float64(g.r.w[i] * trims[i])
			square += float64(weighted[j] * trims[i])
		}
		c.square[k], c.trims[k] = square, make([]float64, g.n)
		g.products(weighted, g.rows[k], wanted, c.trims[k])
	})
	for k := range folds {
		c.total += c.square[k]
		drive.AddScaled(c.trim, 1, c.trims[k])
	}
	return &c
}

// at is an entry of a symmetric matrix of which only the upper half is kept.
func (g *gram) at(of []float64, a, b int) float64 { return of[min(a, b)*g.n+max(a, b)] }

// fit fits shapes, given by their place in the pool, by least squares, each
// coefficient held small by ridge times its shape's own weight. It returns what
// is left unexplained of each fold by a fit that has not seen it; ok is false
// where the rows do not tell the shapes apart.
func (g *gram) fit(shapes []int, ridge float64) (coef, left []float64, ok bool) {
	m := len(shapes)
	a, h := make([]float64, m*m), make([]float64, m)
	if coef, ok = g.solve(shapes, ridge, -1, a, h); !ok {
		return nil, nil, false
	}
	left = make([]float64, folds)
	for k := range folds {
		if g.square[k] == 0 {
			continue
		}
		unseen, ok := g.solve(shapes, ridge, k, a, h)
		if !ok {
			left[k] = g.square[k] // the rest does not say: nothing is predicted
			continue
		}
		left[k] = g.leftOf(shapes, unseen, k)
	}
	return coef, left, true
}

// leftOf is Σ weight · (trim − fit)² of a fold, from the sums alone: no row is looked at
// again, however many fits are judged.
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
func (g *gram) solve(shapes []int, ridge float64, without int, a, h []float64) ([]float64, bool) {
	of := func(i, j int) float64 { // of shapes
		v := g.at(g.sum, i, j)
		if without >= 0 {
			v -= g.at(g.shapes[without], i, j)
		}
		return v
	}
	m := len(shapes)
	size := make([]float64, m)
	for i, s := range shapes {
		whole := g.at(g.sum, s, s)
		d := of(s, s) + float64(ridge*whole)
		if !(d > 1e-6*whole) {
			return nil, false
		}
		size[i] = 1 / math.Sqrt(d)
		h[i] = g.trim[s]
		if without >= 0 {
			h[i] -= g.trims[without][s]
		}
		h[i] *= size[i]
		a[i*m+i] = 1
		for j := range i {
			a[i*m+j] = float64(of(s, shapes[j]) * size[i] * size[j])
		}
	}
	coef, ok := lsq.Cholesky(a, h)
	for i := range coef {
		coef[i] *= size[i]
	}
	return coef, ok
}
