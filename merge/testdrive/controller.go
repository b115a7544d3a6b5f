package testdrive

import (
	"cmp"
	"math"
	"sort"

	"calsplice/tables"
)

// quantum is one step of a fuel trim in the log, in per cent (SAE J1979:
// A·100/128 − 100).
const quantum = 0.78125

// Control says how the fuel control works. The zero value is a switching
// sensor, a ramp of 2.5 % a second that jumps by 0.8 % each way, and a long trim
// that is learned in 16 cells within 15 s.
type Control struct {
	Ramp, Jump float64 // share a second, share
	Delay      float64 // s between cylinder and sensor, on top of the engine's and the exhaust's
	Linear     bool    // a wide-range sensor: the trim follows the error without cycling
	Grid       int     // cells each way in which the long trim is learned: 1, 4 or 8; 4 where 0
	Learn      float64 // s, time constant of learning; 15 where 0
	NoLong     bool    // nothing is learned
	Untrimmed  bool    // no learned trim is applied in open loop
	Blend      float64 // share of the way to the fallback table, learned before the drive
}

func (c *Control) defaults() {
	c.Ramp, c.Jump = cmp.Or(c.Ramp, 0.025), cmp.Or(c.Jump, 0.008)
	c.Learn, c.Grid = cmp.Or(c.Learn, 15), cmp.Or(c.Grid, 4)
}

// learnt are the edges between cells of the long trim: engine speed in r/min,
// and load as a share of the charge at atmospheric pressure.
var learnt = map[int]struct{ speed, load []float64 }{
	1: {},
	4: {[]float64{1100, 1900, 2700}, []float64{0.25, 0.42, 0.62}},
	8: {[]float64{900, 1200, 1600, 2000, 2400, 2900, 3600}, []float64{0.2, 0.28, 0.36, 0.45, 0.55, 0.68, 0.85}},
}

// controller is the engine controller with its own idea of the engine.
type controller struct {
	parts
	volume    float64 // L a cylinder
	limit     float64 // of each trim, share
	control   Control
	banks     []bank
	closedFor float64 // s since the loop closed
	open      bool    // for good
	sinceCut  float64 // s since fuel came back
	lambda    float64 // commanded
	status    int     // fuel system status, SAE J1979
	retard    float64
	blend     float64 // towards the fallback table, 0 to 1
}

// bank is the fuel control of one bank: what it has learned, and the exhaust
// between its injectors and its sensor.
type bank struct {
	ramp  float64 // short trim without its jump
	short float64
	long  []float64 // by learned cell
	cell  int
	lean  bool

	film    float64 // fuel on the port's wall, mg
	exhaust [256]float64
	head    int
	sensed  float64 // lambda at the sensor
}

func newController(c *tables.Calibration, p *plant, opt *DriveOptions) *controller {
	k := &controller{parts: newParts(c), volume: p.volume, limit: opt.TrimLimit / 100, lambda: 1, open: opt.OpenLoop, control: opt.Control, blend: opt.Control.Blend,
		banks: make([]bank, p.Banks)}
	k.efficiency = cmp.Or(k.efficiency, p.efficiency)
	for i := range k.banks {
		b := &k.banks[i]
		b.sensed = 1
		b.long = make([]float64, k.control.Grid*k.control.Grid)
		for j := range b.exhaust {
			b.exhaust[j] = 1
		}
	}
	return k
}

// mode decides what the fuel system does: cut, open loop or closed.
func (k *controller) mode(s *Road) {
	k.sinceCut += step
	k.lambda = 1
	was := k.status
	switch {
	case s.Overrun:
		k.status, k.sinceCut = 4, 0
	case s.Coolant < 45:
		k.status, k.lambda = 1, snap(1-min(0.1, 0.003*(45-s.Coolant)))
	case s.Throttle > 72:
		k.status, k.lambda = 4, 0.86
	case k.sinceCut < 0.8 || k.open:
		k.status = 4
	default:
		k.status = 2
	}
	if k.status == 2 {
		k.closedFor += step
	} else {
		k.closedFor = 0
	}
	// Leaving closed loop, a controller forgets the short trim and keeps the long one.
	if was == 2 && k.status != 2 {
		for i := range k.banks {
			k.banks[i].ramp, k.banks[i].short = 0, 0
		}
	}
}

// trim is a bank's trim at an operating point, as a share.
func (k *controller) trim(b *bank) float64 {
	if k.control.Untrimmed && k.status == 4 {
		return 0
	}
	return float64((1+b.short)*(1+b.long[b.cell])) - 1
}

// close moves a bank's trims one step: the short one ramps against the sensor
// and jumps when it switches, the long one takes over the short one's mean
// where the engine stays in one cell. The sensor takes the mixture for leaner
// than it is by a share.
func (k *controller) close(b *bank, leaner float64, learning bool) {
	if k.status != 2 {
		return
	}
	jump := k.ramp(b, b.sensed+leaner)
	long := &b.long[b.cell]
	if learning && !k.control.NoLong {
		// What the long trim gains the short one loses, so that the fuel does not change
		// while it is learned.
		moved := b.ramp * step / k.control.Learn
		*long = clamp(*long+moved, k.limit)
		b.ramp -= moved
	}
	b.ramp = clamp(snap(b.ramp), k.limit)
	*long = snap(*long)
	b.short = clamp(snap(b.ramp+jump), k.limit)
}

// ramp moves a bank's ramp one step and returns what the short trim jumps or
// leans by on top of it.
func (k *controller) ramp(b *bank, sensed float64) float64 {
	if k.control.Linear {
		const slow = 3.0 // s, of the integrator: many times the transport delay
		// A wide-range sensor gives the size of the error, so that the trim may follow it
		// without the search of a switching one.
		off := clamp(sensed-1, 0.1)
		b.ramp += off * step / (slow + float64(3*k.control.Delay))
		return float64(0.1 * off)
	}
	const width = 0.002 // of the sensor's switching, share of lambda
	switch {
	case sensed > 1+width:
		b.lean = true
	case sensed < 1-width:
		b.lean = false
	}
	sign := -1.0
	if b.lean {
		sign = 1
	}
	b.ramp += float64(sign * k.control.Ramp * step)
	return float64(sign * k.control.Jump)
}

func (k *controller) cellAt(speed, load float64) int {
	edges := learnt[k.control.Grid]
	return cellOf(edges.speed, speed)*k.control.Grid + cellOf(edges.load, load)
}

func cellOf(edges []float64, v float64) int {
	return sort.Search(len(edges), func(i int) bool { return v < edges[i] })
}

func clamp(v, limit float64) float64 { return min(max(v, -limit), limit) }

// breathe passes a bank's mixture down the exhaust: engine cycles (3
// revolutions), transport with the gas flow, then the sensor's lag.
func (k *controller) breathe(b *bank, lambda, speed, airFlow float64) {
	b.exhaust[b.head] = lambda
	// Three revolutions between injection and exhaust valve, then the way to the
	// sensor, which the gas takes faster the more of it there is.
	delay := 180/max(speed, 300) + 0.9/max(airFlow, 0.5) + k.control.Delay
	back := min(int(math.Round(delay/step)), len(b.exhaust)-1)
	late := b.exhaust[(b.head-back+len(b.exhaust))%len(b.exhaust)]
	b.head = (b.head + 1) % len(b.exhaust)
	b.sensed = snap(b.sensed + (late-b.sensed)*step/0.08)
}

// wet is the fuel that reaches the cylinders of what is injected: a share
// lands on the wall and follows later.
func (b *bank) wet(injected float64) float64 {
	const share, time = 0.12, 0.25
	// A model of one film: it gains a share of each injection and loses a share of
	// itself in each step, so that nothing is lost in the long run.
	off := float64(b.film * step / time)
	b.film = snap(b.film + float64(share*injected*step/time) - off)
	return float64(injected*(1-share)) + off*time/step
}
