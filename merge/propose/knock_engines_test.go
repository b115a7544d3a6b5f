package propose_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// KnockCase is one random engine, with its weather, its driver and what is wrong.
type KnockCase struct {
	Family string // the true cause, by the name that reports use
	Cal    *tables.Calibration
	Plant  testdrive.Plant
	Knock  *Knock
	Drive  testdrive.DriveOptions
	Raised float64 // degrees by which a region of the table was raised
	What   string  // for a test's log
}

// KnockFamilies are the causes that [RandomKnock] draws.
var KnockFamilies = []string{"none", "low-octane", "over-advanced", "hot-charge", "lean-at-load", "false-knock"}

// RandomKnock draws an engine whose spark is pulled for the cause of a family:
// harder, or another engine, until the drive shows it.
func RandomKnock(family string, seed uint64) *KnockCase {
	rng := rand.New(rand.NewPCG(seed, 0x6b6e6f636b))
	real := family != "none" && family != "false-knock"
	for strength := 0.3 + float64(0.6*rng.Float64()); ; strength = min(1, strength*1.25) {
		d := &knockDraw{rng: rng, strength: strength}
		c := d.engine(seed, family)
		// The drive itself is asked, twice: without its fault it must be clean, and with it
		// the fault must show. Both are needed for a name to be right or wrong.
		if real && c.shown() != 0 {
			continue // it knocks without a fault
		}
		d.fault(c)
		if !real && c.shown() == 0 || real && c.shown() >= 2.5 {
			w, k := &c.Knock.Weather, &c.Knock.Control
			c.What += fmt.Sprintf("; strength %.2f ambient %.0f soak %.0f jump %.1f decay %.2f learn %.3f wideband %v", strength, w.Ambient, w.Soak, k.Jump, k.Decay, k.Learn, c.Drive.Wideband)
			return c
		}
	}
}

// shown is for how many seconds the drive's first minutes really knock by a
// degree or more, 0 where that is in fewer than two places of time.
func (c *KnockCase) shown() float64 {
	trial := c.Drive
	trial.Minutes = min(trial.Minutes, 9)
	l, truths := c.drive(c.Cal, trial)
	rows, stays, last := 0, 0, -1000.0
	for i, truth := range truths {
		if truth.Need < 1 {
			continue
		}
		rows++
		t := l.Columns[0][i]
		if t > last+5 {
			stays++
		}
		last = t
	}
	if stays < 2 {
		rows = 0
	}
	return float64(rows) / c.Drive.Hz
}

// drive drives the engine under a calibration, and is the log with the truth beside each row.
func (c *KnockCase) drive(cal *tables.Calibration, opt testdrive.DriveOptions) (*testdrive.Log, []KnockTruth) {
	now, plant := &knocking{Knock: c.Knock}, c.Plant
	plant.Knock = now
	l := testdrive.Drive(cal, plant, opt)
	return l, now.truth
}

type knockDraw struct {
	rng      *rand.Rand
	strength float64 // of the fault, to 1
}

func (d *knockDraw) between(low, high float64) float64 {
	return low + float64((high-low)*d.rng.Float64())
}

func (d *knockDraw) chance(share float64) bool { return d.rng.Float64() < share }

// engine draws a healthy engine: its table keeps below the limit of its own
// cylinder in ordinary weather.
func (d *knockDraw) engine(seed uint64, family string) *KnockCase {
	c := &KnockCase{Family: family, Drive: testdrive.DriveOptions{Seed: seed, Minutes: d.between(14, 30), Hz: []float64{5, 10, 10, 20}[d.rng.IntN(4)], Foot: d.rng.Float64()}}
	p := &c.Plant
	p.Barometer = d.between(93, 102)
	c.Knock = &Knock{Combustion: &Combustion{Compression: d.between(9.4, 11), Burn: d.between(50, 64), Scale: d.between(0.34, 0.5), Octane: 95}}
	switch d.rng.IntN(3) {
	case 0:
		p.Truth = testdrive.Four()
	case 1:
		p.Truth, p.Banks = testdrive.Six(), 2
	case 2:
		p.Truth, p.Boost = testdrive.Turbo(), d.between(25, 70)
		// Boost is paid for in compression.
		c.Knock.Compression -= 1.2
	}
	c.Knock.Ready()
	c.Knock.Weather = Weather{Ambient: d.between(-5, 30), Soak: d.between(6, 18), Coolant: d.between(84, 94), Charge: d.between(0, 0.15)}
	k := &c.Knock.Control
	*k = KnockControl{Jump: 0.22 * math.Exp(d.between(0, 2)), Severity: d.between(0.1, 0.45), Hold: d.between(0, 1),
		Decay: 0.2 * math.Exp(d.between(0, 1.6)), Most: d.between(8, 12)}
	learns := d.chance(0.6)
	if learns {
		k.Learn = d.between(0.002, 0.015)
		if d.chance(0.3) {
			c.Drive.Control.Blend = d.between(0, 0.25)
		}
	}
	if d.chance(0.6) {
		c.Knock.False = FalseKnock{Lifts: d.between(0, 0.6), Degrees: d.between(1, 2.5)}
	}
	c.Drive.Wideband = d.chance(0.45)
	margin := d.between(2.2, 4.5)
	if family == "lean-at-load" { // its effect is small: a bold table shows it
		margin = d.between(1, 1.6)
		c.Drive.Foot = d.between(0.6, 1)
		d.strength = max(d.strength, 0.6)
		c.Knock.Weather.Ambient = d.between(5, 22)
	}
	c.Cal = d.spark(c, learns, margin)
	p.Truth = c.Cal
	return c
}

// spark draws the axes of the spark table and fills it from the cylinder's
// limit, less a margin, in ordinary weather on the fuel it was made for.
func (d *knockDraw) spark(c *KnockCase, learns bool, margin float64) *tables.Calibration {
	p := &c.Plant
	filling := p.Filling()
	f := tables.Fields{ID: "spark.advance", Title: "Spark advance", Role: tables.SparkAdvance, Unit: "deg",
		Resolution: []float64{0.1, 0.25, 0.5}[d.rng.IntN(3)], Limits: &tables.Limits{Low: -15, High: 55}}
	f.X = drawn(tables.EngineSpeed, "r/min", 8+d.rng.IntN(7), func(share float64) float64 {
		return math.Round((600+float64(5600*math.Pow(share, d.between(1.1, 1.3))))/50) * 50
	})
	most := p.Barometer + p.Boost + 4
	byPressure := d.chance(0.3)
	full := filling(3500, most, 10)
	quantity, unit, at := tables.AirCharge, "mg", func(share float64) float64 { return math.Round(full*share/5) * 5 }
	if byPressure {
		quantity, unit, at = tables.ManifoldPressure, "kPa", func(share float64) float64 { return math.Round(most * max(0.2, share)) }
	}
	f.Y = drawn(quantity, unit, 6+d.rng.IntN(6), func(share float64) float64 { return at(0.12 + float64(0.88*share)) })
	advance := testdrive.Filled(f, func(speed, load float64) float64 {
		if !byPressure {
			load = pressureFor(filling, speed, load, most+15)
		}
		return d.safe(c, speed, load, margin)
	})
	list := []*tables.Table{advance}
	if learns {
		drop := d.between(6, 10)
		f.ID, f.Title, f.Role = "spark.fallback", "Spark fallback", tables.SparkFallback
		cell := -1
		list = append(list, testdrive.Filled(f, func(_, _ float64) float64 {
			cell++
			share := float64(cell/f.X.Len()) / float64(f.Y.Len()-1)
			return advance.Values()[cell] - float64(drop*share)
		}))
	}
	for _, t := range p.Truth.Tables() {
		if t.Role() != tables.SparkAdvance && t.Role() != tables.SparkFallback {
			list = append(list, t)
		}
	}
	return testdrive.Must(tables.NewCalibration(tables.Contents{Name: p.Truth.Name(), Engine: p.Truth.Engine(), Tables: list}))
}

// drawn is an axis of as many breakpoints, or fewer where two are one, each by its
// share of the way.
func drawn(quantity, unit string, n int, at func(share float64) float64) *tables.Axis {
	var points []float64
	for i := range n {
		points = append(points, at(float64(i)/float64(n-1)))
	}
	slices.Sort(points)
	return testdrive.Must(tables.NewAxis(quantity, unit, slices.Compact(points)))
}

// safe is the advance of a careful calibration at an operating point: most
// torque, or the limit less a margin with 30 degC of intake air.
func (d *knockDraw) safe(c *KnockCase, speed, pressure, margin float64) float64 {
	p := &c.Plant
	// Closed loop reaches so far, as the road drives; past it the mixture is rich.
	full := p.Barometer - 2.5 + float64(p.Boost*min(1, max(0, (speed-1600)/1700)))
	ease := 0.8
	if p.Boost > 0 {
		ease = 0.7
	}
	const closed = 24.0 // kPa, at no torque
	loop := closed + float64(ease*(full-closed)) + 4
	lambda := 1 - float64(0.14*min(1, max(0, (pressure-loop)/(full-loop))))
	limit := c.Knock.Limit(speed, pressure, 30+float64(0.1*max(0, pressure-70)), 88, lambda, 95)
	return max(-8, min(c.Knock.Best(speed)+3, limit-margin))
}

// pressureFor is the manifold pressure at which a cylinder takes in a charge.
func pressureFor(filling func(speed, manifold, intake float64) float64, speed, want, most float64) float64 {
	low, high := 15.0, most
	for range 30 {
		mid := (low + high) / 2
		if filling(speed, mid, 30) < want {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// fault puts the cause of a family into an engine.
func (d *knockDraw) fault(c *KnockCase) {
	k := c.Knock
	switch c.Family {
	case "none":
		k.False = FalseKnock{} // retard after a lift is false knock
	case "low-octane":
		k.Octane -= 18 * d.strength
		c.What = fmt.Sprintf("octane %.1f", k.Octane)
	case "over-advanced":
		d.raise(c)
	case "hot-charge":
		d.heat(c)
	case "lean-at-load":
		d.starve(c)
	case "false-knock":
		d.disturb(c)
	}
}

// raise lifts a region of the table past the limit, as a hand does.
func (d *knockDraw) raise(c *KnockCase) {
	t := c.Cal.Table("spark.advance")
	rows, columns := 2+d.rng.IntN(2), 2+d.rng.IntN(3)
	// High load, low to middle speed: where somebody looks for torque.
	top := t.Rows() - rows - d.rng.IntN(2)
	left := 1 + d.rng.IntN(max(1, t.Columns()*2/3-columns))
	c.Raised = math.Round(2*(2+float64(7*d.strength))) / 2
	values := slices.Clone(t.Values())
	for r := top; r < top+rows; r++ {
		for k := left; k < left+columns; k++ {
			values[r*t.Columns()+k] = t.Round(values[r*t.Columns()+k] + c.Raised)
		}
	}
	c.Cal = testdrive.Must(c.Cal.WithTable(testdrive.Must(t.WithValues(values))))
	c.What = fmt.Sprintf("rows %d-%d columns %d-%d raised %.1f", top, top+rows-1, left, left+columns-1, c.Raised)
}

func (d *knockDraw) heat(c *KnockCase) {
	w := &c.Knock.Weather
	w.Ambient = d.between(16, 36)
	switch d.rng.IntN(3) {
	case 0:
		w.Soak = 20 + float64(55*d.strength)
	case 1:
		w.Charge = 0.4 + float64(1.8*d.strength)
		if c.Plant.Boost > 0 {
			w.Charge *= 0.6
		}
	case 2:
		w.Overheat = 15 + float64(25*d.strength)
		w.Soak = 15 + float64(30*d.strength)
	}
	c.What = fmt.Sprintf("%+v", *w)
}

// starve lets fuel run short at load: a weak pump, or a table that is lean where
// the controller applies nothing it has learned.
func (d *knockDraw) starve(c *KnockCase) {
	// The fuel that full load asks for at 3,500 r/min, at lambda 0.86.
	most, e := c.Plant.Filling()(3500, c.Plant.Barometer+c.Plant.Boost, 30), c.Cal.Engine()
	full := most / 1000 * float64(e.Cylinders) * 3500 / 120 / e.StoichAFR / 0.86
	if d.chance(0.6) {
		c.Plant.Fault.SupplyLimit = full * (0.8 - float64(0.4*d.strength))
		c.What = fmt.Sprintf("supply %.2f of %.2f g/s", c.Plant.Fault.SupplyLimit, full)
		return
	}
	c.Plant.Fault.FlowScale = 0.9 - float64(0.16*d.strength)
	c.Drive.Control.Untrimmed = true
	c.What = fmt.Sprintf("flow %.2f", c.Plant.Fault.FlowScale)
}

func (d *knockDraw) disturb(c *KnockCase) {
	f := &c.Knock.False
	*f = FalseKnock{Degrees: d.between(1.5, 3.5)}
	switch d.rng.IntN(4) {
	case 0:
		f.Lifts = d.between(0.6, 1)
	case 1:
		f.Shifts = d.between(0.6, 1)
	case 2:
		low := d.between(1400, 2600)
		f.Band, f.BandRate = [2]float64{low, low + d.between(200, 500)}, d.between(0.3, 1.5)
	case 3:
		f.Tips, f.Lifts = d.between(0.5, 1), d.between(0.3, 0.8)
	}
	if d.chance(0.3) {
		f.Blips = d.between(0.01, 0.03)
	}
	c.What = fmt.Sprintf("%+v", *f)
}

// TestRandomKnock: every family shows its cause in its drive, and nothing else
// knocks.
func TestRandomKnock(t *testing.T) {
	if testing.Short() {
		t.Skip("drives for seconds")
	}
	for _, family := range KnockFamilies {
		c := RandomKnock(family, 3)
		l, truths := c.drive(c.Cal, c.Drive)
		knocks, most := 0, 0.0
		for i, truth := range truths {
			if truth.Knocked {
				knocks++
			}
			most = max(most, l.Column("knock_retard")[i])
		}
		real := family != "none" && family != "false-knock"
		if real != (knocks >= 5) || family != "none" && most < 1.2 {
			t.Errorf("%s: %d knocks, %.1f deg of retard at most (%s)", family, knocks, most, c.What)
		}
	}
}
