package testdrive

import (
	"cmp"
	"math"
	"math/rand/v2"

	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/tables"
)

// DriveOptions say how long, where and what is logged. The zero value is a
// warm ten-minute mixed drive at 10 Hz.
type DriveOptions struct {
	Seed          uint64
	Minutes       float64 // 10 where 0
	Hz            float64 // rows a second, up to 50; 10 where 0
	Before        float64 // minutes driven before the log begins, in which trims are learned
	Route         Route
	Control       Control
	Foot          float64 // 0 to 1: how much more often the driver asks for full throttle
	Cold          bool    // starts at 15 degC
	Purge         bool    // the tank's vapour is purged now and then
	PurgeSteady   bool    // the purge valve stands open wherever the loop is closed, and trims are learned all the same
	Vapour        float64 // fuel in g/s with the purge valve fully open; 0.15 where 0
	Drift         float64 // share by which the mixture drifts slowly, such as 0.003
	Wander        float64 // share (one standard deviation) by which the mixture wanders within some 20 s
	SteadyBattery bool    // no electrical loads are switched
	TrimLimit     float64 // per cent; 25 where 0
	OpenLoop      bool    // the loop never closes
	Wideband      bool    // log lambda of a wideband sensor
	RailSensor    bool    // log the rail pressure (gauge)
	Without       []string
	Held          float64 // s for which the logger repeats a reading, channels in turn; 0 is none
	TrimsAs       string  // "%" where empty, "factor" near 1, or "100" for per cent near 100
}

// Run is one drive under way.
type Run struct {
	p     *plant
	later *plant // takes over at a time of the log; nil for never
	k     *controller
	opt   DriveOptions
	road  *road
	noise *rand.Rand
	log   *Log

	phase  float64 // of the drift
	wander float64
	purge  float64 // %
	supply float64 // total fuel in g/s, a step ago and smoothed
	knock  knocking

	now now
}

// now is what happens in one step, for the log.
type now struct {
	road     *Road
	reading  float64 // air flow as metered or modelled, g/s
	hz       float64 // the meter's signal
	charge   float64 // as the controller believes, mg
	pulse    float64
	spark    float64
	delta    float64 // true
	lambda   float64 // wideband, bank 1
	learning bool
}

// Drive drives a plant under a controller with a calibration and returns what
// a logger would have written. It panics on a calibration that lacks what the
// controller needs: engine facts, injector flow and offset, a spark table.
func Drive(cal *tables.Calibration, plant Plant, opt DriveOptions) *Log {
	opt.Minutes, opt.Hz = cmp.Or(opt.Minutes, 10), cmp.Or(opt.Hz, 10)
	opt.TrimLimit, opt.Vapour = cmp.Or(opt.TrimLimit, 25), cmp.Or(opt.Vapour, 0.15)
	opt.Control.defaults()
	p := newPlant(plant)
	r := &Run{p: p, opt: opt, k: newController(cal, p, &opt),
		noise: rand.New(rand.NewPCG(opt.Seed, 0x5eed)), log: newLog(p, &opt)}
	// Road, sensors and knock draw from streams of their own: another road does not
	// change the noise, nor noise the road.
	r.road = newRoad(p, &r.opt, rand.New(rand.NewPCG(opt.Seed, 0x90ad)))
	r.phase = r.noise.Float64() * 2 * math.Pi
	r.knock.rng = rand.New(rand.NewPCG(opt.Seed, 0x4e0c))
	r.knock.single = opt.Minutes * 60 * (0.3 + float64(0.4*r.noise.Float64()))
	every := 1 / opt.Hz
	due := 0.0
	if plant.Later != nil {
		plant.Fault = *plant.Later
		r.later = newPlant(plant)
	}
	// Time before the log is driven like any other and not written, so that what was
	// learned in it is there at the first row.
	for n := -int(math.Round(opt.Before * 60 / step)); n < int(math.Round(opt.Minutes*60/step)); n++ {
		t := float64(n) * step
		// The part fails while the engine runs: everything that was learned stays.
		if r.later != nil && t >= plant.LaterAt*60 {
			r.p, r.road.p, r.later = r.later, r.later, nil
		}
		r.step(t)
		if t >= 0 && n%50 == 0 {
			r.visit()
		}
		if t >= 0 && t+step/2 >= due {
			r.write(t)
			due += every
		}
	}
	return r.log
}

// step is 20 ms of everything.
func (r *Run) step(t float64) {
	s := r.road.next()
	if r.p.Knock != nil {
		r.p.Knock.Heat(s)
	}
	r.now = now{road: s}
	r.k.mode(s)
	r.vapour(t, s)
	at := &lookup.Point{Speed: s.Speed, Manifold: s.Manifold, Barometer: r.p.Barometer, Battery: s.Battery}
	cylinder, perCharge := r.p.filling(at, s.Intake)
	r.meter(at, cylinder, perCharge)
	drift := 1.0
	if r.opt.Drift != 0 {
		drift = 1 + float64(r.opt.Drift*math.Sin(2*math.Pi*t/1500+r.phase))
	}
	if r.opt.Wander != 0 {
		// A random walk held to its mean, such as fuel slosh, wind and temperature leave.
		const keep = 0.999 // each step: a time constant of 20 s
		r.wander = snap(float64(r.wander*keep) + float64(r.opt.Wander*math.Sqrt(1-keep*keep)*r.noise.NormFloat64()))
		drift += r.wander
	}
	r.fuel(at, snap(cylinder*drift), perCharge)
	r.ignition(at, t)
}

// vapour opens the purge valve for a while in every two minutes of closed loop.
func (r *Run) vapour(t float64, s *Road) {
	want := 0.0
	switch {
	case r.k.status != 2:
	case r.opt.PurgeSteady, r.opt.Purge && s.Speed > 1000 && math.Mod(t, 120) > 85:
		want = 24
	}
	r.purge = snap(r.purge + clamp(want-r.purge, 12*step))
}

// meter is what the controller believes of the air: from the meter upstream,
// or from the manifold's pressure.
func (r *Run) meter(at *lookup.Point, cylinder, perCharge float64) {
	flow := float64(cylinder * perCharge)
	n := &r.now
	// No two readings of one flow are the same; an air signal is noisy by some 0.3 %.
	ripple := 1 + float64(0.003*r.noise.NormFloat64())
	if r.k.meter == nil {
		n.charge = snap(charge(r.k.efficiency, at, r.p.volume, n.road.Intake) * ripple)
		n.reading = snap(n.charge * perCharge)
		return
	}
	// The truth's meter table is how the meter answers; the controller's is how
	// it is read.
	n.hz = math.Round(r.p.meter.signalOf(snap(r.p.metered(at, flow)*ripple))*10) / 10
	n.reading = snap(max(0.1, r.k.meter.reading(n.hz)))
	n.charge = snap(n.reading / perCharge)
}

// metered is what passes the meter, and what the meter makes of it, of an air
// flow into the engine.
func (p *plant) metered(at *lookup.Point, flow float64) float64 {
	f := &p.Fault
	// Air through a leak passes no meter. A meter reads nothing below what turns it.
	metered := max(flow-float64(f.Leak*engine.Orifice(at.Manifold/at.Barometer)), 0.2)
	if f.MeterError != nil {
		metered *= 1 + f.MeterError(metered)
	}
	if f.Pulsation != 0 {
		open := clamp((at.Manifold/at.Barometer-0.8)/0.12, 1)
		metered *= 1 + float64(f.Pulsation*max(0, open)*math.Exp(-math.Pow((at.Speed-2000)/600, 2)))
	}
	return metered
}

// fuel commands a pulse for each bank, delivers it, and lets the exhaust tell.
//
// The controller computes with the pressure that should be there, the injector flows
// by the one that is; the rail sags with what is drawn from it, a tenth of a second
// late. A weak bank delivers less of the pulse that it is commanded like the other.
// Lambda 1.9 is as lean as the sensor can tell: without fuel the exhaust is air.
func (r *Run) fuel(at *lookup.Point, cylinder, perCharge float64) {
	k, n := r.k, &r.now
	k.takes(at, n.charge, n.reading)
	flow, offset := k.Flow(at), k.Offset(at)
	trueFlow, trueOffset, delta := r.p.injects(at, r.supply)
	n.delta = delta
	period := 120000 / at.Speed / k.Pulses
	base := n.charge / k.Stoich / k.lambda / k.Pulses
	if w := r.p.Fault.WarmUp; w != 0 {
		base *= 1 + warmUp(w, n.road.Coolant)
	}
	n.learning = k.status == 2 && k.closedFor > 3 && (r.purge == 0 || r.opt.PurgeSteady)
	total := 0.0
	for i := range k.banks {
		b := &k.banks[i]
		pulse := 0.0
		if !n.road.Overrun {
			pulse = min(max(snap(base*(1+k.trim(b))/flow+offset), k.MinPulse), 0.98*period)
		}
		n.pulse += pulse / float64(len(k.banks))
		fuel := trueFlow * max(0, pulse-trueOffset) * k.Pulses
		if i == 1 {
			fuel *= 1 - r.p.weaker(r.supply)
		}
		total += fuel * perCharge / float64(len(k.banks))
		lambda := 1.9
		inCylinder := b.wet(fuel) + r.purge/100*r.opt.Vapour/perCharge
		if fuel > 0 {
			lambda = min(1.9, cylinder/r.p.Stoich/max(inCylinder, 1e-9))
		}
		k.breathe(b, snap(lambda), at.Speed, n.reading)
		b.cell = k.cellAt(at.Speed, n.charge/(r.p.volume*1184))
		k.close(b, r.p.leanness(n.reading), n.learning)
	}
	n.lambda = k.banks[0].sensed
	r.supply = snap(r.supply + (total-r.supply)*step/0.1)
}

// warmUp is the share of fuel too much at a coolant temperature.
func warmUp(most, coolant float64) float64 {
	return float64(most * min(1, max(0, (80-coolant)/60)))
}

// sag is the pressure that is left of delta at a total fuel flow in g/s: a line
// takes its share, and past a pump's limit a tenth more demand brings little
// more fuel.
func (p *plant) sag(delta, fuel float64) float64 {
	f := &p.Fault
	if f.Restriction > 0 {
		delta = max(0.3*delta, delta-float64(f.Restriction*fuel*fuel))
	}
	if f.SupplyLimit <= 0 || fuel <= f.SupplyLimit {
		return delta
	}
	return delta * max(0.3, 1-float64(f.SupplySlope*(fuel/f.SupplyLimit-1)))
}

// weaker is by how much less fuel bank 2 gets at a total fuel flow in g/s.
func (p *plant) weaker(fuel float64) float64 {
	f := &p.Fault
	if f.Bank2From == 0 {
		return f.Bank2
	}
	return float64(f.Bank2 * min(1, max(0, fuel/f.Bank2From-1)))
}

// leanness is by how much leaner than it is the control's sensor takes the
// mixture at an air flow, as a share.
func (p *plant) leanness(airFlow float64) float64 {
	f := &p.Fault
	if f.ExhaustLeak == 0 {
		return f.SensorBias
	}
	return f.SensorBias + float64(f.ExhaustLeak*math.Exp(-max(0, airFlow-2)/4))
}
