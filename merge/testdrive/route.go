package testdrive

import (
	"math"
	"math/rand/v2"
)

// Route is the kind of road driven.
type Route int

const (
	Mixed    Route = iota // town, country, hills, full throttle
	Town                  // idle and low speed
	Steady                // one cruising speed, warm and level: what cannot tell causes apart
	Motorway              // flat, 90 to 130 km/h, never idle nor at full throttle
	Country               // hills and bends, few stops, no full throttle
)

// road is the driver, the vehicle and the road under it.
type road struct {
	rng   *rand.Rand
	opt   *DriveOptions
	p     *plant
	time  float64
	state Road

	phase   phase
	left    float64 // s of this phase
	want    float64 // m/s
	push    float64 // m/s², acceleration asked for
	grade   float64
	hill    float64 // s until the grade changes
	loads   int     // electrical loads that are on
	switchy float64 // s until a load is switched
	shift   float64 // s of a gear change left
	wobble  float64 // kPa
	hunting float64 // r/min
	mass    float64 // kg
	weight  float64 // N
}

type phase int

const (
	idling phase = iota
	gaining
	cruising
	slowing
	flooring
)

// Road is what the road asks of the engine now.
type Road struct {
	Velocity float64 // m/s
	Gear     int
	Speed    float64 // engine, r/min
	Manifold float64 // kPa
	Throttle float64 // %
	Battery  float64
	Coolant  float64
	Intake   float64
	Overrun  bool
	Full     bool
}

// The vehicle: a light van, from memory, no source.
const (
	step     = 0.02 // s
	drag     = 0.7  // ½·ρ·Cd·A
	rolling  = 0.013
	idle     = 820.0
	closed   = 24.0 // manifold pressure at no torque, kPa
	cutBelow = 1250.0
)

var ratios = []float64{7.2, 13.5, 20.5, 28, 36} // km/h at 1000 r/min

func newRoad(p *plant, opt *DriveOptions, rng *rand.Rand) *road {
	r := &road{rng: rng, opt: opt, p: p, loads: 1, phase: idling, left: 12, switchy: 15}
	r.state = Road{Speed: idle, Manifold: 34, Battery: 14, Coolant: 88, Intake: 30, Gear: 1}
	if opt.Cold {
		r.state.Coolant = 15
	}
	r.mass, r.weight = p.Mass, p.Mass*9.81
	// A motorway drive begins on the road as well: on the slip road the trims would
	// still be learned, and the log should show nothing but the road.
	if opt.Route == Motorway {
		r.phase, r.left, r.want, r.hill = cruising, 60, 30, 1e9
		r.state.Velocity, r.state.Gear, r.state.Speed, r.state.Manifold = 30, len(ratios), 3000, 60
	}
	if opt.Route == Steady { // the log begins on the road
		r.phase, r.left, r.want, r.grade = cruising, 600, 25, 0
		r.state.Velocity, r.state.Gear, r.state.Speed, r.state.Manifold, r.hill = 25, len(ratios), 2500, 50, 1e9
	}
	return r
}

func (r *road) between(low, high float64) float64 { return low + float64((high-low)*r.rng.Float64()) }

// next moves one step on.
func (r *road) next() *Road {
	r.time += step
	if r.left -= step; r.left <= 0 || r.arrived() {
		r.turn()
	}
	r.electrics()
	if r.hill -= step; r.hill <= 0 {
		r.grade, r.hill = 0, r.between(20, 60)
		if (r.opt.Route == Mixed || r.opt.Route == Country) && r.rng.Float64() < 0.5 {
			r.grade = r.between(-0.03, 0.05)
		}
	}
	r.wobble = snap(float64(r.wobble*0.99) + float64(0.05*r.rng.NormFloat64()))
	r.hunting = snap(float64(r.hunting*0.98) + float64(0.8*r.rng.NormFloat64()))
	r.move()
	s := &r.state
	s.Coolant = snap(s.Coolant + (88-s.Coolant)*step/120)
	warm := 26.0
	if s.Velocity < 3 {
		warm = 40
	}
	s.Intake = snap(s.Intake + (warm-s.Intake)*step/60)
	return s
}

func (r *road) arrived() bool {
	v := r.state.Velocity
	switch r.phase {
	case gaining, flooring:
		return v >= r.want
	case slowing:
		return v <= r.want
	}
	return false
}

// turn chooses what the driver does next.
func (r *road) turn() {
	kmh := func(v float64) float64 { return v / 3.6 }
	v := r.state.Velocity
	switch {
	case r.opt.Route == Steady:
		r.want, r.push = kmh(90), 1.2
		r.phase, r.left = gaining, 60
		if v >= r.want-0.5 {
			r.phase, r.left = cruising, 600
		}
	case r.opt.Route == Motorway:
		r.want, r.push, r.left = kmh(r.between(90, 130)), r.between(0.2, 0.6), r.between(20, 120)
		r.phase = cruising
	case r.phase == idling:
		r.phase, r.left, r.push = gaining, 40, r.between(0.8, 1.8)+r.opt.Foot
		r.want = kmh([]float64{32, 50, 50, 62}[r.rng.IntN(4)])
	case r.phase == gaining || r.phase == flooring:
		r.phase, r.left, r.want = cruising, r.between(15, 55), v
	case r.phase == cruising:
		r.leave(v, kmh)
	case v < 1: // slowed to a stop
		r.phase, r.left = idling, r.between(10, 32)
	default:
		r.phase, r.left, r.want = cruising, r.between(12, 40), v
	}
}

// leave chooses how a cruise ends.
func (r *road) leave(v float64, kmh func(float64) float64) {
	// One throw decides among what the road allows: a stop, a little faster, full
	// throttle, a little slower. The shares are from memory, no source.
	dice := r.rng.Float64()
	switch most := kmh(118); {
	case r.opt.Route == Country && dice < 0.25:
		r.phase, r.left, r.push = slowing, 30, r.between(0.4, 1.2)
		r.want = max(kmh(45), v-kmh(r.between(12, 40)))
	case r.opt.Route == Town || dice < 0.35 && (r.opt.Route != Country || dice > 0.32):
		r.phase, r.left, r.want, r.push = slowing, 40, 0, r.between(0.9, 2)
	case dice < 0.6 && v < most:
		r.phase, r.left, r.push = gaining, 40, r.between(0.5, 1.4)
		r.want = min(most, v+kmh(r.between(12, 40)))
	case dice < 0.75+float64(0.17*r.opt.Foot) && v < most && r.opt.Route != Country:
		r.phase, r.left = flooring, r.between(5, 14)
		r.want = v + kmh(60)
	default:
		r.phase, r.left, r.push = slowing, 30, r.between(0.4, 1.2)
		r.want = max(kmh(32), v-kmh(r.between(12, 40)))
	}
}

// electrics switches loads and lets the voltage follow. An alternator at idle
// speed does not keep up with many of them.
func (r *road) electrics() {
	if r.switchy -= step; r.switchy <= 0 {
		r.loads, r.switchy = r.rng.IntN(6), r.between(12, 50)
		if r.opt.SteadyBattery {
			r.loads = 1
		}
	}
	// Each load costs some 0.2 V, and at idle speed as much again.
	want := 14.4 - float64(0.22*float64(r.loads))
	if r.state.Speed < 1200 && !r.opt.SteadyBattery {
		want -= float64(0.28 * float64(r.loads))
	}
	r.state.Battery = snap(r.state.Battery + (want-r.state.Battery)*step/0.8)
}

// move is the vehicle and its driver: force on the road, torque of the engine,
// manifold pressure for that torque.
//
// Rolling, slope and air resist; at a standstill brakes hold the vehicle. The engine
// gives 92 N m for each litre where it breathes best, less away from that speed, and
// as the manifold's pressure at full throttle has it. Short of full throttle a driver
// leaves room: a part of the load range is met with the pedal down alone, in open
// loop.
func (r *road) move() {
	s := &r.state
	if r.shift > 0 {
		r.shift -= step
	} else {
		r.changeGear()
	}
	omega := s.Speed * math.Pi / 30
	resist := float64(r.weight*(rolling+r.grade)) + float64(drag*s.Velocity*s.Velocity)
	if s.Velocity < 0.3 {
		resist = 0
	}
	most := r.p.volume * r.p.Cylinders * 92 * (1 - math.Pow((s.Speed-3500)/6000, 2))
	full := r.p.fullThrottle(s.Speed)
	most *= (full - closed) / (r.p.Barometer - closed)
	grip := omega * 0.9 / max(s.Velocity, 2) // N at the road for each N m
	torque := (float64(r.mass*r.pull()) + resist) / grip
	s.Full = r.phase == flooring && r.shift <= 0
	ease := 0.8
	if r.p.Boost > 0 {
		ease = 0.7
	}
	if torque = min(torque, ease*most); s.Full {
		torque = most
	}
	if r.shift > 0 {
		torque = 0
	}
	// Fuel is cut where the vehicle drives the engine, as long as it can come back.
	s.Overrun = torque < -0.02*most && s.Speed > cutBelow && s.Velocity > 3
	// The engine itself brakes with an eighth of its torque; what is wanted beyond
	// that the wheels' brakes do.
	engine := max(torque, -0.12*most)
	accelerate := (float64(engine*grip) - resist) / r.mass
	if torque < engine { // brakes
		accelerate = (float64(torque*grip) - resist) / r.mass
	}
	if r.phase == idling {
		s.Velocity = max(0, s.Velocity-2*step)
	} else {
		s.Velocity = snap(max(0, s.Velocity+float64(accelerate*step)))
	}
	r.engine(engine/most, full)
}

// fullThrottle is the manifold's pressure with the throttle open, kPa.
func (p *plant) fullThrottle(speed float64) float64 {
	return p.Barometer - 2.5 + float64(p.Boost*min(1, max(0, (speed-1600)/1700)))
}

// engine lets speed, manifold and throttle follow what is asked.
func (r *road) engine(share, full float64) {
	s := &r.state
	turning := s.Velocity * 3.6 / ratios[s.Gear-1] * 1000
	want := max(turning, idle)
	// Pulling away, the engine turns faster than the gearbox.
	if turning < 1400 && share > 0.15 {
		want = max(want, 1400) // slipping the clutch
	}
	if r.phase == idling && s.Velocity < 1 {
		want = idle + r.hunting + r.swing()
	}
	s.Speed = snap(s.Speed + float64((want-s.Speed)*step/0.25))
	// Torque goes with the air in the cylinders, and that with manifold pressure above
	// what turns the engine over.
	target := closed + float64(max(0, share)*(full-closed))
	if s.Speed < 1000 && s.Velocity < 2 && share < 0.1 {
		target = 32 + float64(0.7*float64(r.loads)) - float64(r.swing()*0.02)
	}
	if s.Overrun {
		target = 19
	}
	if s.Full {
		target = full
	}
	target += r.wobble
	s.Manifold = snap(s.Manifold + (target-s.Manifold)*step/0.15)
	// The throttle that gives this pressure: small at low speed, where little air
	// passes, and never linear in it.
	opening := max(0, (s.Manifold-closed)/(full-closed))
	throttle := 3.5 + float64(72*math.Pow(opening, 1.25)*(0.35+float64(0.65*min(1, s.Speed/5000))))
	switch {
	case s.Overrun:
		throttle = 0
	case s.Full:
		throttle = 100
	}
	s.Throttle = snap(s.Throttle + (throttle-s.Throttle)*step/0.12)
}

// swing is by how much a hunting idle is off its speed now, r/min.
func (r *road) swing() float64 {
	if r.p.Fault.Hunting == 0 {
		return 0
	}
	return float64(r.p.Fault.Hunting * math.Sin(2*math.Pi*r.time/2.6))
}

// pull is the acceleration that the driver asks for.
func (r *road) pull() float64 {
	v := r.state.Velocity
	switch r.phase {
	case gaining:
		return r.push
	case flooring:
		return 6
	case slowing:
		return -r.push
	case cruising:
		return min(0.4, max(-0.4, 0.3*(r.want-v)))
	}
	return 0
}

func (r *road) changeGear() {
	s := &r.state
	up, down := 2500.0, 1350.0
	switch {
	case r.phase == flooring:
		up, down = 5600, 2600
	case r.phase == gaining:
		up = 2500 + float64(700*r.push)
	}
	gear := s.Gear
	turning := func(g int) float64 { return s.Velocity * 3.6 / ratios[g-1] * 1000 }
	switch {
	case gear < len(ratios) && turning(gear) > up:
		gear++
	case gear > 1 && turning(gear) < down && turning(gear-1) < up*0.97:
		gear--
	}
	if gear != s.Gear {
		s.Gear, r.shift = gear, 0.4
	}
}
