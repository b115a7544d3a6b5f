package cause

import (
	"cmp"
	"math"
	"slices"

	"calsplice/tables"
)

// wideband takes what a wideband sensor says of a sample: in open loop, the
// mixture's error stands for the trim that the loop would have needed; in closed
// loop, where the mixture is right by definition, the sensor's own error shows.
func (x *Explainer) wideband(s *sample, mode rejected, lambda, commanded, mixture float64) {
	if !(lambda > 0.6 && lambda < 1.6 && commanded > 0.4) || math.IsNaN(mixture) {
		return // cut, misfire, or a sensor that is not warm
	}
	if mode == openLoop && s.unapplied {
		// A learned trim that is logged and not applied is no part of the mixture.
		mixture = ((1+mixture/100)/(1+meanOf(s.trim)/100) - 1) * 100
	}
	s.mixture = mixture
	if mode != openLoop {
		x.bias.add(lambda/commanded - 1)
		return
	}
	o := *s
	o.trim, o.held = [2]float64{mixture, mixture}, [2]float64{}
	x.open.add(&o)
}

// worstBias is how far a wideband sensor may differ from the closed loop's own
// and still be believed where the loop is open.
const worstBias = 0.04

// withOpen adds the open-loop points that a wideband sensor gives, less the
// sensor's error, and lets it speak where a trim stands at its limit.
func (x *Explainer) withOpen(points []*Point, banks int) []*Point {
	bias := x.bias.value()
	open := x.open.finish()
	switch {
	case bias != bias:
		return points
	case math.Abs(bias) > worstBias:
		x.caution("the wideband sensor reads %s %% against the closed loop: it is not used", tables.Signed(100*bias, 1))
		return points
	}
	right := func(mixture float64) float64 { return ((1+mixture/100)/(1+bias) - 1) * 100 }
	if banks == 1 {
		for _, p := range points {
			if p.AtLimit[0] > atLimit && p.mixture == p.mixture {
				p.Trim[0], p.AtLimit[0] = right(p.mixture), 0
			}
		}
	}
	seconds, cells := 0.0, 0
	for _, p := range points {
		cells = max(cells, p.cell+1)
	}
	for _, p := range open {
		p.Open, p.cell = true, p.cell+cells
		seconds += p.Seconds
		for b := range p.Trim {
			p.Trim[b], p.AtLimit[b] = right(p.Trim[b]), 0
			if b >= banks {
				p.Trim[b] = math.NaN()
			}
		}
	}
	if len(open) == 0 {
		return points
	}
	x.caution("%.0f s of open loop are evidence by the wideband sensor, which reads %s %% against the closed loop", seconds, tables.Signed(100*bias, 1))
	points = append(points, open...)
	slices.SortStableFunc(points, func(a, b *Point) int { return cmp.Compare(a.clock, b.clock) })
	return points
}
