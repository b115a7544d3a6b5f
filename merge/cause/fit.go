package cause

import (
	"math"

	"calsplice/interp/lsq"
)

// fitted is a variant, or two together, fitted to the rows.
type fitted struct {
	variant   *variant
	coef      []float64
	se        []float64
	predicted []float64 // of each row, %
	unseen    []float64 // residual of each row by a fit that has not seen its fold
	share     float64   // of the trim that the fit explains unseen, penalised
	raw       float64   // the same without the penalty
	effect    float64   // largest trim that it stands for, %, over rows that count
}

// fit fits one linear model; nil where the rows do not determine it or it
// leaves its bounds.
func (r *rows) fit(v *variant) *fitted {
	f := &fitted{variant: v}
	if v.fixed {
		f.coef, f.se = []float64{1}, []float64{0}
		f.predicted = v.columns[0]
		f.unseen = make([]float64, len(r.y))
		for i, y := range r.y {
			f.unseen[i] = r.beyond(i, y-f.predicted[i], f.predicted[i])
		}
	} else if !r.solve(f) {
		return nil
	}
	r.judge(f)
	return f
}

// solve fits with rows at a limit as bounds: where the model is past the bound,
// the row is met.
func (r *rows) solve(f *fitted) bool {
	v := f.variant
	p := &lsq.Problem{Columns: len(v.columns), Y: append([]float64(nil), r.y...), Weight: r.w, Cluster: r.fold}
	p.X = make([]float64, 0, len(r.y)*p.Columns)
	for i := range r.y {
		for _, c := range v.columns {
			p.X = append(p.X, c[i])
		}
	}
	for range 12 {
		fit, err := p.Solve(lsq.Options{})
		if err != nil {
			return false
		}
		f.coef, f.se = fit.Coef, fit.SE
		f.predicted, f.unseen = make([]float64, len(r.y)), make([]float64, len(r.y))
		moved := 0.0
		for i, y := range r.y {
			f.predicted[i] = p.Y[i] - fit.Residual[i]
			f.unseen[i] = r.beyond(i, y-(p.Y[i]-fit.LeftOut[i]), p.Y[i]-fit.LeftOut[i])
			met := y
			if r.bound[i] != 0 && r.bound[i]*(f.predicted[i]-y) > 0 {
				met = f.predicted[i]
			}
			moved = max(moved, math.Abs(met-p.Y[i]))
			p.Y[i] = met
		}
		if moved < 0.02 {
			break
		}
	}
	for j, c := range f.coef {
		if v.low != nil && !(c > v.low[j]) || v.high != nil && !(c < v.high[j]) {
			return false
		}
	}
	return true
}

// beyond is the residual of a row, 0 where the trim stands at a limit and the
// prediction lies past it.
func (r *rows) beyond(i int, residual, predicted float64) float64 {
	if r.bound[i] != 0 && r.bound[i]*(predicted-r.y[i]) >= 0 {
		return 0
	}
	return residual
}

// Costs of a model that explains more by being richer: a fixed share of the
// trim for each thing fitted, so that a bent line does not win over a constant
// by following a drift, and what is left unexplained growing as in Schwarz's
// criterion with the number of operating points.
const (
	costOfEach    = 0.012
	costOfAgainst = 0.02
)

func (r *rows) judge(f *fitted) {
	left := 0.0
	for i, u := range f.unseen {
		left += float64(r.w[i] * u * u)
	}
	if r.total == 0 {
		return // no trim but 0: nothing to explain
	}
	f.raw = 1 - left/r.total
	n := float64(max(r.cells, 4))
	f.share = 1 - float64((1-f.raw)*math.Pow(n, f.variant.free/n)) - float64(costOfEach*max(0, f.variant.free-1))
	if f.variant.against {
		f.share -= costOfAgainst
	}
	f.effect = r.largest(f.predicted)
}

// plain is what is left unexplained by a fit, as a share of the trim, with what
// no fit of trims can be better than and the price of its richness: the measure
// by which two causes together are told from other two.
func (r *rows) plain(f *fitted) float64 {
	const floor = 0.4 // %, rms
	n := float64(max(r.cells, 4))
	return (1 - f.raw + floor*floor*r.whole()/r.total) * math.Pow(n, f.variant.free/n)
}

// whole is the weight of all rows.
func (r *rows) whole() float64 {
	sum := 0.0
	for _, w := range r.w {
		sum += w
	}
	return sum
}

// largest is the size of a prediction that is reached where at least three
// hundredths of the weight lie.
func (r *rows) largest(predicted []float64) float64 {
	whole := r.whole()
	low, high := 0.0, 0.0
	for _, v := range predicted {
		high = max(high, math.Abs(v))
	}
	for range 40 {
		middle, past := (low+high)/2, 0.0
		for i, v := range predicted {
			if math.Abs(v) >= middle {
				past += r.w[i]
			}
		}
		if past >= 0.03*whole {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// best fits all variants of a candidate and keeps the one that explains most.
func (r *rows) best(c *candidate) *fitted {
	var best *fitted
	for i := range c.variants {
		if f := r.fit(&c.variants[i]); f != nil && (best == nil || f.share > best.share) {
			best = f
		}
	}
	return best
}

// both fits two causes together, each by its best shape.
func (r *rows) both(a, b *fitted) *fitted {
	v := &variant{columns: append(append([][]float64(nil), a.variant.columns...), b.variant.columns...),
		free: max(1, a.variant.free) + max(1, b.variant.free), against: a.variant.against || b.variant.against}
	for _, part := range []*variant{a.variant, b.variant} {
		for j := range part.columns {
			low, high := math.Inf(-1), math.Inf(1)
			switch {
			case part.fixed:
				low, high = 0.6, 1.5
			case part.low != nil:
				low, high = part.low[j], part.high[j]
			}
			v.low, v.high, v.unit = append(v.low, low), append(v.high, high), append(v.unit, part.unit[j])
		}
	}
	return r.fit(v)
}
