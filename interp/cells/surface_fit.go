package cells

import (
	"math"

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

// surfaceFit holds the normal equations as doubles. Nodes are numbered row
// after row, so that every node's partners lie within two rows: a band.
type surfaceFit struct {
	columns, rows int
	band          int
	matrix        [folds]*mat.SymBandDense // of each fold
	right         [folds]*mat.VecDense
	square        [folds]float64
	penalty       *mat.SymBandDense
	all           *mat.SymBandDense
	allRight      *mat.VecDense
	weight        []float64 // Σ weight at each node
	scale         float64   // mean weight of the nodes with evidence
}

func newSurfaceFit(g *Grid, n *normal) *surfaceFit {
	f := &surfaceFit{columns: g.columns(), rows: g.size() / g.columns()}
	size := g.size()
	if f.band = 2; f.rows > 1 {
		f.band = max(2*f.columns, 2)
	}
	f.band = min(f.band, size-1)
	f.weight = make([]float64, size)
	f.all, f.allRight = mat.NewSymBandDense(size, f.band, nil), mat.NewVecDense(size, nil)
	for k := range n.nodes {
		f.matrix[k], f.right[k] = mat.NewSymBandDense(size, f.band, nil), mat.NewVecDense(size, nil)
		f.square[k] = n.square[k].Float64()
		for i, sums := range n.nodes[k] {
			if sums == nil {
				continue
			}
			for j, p := range partners {
				v, d := sums[j].Float64(), p[0]+p[1]*f.columns
				if v == 0 {
					continue
				}
				f.matrix[k].SetSymBand(i, i+d, f.matrix[k].At(i, i+d)+v)
				f.all.SetSymBand(i, i+d, f.all.At(i, i+d)+v)
				// The weights of a sample's four nodes are 1 together, so that
				// a row of the matrix sums to the node's weight.
				f.weight[i] += v
				if d > 0 {
					f.weight[i+d] += v
				}
			}
			v := sums[withValue].Float64()
			f.right[k].SetVec(i, v)
			f.allRight.SetVec(i, f.allRight.AtVec(i)+v)
		}
	}
	seen := 0.0
	for _, w := range f.weight {
		if w > 0 {
			f.scale += w
			seen++
		}
	}
	f.scale /= max(seen, 1)
	f.penalty = mat.NewSymBandDense(size, f.band, nil)
	f.rough(plain(g.x), 1, f.columns, f.rows)
	f.rough(plain(g.y), f.columns, f.rows, f.columns)
	return f
}

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
				f.penalty.SetSymBand(j, i, f.penalty.At(j, i)+float64(weight*factors[p]*factors[q]))
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

// solve is the surface for a weight of the penalty, without one fold (or with
// all, −1); nil where the equations have no solution.
func (f *surfaceFit) solve(lambda float64, without int) *mat.VecDense {
	size := len(f.weight)
	m, right := mat.NewSymBandDense(size, f.band, nil), mat.NewVecDense(size, nil)
	for i := range size {
		for j := i; j <= min(i+f.band, size-1); j++ {
			v := f.all.At(i, j) + float64(lambda*f.scale*f.penalty.At(i, j))
			if without >= 0 {
				v -= f.matrix[without].At(i, j)
			}
			m.SetSymBand(i, j, v)
		}
		v := f.allRight.AtVec(i)
		if without >= 0 {
			v -= f.right[without].AtVec(i)
		}
		right.SetVec(i, v)
	}
	var c mat.BandCholesky
	if !c.Factorize(m) {
		return nil
	}
	x := mat.NewVecDense(size, nil)
	if err := c.SolveVecTo(x, right); err != nil {
		if _, poor := err.(mat.Condition); !poor {
			return nil
		}
	}
	return x
}

// misfit is Σ(value − surface)² over the samples of a fold.
func (f *surfaceFit) misfit(fold int, x *mat.VecDense) float64 {
	sum := f.square[fold]
	for i := range f.weight {
		v := x.AtVec(i)
		sum -= float64(2 * v * f.right[fold].AtVec(i))
		sum += float64(v * v * f.matrix[fold].At(i, i))
		for j := i + 1; j <= min(i+f.band, len(f.weight)-1); j++ {
			sum += float64(2 * v * x.AtVec(j) * f.matrix[fold].At(i, j))
		}
	}
	return sum
}

// fit chooses the weight of the penalty by cross-validation over the folds, and
// gives the surface and, by leaving out fold after fold (a delete-group
// jackknife), its standard errors; NaN where there are too few folds to tell.
func (f *surfaceFit) fit() (values, se []float64) {
	size := len(f.weight)
	values, se = make([]float64, size), make([]float64, size)
	var used []int
	for k := range folds {
		if f.matrix[k].Trace() > 0 {
			used = append(used, k)
		}
	}
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
	x := f.solve(lambda, -1)
	for i := range values {
		values[i], se[i] = math.NaN(), math.NaN()
		if x != nil {
			values[i] = x.AtVec(i)
		}
	}
	if x == nil || len(used) < 3 {
		return values, se
	}
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
	return values, se
}
