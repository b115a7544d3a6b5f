package propose

import (
	"math"

	"calsplice/interp/lookup"
	"calsplice/tables/unit"
)

// block is the mean of the samples of a few seconds.
type block struct {
	log, line int // line of the first sample
	run       int
	time      float64 // s, of the log's clock
	n         float64 // samples
	after     float64 // samples of the drive before it
	at        lookup.Point
	trim      float64 // share
	pulse     float64 // ms
	inverse   float64 // mean of 1/p, 1/ms; NaN where not known
	commanded float64 // lambda
	spark     float64
	retard    float64
	blend     float64
	rail      float64 // kPa as logged
	long      float64 // learned trim, %
	limited   float64 // samples at which a trim stood at its limit
	out       bool    // no evidence: the log does not come from this calibration here
}

// channels that a block holds, in the order in which they are read. Those of
// the operating point come first.
var blockChannels = []string{"engine_speed", "manifold_pressure", "barometric_pressure", "differential_pressure", "battery",
	"air_charge", "air_flow", "load", "trim", "pulse_width", "lambda_commanded", "spark", "knock_retard", "spark_blend",
	"rail_pressure", "long_trim_1", "throttle"}

// mostBlocks is some thirty hours of driving. Past it the blocks of one operating point
// among so many samples of the drive become one, then among twice as many, and so on:
// then visits are counted by those stretches of the drive.
const mostBlocks = 1 << 15

// coarsen joins blocks until half as many are left, and is by block where it went.
func (d *drive) coarsen() (to []int) {
	for k := range d.blocks {
		to = append(to, k)
	}
	for d.length = max(d.length, 512); ; d.length *= 2 {
		where := d.joinWithin(d.length)
		for k, was := range to {
			to[k] = where[was]
		}
		if len(d.blocks) <= mostBlocks/2 || d.length > d.samples {
			return to
		}
	}
}

// joinWithin joins the blocks of one operating point among so many samples.
func (d *drive) joinWithin(length float64) (to []int) {
	at, n := map[[3]int]int{}, 0
	for k := range d.blocks {
		b := &d.blocks[k]
		load := step(b.at.Manifold, blockManifold)
		if b.at.Manifold != b.at.Manifold {
			load = step(b.pulse, 1)
		}
		place := [3]int{step(b.after, length), step(b.at.Speed, blockSpeed), load}
		i, ok := at[place]
		if ok {
			d.blocks[i].join(b)
		} else {
			i, n = n, n+1
			at[place], d.blocks[i] = i, *b
		}
		to = append(to, i)
	}
	d.blocks = d.blocks[:n]
	return to
}

// step numbers the steps of a reading; what is not known is of one.
func step(v, size float64) int {
	if v != v {
		return -1
	}
	return int(math.Floor(v / size))
}

// join takes a later block of the same operating point.
func (b *block) join(o *block) {
	mine, others := b.means(), o.means()
	for k, v := range mine {
		switch w := *others[k]; {
		case w != w:
		case *v != *v:
			*v = w
		default:
			*v = (float64(b.n**v) + float64(o.n*w)) / (b.n + o.n)
		}
	}
	b.n, b.limited = b.n+o.n, b.limited+o.limited
}

func (b *block) means() [17]*float64 {
	at := &b.at
	return [...]*float64{&at.Speed, &at.Manifold, &at.Barometer, &at.Delta, &at.Battery, &at.Charge, &at.AirFlow, &at.Load,
		&b.trim, &b.pulse, &b.inverse, &b.commanded, &b.spark, &b.retard, &b.blend, &b.rail, &b.long}
}

// point is an operating point, its air charge from the air flow where only that
// is logged.
func (d *drive) point(of func(k int) float64) lookup.Point {
	at := point(of)
	at.Fill(d.cal.Engine())
	return at
}

// point is an operating point; without a barometer it stands at sea level.
func point(of func(k int) float64) lookup.Point {
	barometer := of(inBarometer)
	if math.IsNaN(barometer) {
		barometer = unit.Atmosphere
	}
	return lookup.Point{Speed: of(inSpeed), Manifold: of(inManifold), Barometer: barometer, Delta: of(inDelta),
		Battery: of(inBattery), Charge: of(inCharge), AirFlow: of(inFlow), Load: of(inLoad), Pulse: math.NaN()}
}
