package testdrive

import (
	"math/rand/v2"

	"calsplice/interp/lookup"
)

// Knock is an engine's own way to knock, in one drive: when a cylinder knocks, what else is
// heard, and how the controller answers.
type Knock interface {
	Heat(s *Road)                             // moves the temperatures of the road one step
	Step(r *Run, at *lookup.Point, t float64) // commands spark and takes advance away
	Row()                                     // a row of the log is written
}

// knocking is what the ear of the engine hears, rightly or not.
type knocking struct {
	rng    *rand.Rand
	lifted float64 // s since the throttle was lifted from load
	was    float64 // throttle a step ago, %
	single float64 // s at which the one event comes; past it, none
}

// ignition reads the spark table, takes off what was learned and heard, and
// lets the engine knock where it is past its limit.
func (r *Run) ignition(at *lookup.Point, t float64) {
	if r.p.Knock != nil {
		r.p.Knock.Step(r, at, t)
		return
	}
	k, n, h := r.k, &r.now, &r.knock
	r.Command(at)
	// Old fuel costs margin with the charge: at idle no fuel knocks.
	limit := r.p.spark.At(at) + margin - float64(r.p.Fault.OldFuel*min(1, at.Charge/(r.wide()*0.8)))
	loaded := at.Charge > 0.45*r.wide() && !n.road.Overrun
	// Knock is a matter of chance: the further past the limit, the more often in a
	// second, and the harder each time.
	if past := n.spark - limit; past > 0 && loaded && h.rng.Float64() < 1.2*past*step {
		k.retard = min(12, k.retard+1.6+float64(0.3*past))
	}
	r.SensorNoise()
	r.lifts(at)
	r.OneEvent(at, t)
	r.Decay(0.7)
	r.Learn(k.retard > 2.5 && loaded, 0.01)
}

// margin is the degrees between the true spark table and knock, where no [Knock]
// says.
const margin = 3.0

func (r *Run) wide() float64 { return r.p.wide }

// What a way to knock may ask of the step under way, and do in it.

// Step is the time from one step to the next, in s.
const Step = step

// Road is where the vehicle is.
func (r *Run) Road() *Road { return r.now.road }

// Rand draws for all that knocks or sounds like it.
func (r *Run) Rand() *rand.Rand { return r.knock.rng }

// Spark is the advance commanded, in deg.
func (r *Run) Spark() float64 { return r.now.spark }

// Retard is the advance that is taken away because of knock, in deg.
func (r *Run) Retard() float64 { return r.k.retard }

// Lambda is the mixture at bank 1's sensor.
func (r *Run) Lambda() float64 { return r.k.banks[0].sensed }

// Fires reports whether fuel is injected.
func (r *Run) Fires() bool { return !r.now.road.Overrun && r.now.pulse > 0 }

// Laden reports whether the cylinders hold more than a share of a full charge.
func (r *Run) Laden(at *lookup.Point, share float64) bool { return at.Charge > share*r.wide() }

// Pull takes advance away, up to so many degrees.
func (r *Run) Pull(degrees, most float64) { r.k.retard = snap(min(most, r.k.retard+degrees)) }

// Command reads the spark table as the controller does, with what was learned
// and what is heard taken off, and returns what the table says whole.
func (r *Run) Command(at *lookup.Point) (table float64) {
	k := r.k
	table = k.spark.At(at)
	spark := table
	if k.fallback != nil {
		spark += float64(k.blend * (min(spark, k.fallback.At(at)) - spark))
	}
	r.now.spark = snap(spark - r.p.Fault.SparkMissing - k.retard)
	return table
}

// Decay gives back advance at so many degrees a second.
func (r *Run) Decay(rate float64) { r.k.retard = snap(max(0, r.k.retard-float64(rate*step))) }

// Learn moves the controller towards its fallback table while it holds retard,
// and slowly back.
func (r *Run) Learn(holds bool, rate float64) {
	k := r.k
	if k.fallback == nil {
		return
	}
	if !holds {
		rate = -0.0005
	}
	k.blend = snap(min(1, max(0, k.blend+float64(rate*step))))
}

// SensorNoise is what any knock sensor hears of nothing, once in 50 s.
func (r *Run) SensorNoise() {
	if rng := r.knock.rng; rng.Float64() < 0.02*step {
		r.k.retard = max(r.k.retard, 0.3+float64(0.5*rng.Float64()))
	}
}

// OneEvent is the one real event of a fault, at high load.
func (r *Run) OneEvent(at *lookup.Point, t float64) {
	if big := r.p.Fault.SingleKnock; big > 0 && t > r.knock.single && at.Charge > 0.7*r.wide() {
		r.k.retard, r.knock.single = max(r.k.retard, big), 1e12
	}
}

// lifts are the drive line, which sounds like knock when the throttle is lifted
// from load.
func (r *Run) lifts(at *lookup.Point) {
	h, throttle := &r.knock, r.now.road.Throttle
	h.lifted += step
	if h.was-throttle > 2.2 && h.lifted > 3 && at.Charge > 0.4*r.wide() {
		h.lifted = 0
		if h.rng.Float64() < 0.5 {
			r.k.retard = max(r.k.retard, 1.5+h.rng.Float64())
		}
	}
	h.was = throttle
}
