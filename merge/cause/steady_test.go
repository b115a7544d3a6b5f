package cause

import (
	"math"
	"math/rand/v2"

	"calsplice/interp/engine"
)

// steadyDrive is a drive of settled operating points made from the formulas
// alone: an invented 2.0 L engine, its trims what the algebra wants plus noise
// from visit to visit, a slow drift, and the steps of a logged trim.
type steadyDrive struct {
	random  *rand.Rand
	fault   Cause
	size    float64 // %, at the place where the fault is largest
	metered bool
	banks   int
	boost   bool
	minutes float64
	noise   float64 // %, from visit to visit
	drift   float64 // %, slow
	limit   float64 // %, of the trim
	rail    float64
	g       *gatherer
}

const (
	testFlow   = 3.0    // g/s an injector
	testVolume = 0.0005 // m³ a cylinder
)

func (d *steadyDrive) points() []*Point {
	d.g = newGatherer()
	t, phase := 0.0, d.random.Float64()*6
	shape := d.shape()
	for t < d.minutes*60 {
		speed, manifold := d.place()
		battery := 13.6 + 0.6*d.random.Float64()
		stay := 3 + 15*d.random.Float64()
		if speed < 900 {
			stay += 10
		}
		off := d.noise * d.random.NormFloat64()
		var trims [2]float64
		s := d.sample(speed, manifold, battery)
		for b := range trims {
			trims[b] = shape(s, b) + off + d.drift*math.Sin(t/240+phase) + 0.3*d.noise*d.random.NormFloat64()
		}
		for u := 0.0; u < stay; u += 0.2 {
			v := *s
			v.clock, v.seconds = t+u, 0.2
			v.speed *= 1 + 0.005*d.random.NormFloat64()
			v.manifold += 0.4 * d.random.NormFloat64()
			for b := range trims {
				cycle := 1.5 * math.Copysign(1, math.Sin(u*4))
				x := math.Min(math.Max(trims[b]+cycle, -d.limit), d.limit)
				v.trim[b] = math.Round(x/0.78125) * 0.78125
				v.held[b] = v.trim[b]
			}
			if d.banks == 1 {
				v.trim[1] = math.NaN()
			}
			d.g.add(&v)
		}
		t += stay + 4*d.random.Float64()
	}
	return d.g.finish()
}

func (d *steadyDrive) place() (speed, manifold float64) {
	switch x := d.random.Float64(); {
	case x < 0.2:
		return 780 + 40*d.random.Float64(), 30 + 6*d.random.Float64()
	case x < 0.8:
		return 1300 + 1700*d.random.Float64(), 32 + 45*d.random.Float64()
	}
	top := 96.0
	if d.boost {
		top = 160
	}
	return 1800 + 2800*d.random.Float64(), 60 + (top-60)*d.random.Float64()
}

func (d *steadyDrive) sample(speed, manifold, battery float64) *sample {
	charge := manifold * testVolume / (0.287 * 310) * 1e3 * (0.72 + 0.16*math.Sin(speed/2200)) // g
	air := charge * 4 * speed / 120
	p := charge * 1000 / 14.7 / testFlow
	pulse := p + 0.9 + 0.1*(14-battery)
	return &sample{speed: speed, manifold: manifold, baro: 100, air: air, fuel: air / 14.7, pulse: pulse, p: p,
		duty: pulse * speed / 1200, rail: math.NaN()}
}

// shape is the fault as trim in %, scaled to its size.
func (d *steadyDrive) shape() func(s *sample, bank int) float64 {
	sign := 1.0
	if d.random.IntN(2) == 0 {
		sign = -1
	}
	idle := d.sample(800, 32, 14)
	top := d.sample(4000, 96, 14)
	switch d.fault {
	case FlowScale:
		return func(*sample, int) float64 { return sign * d.size }
	case InjectorOffset:
		return func(s *sample, _ int) float64 { return sign * d.size * idle.p / s.p }
	case UnmeteredAir:
		return func(s *sample, _ int) float64 { return d.size * engine.Orifice(s.manifold/s.baro) * idle.air / s.air }
	case PressureReference:
		if d.random.IntN(2) == 0 {
			return func(s *sample, _ int) float64 { return 100 * hoseOff(d.rail, s.baro, s.manifold) }
		}
		return func(s *sample, _ int) float64 { return 100 * hoseOn(d.rail, s.baro, s.manifold) }
	case SupplyLimit:
		knee := top.fuel * (0.4 + 0.3*d.random.Float64())
		return func(s *sample, _ int) float64 {
			return d.size * math.Max(0, s.fuel-knee) / (top.fuel - knee)
		}
	case AirMeter:
		switch d.random.IntN(3) {
		case 0:
			return func(s *sample, _ int) float64 { return sign * d.size * s.air / top.air }
		case 1:
			return func(s *sample, _ int) float64 { return sign * d.size * (1 - 2*s.air/top.air) }
		}
		middle := top.air * (0.2 + 0.4*d.random.Float64())
		return func(s *sample, _ int) float64 {
			u := math.Log(s.air / middle)
			return sign * d.size * math.Exp(-u*u)
		}
	case VolumetricEfficiency:
		speed, pressure := 1600+1400*d.random.Float64(), 40+25*d.random.Float64()
		return func(s *sample, _ int) float64 {
			u, v := (s.speed-speed)/700, (s.manifold-pressure)/25
			return sign * d.size * math.Exp(-u*u-v*v)
		}
	case BankDifference:
		weak := d.random.IntN(2)
		return func(s *sample, b int) float64 {
			if b == weak {
				return sign * d.size
			}
			return 0
		}
	}
	return func(*sample, int) float64 { return 0 }
}

func newRandom(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 77)) }

func steadyFor(fault Cause, random *rand.Rand) *steadyDrive {
	d := &steadyDrive{random: random, fault: fault, size: 4 + 16*random.Float64(), metered: true,
		banks: 1 + random.IntN(2), boost: random.IntN(3) == 0, minutes: 8 + 17*random.Float64(),
		noise: 0.3 + 0.5*random.Float64(), drift: 0.3, limit: 25, rail: 250 + 150*random.Float64()}
	if fault == BankDifference {
		d.banks = 2
	}
	d.metered = fault != VolumetricEfficiency
	return d
}

func (d *steadyDrive) result() *Result {
	res := &Result{}
	newRows(d.points(), d.banks).rank(res, &facts{rail: d.rail, metered: d.metered, computed: !d.metered})
	return res
}
