package cause

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/engine"
	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// shaped is a healthy drive of settled points with a trim of one's own on top.
func shaped(seed uint64, f func(p *Point) float64) []*Point {
	d := steadyFor(None, newRandom(seed))
	d.banks, d.boost, d.minutes, d.noise, d.drift = 1, false, 20, 0.4, 0
	points := d.points()
	for _, p := range points {
		p.Trim[0] += f(p)
	}
	return points
}

func ranked(points []*Point, f *facts) *Result {
	res := &Result{Points: points}
	r := newRows(points, 1)
	if r.rail != nil {
		r.rail.logged = f.railLogged
	}
	r.rank(res, f)
	r.describe(res, f)
	return res
}

func metered() *facts {
	return &facts{rail: 300, nominal: 300, follows: true, railGiven: true, metered: true}
}

func doubted(res *Result, what string) bool {
	for _, d := range res.Doubts {
		if strings.Contains(d.What, what) && len(d.Settle) > 20 {
			return true
		}
	}
	return false
}

func always(v float64) func(*Point) float64 { return func(*Point) float64 { return v } }
func leaking(size float64) func(*Point) float64 {
	return func(p *Point) float64 { return 100 * size * engine.Orifice(p.Manifold/p.Barometer) / p.AirFlow }
}

// Each thing that puts a cause in doubt does so where it is there, and not where it
// is not; every doubt names what would settle it.
func TestDoubts(t *testing.T) {
	vapour := func(p *Point) float64 { return -0.6 / p.FuelFlow }
	starving := func(p *Point) float64 { return 40 * max(0, p.FuelFlow-1.5) }
	for _, row := range []struct {
		name      string
		trim      func(*Point) float64
		facts     func(f *facts)
		points    func(p *Point) // changes each
		doubt     string
		certainly Cause // where the doubt is away
		away      func(f *facts)
	}{
		{name: "purge that is not logged", trim: vapour, doubt: "purge is not logged"},
		{name: "an exhaust leak", trim: func(p *Point) float64 { return 8 * math.Exp(-(p.AirFlow-3)/3) }, doubt: "an exhaust leak before the sensor"},
		{name: "supply or meter", trim: starving, doubt: "supply or air meter", certainly: SupplyLimit,
			away: func(f *facts) { f.metered, f.computed = false, false }},
		{name: "a restless idle", trim: leaking(0.3), facts: func(f *facts) { f.restless = true }, doubt: "idle never held still", certainly: UnmeteredAir,
			away: func(f *facts) { f.restless = false }},
		{name: "a pattern that no cause has", trim: func(p *Point) float64 { return 8 + 4*math.Sin(p.Speed/330) }, doubt: "still follows speed, load or time"},
	} {
		f := metered()
		if row.facts != nil {
			row.facts(f)
		}
		res := ranked(shaped(3, row.trim), f)
		if res.Certain || !doubted(res, row.doubt) {
			t.Errorf("%s: certain %v, %v: %s", row.name, res.Certain, res.Doubts, res.Verdict)
		}
		if row.away == nil {
			continue
		}
		row.away(f)
		if res := ranked(shaped(3, row.trim), f); !res.Certain || res.Leading().Cause != row.certainly {
			t.Errorf("%s, away: certain %v, %v: %s", row.name, res.Certain, res.Doubts, res.Verdict)
		}
	}
}

// Purge that is logged leaves nothing to suspect.
func TestLoggedPurgeIsNoSuspect(t *testing.T) {
	f := metered()
	f.purge = true
	if res := ranked(shaped(3, func(p *Point) float64 { return -0.6 / p.FuelFlow }), f); doubted(res, "purge") {
		t.Errorf("%v", res.Doubts)
	}
}

// Pulsation at open throttle is suspected where air is metered and the trims show
// it there.
func TestPulsation(t *testing.T) {
	open := func(p *Point) float64 {
		return -9 * min(1, max(0, (p.Manifold/p.Barometer-0.8)/0.15)) * min(1, max(0, (3500-p.Speed)/1000))
	}
	res := ranked(shaped(5, open), metered())
	if res.Certain && res.Leading().Cause != None {
		t.Errorf("certain: %s", res.Verdict)
	}
}

// A few seconds are no evidence, for a cause or for none.
func TestTooShort(t *testing.T) {
	for trim, cause := range map[float64]Cause{0: None, 7: FlowScale} {
		points := shaped(3, always(trim))
		if res := ranked(points, metered()); !res.Certain || res.Leading().Cause != cause {
			t.Errorf("%v %% all along: %s", trim, res.Verdict)
		}
		for _, p := range points {
			p.Seconds *= 30 / 1200.0
		}
		if res := ranked(points, metered()); res.Certain || !doubted(res, "s of the drive are evidence") {
			t.Errorf("%v %% for half a minute: %s", trim, res.Verdict)
		}
	}
}

// A drive that stays at one load cannot tell, however sure a constant seems.
func TestFlatDrive(t *testing.T) {
	points := shaped(4, always(7))
	var flat []*Point
	for _, p := range points {
		if p.AirFlow > 12 && p.AirFlow < 16 {
			flat = append(flat, p)
		}
	}
	if res := ranked(flat, metered()); res.Certain || !doubted(res, "speed and load hardly moved") {
		t.Errorf("certain %v: %s", res.Certain, res.Verdict)
	}
	if res := ranked(points, metered()); !res.Certain || res.Leading().Cause != FlowScale {
		t.Errorf("over the whole drive: %v, %s", res.Doubts, res.Verdict)
	}
	// A few seconds elsewhere make no other load.
	for _, p := range points[:3] {
		p.Seconds, p.AirFlow = 0.4, 40
	}
	if res := ranked(append(flat, points[:3]...), metered()); !doubted(res, "speed and load hardly moved") {
		t.Errorf("with a second of full load: %v", res.Doubts)
	}
}

// A fault that appears is a change, with its time; one that was there is none.
func TestChange(t *testing.T) {
	for _, row := range []struct {
		name         string
		early, late  func(*Point) float64
		changes, led bool
	}{
		{"flow that changes", always(0), always(7), true, false},
		{"a leak that opens", always(0), leaking(0.5), true, false},
		{"flow that changes a little", always(7), always(9.4), true, false},
		{"flow that stays", always(7), always(7), false, true},
		{"less than counts", always(7), always(7.6), false, true},
	} {
		points := shaped(6, always(0))
		from := points[len(points)-1].clock * 0.55
		for _, p := range points {
			p.Time = p.clock + 1000 // the log's own clock
			if p.clock < from {
				p.Trim[0] += row.early(p)
			} else {
				p.Trim[0] += row.late(p)
			}
		}
		res := ranked(points, metered())
		if got := !math.IsNaN(res.ChangedAt); got != row.changes || got && (res.Certain || math.Abs(res.ChangedAt-1000-from) > 60) {
			t.Errorf("%s: changed at %.0f, in truth at %.0f, certain %v", row.name, res.ChangedAt, 1000+from, res.Certain)
		}
		if row.changes && !strings.Contains(res.Verdict, "changed at minute") {
			t.Errorf("%s: %s", row.name, res.Verdict)
		}
		if row.led && (res.Leading().Cause != FlowScale || !res.Certain) {
			t.Errorf("%s: %s", row.name, res.Verdict)
		}
	}
}

// A log of which this calibration would have commanded most pulses otherwise is
// another's.
func TestForeignLog(t *testing.T) {
	for share, certain := range map[float64]bool{0.3: true, 0.7: false} {
		points := shaped(7, always(7))
		for _, p := range points {
			p.foreign = share
		}
		res := ranked(points, metered())
		if res.Certain != certain || strings.Contains(res.Verdict, "does not come from this calibration") == certain {
			t.Errorf("%.0f %% of the time: certain %v, %s", 100*share, res.Certain, res.Verdict)
		}
	}
}

// Two faults at once are named where each is there, and one that is only what the
// other's shape misses is not.
func TestPairs(t *testing.T) {
	for _, row := range []struct {
		name string
		trim func(*Point) float64
		want [2]Cause
	}{
		{"flow and a leak", func(p *Point) float64 { return 7 + leaking(0.5)(p) }, [2]Cause{FlowScale, UnmeteredAir}},
		{"flow and an offset", func(p *Point) float64 { return -8 + 25*p.Inverse }, [2]Cause{FlowScale, InjectorOffset}},
		{"a leak alone", leaking(0.8), [2]Cause{}},
		{"a leak, and a little flow", func(p *Point) float64 { return 1 + leaking(0.8)(p) }, [2]Cause{}},
	} {
		res := ranked(shaped(8, row.trim), metered())
		if p := res.Together; (p != nil) != (row.want != [2]Cause{}) || p != nil && p.Causes != row.want && p.Causes != [2]Cause{row.want[1], row.want[0]} {
			t.Errorf("%s: %s", row.name, res.Verdict)
		}
	}
}

// A bent line is certain only where it beats every pair of causes.
func TestBentLines(t *testing.T) {
	hump := func(p *Point) float64 { u := math.Log(p.AirFlow / 15); return 9 * math.Exp(-4*u*u) }
	if res := ranked(shaped(9, hump), metered()); res.Leading().Cause != AirMeter || !res.Certain {
		t.Errorf("a hump in air flow: certain %v, %v: %s", res.Certain, res.Doubts, res.Verdict)
	}
	two := func(p *Point) float64 { return -8 + 25*p.Inverse }
	if res := ranked(shaped(9, two), metered()); res.Certain && res.Leading().Cause == AirMeter {
		t.Errorf("flow and offset: %s", res.Verdict)
	}
	// A meter that reads low throughout and lower at idle might as well be two faults.
	both := func(p *Point) float64 { return 4 + 7*math.Exp(-p.AirFlow/9) }
	if res := ranked(shaped(9, both), metered()); res.Certain && res.Leading().Cause == AirMeter {
		t.Errorf("what two causes fit as well: %s", res.Verdict)
	}
	efficiency := &facts{rail: 300, nominal: 300, follows: true, railGiven: true, computed: true}
	dip := func(p *Point) float64 {
		u, v := (p.Speed-2100)/600, (p.Manifold-50)/20
		return -12 * math.Exp(-u*u-v*v)
	}
	if res := ranked(shaped(12, dip), efficiency); res.Leading().Cause != VolumetricEfficiency || !res.Certain {
		t.Errorf("a dip in efficiency: certain %v, %v: %s", res.Certain, res.Doubts, res.Verdict)
	}
}

// A measured rail pressure is taken from the trims as far as they show it, names
// the cause where it counts, and says which.
func TestMeasuredRail(t *testing.T) {
	low := func(share func(p *Point) float64, shown bool) []*Point {
		points := shaped(10, always(0))
		for _, p := range points {
			p.Rail = share(p)
			p.railPressure = 300 * (1 + p.Rail)
			if shown {
				p.Trim[0] += 100 * deviation(p.Rail)
			}
		}
		return points
	}
	constant := func(p *Point) float64 { return -0.133 }
	sinking := func(p *Point) float64 { return -0.25 * min(1, max(0, (p.FuelFlow-0.8)/1.5)) }
	hose := func(p *Point) float64 { return (p.Barometer - p.Manifold) / 300 }
	for _, row := range []struct {
		name    string
		points  []*Point
		logged  bool
		lead    Cause
		verdict string
	}{
		{"a gauge reads 260", low(constant, true), false, PressureReference, "rail pressure is 260 kPa as measured and 300 kPa in the calibration"},
		{"logged, and sinks under load", low(sinking, true), true, SupplyLimit, "as the logged rail pressure falls"},
		{"logged, with the hose off", low(hose, true), true, PressureReference, "rail pressure is"},
		{"the controller corrects for it", low(constant, false), true, None, "no cause needed"},
		{"within 5 %", low(func(*Point) float64 { return -0.03 }, true), true, None, "no cause needed"},
	} {
		f := metered()
		f.railLogged = row.logged
		res := ranked(row.points, f)
		if res.Leading().Cause != row.lead || !res.Certain || !strings.Contains(res.Verdict, row.verdict) {
			t.Errorf("%s: certain %v: %s", row.name, res.Certain, res.Verdict)
		}
	}
	// What is left beside it is named with it.
	points := low(constant, true)
	for _, p := range points {
		p.Trim[0] = ((1+p.Trim[0]/100)*1.06 - 1) * 100
	}
	if res := ranked(points, metered()); res.Together == nil || res.Together.Causes != [2]Cause{PressureReference, FlowScale} {
		t.Errorf("a low rail, and flow: %s", res.Verdict)
	}
	// Two causes that are small beside it are not named, and still describe what
	// they are the fit of.
	points = low(func(*Point) float64 { return -0.4 }, true)
	for _, p := range points {
		p.Trim[0] = ((1+p.Trim[0]/100)*(1.03+leaking(0.2)(p)/100) - 1) * 100
	}
	res := ranked(points, metered())
	if res.Leading().Cause != PressureReference || res.Together != nil || !strings.Contains(fmt.Sprint(res.Found), "together with") {
		t.Errorf("a very low rail, and two small causes: %s, %v", res.Verdict, res.Together)
	}
}

// Without a coolant temperature the first minutes are left out, at most half of a
// drive; with one, none.
func TestWarmUpWithoutCoolant(t *testing.T) {
	cal := testdrive.Four()
	for _, row := range []struct {
		minutes float64
		without []string
		first   float64 // s, the least that a point may have
	}{{20, []string{"coolant"}, 290}, {6, []string{"coolant"}, 150}, {20, nil, 0}} {
		l := testdrive.Drive(cal, testdrive.Plant{Truth: cal}, testdrive.DriveOptions{Seed: 3, Minutes: row.minutes, Hz: 5, Without: row.without})
		res := mustExplain(t, cal, onDisk(t, l))
		if first := res.Points[0].Time; first < row.first || row.first == 0 && first > 120 {
			t.Errorf("%v minutes without %v: the first point is at %.0f s", row.minutes, row.without, first)
		}
	}
}

// An idle that hunts is seen while the log is read.
func TestHuntingIdleIsSeen(t *testing.T) {
	cal := testdrive.Four()
	for hunting, want := range map[float64]bool{0: false, 220: true} {
		plant := testdrive.Plant{Truth: cal, Fault: testdrive.Fault{Leak: 0.6, Hunting: hunting}}
		res := mustExplain(t, cal, onDisk(t, testdrive.Drive(cal, plant, testdrive.DriveOptions{Seed: 5, Minutes: 15})))
		if got := doubted(res, "idle never held still"); got != want {
			t.Errorf("hunting by %v r/min: %v, %s", hunting, res.Doubts, res.Verdict)
		}
	}
}

// A meter that reads low where little air flows is not told from a leak beside
// another fault; one that reads low elsewhere is.
func TestMeterOrLeak(t *testing.T) {
	tilt := func(p *Point) float64 { return 9 - 4*math.Log(p.AirFlow/3) }
	res := ranked(shaped(9, tilt), metered())
	if res.Leading().Cause != AirMeter || res.Certain || !doubted(res, "as a leak raises them") {
		t.Errorf("low at little air: certain %v, %v: %s", res.Certain, res.Doubts, res.Verdict)
	}
	hump := func(p *Point) float64 { u := math.Log(p.AirFlow / 15); return 9 * math.Exp(-4*u*u) }
	if res := ranked(shaped(9, hump), metered()); doubted(res, "as a leak raises them") {
		t.Errorf("a hump: %v", res.Doubts)
	}
}

// A sound engine is not certain where its operating points do not repeat.
func TestRestlessNone(t *testing.T) {
	for _, c := range []struct {
		size    float64
		certain bool
	}{{0.5, true}, {2.5, false}} {
		random := newRandom(31)
		res := ranked(shaped(31, func(*Point) float64 { return c.size * random.NormFloat64() }), metered())
		if res.Leading().Cause != None || res.Certain != c.certain || doubted(res, "the same places differ from themselves") == c.certain {
			t.Errorf("repeats that differ by %v %%: certain %v, %v: %s", c.size, res.Certain, res.Doubts, res.Verdict)
		}
	}
}

// Where no manifold pressure is logged a measured rail pressure still counts: by
// the manifold pressure that is estimated. 240 kPa for 300 over the atmosphere
// are 20 % less at full load, and less than that under vacuum.
func TestRailWithoutManifold(t *testing.T) {
	e := handEngine(t, 4, 1)
	e.Rail.RelativeTo = tables.Atmosphere
	x := &Explainer{e: e, res: &Result{}, facts: &facts{}}
	var points []*Point
	for k := 1; k <= 10; k++ {
		points = append(points, &Point{Speed: 3000, AirFlow: 8 * float64(k), Barometer: 100, Manifold: math.NaN(), Rail: math.NaN(), railPressure: 240})
	}
	points = append(points, &Point{Speed: 3000, AirFlow: 80, Barometer: 100, Manifold: math.NaN(), Rail: math.NaN(), railPressure: math.NaN()})
	x.estimateManifold(points)
	for i, want := range map[int]float64{0: -60.0 / 390, 9: -60.0 / 300, 10: math.NaN()} {
		if got := points[i].Rail; math.Abs(got-want) > 0.002 || (got == got) != (want == want) {
			t.Errorf("at %.0f kPa the rail is off by %v, want %v", points[i].Manifold, got, want)
		}
	}
}

// TestBesideMeasuredRail: 100 kPa too little everywhere is a regulator, whatever
// share of the difference to a full manifold that is; an offset that follows the
// pressure is no second fault, and a larger one is.
func TestBesideMeasuredRail(t *testing.T) {
	low := func(kpa, offset float64) *Result {
		points := shaped(10, always(0))
		for _, p := range points {
			p.railPressure = kpa
			over := 100 - p.Manifold // the rail is held against the atmosphere
			p.Rail = (kpa+over)/(300+over) - 1
			p.Trim[0] = ((1+p.Trim[0]/100)*(1+deviation(p.Rail)) - 1 + offset*p.Inverse) * 100
		}
		f := metered()
		f.railLogged = true
		return ranked(points, f)
	}
	if res := low(200, 0); res.Leading().Cause != PressureReference || res.Together != nil {
		t.Errorf("100 kPa low everywhere: %s", res.Verdict)
	}
	if res := low(280, -0.068); res.Leading().Cause != PressureReference || res.Together != nil {
		t.Errorf("with an offset that follows it: %s", res.Verdict)
	}
	for _, offset := range []float64{-0.15, 0.05} { // too much, and the other way
		if res := low(270, offset); res.Together == nil || !slices.Contains(res.Together.Causes[:], InjectorOffset) {
			t.Errorf("with an offset off by %v ms: %s", offset, res.Verdict)
		}
	}
}

// TestFlowBesideReference: little flow beside a lost hose may be a regulator
// that holds another pressure; much of it is flow.
func TestFlowBesideReference(t *testing.T) {
	const what = "a regulator that also holds another pressure"
	for flow, doubts := range map[float64]bool{3: true, 12: false} {
		res := ranked(shaped(10, func(p *Point) float64 {
			return ((1+hoseOff(300, p.Barometer, p.Manifold))*(1+flow/100) - 1) * 100
		}), metered())
		if res.Together == nil || doubted(res, what) != doubts {
			t.Errorf("flow off by %v %%: %v, %s", flow, res.Doubts, res.Verdict)
		}
	}
}

// TestQuietBank: where one bank needs nothing, the other alone is off.
func TestQuietBank(t *testing.T) {
	for _, c := range []struct{ one, two float64 }{{14, 0}, {0, 14}, {-0.9, 14}, {14, 6}} {
		points := shaped(10, always(0))
		for _, p := range points {
			p.Trim[0], p.Trim[1] = p.Trim[0]+c.one, p.Trim[0]+c.two
		}
		res := &Result{Points: points}
		r := newRows(points, 2)
		r.rank(res, metered())
		if single := c.one <= 0 || c.two == 0; single && res.Leading().Cause != BankDifference || (res.Together == nil) != single {
			t.Errorf("banks of %v and %v %%: %s, together %v", c.one, c.two, res.Leading().Cause, res.Together != nil)
		}
	}
}
