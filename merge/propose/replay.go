package propose

import (
	"fmt"
	"math"

	"calsplice/interp/drive"
	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/tables"
)

// replay asks whether this is the document that drove: what its tables say
// against what was logged. Where the median mismatch is past resolution and
// interpolation it says so, and takes the blocks that do not fit out of the
// evidence.
func (d *settled) replay() []string {
	first := d.replayOne("spark table", sparkReplay(d.cal))
	if d.byTrims() { // what a sensor misses is not what the controller added
		first = append(first, d.replayOne("injector flow and offset", pulseReplay(d.cal, d.inj))...)
	}
	return first
}

// replayOne is one check over the blocks that it can be made on. It is by the median: a
// log of this calibration has its odd blocks, and one of another has few that fit.
func (d *settled) replayOne(what string, ask func(b *block) (mismatch, tolerance float64)) []string {
	if ask == nil {
		return nil
	}
	var off []*block
	asked, total, share := 0, 0.0, 0.0
	for i := range d.blocks {
		b := &d.blocks[i]
		mismatch, tolerance := ask(b)
		if math.IsNaN(mismatch) || math.IsNaN(tolerance) {
			continue
		}
		asked, total = asked+1, total+b.n
		if math.Abs(mismatch) > tolerance {
			off, share = append(off, b), share+b.n
		}
	}
	// One block may be off for many reasons: a gear change, protection, a cold start. That
	// half of them are has one.
	if 2*len(off) < asked || asked == 0 {
		return nil
	}
	for _, b := range off {
		b.out = true
	}
	return []string{fmt.Sprintf("the log does not come from this calibration, or another limit was in charge: %s and log disagree in %.0f %% of settled time, which is no evidence", what, 100*share/total)}
}

// sparkReplay compares spark table − retard with the logged spark.
func sparkReplay(cal *tables.Calibration) func(b *block) (float64, float64) {
	table := lookup.Only(cal, tables.SparkAdvance)
	if table == nil {
		return nil
	}
	blended := lookup.NewBlend(cal)
	return func(b *block) (float64, float64) {
		// A controller that has learned knock runs between its two tables.
		want := table.At(&b.at)
		if blended != nil && !math.IsNaN(b.blend) {
			at, _ := table.Find(&b.at)
			want = blended.At(&b.at, at, want, b.blend)
		}
		if !math.IsNaN(b.retard) {
			want -= b.retard
		}
		off, tolerance := b.spark-want, 0.5+table.Table().Resolution()
		if math.Abs(off) > tolerance { // most blocks need no more
			tolerance += table.Slack(&b.at)
		}
		return off, tolerance
	}
}

// pulseShare is how far a pulse may stand from its replay before the tables
// cannot be the ones that drove: 4 %, with 0.03 ms for rounding.
const (
	pulseShare = 0.04
	pulseRound = 0.03
)

// pulseReplay computes the pulse from the logged air and compares it with the
// logged one. It needs facts about the engine that the calibration may not
// give, and is not made without them; nor where the air is modelled from a
// volumetric efficiency, which is itself in question.
func pulseReplay(cal *tables.Calibration, j *engine.Injector) func(b *block) (float64, float64) {
	fuel := fuelOf(cal)
	if j.FlowTable == nil || j.OffsetTable == nil || fuel == nil {
		return nil
	}
	return func(b *block) (float64, float64) {
		if !(b.pulse > j.MinPulse+0.005) {
			return math.NaN(), 0
		}
		// Whichever view of the pressure fits better is taken: a log does not say which one
		// the controller has, and a wrong calibration fits neither.
		best := math.Inf(1)
		for _, at := range controllerViews(j, &b.at) {
			want := fuel(b)*(1+b.trim)/j.Flow(&at) + j.Offset(&at)
			if off := b.pulse - want; !(math.Abs(off) >= math.Abs(best)) {
				best = off
			}
		}
		return best, float64(pulseShare*b.pulse) + pulseRound
	}
}

// controllerViews are a point as logged, and as a controller sees it that trusts the
// calibration's rail pressure more than any sensor.
func controllerViews(j *engine.Injector, at *lookup.Point) []lookup.Point {
	list := []lookup.Point{*at}
	if j.RailGiven {
		trusting := *at
		trusting.Delta = j.Rail.Delta(at.Manifold, at.Barometer)
		list = append(list, trusting)
	}
	return list
}

// fuelOf is the fuel of a pulse in mg that the controller wants at the logged
// air, without trim; nil where that cannot be told.
func fuelOf(cal *tables.Calibration) func(b *block) float64 {
	f, err := engine.NewFacts(cal.Engine())
	modelled := len(cal.ByRole(tables.AirVolumetricEfficiency)) > 0 && len(cal.ByRole(tables.AirMeter)) == 0
	if err != nil || !f.StoichGiven || f.Cylinders == 0 || modelled {
		return nil
	}
	return func(b *block) float64 {
		charge := b.at.Charge
		if math.IsNaN(charge) {
			charge = b.at.AirFlow * 1000 / (f.Cycles(b.at.Speed) * f.Cylinders)
		}
		lambda := b.commanded
		if !(lambda > 0.4) {
			lambda = 1 // not logged, or a column that is never filled: closed loop
		}
		return charge * f.Cylinders / (f.Injectors * f.Pulses) / (f.Stoich * lambda)
	}
}

// takeRail takes from the trims what a measured rail pressure explains, which is no
// error of a table, however small; given is a gauge's reading, kPa, where the log
// has none, and 0 without one. Fuel flow goes with the root of the pressure that
// drives it.
func (d *settled) takeRail(given float64) []string {
	j := d.inj
	var taken drive.Mean
	for i := range d.blocks {
		b := &d.blocks[i]
		measured := lookup.Rail{Pressure: b.rail, RelativeTo: j.Rail.RelativeTo}
		if math.IsNaN(b.rail) && given > 0 {
			measured.Pressure = given
		}
		share := math.Sqrt(j.Rail.Delta(b.at.Manifold, b.at.Barometer)/measured.Delta(b.at.Manifold, b.at.Barometer)) - 1
		if math.IsNaN(share) {
			continue
		}
		b.trim = (1+b.trim)/(1+share) - 1
		taken.Add(share, b.n)
	}
	if taken.Weight == 0 {
		return nil
	}
	return []string{fmt.Sprintf("the measured rail pressure explains %s %% of trim on average, which is taken from the trims", tables.Signed(100*taken.Value(), 1))}
}

// railCheck names a rail pressure, logged or given, that is not what the calibration says:
// before every number, for all of them rest on the pressure over the injectors.
func (d *settled) railCheck(given float64) []string {
	j := d.inj
	if !j.RailGiven {
		return nil
	}
	var logged drive.Mean
	for i := range d.blocks {
		logged.Add(d.blocks[i].rail, d.blocks[i].n)
	}
	mean, where := logged.Value(), "in the log"
	if logged.Weight == 0 && given > 0 {
		mean, where = given, "by --rail-pressure"
	}
	if off := mean/j.Rail.Pressure - 1; math.Abs(off) > 0.05 {
		return []string{fmt.Sprintf("rail pressure is %.0f kPa %s and %.0f in the calibration (%s %%): find out why before any table is changed",
			mean, where, j.Rail.Pressure, tables.Signed(100*off, 1))}
	}
	return nil
}
