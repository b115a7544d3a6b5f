package interp

import "calsplice/tables"

// operator is a linear map from an axis's old values to its new ones: new value
// i is the sum of weight times old value over terms[i]. Reading a surface at
// new breakpoints is one, and so is the least-squares fit; both are applied
// along x, then along y.
type operator [][]term

// term is one summand: an old value and its weight.
type term struct {
	at     int
	weight float64
}

// apply maps a line of old values.
func (o operator) apply(dst, f []float64) {
	for i, terms := range o {
		var sum float64
		for _, t := range terms {
			sum += float64(t.weight * f[t.at])
		}
		dst[i] = sum
	}
}

// fitAlong is the L2 projection along one axis: the new values whose surface is
// nearest to the old one in the least-squares sense, over the span of both axes
// together. Past its own ends the new surface is held, the old one as out says.
//
// With φᵢ the hat functions on the new breakpoints (the outer two held at 1 past
// the ends) and ψⱼ those on the old, the values solve M·new = B·old, with
// Mᵢₖ = ∫φᵢφₖ, which is tridiagonal, and Bᵢⱼ = ∫φᵢψⱼ. Between neighbours of the
// union both functions are linear, so that each integral is exact:
// ∫ = h/6·(2·f₀g₀ + f₀g₁ + f₁g₀ + 2·f₁g₁). In two dimensions the projection is
// that along x followed by that along y, since both M and B are products.
func fitAlong(from, to []float64, out Outside) operator {
	n := len(to)
	below, diag, above := make([]float64, n), make([]float64, n), make([]float64, n)
	b := make([][]float64, n)
	for i := range b {
		b[i] = make([]float64, len(from))
	}
	u := merged(from, to)
	span := u[len(u)-1]/4 - u[0]/4
	for k := 1; k < len(u); k++ {
		h := (u[k]/4 - u[k-1]/4) / span
		lo, hi := linearBasis(to, u[k-1], Hold), linearBasis(to, u[k], Hold)
		cross([2][]term{lo, hi}, [2][]term{lo, hi}, h, func(i, j int, v float64) {
			switch j - i {
			case -1:
				below[i] += v
			case 0:
				diag[i] += v
			case 1:
				above[i] += v
			}
		})
		cross([2][]term{lo, hi}, [2][]term{linearBasis(from, u[k-1], out), linearBasis(from, u[k], out)}, h, func(i, j int, v float64) { b[i][j] += v })
	}
	solveTridiagonal(below, diag, above, b)
	o := make(operator, n)
	for i, row := range b {
		for j, w := range row {
			if w != 0 {
				o[i] = append(o[i], term{j, w})
			}
		}
	}
	return o
}

// linearBasis are the hat functions that are not 0 at v, with their values there.
func linearBasis(points []float64, v float64, out Outside) []term {
	b := find(points, v, out)
	if b.w == 0 {
		return []term{{b.lo, 1}}
	}
	return []term{{b.lo, 1 - b.w}, {b.hi, b.w}}
}

// cross adds the integral of every pair of functions, one from f and one from g,
// over an interval of length h, from their values at its two ends.
func cross(f, g [2][]term, h float64, add func(i, j int, v float64)) {
	pairs := func(f, g []term, weight float64) {
		for _, p := range f {
			for _, q := range g {
				add(p.at, q.at, float64(h*weight*p.weight*q.weight)/6)
			}
		}
	}
	pairs(f[0], g[0], 2)
	pairs(f[0], g[1], 1)
	pairs(f[1], g[0], 1)
	pairs(f[1], g[1], 2)
}

// solveTridiagonal solves for every column of b, in place. The matrix of hat
// functions is positive definite and its diagonal outweighs the rest, so that
// elimination needs no pivots.
func solveTridiagonal(below, diag, above []float64, b [][]float64) {
	n := len(diag)
	for i := 1; i < n; i++ {
		m := below[i] / diag[i-1]
		diag[i] -= float64(m * above[i-1])
		for j := range b[i] {
			b[i][j] -= float64(m * b[i-1][j])
		}
	}
	for i := n - 1; i >= 0; i-- {
		for j := range b[i] {
			if i+1 < n {
				b[i][j] -= float64(above[i] * b[i+1][j])
			}
			b[i][j] /= diag[i]
		}
	}
}

// sampleAlong is reading at new breakpoints, as an operator.
func sampleAlong(from, to []float64, out Outside) operator {
	o := make(operator, len(to))
	for i, v := range to {
		o[i] = linearBasis(from, v, out)
	}
	return o
}

// holdsAll reports whether every breakpoint of from is among those of to: then
// reading loses nothing, and nothing is nearer.
func holdsAll(to, from []float64) bool {
	return len(merged(from, to)) == len(to)
}

// tooNear reports whether two breakpoints are the same but for rounding. Nothing
// then tells their values apart, and the axis is read instead of fitted.
func tooNear(points []float64) bool {
	last := len(points) - 1
	span := points[last]/4 - points[0]/4
	for i := 1; i <= last; i++ {
		if !(points[i]/4-points[i-1]/4 > 1e-12*span) {
			return true
		}
	}
	return false
}

// fitted is the least-squares surface of t on other nodes.
func fitted(t *tables.Table, p nodes, out Outside) []float64 {
	along := func(a *tables.Axis, to []float64) operator {
		switch {
		case a == nil:
			return operator{{{0, 1}}}
		case holdsAll(to, a.Points()), tooNear(to):
			return sampleAlong(a.Points(), to, out)
		}
		return fitAlong(a.Points(), to, out)
	}
	ox, oy := along(t.X(), p[0]), along(t.Y(), p[1])
	half := make([]float64, t.Rows()*len(ox))
	for r := range t.Rows() {
		ox.apply(half[r*len(ox):(r+1)*len(ox)], t.Row(r))
	}
	values := make([]float64, len(ox)*len(oy))
	column, result := make([]float64, t.Rows()), make([]float64, len(oy))
	for c := range ox {
		for r := range column {
			column[r] = half[r*len(ox)+c]
		}
		oy.apply(result, column)
		for r, v := range result {
			values[r*len(ox)+c] = v
		}
	}
	return values
}
