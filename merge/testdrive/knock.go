package testdrive

import (
	"math/rand/v2"

	"calsplice/interp/lookup"
)

// knocking is what the ear of the engine hears, rightly or not.
type knocking struct {
	rng    *rand.Rand
	lifted float64 // s since the throttle was lifted from load
	was    float64 // throttle a step ago, %
	single float64 // s at which the one event comes; past it, none

	truth KnockTruth
	heard heard // with a Plant's Knock
}

// ignition reads the spark table, takes off what was learned and heard, and
// lets the engine knock where it is past its limit.
func (r *run) ignition(at *lookup.Point, t float64) {
	if r.p.Knock != nil {
		r.combust(at, t)
		return
	}
	k, n, h := r.k, &r.now, &r.knock
	table := k.spark.At(at)
	if k.fallback != nil {
		table += float64(k.blend * (min(table, k.fallback.At(at)) - table))
	}
	table -= r.p.Fault.SparkMissing
	n.spark = snap(table - k.retard)
	limit := r.p.spark.At(at) + r.p.KnockMargin - float64(r.p.Fault.OldFuel*min(1, at.Charge/(r.wide()*0.8)))
	loaded := at.Charge > 0.45*r.wide() && !n.road.overrun
	if past := n.spark - limit; past > 0 && loaded && h.rng.Float64() < 1.2*past*step {
		k.retard = min(12, k.retard+1.6+float64(0.3*past))
	}
	h.blips(r, at, t)
	hold := 0.7 // deg/s at which retard decays
	k.retard = snap(max(0, k.retard-float64(hold*step)))
	if k.fallback != nil {
		drift := -0.0005
		if k.retard > 2.5 && loaded {
			drift = 0.01
		}
		k.blend = snap(min(1, max(0, k.blend+float64(drift*step))))
	}
}

func (r *run) wide() float64 { return r.p.wide }

// blips are what is heard and is no knock: the sensor's noise now and then,
// the drive line when the throttle is lifted from load; and the one real event
// of a fault.
func (h *knocking) blips(r *run, at *lookup.Point, t float64) {
	k, throttle := r.k, r.now.road.throttle
	if h.rng.Float64() < 0.02*step {
		k.retard = max(k.retard, 0.3+float64(0.5*h.rng.Float64()))
	}
	h.lifted += step
	if h.was-throttle > 2.2 && h.lifted > 3 && at.Charge > 0.4*r.wide() {
		h.lifted = 0
		if h.rng.Float64() < 0.5 {
			k.retard = max(k.retard, 1.5+h.rng.Float64())
		}
	}
	h.was = throttle
	if big := r.p.Fault.SingleKnock; big > 0 && t > h.single && at.Charge > 0.7*r.wide() {
		k.retard, h.single = max(k.retard, big), 1e12
	}
}
