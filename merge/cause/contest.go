package cause

import (
	"math"
	"slices"

	"calsplice/interp/cells/tally"
	"calsplice/interp/drive"
)

// contest lets every cause compete with every other on the same rows: each
// shape of each cause alone, and every pair of shapes of two causes. All are
// judged alike, by what they leave unexplained of parts of the drive that their
// fit has not seen.
type contest struct {
	r       *rows
	f       *facts
	list    []candidate
	pool    [][]float64
	beside  [][]span // by column of the pool, those from it on that are fitted beside it
	gram    *gram
	singles []*model // the best of each candidate; nil where none fits
	pairs   []*model // the best of each two candidates
}

// model is one shape, or two together, fitted. Two models are compared by what they leave
// unseen of each fold: that the same folds decide for both takes the drive's own ups and
// downs out of the comparison.
type model struct {
	of    []int // candidates
	shape *variant
	parts []*variant
	coef  []float64
	left  []float64 // of each fold, Σ weight · residual² unseen
	err   float64   // Σ left
	share float64   // of the trim explained, less the price of richness
	y     []float64 // the trims that it is fitted to: those at a limit as far past it as the model is

	predicted []float64 // of each row, %, where it was asked for
}

// newContest fits everything.
func newContest(r *rows, f *facts) *contest {
	c := &contest{r: r, f: f, list: r.candidates(f)}
	c.enterAll()
	c.fit()
	return c
}

// enterAll makes the pool, and says what of it is fitted together: the columns of one shape,
// and those of two causes that make a pair. Bent lines make no pair, so they stand behind
// all that do.
func (c *contest) enterAll() {
	pairs, ends := 0, make([]int, len(c.list)) // of the pool's part that makes pairs, and of each cause's
	for _, bent := range []bool{false, true} {
		for i := range c.list {
			if k := &c.list[i]; k.cause.is(bends) == bent {
				for j := range k.variants {
					c.enter(&k.variants[j])
				}
				ends[i] = len(c.pool)
			}
		}
		if !bent {
			pairs = len(c.pool)
		}
	}
	for i := range c.list {
		for _, v := range c.list[i].variants {
			for _, at := range v.at {
				c.beside[at] = append(c.beside[at], span{ends[i], max(ends[i], pairs)})
			}
		}
	}
}

// enter adds a shape's columns to the pool.
func (c *contest) enter(v *variant) {
	end := len(c.pool) + len(v.columns)
	for _, column := range v.columns {
		c.beside = append(c.beside, []span{{len(c.pool), end}})
		v.at = append(v.at, len(c.pool))
		c.pool = append(c.pool, column)
	}
}

// surface is a gentle surface over speed, load, air flow and time.
func (r *rows) surface() [][]float64 {
	time := r.column(func(p *Point, _ int) float64 { return p.clock })
	var all [][]float64
	for _, x := range [][]float64{r.speed(), r.pressure(), r.logAir(), time} {
		if x == nil {
			continue
		}
		low, high := quantiles(x, 0.05, 0.95)
		if !(high > low) {
			continue
		}
		u := mapped(x, func(v float64) float64 { return min(1.5, max(-0.5, (v-low)/(high-low)))*2 - 1 })
		all = append(all, u, product(u, u))
	}
	return append(all, r.one())
}

// met is the trims, with those at a limit as far past it as a prediction is.
func (r *rows) met(predicted []float64) []float64 {
	y := slices.Clone(r.y)
	for i, p := range predicted {
		if r.bound[i]*(p-y[i]) > 0 {
			y[i] = p
		}
	}
	return y
}

// predict is the trim of each row by the fit, kept for the next who asks.
func (m *model) predict() []float64 {
	if m.predicted == nil {
		m.predicted = combined(m.shape.columns, m.coef, len(m.y))
	}
	return m.predicted
}

// combined is so much of each column together, by row.
func combined(columns [][]float64, coef []float64, rows int) []float64 {
	sum := make([]float64, rows)
	for j, column := range columns {
		drive.AddScaled(sum, coef[j], column)
	}
	return sum
}

// fit fits every shape and every pair to the trims.
func (c *contest) fit() {
	c.gram = c.r.newGram(c.pool, c.beside, c.r.y, nil)
	c.singles = make([]*model, len(c.list))
	for i := range c.list {
		for j := range c.list[i].variants {
			m := c.meet(c.one(c.gram, &c.list[i].variants[j]))
			if m != nil && (c.singles[i] == nil || m.share > c.singles[i].share) {
				m.of, m.parts = []int{i}, []*variant{&c.list[i].variants[j]}
				c.singles[i] = m
			}
		}
	}
	c.pairs = make([]*model, len(c.list)*len(c.list))
	tally.Each(len(c.pairs), func(k int) {
		if i, j := k/len(c.list), k%len(c.list); j < i {
			c.pairs[k] = c.meet(c.two(j, i))
		}
	})
	c.pairs = slices.DeleteFunc(c.pairs, func(m *model) bool { return m == nil })
}

// two is the best of all pairs of shapes of two candidates. A bent line makes
// no pair: with another cause it may only be a line bent otherwise. Nor do two
// things that a log hides.
func (c *contest) two(i, j int) *model {
	a, b := &c.list[i], &c.list[j]
	if a.cause.is(bends) || b.cause.is(bends) || a.cause.hidden() && b.cause.hidden() {
		return nil
	}
	var best *model
	for k := range a.variants {
		for l := range b.variants {
			m := c.one(c.gram, together(&a.variants[k], &b.variants[l]))
			if m != nil && (best == nil || m.share > best.share) {
				m.of, m.parts = []int{i, j}, []*variant{&a.variants[k], &b.variants[l]}
				best = m
			}
		}
	}
	return best
}

// meet fits a model again where trims stand at a limit: such a trim is a bound,
// and a model that passes it has met it. nil where it then leaves its own bounds.
func (c *contest) meet(m *model) *model {
	for range 8 {
		if m == nil || !slices.ContainsFunc(c.r.bound, func(b float64) bool { return b != 0 }) {
			break
		}
		y := c.r.met(m.predict())
		if slices.Equal(y, m.y) {
			break
		}
		// Each round moves only the trims that the fit has passed, so a few rounds settle it.
		of, parts := m.of, m.parts
		if m = c.one(c.gram.to(y), m.shape); m != nil {
			m.of, m.parts = of, parts
		}
	}
	return m
}

// one fits one shape; nil where the rows do not determine it or it leaves its
// bounds.
func (c *contest) one(g *gram, v *variant) *model {
	m := &model{shape: v, y: g.y}
	var ok bool
	if m.coef, m.left, ok = g.fit(v.at, v.ridge); !ok {
		return nil
	}
	for j, b := range m.coef {
		if v.low != nil && !(b > v.low[j]) || v.high != nil && !(b < v.high[j]) {
			return nil
		}
	}
	// Unseen driving judges, not the fit's own residual: a shape that only follows noise
	// pays for itself here.
	for _, v := range m.left {
		m.err += v
	}
	if g.total > 0 {
		m.share = c.r.price(1-m.err/g.total, v)
	}
	return m
}

// leading is the single cause that explains most.
func (c *contest) leading() *model {
	var best *model
	for i, m := range c.singles {
		if m != nil && !c.list[i].cause.hidden() && (best == nil || m.share > best.share) {
			best = m
		}
	}
	return best
}

// causes are those of a model.
func (c *contest) causes(m *model) []Cause {
	var list []Cause
	for _, i := range m.of {
		list = append(list, c.list[i].cause)
	}
	return list
}

// has reports whether a cause is part of a model.
func (c *contest) has(m *model, cause Cause) bool { return slices.Contains(c.causes(m), cause) }

// rms is a sum of squares as a trim, %.
func (c *contest) rms(square float64) float64 {
	return math.Sqrt(max(0, square) / c.gram.weight)
}

// contrast is how many standard errors b leaves more unexplained than a, from
// the folds of the drive; NaN where they leave the same.
func contrast(a, b *model) float64 {
	var sum, square float64
	for k := range folds {
		sum += b.left[k] - a.left[k]
	}
	mean := sum / folds
	for k := range folds {
		d := b.left[k] - a.left[k] - mean
		square += float64(d * d)
	}
	return mean / math.Sqrt(square/(folds-1)/folds)
}

// counts reports whether each part of a model stands for a trim of some size, and
// for a share of what the largest part stands for.
func (c *contest) counts(m *model, least, share float64) bool {
	sizes := c.sizes(m, c.r.largest)
	return slices.Min(sizes) >= max(least, share*slices.Max(sizes))
}

// sizes measures what each part of a model predicts.
func (c *contest) sizes(m *model, measure func(part []float64) float64) []float64 {
	var sizes []float64
	coef := m.coef
	for _, p := range m.parts {
		sizes = append(sizes, measure(combined(p.columns, coef, len(c.r.y))))
		coef = coef[len(p.columns):]
	}
	return sizes
}

// leastPart is the share of the larger part's trim that the smaller part of a
// pair must stand for: less may be what the larger one's own shape misses.
const leastPart = 0.15

// pairFull is the trim, %, that each part of a pair that is named must stand for:
// more than a single cause, since a second shape follows what the first one's
// controller did not settle.
const pairFull = 2.5

// bestPair is the pair of causes that explains most, if each part is worth a
// repair; nil where it is not, for then one cause does with little beside it.
func (c *contest) bestPair() *model {
	var best *model
	for _, m := range c.pairs {
		if c.has(m, PressureReference) && c.has(m, InjectorOffset) {
			continue // an injector opens later against the pressure that the table does not know of
		}
		if !slices.ContainsFunc(c.causes(m), Cause.hidden) && (best == nil || m.share > best.share) {
			best = m
		}
	}
	if best == nil || !c.counts(best, pairFull, leastPart) {
		return nil
	}
	return best
}

// lackOfFit is the trim that a model leaves beyond what the same places differ
// from themselves, % rms.
func (c *contest) lackOfFit(m *model) float64 { return c.rms(m.err - c.r.noise) }

// pattern is the trim that a gentle surface still finds in what a model leaves,
// % rms of driving that neither fit has seen, and how surely.
func (c *contest) pattern(m *model) (rms, z float64) {
	v := &variant{columns: slices.Concat(m.shape.columns, c.r.surface()), ridge: max(m.shape.ridge, 0.01), free: 1}
	beside := make([][]span, len(v.columns))
	for i := range beside {
		v.at, beside[i] = append(v.at, i), []span{{i, len(beside)}}
	}
	with := c.one(c.r.newGram(v.columns, beside, m.y, nil), v)
	if with == nil {
		return 0, 0
	}
	return c.rms(m.err - with.err), contrast(with, m)
}

// elsewhere is how far another cause fits better than the leader where the part
// with the least air flow is left out: in standard errors, and in % rms.
func (c *contest) elsewhere(lead *model) (z, rms float64) {
	air := c.r.air()
	if air == nil {
		return 0, 0
	}
	// Idle is the lightest load and the longest stay; most of what imitates a cause lives there.
	low := quantile(air, 0.5) * 0.5
	pool := make([][]float64, len(c.pool))
	for _, m := range append(slices.Clone(c.singles), lead) {
		if m != nil {
			for _, at := range m.shape.at {
				pool[at] = c.pool[at]
			}
		}
	}
	g := c.r.newGram(pool, c.beside, lead.y, func(i int) bool { return air[i] > low })
	if g.weight < 0.3*c.gram.weight {
		return 0, 0
	}
	own := c.one(g, lead.shape)
	if own == nil {
		return 0, 0
	}
	for i, m := range c.singles {
		if m == nil || c.list[i].cause.is(bends) {
			continue
		}
		if other := c.one(g, m.shape); other != nil && contrast(other, own) > z {
			z, rms = contrast(other, own), math.Sqrt(max(0, own.err-other.err)/g.weight)
		}
	}
	return z, rms
}
