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
	r.command(at)
	// Old fuel costs margin with the charge: at idle no fuel knocks.
	limit := r.p.spark.At(at) + margin - float64(r.p.Fault.OldFuel*min(1, at.Charge/(r.wide()*0.8)))
	loaded := at.Charge > 0.45*r.wide() && !n.road.overrun
	// Knock is a matter of chance: the further past the limit, the more often in a
	// second, and the harder each time.
	if past := n.spark - limit; past > 0 && loaded && h.rng.Float64() < 1.2*past*step {
		k.retard = min(12, k.retard+1.6+float64(0.3*past))
	}
	r.sensorNoise()
	r.lifts(at)
	r.oneEvent(at, t)
	k.decay(0.7)
	k.learn(k.retard > 2.5 && loaded, 0.01)
}

// margin is the degrees between the true spark table and knock, where no
// combustion model says.
const margin = 3.0

func (r *run) wide() float64 { return r.p.wide }

// command reads the spark table as the controller does, with what was learned
// and what is heard taken off, and returns what the table says whole.
func (r *run) command(at *lookup.Point) (table float64) {
	k := r.k
	table = k.spark.At(at)
	spark := table
	if k.fallback != nil {
		spark += float64(k.blend * (min(spark, k.fallback.At(at)) - spark))
	}
	r.now.spark = snap(spark - r.p.Fault.SparkMissing - k.retard)
	return table
}

// decay gives back advance at so many degrees a second.
func (k *controller) decay(rate float64) { k.retard = snap(max(0, k.retard-float64(rate*step))) }

// learn moves the controller towards its fallback table while it holds retard,
// and slowly back.
func (k *controller) learn(holds bool, rate float64) {
	if k.fallback == nil {
		return
	}
	if !holds {
		rate = -0.0005
	}
	k.blend = snap(min(1, max(0, k.blend+float64(rate*step))))
}

// sensorNoise is what any knock sensor hears of nothing, once in 50 s.
func (r *run) sensorNoise() {
	if rng := r.knock.rng; rng.Float64() < 0.02*step {
		r.k.retard = max(r.k.retard, 0.3+float64(0.5*rng.Float64()))
	}
}

// oneEvent is the one real event of a fault, at high load.
func (r *run) oneEvent(at *lookup.Point, t float64) {
	if big := r.p.Fault.SingleKnock; big > 0 && t > r.knock.single && at.Charge > 0.7*r.wide() {
		r.k.retard, r.knock.single = max(r.k.retard, big), 1e12
	}
}

// lifts are the drive line, which sounds like knock when the throttle is lifted
// from load.
func (r *run) lifts(at *lookup.Point) {
	h, throttle := &r.knock, r.now.road.throttle
	h.lifted += step
	if h.was-throttle > 2.2 && h.lifted > 3 && at.Charge > 0.4*r.wide() {
		h.lifted = 0
		if h.rng.Float64() < 0.5 {
			r.k.retard = max(r.k.retard, 1.5+h.rng.Float64())
		}
	}
	h.was = throttle
}
