package propose_test

import (
	"math"

	"calsplice/interp/lookup"
	"calsplice/merge/testdrive"
)

// Knock is an engine whose knock comes from a combustion model, with the weather
// around it, what else its sensor hears, and how its controller answers.
type Knock struct {
	*Combustion
	Weather Weather
	False   FalseKnock
	Control KnockControl
}

// knocking is such an engine in one drive.
type knocking struct {
	*Knock
	air   air
	heard heard
	now   KnockTruth
	truth []KnockTruth // by row of the log
}

// Row implements testdrive.Knock.
func (k *knocking) Row() {
	k.truth = append(k.truth, k.now)
	k.now.Knocked = false
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

// Heat implements testdrive.Knock: the weather's temperatures.
func (k *knocking) Heat(s *testdrive.Road) {
	w, a := &k.Weather, &k.air
	// Heat soaks in at a standstill and is blown away above some 20 km/h.
	slow := 1 / (1 + math.Pow(s.Velocity/6, 2))
	laden := max(0, s.Manifold-70)
	if !a.ready {
		a.ready, a.bonnet = true, w.Soak*slow
	}
	toward := func(v *float64, want, seconds float64) { *v = snap(*v + float64((want-*v)*testdrive.Step/seconds)) }
	toward(&a.bonnet, w.Soak*slow, 70)
	toward(&a.boost, w.Charge*laden, 12)
	toward(&a.engine, w.Overheat*min(1, max(slow, laden/40)), 110)
	s.Intake = snap(w.Ambient + 6 + a.bonnet + a.boost)
	s.Coolant = snap(w.Coolant + a.engine)
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

// Step implements testdrive.Knock. It reads the spark table, takes off what was learned and
// heard, and lets the cylinder decide whether it knocks.
func (k *knocking) Step(r *testdrive.Run, at *lookup.Point, t float64) {
	road, h := r.Road(), &k.heard
	if !h.ready {
		h.ready, h.gear = true, road.Gear
	}
	whole := r.Command(at)
	lambda := min(1.3, max(0.7, r.Lambda()))
	limit := snap(k.Limit(at.Speed, at.Manifold, road.Intake, road.Coolant, lambda, k.Octane))
	// The truth is held against the whole table: what the controller has taken away
	// already is the answer to the knock, and not the absence of it.
	k.now.Need = whole - limit
	if !r.Fires() {
		k.now.Need = -99
	}
	h.since += testdrive.Step
	// The limit is where a knock a second is heard; it fades within half a degree.
	const soft, often = 0.25, 6.0
	rate := often * soft * math.Log1p(math.Exp(min(40, (r.Spark()-limit)/soft)))
	if r.Fires() && r.Rand().Float64() < rate*testdrive.Step {
		k.now.Knocked = true
		k.pull(r, k.Control.Jump+float64(k.Control.Severity*max(0, r.Spark()-limit)))
	}
	k.rattle(r, at)
	r.OneEvent(at, t)
	if h.since > k.Control.Hold {
		r.Decay(k.Control.Decay)
	}
	r.Learn(r.Retard() > 2 && r.Laden(at, 0.45), k.Control.Learn)
}

// pull takes advance away, once for what is heard within 0.15 s.
func (k *knocking) pull(r *testdrive.Run, degrees float64) {
	if k.heard.since >= 0.15 {
		k.heard.since = 0
		r.Pull(degrees, k.Control.Most)
	}
}

// snap rounds what feeds back into the next step.
func snap(v float64) float64 { return math.Round(v*1e6) / 1e6 }

// rattle is what is heard and is no knock.
func (k *knocking) rattle(r *testdrive.Run, at *lookup.Point) {
	f, h, s, rng := &k.False, &k.heard, r.Road(), r.Rand()
	r.SensorNoise()
	// A ring of the last 16 steps: the oldest is about to be overwritten.
	was := h.throttle[h.at]
	h.throttle[h.at] = s.Throttle
	h.at = (h.at + 1) % len(h.throttle)
	h.quiet -= testdrive.Step
	usual := func(share float64) {
		if h.quiet = 2; rng.Float64() < share {
			k.pull(r, f.Degrees*(0.6+float64(0.8*rng.Float64())))
		}
	}
	switch {
	case s.Gear != h.gear:
		h.gear = s.Gear
		usual(f.Shifts)
	case h.quiet > 0:
	case was-s.Throttle > 10:
		usual(f.Lifts)
	case s.Throttle-was > 10:
		usual(f.Tips)
	}
	if f.Blips > 0 && rng.Float64() < f.Blips*testdrive.Step {
		k.pull(r, f.Degrees*(0.5+rng.Float64()))
	}
	if at.Speed > f.Band[0] && at.Speed < f.Band[1] && rng.Float64() < f.BandRate*testdrive.Step {
		k.pull(r, k.Control.Jump+float64(0.3*f.Degrees*rng.Float64()))
	}
}
