package cells

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"calsplice/tables"
)

// surfaceStatistics are the tables that a surface adds to a channel.
var surfaceStatistics = []string{"surface", "surface_se", "filled"}

// surfaceTables fits the values at the breakpoints to all samples of a channel,
// each spread over its four neighbours: least squares with a penalty on how far
// each value is from the line through its neighbours. The penalty's weight is
// the one that predicts the folds left out best.
func (g *Grid) surfaceTables(ch *channel) ([]*tables.Table, error) {
	f := newSurfaceFit(g, ch.surface)
	values, se := f.fit()
	filled := make([]float64, len(values))
	for i := range filled {
		if !(f.weight[i] > 0) {
			filled[i] = 1
		}
	}
	var list []*tables.Table
	for i, v := range [][]float64{values, se, filled} {
		t, err := g.statisticTable(ch, surfaceStatistics[i], v)
		if err != nil {
			return nil, err
		}
		list = append(list, t)
	}
	return list, nil
}

// equations are normal equations as doubles. Nodes are numbered row after row, so that
// every node's partners lie within two rows: a band.
type equations struct {
	matrix *mat.SymBandDense
	right  *mat.VecDense
	square float64 // Σ value²
}

func newEquations(size, band int) equations {
	return equations{mat.NewSymBandDense(size, band, nil), mat.NewVecDense(size, nil), 0}
}

// add adds to an element of the matrix.
func (e *equations) add(i, j int, v float64) { e.matrix.SetSymBand(i, j, e.matrix.At(i, j)+v) }

// surfaceFit is the equations of one channel.
type surfaceFit struct {
	columns, rows int
	size, band    int
	fold          [folds]equations
	all           equations
	penalty       equations // of which only the matrix counts
	weight        []float64 // Σ weight at each node
	scale         float64   // mean weight of the nodes with evidence
}

func newSurfaceFit(g *Grid, n *normal) *surfaceFit {
	f := &surfaceFit{columns: g.columns(), rows: g.size() / g.columns(), size: g.size(), band: 2, weight: make([]float64, g.size())}
	if f.rows > 1 {
		f.band = max(2*f.columns, 2)
	}
	f.band = min(f.band, f.size-1) // of a grid smaller than its band
	f.all, f.penalty = newEquations(f.size, f.band), newEquations(f.size, f.band)
	for k := range n.nodes {
		f.fold[k] = newEquations(f.size, f.band)
		f.fold[k].square = n.square[k].Float64()
		for i, sums := range n.nodes[k] {
			if sums == nil {
				continue
			}
			for j, p := range partners {
				v, d := sums[j].Float64(), p[0]+p[1]*f.columns
				if v == 0 {
					continue
				}
				f.fold[k].add(i, i+d, v)
				f.all.add(i, i+d, v)
				// The weights of a sample's four nodes are 1 together, so that
				// a row of the matrix sums to the node's weight.
				f.weight[i] += v
				if d > 0 {
					f.weight[i+d] += v
				}
			}
			f.fold[k].right.SetVec(i, sums[withValue].Float64())
		}
		f.all.right.AddVec(f.all.right, f.fold[k].right)
	}
	seen := 0.0
	for _, w := range f.weight {
		if w > 0 {
			f.scale += w
			seen++
		}
	}
	f.scale /= max(seen, 1)
	f.rough(plain(g.x), 1, f.columns, f.rows)
	f.rough(plain(g.y), f.columns, f.rows, f.columns)
	return f
}

// Without a penalty a breakpoint that no sample comes near could have any value. The penalty
// makes it go on as its neighbours do, and smooths where there are few samples; how much it
// weighs, the drive itself decides.

// rough adds the penalty along one axis: for every three neighbours, the square
// of how far the middle one is from the line through the others; and, so that
// the equations have one solution wherever there is any sample, a millionth of
// the square of each difference of neighbours.
func (f *surfaceFit) rough(a *tables.Axis, step, n, lines int) {
	other := 1
	if step == 1 {
		other = f.columns
	}
	add := func(nodes []int, factors []float64, weight float64) {
		for p, i := range nodes {
			for q, j := range nodes[:p+1] {
				f.penalty.add(j, i, float64(weight*factors[p]*factors[q]))
			}
		}
	}
	for line := range lines {
		for k := range n {
			i := line*other + k*step
			if k+1 < n {
				add([]int{i, i + step}, []float64{1, -1}, 1e-6)
			}
			if k+2 < n {
				w := (a.At(k+1) - a.At(k)) / (a.At(k+2) - a.At(k))
				add([]int{i, i + step, i + 2*step}, []float64{1 - w, -1, w}, 1)
			}
		}
	}
}

// A fold is left out by taking its sums away from those of all, so that no fold is added up
// more than once.

// solve is the surface for a weight of the penalty, without one fold (or with
// all, −1); nil where the equations have no solution.
func (f *surfaceFit) solve(lambda float64, without int) *mat.VecDense {
	left := newEquations(f.size, f.band)
	all, penalty, m := f.all.matrix.RawSymBand().Data, f.penalty.matrix.RawSymBand().Data, left.matrix.RawSymBand().Data
	for i, v := range all {
		m[i] = v + float64(lambda*f.scale*penalty[i])
	}
	left.right.CopyVec(f.all.right)
	if without >= 0 {
		for i, v := range f.fold[without].matrix.RawSymBand().Data {
			m[i] -= v
		}
		left.right.SubVec(left.right, f.fold[without].right)
	}
	var c mat.BandCholesky
	if !c.Factorize(left.matrix) {
		return nil
	}
	x := mat.NewVecDense(f.size, nil)
	if err := c.SolveVecTo(x, left.right); err != nil {
		if _, poor := err.(mat.Condition); !poor {
			return nil
		}
	}
	return x
}

// misfit is Σ(value − surface)² over the samples of a fold.
func (f *surfaceFit) misfit(fold int, x *mat.VecDense) float64 {
	e := &f.fold[fold]
	mx := mat.NewVecDense(f.size, nil)
	e.matrix.MulVecTo(mx, false, x)
	return e.square - 2*mat.Dot(x, e.right) + mat.Dot(x, mx)
}

// fit gives the surface and its standard errors; NaN where there are too few folds to tell.
func (f *surfaceFit) fit() (values, se []float64) {
	var used []int
	for k := range folds {
		if f.fold[k].matrix.Trace() > 0 {
			used = append(used, k)
		}
	}
	values, se = slices.Repeat([]float64{math.NaN()}, f.size), slices.Repeat([]float64{math.NaN()}, f.size)
	lambda := f.smoothing(used)
	x := f.solve(lambda, -1)
	if x == nil {
		return values, se
	}
	copy(values, x.RawVector().Data)
	if len(used) >= 3 {
		f.jackknife(se, lambda, used)
	}
	return values, se
}

// smoothing is the penalty's weight that predicts the folds left out best, from almost no
// smoothing to almost a plane; half a power of ten is finer than the folds can tell apart.
func (f *surfaceFit) smoothing(used []int) float64 {
	lambda, least := 1.0, math.Inf(1)
	for e := -4.0; e <= 4 && len(used) > 1; e += 0.5 {
		l, sum := math.Pow(10, e), 0.0
		for _, k := range used {
			x := f.solve(l, k)
			if x == nil {
				sum = math.Inf(1)
				break
			}
			sum += f.misfit(k, x)
		}
		if sum < least {
			lambda, least = l, sum
		}
	}
	return lambda
}

// jackknife is the standard error of each value by leaving out one fold after the other (a
// delete-group jackknife).
func (f *surfaceFit) jackknife(se []float64, lambda float64, used []int) {
	var parts []*mat.VecDense
	for _, k := range used {
		if p := f.solve(lambda, k); p != nil {
			parts = append(parts, p)
		}
	}
	n := float64(len(parts))
	for i := range se {
		var mean, sum float64
		for _, p := range parts {
			mean += p.AtVec(i) / n
		}
		for _, p := range parts {
			sum += float64((p.AtVec(i) - mean) * (p.AtVec(i) - mean))
		}
		se[i] = math.Sqrt((n - 1) / n * sum)
	}
}
