package cause

import (
	"cmp"
	"math"
	"slices"

	"calsplice/interp/drive"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/unit"
)

// rejected says why an instant is no evidence for its own reasons.
type rejected int

const (
	fit rejected = iota
	openLoop
	enriched
	noTrim
	standing
	shortPulse
	underOffset // is not counted: settled it is a fault
)

// rejections name them, in the order in which they are reported.
var rejections = [...]string{"", "open loop", "commanded enrichment", "no trim read", "engine not running",
	"at the minimum pulse or where flow is not linear", "pulse not above the offset"}

func (r rejected) String() string { return rejections[r] }

// deriver computes a sample from what the log gives, and knows how.
type deriver struct {
	e *vehicle
	// Which quantities come from where; set once for each log.
	pulseFrom, airFrom source
	noManifold         bool
	noBarometer        bool
	noBattery          bool
	railLogged         bool
	purgeLogged        bool

	at, sensed lookup.Point // of the sample under way
	trim       float64      // its factor
}

// source is where a quantity comes from.
type source int

const (
	nowhere source = iota
	logged
	fromCharge   // air from the air a cylinder takes and the speed
	fromFuel     // air from the fuel that the pulses command
	fromAir      // pulse from the fuel that the air wants
	fromPressure // air from manifold pressure and speed, to a factor
)

// nan stands in for what is not known.
func nan(v, otherwise float64) float64 {
	if v != v {
		return otherwise
	}
	return v
}

// admit derives what decides by itself whether an instant is evidence.
func (d *deriver) admit(v *drive.Instant, s *sample) rejected {
	if !(v[drive.Speed] > 0) {
		return standing
	}
	s.trim = [2]float64{v[drive.Trim1], v[drive.Trim2]}
	if s.trim[0] != s.trim[0] && s.trim[1] != s.trim[1] {
		return noTrim
	}
	e := d.e
	s.speed, s.manifold, s.baro = v[drive.Speed], v[drive.Manifold], nan(v[drive.Barometer], unit.Atmosphere)
	s.pulse, s.p, s.mixture, s.bias = v[drive.Pulse], math.NaN(), math.NaN(), math.NaN()
	d.trim = 1 + meanOf(s.trim[0], s.trim[1])/100
	v.Place(&d.at)
	d.at.Battery, d.at.Pulse, d.at.Delta = nan(v[drive.Battery], 14), 0, e.Rail.Delta(v[drive.Manifold], s.baro)
	if d.pulseFrom == logged {
		s.offset = e.Offset(&d.at)
		s.p = (v[drive.Pulse] - s.offset) / d.trim
		switch {
		case s.p <= 0:
			return underOffset
		case v[drive.Pulse] <= e.MinPulse*1.01 || s.p < e.LinearFrom:
			return shortPulse
		}
	}
	return fit
}

// derive derives what the causes need of the instant that was admitted.
func (d *deriver) derive(v *drive.Instant, s *sample) {
	e, at := d.e, &d.at
	s.rail, s.railPressure = math.NaN(), v[drive.Rail]
	if v[drive.Rail] == v[drive.Rail] {
		s.rail = (lookup.Rail{Pressure: v[drive.Rail], RelativeTo: e.Rail.RelativeTo}).Delta(v[drive.Manifold], s.baro)/at.Delta - 1
	}
	perMS := e.Flow(at) // g/s at this pressure; without a table pulses are known to a factor
	flow := perMS
	if !(flow > 0) {
		flow = 1
	}
	cycles := e.Cycles(v[drive.Speed]) // a second
	s.duty = v[drive.Pulse] / e.Period(v[drive.Speed]) * 100
	d.air(s, v, cycles)
	// Without a count of injectors fuel is known to a factor, which no shape sees.
	each := math.Max(e.Injectors, 1) * e.Pulses * cycles / 1000 // injections in a ms
	d.fuel(s, nan(v[drive.Commanded], 1), float64(flow*each))
	s.foreign = d.replay(v, s, perMS, float64(s.fuel/each*d.trim))
	// Which of the two the pulse is nearer to tells whether a learned trim was applied.
	if d.replays() {
		base, pulse := s.fuel/each/flow, v[drive.Pulse]-s.offset
		s.unapplied = math.Abs(pulse-base) < math.Abs(pulse-float64(base*d.trim))
	}
}

// fuel sets the fuel of all injectors in g/s, as commanded without the trim, and
// what follows from it; flow is of all injectors, g/s in a ms of effective pulse.
func (d *deriver) fuel(s *sample, lambda, flow float64) {
	if !(lambda > 0.4) {
		lambda = 1 // a column that the controller never fills
	}
	switch d.airFrom {
	case fromFuel:
		s.fuel = float64(s.p * flow)
		s.air = s.fuel * d.e.Stoich * lambda
	case nowhere:
		s.fuel = float64(s.p * flow)
	default:
		s.fuel = s.air / d.e.Stoich / lambda
	}
	if d.pulseFrom == fromAir {
		s.p = s.fuel / flow
	}
}

// replays reports whether the pulse that the calibration commands can be computed
// from the logged air.
func (d *deriver) replays() bool {
	return d.pulseFrom == logged && (d.airFrom == logged || d.airFrom == fromCharge) && d.e.FlowTable != nil && d.e.StoichGiven && d.e.Injectors > 0
}

// How far a pulse may be from what the calibration commands at the logged air:
// 4 %, with 0.03 ms for rounding, as merge/propose has it.
const (
	pulseShare = 0.04
	pulseRound = 0.03
)

// replay reports whether this calibration would have commanded another pulse for
// mg of fuel: 1 or 0. NaN where the log or the calibration does not say: where
// the air itself is computed from a table, that is in question.
func (d *deriver) replay(v *drive.Instant, s *sample, perMS, mg float64) float64 {
	if !d.replays() || d.e.efficiency && !d.e.meter {
		return math.NaN()
	}
	commands := func(perMS float64) bool {
		return math.Abs(v[drive.Pulse]-s.offset-mg/perMS) <= float64(pulseShare*v[drive.Pulse])+pulseRound
	}
	if commands(perMS) {
		return 0
	}
	if s.rail == s.rail { // a controller may trust a sensor at the rail, and not the nominal pressure
		d.sensed = d.at
		if d.sensed.Delta *= 1 + s.rail; commands(d.e.Flow(&d.sensed)) {
			return 0
		}
	}
	return 1
}

// air sets the metered air flow in g/s.
func (d *deriver) air(s *sample, v *drive.Instant, cycles float64) {
	s.air = math.NaN()
	switch d.airFrom {
	case logged:
		s.air = v[drive.AirFlow]
	case fromCharge:
		s.air = v[drive.Charge] * math.Max(d.e.Cylinders, 1) * cycles / 1000
	case fromPressure:
		// Air at 300 K and a volumetric efficiency of 0.8: a factor that no shape sees.
		s.air = 0.8 * v[drive.Manifold] * math.Max(d.e.Volume, 1) * cycles / (0.28705 * 300)
	}
	if !(s.air > 0) {
		s.air = math.NaN()
	}
}

// meanOf is the trim of the engine: of both banks, or of the one that has one.
func meanOf(one, two float64) float64 {
	switch {
	case one != one:
		return two
	case two != two:
		return one
	}
	return (one + two) / 2
}

// plan decides where each quantity comes from, in a log that has some channels
// as columns of its own.
func (d *deriver) plan(has func(string) bool) {
	e := d.e
	d.noManifold, d.noBarometer, d.noBattery = !has("manifold_pressure"), !has("barometric_pressure"), !has("battery")
	d.railLogged, d.purgeLogged = has("rail_pressure"), has("purge")
	needsBattery := e.OffsetTable != nil && slices.Contains(e.OffsetTable.Quantities(), tables.BatteryVoltage)
	if has("pulse_width") && e.OffsetTable != nil && (!needsBattery || !d.noBattery) {
		d.pulseFrom = logged
	}
	switch {
	case has("air_flow"):
		d.airFrom = logged
	case has("air_charge"):
		d.airFrom = fromCharge
	case d.pulseFrom == logged && e.FlowTable != nil:
		d.airFrom = fromFuel
	case !d.noManifold:
		d.airFrom = fromPressure
	}
	if d.pulseFrom == nowhere && d.airFrom != nowhere {
		d.pulseFrom = fromAir
	}
}

// facts are what the candidates need to know of the calibration and the log.
func (d *deriver) facts() *facts {
	e := d.e
	f := &facts{rail: e.gauge(), nominal: e.Rail.Pressure, railGiven: e.RailGiven, follows: e.Rail.RelativeTo == "manifold",
		metered: e.meter || !e.efficiency && d.airFrom == logged, computed: e.efficiency && !e.meter}
	f.railLogged, f.purge = d.railLogged, d.purgeLogged
	f.relative = d.pulseFrom == fromAir && (e.FlowTable == nil || e.Injectors == 0 || d.airFrom == fromPressure)
	return f
}

// notes are what the derivation assumed for want of channels.
func (d *deriver) notes() []string {
	var s []string
	if d.noBarometer && !d.noManifold {
		s = append(s, "no barometric pressure is logged, 101.325 kPa is assumed")
	}
	switch d.airFrom {
	case fromCharge:
		s = append(s, "no air flow is logged: it is taken from air charge × speed")
	case fromFuel:
		s = append(s, "no air flow is logged: it is taken from the fuel that the pulses command")
	case fromPressure:
		s = append(s, "no air flow is logged: manifold pressure × speed stands for it, to a factor")
	}
	if d.pulseFrom == fromAir {
		s = append(s, "the effective pulse is derived from air flow, since pulse width, battery voltage or the offset table is missing")
	}
	return s
}

// wideband takes what a wideband sensor says of a sample: in open loop, the
// mixture's error stands for the trim that the loop would have needed; in closed
// loop, where the mixture is right by definition, the sensor's own error shows.
func (x *Explainer) wideband(s *sample, mode rejected, lambda, commanded, mixture float64) {
	if !(lambda > 0.6 && lambda < 1.6 && commanded > 0.4) || math.IsNaN(mixture) {
		return // cut, misfire, or a sensor that is not warm
	}
	if mode == openLoop && s.unapplied {
		// A learned trim that is logged and not applied is no part of the mixture.
		mixture = ((1+mixture/100)/(1+meanOf(s.trim[0], s.trim[1])/100) - 1) * 100
	}
	s.mixture = mixture
	if mode != openLoop {
		s.bias = lambda/commanded - 1
		return
	}
	o := *s
	o.trim, o.held = [2]float64{mixture, mixture}, [2]float64{}
	x.open.add(&o)
}

// worstBias is how far a wideband sensor may differ from the closed loop's own
// and still be believed where the loop is open.
const worstBias = 0.04

// withOpen adds the open-loop points that a wideband sensor gives, less the
// sensor's error where the loop is closed, and lets it speak where a trim stands at its limit.
func (x *Explainer) withOpen(points []*Point, bias float64, banks int) []*Point {
	open := x.open.finish()
	switch {
	case bias != bias:
		return points
	case math.Abs(bias) > worstBias:
		x.res.Cautions.Addf("the wideband sensor reads %s %% against the closed loop: it is not used", tables.Signed(100*bias, 1))
		return points
	}
	right := func(mixture float64) float64 { return ((1+mixture/100)/(1+bias) - 1) * 100 }
	if banks == 1 {
		for _, p := range points {
			if p.AtLimit[0] > atLimit && p.mixture == p.mixture {
				p.Trim[0], p.AtLimit[0] = right(p.mixture), 0
			}
		}
	}
	seconds, cells := 0.0, 0
	for _, p := range points {
		cells = max(cells, p.cell+1)
	}
	for _, p := range open {
		p.Open, p.cell = true, p.cell+cells
		seconds += p.Seconds
		for b := range p.Trim {
			p.Trim[b], p.AtLimit[b] = right(p.Trim[b]), 0
			if b >= banks {
				p.Trim[b] = math.NaN()
			}
		}
	}
	if len(open) == 0 {
		return points
	}
	x.res.Cautions.Addf("%.0f s of open loop are evidence by the wideband sensor, which reads %s %% against the closed loop", seconds, tables.Signed(100*bias, 1))
	points = append(points, open...)
	slices.SortStableFunc(points, func(a, b *Point) int { return cmp.Compare(a.clock, b.clock) })
	return points
}
