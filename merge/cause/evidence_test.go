package cause

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"calsplice/interp/drive"
	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// handEngine is a calibration whose numbers are easy to work with: 4 injectors of
// 2 mg/ms, an offset of 1 ms at any voltage, pulses of 1.5 ms at least, and flow
// that is corrected under 1.2 ms of effective pulse.
func handEngine(t *testing.T, strokes, pulses int) *vehicle {
	t.Helper()
	axis := func(q, u string, p ...float64) *tables.Axis {
		a, err := tables.NewAxis(q, u, p)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	var list []*tables.Table
	for _, f := range []tables.Fields{
		{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s", Values: []float64{2}},
		{ID: "offset", Role: tables.InjectorOffset, Unit: "ms", X: axis("battery voltage", "V", 10, 14), Values: []float64{1, 1}},
		{ID: "min", Role: tables.InjectorMinPulse, Unit: "ms", Values: []float64{1.5}},
		{ID: "nonlinear", Role: tables.InjectorNonlinear, Unit: "ms", X: axis("effective pulse", "ms", 0.4, 0.8, 1.2), Values: []float64{0.1, 0.05, 0}},
		{ID: "meter", Role: tables.AirMeter, Unit: "g/s", X: axis("meter frequency", "Hz", 1000, 9000), Values: []float64{1, 150}},
	} {
		table, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, table)
	}
	c, err := tables.NewCalibration(tables.Contents{Tables: list, Engine: &tables.Engine{Cylinders: 4, Injectors: 4, Strokes: strokes, PulsesPerCycle: pulses,
		StoichAFR: 14.5, RailPressure: &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Manifold}}})
	if err != nil {
		t.Fatal(err)
	}
	e, err := newVehicle(c)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func handRaw() *drive.Instant {
	v := drive.Nothing()
	v[drive.Speed], v[drive.Manifold], v[drive.Barometer], v[drive.AirFlow] = 3000, 60, 100, 29
	v[drive.Pulse], v[drive.Battery], v[drive.Commanded], v[drive.Trim1] = 6, 14, 1, 25
	return &v
}

// A sample by hand. At 3,000 r/min a four-stroke engine has 25 cycles a second,
// 40 ms each: 6 ms of pulse are 15 % of it, and of 5 ms past the offset a trim of
// +25 % leaves 4 ms. 29 g/s of air by a ratio of 14.5 want 2 g/s of fuel; at
// lambda 0.8 they want 2.5.
func TestSampleByHand(t *testing.T) {
	for _, c := range []struct {
		why                    string
		strokes, pulses        int
		lambda                 float64
		airFrom                source
		duty, p, air, fuelFlow float64
	}{
		{"four strokes, a pulse a cycle", 4, 1, 1, logged, 15, 4, 29, 2},
		{"two pulses a cycle are 20 ms apart", 4, 2, 1, logged, 30, 4, 29, 2},
		{"a two-stroke engine has 50 cycles a second", 2, 1, 1, logged, 30, 4, 29, 2},
		{"rich by command is more fuel for the same air", 4, 1, 0.8, logged, 15, 4, 29, 2.5},
		{"air from fuel: 4 ms of 2 mg/ms, 4 injectors, 25 times a second", 4, 1, 1, fromFuel, 15, 4, 0.8 * 14.5, 0.8},
		{"rich by command is less air for the same fuel", 4, 1, 0.8, fromFuel, 15, 4, 0.8 * 14.5 * 0.8, 0.8},
	} {
		d := &deriver{e: handEngine(t, c.strokes, c.pulses), pulseFrom: logged, airFrom: c.airFrom}
		r, s := handRaw(), &sample{}
		r[drive.Commanded] = c.lambda
		if why := d.sample(r, s); why != fit {
			t.Fatalf("%s: %s", c.why, why)
		}
		for _, v := range []struct {
			name      string
			got, want float64
		}{{"duty", s.duty, c.duty}, {"p", s.p, c.p}, {"air", s.air, c.air}, {"fuel", s.fuel, c.fuelFlow}} {
			if math.Abs(v.got-v.want) > 1e-9*v.want {
				t.Errorf("%s: %s is %v, want %v", c.why, v.name, v.got, v.want)
			}
		}
	}
}

// What a pulse is no evidence for: at the minimum, where flow is not linear, and
// not above the offset. Just past each it is evidence.
func TestShortPulsesAreNoEvidence(t *testing.T) {
	for _, c := range []struct {
		pulse, trim float64
		want        rejected
	}{
		{1.5, -50, shortPulse},  // the minimum
		{1.51, -50, shortPulse}, // rounded by the logger
		{1.58, -50, shortPulse}, // past it, but 0.58 ms at a trim of −50 % are 1.16 ms: still corrected
		{1.62, -50, fit},        // 1.24 ms are not
		{1.9, -20, shortPulse},  // 1.125 ms
		{2, -20, fit},           // 1.25 ms
		{1, 0, underOffset},
		{0.9, 0, underOffset},
	} {
		d := &deriver{e: handEngine(t, 4, 1), pulseFrom: logged, airFrom: logged}
		r := handRaw()
		r[drive.Pulse], r[drive.Trim1] = c.pulse, c.trim
		if got := d.sample(r, &sample{}); got != c.want {
			t.Errorf("%v ms at a trim of %v %%: %q, want %q", c.pulse, c.trim, got, c.want)
		}
	}
}

// Bank 2 above bank 1 is a positive difference, below it a negative one, and its
// standard error is what the estimates of many drives scatter by.
func TestBankDifferenceHasItsSign(t *testing.T) {
	scatter, claimed := 0.0, 0.0
	for seed := range uint64(24) {
		apart := 7 * float64(1-2*int(seed%2))
		d := steadyFor(None, newRandom(seed))
		d.banks = 2
		points := d.points()
		for _, p := range points {
			p.Trim[1] += apart
		}
		res := &Result{}
		newRows(points, 2).rank(res, &facts{rail: d.rail, metered: true})
		b := res.Banks
		if b == nil || math.Abs(b.Difference-apart) > 0.3 || !res.BanksDiffer() {
			t.Fatalf("banks %v %% apart: %+v", apart, b)
		}
		scatter, claimed = scatter+(b.Difference-apart)*(b.Difference-apart), claimed+b.SE*b.SE
	}
	if ratio := math.Sqrt(scatter / claimed); ratio < 0.6 || ratio > 1.7 {
		t.Errorf("the difference scatters by %.2f times the standard errors", ratio)
	}
}

// Trims that fall where little air flows are no leak that blows fuel out of the
// engine: the shape is offered the other way round only.
func TestNoNegativeLeak(t *testing.T) {
	for seed := range uint64(4) {
		d := steadyFor(UnmeteredAir, newRandom(seed))
		d.banks, d.boost = 1, false
		points := d.points()
		leak := func(sign float64) *Finding {
			for _, p := range points {
				p.Trim[0] *= sign
			}
			res := &Result{}
			newRows(points, 1).rank(res, &facts{rail: d.rail, metered: true})
			for i := range res.Found {
				if f := &res.Found[i]; f.Cause == UnmeteredAir {
					return f
				}
			}
			t.Fatal("unmetered-air is not among the causes")
			return nil
		}
		if f := leak(1); f.Share < 0.5 || !(f.Coefficients[0].Value > 0) {
			t.Errorf("seed %d: a leak has share %.2f and %v", seed, f.Share, f.Coefficients)
		}
		if f := leak(-1); f.Share > 0.1 || len(f.Coefficients) > 0 && f.Coefficients[0].Value < 0 {
			t.Errorf("seed %d: less than no leak has share %.2f and %v", seed, f.Share, f.Coefficients)
		}
	}
}

// The interval of a coefficient is neither too narrow nor too wide: over drives
// whose noise is independent from visit to visit it holds the truth nearly always,
// and half of it hardly ever would.
func TestIntervalsHoldTheTruth(t *testing.T) {
	held, halves, drives := 0, 0, 0
	for seed := range uint64(120) {
		d := steadyFor(FlowScale, rand.New(rand.NewPCG(seed, 99)))
		d.banks, d.size, d.minutes, d.noise, d.drift = 1, 6, 10, 0.8, 0
		sign := 1.0
		points := d.points()
		if points[0].Trim[0] < 0 {
			sign = -1
		}
		res := &Result{}
		newRows(points, 1).rank(res, &facts{rail: d.rail, metered: true})
		if res.Leading().Cause != FlowScale || res.Together != nil {
			continue
		}
		c := res.Leading().Coefficients[0]
		drives++
		off := math.Abs(c.Value - sign*d.size)
		if off <= c.High-c.Value {
			held++
		}
		if off <= (c.High-c.Value)/2 {
			halves++
		}
	}
	t.Logf("of %d intervals %d hold the truth, their inner halves %d", drives, held, halves)
	if 100*held < 86*drives || 100*halves > 85*drives || drives < 100 {
		t.Errorf("of %d intervals %d hold the truth, their inner halves %d", drives, held, halves)
	}
}

// TestOpenLoopWithoutStatus: where a log does not say when the loop is open, a short
// trim that stands at 0 for longer than one in control is no evidence from its first
// row on; one that passes 0 within that time is.
func TestOpenLoopWithoutStatus(t *testing.T) {
	cal := testdrive.Four()
	for _, c := range []struct {
		why   string
		zero  int // rows at 10 Hz
		there bool
	}{{"passing 0", 12, true}, {"an open loop", 20, false}} {
		l := testdrive.Drive(cal, testdrive.Plant{Truth: cal}, testdrive.DriveOptions{Seed: 1, Minutes: 6, Hz: 10, Without: []string{"fuel_status"}})
		for i := range l.Column("short_trim_1") {
			l.Column("long_trim_1")[i], l.Column("short_trim_1")[i] = 0, 5
			if i%200 < c.zero {
				l.Column("short_trim_1")[i] = 0
			}
		}
		res := mustExplain(t, cal, onDisk(t, l))
		zeros := slices.ContainsFunc(res.Points, func(p *Point) bool { return p.Trim[0] < 4.99 })
		if len(res.Points) < 10 || zeros != c.there {
			t.Errorf("%s: of %d points some hold 0: %v, want %v", c.why, len(res.Points), zeros, c.there)
		}
		open := slices.ContainsFunc(res.Logs[0].Dropped, func(d tables.Dropped) bool { return d.Reason == openLoop.String() })
		if open == c.there {
			t.Errorf("%s: counted as open loop: %v", c.why, open)
		}
	}
}

// TestStillMoving: a trim that goes one way while the engine stays where it is counts
// by how far it goes; one that cycles or scatters counts in full, and so does a
// mixture that a wideband sensor reads in open loop.
func TestStillMoving(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	for _, c := range []struct {
		why       string
		trim      func(t float64) float64
		open      bool
		low, high float64
	}{
		{"constant", func(float64) float64 { return 8 }, false, 1, 1},
		{"by 1 %", func(t float64) float64 { return 8 + t/4 }, false, 0.499, 0.501},
		{"by −3 %", func(t float64) float64 { return 8 - 3*t/4 }, false, 0.099, 0.101},
		{"the same in open loop", func(t float64) float64 { return 8 - 3*t/4 }, true, 1, 1},
		{"four cycles", func(t float64) float64 { return 8 + 2*math.Sin(2*math.Pi*t) }, false, 0.8, 1},
		{"scatter", func(float64) float64 { return 8 + random.NormFloat64() }, false, 0.8, 1},
	} {
		g := newGatherer()
		for i := range 41 {
			v := float64(i) / 10
			g.add(&sample{clock: 1000 + v, seconds: 0.1, speed: 2000, manifold: 50, trim: [2]float64{c.trim(v), math.NaN()}, held: [2]float64{math.NaN(), math.NaN()}})
		}
		p := g.finish()[0]
		p.Open = c.open
		if got := p.settled(); got < c.low || got > c.high {
			t.Errorf("%s: counts %.3f, want %v to %v", c.why, got, c.low, c.high)
		}
	}
	p := &Point{Seconds: halfRow}
	for i := range 3 {
		p.moving.add(float64(i), float64(i))
	}
	if got := p.sure(); math.Abs(got-0.1) > 1e-9 { // half for its time, and 1 of 1 + 2² for 2 %
		t.Errorf("a point of %v s whose trim moves by 2 %% holds %.3f of evidence", halfRow, got)
	}
}

// sample is both steps of what a reader derives.
func (d *deriver) sample(v *drive.Instant, s *sample) rejected {
	why := d.admit(v, s)
	if why == fit {
		d.derive(v, s)
	}
	return why
}
