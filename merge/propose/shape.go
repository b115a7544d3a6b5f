package propose

import (
	"fmt"
	"math"

	"calsplice/interp/lsq"
	"calsplice/tables"
)

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
	return fmt.Sprintf("within the cells corrected here the trims follow 1/pulse, as an injector offset wrong by about %s ms would have them: --by fit corrects flow and offset together", tables.Signed(fit.Coef[0], 2))
}

// counts reports whether a block is evidence about pulses.
func (b *block) counts() bool { return !b.out && !math.IsNaN(b.inverse) }
