package tally

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"calsplice/interp/cells/exact"
)

// Errors are the standard errors of a channel's means, NaN where a cell has
// fewer than two visits, such that mean ± t(0.975, visits − 1)·se is a 95 %
// interval.
//
// They come from visits (batch means) and not from samples, since neighbouring
// samples are not independent: the linearised variance of a ratio of sums over
// clusters (Cochran, Sampling Techniques, 3rd edition, 1977, §6.4). Nor are
// visits independent that follow each other closely, as where an engine wavers
// between two cells. So visits are taken together in clusters that span more
// and more time, until spanning more of it no longer makes the variance of the
// channel's means larger, over all its cells together: [spans], [moreVariance].
// The span is the channel's and not the cell's, because one cell's few visits
// don't tell.
//
// With clusters of unequal size fewer than all of them count; Satterthwaite's
// degrees of freedom for variances that grow with the size are near (Σn)²/Σn² − 1
// (a half more fits unequal clusters better, in the simulation).
// Where these are fewer than visits − 1, the interval needs a larger factor,
// and se carries it, since what reads a document knows the visits alone.
func Errors(cells []*Cell) []float64 {
	se, freedom := PlainErrors(cells)
	Each(len(cells), func(at int) {
		if c := cells[at]; c != nil && c.visits >= 2 {
			se[at] *= max(1, quantile975(freedom[at])/quantile975(float64(c.visits-1)))
		}
	})
	return se
}

// PlainErrors are the standard errors before they are made to fit the number of
// visits, and their degrees of freedom.
func PlainErrors(cells []*Cell) (se, freedom []float64) {
	all := make([]variances, len(cells))
	Each(len(cells), func(at int) {
		if c := cells[at]; c != nil && c.visits >= 2 {
			all[at] = c.variances()
		}
	})
	span, grows := span(all)
	se, freedom = make([]float64, len(cells)), make([]float64, len(cells))
	for at, c := range cells {
		se[at] = math.NaN()
		if c == nil || c.visits < 2 {
			continue
		}
		// A cell with few clusters of that span falls back to a shorter one, and
		// takes from the other cells how much the longer one adds.
		i, factor := span, 1.0
		for i > 0 && c.cluster[i].k < fewClusters {
			i--
			factor *= max(grows[i], 1)
		}
		freedom[at] = min(all[at][i].freedom, float64(c.visits-1))
		se[at] = math.Sqrt(max(all[at][i].v, 0) * factor) // below 0 by rounding only
	}
	return se, freedom
}

const (
	// fewClusters are too few to judge a span by.
	fewClusters = 4
	// moreVariance is the growth of the variance that asks for a longer span:
	// past the sampling error of a drive's worth of cells, and small enough
	// that stopping there costs the interval little of its coverage. Chosen by
	// the simulation of TestCoverage.
	moreVariance = 1.05
)

// span is the index of a channel's span, and how much each span's variance grows
// to the next.
func span(cells []variances) (span int, grows [len(spans)]float64) {
	for i := range len(spans) - 1 {
		var shorter, longer float64
		for at := range cells {
			if a, b := &cells[at][i], &cells[at][i+1]; b.k >= fewClusters {
				shorter += float64(a.v * a.n * a.n)
				longer += float64(b.v * b.n * b.n)
			}
		}
		if shorter > 0 {
			grows[i] = longer / shorter
			if grows[i] > moreVariance {
				span = i + 1
			}
		}
	}
	return span, grows
}

// variances are those of one cell's mean, from clusters of each span.
type variances [len(spans)]struct {
	k          int64 // clusters
	n          float64
	v, freedom float64
}

func (c *Cell) variances() (all variances) {
	n, x := c.sum[sumN], c.sum[sumX]
	count, nn, nx, xx := n.Float64(), n.Mul(n), exact.Int(2).Mul(x).Mul(n), x.Mul(x)
	for i := range all {
		k, a := &c.cluster[i], &all[i]
		if a.k, a.n = k.k, count; i > 0 && k.k == c.cluster[i-1].k {
			*a = all[i-1] // the same clusters, since longer ones are made of shorter ones
			continue
		}
		// Σ(s − mean·n)²/(Σn)², times (Σn)²/((Σn)² − Σn²), which is k/(k − 1) for
		// clusters of one size. Everything times (Σn)², so that nothing is rounded
		// before the last division.
		left := nn.Sub(k.nn)
		if left.Sign() <= 0 {
			continue
		}
		above := nn.Mul(k.ss).Sub(nx.Mul(k.ns)).Add(xx.Mul(k.nn))
		a.v = exact.Quo(above, nn.Mul(left))
		a.freedom = max(exact.Quo(left, k.nn)+0.5, 0.5)
	}
	return all
}

// quantile975 is Student's t at 97.5 %.
func quantile975(freedom float64) float64 {
	if freedom >= 50 {
		// To 2e-9, the first terms of its series around the normal distribution's:
		// Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.7.5.
		const z = 1.959963984540054
		const z2 = z * z
		return z + (z*(z2+1)/4+
			(z*((5*z2+16)*z2+3)/96+
				(z*(((3*z2+19)*z2+17)*z2-15)/384+
					z*((((79*z2+776)*z2+1482)*z2-1920)*z2-945)/92160/freedom)/freedom)/freedom)/freedom
	}
	// Nine decimals: the library's last digits depend on the processor.
	return math.Round(1e9*distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile(0.975)) / 1e9
}
