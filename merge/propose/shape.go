package propose

import (
	"fmt"
	"math"
	"slices"

	"calsplice/interp/lookup"
	"calsplice/interp/lsq"
	"calsplice/tables"
)

// shape argues which table an error belongs to: an error that is equal over
// speed and load, or follows the pressure across the injector, is flow's; one
// that follows air flow is the air meter's; one with structure in speed and
// pressure is volumetric efficiency's. Each is fitted and judged by what it
// predicts of runs that its fit has not seen.
func (d *drive) shape(target *tables.Table) []string {
	all := make([]*block, 0, len(d.blocks))
	for i := range d.blocks {
		if !d.blocks[i].out {
			all = append(all, &d.blocks[i])
		}
	}
	if len(all) < 30 {
		return nil
	}
	constant := unseen(all, nil, false)
	if math.IsNaN(constant) || constant < 0.004 {
		return nil // % of trim that nobody would look into
	}
	flow := unseen(all, func(at *lookup.Point) []float64 { return []float64{at.AirFlow} }, false)
	inverse := math.NaN()
	if !slices.ContainsFunc(all, func(b *block) bool { return math.IsNaN(b.inverse) }) {
		inverse = unseen(all, nil, true)
	}
	delta := unseen(all, func(at *lookup.Point) []float64 { return []float64{at.Delta} }, false)
	both := unseen(all, func(at *lookup.Point) []float64 { return []float64{at.Speed, at.Manifold} }, false)
	const much, more = 0.7, 0.85
	said, role := "equal over speed and load", tables.InjectorFlow
	best := constant
	for _, s := range []struct {
		v    float64
		said string
		role tables.Role
	}{{inverse, "following 1/pulse", tables.InjectorOffset}, {delta, "following the pressure across the injector", tables.InjectorFlow}, {flow, "following air flow", tables.AirMeter},
		{both, "with structure in speed and manifold pressure", tables.AirVolumetricEfficiency}} {
		least := more
		if best == constant {
			least = much
		}
		if s.v < least*best {
			said, role, best = s.said, s.role, s.v
		}
	}
	s := fmt.Sprintf("the error is %s (unexplained trim falls from %.2f to %.2f %%), which speaks for %s", said, 100*constant, 100*best, role)
	if best == constant {
		s = fmt.Sprintf("the error is %s (nothing else explains the %.2f %% that are left), which speaks for %s", said, 100*constant, role)
	}
	if role != target.Role() {
		s += fmt.Sprintf("; table %s is %s", target.ID(), target.Role())
	}
	return []string{s}
}

// unseen is the root mean square of the trim that is left when each run is
// predicted from the others by a constant, with the coordinates' surface or with
// the inverse of the pulse. NaN where a coordinate is not logged.
func unseen(all []*block, of func(at *lookup.Point) []float64, pulse bool) float64 {
	var knots [][]float64
	if of != nil {
		for k := range of(&all[0].at) {
			var v []float64
			for _, b := range all {
				v = append(v, of(&b.at)[k])
			}
			slices.Sort(v)
			if math.IsNaN(v[0]) || v[len(v)-1]-v[0] < 1e-9*math.Abs(v[0]) {
				return math.NaN()
			}
			knots = append(knots, quantilesOf(v, 0.02, 0.35, 0.7, 0.98))
		}
	}
	p := &lsq.Problem{Columns: 1}
	for _, k := range knots {
		p.Columns *= len(k)
	}
	if pulse {
		p.Columns++
	}
	for _, b := range all {
		row := []float64{1}
		for k := range knots {
			row = outer(row, hatsAt(knots[k], of(&b.at)[k]))
		}
		if pulse {
			row = append(row, b.inverse)
		}
		p.X = append(p.X, row...)
		p.Y = append(p.Y, b.trim)
		p.Weight = append(p.Weight, b.n)
		p.Cluster = append(p.Cluster, b.run)
	}
	if knots != nil {
		// A ridge towards a common value, for corners that nobody drove.
		for k := 1; k < p.Columns; k++ {
			p.Penalty = append(p.Penalty, lsq.Penalty{Columns: []int{k - 1, k}, Factors: []float64{-1, 1}, Weight: 5})
		}
	}
	fit, err := p.Solve(lsq.Options{})
	if err != nil {
		return math.NaN()
	}
	sum, n := 0.0, 0.0
	for i, v := range fit.LeftOut {
		if math.IsNaN(v) {
			continue
		}
		sum += float64(all[i].n * v * v)
		n += all[i].n
	}
	return math.Sqrt(sum / n)
}

// quantilesOf are distinct quantiles of sorted numbers.
func quantilesOf(v []float64, at ...float64) []float64 {
	var q []float64
	for _, a := range at {
		x := v[int(a*float64(len(v)-1))]
		if len(q) == 0 || x > q[len(q)-1] {
			q = append(q, x)
		}
	}
	return q
}

func hatsAt(knots []float64, v float64) []float64 {
	row := make([]float64, len(knots))
	i, w := bracket(knots, v)
	row[i] = 1 - w
	if w > 0 {
		row[i+1] = w
	}
	return row
}

func outer(a, b []float64) []float64 {
	p := make([]float64, 0, len(a)*len(b))
	for _, x := range a {
		for _, y := range b {
			p = append(p, x*y)
		}
	}
	return p
}

// pulseWarning says where the trims of the cells that are corrected follow the
// inverse of the pulse: that is an offset's shape, and no flow table mends it.
func (d *drive) pulseWarning(place *placer, list []Cell) string {
	p := &lsq.Problem{Columns: 1}
	type mean struct{ n, trim, inverse float64 }
	means := make([]mean, len(list))
	for i := range d.blocks {
		if b, cell := &d.blocks[i], place.cell(&d.blocks[i].at); cell >= 0 && b.counts() {
			m := &means[cell]
			m.n, m.trim, m.inverse = m.n+b.n, m.trim+float64(b.n*b.trim), m.inverse+float64(b.n*b.inverse)
		}
	}
	low, high := math.Inf(1), math.Inf(-1)
	for i := range d.blocks {
		b, cell := &d.blocks[i], place.cell(&d.blocks[i].at)
		if cell < 0 || !b.counts() || list[cell].Verdict != Proposed {
			continue
		}
		m := means[cell]
		v := b.inverse - m.inverse/m.n
		low, high = min(low, v), max(high, v)
		p.X = append(p.X, v)
		p.Y = append(p.Y, b.trim-m.trim/m.n)
		p.Weight = append(p.Weight, b.n)
		p.Cluster = append(p.Cluster, b.run)
	}
	if len(p.Y) < 20 {
		return ""
	}
	fit, err := p.Solve(robust)
	if err != nil || !(math.Abs(fit.Coef[0]) > 4*fit.SE[0]) || math.Abs(fit.Coef[0])*(high-low) < 0.015 {
		return ""
	}
	return fmt.Sprintf("within the cells corrected here the trims follow 1/pulse, as an injector offset wrong by about %+.2f ms would have them: --by fit corrects flow and offset together", fit.Coef[0])
}

// counts reports whether a block is evidence about pulses.
func (b *block) counts() bool { return !b.out && !math.IsNaN(b.inverse) }
