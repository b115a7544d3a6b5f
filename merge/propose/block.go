package propose

import (
	"math"

	"calsplice/interp/drive"
	"calsplice/interp/lookup"
)

// block is the mean of the samples of a few seconds: what every check, fit and cell of a
// proposal is made of. A number that the log does not give is NaN, and in no mean.
type block struct {
	run       int
	time      float64 // s of its first sample, by the log's clock
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

// blockChannels are what a block holds means of; another kind of missing fuel is asked
// for in the trim's place.
var blockChannels = []drive.Channel{drive.Speed, drive.Manifold, drive.Barometer, drive.Delta, drive.Battery, drive.Charge, drive.AirFlow, drive.Load,
	drive.Trim, drive.Pulse, drive.Commanded, drive.Spark, drive.Retard, drive.Blend, drive.Rail, drive.Long1}

// mostBlocks is some thirty hours of driving. Past it the blocks of one operating point
// among so many samples of the drive become one, then among twice as many, and so on:
// then visits are counted by those stretches of the drive.
const mostBlocks = 1 << 15

// coarsen joins blocks until half as many are left, and is by block where it went.
func (d *settled) coarsen() (to []int) {
	d.length = max(d.length, 512)
	for to = d.joinWithin(d.length); len(d.blocks) > mostBlocks/2 && d.length <= d.samples; {
		d.length *= 2
		where := d.joinWithin(d.length)
		for k, was := range to {
			to[k] = where[was]
		}
	}
	return to
}

// joinWithin joins the blocks of one operating point among so many samples.
func (d *settled) joinWithin(length float64) (to []int) {
	d.blocks, to = drive.Join(d.blocks, func(b *block) uint64 { return b.place(length) }, (*block).join)
	return to
}

// place is what blocks that may become one have in common: their operating point, and
// among so many samples of the drive. The three are told apart up to a million steps: a map
// of one number is twice as fast.
func (b *block) place(length float64) uint64 {
	load := step(b.at.Manifold, blockManifold)
	if b.at.Manifold != b.at.Manifold {
		load = step(b.pulse, 1)
	}
	const million = 1 << 20
	return uint64(step(b.after, length))*million*million + uint64(step(b.at.Speed, blockSpeed))%million*million + uint64(load)%million
}

// step numbers the steps of a reading; what is not known is of one.
func step(v, size float64) int {
	if v != v {
		return -1
	}
	return int(math.Floor(v / size))
}

// join takes a later block of the same operating point. A number that only one of them
// has stands as it is: it is of that place all the same.
func (b *block) join(o *block) {
	mine, others := b.means(), o.means()
	// Both lists are in one order: a mean of the block's is joined with its own kind.
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

// means are what of a block is a mean, for joining.
func (b *block) means() [17]*float64 {
	at := &b.at
	return [...]*float64{&at.Speed, &at.Manifold, &at.Barometer, &at.Delta, &at.Battery, &at.Charge, &at.AirFlow, &at.Load,
		&b.trim, &b.pulse, &b.inverse, &b.commanded, &b.spark, &b.retard, &b.blend, &b.rail, &b.long}
}

// point is an operating point, its air charge from the air flow where only that
// is logged.
func (d *settled) point(v *drive.Instant) lookup.Point {
	at := v.Point()
	at.Fill(d.cal.Engine())
	return at
}
