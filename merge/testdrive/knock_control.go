package testdrive

import (
	"math"

	"calsplice/interp/lookup"
)

// Knock is an engine whose knock comes from a combustion model, with the weather
// around it, what else its sensor hears, and how its controller answers.
type Knock struct {
	*Combustion
	Weather Weather
	False   FalseKnock
	Control KnockControl
	// OpenUntrimmed is a controller that applies no learned trim in open loop.
	OpenUntrimmed bool
}

// Weather is the air outside, and what heats the engine's charge beyond it.
type Weather struct {
	Ambient  float64 // degC
	Soak     float64 // K by which the intake air is heated at a standstill
	Charge   float64 // K for each kPa of manifold pressure over 70: a cooler that fails
	Coolant  float64 // degC of the thermostat
	Overheat float64 // K on the coolant in slow driving or long load: a fan or pump that fails
}

// air is the state of the weather's heat.
type air struct {
	ready                 bool
	bonnet, boost, engine float64 // K
}

// act moves the temperatures of the road one step.
func (w *Weather) act(a *air, s *roadState) {
	// Heat soaks in at a standstill and is blown away above some 20 km/h.
	slow := 1 / (1 + math.Pow(s.velocity/6, 2))
	laden := max(0, s.manifold-70)
	if !a.ready {
		a.ready, a.bonnet = true, w.Soak*slow
	}
	toward := func(v *float64, want, seconds float64) { *v = snap(*v + float64((want-*v)*step/seconds)) }
	toward(&a.bonnet, w.Soak*slow, 70)
	toward(&a.boost, w.Charge*laden, 12)
	toward(&a.engine, w.Overheat*min(1, max(slow, laden/40)), 110)
	s.intake = snap(w.Ambient + 6 + a.bonnet + a.boost)
	s.coolant = snap(w.Coolant + a.engine)
}

// FalseKnock is what a knock sensor hears that is no knock.
type FalseKnock struct {
	Lifts, Shifts float64    // share of throttle lifts and gear changes that are heard
	Tips          float64    // share of sudden throttle openings: mounts
	Degrees       float64    // usual retard for one of them
	Band          [2]float64 // r/min in which something rattles
	BandRate      float64    // times each second
	Blips         float64    // times each second, anywhere
}

// KnockControl is how a controller answers to what its sensor hears: it pulls
// fast and gives back slowly.
type KnockControl struct {
	Jump, Severity float64 // degrees for each knock, and more for each degree past the limit
	Hold           float64 // s before it gives back
	Decay          float64 // degrees a second
	Most           float64 // degrees
	Learn          float64 // share of the way to the fallback table each second, while it holds retard
	Learned        float64 // share learned before the drive
}

// KnockTruth is what really happens at a row of the log.
type KnockTruth struct {
	Need    float64 // degrees by which the calibration's table is past the limit here and now; below 0, room
	Knocked bool    // real knock was heard since the last row
}

// heard is the state of the knock sensor.
type heard struct {
	ready    bool
	since    float64 // s since the last reaction
	gear     int
	throttle [16]float64 // the last 0.3 s, %
	at       int
	quiet    float64 // s until a lift or an opening is heard again
}

// combust reads the spark table, takes off what was learned and heard, and lets
// the cylinder decide whether it knocks.
func (r *run) combust(at *lookup.Point, t float64) {
	k, n, h, e := r.k, &r.now, &r.knock, r.p.Knock
	if !h.heard.ready {
		h.heard.ready, h.heard.gear, k.blend = true, n.road.gear, e.Control.Learned
	}
	whole := r.command(at)
	lambda := min(1.3, max(0.7, r.k.banks[0].sensed))
	limit := snap(e.Limit(at.Speed, at.Manifold, n.road.intake, n.road.coolant, lambda, e.Octane))
	running := !n.road.overrun && n.pulse > 0
	// The truth is held against the whole table: what the controller has taken away
	// already is the answer to the knock, and not the absence of it.
	h.truth.Need = whole - limit
	if !running {
		h.truth.Need = -99
	}
	h.heard.since += step
	// The limit is where a knock a second is heard; it fades within half a degree.
	const soft, often = 0.25, 6.0
	rate := often * soft * math.Log1p(math.Exp(min(40, (n.spark-limit)/soft)))
	if running && h.rng.Float64() < rate*step {
		h.truth.Knocked = true
		r.pull(e.Control.Jump + float64(e.Control.Severity*max(0, n.spark-limit)))
	}
	r.rattle(at)
	r.oneEvent(at, t)
	if h.heard.since > e.Control.Hold {
		k.decay(e.Control.Decay)
	}
	k.learn(k.retard > 2 && at.Charge > 0.45*r.wide(), e.Control.Learn)
}

// pull takes advance away, once for what is heard within 0.15 s.
func (r *run) pull(degrees float64) {
	h := &r.knock.heard
	if h.since < 0.15 {
		return
	}
	h.since = 0
	r.k.retard = snap(min(r.p.Knock.Control.Most, r.k.retard+degrees))
}

// rattle is what is heard and is no knock.
func (r *run) rattle(at *lookup.Point) {
	f, h, s := &r.p.Knock.False, &r.knock.heard, r.now.road
	rng := r.knock.rng
	r.sensorNoise()
	// A ring of the last 16 steps: the oldest is about to be overwritten.
	was := h.throttle[h.at]
	h.throttle[h.at] = s.throttle
	h.at = (h.at + 1) % len(h.throttle)
	h.quiet -= step
	usual := func(share float64) {
		if h.quiet = 2; rng.Float64() < share {
			r.pull(f.Degrees * (0.6 + float64(0.8*rng.Float64())))
		}
	}
	switch {
	case s.gear != h.gear:
		h.gear = s.gear
		usual(f.Shifts)
	case h.quiet > 0:
	case was-s.throttle > 10:
		usual(f.Lifts)
	case s.throttle-was > 10:
		usual(f.Tips)
	}
	if f.Blips > 0 && rng.Float64() < f.Blips*step {
		r.pull(f.Degrees * (0.5 + rng.Float64()))
	}
	if at.Speed > f.Band[0] && at.Speed < f.Band[1] && rng.Float64() < f.BandRate*step {
		r.pull(r.p.Knock.Control.Jump + float64(0.3*f.Degrees*rng.Float64()))
	}
}
