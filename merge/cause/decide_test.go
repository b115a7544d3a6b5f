package cause

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

// concluded is a result that a drive might give, so changed: a certain flow.
func concluded(how func(r *Result)) *Result {
	r := &Result{Found: []Finding{{Cause: FlowScale, Share: 0.9}, {Cause: None, Share: 0.1}}, Certain: true, ChangedAt: math.NaN(), Settle: "Do that"}
	how(r)
	return r
}

func leads(c Cause) func(r *Result) { return func(r *Result) { r.Found[0].Cause = c } }

// TestWhatWaits: tables wait for a fault to repair, alone or as one of two, and
// for banks that surely differ by 3 % or more; lean in boost is a hose lost on an
// engine that sees boost.
func TestWhatWaits(t *testing.T) {
	banks := func(difference, se float64) func(r *Result) {
		return func(r *Result) { r.Banks = &Banks{difference, se} }
	}
	pair := func(a, b Cause) func(r *Result) {
		return func(r *Result) { r.Together = &Pair{Causes: [2]Cause{a, b}} }
	}
	hose := func(lead, second Cause, boost bool, together *Pair) func(r *Result) {
		return func(r *Result) {
			r.Found = []Finding{{Cause: lead, lostHose: lead == PressureReference}, {Cause: second, lostHose: second == PressureReference}}
			r.Boost, r.Together = boost, together
		}
	}
	for _, c := range []struct {
		why                       string
		how                       func(r *Result)
		mechanical, differ, stops bool
	}{
		{"wrong flow", leads(FlowScale), false, false, false},
		{"an offset", leads(InjectorOffset), false, false, false},
		{"an air meter", leads(AirMeter), false, false, false},
		{"volumetric efficiency", leads(VolumetricEfficiency), false, false, false},
		{"nothing", leads(None), false, false, false},
		{"a leak", leads(UnmeteredAir), true, false, false},
		{"a regulator", leads(PressureReference), true, false, false},
		{"a pump", leads(SupplyLimit), true, false, false},
		{"a bank", leads(BankDifference), true, false, false},
		{"two tables", pair(FlowScale, InjectorOffset), false, false, false},
		{"a table and a leak", pair(FlowScale, UnmeteredAir), true, false, false},
		{"a leak and a table", pair(UnmeteredAir, FlowScale), true, false, false},
		{"banks 3 % apart", banks(3, 0.9), true, true, false},
		{"the other way", banks(-3, 0.9), true, true, false},
		{"2.9 % apart", banks(2.9, 0.1), false, false, false},
		{"3 % that may be chance", banks(3, 1), false, false, false},
		{"a hose lost in boost", hose(PressureReference, None, true, nil), true, false, true},
		{"a hose lost without boost", hose(PressureReference, None, false, nil), true, false, false},
		{"boost alone", hose(FlowScale, None, true, nil), false, false, false},
		{"a hose that does not lead", hose(FlowScale, PressureReference, true, nil), false, false, false},
		{"a hose beside a leader", hose(FlowScale, PressureReference, true, &Pair{Causes: [2]Cause{FlowScale, PressureReference}}), true, false, true},
		{"named first", hose(FlowScale, PressureReference, true, &Pair{Causes: [2]Cause{PressureReference, FlowScale}}), true, false, true},
		{"a pair without the hose", hose(FlowScale, PressureReference, true, &Pair{Causes: [2]Cause{FlowScale, InjectorOffset}}), false, false, false},
	} {
		r := concluded(c.how)
		if r.Mechanical() != c.mechanical || r.BanksDiffer() != c.differ || r.LeanInBoost() != c.stops {
			t.Errorf("%s: mechanical %v, banks differ %v, lean in boost %v", c.why, r.Mechanical(), r.BanksDiffer(), r.LeanInBoost())
		}
	}
}

// TestWeakLeader: too small a share of the trims is a doubt, and of small trims a
// larger share is wanted.
func TestWeakLeader(t *testing.T) {
	for _, c := range []struct {
		share, effect float64
		want, why     string
	}{
		{0.49, 8, "no cause explains half", "less than half"},
		{0.5, 8, "", "half of large trims"},
		{0.84, 2.4, "the trims are small", "small trims, and noise as good"},
		{0.85, 2.4, "", "small trims, well explained"},
		{0.84, 2.5, "", "trims that are not small"},
	} {
		if got := weak(&Finding{Share: c.share, Effect: c.effect}); !strings.HasPrefix(got, c.want) || (got == "") != (c.want == "") {
			t.Errorf("%s: %q", c.why, got)
		}
	}
}

// TestNextStepsByHand: what to do and what not, for each way in which a drive can
// end.
func TestNextStepsByHand(t *testing.T) {
	const next = "\nNext: Do that."
	unsure := func(c Cause) func(r *Result) {
		return func(r *Result) { r.Found[0].Cause, r.Certain = c, false }
	}
	for _, c := range []struct {
		why  string
		how  func(r *Result)
		want string
	}{
		{"certain flow", leads(FlowScale), "Cause not confirmed until rail pressure and fuel are checked: see what looks alike." + next},
		{"flow with another", func(r *Result) { r.Together = &Pair{Causes: [2]Cause{FlowScale, InjectorOffset}} }, strings.TrimPrefix(next, "\n")},
		{"a certain offset", leads(InjectorOffset), strings.TrimPrefix(next, "\n")},
		{"an offset perhaps", unsure(InjectorOffset), "Do not change a table yet: the drive does not tell which one would be right." + next},
		{"a certain leak", leads(UnmeteredAir), "Do not change a table for this. A fault is repaired, not calibrated away." + next},
		{"a leak perhaps", unsure(UnmeteredAir), "Do not change a table yet: a mechanical fault is among the causes that fit. Find and repair it first." + next},
		{"nothing", leads(None), "No table needs a change by these trims."},
		{"nothing for certain", unsure(None), "Do not change a table yet." + next},
		{"nothing but banks apart", func(r *Result) { r.Found[0].Cause, r.Banks = None, &Banks{-4, 0.1} },
			"Do not change a table yet: the banks differ, and one table feeds both." + next + "\nThe banks' trims lie 4.0 % apart: " + BankDifference.entry().test + "."},
		{"a bank that leads", func(r *Result) { r.Found[0].Cause, r.Banks = BankDifference, &Banks{4, 0.1} },
			"Do not change a table for this. A fault is repaired, not calibrated away." + next},
		{"a hose lost in boost", func(r *Result) { r.Found[0] = Finding{Cause: PressureReference, lostHose: true}; r.Boost = true },
			"STOP: lean in boost. Do not load this engine: there the injectors see less pressure than the table takes them to have, and no table may hide that.\n" +
				"Do not change a table for this. A fault is repaired, not calibrated away." + next},
		{"doubts, the first of which is in what to do next", func(r *Result) {
			r.Found[0].Cause, r.Certain, r.Doubts = InjectorOffset, false, []Doubt{{"a", "A"}, {"b", "B"}, {"c", "C"}, {"d", "D"}}
		}, "Do not change a table yet: the drive does not tell which one would be right." + next + "\nAlso: b. B.\nAlso: c. C."},
	} {
		if got := strings.Join(concluded(c.how).NextSteps(), "\n"); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.why, got, c.want)
		}
	}
}

// TestVerdictByHand: the headline of each, and what would settle it: the gravest
// comes first.
func TestVerdictByHand(t *testing.T) {
	doubt := []Doubt{{"idle never held still", "Hold it"}}
	for _, c := range []struct {
		why             string
		how             func(r *Result)
		verdict, settle string // begins so
	}{
		{"certain", func(r *Result) { r.Found[0].Test = "gauge" }, "flow-scale: fuel flow wrong by the same share everywhere", "Gauge"},
		{"changed", func(r *Result) { r.ChangedAt, r.Doubts = 600, doubt }, "the engine changed at minute 10 (600 s of the log's clock)", "Find what happened then"},
		{"changed at a time of day", func(r *Result) { r.ChangedAt, r.Doubts, r.clock.OfDay = 36000.5, doubt, true }, "the engine changed at 10:00:00.5 of the log's clock: the same", "Find what happened then"},
		{"another calibration", func(r *Result) { r.Foreign, r.ChangedAt = 0.6, 600 }, "the log does not come from this calibration", "Give the calibration"},
		{"half of another is none", func(r *Result) { r.Foreign, r.Found[0].Test = 0.5, "gauge" }, "flow-scale: ", "Gauge"},
		{"doubted", func(r *Result) { r.Certain, r.Doubts = false, doubt }, "can't tell: flow-scale fits best, but idle never held still. ", "Hold it"},
		{"not certain", func(r *Result) { r.Certain, r.Found[0].Test = false, "gauge" }, "can't tell for certain: flow-scale fits best", "Gauge"},
		{"nothing", func(r *Result) { r.Found[0].Cause, r.Found[0].Test = None, "none" }, "no cause needed: noise accounts for the trims", "None"},
		{"nothing, doubted", func(r *Result) { r.Found[0].Cause, r.Certain, r.Doubts = None, false, doubt }, "can't tell: no cause stands out, but idle never held still. ", "Hold it"},
		{"nothing, not certain", func(r *Result) { r.Found[0].Cause, r.Certain = None, false }, "can't tell: no cause explains these trims", sentence(moreDriving)},
		{"two", func(r *Result) {
			r.Together, r.Found[0].Test = &Pair{Causes: [2]Cause{UnmeteredAir, FlowScale}}, "gauge"
		}, "two causes together: flow-scale and unmetered-air", "Gauge"},
		{"two, not certain", func(r *Result) {
			r.Together, r.Certain, r.Doubts = &Pair{Causes: [2]Cause{FlowScale, UnmeteredAir}}, false, doubt
		}, "more than one thing is wrong, flow-scale and unmetered-air fit best: can't tell for certain. ", "Hold it"},
		{"injectors at their own limit", func(r *Result) { r.Found[0] = Finding{Cause: SupplyLimit, OwnLimit: 92, Test: "gauge"} }, "supply-limit: the injectors' own, at 92 % duty", "Gauge"},
		{"lean in boost before all", func(r *Result) {
			r.Found[0], r.Boost, r.Foreign = Finding{Cause: PressureReference, lostHose: true}, true, 0.9
		}, "pressure-reference: in boost the mixture is lean", "Give the calibration"},
	} {
		r := concluded(c.how)
		r.Settle = settle(r)
		if got := verdict(r); !strings.HasPrefix(got, c.verdict) || !strings.HasPrefix(r.Settle, c.settle) {
			t.Errorf("%s: %s; to settle: %s", c.why, got, r.Settle)
		}
	}
}

// TestMeasuredRailLeads: a measured pressure leads alone where the rest has no
// cause of its own, and else with that; a bent line, or a pair, makes it uncertain.
func TestMeasuredRailLeads(t *testing.T) {
	rail := Finding{Cause: PressureReference, Share: 0.7, Effect: 10}
	for _, c := range []struct {
		why      string
		rest     Finding
		changed  float64
		together bool
		certain  bool
	}{
		{"nothing else", Finding{Cause: None, Share: 0.9}, math.NaN(), false, true},
		{"no rest of its own", Finding{Cause: FlowScale, Share: 0.9, Effect: 2.9}, math.NaN(), false, true},
		{"a rest of its own", Finding{Cause: FlowScale, Share: 0.9, Effect: 3.1}, math.NaN(), true, true},
		{"a bent line", Finding{Cause: AirMeter, Share: 0.9, Effect: 5}, math.NaN(), true, false},
		{"one of a pair", Finding{Cause: FlowScale, Share: 0.9, Effect: 5, beside: SupplyLimit}, math.NaN(), true, false},
		{"a change", Finding{Cause: FlowScale, Share: 0.9, Effect: 5}, 600, true, false},
		{"a change, and nothing else", Finding{Cause: None, Share: 0.9}, 600, false, false},
	} {
		r := concluded(func(r *Result) {
			r.Found = []Finding{c.rest, {Cause: PressureReference, Share: 0.2}, {Cause: InjectorOffset, Share: 0.1}}
			r.Unexamined = []Unexamined{{PressureReference, "no pressure"}, {SupplyLimit, "no fuel"}}
			r.ChangedAt, r.Doubts = c.changed, nil
		})
		r.nameRail(rail, c.together)
		if (r.Together != nil) != c.together || r.Certain != c.certain {
			t.Errorf("%s: together %v, certain %v", c.why, r.Together, r.Certain)
		}
		if lead := r.Leading(); lead.Cause != PressureReference || lead.Share != 0.9 || len(r.Found) != 3 || len(r.Unexamined) != 1 {
			t.Errorf("%s: %+v", c.why, r.Found)
		}
	}
}

// TestOrderOfCauses: the larger share first, the partners of a pair by what each
// explains alone, then as the causes are listed; a margin is over the best that
// is no partner.
func TestOrderOfCauses(t *testing.T) {
	alone := func(share float64) *model { return &model{share: share} }
	found := []Finding{{Cause: UnmeteredAir, Share: 0.3}, {Cause: FlowScale, Share: 0.8, beside: InjectorOffset, alone: alone(0.4)}, {Cause: None, Share: 0.1},
		{Cause: InjectorOffset, Share: 0.8, beside: FlowScale, alone: alone(0.6)}, {Cause: SupplyLimit, Share: 0.3}}
	order(found)
	var got []string
	for _, f := range found {
		got = append(got, fmt.Sprintf("%s %.1f", f.Cause, f.Margin))
	}
	if said := strings.Join(got, ", "); said != "injector-offset 0.5, flow-scale 0.5, unmetered-air -0.5, supply-limit -0.5, none -0.7" {
		t.Error(said)
	}
	plain := []Finding{{Cause: UnmeteredAir, Share: 0.5}, {Cause: FlowScale, Share: 0.5, beside: InjectorOffset, alone: alone(0.4)}}
	if order(plain); plain[0].Cause != FlowScale {
		t.Error("equal shares are not in the order of the causes")
	}
}

// TestWhereQuantitiesComeFrom: a log's own channel before one that is derived,
// and a pulse only with what its offset depends on.
func TestWhereQuantitiesComeFrom(t *testing.T) {
	const all = "pulse_width battery air_flow air_charge manifold_pressure"
	without := func(names ...string) string {
		var s []string
		for _, n := range strings.Fields(all) {
			if !slices.Contains(names, n) {
				s = append(s, n)
			}
		}
		return strings.Join(s, " ")
	}
	for _, c := range []struct {
		has        string
		pulse, air source
		said       int // of what was derived for want of channels
	}{
		{all, logged, logged, 1},
		{without("air_flow"), logged, fromCharge, 2},
		{without("air_flow", "air_charge"), logged, fromFuel, 2},
		{without("battery"), fromAir, logged, 2},
		{without("pulse_width"), fromAir, logged, 2},
		{without("pulse_width", "air_flow"), fromAir, fromCharge, 3},
		{"manifold_pressure", fromAir, fromPressure, 3},
		{"battery", nowhere, nowhere, 0},
		{all + " barometric_pressure", logged, logged, 0},
	} {
		d := &deriver{e: handEngine(t, 4, 1)}
		d.plan(func(name string) bool { return slices.Contains(strings.Fields(c.has), name) })
		if d.pulseFrom != c.pulse || d.airFrom != c.air || len(d.notes()) != c.said {
			t.Errorf("with %s: pulse from %d, air from %d, %d said, want %d, %d, %d", c.has, d.pulseFrom, d.airFrom, len(d.notes()), c.pulse, c.air, c.said)
		}
	}
}

// TestWhatReplays: the pulse that a calibration commands follows from logged air
// and from nothing less.
func TestWhatReplays(t *testing.T) {
	for _, c := range []struct {
		why  string
		how  func(d *deriver)
		want bool
	}{
		{"logged air", func(*deriver) {}, true},
		{"logged charge", func(d *deriver) { d.airFrom = fromCharge }, true},
		{"air from fuel", func(d *deriver) { d.airFrom = fromFuel }, false},
		{"a derived pulse", func(d *deriver) { d.pulseFrom = fromAir }, false},
		{"no flow", func(d *deriver) { d.e.FlowTable = nil }, false},
		{"a ratio that is assumed", func(d *deriver) { d.e.StoichGiven = false }, false},
		{"no injectors", func(d *deriver) { d.e.Injectors = 0 }, false},
	} {
		d := &deriver{e: handEngine(t, 4, 1), pulseFrom: logged, airFrom: logged}
		c.how(d)
		if got := d.replays(); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestWidebandByHand: in open loop the mixture's error stands for the trim; a
// trim that is logged and not applied is no part of it; 5 % missing at a trim of
// +10 % that is not applied is (1.05/1.1 − 1) = −4.5 %. In closed loop it is the
// sensor's own error.
func TestWidebandByHand(t *testing.T) {
	for _, c := range []struct {
		why                        string
		mode                       rejected
		unapplied                  bool
		lambda, commanded, mixture float64
		want                       float64 // NaN for none
		bias                       bool
	}{
		{"open loop", openLoop, false, 1.05, 1, 5, 5, false},
		{"a trim that is not applied", openLoop, true, 1.05, 1, 5, 100 * (1.05/1.1 - 1), false},
		{"closed loop", fit, false, 1.02, 1, 12, 12, true},
		{"closed loop, a trim that is not applied", fit, true, 1.02, 1, 12, 12, true},
		{"a cut", openLoop, false, 1.7, 1, 70, math.NaN(), false},
		{"a cold sensor", openLoop, false, 0.5, 1, -50, math.NaN(), false},
		{"nothing commanded", openLoop, false, 1, 0, 5, math.NaN(), false},
		{"no mixture", openLoop, false, 1, 1, math.NaN(), math.NaN(), false},
	} {
		x := &Explainer{}
		x.open = newGatherer()
		s := &sample{trim: [2]float64{10, 10}, mixture: math.NaN(), bias: math.NaN(), unapplied: c.unapplied}
		x.wideband(s, c.mode, c.lambda, c.commanded, c.mixture)
		if !(math.Abs(s.mixture-c.want) < 1e-12) && !(s.mixture != s.mixture && c.want != c.want) {
			t.Errorf("%s: %v, want %v", c.why, s.mixture, c.want)
		}
		if v := s.bias; (v == v) != c.bias || c.bias && math.Abs(v-0.02) > 1e-12 {
			t.Errorf("%s: the sensor's error is %v", c.why, v)
		}
	}
}

// TestSharesByHand: 60 of 100 s within 5 % on both banks, and 30 of 200 s of
// both banks together at a limit.
func TestSharesByHand(t *testing.T) {
	r := &rows{banks: 2, points: []*Point{
		{Seconds: 60, Trim: [2]float64{5, -5}}, {Seconds: 30, Trim: [2]float64{9, 0}, AtLimit: [2]float64{1, 0}}, {Seconds: 10, Trim: [2]float64{0, 5.1}}}}
	res := &Result{}
	r.shares(res)
	if math.Abs(res.Share5-0.6) > 1e-12 || math.Abs(res.AtLimit-0.15) > 1e-12 || len(res.Cautions) != 1 || !strings.Contains(res.Cautions[0], "for 15 % of the settled time") {
		t.Errorf("%+v", res)
	}
	r.points[1].AtLimit[0] = 0.1 // 1.5 %
	res = &Result{}
	if r.shares(res); len(res.Cautions) != 0 {
		t.Errorf("%q", res.Cautions)
	}
}

// TestHeavy: trims of some size count from some seconds on, wherever they stood.
func TestHeavy(t *testing.T) {
	r := &rows{y: []float64{9, -9, 8, 9}, point: []int{0, 1, 2, 3}, points: []*Point{{Seconds: 1, Samples: 3}, {Seconds: 1, Samples: 3}, {Seconds: 9, Samples: 9}, {Seconds: 9, Samples: 2}}}
	if !r.heavy(8, 2) || r.heavy(8, 2.1) || !r.heavy(7.9, 11) || r.heavy(9, 0.1) {
		t.Error("trims past 8 % stood for 2 s in all, on points of three samples at least")
	}
}

// TestPairOfFlowIsAProduct: beside a flow that is wrong by +10 %, a leak's own
// share is what is fitted over 1.1, whichever comes first; an offset's time is as
// fitted, and so is what stands beside another cause than flow.
func TestPairOfFlowIsAProduct(t *testing.T) {
	c := &contest{list: []candidate{{cause: FlowScale}, {cause: UnmeteredAir}, {cause: InjectorOffset}}}
	part := &variant{columns: [][]float64{nil}}
	for _, row := range []struct {
		of        []int
		sum, want [2]float64
	}{
		{[]int{0, 1}, [2]float64{10, 11}, [2]float64{10, 10}},
		{[]int{1, 0}, [2]float64{11, 10}, [2]float64{10, 10}},
		{[]int{0, 2}, [2]float64{10, 11}, [2]float64{10, 11}},
		{[]int{1, 2}, [2]float64{10, 11}, [2]float64{10, 11}},
	} {
		var coef []Coefficient
		for _, v := range row.sum {
			coef = append(coef, Coefficient{v, 0.9 * v, 1.1 * v, ""})
		}
		c.product(&model{of: row.of, parts: []*variant{part, part}}, coef)
		for j, want := range row.want {
			if v := coef[j]; math.Abs(v.Value-want)+math.Abs(v.Low-0.9*want)+math.Abs(v.High-1.1*want) > 1e-9 {
				t.Errorf("%v: %v", row.of, coef)
			}
		}
	}
	c.product(&model{of: []int{0, 1}, parts: []*variant{part, part}}, nil) // more columns than parts of the drive
}

// TestRestOfItsOwn: what a measured pressure leaves has a cause where it is 0.3 of
// the pressure's effect, or 2.5 % where the pressure holds for a tenth of the drive.
func TestRestOfItsOwn(t *testing.T) {
	for _, c := range []struct {
		why    string
		cause  Cause
		effect float64
		rest   float64 // % everywhere
		hold   int     // of 20 rows, those at which the pressure holds
		want   bool
	}{
		{"no cause", None, 9, 9, 10, false},
		{"hardly a trim", FlowScale, 1.7, 1.7, 10, false},
		{"large", FlowScale, 6, 6, 0, true},
		{"small beside a pressure that nowhere holds", FlowScale, 5.9, 5.9, 1, false},
		{"as much where it holds", FlowScale, 5.9, 5.9, 2, true},
		{"too little where it holds", FlowScale, 5.9, 2.4, 10, false},
	} {
		r := &rows{rail: &rail{}}
		m := &model{}
		for i := range 20 {
			r.y, r.w, m.predicted = append(r.y, 0), append(r.w, 1), append(m.predicted, c.rest)
			trim := -railCounts
			if i < c.hold {
				trim = 0.99 * railCounts
			}
			r.rail.trim = append(r.rail.trim, trim)
		}
		if got := r.ownRest(&Finding{Cause: c.cause, Effect: c.effect, model: m}, 20); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestUnexplainedTrims: where no cause fits, what the trims do at light load and at
// the same places says what to do next.
func TestUnexplainedTrims(t *testing.T) {
	for _, c := range []struct {
		why     string
		light   float64 // % at 3 g/s; 1 % at 30
		seconds float64 // at 3 g/s
		noise   float64 // share of the trims
		metered bool
		what    string
		settle  string
	}{
		{"higher", 3, 20, 0, true, "trims rise where little air flows", "a leak shrinks"},
		{"higher, air computed", 3, 20, 0, false, "trims rise where little air flows", "lamps and blower"},
		{"a little higher", 2.9, 20, 0, true, "", ""},
		{"lower", -1, 20, 0, true, "trims fall where little air flows", "purge line closed off"},
		{"a little lower", -0.9, 20, 0, true, "", ""},
		{"too short there", 9, 10, 0, true, "", ""},
		{"noise", 1, 20, 0.25, true, "the same places differ from themselves", "one warm drive alone"},
		{"less noise", 1, 20, 0.24, true, "", ""},
	} {
		res := &Result{Found: []Finding{{Cause: None}}}
		for _, p := range []Point{{AirFlow: 3, Seconds: c.seconds, Trim: [2]float64{c.light, math.NaN()}}, {AirFlow: 30, Seconds: 15, Trim: [2]float64{1, math.NaN()}}} {
			res.Points = append(res.Points, &p)
		}
		x := &contest{r: &rows{noise: c.noise, total: 1}, f: &facts{metered: c.metered}}
		x.unexplained(res)
		if n := len(res.Doubts); n > 1 || (n == 1) != (c.what != "") {
			t.Errorf("%s: %v", c.why, res.Doubts)
		} else if n == 1 && (!strings.Contains(res.Doubts[0].What, c.what) || !strings.Contains(res.Doubts[0].Settle, c.settle)) {
			t.Errorf("%s: %v", c.why, res.Doubts)
		}
	}
}

// TestIntervalWithoutNoise: trims that fit to the last digit still leave what stays
// wrong over a whole drive: two standard deviations of 0.08 % of flow, and of an
// offset what that is at its pulse.
func TestIntervalWithoutNoise(t *testing.T) {
	one, inverse := make([]float64, 60), make([]float64, 60)
	c := &contest{r: &rows{}}
	for i := range one {
		one[i], inverse[i] = 1, 25 // % for each ms, at a pulse of 4 ms
		c.r.y, c.r.w = append(c.r.y, 8), append(c.r.w, 1)
	}
	for _, row := range []struct {
		column []float64
		want   Coefficient
	}{
		{one, Coefficient{8, 7.84, 8.16, "u"}},
		{inverse, Coefficient{0.32, 0.3136, 0.3264, "u"}},
	} {
		got := c.coefficients(&model{y: c.r.y, shape: &variant{columns: [][]float64{row.column}, unit: []string{"u"}}})
		if len(got) != 1 || math.Abs(got[0].Value-row.want.Value)+math.Abs(got[0].Low-row.want.Low)+math.Abs(got[0].High-row.want.High) > 1e-6 || got[0].Unit != "u" {
			t.Errorf("%v, want %v", got, row.want)
		}
	}
	held := c.coefficients(&model{y: c.r.y, shape: &variant{columns: [][]float64{one}, unit: []string{"%"}, ridge: 1}})
	if len(held) != 1 || math.Abs(held[0].Value-4) > 1e-6 {
		t.Errorf("a ridge as heavy as the rows leaves %v of 8, want half", held)
	}
}
