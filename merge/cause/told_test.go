package cause

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/engine"
	"calsplice/merge/testdrive"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// TestEvidenceByHand: what stands beside each cause: its shape, its number with the
// interval, and what is measured where it predicts least and most.
func TestEvidenceByHand(t *testing.T) {
	r := &rows{cells: 3, noise: 4, total: 36, y: []float64{1, 2, 9, 10}, w: []float64{1, 1, 1, 1}}
	m := &model{predicted: []float64{0, 2, 8, 12}}
	one := func(unit string) []Coefficient { return []Coefficient{{1.26, -0.5, 3, unit}} }
	const up, contrast = "trims up to +12.0 % by this fit", "predicts +0.0 % where +1.0 % is measured, and +12.0 % where +10.0 % is measured"
	for _, c := range []struct {
		why  string
		f    Finding
		want []string
	}{
		{"none", Finding{Cause: None}, []string{"trims stand 3.0 % from zero (rms over 3 operating points)", "repeat visits to the same operating point differ by 1.0 % (rms)"}},
		{"flow", Finding{Cause: FlowScale, model: m, Coefficients: one("%")}, []string{"constant trim +1.3 % (−0.5 to +3.0)", up}},
		{"flow beside a leak", Finding{Cause: FlowScale, model: m, beside: UnmeteredAir, Coefficients: one("%")},
			[]string{"together with unmetered-air: share and numbers are of both fitted at once", "constant trim +1.3 % (−0.5 to +3.0)", up, contrast}},
		{"an offset", Finding{Cause: InjectorOffset, model: m, Coefficients: one("ms")}, []string{"true offset minus table +1.260 ms (−0.500 to +3.000)", up, contrast}},
		{"an offset to a factor", Finding{Cause: InjectorOffset, model: m, Coefficients: one("")}, []string{up, contrast}},
		{"a leak", Finding{Cause: UnmeteredAir, model: m, Coefficients: one("g/s")}, []string{"leak when choked +1.26 g/s (−0.50 to +3.00)", up, contrast}},
		{"a bank", Finding{Cause: BankDifference, model: m, Shape: "bank 1 alone", Coefficients: one("%")}, []string{"bank 1 alone", "difference +1.3 % (−0.5 to +3.0)", up, contrast}},
		{"a bank without a unit", Finding{Cause: BankDifference, model: m, Coefficients: one("")}, []string{up, contrast}},
		{"a bank by two numbers", Finding{Cause: BankDifference, model: m, Coefficients: append(one("%"), one("%")...)}, []string{up, contrast}},
		{"a meter", Finding{Cause: AirMeter, model: m, Shape: "a bent line", Coefficients: one("%")}, []string{"a bent line", up, contrast}},
		{"injectors at their limit", Finding{Cause: SupplyLimit, model: m, OwnLimit: 92}, []string{"the injectors' own limit: duty stands at 92 % there, and past 85 % no pressure helps", up, contrast}},
		{"not examined", Finding{Cause: AirMeter}, []string{"not examined: no air"}},
		{"no fit", Finding{Cause: UnmeteredAir}, []string{"no fit of this shape within what is physically possible"}},
	} {
		got := r.evidence(&c.f, &Result{Unexamined: []Unexamined{{SupplyLimit, "no fuel"}, {AirMeter, "no air"}}})
		if !slices.Equal(got, c.want) {
			t.Errorf("%s:\n%q\nwant\n%q", c.why, got, c.want)
		}
	}
	if got := (&rows{}).evidence(&Finding{Cause: None}, nil); !slices.Equal(got, []string{"no trim but 0"}) {
		t.Errorf("%q", got)
	}
	r.rail = &rail{trim: []float64{3, -9, 4, 5}}
	if got := r.evidence(&Finding{Cause: PressureReference, measured: true, Shape: "260 kPa"}, nil); !slices.Equal(got, []string{"260 kPa", "trims up to −9.0 % by this pressure"}) {
		t.Errorf("%q", got)
	}
	if got := r.contrastOf([]float64{1, 1.1, 1.2, 1.4}); got != nil {
		t.Errorf("a prediction that hardly varies: %q", got)
	}
	if got := r.contrastOf([]float64{1, 1.1, 1.2, 1.5}); len(got) != 1 {
		t.Errorf("one that varies by 0.5 %%: %q", got)
	}
}

// TestRival: a cause is told from the best other one; none is a rival where there is
// no other.
func TestRival(t *testing.T) {
	res := &Result{Found: []Finding{{Cause: FlowScale}, {Cause: None}, {Cause: UnmeteredAir}}}
	for i, want := range []Cause{UnmeteredAir, FlowScale, FlowScale} {
		if got := rivalOf(res, i); got != want {
			t.Errorf("%s: %s, want %s", res.Found[i].Cause, got, want)
		}
	}
	res.Found = res.Found[:2]
	if got := rivalOf(res, 0); got != None {
		t.Errorf("of two: %s", got)
	}
	res.Found = res.Found[:1]
	if got := rivalOf(res, 0); got != None {
		t.Errorf("alone: %s", got)
	}
}

// TestOwnLimitByHand: the mean duty where a supply asks for at least half of the most
// fuel that it misses, 1 % at least: an injectors' limit past 85 %.
func TestOwnLimitByHand(t *testing.T) {
	for _, c := range []struct {
		why       string
		cause     Cause
		predicted []float64
		duty      []float64
		want      float64
	}{
		{"past it", SupplyLimit, []float64{0, 4, 6, 10}, []float64{50, 60, 86, 92}, 89},
		{"at it", SupplyLimit, []float64{0, 4, 6, 10}, []float64{50, 60, 80, 90}, 0},
		{"half of the most is not more than that", SupplyLimit, []float64{0, 4, 5, 10}, []float64{50, 60, 20, 92}, 92},
		{"1 % and less", SupplyLimit, []float64{0, 0.5, 1, 1}, []float64{90, 90, 90, 90}, 0},
		{"a little more", SupplyLimit, []float64{0, 0.5, 1, 1.1}, []float64{90, 90, 90, 90}, 90},
		{"another cause", FlowScale, []float64{0, 4, 6, 10}, []float64{50, 60, 86, 92}, 0},
	} {
		r := &rows{}
		for i, d := range c.duty {
			r.points, r.point = append(r.points, &Point{Duty: d}), append(r.point, i)
		}
		if got := r.ownLimit(&Finding{Cause: c.cause, alone: &model{predicted: c.predicted}}); got != c.want {
			t.Errorf("%s: %v, want %v", c.why, got, c.want)
		}
	}
	if (&rows{}).ownLimit(&Finding{Cause: SupplyLimit}) != 0 {
		t.Error("without a fit")
	}
}

// TestBandsByHand: air flow doubles from band to band; where a point lacks it,
// manifold pressure goes by 20 kPa, and where one lacks that too speed by 750 r/min.
// Bands without driving are left out, and there are 32 at most.
func TestBandsByHand(t *testing.T) {
	res := func(of func(p *Point, v float64), values ...float64) *Result {
		r := &Result{Found: []Finding{{Cause: FlowScale}}}
		for i, v := range values {
			p := &Point{Seconds: float64(i + 1), Trim: [2]float64{float64(i), none}}
			of(p, v)
			r.Points = append(r.Points, p)
			r.Found[0].Predicted = append(r.Found[0].Predicted, [2]float64{10 * float64(i), none})
		}
		return r
	}
	air := func(p *Point, v float64) { p.AirFlow, p.Manifold, p.Speed = v, 40, 2000 }
	manifold := func(p *Point, v float64) { p.AirFlow, p.Manifold, p.Speed = none, v, 2000 }
	speed := func(p *Point, v float64) { p.AirFlow, p.Manifold, p.Speed = math.Inf(1), 0, v }
	for _, c := range []struct {
		res            *Result
		quantity, unit string
		want           string // low–high: seconds, seen, predicted
	}{
		{res(air, 2, 3.9, 4, 17), "air flow", "g/s", "2–4: 3 0.667 6.67, 4–8: 3 2 20, 16–32: 4 3 30, "},
		{res(manifold, 40, 59, 61, 100), "manifold pressure", "kPa", "40–60: 3 0.667 6.67, 60–80: 3 2 20, 100–120: 4 3 30, "},
		{res(speed, 750, 1499, 1500, 3100), "engine speed", "r/min", "750–1500: 3 0.667 6.67, 1500–2250: 3 2 20, 3000–3750: 4 3 30, "},
	} {
		quantity, unit, bands := c.res.Bands()
		said := ""
		for _, b := range bands {
			said += fmt.Sprintf("%g–%g: %g %.3g %.3g, ", b.Low, b.High, b.Seconds, b.Seen[0], b.Predicted[0])
			if b.Seen[1] == b.Seen[1] || b.Predicted[1] == b.Predicted[1] {
				t.Errorf("a second bank: %+v", b)
			}
		}
		if quantity != c.quantity || unit != c.unit || said != c.want {
			t.Errorf("%s %s: %s\nwant %s %s: %s", quantity, unit, said, c.quantity, c.unit, c.want)
		}
	}
	var many []float64
	for i := range 40 {
		many = append(many, 20*float64(i)+10)
	}
	if _, _, bands := res(manifold, many...).Bands(); len(bands) != 32 {
		t.Errorf("%d bands", len(bands))
	}
	r := res(air, 2, 4)
	r.Together = &Pair{Predicted: [][2]float64{{7, none}, {8, none}}}
	if _, _, bands := r.Bands(); bands[0].Predicted[0] != 7 || bands[1].Predicted[0] != 8 {
		t.Errorf("two causes: %+v", bands)
	}
	r.Together, r.Found[0].Predicted = nil, nil
	if _, _, bands := r.Bands(); bands[0].Predicted[0] == bands[0].Predicted[0] {
		t.Errorf("none leads: %+v", bands)
	}
}

// TestResultAsJSON: every part of a result by its key: numbers to four digits, what
// there is not as null or an empty list.
func TestResultAsJSON(t *testing.T) {
	p := &Point{Seconds: 2, AirFlow: 3, Manifold: 40, Speed: 2000, Trim: [2]float64{4.00004, none}}
	res := &Result{Points: []*Point{p}, Verdict: "v", Certain: true, ChangedAt: 61.5, Share5: 0.25, AtLimit: 0.125, Cautions: []string{"c"}, Doubts: []Doubt{{"what", "settle"}},
		Together: &Pair{Causes: [2]Cause{SupplyLimit, FlowScale}, Share: 0.75, Gain: 0.5, Predicted: [][2]float64{{5, none}}}, Unexamined: []Unexamined{{AirMeter, "why"}},
		Banks: &Banks{-4, 0.5}, Logs: []tables.Source{{Name: "drive.csv", Rows: 90, Kept: 80, Dropped: []tables.Dropped{{Reason: "cold", Count: 10}}}},
		Found: []Finding{{Cause: SupplyLimit, Share: 0.123449, Margin: 0.5, Effect: 9, Shape: "s", OwnLimit: 90, Coefficients: []Coefficient{{1, 0.5, 2, "ms"}}, Alike: []string{"a"}, Evidence: []string{"e"}, Test: "t"}}}
	for _, c := range []struct {
		why  string
		res  *Result
		want string
	}{
		{"full", res, `{"verdict":"v","certain":true,"changed_at":61.5,"doubts":[{"what":"what","settle":"settle"}],"mechanical":true,"lean_in_boost":false,` +
			`"causes":[{"cause":"supply-limit","share":0.1234,"margin":0.5,"mechanical":true,"largest_trim":9,"shape":"s","duty_at_own_limit":90,` +
			`"coefficients":[{"value":1,"low":0.5,"high":2,"unit":"ms"}],"alike":["a"],"evidence":["e"],"test":"t"}],` +
			`"together":{"causes":["supply-limit","flow-scale"],"share":0.75,"gain":0.5},"not_examined":[{"cause":"air-meter","why":"why"}],` +
			`"banks":{"difference":-4,"se":0.5,"differ":true},"within_5":0.25,"at_limit":0.125,` +
			`"seen":{"quantity":"air flow","unit":"g/s","bands":[{"low":2,"high":4,"seconds":2,"trim":[4],"predicted":[5]}]},` +
			`"cautions":["c"],"source":[{"name":"drive.csv","rows":90,"kept":80,"dropped":[{"reason":"cold","count":10}]}]}`},
		{"empty", &Result{ChangedAt: none, Found: []Finding{{Cause: None}}}, `{"verdict":"","certain":false,"changed_at":null,"doubts":[],"mechanical":false,"lean_in_boost":false,` +
			`"causes":[{"cause":"none","share":0,"margin":0,"mechanical":false,"largest_trim":0,"alike":null,"evidence":null,"test":""}],` +
			`"together":null,"not_examined":[],"banks":null,"within_5":0,"at_limit":0,"seen":{"quantity":"air flow","unit":"g/s","bands":[]},"cautions":[],"source":null}`},
	} {
		if got, err := json.Marshal(c.res); err != nil || string(got) != c.want {
			t.Errorf("%s:\n%s\nwant\n%s (%v)", c.why, got, c.want, err)
		}
	}
	for v, want := range map[float64]string{0.00005: "0.0001", -0.00001: "0", math.Inf(1): "null"} {
		if got, _ := json.Marshal(number(v)); string(got) != want {
			t.Errorf("%v: %s, want %s", v, got, want)
		}
	}
}

// railed are ten rows at 30 to 100 kPa and 1 to 10 g/s of fuel, 1 s each.
func railed(banks int, pressure func(p *Point) float64, trim func(p *Point) float64) *rows {
	r := &rows{banks: banks}
	for i := range 10 {
		p := &Point{Manifold: 30 + 7*float64(i), Barometer: 93, FuelFlow: float64(i + 1), Seconds: 1, AirFlow: 15 * float64(i+1)}
		p.railPressure = pressure(p)
		p.Rail = p.railPressure/300 - 1
		r.points = append(r.points, p)
		for b := range banks {
			r.point, r.bank, r.y, r.w, r.bound = append(r.point, i), append(r.bank, b), append(r.y, trim(p)), append(r.w, 1), append(r.bound, 0)
		}
	}
	return r
}

func held(kpa float64) func(*Point) float64 { return func(*Point) float64 { return kpa } }

// TestRailByHand: a pressure of 192 kPa for 300 drives 0.8 of the fuel: it adds 25 %
// to the trim. What the trims show of that is taken from them, as far as that makes
// them smaller, and none is left of a trim at its limit that the pressure asks past.
func TestRailByHand(t *testing.T) {
	if got := deviation(0.64 - 1); math.Abs(got-0.25) > 1e-12 {
		t.Fatalf("deviation %v", got)
	}
	for _, c := range []struct {
		why      string
		y        float64
		bound    float64
		applied  bool
		left     float64
		explains float64
	}{
		{"all of the trims", 25, 0, true, 0, 1},
		{"more than the pressure", 37.5, 0, true, 10, 1 - 10/37.5},
		{"no trim", 0, 0, false, 0, 0},
		{"the other way", -5, 0, false, -5, 0},
		{"a limit that the pressure asks past", 20, 1, true, 0, 1},
		{"the other limit", 20, -1, true, -4, 1 - 4/20.},
	} {
		r := railed(2, held(192), func(*Point) float64 { return c.y })
		for i := range r.bound {
			r.bound[i] = c.bound
		}
		r.applyRail()
		if r.rail.applied != c.applied || math.Abs(r.y[3]-c.left) > 1e-9 || math.Abs(r.rail.explains-c.explains) > 1e-9 || math.Abs(r.rail.mean+0.36) > 1e-9 || math.Abs(r.rail.kpa-192) > 1e-9 {
			t.Errorf("%s: left %v, %+v", c.why, r.y[3], r.rail)
		}
	}
	r := railed(1, held(192), held(25))
	r.points[4].Rail = none
	if r.applyRail(); r.rail != nil {
		t.Error("a pressure that one point lacks is none")
	}
}

// TestRailCounts: a measured pressure is a cause from 2.5 % of trim, where the trims
// show it, and leaves a supply nothing to explain where it holds or is taken from
// them; without a log of it nobody knows.
func TestRailCounts(t *testing.T) {
	for _, c := range []struct {
		why                       string
		kpa, trim                 float64
		logged                    bool
		deviates, named, supplies bool
	}{
		{"low, and shown", 285, 2.6, true, true, true, true},
		{"low, not shown", 285, 0, true, true, false, false},
		{"within 5 %", 286, 0, true, false, false, true},
		{"within 5 %, by a gauge", 286, 0, false, false, false, false},
		{"high", 316, -2.6, true, true, true, true},
	} {
		r := railed(1, held(c.kpa), held(c.trim))
		r.applyRail()
		f := &facts{railLogged: c.logged}
		if r.deviates() != c.deviates || r.railNamed() != c.named || r.railHolds(f) != c.supplies {
			t.Errorf("%s: deviates %v, named %v, holds %v", c.why, r.deviates(), r.railNamed(), r.railHolds(f))
		}
	}
	r := &rows{}
	if r.deviates() || r.railHolds(&facts{railLogged: true}) {
		t.Error("no pressure at all")
	}
}

// TestRailFinding: a logged pressure that falls with the flow of fuel is the supply's;
// one that follows the manifold, or that a gauge read, is a regulator's; lean in boost
// is one that adds more trim there.
func TestRailFinding(t *testing.T) {
	falls := func(p *Point) float64 { return 300 - 6*p.FuelFlow }
	little := func(p *Point) float64 { return 300 - 1.5*p.FuelFlow }
	hose := func(p *Point) float64 { return 300 + p.Barometer - p.Manifold }
	boosted := func(p *Point) float64 { p.FuelFlow = 1; return 300 - 3*max(0, p.Manifold-80) }
	for _, c := range []struct {
		why      string
		pressure func(p *Point) float64
		logged   bool
		baro     float64
		cause    Cause
		lost     bool
	}{
		{"falls with fuel", falls, true, 93, SupplyLimit, false},
		{"falls a little", little, true, 93, PressureReference, false},
		{"falls, by a gauge", falls, false, 93, PressureReference, false},
		{"follows the manifold", hose, true, 93, PressureReference, false},
		{"the same everywhere", held(240), true, 93, PressureReference, false},
		{"less in boost", boosted, false, 70, PressureReference, true},
		{"less at full load without boost", boosted, false, 93, PressureReference, false},
	} {
		r := railed(1, c.pressure, func(p *Point) float64 { return 100 * deviation(c.pressure(p)/300-1) })
		for _, p := range r.points {
			p.Barometer = c.baro
		}
		if c.why == "follows the manifold" {
			for _, p := range r.points {
				p.railPressure = falls(p) // and the sensor's own would be the supply's
			}
		}
		r.applyRail()
		r.rail.logged = c.logged
		f := r.railFinding(&facts{rail: 300, nominal: 300})
		if f.Cause != c.cause || f.lostHose != c.lost || !f.measured || math.Abs(f.Share-1) > 1e-9 || f.Share != f.explains || !(f.Effect > 0) || len(f.Predicted) != 10 {
			t.Errorf("%s: %s, lost hose %v, share %v", c.why, f.Cause, f.lostHose, f.Share)
		}
	}
	r := railed(1, held(240), held(10))
	r.applyRail()
	if f := r.railFinding(&facts{rail: 300, nominal: 300}); f.Shape != "rail pressure is 240 kPa as measured and 300 kPa in the calibration (−20 % at the injectors)" {
		t.Error(f.Shape)
	}
	r = railed(1, falls, held(10))
	for _, p := range r.points {
		p.FuelFlow = none
	}
	if r.fallsWithFuel(300) {
		t.Error("a fall with fuel that nobody knows")
	}
}

// TestFollowsTheOtherReference: a pressure whose trim is the other reference's but
// for a quarter of its squares.
func TestFollowsTheOtherReference(t *testing.T) {
	for _, c := range []struct {
		why   string
		shape func(rail, barometer, manifold float64) float64
		of    float64
		want  bool
	}{{"no hose", hoseOff, 1, true}, {"a hose", hoseOn, 1, true}, {"0.6 of it", hoseOff, 0.7, true}, {"two thirds of it", hoseOff, 0.66, false}, {"three times the opposite", hoseOff, -3, false}} {
		r := railed(1, held(300), held(0))
		r.rail = &rail{}
		for _, p := range r.points {
			r.rail.trim = append(r.rail.trim, c.of*100*c.shape(300, p.Barometer, p.Manifold))
		}
		if got := r.followsReference(&facts{rail: 300}); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestOffsetThatFollowsPressure: an offset of under 0.06 ms that goes the way of the
// pressure is no fault of its own.
func TestOffsetThatFollowsPressure(t *testing.T) {
	for _, c := range []struct {
		why  string
		ms   []float64
		mean float64
		want bool
	}{
		{"with it", []float64{-0.05}, -0.1, false}, {"against it", []float64{0.05}, -0.1, true}, {"too much", []float64{-0.06}, -0.1, true}, {"one of two", []float64{-0.05, 1}, -0.1, true},
	} {
		r := &rows{rail: &rail{mean: c.mean}}
		f := &Finding{Cause: InjectorOffset, Effect: 9, model: &model{}}
		for _, v := range c.ms {
			f.Coefficients = append(f.Coefficients, Coefficient{Value: v})
		}
		if got := r.ownRest(f, 10); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestOpenLoopByHand: a sensor that reads 2 % lean in closed loop has that taken from
// what it says in open loop; one that is off by more than 4 % is not used; where a
// trim stands at its limit, on one bank, its mixture stands for it.
func TestOpenLoopByHand(t *testing.T) {
	explain := func(bias float64, banks int, open bool) (*Explainer, []*Point) {
		x := &Explainer{res: &Result{}, open: newGatherer()}
		if open {
			x.open.add(&sample{clock: 5, seconds: 3, speed: 4000, manifold: 95, trim: [2]float64{7.1, 7.1}, held: [2]float64{none, none}})
		}
		points := []*Point{
			{clock: 1, cell: 0, Trim: [2]float64{8, none}, AtLimit: [2]float64{0.31, 0}, mixture: 12.2},
			{clock: 9, cell: 3, Trim: [2]float64{8, none}, AtLimit: [2]float64{0.3, 0}, mixture: 12.2},
			{clock: 9, cell: 3, Trim: [2]float64{8, none}, AtLimit: [2]float64{1, 0}, mixture: none},
		}
		return x, x.withOpen(points, bias, banks)
	}
	x, points := explain(0.02, 1, true)
	if len(points) != 4 || !points[1].Open || points[1].cell != 4 || math.Abs(points[1].Trim[0]-5) > 1e-9 || points[1].Trim[1] == points[1].Trim[1] {
		t.Errorf("open loop: %+v", points)
	}
	if math.Abs(points[0].Trim[0]-10) > 1e-9 || points[0].AtLimit[0] != 0 || points[2].Trim[0] != 8 || points[3].Trim[0] != 8 || points[3].AtLimit[0] != 1 {
		t.Errorf("at a limit: %+v", points)
	}
	if len(x.res.Cautions) != 1 || x.res.Cautions[0] != "3 s of open loop are evidence by the wideband sensor, which reads +2.0 % against the closed loop" {
		t.Errorf("%q", x.res.Cautions)
	}
	if _, points = explain(0.02, 2, true); points[0].Trim[0] != 8 || math.Abs(points[1].Trim[1]-5) > 1e-9 {
		t.Errorf("two banks: %+v", points)
	}
	for _, bias := range []float64{0.041, -0.041} {
		if x, points = explain(bias, 1, true); len(points) != 3 || points[0].Trim[0] != 8 || len(x.res.Cautions) != 1 || !strings.HasSuffix(x.res.Cautions[0], "4.1 % against the closed loop: it is not used") {
			t.Errorf("off by %v: %q", bias, x.res.Cautions)
		}
	}
	if x, points = explain(none, 1, true); len(points) != 3 || points[0].Trim[0] != 8 || len(x.res.Cautions) != 0 {
		t.Errorf("never in closed loop: %q", x.res.Cautions)
	}
	if x, points = explain(0.04, 1, false); len(points) != 3 || points[0].Trim[0] == 8 || len(x.res.Cautions) != 0 {
		t.Errorf("never in open loop: %q", x.res.Cautions)
	}
}

// TestSupplyShapes: a supply that gives way is a square of the flow, or rises past one
// of fifteen knees that at least two places lie past; a logged pressure that holds
// leaves only the injectors' own limit.
func TestSupplyShapes(t *testing.T) {
	r := handRows(1)
	for i, p := range r.points {
		p.cell = i
	}
	c := r.supply(&facts{})
	knees := 0
	for _, v := range c.variants {
		if v.low[0] != 0 || !math.IsInf(v.high[0], 1) || len(v.columns) != 1 {
			t.Errorf("%+v", v)
		}
		if strings.HasPrefix(v.words, "rising past") {
			knees++
		}
	}
	// Of 1 to 4.5 g/s in steps of 0.25, the two largest flows, 4 and 5, lie past those under 4.
	if want := []float64{100 * 0.0025, 100 * 0.04, 64, 100}; c.missing != "" || !sameList(c.variants[0].columns[0], want) || c.variants[0].free != 1 || knees != 3*12 {
		t.Errorf("%q, %v, %d shapes with a knee", c.missing, c.variants[0].columns, knees)
	}
	for i, want := range [][]float64{{0, 0, 300, 400}, {0, 0, 900, 1600}, {0, 0, 100 * math.Sqrt(3), 200}} {
		if v := c.variants[1+i]; v.words != "rising past 1 g/s of fuel" || !sameList(v.columns[0], want) || v.free != 2 {
			t.Errorf("%s: %v, want %v", v.words, v.columns, want)
		}
	}
	for _, p := range r.points {
		p.cell = 0
	}
	if c := r.supply(&facts{}); c.missing != "the drive's fuel flow hardly varies" || c.variants != nil {
		t.Errorf("one place: %q", c.missing)
	}
	r.rail = &rail{trim: make([]float64, 4)}
	if c := r.supply(&facts{railLogged: true}); c.missing != railSays {
		t.Errorf("a pressure that holds: %q", c.missing)
	}
	for i, p := range r.points {
		p.cell, p.Duty = i, 85
	}
	if c := r.supply(&facts{railLogged: true}); c.missing != railSays {
		t.Errorf("at a duty of 85 %%: %q", c.missing)
	}
	r.points[2].Duty = 85.1
	if c := r.supply(&facts{railLogged: true}); c.missing != "" {
		t.Errorf("past it: %q", c.missing)
	}
	for _, p := range r.points {
		p.FuelFlow = none
	}
	if c := r.supply(&facts{}); c.missing != noAir {
		t.Errorf("without fuel: %q", c.missing)
	}
}

// TestMeterShapes: a meter's curve along air flow, from a line to five knots, where
// the drive's air varies by a factor of two.
func TestMeterShapes(t *testing.T) {
	r := handRows(1)
	c := r.meter(&facts{metered: true})
	for i, want := range [][][]float64{
		{{0.05, 0.2, 0.8, 1}},
		{{1, 1, 1, 1}, {0.05, 0.2, 0.8, 1}},
		{{1, 1, 1, 1}, {math.Log(4), math.Log(16), math.Log(64), math.Log(80)}},
	} {
		for j, column := range c.variants[i].columns {
			if !sameList(column, want[j]) {
				t.Errorf("%s: %v, want %v", c.variants[i].words, column, want[j])
			}
		}
	}
	for i, free := range []float64{1.5, 2, 2, 3, 4, 5} {
		if v := c.variants[i]; v.free != free || len(v.unit) != len(v.columns) || i > 2 && len(v.columns) != i {
			t.Errorf("%+v", v)
		}
	}
	for i, p := range r.points {
		p.AirFlow = 10 + 3*float64(i)
	}
	if c := r.meter(&facts{metered: true}); c.missing != "the drive's air flow stays within a factor of two" {
		t.Errorf("10 to 19 g/s: %q", c.missing)
	}
	r.points[3].AirFlow = 20.1
	if c := r.meter(&facts{metered: true}); c.missing != "" {
		t.Errorf("10 to 20.1 g/s: %q", c.missing)
	}
	if c := r.meter(&facts{}); !strings.HasPrefix(c.missing, "air is not metered upstream") {
		t.Errorf("%q", c.missing)
	}
	r.points[0].AirFlow = none
	if c := r.meter(&facts{metered: true}); c.missing != noAir {
		t.Errorf("%q", c.missing)
	}
}

// TestBentByHand: of three knots from 0 to 4, 1 lies half way to the second; what lies
// outside holds the end's.
func TestBentByHand(t *testing.T) {
	got := bent([]float64{-9, 0, 1, 2, 3.5, 4, 9}, 0, 4, 3)
	for j, want := range [][]float64{{1, 1, 0.5, 0, 0, 0, 0}, {0, 0, 0.5, 1, 0.25, 0, 0}, {0, 0, 0, 0, 0.75, 1, 1}} {
		if !sameList(got[j], want) {
			t.Errorf("knot %d: %v, want %v", j, got[j], want)
		}
	}
}

// TestEfficiencyShapes: along speed, along pressure, along both, and by places of
// three, four and six knots a side; what no row has is left out.
func TestEfficiencyShapes(t *testing.T) {
	c := handRows(1).efficiency(&facts{computed: true})
	var got []string
	for _, v := range c.variants {
		got = append(got, fmt.Sprintf("%s %.1f", v.words, v.free))
		if v.ridge != 0.02 || len(v.unit) != len(v.columns) || len(v.columns) == 0 {
			t.Errorf("%+v", v)
		}
		sum := make([]float64, 4)
		for _, column := range v.columns {
			for i, x := range column {
				sum[i] += x
			}
		}
		if v.words != "along engine speed and manifold pressure" && !sameList(sum, []float64{1, 1, 1, 1}) {
			t.Errorf("%s: weights add up to %v", v.words, sum)
		}
	}
	if len(c.variants) != 12 || got[0] != "along engine speed 3.0" || got[2] != "along engine speed and manifold pressure 5.0" || got[3] != "by engine speed and manifold pressure 5.4" || got[11] != "by engine speed and manifold pressure 21.6" {
		t.Errorf("%q", got)
	}
	r := handRows(1)
	for _, p := range r.points {
		p.Speed = 2000
	}
	if h := bent(r.speed(), 2000, 2000, 3); !sameList(h[0], []float64{1, 1, 1, 1}) {
		t.Errorf("at one speed: %v", h)
	}
}

// TestExhaustShapes: an exhaust leak shows with the inverse square of the air, or dies
// away with it, against the least air of the drive.
func TestExhaustShapes(t *testing.T) {
	c := handRows(1).exhaust(&facts{})
	for i, want := range [][]float64{
		{100, 100. / 16, 100. / 256, 100. / 400},
		{100, 100 * math.Exp(-3), 100 * math.Exp(-15), 100 * math.Exp(-19)},
		{100, 100 * math.Exp(-1.5), 100 * math.Exp(-7.5), 100 * math.Exp(-9.5)},
	} {
		if !sameList(c.variants[i].columns[0], want) || c.variants[i].low[0] != 0 {
			t.Errorf("%d: %v, want %v", i, c.variants[i].columns, want)
		}
	}
}

// TestShapesThatFollowAnything: the columns by which wild rows are told, by hand.
func TestShapesThatFollowAnything(t *testing.T) {
	r := handRows(1)
	want := [][]float64{{1, 1, 1, 1}, {0.5, 0.25, 0.125, 0.1}, {25, 6.25, 100 * engine.Orifice(0.95) / 64, 0}, {math.Log(4), math.Log(16), math.Log(64), math.Log(80)},
		{0.3, 0.5, 0.95, 1}, {0.8, 2, 3, 4}, {0, 0, 4/1.5 - 1, 5/1.5 - 1}, {0, 0, 4/2.5 - 1, 1}, {0, 0, 4/3.5 - 1, 5/3.5 - 1}}
	got := r.allShapes()
	for i := range want {
		if !sameList(got[i], want[i]) {
			t.Errorf("%d: %v, want %v", i, got[i], want[i])
		}
	}
	two := handRows(2).allShapes()
	if last := two[len(two)-3]; !sameList(last, []float64{-1, 1, -1, 1, -1, 1, -1, 1}) {
		t.Errorf("what one bank has more: %v", last)
	}
	if s := r.offset(&facts{relative: true}); s.variants[0].unit[0] != "" {
		t.Error("an offset of a pulse that is known to a factor has a unit")
	}
	if s := r.offset(&facts{}); s.variants[0].unit[0] != "ms" {
		t.Error("an offset has no unit")
	}
}

// TestSurfaceByHand: a gentle surface has each quantity that varies, from −1 to 1 over
// all but a twentieth at each end, with its square, and a constant.
func TestSurfaceByHand(t *testing.T) {
	r := handRows(1)
	for i, p := range r.points {
		p.Manifold, p.AirFlow, p.clock = none, none, 7
		p.Speed = []float64{1000, 2000, 4000, 5000}[i]
	}
	got := r.surface()
	for i, want := range [][]float64{{-1, -0.5, 0.5, 1}, {1, 0.25, 0.25, 1}, {1, 1, 1, 1}} {
		if len(got) != 3 || !sameList(got[i], want) {
			t.Fatalf("%v, want %v", got, want)
		}
	}
	r = &rows{}
	for i := range 100 {
		v := float64(min(max(i, 5), 94)) // 5 to 94, but for the ends
		if i == 0 {
			v = -500
		}
		r.points, r.point, r.bank, r.y = append(r.points, &Point{Speed: v, Manifold: none, AirFlow: none}), append(r.point, i), append(r.bank, 0), append(r.y, 0)
	}
	if got := r.surface(); got[0][0] != -2 {
		t.Errorf("what lies far outside is at %v, want −2", got[0][0])
	}
}

// TestVehicle: what a calibration gives and what is assumed: the usual rail where it
// gives none; boost where it has breakpoints past 115 kPa of manifold pressure.
func TestVehicle(t *testing.T) {
	build := func(rail *tables.RailPressure, last float64, role tables.Role) *vehicle {
		x, err := tables.NewAxis("manifold pressure", "kPa", []float64{20, last})
		if err != nil {
			t.Fatal(err)
		}
		table, err := tables.NewTable(tables.Fields{ID: "t", Role: role, Unit: "%", X: x, Values: []float64{1, 2}})
		if err != nil {
			t.Fatal(err)
		}
		c, err := tables.NewCalibration(tables.Contents{Tables: []*tables.Table{table}, Engine: &tables.Engine{RailPressure: rail}})
		if err != nil {
			t.Fatal(err)
		}
		e, err := newVehicle(c)
		if err != nil {
			t.Fatal(err)
		}
		return e
	}
	given := &tables.RailPressure{Value: 380, Unit: "kPa", RelativeTo: tables.Atmosphere}
	for _, c := range []struct {
		rail       *tables.RailPressure
		last       float64
		role       tables.Role
		said       int
		boost      bool
		efficiency bool
	}{{given, 115, tables.Other, 0, false, false}, {given, 116, tables.Other, 0, true, false}, {nil, 100, tables.AirVolumetricEfficiency, 1, false, true}} {
		if e := build(c.rail, c.last, c.role); len(e.notes) != c.said || e.boost != c.boost || e.efficiency != c.efficiency || e.meter {
			t.Errorf("%+v: said %q, boost %v, efficiency %v", c, e.notes, e.boost, e.efficiency)
		}
	}
}

// TestNothingSettled: a drive without evidence is an error that names each log, its
// rows and what took them.
func TestNothingSettled(t *testing.T) {
	x := &Explainer{res: &Result{Logs: []tables.Source{{Name: "a.csv", Rows: 9, Dropped: []tables.Dropped{{Reason: "cold", Count: 5}, {Reason: "open loop", Count: 4}}}, {Name: "b.csv", Rows: 3}}}}
	if got, want := x.noSamplesError().Error(), "a.csv: none of 9 rows is closed-loop evidence: 5 cold, 4 open loop\nb.csv: none of 3 rows is closed-loop evidence"; got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	x.levels = [3]*gatherer{newGatherer(), newGatherer(), newGatherer()}
	if _, err := x.Result(); err == nil || !strings.Contains(err.Error(), "none of 9 rows") {
		t.Errorf("%v", err)
	}
}

// TestBesideByHand: what else may stand behind trims, and how far a drive went.
func TestBesideByHand(t *testing.T) {
	for _, c := range []struct {
		why      string
		trim     float64
		purge    bool
		manifold float64
		want     []string
	}{
		{"fuel taken away at little air", -2.1, false, 88, []string{"purge is not logged", "closed-loop samples reach only 88 kPa"}},
		{"a little", -2, false, 88, []string{"closed-loop samples reach only 88 kPa"}},
		{"with purge logged", -5, true, 88, []string{"closed-loop samples reach only 88 kPa"}},
		{"without manifold pressure", -5, false, 0, []string{"purge is not logged"}},
	} {
		x := &Explainer{res: &Result{}, purge: c.purge}
		x.addCautions(&Result{Found: []Finding{{}}, Points: []*Point{{AirFlow: 3, Seconds: 9, Manifold: c.manifold, Trim: [2]float64{c.trim, none}}, {AirFlow: 30, Seconds: 9, Manifold: c.manifold / 2, Trim: [2]float64{-9, none}}}})
		if len(x.res.Cautions) != len(c.want) {
			t.Errorf("%s: %q", c.why, x.res.Cautions)
			continue
		}
		for i, w := range c.want {
			if !strings.HasPrefix(x.res.Cautions[i], w) {
				t.Errorf("%s: %q", c.why, x.res.Cautions)
			}
		}
	}
}

// TestPairIsNamed: two causes that are named share what they explain and the numbers
// of one fit; one that alone has no fit within what is possible is described by the
// pair; the partners lead.
func TestPairIsNamed(t *testing.T) {
	flow, leaks := always(7), leaking(0.5)
	points := shaped(8, func(p *Point) float64 { return flow(p) + leaks(p) })
	res := ranked(points, metered())
	if res.Together == nil || res.Found[0].Share != res.Found[1].Share || res.Found[0].beside != res.Found[1].Cause || res.Found[1].beside != res.Found[0].Cause {
		t.Fatalf("%s", list(res))
	}
	for _, f := range res.Found[:2] {
		want, within := 7.0, 0.3
		if f.Cause == UnmeteredAir {
			want, within = 0.5/1.07, 0.02 // the sum's share, as the product's
		}
		if len(f.Coefficients) != 1 || math.Abs(f.Coefficients[0].Value-want) > within {
			t.Errorf("%s: %v, want %v", f.Cause, f.Coefficients, want)
		}
		for i, p := range points {
			if want := flow(p) + leaks(p); math.Abs(f.Predicted[i][0]-want) > 0.6 {
				t.Fatalf("at %v g/s %v %% are predicted of %v", p.AirFlow, f.Predicted[i][0], want)
			}
		}
	}
	if gain := res.Together.Share - res.Together.Gain; !(gain > 0 && gain < res.Together.Share) || math.Abs(res.Together.Share-res.Found[0].Share) > 1e-12 {
		t.Errorf("share %v, gain %v", res.Together.Share, res.Together.Gain)
	}
}

// TestMeasuredHeadline: a measured pressure is named with what it explains; where that is
// only a part, or something is there beside it, it is said so.
func TestMeasuredHeadline(t *testing.T) {
	for _, c := range []struct {
		why      string
		certain  bool
		together *Pair
		want     string
	}{
		{"alone", true, nil, "supply-limit: as it falls, which explains 70 % of the trims"},
		{"a part", false, nil, "supply-limit: as it falls, but that explains only a part of the trims, and no cause the rest: can't tell for certain"},
		{"with another", true, &Pair{Causes: [2]Cause{SupplyLimit, FlowScale}}, "two causes together: supply-limit and flow-scale"},
		{"with another, not for certain", false, &Pair{Causes: [2]Cause{FlowScale, SupplyLimit}}, "more than one thing is wrong, supply-limit and flow-scale fit best: can't tell for certain. Do that"},
	} {
		res := concluded(func(r *Result) {
			r.Found[0] = Finding{Cause: SupplyLimit, Shape: "as it falls", measured: true, explains: 0.7}
			r.Certain, r.Together = c.certain, c.together
		})
		if got := verdict(res); got != c.want {
			t.Errorf("%s: %s", c.why, got)
		}
	}
}

// TestRailThatChanges: a measured pressure that falls in the middle of a drive is a change
// at that time; one that is low all along is none.
func TestRailThatChanges(t *testing.T) {
	for _, falls := range []bool{false, true} {
		points := shaped(10, always(0))
		from := points[len(points)-1].clock * 0.5
		for _, p := range points {
			p.Time, p.Rail = p.clock, -0.15
			if falls && p.clock < from {
				p.Rail = 0
			}
			p.railPressure = 300 * (1 + p.Rail)
			p.Trim[0] += 100 * deviation(p.Rail)
		}
		f := metered()
		f.railLogged = true
		res := ranked(points, f)
		if got := !math.IsNaN(res.ChangedAt); got != falls || got && (math.Abs(res.ChangedAt-from) > 60 || res.Certain) || res.Leading().Cause != PressureReference {
			t.Errorf("falls %v: changed at %v, certain %v: %s", falls, res.ChangedAt, res.Certain, res.Verdict)
		}
	}
}

// TestRailThatTrimsDoNotShow: a pressure that is off, and that the trims do not show, is a
// caution; one that they show is a cause.
func TestRailThatTrimsDoNotShow(t *testing.T) {
	for trim, want := range map[float64]bool{0.78125: true, 5.4: false} { // 10 % too little pressure wants 5.4 %
		x := &Explainer{e: handEngine(t, 4, 1), res: &Result{ChangedAt: math.NaN()}, open: newGatherer(), coolant: true, facts: metered(), levels: [3]*gatherer{newGatherer(), newGatherer(), newGatherer()}}
		for i := range 400 {
			manifold := 30 + 5*float64(i/10%12)
			for _, g := range x.levels {
				g.add(&sample{clock: float64(i), seconds: 1, speed: 1500 + 20*manifold, manifold: manifold, baro: 100, air: manifold / 4, fuel: manifold / 60, p: manifold / 10, pulse: manifold/10 + 1, duty: 20,
					rail: -0.1, railPressure: 270, foreign: none, mixture: none, trim: [2]float64{trim + float64(i%2)*0.78125 - 0.39, none}, held: [2]float64{trim, none}})
			}
		}
		res, err := x.Result()
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(strings.Join(res.Cautions, "\n"), "the measured rail pressure is −10 %"); got != want {
			t.Errorf("trims of %v %%: %q", trim, res.Cautions)
		}
	}
}

// TestNoPointsBeside: a result without points has nothing beside it.
func TestNoPointsBeside(t *testing.T) {
	x := &Explainer{res: &Result{}}
	if x.addCautions(&Result{Found: []Finding{{}}}); len(x.res.Cautions) != 0 {
		t.Errorf("%q", x.res.Cautions)
	}
}

// TestFaultsOfALogAreCautions: what a log has wrong stands among the cautions.
func TestFaultsOfALogAreCautions(t *testing.T) {
	cal := testdrive.Four()
	path := onDisk(t, testdrive.Drive(cal, testdrive.Plant{Truth: cal}, testdrive.DriveOptions{Seed: 1, Minutes: 6, Hz: 5}))
	clean := mustExplain(t, cal, path)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(text), "\n")
	lines[900] = "1,2\n"
	if err := os.WriteFile(path, []byte(strings.Join(lines, "")), 0o600); err != nil {
		t.Fatal(err)
	}
	ragged := mustExplain(t, cal, path)
	if len(ragged.Cautions) <= len(clean.Cautions) || !strings.Contains(strings.Join(ragged.Cautions, "\n"), "rows with more or fewer fields than the header") {
		t.Errorf("%q", ragged.Cautions)
	}
}

// TestChangedAtATimeOfDay: when the engine changed is told by the clock of the log in which it
// did, the second one here.
func TestChangedAtATimeOfDay(t *testing.T) {
	x := &Explainer{e: handEngine(t, 4, 1), res: &Result{ChangedAt: math.NaN()}, open: newGatherer(), coolant: true, facts: metered(), levels: [3]*gatherer{newGatherer(), newGatherer(), newGatherer()},
		clocks: map[int]drivelog.Clock{1: {OfDay: true}}}
	for i := range 4000 {
		manifold, trim := 30+5*float64(i/10%12), float64(i%2)*0.78125-0.39
		if i >= 2000 {
			trim += 9
		}
		for _, g := range x.levels {
			g.add(&sample{log: i / 2000, time: 36000 + float64(i), clock: float64(i), seconds: 1, speed: 1500 + 20*manifold, manifold: manifold, baro: 100, air: manifold / 4, fuel: manifold / 60, p: manifold / 10, pulse: manifold/10 + 1, duty: 20,
				rail: none, railPressure: none, foreign: none, mixture: none, trim: [2]float64{trim, none}, held: [2]float64{trim, none}})
		}
	}
	res, err := x.Result()
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(res.Verdict, "the engine changed at 10:3") {
		t.Errorf("%v: %s", res.ChangedAt, res.Verdict)
	}
}
