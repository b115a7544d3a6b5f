package testdrive

import (
	"math"

	"calsplice/interp/lookup"
	"calsplice/tables"
)

// Needs are the trims in per cent that an engine truly needs under a
// calibration: what no log shows, and what a correction is judged by.
type Needs struct {
	Closed []float64 // one for each second of warm closed-loop driving
	Mean   float64   // their mean size
	Full   float64   // at full throttle, the mean from 2,000 to 4,500 r/min
}

// visit is an operating point of a drive.
type visit struct {
	speed, manifold, battery, intake float64
	closed                           bool
}

func (r *Run) visit() {
	s := r.now.road
	r.log.visited = append(r.log.visited, visit{s.Speed, s.Manifold, s.Battery, s.Intake, r.k.status == 2 && s.Coolant > 70})
}

// Needed follows from the plant as it is at the end of the drive, from the
// steady state of its equations and not from the log. A lambda sensor that is
// off by the same share everywhere is taken at its word, as whoever sees trims
// alone must.
func Needed(cal *tables.Calibration, plant Plant, l *Log) Needs {
	if plant.Later != nil {
		plant.Fault = *plant.Later
	}
	p := newPlant(plant)
	opt := DriveOptions{}
	opt.Control.defaults()
	k := newController(cal, p, &opt)
	var n Needs
	for _, v := range l.visited {
		if v.closed {
			trim, size := k.needs(p, v)
			n.Closed = append(n.Closed, trim)
			n.Mean += size
		}
	}
	n.Mean /= float64(len(n.Closed))
	for speed := 2000.0; speed <= 4500; speed += 500 {
		full := p.fullThrottle(speed)
		trim, _ := k.needs(p, visit{speed: speed, manifold: full, battery: 13.8, intake: 30})
		n.Full += trim / 6
	}
	return n
}

// needs is the mean trim of the banks, in per cent, and the mean of its size.
func (k *controller) needs(p *plant, v visit) (trim, size float64) {
	at := &lookup.Point{Speed: v.speed, Manifold: v.manifold, Barometer: p.Barometer, Battery: v.battery}
	cylinder, perCharge := p.filling(at, v.intake)
	believed := charge(k.efficiency, at, p.volume, v.intake)
	if k.meter != nil {
		believed = k.meter.reading(p.meter.signalOf(p.metered(at, cylinder*perCharge))) / perCharge
	}
	k.takes(at, believed, believed*perCharge)
	// In the steady state the loop brings the sensor to lambda 1, and so the mixture to
	// 1 less what the sensor is off.
	fuel := cylinder / p.Stoich / (1 - p.Fault.SensorBias)
	flow, offset, _ := p.injects(at, fuel*perCharge)
	for bank := range p.Banks {
		share := 1.0
		if bank == 1 {
			share -= p.weaker(fuel * perCharge)
		}
		// The pulse that delivers this fuel through the true injector, against the one that
		// the controller would command without a trim.
		pulse := fuel/k.Pulses/share/flow + offset
		t := 100 * ((pulse-k.Offset(at))*k.Flow(at)/(at.Charge/k.Stoich/k.Pulses) - 1)
		trim, size = trim+t/float64(p.Banks), size+math.Abs(t)/float64(p.Banks)
	}
	return trim, size
}
