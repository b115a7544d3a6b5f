package cause

import (
	"fmt"
	"math"
	"testing"

	"calsplice/interp/engine"
)

// handRows are rows of four operating points whose shapes are easy to work out,
// of one bank or of two.
func handRows(banks int) *rows {
	r := &rows{banks: banks}
	for i, p := range []*Point{
		{Speed: 800, Manifold: 30, Barometer: 100, AirFlow: 4, FuelFlow: 0.25, Inverse: 0.5, Seconds: 10},
		{Speed: 2000, Manifold: 50, Barometer: 100, AirFlow: 16, FuelFlow: 1, Inverse: 0.25, Seconds: 10},
		{Speed: 3000, Manifold: 95, Barometer: 100, AirFlow: 64, FuelFlow: 4, Inverse: 0.125, Seconds: 10},
		{Speed: 4000, Manifold: 100, Barometer: 100, AirFlow: 80, FuelFlow: 5, Inverse: 0.1, Seconds: 10},
	} {
		p.Rail = math.NaN()
		r.points = append(r.points, p)
		for b := range banks {
			r.point, r.bank = append(r.point, i), append(r.bank, b)
			r.y, r.w, r.bound = append(r.y, 0), append(r.w, 1/float64(banks)), append(r.bound, 0)
		}
	}
	return r
}

func sameList(got, want []float64) bool {
	if len(got) != len(want) {
		return false
	}
	for i := range got {
		if !(math.Abs(got[i]-want[i]) <= 1e-9*max(1, math.Abs(want[i]))) {
			return false
		}
	}
	return true
}

// TestShapesByHand: what each cause, and each thing that a log hides, predicts of
// the trim at four points: per cent a millisecond of offset is 100 times the
// inverse of the pulse; purge is fuel against the fuel that is injected, −10 over
// it; a meter counts twice what pulses past it at open throttle, most under
// 2,500 r/min and not from 3,500 on.
func TestShapesByHand(t *testing.T) {
	r, f := handRows(1), &facts{rail: 300, metered: true}
	choked := 100.0 // ψ under the critical ratio, %
	for _, c := range []struct {
		why  string
		c    candidate
		at   int // of its variants
		want []float64
	}{
		{"flow", r.scale(f), 0, []float64{1, 1, 1, 1}},
		{"an offset", r.offset(f), 0, []float64{50, 25, 12.5, 10}},
		{"a leak", r.unmetered(f), 0, []float64{choked / 4, choked / 16, 100 * engine.Orifice(0.95) / 64, 0}},
		{"no hose, as it is", r.reference(f), 0, []float64{100 * (math.Sqrt(300./370) - 1), 100 * (math.Sqrt(300./350) - 1), 100 * (math.Sqrt(300./305) - 1), 0}},
		{"purge everywhere", r.vapour(f), 0, []float64{-40, -10, -2.5, -2}},
		{"purge but at idle", r.vapour(f), 1, []float64{0, -10, -2.5, -2}},
		{"an exhaust leak", r.exhaust(f), 0, []float64{100, 100. / 16, 100. / 256, 100. / 400}},
		{"pulsation", r.pulsation(f), 0, []float64{0, 0, 50, 0}},
	} {
		if c.c.missing != "" || len(c.c.variants) <= c.at || !sameList(c.c.variants[c.at].columns[0], c.want) {
			t.Errorf("%s: %q, %+v, want %v", c.why, c.c.missing, c.c.variants, c.want)
		}
	}
}

// TestWhatCannotBeExamined: a shape that wants what a log or a calibration lacks
// is not fitted, and says why.
func TestWhatCannotBeExamined(t *testing.T) {
	r, metered := handRows(1), &facts{rail: 300, metered: true}
	lacking := func(how func(p *Point)) *rows {
		r := handRows(1)
		for _, p := range r.points {
			how(p)
		}
		return r
	}
	noFuel := lacking(func(p *Point) { p.FuelFlow = math.NaN() })
	noAir := lacking(func(p *Point) { p.AirFlow = math.NaN() })
	noPressure := lacking(func(p *Point) { p.Manifold = math.NaN() })
	noPulse := lacking(func(p *Point) { p.Inverse = math.NaN() })
	said := &facts{rail: 300, metered: true}
	for _, c := range []struct {
		why     string
		c       candidate
		missing bool
	}{
		{"purge that is logged", r.vapour(&facts{purge: true}), true},
		{"purge", r.vapour(metered), false},
		{"purge without fuel", noFuel.vapour(metered), true},
		{"pulsation where air is computed", r.pulsation(&facts{}), true},
		{"pulsation", r.pulsation(metered), false},
		{"pulsation without pressure", noPressure.pulsation(metered), true},
		{"an exhaust leak without air", noAir.exhaust(said), true},
		{"a leak where air is computed", r.unmetered(&facts{}), true},
		{"a leak without air", noAir.unmetered(said), true},
		{"an offset without a pulse", noPulse.offset(said), true},
		{"a hose without pressure", noPressure.reference(said), true},
		{"efficiency where air is metered", r.efficiency(metered), true},
		{"efficiency where it is computed", r.efficiency(&facts{computed: true}), false},
	} {
		if (c.c.missing != "") != c.missing || (len(c.c.variants) > 0) == c.missing {
			t.Errorf("%s: %q, %d variants", c.why, c.c.missing, len(c.c.variants))
		}
	}
}

// TestVariantsByFacts: a rail that follows the manifold leaves one shape of flow;
// one that does not, a second of the same size. What a calibration says of its
// rail bounds how large the hose's shape may be, and speaks against the other.
func TestVariantsByFacts(t *testing.T) {
	r := handRows(1)
	if c := r.scale(&facts{rail: 300, follows: true}); len(c.variants) != 1 {
		t.Errorf("%d shapes of flow on a rail that follows the manifold", len(c.variants))
	}
	c := r.scale(&facts{rail: 300})
	plain := []float64{300 / 370., 300 / 350., 300 / 305., 1} // 300 kPa over the atmosphere, against 30 to 100
	if by := c.variants[1].columns[0][3]; !sameList(c.variants[1].columns[0], scaled(plain, by)) {
		t.Errorf("a pressure off by the same amount: %v, want %v times %v", c.variants[1].columns[0], by, plain)
	}
	if len(c.variants) != 2 || math.Abs(r.square(c.variants[1].columns[0])-r.square(c.variants[0].columns[0])) > 1e-9 || c.variants[1].columns[0][0] >= c.variants[1].columns[0][3] {
		t.Errorf("shapes of flow on a rail that does not: %+v", c.variants)
	}
	for _, v := range []struct {
		f       facts
		low     float64
		high    float64
		against [2]bool // without the hose, with it
	}{
		{facts{rail: 300}, 0.5, 1.6, [2]bool{false, false}},
		{facts{rail: 300, railGiven: true}, 0.6, 1.35, [2]bool{true, false}},
		{facts{rail: 300, railGiven: true, follows: true}, 0.6, 1.35, [2]bool{false, true}},
	} {
		c := r.reference(&v.f)
		if len(c.variants) != 2 || c.variants[0].low[0] != v.low || c.variants[0].high[0] != v.high ||
			c.variants[0].against != v.against[0] || c.variants[1].against != v.against[1] || !c.variants[0].lostHose || c.variants[1].lostHose {
			t.Errorf("%+v: %+v", v.f, c.variants)
		}
	}
	if one, two := handRows(1).allShapes(), handRows(2).allShapes(); len(two) != len(one)+3 {
		t.Errorf("%d shapes that follow anything on one bank, %d on two", len(one), len(two))
	}
}

// TestBankShapes: one bank's part of a shape stands on that bank alone; what they
// have of opposite sign stands on both.
func TestBankShapes(t *testing.T) {
	c := handRows(2).bankDifference(&facts{metered: true})
	shape := map[string][]float64{}
	for _, v := range c.variants {
		shape[v.words] = v.columns[0]
	}
	for said, want := range map[string][]float64{
		"bank 1 alone, the same everywhere":         {1, 0, 1, 0, 1, 0, 1, 0},
		"bank 2 alone, the same everywhere":         {0, 1, 0, 1, 0, 1, 0, 1},
		"bank 2 alone, most at short pulses":        {0, 50, 0, 25, 0, 12.5, 0, 10},
		"bank 1 alone, growing with fuel flow":      {5, 0, 20, 0, 80, 0, 100, 0},
		"the banks apart in opposite ways":          {-0.5, 0.5, -0.5, 0.5, -0.5, 0.5, -0.5, 0.5},
		"bank 1 alone, most where little air flows": {25, 0, 6.25, 0, 100 * engine.Orifice(0.95) / 64, 0, 0, 0},
	} {
		if !sameList(shape[said], want) {
			t.Errorf("%s: %v, want %v", said, shape[said], want)
		}
	}
}

// TestBankShapeWithoutAir: where no air is known, little of it flows where pressure and
// speed are low: 10,000 over their product.
func TestBankShapeWithoutAir(t *testing.T) {
	r := handRows(2)
	for _, p := range r.points {
		p.AirFlow = math.NaN()
	}
	for _, v := range r.bankDifference(&facts{}).variants {
		if v.words == "bank 2 alone, most where little air flows" {
			if want := []float64{0, 1e6 / (30 * 800), 0, 1e6 / (50 * 2000), 0, 1e6 / (95 * 3000), 0, 1e6 / (100 * 4000)}; !sameList(v.columns[0], want) {
				t.Errorf("%v, want %v", v.columns[0], want)
			}
			return
		}
	}
	t.Error("there is no such shape")
}

// TestQuantileByHand: of ten numbers the half lies at the sixth, all at the last.
func TestQuantileByHand(t *testing.T) {
	x := []float64{9, 3, 7, 1, 5, 0, 2, 8, 6, 4}
	for share, want := range map[float64]float64{0: 0, 0.05: 0, 0.1: 1, 0.5: 5, 0.99: 9, 1: 9} {
		if got := quantile(x, share); got != want {
			t.Errorf("%v: %v, want %v", share, got, want)
		}
	}
	if fmt.Sprint(x) != "[9 3 7 1 5 0 2 8 6 4]" {
		t.Error("the numbers are in another order")
	}
}

// TestContrastByHand: a paired t over ten folds: five differences of 1 and five
// of 3 have the mean 2 and the variance 10/9, so that t is 2/√(1/9) = 6.
func TestContrastByHand(t *testing.T) {
	a, b := &model{left: make([]float64, folds)}, &model{left: make([]float64, folds)}
	for k := range folds {
		a.left[k], b.left[k] = float64(k), float64(k)+1+2*float64(k%2)
	}
	if got := contrast(a, b); math.Abs(got-6) > 1e-9 {
		t.Errorf("%v", got)
	}
	if got := contrast(b, a); math.Abs(got+6) > 1e-9 {
		t.Errorf("the other way round: %v", got)
	}
}

// TestSplitByHand: places early and late: three at least, and as much evidence as
// four rows give; how far they differ is without what chance explains.
func TestSplitByHand(t *testing.T) {
	side := func(places int, n, mean float64) []stays {
		list := make([]stays, places)
		for i := range list {
			list[i] = stays{n: n, sum: n * mean, square: n*mean*mean + n - 1} // a variance of 1
		}
		return list
	}
	for _, c := range []struct {
		why     string
		places  int
		n, late float64
		z, size float64
		gain    float64
	}{
		// h is 5 a place; d² is 16: h·d² = 80 over a variance of 1 is cut off at 40.
		{"far apart", 8, 10, 4, (8*40 - 8) / 4., math.Sqrt((80 - 1) / 5.), 640},
		// h·d² = 5 at each of 8 places: (40 − 8)/4, and √(4/5).
		{"1 % apart", 8, 10, 1, 8, math.Sqrt(4 / 5.), 40},
		{"the same", 8, 10, 0, -2, 0, 0},
		{"two places", 2, 10, 4, 0, 0, 0},
		{"too little of each", 3, 2, 4, 0, 0, 0},
	} {
		list, late := make([]difference, c.places), side(c.places, c.n, c.late)
		for i, early := range side(c.places, c.n, 0) {
			list[i] = early.from(&late[i], 1)
		}
		z, size, gain := split(list)
		if math.Abs(z-c.z) > 1e-9 || math.Abs(size-c.size) > 1e-9 || math.Abs(gain-c.gain) > 1e-9 {
			t.Errorf("%s: %v, %v and %v, want %v, %v and %v", c.why, z, size, gain, c.z, c.size, c.gain)
		}
	}
}
