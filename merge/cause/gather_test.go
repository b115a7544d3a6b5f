package cause

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/cells/sift"
	"calsplice/interp/drive"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

var none = math.NaN()

// TestOperatingPointsByHand: one place is a step of 15 % of speed and 8 kPa of
// manifold pressure, or without that 15 % of a cylinder's air, or of the pulse.
func TestOperatingPointsByHand(t *testing.T) {
	place := func(speed, manifold, air, pulse float64) *sample {
		return &sample{speed: speed, manifold: manifold, air: air, pulse: pulse}
	}
	for _, c := range []struct {
		why  string
		a, b *sample
		same bool
	}{
		{"8 kPa", place(2000, 40, 9, 3), place(2000, 47.9, 20, 9), true},
		{"another 8 kPa", place(2000, 40, 9, 3), place(2000, 48, 9, 3), false},
		{"speed within 15 %", place(1090, 40, 9, 3), place(1240, 40, 9, 3), true},
		{"speed 15 % on", place(1090, 40, 9, 3), place(1254, 40, 9, 3), false},
		{"air for want of pressure", place(2000, none, 9, 3), place(2000, none, 11, 3), false},
		{"the same air a cylinder at another speed", place(1090, none, 9, 3), place(1240, none, 9*1240/1090., 3), true},
		{"the same air, another pulse", place(2000, none, 9, 3), place(2000, none, 9, 7), true},
		{"a pulse for want of both", place(2000, none, none, 3), place(2000, none, none, 4), false},
		{"the same pulse", place(2000, none, none, 3), place(2000, none, none, 3), true},
		{"nothing", place(2000, none, none, none), place(2000, none, none, none), true},
	} {
		g := newGatherer()
		if got := g.cell(c.a) == g.cell(c.b); got != c.same {
			t.Errorf("%s: one place %v", c.why, got)
		}
	}
}

// TestSteps: 1.15 and 1.32 are in the first step, 1.33 in the second, and what is not above
// 0 in none; whatever was asked for before.
func TestSteps(t *testing.T) {
	var used steps
	nowhere := used.of(0)
	for _, c := range []struct {
		v    float64
		want int
	}{{0.99, -1}, {-3, nowhere}, {1.01, 0}, {1.14, 0}, {1.151, 1}, {1.33, 2}, {1.32, 1}, {none, nowhere}, {1.2, 1}, {1e-9, -149}, {1.14, 0}, {1e9, 148}} {
		var fresh steps
		if got, again := fresh.of(c.v), used.of(c.v); got != c.want || again != c.want {
			t.Errorf("%v is in step %d, and after others in step %d; want %d", c.v, got, again, c.want)
		}
	}
}

// TestPointsByHand: samples of one place within ten seconds are one point with their
// means; a place that is come back to within them goes on; another log, slice or
// place begins another. What is not logged is in no mean.
func TestPointsByHand(t *testing.T) {
	g := newGatherer()
	add := func(log int, clock, manifold, trim, mixture float64) {
		g.add(&sample{log: log, time: clock + 100, clock: clock, seconds: 0.5, speed: 2000, manifold: manifold, baro: 100, air: 8, fuel: 0.5,
			p: 4, duty: 10, rail: -0.1, railPressure: 270, foreign: 1, mixture: mixture, trim: [2]float64{trim, none}, held: [2]float64{trim, none}})
	}
	add(0, 0, 40, 2, 5)
	add(0, 1, 90, 9, 5)
	add(0, 2, 40, 4, none)
	add(0, 9.9, 40, 6, 7)
	add(0, 10, 40, 8, 5)
	add(1, 10, 40, 10, 5)
	points := g.finish()
	type short struct {
		log, samples                 int
		time, seconds, trim, mixture float64
	}
	var got []short
	for _, p := range points {
		got = append(got, short{p.Log, p.Samples, p.Time, p.Seconds, p.Trim[0], p.mixture})
		if p.Speed != 2000 || p.Barometer != 100 || p.AirFlow != 8 || p.FuelFlow != 0.5 || p.Inverse != 0.25 || p.Duty != 10 ||
			p.Rail != -0.1 && math.Abs(p.Rail+0.1) > 1e-12 || p.railPressure != 270 || p.foreign != 1 || p.Trim[1] == p.Trim[1] {
			t.Errorf("%+v", p)
		}
	}
	want := []short{{0, 3, 100, 1.5, 4, 6}, {0, 1, 101, 0.5, 9, 5}, {0, 1, 110, 0.5, 8, 5}, {1, 1, 110, 0.5, 10, 5}}
	if !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if points[0].cell != points[2].cell || points[0].cell == points[1].cell {
		t.Error("a place has another number the next time")
	}
}

// TestRowsOfOneInstant: rows that share one reading of the clock took 0.02 s each.
func TestRowsOfOneInstant(t *testing.T) {
	g := newGatherer()
	for range 50 {
		g.add(&sample{speed: 2000, manifold: 40, trim: [2]float64{1, none}, held: [2]float64{none, none}})
	}
	if p := g.finish()[0]; math.Abs(p.Seconds-1) > 1e-12 {
		t.Errorf("50 rows took %v s", p.Seconds)
	}
}

// TestAtLimitByHand: the share of a point's samples at a limit is of those that stand
// there: of a trim whose 30 readings at 10 % are its extreme, a point of 40 samples
// of which 10 stand there has a quarter.
func TestAtLimitByHand(t *testing.T) {
	for _, sign := range []float64{1, -1} {
		g := newGatherer()
		for i := range 80 {
			v := 3.0
			if i < 20 || i >= 40 && i < 50 {
				v = 10
			}
			g.add(&sample{clock: float64(i / 40 * 10), speed: 2000, manifold: 40, trim: [2]float64{sign * v, none}, held: [2]float64{sign * v, none}})
		}
		points := g.finish()
		if points[0].AtLimit != [2]float64{0.5, 0} || points[1].AtLimit != [2]float64{0.25, 0} {
			t.Errorf("%v and %v", points[0].AtLimit, points[1].AtLimit)
		}
	}
}

// TestBesideALimit: readings up to 2.5 % in from a trim's extreme count against its being
// a limit, and those further in do not, however many.
func TestBesideALimit(t *testing.T) {
	for _, sign := range []float64{1, -1} {
		for beside, want := range map[float64]float64{5.4: 0, 5.2: 0.25} {
			g := newGatherer()
			for i := range 80 {
				v := beside
				if i%4 == 0 {
					v = 7.8
				}
				g.add(&sample{speed: 2000, manifold: 40, trim: [2]float64{sign * v, none}, held: [2]float64{sign * v, none}})
			}
			if got := g.finish()[0].AtLimit[0]; got != want {
				t.Errorf("7.8 %% beside %v %%, sign %v: %v of the samples are at a limit, want %v", beside, sign, got, want)
			}
		}
	}
}

// TestKnownByItsTrims: a log with a channel more is the same log; one whose trims, times or
// speeds differ, or come in another order, is another.
func TestKnownByItsTrims(t *testing.T) {
	printOf := func(times []float64, change func(v map[drive.Channel]float64, i int)) string {
		r := handReader(t, false)
		for i, at := range times {
			v := usual()
			v[drive.Trim1] = float64(i)
			change(v, i)
			r.columnwise(frameOf(at, 0, r.columns, v))
		}
		return r.print.String()
	}
	same := func(map[drive.Channel]float64, int) {}
	known := printOf([]float64{0, 1, 2}, same)
	for why, c := range map[string]struct {
		got  string
		same bool
	}{
		"a manifold pressure more": {printOf([]float64{0, 1, 2}, func(v map[drive.Channel]float64, _ int) { v[drive.Manifold]++ }), true},
		"another trim":             {printOf([]float64{0, 1, 2}, func(v map[drive.Channel]float64, i int) { v[drive.Trim1] += float64(i / 2) }), false},
		"another speed":            {printOf([]float64{0, 1, 2}, func(v map[drive.Channel]float64, i int) { v[drive.Speed] += float64(i / 2) }), false},
		"another time":             {printOf([]float64{0, 1, 3}, same), false},
		"another order":            {printOf([]float64{0, 1, 2}, func(v map[drive.Channel]float64, i int) { v[drive.Trim1] = float64((i + 1) % 3) }), false},
	} {
		if (c.got == known) != c.same {
			t.Errorf("%s: the same log %v, want %v", why, c.got == known, c.same)
		}
	}
}

// TestStandsAtALimit: a trim's limit is its extreme, 7.6 % or more, with ten readings
// and more of them than there are within 2.5 % of it.
func TestStandsAtALimit(t *testing.T) {
	for _, c := range []struct {
		why    string
		v      float64
		counts map[float64]int
		want   bool
	}{
		{"ten readings", 8, map[float64]int{8: 10, 0: 900}, true},
		{"nine", 8, map[float64]int{8: 9, 0: 900}, false},
		{"7.6 %", 7.6, map[float64]int{7.6: 10}, true},
		{"7.5 %", 7.5, map[float64]int{7.5: 10}, false},
		{"others went further", 8, map[float64]int{8: 10, 8.5: 1}, false},
		{"as many beside it", 8, map[float64]int{8: 10, 7: 5, 6: 5}, false},
		{"one less", 8, map[float64]int{8: 10, 7: 5, 6: 4}, true},
		{"2.5 % away is not beside it", 8, map[float64]int{8: 10, 5.5: 50}, true},
		{"2.25 % away is", 8, map[float64]int{8: 10, 5.75: 50}, false},
	} {
		for _, sign := range []float64{1, -1} {
			l := &limits{count: map[float64]int{}}
			for v, n := range c.counts {
				l.count[sign*v] = n
			}
			if got := l.stands(sign*c.v, sign); got != c.want {
				t.Errorf("%s, sign %v: %v", c.why, sign, got)
			}
		}
	}
	l := &limits{}
	for i := range most + 5 {
		l.add(float64(i))
		l.add(0)
	}
	if len(l.count) != most || l.count[0] != most+6 {
		t.Errorf("%d different readings are told apart, 0 was read %d times", len(l.count), l.count[0])
	}
}

// TestMeanOfBanks: a trim is the mean of the banks that have one.
func TestMeanOfBanks(t *testing.T) {
	for _, c := range []struct{ one, two, want float64 }{{2, 4, 3}, {2, none, 2}, {none, 4, 4}, {none, none, none}} {
		if got := meanOf(c.one, c.two); got != c.want && !(got != got && c.want != c.want) {
			t.Errorf("%v and %v: %v", c.one, c.two, got)
		}
	}
}

// TestEndsByHand: the furthest reading on one side, and how often.
func TestEndsByHand(t *testing.T) {
	for sign, want := range map[float64]end{1: {5, 2}, -1: {-3, 1}} {
		var e end
		for _, v := range []float64{2, 5, 5, -3, 4} {
			e.join(end{v, 1}, sign)
		}
		if e != want {
			t.Errorf("sign %v: %+v, want %+v", sign, e, want)
		}
	}
}

// TestMovingByHand: a trim that goes from 1 to 3 moves by 2; three readings of 0, 2
// and 1 have a slope of 0.5 over two seconds, and scatter by as much as it says.
func TestMovingByHand(t *testing.T) {
	for _, c := range []struct {
		why  string
		t, y []float64
		want float64 // the square
	}{
		{"a line", []float64{10, 11, 12}, []float64{1, 2, 3}, 4},
		{"downwards", []float64{10, 11, 12}, []float64{3, 2, 1}, 4},
		{"with a gap in it", []float64{10, 11, 12}, []float64{1, none, 3}, 4},
		// slope 1.5 a second; about the line +0.5, −1, +0.5: 1.5 over 1 degree and a spread of 2: 2.25 − 0.75.
		{"scatter", []float64{0, 1, 2}, []float64{0, 0, 3}, (2.25 - 0.75) * 4},
		{"more scatter than slope", []float64{0, 1, 2}, []float64{0, 2, 1}, 0},
		// four readings have two degrees: slope 0.8, residuals 0.2 −0.6 0.6 −0.2: 0.8/2/5
		{"four", []float64{0, 1, 2, 3}, []float64{0, 0, 2, 2}, (0.64 - 0.08) * 9},
		{"one instant", []float64{1, 1}, []float64{0, 5}, 0},
		{"nothing", nil, nil, 0},
	} {
		var m moving
		for i, v := range c.t {
			m.add(v, c.y[i])
		}
		if got := m.square(); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %v, want %v", c.why, got, c.want)
		}
	}
}

// gathered puts points into one level of an explainer, each of its own place.
func gathered(x *Explainer, level, places int, seconds float64) {
	x.levels[level] = newGatherer()
	for k := range places {
		x.levels[level].add(&sample{seconds: seconds / float64(places), speed: 2000, manifold: 20 + 8*float64(k), trim: [2]float64{1, none}, held: [2]float64{none, none}})
	}
}

// TestStrictestThatSuffices: settled samples serve where they last 40 s over five
// places, or over fewer where all of the drive is hardly more; else what is less
// strict serves, and that is a caution.
func TestStrictestThatSuffices(t *testing.T) {
	type level struct {
		places  int
		seconds float64
	}
	for _, c := range []struct {
		why    string
		levels [3]level
		want   int
	}{
		{"settled", [3]level{{5, 40}, {8, 90}, {9, 99}}, 0},
		{"too short", [3]level{{5, 39}, {8, 90}, {9, 99}}, 1},
		{"too few places of a drive with more", [3]level{{4, 60}, {8, 90}, {9, 99}}, 1},
		{"too few places of one without", [3]level{{4, 67}, {8, 90}, {9, 99}}, 0},
		{"never steady", [3]level{{5, 9}, {8, 39}, {9, 99}}, 2},
		{"all too short", [3]level{{5, 9}, {8, 9}, {9, 9}}, 2},
	} {
		x := &Explainer{res: &Result{}}
		for k, l := range c.levels {
			gathered(x, k, l.places, l.seconds)
		}
		points, _ := x.choose()
		if len(points) != c.levels[c.want].places || (len(x.res.Cautions) == 1) != (c.want > 0) || c.want > 0 && x.res.Cautions[0] != levelSaid[c.want] {
			t.Errorf("%s: %d points, %q", c.why, len(points), x.res.Cautions)
		}
	}
	x := &Explainer{res: &Result{}, levels: [3]*gatherer{newGatherer(), newGatherer(), newGatherer()}}
	if points, _ := x.choose(); len(points) != 0 || len(x.res.Cautions) != 0 {
		t.Errorf("nothing at all: %v, %q", points, x.res.Cautions)
	}
}

// TestWarmByHand: without a coolant temperature five minutes of each log are left
// out, or half of a shorter one.
func TestWarmByHand(t *testing.T) {
	points := func() (list []*Point) {
		for i := range 11 {
			list = append(list, &Point{Log: 0, clock: 50 + 100*float64(i)}) // 1,000 s
		}
		for i := range 5 {
			list = append(list, &Point{Log: 1, clock: 2000 + 100*float64(i)}) // 400 s
		}
		return list
	}
	x := &Explainer{res: &Result{}}
	warm := x.warm(points())
	if len(warm) != 8+3 || warm[0].clock != 350 || warm[8].clock != 2200 || len(x.res.Cautions) != 1 {
		t.Errorf("%d points, %q", len(warm), x.res.Cautions)
	}
	x = &Explainer{res: &Result{}, coolant: true}
	if warm := x.warm(points()); len(warm) != 16 || len(x.res.Cautions) != 0 {
		t.Errorf("with a coolant temperature: %d points, %q", len(warm), x.res.Cautions)
	}
	x = &Explainer{res: &Result{}}
	if x.warm(nil); len(x.res.Cautions) != 0 {
		t.Errorf("no points: %q", x.res.Cautions)
	}
}

// TestBanksThatLive: a bank that is always 0, or that is read half as often as the
// other, is no bank; two that live keep the points that have both.
func TestBanksThatLive(t *testing.T) {
	for _, c := range []struct {
		why      string
		one, two []float64 // trims of each point
		banks    int
		kept     []float64 // the first bank's trims
		caution  string
		fails    bool
	}{
		{"both", []float64{1, 2, none}, []float64{3, none, 5}, 2, []float64{1}, "", false},
		{"one", []float64{1, 2}, []float64{none, none}, 1, []float64{1, 2}, "", false},
		{"the other", []float64{none, none}, []float64{3, 4}, 1, []float64{3, 4}, "", false},
		{"bank 2 is always 0", []float64{1, 2}, []float64{0, 0}, 1, []float64{1, 2}, "bank 2's trim is always 0", false},
		{"bank 1 is always 0", []float64{0, 0}, []float64{3, 4}, 1, []float64{3, 4}, "bank 1's trim is always 0", false},
		{"bank 2 is read less than half as often", []float64{1, 2, 3}, []float64{4, none, none}, 1, []float64{1, 2, 3}, "", false},
		{"bank 2 is read half as often", []float64{1, 2}, []float64{4, none}, 2, []float64{1}, "", false},
		{"bank 1 is read less than half as often", []float64{4, none, none}, []float64{1, 2, 3}, 1, []float64{1, 2, 3}, "", false},
		{"bank 1 is read half as often", []float64{4, none}, []float64{1, 2}, 2, []float64{4}, "", false},
		{"all 0", []float64{0, 0}, []float64{0, none}, 0, nil, "", true},
	} {
		var points []*Point
		for i := range c.one {
			points = append(points, &Point{Trim: [2]float64{c.one[i], c.two[i]}, AtLimit: [2]float64{0.1, 0.2}})
		}
		x := &Explainer{res: &Result{Logs: []tables.Source{{Name: "drive.csv"}}}}
		kept, banks, err := x.fitted(points)
		if c.fails {
			if err == nil || !strings.HasPrefix(err.Error(), "drive.csv: every fuel trim is 0 in closed loop") {
				t.Errorf("%s: %v", c.why, err)
			}
			continue
		}
		var trims []float64
		for _, p := range kept {
			trims = append(trims, p.Trim[0])
			if limit := p.AtLimit[1]; banks == 1 && (limit != 0 || p.Trim[1] == p.Trim[1]) {
				t.Errorf("%s: one bank, but %+v", c.why, p)
			}
		}
		if banks != c.banks || !slices.Equal(trims, c.kept) || (len(x.res.Cautions) == 1) != (c.caution != "") || c.caution != "" && !strings.HasPrefix(x.res.Cautions[0], c.caution) {
			t.Errorf("%s: %d banks, %v, %q", c.why, banks, trims, x.res.Cautions)
		}
	}
	if p := only([]*Point{{Trim: [2]float64{1, 2}, AtLimit: [2]float64{0.1, 0.2}}}, 1)[0]; p.Trim[0] != 2 || p.AtLimit != [2]float64{0.2, 0} {
		t.Errorf("bank 2 alone is %+v", p)
	}
}

// TestPointsThatLackAQuantity: where fewer than a third lack one they are left out,
// where more do no point has it.
func TestPointsThatLackAQuantity(t *testing.T) {
	for _, of := range []struct {
		name string
		of   func(p *Point) *float64
	}{
		{"manifold", func(p *Point) *float64 { return &p.Manifold }}, {"air", func(p *Point) *float64 { return &p.AirFlow }}, {"fuel", func(p *Point) *float64 { return &p.FuelFlow }},
		{"inverse", func(p *Point) *float64 { return &p.Inverse }}, {"rail", func(p *Point) *float64 { return &p.Rail }},
	} {
		for _, c := range []struct{ points, lacking, left, with int }{{7, 2, 5, 5}, {6, 2, 6, 0}, {6, 0, 6, 6}, {6, 6, 6, 0}} {
			var points []*Point
			for i := range c.points {
				p := &Point{Manifold: 1, AirFlow: 1, FuelFlow: 1, Inverse: 1, Rail: 1}
				if i < c.lacking {
					*of.of(p) = []float64{none, math.Inf(1)}[i%2]
				}
				points = append(points, p)
			}
			left, with := whole(points), 0
			for _, p := range left {
				if *of.of(p) == 1 {
					with++
				}
			}
			if len(left) != c.left || with != c.with {
				t.Errorf("%s: %d of %d lack it: %d points, %d with it", of.name, c.lacking, c.points, len(left), with)
			}
		}
	}
}

// TestEstimatedManifold: without a manifold pressure it is the barometer times the
// share of a full cylinder's air: the most that the drive shows, or what 2 L take at
// a filling of 0.85 with 1.15 g/L, whichever is more.
func TestEstimatedManifold(t *testing.T) {
	for _, c := range []struct {
		why    string
		volume float64 // L of the engine
		air    float64 // g/s at 3,000 r/min at most
		want   float64 // kPa, of half of that
	}{
		{"by the most of the drive", 0, 60, 50},
		{"by the displacement", 2, 30, 100 * 15 / (1.15 * 0.85 * 2 / 30 / 4 * 3000)},
		{"more than the displacement takes", 2, 60, 50},
	} {
		e := handEngine(t, 4, 1)
		e.Volume = c.volume
		x := &Explainer{e: e, res: &Result{}, facts: &facts{}}
		points := []*Point{{Speed: 3000, AirFlow: c.air, Barometer: 100, Manifold: none, railPressure: none}, {Speed: 3000, AirFlow: c.air / 2, Barometer: 100, Manifold: none, railPressure: none}}
		x.estimateManifold(points)
		if got := points[1].Manifold; math.Abs(got-c.want) > 1e-9 || len(x.res.Cautions) != 1 {
			t.Errorf("%s: %v kPa, want %v; %q", c.why, got, c.want, x.res.Cautions)
		}
	}
	for why, p := range map[string]*Point{"logged": {Speed: 3000, AirFlow: 9, Manifold: 40}, "no air": {Speed: 3000, AirFlow: none, Manifold: none}, "no flow of air": {Speed: 3000, Manifold: none}} {
		e := handEngine(t, 4, 1)
		x := &Explainer{e: e, res: &Result{}, facts: &facts{}}
		before := p.Manifold
		if x.estimateManifold([]*Point{p}); len(x.res.Cautions) > 0 || p.Manifold != before && before == before || before != before && p.Manifold == p.Manifold {
			t.Errorf("%s: %v kPa", why, p.Manifold)
		}
	}
}

// TestSampleRejections: an engine that stands, and trims that are not read, are no
// evidence.
func TestSampleRejections(t *testing.T) {
	for _, c := range []struct {
		speed    float64
		one, two float64
		want     rejected
	}{{0, 5, none, standing}, {none, 5, none, standing}, {0.5, 5, none, fit}, {3000, none, none, noTrim}, {3000, none, 5, fit}, {3000, 5, none, fit}} {
		d := &deriver{e: handEngine(t, 4, 1), pulseFrom: logged, airFrom: logged}
		r := handRaw()
		r[drive.Speed], r[drive.Trim1], r[drive.Trim2] = c.speed, c.one, c.two
		if got := d.sample(r, &sample{}); got != c.want {
			t.Errorf("%v r/min, trims %v and %v: %q, want %q", c.speed, c.one, c.two, got, c.want)
		}
	}
}

// TestForeignAndUnapplied: 29 g/s at a ratio of 14.5 over 100 injections a second is
// 20 mg, 10 ms at 2 mg/ms; a trim of +25 % makes that 12.5 ms and an offset 13.5. A
// pulse within 4 % and 0.03 ms of it is this calibration's; one that is nearer to 11
// than to 13.5 has no trim in it.
func TestForeignAndUnapplied(t *testing.T) {
	for _, c := range []struct {
		why       string
		pulse     float64
		foreign   float64
		unapplied bool
	}{
		{"as commanded", 13.5, 0, false},
		{"within 4 % and 0.03 ms", 14.08, 0, false},
		{"past it", 14.11, 1, false},
		{"below", 12.94, 1, false},
		{"without the trim", 11, 1, true},
		{"nearer to that", 12.2, 1, true},
		{"nearer to the other", 12.3, 1, false},
	} {
		d := &deriver{e: handEngine(t, 4, 1), pulseFrom: logged, airFrom: logged}
		r, s := handRaw(), &sample{}
		r[drive.Pulse] = c.pulse
		if why := d.sample(r, s); why != fit || s.foreign != c.foreign || s.unapplied != c.unapplied {
			t.Errorf("%s: %q, foreign %v, unapplied %v", c.why, why, s.foreign, s.unapplied)
		}
	}
	for why, how := range map[string]func(d *deriver){"nothing replays": func(d *deriver) { d.airFrom = fromFuel }, "air by a table": func(d *deriver) { d.e.efficiency, d.e.meter = true, false }} {
		d := &deriver{e: handEngine(t, 4, 1), pulseFrom: logged, airFrom: logged}
		how(d)
		s := &sample{}
		if d.sample(handRaw(), s); s.foreign == s.foreign {
			t.Errorf("%s: foreign %v", why, s.foreign)
		}
	}
	d := &deriver{e: handEngine(t, 4, 1), pulseFrom: logged, airFrom: logged}
	d.e.efficiency = true // beside a meter
	s := &sample{}
	if d.sample(handRaw(), s); s.foreign != 1 {
		t.Errorf("metered air, and a table: foreign %v", s.foreign)
	}
}

// TestRailOfASample: a logged pressure of 270 kPa against a nominal one of 300 over
// the manifold is 10 % less, and without one there is none. A barometer that is not
// logged is 101.325 kPa.
func TestRailOfASample(t *testing.T) {
	d := &deriver{e: handEngine(t, 4, 1), pulseFrom: logged, airFrom: logged}
	r, s := handRaw(), &sample{}
	if d.sample(r, s); s.rail == s.rail || s.baro != 100 {
		t.Errorf("not logged: %v", s.rail)
	}
	r[drive.Rail], r[drive.Barometer] = 270, none
	if d.sample(r, s); math.Abs(s.rail+0.1) > 1e-12 || s.railPressure != 270 || s.baro != 101.325 {
		t.Errorf("%+v", s)
	}
	// A controller may trust the sensor: the pulse that 10 % less pressure wants is its own too.
	r, s = handRaw(), &sample{}
	r[drive.Rail], r[drive.Pulse] = 270, 13.5
	if d.sample(r, s); s.foreign != 0 {
		t.Errorf("the nominal pressure's pulse is foreign: %v", s.foreign)
	}
}

// TestSensorAtTheRail: flow that goes with pressure, 3 mg/ms at 300 kPa and 2.7 at 270: the
// pulse that a sensor of 270 kPa wants is this calibration's, and so is the nominal one's;
// that of 330 is not.
func TestSensorAtTheRail(t *testing.T) {
	e := handEngine(t, 4, 1)
	x, err := tables.NewAxis(tables.DifferentialPressure, "kPa", []float64{200, 400})
	if err != nil {
		t.Fatal(err)
	}
	table, err := tables.NewTable(tables.Fields{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s", X: x, Values: []float64{2, 4}})
	if err != nil {
		t.Fatal(err)
	}
	if e.FlowTable, err = lookup.Bind(table); err != nil {
		t.Fatal(err)
	}
	for pulse, want := range map[float64]float64{1 + 25/2.7: 0, 1 + 25/3.: 0, 1 + 25/3.3: 1} { // of 20 mg and 25 % more
		d := &deriver{e: e, pulseFrom: logged, airFrom: logged}
		r, s := handRaw(), &sample{}
		r[drive.Rail], r[drive.Pulse] = 270, pulse
		if why := d.sample(r, s); why != fit || s.foreign != want {
			t.Errorf("%v ms: %q, foreign %v, want %v", pulse, why, s.foreign, want)
		}
	}
}

// TestAirByHand: a cylinder's 290 mg, four times in each of 25 cycles a second, are
// 29 g/s; 60 kPa of a 2 L engine fill 0.8 of it with air of 300 K.
func TestAirByHand(t *testing.T) {
	for _, c := range []struct {
		why  string
		from source
		how  func(r *drive.Instant, e *vehicle)
		want float64
	}{
		{"charge", fromCharge, func(r *drive.Instant, e *vehicle) { r[drive.Charge] = 290 }, 29},
		{"charge of an engine without a count of cylinders", fromCharge, func(r *drive.Instant, e *vehicle) { r[drive.Charge], e.Cylinders = 290, 0 }, 29. / 4},
		{"pressure", fromPressure, func(r *drive.Instant, e *vehicle) { e.Volume = 2 }, 0.8 * 60 * 2 * 25 / (0.28705 * 300)},
		{"pressure of an engine without a volume", fromPressure, func(r *drive.Instant, e *vehicle) { e.Volume = 0 }, 0.8 * 60 * 25 / (0.28705 * 300)},
		{"logged as 0", logged, func(r *drive.Instant, e *vehicle) { r[drive.AirFlow] = 0 }, none},
		{"from nothing", nowhere, func(*drive.Instant, *vehicle) {}, none},
	} {
		d := &deriver{e: handEngine(t, 4, 1), airFrom: c.from}
		r, s := handRaw(), &sample{}
		c.how(r, d.e)
		if d.air(s, r, 25); !(math.Abs(s.air-c.want) < 1e-9) && !(s.air != s.air && c.want != c.want) {
			t.Errorf("%s: %v, want %v", c.why, s.air, c.want)
		}
	}
}

// TestFuelByHand: what fuel and pulse follow from: 4 ms at 0.2 g/s a ms are 0.8 g/s;
// 29 g/s of air want 2, which are 10 ms.
func TestFuelByHand(t *testing.T) {
	for _, c := range []struct {
		why           string
		pulse, air    source
		lambda        float64
		fuel, p, flow float64 // air flow
	}{
		{"air and pulse logged", logged, logged, 1, 2, 4, 29},
		{"lambda that the controller never fills", logged, logged, 0, 2, 4, 29},
		{"lambda 0.5", logged, logged, 0.5, 4, 4, 29},
		{"air from fuel", logged, fromFuel, 0.5, 0.8, 4, 0.8 * 14.5 * 0.5},
		{"no air", logged, nowhere, 1, 0.8, 4, 29},
		{"a pulse from air", fromAir, logged, 1, 2, 10, 29},
	} {
		d := &deriver{e: handEngine(t, 4, 1), pulseFrom: c.pulse, airFrom: c.air}
		s := &sample{p: 4, air: 29}
		d.fuel(s, c.lambda, 0.2)
		if math.Abs(s.fuel-c.fuel)+math.Abs(s.p-c.p)+math.Abs(s.air-c.flow) > 1e-9 {
			t.Errorf("%s: fuel %v, p %v, air %v", c.why, s.fuel, s.p, s.air)
		}
	}
}

// TestFactsByHand: what a calibration and a log say of the air, the rail and the
// pulse decides which causes are offered.
func TestFactsByHand(t *testing.T) {
	for _, c := range []struct {
		why                         string
		how                         func(d *deriver)
		metered, computed, relative bool
	}{
		{"an air meter", func(d *deriver) {}, true, false, false},
		{"logged air and no table of it", func(d *deriver) { d.e.meter = false }, true, false, false},
		{"derived air and no table of it", func(d *deriver) { d.e.meter, d.airFrom = false, fromCharge }, false, false, false},
		{"air by efficiency", func(d *deriver) { d.e.meter, d.e.efficiency = false, true }, false, true, false},
		{"both tables", func(d *deriver) { d.e.efficiency = true }, true, false, false},
		{"a pulse from air", func(d *deriver) { d.pulseFrom = fromAir }, true, false, false},
		{"a pulse from air without flow", func(d *deriver) { d.pulseFrom, d.e.FlowTable = fromAir, nil }, true, false, true},
		{"a pulse from air without injectors", func(d *deriver) { d.pulseFrom, d.e.Injectors = fromAir, 0 }, true, false, true},
		{"a pulse from air that pressure stands for", func(d *deriver) { d.pulseFrom, d.airFrom = fromAir, fromPressure }, true, false, true},
		{"a logged pulse without flow", func(d *deriver) { d.e.FlowTable = nil }, true, false, false},
	} {
		d := &deriver{e: handEngine(t, 4, 1), pulseFrom: logged, airFrom: logged, railLogged: true, purgeLogged: true}
		c.how(d)
		f := d.facts()
		if f.metered != c.metered || f.computed != c.computed || f.relative != c.relative || !f.follows || !f.railGiven || f.rail != 300 || f.nominal != 300 || !f.railLogged || !f.purge {
			t.Errorf("%s: %+v", c.why, f)
		}
	}
	d := &deriver{e: handEngine(t, 4, 1)}
	d.e.Rail.RelativeTo, d.e.Rail.Pressure = tables.Absolute, 400
	if f := d.facts(); math.Abs(f.rail-298.675) > 1e-9 || f.nominal != 400 || f.follows {
		t.Errorf("400 kPa absolute: %+v", f)
	}
	x := &Explainer{}
	x.join(&deriver{e: handEngine(t, 4, 1), pulseFrom: fromAir, railLogged: true, purgeLogged: true, airFrom: logged})
	other := &deriver{e: handEngine(t, 4, 1), pulseFrom: fromAir, airFrom: fromPressure}
	other.e.meter = false
	if x.join(other); x.facts.metered || !x.facts.relative || x.facts.railLogged || x.facts.purge {
		t.Errorf("two logs: %+v", x.facts)
	}
	x = &Explainer{}
	x.join(other)
	if x.join(&deriver{e: handEngine(t, 4, 1), pulseFrom: fromAir, railLogged: true, purgeLogged: true, airFrom: logged}); x.facts.metered || !x.facts.relative || x.facts.railLogged || x.facts.purge {
		t.Errorf("the other way round: %+v", x.facts)
	}
}

// TestLevels: each reason that leaves a sample out at one level of strictness, and
// lets it in at the next.
func TestLevels(t *testing.T) {
	for why, want := range map[sift.Reason]int{sift.Kept: 0, sift.PartCycle: 1, sift.NotSettled: 1, sift.NotSteady: 2, sift.NotClosedLoop: -1} {
		if got := level(why); got != want {
			t.Errorf("%v: %d, want %d", why, got, want)
		}
	}
	x := &Explainer{levels: [3]*gatherer{newGatherer(), newGatherer(), newGatherer()}}
	r := &reader{x: x}
	for at := range 3 {
		r.take(&sample{clock: float64(at), speed: 2000, manifold: 20, trim: [2]float64{1, none}, held: [2]float64{none, none}}, at)
	}
	for k, want := range []int{1, 2, 3} {
		if got := x.levels[k].points[0].Samples; got != want {
			t.Errorf("level %d has %d samples, want %d", k, got, want)
		}
	}
	if r.kept != 1 {
		t.Errorf("%d samples are counted as kept", r.kept)
	}
}

// TestModeByHand: which instants are closed loop where the reader decides: in a log
// with a wideband sensor by status and commanded lambda, without a status by a short
// trim that stands at 0.
func TestModeByHand(t *testing.T) {
	for _, c := range []struct {
		why          string
		wide, status bool
		says         float64 // fuel status
		commanded    float64
		want         rejected
	}{
		{"the filters decide", false, true, 4, 0.8, fit},
		{"closed", true, true, 2, 1, fit},
		{"closed with a fault", true, true, 16, 1, fit},
		{"open", true, true, 4, 1, openLoop},
		{"no status read", true, true, none, 1, openLoop},
		{"no status in the log", true, false, none, 1, fit},
		{"enriched", true, true, 2, 0.96, enriched},
		{"hardly enriched", true, true, 2, 0.97, fit},
		{"a column that is never filled", true, true, 2, 0.4, fit},
	} {
		r := &reader{wide: c.wide, status: c.status}
		if got := r.mode(c.says, c.commanded, 1, none, 0.1); got != c.want {
			t.Errorf("%s: %q, want %q", c.why, got, c.want)
		}
	}
}

// TestOpenByHand: the loop seems open where every short trim has stood at 0 for more
// than 1.5 s; one that moves, and a pause in the log, begin again.
func TestOpenByHand(t *testing.T) {
	type instant struct {
		one, two, dt float64
		open, zero   bool
	}
	for why, list := range map[string][]instant{
		"one bank":         {{0, none, 1, false, true}, {0, none, 0.5, false, true}, {0, none, 0.1, true, true}, {1, none, 0.1, false, false}, {0, none, 0.1, false, true}},
		"two banks":        {{0, 0, 1.5, false, true}, {0, 1, 0.5, false, false}, {0, 0, 1.2, false, true}, {0, 0, 0.4, true, true}},
		"a pause":          {{0, none, 1.5, false, true}, {0, none, 1.6, false, false}, {0, none, 1.5, false, true}},
		"no trim is read":  {{none, none, 9, false, false}},
		"one that is read": {{none, 0, 1.5, false, true}, {none, 0, 0.1, true, true}},
	} {
		r := &reader{}
		for i, v := range list {
			if open := r.open(v.one, v.two, v.dt); open != v.open || r.zero != v.zero {
				t.Errorf("%s, instant %d: open %v, at 0 %v", why, i, open, r.zero)
			}
		}
	}
	r := &reader{status: true}
	for range 2 {
		if r.open(0, none, 1) {
			t.Error("a log that says when the loop is open is not believed")
		}
	}
}

// TestIdleByHand: seconds of closed loop from 400 to 1,200 r/min, and of these the
// settled ones; an instant counts for two seconds at most.
func TestIdleByHand(t *testing.T) {
	for _, c := range []struct {
		mode      rejected
		speed, dt float64
		at        int
		all, held float64
	}{
		{fit, 800, 1, 0, 1, 1}, {fit, 800, 1, 1, 1, 0}, {fit, 800, 9, 0, 2, 2}, {openLoop, 800, 1, 0, 0, 0}, {fit, 400, 1, 0, 0, 0}, {fit, 401, 1, 0, 1, 1}, {fit, 1200, 1, 0, 0, 0}, {fit, 1199, 1, 0, 1, 1},
	} {
		r := &reader{x: &Explainer{}}
		if r.idle(c.mode, c.speed, c.dt, c.at); r.x.idle.all != c.all || r.x.idle.held != c.held {
			t.Errorf("%+v: %+v", c, r.x.idle)
		}
	}
}

// frameOf is a frame of one instant that has these columns, all newly read.
func frameOf(clock float64, stretch int, asked *drive.Columns, values map[drive.Channel]float64) *drivelog.Frame {
	f := &drivelog.Frame{N: 1, Time: []float64{clock}, Since: []float64{clock}, Line: []int{7}, Stretch: []int{stretch}}
	for _, c := range asked.Asked {
		col := drivelog.Column{Value: []float64{none}, Fresh: []bool{false}}
		if v, ok := values[c]; ok {
			col.Value[0], col.Fresh[0] = v, true
		}
		f.Columns = append(f.Columns, col)
	}
	return f
}

// handReader asks for speed, manifold, air, pulse, battery, trim, short trim, status,
// lambda and mixture.
func handReader(t *testing.T, wide bool) *reader {
	t.Helper()
	x := &Explainer{e: handEngine(t, 4, 1), res: &Result{}, open: newGatherer(), levels: [3]*gatherer{newGatherer(), newGatherer(), newGatherer()}}
	r := &reader{x: x, d: &deriver{e: x.e, pulseFrom: logged, airFrom: logged}, name: "drive.csv", wide: wide, status: true, print: make(sift.Fingerprint, 2),
		columns: drive.Ask(func(string) bool { return true }, drive.Speed, drive.Manifold, drive.AirFlow, drive.Pulse, drive.Battery, drive.Trim1, drive.Short1,
			drive.Status, drive.Lambda, drive.Mixture, drive.Commanded)}

	return r
}

func usual() map[drive.Channel]float64 {
	return map[drive.Channel]float64{drive.Speed: 3000, drive.Manifold: 60, drive.AirFlow: 29, drive.Pulse: 13.5, drive.Battery: 14, drive.Trim1: 25, drive.Short1: 25, drive.Status: 2, drive.Lambda: 1.02, drive.Mixture: 5, drive.Commanded: 1}
}

// TestInstants: an instant is evidence where a trim is new and the loop closed; in
// open loop where a wideband sensor's mixture is new; a pulse under the offset is an
// error where settled, and is left out elsewhere.
func TestInstants(t *testing.T) {
	for _, c := range []struct {
		why    string
		wide   bool
		reason sift.Reason
		how    func(v map[drive.Channel]float64)
		levels [3]int // samples at each
		open   int
		drop   rejected
		fails  bool
	}{
		{"settled", false, sift.Kept, func(map[drive.Channel]float64) {}, [3]int{1, 1, 1}, 0, fit, false},
		{"steady", false, sift.NotSettled, func(map[drive.Channel]float64) {}, [3]int{0, 1, 1}, 0, fit, false},
		{"left out by a filter", false, sift.NotClosedLoop, func(map[drive.Channel]float64) {}, [3]int{}, 0, fit, false},
		{"no new trim", false, sift.Kept, func(v map[drive.Channel]float64) { delete(v, drive.Trim1) }, [3]int{}, 0, fit, false},
		{"open loop", true, sift.Kept, func(v map[drive.Channel]float64) { v[drive.Status] = 4 }, [3]int{}, 1, fit, false},
		{"open loop and no new mixture", true, sift.Kept, func(v map[drive.Channel]float64) { v[drive.Status] = 4; delete(v, drive.Mixture) }, [3]int{}, 0, fit, false},
		{"open loop that is not settled", true, sift.NotSettled, func(v map[drive.Channel]float64) { v[drive.Status] = 4 }, [3]int{}, 0, fit, false},
		{"enriched", true, sift.Kept, func(v map[drive.Channel]float64) { v[drive.Commanded] = 0.9 }, [3]int{}, 0, enriched, false},
		{"enriched and counted by a filter", true, sift.NotSteady, func(v map[drive.Channel]float64) { v[drive.Commanded] = 0.9 }, [3]int{}, 0, fit, false},
		{"a pulse under the offset", false, sift.Kept, func(v map[drive.Channel]float64) { v[drive.Pulse] = 0.9 }, [3]int{}, 0, fit, true},
		{"the same on the move", false, sift.NotSteady, func(v map[drive.Channel]float64) { v[drive.Pulse] = 0.9 }, [3]int{}, 0, fit, false},
		{"the shortest pulse", false, sift.Kept, func(v map[drive.Channel]float64) { v[drive.Pulse] = 1.5 }, [3]int{}, 0, shortPulse, false},
	} {
		r := handReader(t, c.wide)
		v := usual()
		c.how(v)
		err := r.frame(frameOf(5, 0, r.columns, v), []sift.Reason{c.reason})
		if c.fails {
			var f *tables.Fault
			if !errors.As(err, &f) || f.File != "drive.csv" || f.Line != 7 || !strings.HasPrefix(f.What, "pulse_width is 0.9 ms, not above the offset of table offset, 1 ms:") {
				t.Errorf("%s: %v", c.why, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", c.why, err)
		}
		for k, want := range c.levels {
			n := 0
			for _, p := range r.x.levels[k].points {
				n += p.Samples
			}
			if n != want {
				t.Errorf("%s: level %d has %d samples, want %d", c.why, k, n, want)
			}
		}
		if n := len(r.x.open.points); n != c.open {
			t.Errorf("%s: %d points of open loop, want %d", c.why, n, c.open)
		}
		dropped := 0
		for _, n := range r.rejected {
			dropped += n
		}
		if c.drop != fit && r.rejected[c.drop] != 1 || c.drop == fit && dropped != 0 {
			t.Errorf("%s: %v", c.why, r.rejected)
		}
	}
}

// TestBoostShown: a drive reaches boost where the manifold is 8 kPa above the barometer, or
// above sea level's pressure where none is logged, evidence or not.
func TestBoostShown(t *testing.T) {
	for _, c := range []struct {
		manifold, barometer float64
		want                bool
	}{{109, none, false}, {109.4, none, true}, {109.4, 102, false}, {91, 82, true}, {none, 82, false}} {
		r := handReader(t, false)
		r.columns = drive.Ask(func(string) bool { return true }, drive.Speed, drive.Manifold, drive.Barometer)
		v := map[drive.Channel]float64{drive.Speed: 3000, drive.Manifold: c.manifold, drive.Barometer: c.barometer}
		if err := r.frame(frameOf(5, 0, r.columns, v), []sift.Reason{sift.NotClosedLoop}); err != nil || r.x.res.Boost != c.want {
			t.Errorf("%v kPa over %v: %v, %v", c.manifold, c.barometer, r.x.res.Boost, err)
		}
	}
}

// TestOldMixture: in open loop a mixture that was read before is no new evidence.
func TestOldMixture(t *testing.T) {
	for fresh, want := range map[bool]int{true: 1, false: 0} {
		r := handReader(t, true)
		v := usual()
		v[drive.Status] = 4
		f := frameOf(5, 0, r.columns, v)
		f.Columns[slices.Index(r.columns.Asked, drive.Mixture)].Fresh[0] = fresh
		if err := r.frame(f, []sift.Reason{sift.Kept}); err != nil || len(r.x.open.points) != want {
			t.Errorf("read anew %v: %d points, %v", fresh, len(r.x.open.points), err)
		}
	}
}

// TestClockOfADrive: the clock of a drive goes on by the log's own steps, counts none
// that goes back, and takes a gap or another log as a pause of ten seconds.
func TestClockOfADrive(t *testing.T) {
	r := handReader(t, false)
	for _, c := range []struct {
		time    float64
		stretch int
		clock   float64
		seconds float64 // of driving, all told
	}{{100, 0, 10, 0}, {101, 0, 11, 1}, {100.5, 0, 11, 1}, {104.5, 0, 15, 3}, {300, 1, 25, 3}, {301, 1, 26, 4}} {
		if err := r.frame(frameOf(c.time, c.stretch, r.columns, usual()), []sift.Reason{sift.Kept}); err != nil {
			t.Fatal(err)
		}
		seconds := 0.0
		for _, p := range r.x.levels[0].points {
			seconds += p.Seconds
		}
		if r.x.clock != c.clock || math.Abs(seconds-c.seconds) > 1e-12 {
			t.Errorf("at %v s: clock %v, %v s of driving; want %v and %v", c.time, r.x.clock, seconds, c.clock, c.seconds)
		}
	}
}

// TestWaitingAtZero: samples at a short trim of 0 wait, are taken when it moves, and
// are counted as open loop when it does not.
func TestWaitingAtZero(t *testing.T) {
	for moves, want := range map[bool]struct{ kept, open int }{true: {5, 0}, false: {1, 4}} {
		r := handReader(t, false)
		r.status = false
		for i := range 5 {
			v := usual()
			if v[drive.Short1] = 0; i == 0 || moves && i == 4 {
				v[drive.Short1] = 1
			}
			if err := r.frame(frameOf(float64(i)*0.45, 0, r.columns, v), []sift.Reason{sift.Kept}); err != nil {
				t.Fatal(err)
			}
			if i == 2 && (len(r.waiting) != 2 || r.kept != 1) {
				t.Errorf("after two instants at 0 %d wait and %d are kept", len(r.waiting), r.kept)
			}
		}
		if r.kept != want.kept || r.rejected[openLoop] != want.open || len(r.waiting) != 0 {
			t.Errorf("moves %v: %d kept, %d open", moves, r.kept, r.rejected[openLoop])
		}
	}
}

// TestGaugeReading: what a gauge reads stands where the log has no rail pressure;
// without a short trim the trim itself is what the controller holds.
func TestGaugeReading(t *testing.T) {
	for _, c := range []struct{ logged, gauge, want float64 }{{none, 0, none}, {none, 260, 260}, {280, 260, 280}, {280, 0, 280}} {
		r := handReader(t, false)
		r.x.opt.RailPressure = c.gauge
		v := usual()
		if c.logged == c.logged {
			r.columns = drive.Ask(func(string) bool { return true }, drive.Speed, drive.Rail)
			v[drive.Rail] = c.logged
		}
		f := frameOf(0, 0, r.columns, v)
		r.columns.Take(f)
		if got := r.at(0)[drive.Rail]; got != c.want && !(got != got && c.want != c.want) {
			t.Errorf("%+v: %v", c, got)
		}
		if r.columnwise(f); c.logged != c.logged && r.rail.Weight > 0 || c.logged == c.logged && r.rail.Value() != c.logged {
			t.Errorf("%+v: the log is taken to have %v", c, r.rail.Value())
		}
	}
	r := handReader(t, false)
	v := usual()
	v[drive.Short1] = 7
	f := frameOf(0, 0, r.columns, v)
	r.columns.Take(f)
	if got, _ := r.held(r.at(0)); got != 7 {
		t.Errorf("%v is held, want the short trim", got)
	}
	if r.columnwise(f); !r.trimmed {
		t.Error("no trim was read")
	}
	r.columns = drive.Ask(func(string) bool { return true }, drive.Trim1)
	r.columns.Take(frameOf(0, 0, r.columns, v))
	if got, _ := r.held(r.at(0)); got != 25 {
		t.Error("without a short trim the trim is not what is held")
	}
	r = handReader(t, false)
	delete(v, drive.Trim1)
	if r.columnwise(frameOf(0, 0, r.columns, v)); r.trimmed {
		t.Error("a trim was read of none")
	}
}

// TestCautionsOfLogs: a caution stands once, and names its log where there are several.
func TestCautionsOfLogs(t *testing.T) {
	for _, c := range []struct {
		logs []sift.LogID
		want []string
	}{
		{make([]sift.LogID, 1), []string{"no barometer"}},
		{make([]sift.LogID, 2), []string{"a.csv: no barometer", "b.csv: no barometer"}},
	} {
		x := &Explainer{res: &Result{}, logs: c.logs}
		for _, name := range []string{"a.csv", "a.csv", "b.csv"} {
			x.cautionForLog(name, "no barometer")
		}
		if x.cautionOfLogs(); !slices.Equal(x.res.Cautions, c.want) {
			t.Errorf("%d logs: %q, want %q", len(c.logs), x.res.Cautions, c.want)
		}
	}
}
