package cause

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// ring is a contest of flow, an offset, a leak, a regulator, a supply, a meter,
// one bank, vapour and an exhaust leak, in this order, whose rows weigh 4 in all.
func ring() *contest {
	c := &contest{r: &rows{banks: 1}, f: &facts{}, gram: &gram{weight: 4}}
	for _, cause := range []Cause{FlowScale, InjectorOffset, UnmeteredAir, PressureReference, SupplyLimit, AirMeter, BankDifference, hiddenPurge, hiddenExhaust} {
		c.list = append(c.list, candidate{cause: cause})
	}
	return c
}

// fighter is a model of the causes at these places of a ring.
func fighter(share, err float64, of ...int) *model {
	return &model{of: of, share: share, err: err, left: make([]float64, folds), shape: &variant{free: 1}}
}

// ahead makes a model leave more unexplained than another, fold by fold, by z
// standard errors: differences of 1 ± 3/z have the mean 1 and the standard error 1/z.
func ahead(winner, loser *model, z float64) {
	for k := range loser.left {
		loser.left[k] = winner.left[k] + 1 + 3/z*float64(1-2*(k%2))
	}
}

// TestWhenASecondCauseIsNeeded: a pair is named where it explains half of the trims,
// leaves at most three quarters of what the best cause alone leaves, and is better by
// 0.5 % surely or by 0.8 % probably. A bent line alone must itself be clearly better.
func TestWhenASecondCauseIsNeeded(t *testing.T) {
	for _, row := range []struct {
		why          string
		share        float64 // of the pair
		left, single float64 // unexplained by the pair, and by the best alone
		z            float64
		want         bool
	}{
		{"0.5 % surely", 0.5, 1, 2, 1.6, true},
		{"too little explained", 0.49, 1, 2, 1.6, false},
		{"0.49 %", 0.5, 1, 1.96, 1.6, false},
		{"0.5 %, not surely", 0.5, 1, 2, 1.4, false},
		{"0.8 % probably", 0.5, 2.56, 5.12, 0.9, true},
		{"0.79 % probably", 0.5, 2.56, 5.05, 0.9, false},
		{"0.8 % by chance", 0.5, 2.56, 5.12, 0.7, false},
		{"three quarters left", 0.5, 6, 8, 1.6, true},
		{"more than three quarters left", 0.5, 6.1, 8, 1.6, false},
	} {
		c := ring()
		pair, single := fighter(row.share, row.left, 0, 2), fighter(0.4, row.single, 0)
		ahead(pair, single, row.z)
		if got := c.needed(pair, single); got != row.want {
			t.Errorf("%s: %v", row.why, got)
		}
	}
	for _, row := range []struct {
		why  string
		bent float64 // share of the bent line; the pair has 0.7
		z    float64 // by which the bent line is better
		want bool
	}{
		{"as good as a bent line", 0.71, 9, true},
		{"a bent line clearly better", 0.72, 1.3, false},
		{"a bent line better, not surely", 0.74, 1.1, true},
		{"a bent line much better, not surely", 0.76, 1.1, false},
	} {
		c := ring()
		pair, single := fighter(0.7, 2, 0, 2), fighter(row.bent, 1, 5)
		ahead(single, pair, row.z)
		if got := c.needed(pair, single); got != row.want {
			t.Errorf("%s: %v", row.why, got)
		}
	}
}

// TestOneQuietBank: flow beside one bank's fault is no pair where the other bank
// needs nothing.
func TestOneQuietBank(t *testing.T) {
	for _, row := range []struct {
		why        string
		quiet      float64 // % of the first bank; the second has 8 %
		banks      int
		of         []int
		want, pair bool
	}{
		{"a quiet bank", 1.4, 2, []int{0, 6}, true, false},
		{"1.5 %", 1.5, 2, []int{0, 6}, false, true},
		{"one bank", 1.4, 1, []int{0, 6}, false, true},
		{"flow and a leak", 1.4, 2, []int{0, 2}, true, true},
		{"a leak and a bank", 1.4, 2, []int{2, 6}, true, true},
	} {
		c := ring()
		c.r = &rows{banks: row.banks, y: []float64{-row.quiet, 8}, bank: []int{0, 1}, w: []float64{1, 1}}
		pair, single := fighter(0.9, 1, row.of...), fighter(0.4, 4, 0)
		ahead(pair, single, 9)
		if got := c.r.quietBank(); got != row.want {
			t.Errorf("%s: quiet %v", row.why, got)
		}
		if got := c.needed(pair, single); got != row.pair {
			t.Errorf("%s: needed %v", row.why, got)
		}
	}
	r := &rows{banks: 2, y: []float64{1.4, 5.5}, bank: []int{0, 1}, w: []float64{1, 1}}
	if r.quietBank() {
		t.Error("1.4 % beside 5.5 % is no quiet bank: a quarter is wanted")
	}
}

// TestBentLineBeats: by two hundredths of the trims, surely, and by 0.45 %.
func TestBentLineBeats(t *testing.T) {
	for _, row := range []struct {
		why     string
		ahead   float64 // of the share
		z, more float64 // left by the other
		want    bool
	}{
		{"just so", 0.0201, 1.3, 0.81, true},
		{"less than two hundredths", 0.019, 1.3, 0.81, false},
		{"not surely", 0.0201, 1.1, 0.81, false},
		{"0.44 %", 0.0201, 1.3, 0.7744, false},
	} {
		c := ring()
		bent, other := fighter(0.5+row.ahead, 1, 5), fighter(0.5, 1+row.more, 0)
		ahead(bent, other, row.z)
		if got := c.beats(bent, other); got != row.want {
			t.Errorf("%s: %v", row.why, got)
		}
	}
}

// TestBetterAndClearly: the bounds from which a richer model puts a plainer one in
// doubt, and from which a leader is told from another cause.
func TestBetterAndClearly(t *testing.T) {
	for _, row := range []struct {
		why     string
		z, more float64
		want    bool
	}{
		{"0.35 % surely", 1.6, 0.49, true},
		{"0.34 % surely", 1.6, 0.4624, false},
		{"0.35 % probably", 1.4, 0.49, false},
		{"0.5 % probably", 0.9, 1, true},
		{"0.49 % probably", 0.9, 0.9604, false},
		{"0.5 % by chance", 0.7, 1, false},
	} {
		c := ring()
		rich, plain := fighter(0.6, 1, 0, 2), fighter(0.5, 1+row.more, 0)
		ahead(rich, plain, row.z)
		if got := c.better(rich, plain); got != row.want {
			t.Errorf("better, %s: %v", row.why, got)
		}
	}
	for _, row := range []struct {
		why    string
		margin float64
		z      float64
		more   float64 // left by the other
		richer float64
		want   bool
	}{
		{"two hundredths, probably", 0.0201, 1.1, 0, 0, true},
		{"less, probably", 0.019, 1.1, 0, 0, false},
		{"two hundredths by chance", 0.0201, 0.9, 0, 0, false},
		{"0.35 % surely", 0, 1.6, 0.49, 0, true},
		{"0.34 % surely", 0, 1.6, 0.4624, 0, false},
		{"0.35 % probably", 0, 1.4, 0.49, 0, false},
		{"four thousandths, very surely", 0.00401, 2.6, 0, 0, true},
		{"three thousandths, very surely", 0.003, 2.6, 0, 0, false},
		{"four thousandths, surely", 0.00401, 2.4, 0, 0, false},
		{"a bent line of the leader's shape", 0.0301, -1.4, 0, 2, true},
		{"a bent line less far behind", 0.029, -1.4, 0, 2, false},
		{"a bent line that fits better", 0.0301, -1.6, 0, 2, false},
		{"hardly bent", 0.0301, -1.4, 0, 1.9, false},
	} {
		c := ring()
		lead, other := fighter(0.5+row.margin, 1, 0), fighter(0.5, 1+row.more, 2)
		other.shape.free += row.richer
		if row.z < 0 {
			ahead(other, lead, -row.z)
		} else {
			ahead(lead, other, row.z)
		}
		if got := c.clearly(lead, other); got != row.want {
			t.Errorf("clearly, %s: %v", row.why, got)
		}
	}
}

// TestTold: who a leader must be told from, and by which measure.
func TestTold(t *testing.T) {
	for _, row := range []struct {
		why         string
		lead, other []int
		margin, z   float64
		want        bool
	}{
		{"an exhaust leak is the same as a leak to any trim", []int{2}, []int{8}, 0, 0.1, true},
		{"but not beside another cause", []int{2, 0}, []int{8}, 0, 0.1, false},
		{"nor where flow leads", []int{0}, []int{8}, 0, 0.1, false},
		{"a bent line that is no better", []int{0}, []int{5}, 0, 0.1, true},
		{"a bent line that leads and does not beat the other", []int{5}, []int{0}, 0.019, 1.6, false},
		{"a bent line that leads and beats it", []int{5}, []int{0}, 0.03, 1.6, true},
		{"a plain cause that is clearly worse", []int{0}, []int{2}, 0.03, 1.6, true},
		{"a plain cause that is not", []int{0}, []int{2}, 0.01, 0.5, false},
	} {
		c := ring()
		lead, other := fighter(0.6+row.margin, 1, row.lead...), fighter(0.6, 1.9, row.other...)
		ahead(lead, other, row.z)
		if got := c.toldApart(lead, other, c.list[row.other[0]].cause); got != row.want {
			t.Errorf("%s: %v", row.why, got)
		}
	}
	c := ring()
	lead, bent := fighter(0.6, 2, 0), fighter(0.7, 1, 5)
	if ahead(bent, lead, 1.6); c.toldApart(lead, bent, AirMeter) {
		t.Error("a bent line that is surely better than the leader puts it in doubt")
	}
}

// sized gives a model parts that predict these trims everywhere.
func sized(c *contest, m *model, trims ...float64) *model {
	c.r.y, c.r.w = []float64{0, 0, 0, 0}, []float64{1, 1, 1, 1}
	m.parts, m.coef = nil, nil
	for _, v := range trims {
		m.parts, m.coef = append(m.parts, &variant{columns: [][]float64{{1, 1, 1, 1}}}), append(m.coef, v)
	}
	return m
}

// TestThreat: which pairs put a leader in doubt.
func TestThreat(t *testing.T) {
	for _, row := range []struct {
		why        string
		lead, pair []int
		smaller    float64 // % that the pair's smaller part stands for
		margin, z  float64 // by which the pair is ahead; negative: the leader
		want       bool
	}{
		{"a pair that is better", []int{0}, []int{0, 2}, 1.81, 0.01, 1.6, true},
		{"part of it is not worth a repair", []int{0}, []int{0, 2}, 1.7, 0.01, 1.6, false},
		{"no better", []int{0}, []int{0, 2}, 1.81, 0.01, 0.7, false},
		{"the leader itself", []int{0, 2}, []int{0, 2}, 1.81, 0.01, 1.6, false},
		{"another pair that leads and is not clear of it", []int{0, 1}, []int{0, 2}, 1.81, 0.01, 0.7, true},
		{"another pair that leads and is", []int{0, 1}, []int{0, 2}, 1.81, -0.03, -1.6, false},
		{"a bent line that does not beat it", []int{5}, []int{0, 2}, 1.81, -0.019, -1.6, true},
		{"a bent line that does", []int{5}, []int{0, 2}, 1.81, -0.03, -1.6, false},
		{"a hose's offset is part of the hose", []int{3}, []int{3, 1}, 1.81, 0.01, 1.6, false},
		{"a hose beside flow is not", []int{3}, []int{3, 0}, 1.81, 0.01, 1.6, true},
		{"an offset beside flow, where the hose leads", []int{3}, []int{0, 1}, 1.81, 0.01, 1.6, true},
		{"a hose and an offset, where flow leads", []int{0}, []int{3, 1}, 1.81, 0.01, 1.6, true},
		{"an exhaust leak in a leak's place", []int{2, 0}, []int{8, 0}, 1.81, 0.01, 1.6, false},
		{"an exhaust leak beside what does not lead", []int{2, 0}, []int{8, 1}, 1.81, 0.01, 0.7, true},
		{"an exhaust leak where flow leads", []int{0}, []int{8, 0}, 1.81, 0.01, 1.6, true},
	} {
		c := ring()
		lead, pair := fighter(0.8, 2, row.lead...), fighter(0.8+row.margin, 1, row.pair...)
		if row.z < 0 {
			lead.err, pair.err = 1, 2
			ahead(lead, pair, -row.z)
		} else {
			ahead(pair, lead, row.z)
		}
		sized(c, pair, 5, row.smaller)
		if got := c.threat(lead, pair); got != row.want {
			t.Errorf("%s: %v", row.why, got)
		}
	}
	c := ring()
	lead, pair := fighter(0.5, 1, 5), sized(c, fighter(0.5, 1, 0, 2), 5, 5)
	if c.threat(lead, pair) {
		t.Error("a pair that explains half of the trims is no threat to a bent line")
	}
	if pair.share = 0.51; !c.threat(lead, pair) {
		t.Error("one that explains more is")
	}
}

// TestBestPair: the pair that explains most, of causes that a person can find, each
// part of which stands for 2.5 % and for 0.15 of the other's trim.
func TestBestPair(t *testing.T) {
	for _, row := range []struct {
		why         string
		one, two    float64
		of          []int
		named       bool
		partsAreOne bool
	}{
		{"both large", 10, 2.51, []int{0, 2}, true, false},
		{"one under 2.5 %", 10, 2.4, []int{0, 2}, false, false},
		{"one under 0.15 of the other", 20, 2.9, []int{0, 2}, false, false},
		{"one 0.15 of the other", 20, 3.01, []int{0, 2}, true, false},
		{"a hose and its offset", 10, 5, []int{3, 1}, false, false},
		{"a hose and flow", 10, 5, []int{3, 0}, true, false},
		{"an offset and flow", 10, 5, []int{1, 0}, true, false},
		{"with vapour", 10, 5, []int{0, 7}, false, false},
	} {
		c := ring()
		c.pairs = []*model{sized(c, fighter(0.8, 1, row.of...), row.one, row.two)}
		if got := c.bestPair(); (got != nil) != row.named {
			t.Errorf("%s: %v", row.why, got)
		}
	}
	c := ring()
	less, most := sized(c, fighter(0.6, 1, 0, 1), 5, 5), sized(c, fighter(0.8, 1, 0, 2), 5, 5)
	for _, c.pairs = range [][]*model{{less, most}, {most, less}} {
		if c.bestPair() != most {
			t.Error("the pair that explains less is named")
		}
	}
	if c.pairs = nil; c.bestPair() != nil {
		t.Error("a pair of none")
	}
}

// TestRivals: causes, hidden things and pairs that a leader is not told from are
// doubts, each with what would settle it: of pairs the one that explains most.
func TestRivals(t *testing.T) {
	for _, row := range []struct {
		why    string
		single int // beside the leader, flow; −1 for none
		pairs  [][]int
		share  []float64 // of the pairs
		worth  float64   // % that each pair's smaller part stands for
		want   []string
		settle string
	}{
		{"a cause as good", 2, nil, nil, 0, []string{"unmetered-air fits nearly as well"}, "No-load idle against"},
		{"something hidden as good", 7, nil, nil, 0, []string{"purge is not logged"}, "purge line closed off"},
		{"a pair that is better", -1, [][]int{{0, 2}}, []float64{0.9}, 2, []string{"flow-scale together with unmetered-air would do as well"}, "No-load idle against"},
		{"the better of two pairs", -1, [][]int{{0, 2}, {1, 2}, {0, 1}}, []float64{0.85, 0.9, 0.86}, 2, []string{"injector-offset together with unmetered-air"}, "a leak shrinks"},
		{"a pair with something hidden", -1, [][]int{{0, 7}}, []float64{0.9}, 2, []string{"purge is not logged"}, "purge line closed off"},
		{"a pair that is no better than with something small", -1, [][]int{{0, 2}, {0, 1}}, []float64{0.9, 0.9}, 0, nil, ""},
	} {
		c := ring()
		lead := fighter(0.8, 3, 0)
		c.singles = make([]*model, len(c.list))
		c.singles[0] = lead
		if row.single >= 0 {
			c.singles[row.single] = fighter(0.8, 3, row.single)
			c.singles[row.single].left = slices.Repeat([]float64{0.1, -0.1}, folds/2)
		}
		for i, of := range row.pairs {
			pair := fighter(row.share[i], 1, of...)
			for k := range pair.left { // better in every fold, by about as much
				pair.left[k] = -1 - 0.1*float64(k%2)
			}
			second := 5.0
			if row.worth == 0 && i > 0 {
				second = 1 // worth no repair, and as good
			}
			c.pairs = append(c.pairs, sized(c, pair, 5, second))
		}
		res := &Result{Found: []Finding{{Cause: FlowScale, model: lead}}}
		c.rivals(res, &res.Found[0])
		if len(res.Doubts) != len(row.want) {
			t.Errorf("%s: %v", row.why, res.Doubts)
			continue
		}
		for i, w := range row.want {
			if d := res.Doubts[i]; !strings.Contains(d.What, w) || !strings.Contains(d.Settle, row.settle) {
				t.Errorf("%s: %v", row.why, d)
			}
		}
	}
}

// TestWithLittle: beside a single leader, what something not worth a repair leaves
// is the least that puts it in doubt.
func TestWithLittle(t *testing.T) {
	c := ring()
	c.pairs = []*model{sized(c, fighter(0.8, 3, 0, 2), 9, 1.7), sized(c, fighter(0.8, 2, 0, 1), 9, 1.7), sized(c, fighter(0.8, 1, 0, 3), 9, 1.81), sized(c, fighter(0.8, 0.5, 1, 2), 9, 1)}
	if got := c.withLittle(fighter(0.7, 5, 0)); got != 2 {
		t.Errorf("%v left beside flow, want 2", got)
	}
	if got := c.withLittle(fighter(0.7, 5, 0, 4)); !math.IsInf(got, 1) {
		t.Errorf("%v beside a pair, want none", got)
	}
}

// TestLeniency: a right leader may leave an eighth of the trims; a supply and a bent
// line, whose curves nobody knows, a fifth.
func TestLeniency(t *testing.T) {
	for i, want := range []float64{0.12, 0.12, 0.12, 0.12, 0.2, 0.2, 0.12} {
		c := ring()
		if got := c.leniency(fighter(1, 0, i)); got != want {
			t.Errorf("%s: %v", c.list[i].cause, got)
		}
	}
}

// TestSignificance: of findings that stand for a trim worth a repair, and explain
// something, the surest.
func TestSignificance(t *testing.T) {
	c := ring()
	c.gram.square = make([]float64, folds)
	found := func(z, effect, share float64) Finding {
		m := fighter(share, 0, 0)
		for k := range m.left {
			m.left[k] = -1 + 3/z*float64(1-2*(k%2)) // less than nothing's, for the differences' sake
		}
		return Finding{alone: m, Effect: effect, Share: share}
	}
	for _, row := range []struct {
		why   string
		found []Finding
		want  float64
	}{
		{"the surest", []Finding{found(2, 1.8, 0.03), found(3, 1.8, 0.03), found(1, 1.8, 0.03)}, 3},
		{"too small an effect", []Finding{found(2, 1.7, 0.03)}, 0},
		{"hardly a share", []Finding{found(2, 1.8, 0.02)}, 0},
		{"no fit", []Finding{{Effect: 5, Share: 0.5}}, 0},
	} {
		if got := c.significance(row.found); math.Abs(got-row.want) > 1e-9 {
			t.Errorf("%s: %v, want %v", row.why, got, row.want)
		}
	}
}

// TestFlatByHand: a drive is flat where air varies by less than 1.6 times over all
// but a fiftieth of its time at each end.
func TestFlatByHand(t *testing.T) {
	for _, row := range []struct {
		why          string
		air, seconds []float64
		want         bool
	}{
		{"hardly any", []float64{10, 15.9}, []float64{50, 50}, true},
		{"1.6 times", []float64{10, 16}, []float64{50, 50}, false},
		{"in any order", []float64{16, 10}, []float64{50, 50}, false},
		{"a second in a hundred of full load", []float64{10, 12, 40}, []float64{49, 50, 1}, true},
		{"three in a hundred", []float64{10, 12, 40}, []float64{47, 50, 3}, false},
		{"a second in a hundred of idle", []float64{2, 10, 12}, []float64{1, 50, 49}, true},
		{"three in a hundred of idle", []float64{2, 10, 12}, []float64{3, 50, 47}, false},
		{"no air", []float64{math.NaN(), 10}, []float64{50, 50}, false},
	} {
		c := ring()
		for i, v := range row.air {
			c.r.points = append(c.r.points, &Point{AirFlow: v, Seconds: row.seconds[i]})
			c.r.point, c.r.bank, c.r.y = append(c.r.point, i), append(c.r.bank, 0), append(c.r.y, 0)
		}
		if got := c.flat(); got != row.want {
			t.Errorf("%s: %v", row.why, got)
		}
	}
}

// TestLightest: how far the trims at the least air, for 20 s, lie above those
// elsewhere, and whether above all of those.
func TestLightest(t *testing.T) {
	point := func(air, seconds, trim float64) *Point {
		return &Point{AirFlow: air, Seconds: seconds, Trim: [2]float64{trim, math.NaN()}}
	}
	for _, row := range []struct {
		why    string
		points []*Point
		by     float64
		top    bool
	}{
		{"two bands", []*Point{point(3, 20, 6), point(30, 10, 2)}, 4, true},
		{"two for the least air", []*Point{point(3, 10, 8), point(6, 10, 6), point(12, 10, 3)}, 4, true},
		{"as high elsewhere", []*Point{point(3, 20, 6), point(12, 10, 6), point(30, 10, 2)}, 2, false},
		{"weighed by time", []*Point{point(3, 20, 6), point(12, 30, 4), point(30, 10, 0)}, 3, true},
	} {
		by, top := lightest(&Result{Points: row.points, Found: []Finding{{}}})
		if math.Abs(by-row.by) > 1e-12 || top != row.top {
			t.Errorf("%s: %v, %v", row.why, by, top)
		}
	}
}

// TestMet: a trim at its limit is as far past it as the model says, and no further;
// any other trim is as it is.
func TestMet(t *testing.T) {
	r := &rows{y: []float64{8, 8, -8, -8, 8}, bound: []float64{1, 1, -1, -1, 0}}
	if got := r.met([]float64{11, 5, -11, -5, 11}); !sameList(got, []float64{11, 8, -11, -8, 8}) {
		t.Errorf("%v", got)
	}
	if !sameList(r.y, []float64{8, 8, -8, -8, 8}) {
		t.Error("the trims themselves are changed")
	}
}

// TestMeetAtALimit: rows of which half stand at a limit of 8 % and half show 12 %
// are a constant of 12, and the first fit, 10, is only the way there.
func TestMeetAtALimit(t *testing.T) {
	r := &rows{cells: 1000}
	one := make([]float64, 40)
	for i := range one {
		v, bound := 12.0, 0.0
		if i%2 == 0 {
			v, bound = 8, 1
		}
		r.y, r.bound, r.w, r.fold, one[i] = append(r.y, v), append(r.bound, bound), append(r.w, 1), append(r.fold, i/4), 1
	}
	c := &contest{r: r, gram: r.newGram([][]float64{one}, allPairs(1), r.y, nil)}
	v := &variant{columns: [][]float64{one}, at: []int{0}, free: 1}
	first := c.one(c.gram, v)
	first.of, first.parts = []int{0}, []*variant{v}
	m := c.meet(first)
	if first.coef[0] != 10 || math.Abs(m.coef[0]-12) > 0.02 || len(m.of) != 1 || len(m.parts) != 1 {
		t.Errorf("first %v, then %+v", first.coef, m)
	}
	bounded := &variant{columns: v.columns, at: v.at, free: 1, low: []float64{0}, high: []float64{11}}
	if m := c.meet(c.one(c.gram, bounded)); m != nil {
		t.Errorf("a fit that leaves its bounds on the way: %+v", m)
	}
	r.bound = make([]float64, 40)
	if m := c.meet(first); m != first {
		t.Error("without a limit a model is fitted again")
	}
}

// TestBoundsOfAShape: a coefficient at its bound is outside of it.
func TestBoundsOfAShape(t *testing.T) {
	r := &rows{y: []float64{10, 10, 10, 10}, w: []float64{1, 1, 1, 1}, fold: []int{0, 1, 2, 3}, cells: 1000}
	one := []float64{1, 1, 1, 1}
	c := &contest{r: r, gram: r.newGram([][]float64{one}, allPairs(1), r.y, nil)}
	for _, row := range []struct {
		low, high []float64
		want      bool
	}{
		{nil, nil, true}, {[]float64{9}, []float64{11}, true}, {[]float64{10}, []float64{11}, false}, {[]float64{9}, []float64{10}, false}, {[]float64{9}, nil, true}, {nil, []float64{9}, false},
	} {
		m := c.one(c.gram, &variant{columns: [][]float64{one}, at: []int{0}, free: 1, low: row.low, high: row.high})
		if (m != nil) != row.want {
			t.Errorf("10 within %v and %v: %v", row.low, row.high, m != nil)
		}
		if m != nil && (math.Abs(m.share-1) > 1e-9 || m.err > 1e-9) {
			t.Errorf("share %v, left %v", m.share, m.err)
		}
	}
}

// TestTwoOfWhatAPairIsOf: a bent line makes no pair, nor do two things that a log hides; of
// the shapes of two causes the best two are the pair.
func TestTwoOfWhatAPairIsOf(t *testing.T) {
	r := &rows{cells: 1000}
	pool := make([][]float64, 3)
	for i := range 40 {
		x := float64(i)
		for j, v := range []float64{1, x, math.Mod(7*x, 5)} {
			pool[j] = append(pool[j], v)
		}
		r.y, r.w, r.fold = append(r.y, 3+x), append(r.w, 1), append(r.fold, i/4)
	}
	one := func(j int) variant { return variant{columns: pool[j : j+1], at: []int{j}, free: 1} }
	for _, c := range []struct {
		a, b Cause
		want bool
	}{{FlowScale, UnmeteredAir, true}, {AirMeter, FlowScale, false}, {FlowScale, VolumetricEfficiency, false}, {hiddenPurge, hiddenExhaust, false}, {hiddenPurge, FlowScale, true}, {FlowScale, hiddenExhaust, true}} {
		x := &contest{r: r, gram: r.newGram(pool, allPairs(len(pool)), r.y, nil), list: []candidate{{cause: c.a, variants: []variant{one(0)}}, {cause: c.b, variants: []variant{one(2), one(1)}}}}
		m := x.two(0, 1)
		if (m != nil) != c.want || m != nil && (math.Abs(m.share-1+costOfEach) > 1e-9 || m.parts[1] != &x.list[1].variants[1] || !slices.Equal(m.of, []int{0, 1})) {
			t.Errorf("%s and %s: %+v", c.a, c.b, m)
		}
	}
}

// TestContrastWithoutSpread: what is better by the same in every fold is so for certain.
func TestContrastWithoutSpread(t *testing.T) {
	a, b := fighter(0, 0), fighter(0, 0)
	for k := range b.left {
		b.left[k] = 1
	}
	if z := contrast(a, b); !math.IsInf(z, 1) {
		t.Errorf("%v", z)
	}
	if z := contrast(b, a); !math.IsInf(z, -1) {
		t.Errorf("the other way round: %v", z)
	}
	if z := contrast(a, a); z > 0 || z < 0 {
		t.Errorf("one is better than itself by %v", z)
	}
}

// TestElsewhere: where the part with the least air is left out another cause may fit
// better: by how much is said, but for a bent line, and where little is left.
func TestElsewhere(t *testing.T) {
	build := func(light, heavy int) *contest {
		r := &rows{cells: 1000, banks: 1}
		pool := make([][]float64, 2)
		for i := range light + heavy {
			air, shape := 4.0, 0.0 // of idle, where the leader's shape is all there is
			y := 10.0
			if i >= light {
				air, shape = 40, float64(i%5)
				y = shape
			}
			r.points, r.point, r.bank = append(r.points, &Point{AirFlow: air}), append(r.point, i), append(r.bank, 0)
			r.y, r.w, r.fold = append(r.y, y), append(r.w, 1), append(r.fold, i*folds/(light+heavy))
			pool[0], pool[1] = append(pool[0], 1), append(pool[1], shape)
		}
		c := &contest{r: r, pool: pool, beside: allPairs(len(pool)), gram: r.newGram(pool, allPairs(len(pool)), r.y, nil), list: []candidate{{cause: FlowScale}, {cause: UnmeteredAir}}}
		for j := range 2 {
			v := &variant{columns: pool[j : j+1], at: []int{j}, free: 1}
			m := c.one(c.gram, v)
			m.of = []int{j}
			c.singles = append(c.singles, m)
		}
		return c
	}
	c := build(40, 60)
	z, rms := c.elsewhere(c.singles[0])
	if z < 3 || math.Abs(rms-math.Sqrt(2)) > 0.1 { // 0 to 4 about their mean
		t.Errorf("z %v, %v %% rms", z, rms)
	}
	if z, rms := c.elsewhere(c.singles[1]); z != 0 || rms != 0 {
		t.Errorf("of the better one: z %v, %v %% rms", z, rms)
	}
	c.list[1].cause = AirMeter
	if z, _ := c.elsewhere(c.singles[0]); z != 0 {
		t.Errorf("by a bent line: z %v", z)
	}
}

// TestSoundEngine: a cause that may predict better than nothing, trims past 8 % for two
// seconds, and places that differ from themselves by 1.5 % each speak against a healthy
// engine.
func TestSoundEngine(t *testing.T) {
	for _, row := range []struct {
		why   string
		z     float64
		trim  float64
		noise float64 // % rms
		want  bool
	}{
		{"nothing", 0, 0, 1, true}, {"perhaps a cause", 1.4, 0, 1, true}, {"a cause", 1.6, 0, 1, false}, {"8 % for two seconds", 0, 8, 1, true}, {"more", 0, -8.1, 1, false}, {"restless places", 0, 0, 1.5, false}, {"hardly restless", 0, 0, 1.49, true},
	} {
		c := ring()
		c.gram.square = make([]float64, folds)
		c.r = &rows{noise: 4 * row.noise * row.noise, y: []float64{row.trim}, point: []int{0}, points: []*Point{{Seconds: 2, Samples: 3}}}
		var found []Finding
		if row.z > 0 {
			m := fighter(0.5, 0, 0)
			for k := range m.left {
				m.left[k] = -1 + 3/row.z*float64(1-2*(k%2))
			}
			found = []Finding{{alone: m, Effect: 5, Share: 0.5}}
		}
		if got := c.sound(found); got != row.want {
			t.Errorf("%s: %v", row.why, got)
		}
	}
}
