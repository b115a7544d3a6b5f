package cause

import (
	"math"
	"slices"

	"calsplice/interp/lookup"
	"calsplice/tables"
)

// choose takes the strictest samples of which there are enough, and how far a wideband sensor
// is off in those, as a share. A drive that holds one point is not helped by the little that it
// changes.
func (x *Explainer) choose() ([]*Point, float64) {
	var sets [len(x.levels)][]*Point
	var seconds [len(x.levels)]float64
	for k, g := range x.levels {
		sets[k] = g.finish()
		for _, p := range sets[k] {
			seconds[k] += p.Seconds
		}
	}
	last := len(sets) - 1
	for k := range sets[:last] {
		if x.levels[k].suffices() || seconds[k] >= enoughSeconds && (len(x.levels[k].cells) >= enoughCells || seconds[last] < 1.5*seconds[k]) {
			last = k
			break
		}
	}
	if last > 0 && len(sets[last]) > 0 {
		x.res.Cautions.Add(levelSaid[last])
	}
	return sets[last], x.levels[last].bias.Value()
}

// What a cold engine is given more fuel for, where no coolant temperature says
// when it is warm: minutes, and at most half of a log (common practice, no
// source).
const warmUp = 300.0 // s

// warm leaves out the beginning of each log that may be of a cold engine.
func (x *Explainer) warm(points []*Point) []*Point {
	if x.coolant || len(points) == 0 {
		return points
	}
	type span struct{ first, last float64 }
	of := map[int]*span{}
	for _, p := range points {
		if of[p.Log] == nil {
			of[p.Log] = &span{p.clock, p.clock}
		}
		of[p.Log].last = p.clock
	}
	x.res.Cautions.Add("no coolant temperature is logged: the first minutes of each log are left out, for a cold engine is given more fuel")
	return slices.DeleteFunc(points, func(p *Point) bool {
		s := of[p.Log]
		return p.clock-s.first < min(warmUp, (s.last-s.first)/2)
	})
}

// fitted keeps the banks whose trims are alive and the points that have them.
func (x *Explainer) fitted(points []*Point) ([]*Point, int, error) {
	var live [2]bool
	var seen [2]int
	for _, p := range points {
		for b, t := range p.Trim {
			if t == t {
				seen[b]++
				live[b] = live[b] || t != 0
			}
		}
	}
	if !live[0] && !live[1] {
		return nil, 0, &tables.Fault{File: x.res.Logs[0].Name,
			What: "every fuel trim is 0 in closed loop: nothing was corrected, or these columns are not the controller's trims"}
	}
	// A bank whose trim is hardly read, or never leaves 0, is one that the engine lacks.
	for bank := range 2 {
		other := 1 - bank
		if seen[other]*2 >= seen[bank] && live[other] {
			continue
		}
		if seen[other] > 0 && !live[other] {
			x.res.Cautions.Addf("bank %d's trim is always 0: treated as an engine without that bank", other+1)
		}
		return only(points, bank), 1, nil
	}
	both := slices.DeleteFunc(points, func(p *Point) bool { return p.Trim[0] != p.Trim[0] || p.Trim[1] != p.Trim[1] })
	return both, 2, nil
}

// whole leaves out the points that lack a quantity which most of them have, and
// takes a quantity that few have from all, so that every cause is judged by the
// same points.
func whole(points []*Point) []*Point {
	for _, of := range []func(p *Point) *float64{
		func(p *Point) *float64 { return &p.Manifold }, func(p *Point) *float64 { return &p.AirFlow },
		func(p *Point) *float64 { return &p.FuelFlow }, func(p *Point) *float64 { return &p.Inverse },
		func(p *Point) *float64 { return &p.Rail },
	} {
		missing := func(p *Point) bool { return math.IsNaN(*of(p)) || math.IsInf(*of(p), 0) }
		n := 0
		for _, p := range points {
			if missing(p) {
				n++
			}
		}
		switch {
		case 3*n < len(points):
			points = slices.DeleteFunc(points, missing)
		case n > 0:
			for _, p := range points {
				*of(p) = math.NaN()
			}
		}
	}
	return points
}

// only makes points of one bank, which is the first from here on: what follows knows one
// bank or two, and not which one is missing.
func only(points []*Point, bank int) []*Point {
	points = slices.DeleteFunc(points, func(p *Point) bool { return p.Trim[bank] != p.Trim[bank] })
	for _, p := range points {
		p.Trim = [2]float64{p.Trim[bank], math.NaN()}
		p.AtLimit = [2]float64{p.AtLimit[bank], 0}
	}
	return points
}

// estimateManifold stands in for a manifold pressure that no log has: the
// barometer times the share that a cylinder's air has of what it takes at full
// load, which is the most that the drive shows, or what the displacement takes.
func (x *Explainer) estimateManifold(points []*Point) {
	e := x.e
	var charges []float64
	for _, p := range points {
		if p.Manifold == p.Manifold || !(p.AirFlow/p.Speed > 0) {
			return
		}
		charges = append(charges, p.AirFlow/p.Speed)
	}
	full := quantile(charges, 0.99) // not the most: one reading may be wild
	if e.Volume > 0 {
		const density, filling = 1.15, 0.85 // g/L of intake air, share; from memory, no source
		full = max(full, density*filling*e.Volume/30/e.Strokes)
	}
	for i, p := range points {
		p.Manifold = p.Barometer * charges[i] / full
		measured := lookup.Rail{Pressure: p.railPressure, RelativeTo: e.Rail.RelativeTo}
		p.Rail = measured.Delta(p.Manifold, p.Barometer)/e.Rail.Delta(p.Manifold, p.Barometer) - 1 // NaN where none was measured
	}
	x.res.Cautions.Add("no manifold pressure is logged: it is estimated from the air that a cylinder takes, which blurs unmetered-air and pressure-reference")
}
