package cause

import (
	"math"
	"slices"

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
	effect    float64   // largest trim that it stands for, %, over rows that count
}

// fit fits one linear model; nil where the rows do not determine it or it
// leaves its bounds.
func (r *rows) fit(v *variant) *fitted {
	f := &fitted{variant: v}
	n := len(v.columns)
	base := make([]float64, len(r.y)) // what holds as it is
	if v.fixed {
		n--
		base = v.columns[n]
	}
	if !r.solve(f, v.columns[:n], base) {
		return nil
	}
	if v.fixed {
		f.coef, f.se = append(f.coef, 1), append(f.se, 0)
	}
	if r.total > 0 { // else no trim but 0: there is nothing to explain
		f.share = r.price(1-r.square(f.unseen)/r.total, v)
	}
	f.effect = r.largest(f.predicted)
	return f
}

// solve fits columns to what the base leaves, with rows at a limit as bounds:
// where the model is past the bound, the row is met.
func (r *rows) solve(f *fitted, columns [][]float64, base []float64) bool {
	v := f.variant
	p := &lsq.Problem{Columns: len(columns), Y: make([]float64, len(r.y)), Weight: r.w, Cluster: r.fold}
	for i, y := range r.y {
		p.Y[i] = y - base[i]
		for _, c := range columns {
			p.X = append(p.X, c[i])
		}
	}
	if v.ridge > 0 {
		for j, c := range columns {
			p.Penalty = append(p.Penalty, lsq.Penalty{Columns: []int{j}, Factors: []float64{1}, Weight: float64(v.ridge*r.square(c)) + 1e-9})
		}
	}
	for range 12 {
		residual, leftOut := p.Y, p.Y // of no column at all
		if len(columns) > 0 {
			fit, err := p.Solve(lsq.Options{})
			if err != nil {
				return false
			}
			f.coef, f.se, residual, leftOut = fit.Coef, fit.SE, fit.Residual, fit.LeftOut
		}
		f.predicted, f.unseen = make([]float64, len(r.y)), make([]float64, len(r.y))
		moved := 0.0
		for i, y := range r.y {
			f.predicted[i] = base[i] + p.Y[i] - residual[i]
			blind := base[i] + p.Y[i] - leftOut[i]
			f.unseen[i] = r.beyond(i, y-blind, blind)
			met := y
			if r.bound[i] != 0 && r.bound[i]*(f.predicted[i]-y) > 0 {
				met = f.predicted[i]
			}
			moved = max(moved, math.Abs(met-base[i]-p.Y[i]))
			p.Y[i] = met - base[i]
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

// square is Σ weight · value² of a column.
func (r *rows) square(column []float64) float64 {
	sum := 0.0
	for i, v := range column {
		sum += float64(r.w[i] * v * v)
	}
	return sum
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

// price is the share of the trim that a variant explains, less what its
// richness costs.
func (r *rows) price(raw float64, v *variant) float64 {
	n := float64(max(r.cells, 4))
	share := 1 - float64((1-raw)*math.Pow(n, v.free/n)) - float64(costOfEach*max(0, v.free-1))
	if v.against {
		share -= costOfAgainst
	}
	return share
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

// together is the variant of two shapes at once; one that holds as it is comes
// last.
func together(a, b *variant) *variant {
	if a.fixed {
		a, b = b, a
	}
	v := &variant{columns: slices.Concat(a.columns, b.columns), at: slices.Concat(a.at, b.at), unit: slices.Concat(a.unit, b.unit),
		free: max(1, a.free) + max(1, b.free), against: a.against || b.against, ridge: max(a.ridge, b.ridge), fixed: b.fixed}
	for _, part := range []*variant{a, b} {
		for j := range part.columns {
			low, high := math.Inf(-1), math.Inf(1)
			if part.low != nil {
				low, high = part.low[j], part.high[j]
			}
			v.low, v.high = append(v.low, low), append(v.high, high)
		}
	}
	return v
}
