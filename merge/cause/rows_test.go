package cause

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestGramAgainstPlainLeastSquares: the fit from gathered products, and what it
// leaves of each fold that it has not seen, are those of least squares row by row.
func TestGramAgainstPlainLeastSquares(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	r := &rows{}
	pool := make([][]float64, 3)
	for i := range 60 {
		x := random.NormFloat64()
		for j, v := range []float64{1, x, x*x - 0.3*x} {
			pool[j] = append(pool[j], v)
		}
		r.y, r.w, r.fold = append(r.y, 3+2*x+random.NormFloat64()), append(r.w, 0.2+random.Float64()), append(r.fold, i%folds)
	}
	// plain solves for two columns by Cramer's rule, on the rows that are kept.
	plain := func(a, b []float64, ridge float64, keep func(i int) bool) (p, q float64) {
		var aa, ab, bb, ay, by, wholeA, wholeB float64
		for i, w := range r.w {
			wholeA, wholeB = wholeA+w*a[i]*a[i], wholeB+w*b[i]*b[i]
			if keep(i) {
				aa, ab, bb = aa+w*a[i]*a[i], ab+w*a[i]*b[i], bb+w*b[i]*b[i]
				ay, by = ay+w*a[i]*r.y[i], by+w*b[i]*r.y[i]
			}
		}
		aa, bb = aa+ridge*wholeA, bb+ridge*wholeB
		d := aa*bb - ab*ab
		return (ay*bb - by*ab) / d, (aa*by - ab*ay) / d
	}
	g := r.newGram(pool, allPairs(len(pool)), r.y, nil)
	for _, ridge := range []float64{0, 0.2} {
		for _, s := range [][2]int{{0, 1}, {1, 0}, {0, 2}, {2, 1}} {
			coef, left, ok := g.fit(s[:], ridge)
			a, b := pool[s[0]], pool[s[1]]
			p, q := plain(a, b, ridge, func(int) bool { return true })
			if !ok || math.Abs(coef[0]-p)+math.Abs(coef[1]-q) > 1e-9 {
				t.Errorf("shapes %v, ridge %v: %v, want %v and %v", s, ridge, coef, p, q)
			}
			for k := range folds {
				p, q := plain(a, b, ridge, func(i int) bool { return r.fold[i] != k })
				want := 0.0
				for i, y := range r.y {
					if u := y - p*a[i] - q*b[i]; r.fold[i] == k {
						want += r.w[i] * u * u
					}
				}
				if math.Abs(left[k]-want) > 1e-9 {
					t.Errorf("shapes %v, ridge %v: %v left of fold %d, want %v", s, ridge, left[k], k, want)
				}
			}
		}
	}
	half := r.newGram(pool, allPairs(len(pool)), r.y, func(i int) bool { return i%2 == 0 })
	coef, _, _ := half.fit([]int{0, 1}, 0)
	if p, q := plain(pool[0], pool[1], 0, func(i int) bool { return i%2 == 0 }); math.Abs(coef[0]-p)+math.Abs(coef[1]-q) > 1e-9 {
		t.Errorf("on every other row: %v, want %v and %v", coef, p, q)
	}
}

// allPairs lets each column be fitted beside every other.
func allPairs(n int) (beside [][]span) {
	for a := range n {
		beside = append(beside, []span{{a, n}})
	}
	return beside
}

// TestWhatRowsDoNotTell: shapes that are one, or that the rest of the drive does not
// have, are not fitted; a fold that alone has a shape is predicted as nothing.
func TestWhatRowsDoNotTell(t *testing.T) {
	r := &rows{y: []float64{1, 2, 3, 4}, w: []float64{1, 1, 1, 1}, fold: []int{0, 1, 2, 3}}
	pool := [][]float64{{1, 1, 1, 1}, {2, 2, 2, 2}, {0, 0, 0, 1}, {0, 0, 0, 0}}
	g := r.newGram(pool, allPairs(len(pool)), r.y, nil)
	for _, shapes := range [][]int{{0, 1}, {3}, {0, 3}} {
		if _, _, ok := g.fit(shapes, 0); ok {
			t.Errorf("shapes %v are told apart", shapes)
		}
	}
	if _, left, ok := g.fit([]int{2}, 0); !ok || !sameList(left, []float64{1, 4, 9, 16, 0, 0, 0, 0, 0, 0}) {
		t.Errorf("what only the last fold has: %v", left)
	}
	if g.total != 30 || g.weight != 4 || !sameList(g.square, []float64{1, 4, 9, 16, 0, 0, 0, 0, 0, 0}) {
		t.Errorf("total %v, weight %v, of the folds %v", g.total, g.weight, g.square)
	}
}

// TestPrice: what a shape costs by its richness. With ten operating points, what is
// left grows by 10^(free/10), and each thing fitted past the first costs 0.012.
func TestPrice(t *testing.T) {
	for _, c := range []struct {
		why     string
		cells   int
		raw     float64
		free    float64
		against bool
		want    float64
	}{
		{"nothing fitted", 10, 0.9, 0, false, 0.9},
		{"a constant", 10, 0.9, 1, false, 1 - 0.1*math.Pow(10, 0.1)},
		{"three things", 10, 0.9, 3, false, 1 - 0.1*math.Pow(10, 0.3) - 0.024},
		{"fewer points than four count as four", 2, 0.9, 1, false, 1 - 0.1*math.Sqrt2},
		{"against what the calibration says", 10, 0.9, 0, true, 0.88},
	} {
		r := &rows{cells: c.cells}
		if got := r.price(c.raw, &variant{free: c.free, against: c.against}); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %v, want %v", c.why, got, c.want)
		}
	}
}

// TestLargest: the size that three hundredths of the weight reach, whatever the sign.
func TestLargest(t *testing.T) {
	for _, c := range []struct {
		why       string
		predicted []float64
		weight    []float64
		want      float64
	}{
		{"all of it", []float64{5, 5}, []float64{1, 1}, 5},
		{"of either sign", []float64{-7, 2}, []float64{1, 1}, 7},
		{"three hundredths", []float64{9, 2}, []float64{3, 97}, 9},
		{"two hundredths", []float64{9, 2}, []float64{2, 98}, 2},
		{"two and one", []float64{9, -8, 2}, []float64{2, 1, 97}, 8},
	} {
		r := &rows{w: c.weight}
		if got := r.largest(c.predicted); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%s: %v, want %v", c.why, got, c.want)
		}
	}
}

// TestTwoShapesAtOnce: two shapes together are as free, as held and as bounded as
// the two, and contradict the calibration where either does.
func TestTwoShapesAtOnce(t *testing.T) {
	a := &variant{columns: [][]float64{{1}, {2}}, at: []int{3, 4}, unit: []string{"%", "ms"}, free: 2, ridge: 0.1}
	b := &variant{columns: [][]float64{{5}}, at: []int{7}, unit: []string{"g/s"}, free: 1.5, ridge: 0.02, low: []float64{0}, high: []float64{9}, against: true}
	inf := math.Inf(1)
	for _, c := range []struct {
		v         *variant
		at        []int
		low, high []float64
	}{{together(a, b), []int{3, 4, 7}, []float64{-inf, -inf, 0}, []float64{inf, inf, 9}}, {together(b, a), []int{7, 3, 4}, []float64{0, -inf, -inf}, []float64{9, inf, inf}}} {
		v := c.v
		if !slices.Equal(v.at, c.at) || !slices.Equal(v.low, c.low) || !slices.Equal(v.high, c.high) || len(v.columns) != 3 || len(v.unit) != 3 || v.free != 3.5 || v.ridge != 0.1 || !v.against {
			t.Errorf("%+v", v)
		}
	}
	if v := together(a, a); v.against {
		t.Error("two that agree with the calibration do not")
	}
}

// TestSpreadOverFolds: blocks of 40 s go to the ten folds in turn; of a short drive
// they are a twentieth of it, and 10 s at least; another log begins another block.
func TestSpreadOverFolds(t *testing.T) {
	for _, c := range []struct {
		why    string
		clock  []float64
		log    []int
		folded []int
	}{
		{"a long drive", []float64{0, 39, 40, 81, 390, 400, 800}, make([]int, 7), []int{0, 0, 1, 2, 3, 4, 5}},
		{"five minutes by 15 s", []float64{0, 14, 15, 30, 300}, make([]int, 5), []int{0, 0, 1, 2, 3}},
		{"a minute by 10 s", []float64{0, 9, 10, 20, 60}, make([]int, 5), []int{0, 0, 1, 2, 3}},
		{"one instant", []float64{39, 39}, make([]int, 2), []int{0, 0}},
		{"two logs", []float64{0, 1, 2, 800}, []int{0, 1, 1, 1}, []int{0, 1, 1, 2}},
	} {
		var points []*Point
		for i, v := range c.clock {
			points = append(points, &Point{clock: v, Log: c.log[i]})
		}
		spread(points)
		for i, p := range points {
			if p.fold != c.folded[i] {
				t.Errorf("%s: at %v s fold %d, want %d", c.why, c.clock[i], p.fold, c.folded[i])
			}
		}
	}
	spread(nil)
	var long []*Point
	for i := range 12 {
		long = append(long, &Point{clock: 100 * float64(i)})
	}
	if spread(long); long[9].fold != 9 || long[10].fold != 0 {
		t.Error("the eleventh block is not the first fold again")
	}
}

// TestWhatARowWeighs: a point of 3 s is half of its evidence; an operating point of
// 12 s half of its weight, dealt over its points by their evidence, and over banks.
func TestWhatARowWeighs(t *testing.T) {
	nan := math.NaN()
	at := func(cell int, seconds float64, limit float64) *Point {
		return &Point{cell: cell, Seconds: seconds, Trim: [2]float64{-8, 8}, AtLimit: [2]float64{limit, 0.3}, Rail: nan,
			Speed: 2000, Manifold: nan, AirFlow: nan, FuelFlow: nan, Inverse: nan, Barometer: 100}
	}
	r := newRows([]*Point{at(0, 3, 0.31), at(0, 9, 0), at(1, 12, 0)}, 2)
	if r.cells != 2 || !sameList(r.sure, []float64{0.5, 0.5, 0.75, 0.75, 0.8, 0.8}) {
		t.Errorf("%d places, evidence %v", r.cells, r.sure)
	}
	// Where a row lies nearer than three scales from what shapes explain it keeps its weight.
	if want := []float64{0.5 * 0.5 / 1.25 / 2, 0.5 * 0.5 / 1.25 / 2, 0.5 * 0.75 / 1.25 / 2, 0.5 * 0.75 / 1.25 / 2, 0.25, 0.25}; !sameList(r.w, want) {
		t.Errorf("weights %v, want %v", r.w, want)
	}
	if !sameList(r.bound, []float64{-1, 0, 0, 0, 0, 0}) || !slices.Equal(r.bank, []int{0, 1, 0, 1, 0, 1}) || !slices.Equal(r.point, []int{0, 0, 1, 1, 2, 2}) {
		t.Errorf("bounds %v, banks %v, points %v", r.bound, r.bank, r.point)
	}
	if math.Abs(r.total-64*r.whole()) > 1e-9 || r.seconds() != 24 {
		t.Errorf("total %v, %v s", r.total, r.seconds())
	}
}

// TestWildRowsCountLess: a row far from what any shape explains counts by three
// scales over its distance, and a short stay by the square of that.
func TestWildRowsCountLess(t *testing.T) {
	weigh := func(seconds float64) (usual, wild float64) {
		r := &rows{banks: 1}
		for i := range 60 {
			p := &Point{Seconds: 10, Speed: 2000, Manifold: math.NaN(), AirFlow: math.NaN(), FuelFlow: math.NaN(), Inverse: math.NaN()}
			y := float64(i%2*2 - 1) // ±1: a scale of 1.4826
			if i == 30 {
				p.Seconds, y = seconds, 44.5
			}
			r.points, r.point, r.bank = append(r.points, p), append(r.point, i), append(r.bank, 0)
			r.y, r.w, r.sure = append(r.y, y), append(r.w, 1), append(r.sure, 1)
		}
		r.steady()
		return r.w[0], r.w[30]
	}
	usual, long := weigh(4)
	if _, short := weigh(3.9); usual != 1 || math.Abs(long-0.1) > 0.006 || math.Abs(short-long*long) > 1e-9 {
		t.Errorf("a usual row counts %v, a wild one %v and a short wild one %v, want 1, 0.1 and 0.01", usual, long, short)
	}
}

// TestNoiseByHand: the noise is how a place differs from itself: at two places that
// were driven three times each, about their means; a wild row counts as 3 % at most;
// with fewer repeats it is 0.5 %.
func TestNoiseByHand(t *testing.T) {
	for _, c := range []struct {
		why   string
		y     []float64
		cell  []int
		noise float64
	}{
		// (1 + 0 + 1 + 4 + 0 + 4) of 4 degrees: 2.5, and each of six rows of evidence 0.5 and weight 1 counts it twice.
		{"two places", []float64{1, 2, 3, 5, 7, 9}, []int{0, 0, 0, 1, 1, 1}, 6 * 2.5 / 2 * 2},
		// (9 + 9 + 9 … ) a place of −8, 0, 8: 9 + 0 + 9; the other 2.
		{"a wild place", []float64{-8, 0, 8, 1, 2, 3}, []int{0, 0, 0, 1, 1, 1}, 6 * 2 * 0.5 * (18 + 2) / 4},
		{"too few repeats", []float64{1, 3, 5, 9, 7, 11}, []int{0, 0, 1, 1, 2, 2}, 6 * 2 * 0.25},
		{"a place that was driven once is no repeat", []float64{1, 2, 3, 5, 7, 9, 70}, []int{0, 0, 0, 1, 1, 1, 2}, 7 * 2 * 0.5 * 10 / 4},
	} {
		r := &rows{banks: 1}
		for i, y := range c.y {
			r.points, r.point, r.bank = append(r.points, &Point{cell: c.cell[i]}), append(r.point, i), append(r.bank, 0)
			r.y, r.w, r.sure = append(r.y, y), append(r.w, 1), append(r.sure, 0.5)
		}
		if r.measure(); math.Abs(r.noise-c.noise) > 1e-9 {
			t.Errorf("%s: noise %v, want %v", c.why, r.noise, c.noise)
		}
	}
}

// TestChangeByHand: the place of a change is where the means before and after
// explain most, at the first point after it.
func TestChangeByHand(t *testing.T) {
	made := func(step float64) (*rows, []float64) {
		r := &rows{banks: 1}
		var left []float64
		for i := range 60 {
			v := 0.2 * float64(i/5%2*2-1) // each of five places in turn, a little up and down
			if i >= 40 {
				v += step
			}
			left = append(left, v)
			r.points, r.point, r.bank = append(r.points, &Point{cell: i % 5}), append(r.point, i), append(r.bank, 0)
			r.sure = append(r.sure, 1)
		}
		return r, left
	}
	r, left := made(3)
	if at, size := r.change(left); at != 40 || math.Abs(size-3) > 0.1 {
		t.Errorf("a step of 3 %% at point 40: %d, %v", at, size)
	}
	r, left = made(0)
	if at, size := r.change(left); at != -1 || size != 0 {
		t.Errorf("no step: %d, %v", at, size)
	}
}

// TestNoneShare: what noise explains, what small trims need, and what no cause
// explains of small trims need no cause; trims past 5 % for 5 s do, however rare.
func TestNoneShare(t *testing.T) {
	for _, c := range []struct {
		why   string
		y     float64 // % of each row but one
		wild  float64 // % of a row of little weight and 5 s
		noise float64 // %² of each row
		found []Finding
		want  float64
	}{
		{"all noise", 2, 0, 4, nil, 1},
		// noise 0.25 + 0.7² of 8.5, and the rest shrinks as 3.5 % is near to 4
		{"small trims, no cause", 3.5, 0, 0, nil, 0.49/12.25 + (4-3.5)/2.2*(1-0.49/12.25)},
		{"small trims, half of them explained", 3.5, 0, 0, []Finding{{Share: 0.5, Effect: 1}}, 0.49/12.25 + (4-3.5)/2.2*(1-0.5-0.49/12.25)},
		{"a cause that counts leaves no band", 3.5, 0, 0, []Finding{{Share: 0.5, Effect: 1.8}}, 0.5 / 2.2 * 0.5},
		{"a cause that explains little does not count", 3.5, 0, 0, []Finding{{Share: 0.3, Effect: 1.8}}, 0.49/12.25 + 0.5/2.2*(1-0.3-0.49/12.25)},
		{"trims of 4 %", 4, 0, 1.6, nil, (1.6 + 0.49) / 16},
		{"a rare trim of 6 % for 5 s", 2, 6, 1, nil, 99. / (99*4 + 36)},
		{"a rare trim of 5 %", 1, 5, 0, nil, 1},
	} {
		r := &rows{banks: 1, noise: 99 * c.noise}
		for i := range 100 {
			y := c.y
			if i == 0 {
				if c.wild == 0 {
					continue
				}
				y = c.wild
			}
			r.points, r.point = append(r.points, &Point{Seconds: 5, Samples: 3}), append(r.point, len(r.points))
			r.y, r.w, r.total = append(r.y, y), append(r.w, 1), r.total+y*y
		}
		if got := r.noneShare(c.found); math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%s: %v, want %v", c.why, got, c.want)
		}
	}
	if got := (&rows{}).noneShare(nil); got != 1 {
		t.Errorf("no trim but 0: %v", got)
	}
}

// TestDiscount: what the best cause stands for less than a trim worth a repair is
// taken from all alike: 1.4 % is half way from 1 to 1.8.
func TestDiscount(t *testing.T) {
	found := []Finding{{Share: 0.4, Effect: 9}, {Share: 0.8, Effect: 1.4}, {Share: 0.2}}
	discount(found)
	for i, want := range []float64{0.2, 0.4, 0.1} {
		if math.Abs(found[i].Share-want) > 1e-12 {
			t.Errorf("%v, want %v", found[i].Share, want)
		}
	}
	for effect, want := range map[float64]float64{0: 0, 1: 0, 1.2: 0.25, 1.8: 1, 9: 1} {
		if got := relevance(effect); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v %% counts %v, want %v", effect, got, want)
		}
	}
	discount(nil)
}

// TestFlatCurveIsNoCurve: a bent line counts by half of its effect that its swing
// reaches; a plain cause in full; a fit that is worse than none as nothing.
func TestFlatCurveIsNoCurve(t *testing.T) {
	r := &rows{banks: 1, y: make([]float64, 100)}
	c := &contest{r: r}
	one, slope := make([]float64, 100), make([]float64, 100)
	for i := range one {
		one[i], slope[i] = 1, float64(i/50) // half 0, half 1
		r.w, r.point, r.points, r.bank = append(r.w, 1), append(r.point, i), append(r.points, &Point{}), append(r.bank, 0)
	}
	for _, row := range []struct {
		why   string
		cause Cause
		coef  []float64
		share float64
		want  float64
	}{
		{"flat", AirMeter, []float64{8, 0}, 0.8, 0},
		{"a quarter of its effect", AirMeter, []float64{6, 2}, 0.8, 0.4},
		{"half of its effect", VolumetricEfficiency, []float64{4, 4}, 0.8, 0.8},
		{"more than half", VolumetricEfficiency, []float64{1, 7}, 0.8, 0.8},
		{"no bent line", FlowScale, []float64{8, 0}, 0.8, 0.8},
		{"worse than nothing", FlowScale, []float64{8, 0}, -0.3, 0},
		{"no effect at all", AirMeter, []float64{0, 0}, 0.8, 0.8},
	} {
		m := &model{share: row.share, coef: row.coef, y: r.y, shape: &variant{words: "said", columns: [][]float64{one, slope}, unit: []string{"%", "%"}, lostHose: true}}
		f := c.finding(row.cause, m)
		if math.Abs(f.Share-row.want) > 1e-6 || f.Shape != "said" || !f.lostHose || f.model != m || f.alone != m || len(f.Predicted) != 100 || math.Abs(f.Effect-(row.coef[0]+row.coef[1])) > 1e-6 {
			t.Errorf("%s: %v, want %v", row.why, f.Share, row.want)
		}
	}
	if f := c.finding(AirMeter, nil); f.Share != 0 || f.model != nil {
		t.Errorf("no fit: %+v", f)
	}
}

// TestPredictionByPointAndBank: a prediction stands at its point and bank, with what
// a measured pressure explains on top of it: 1.1 × 1.05 is 15.5 %.
func TestPredictionByPointAndBank(t *testing.T) {
	r := &rows{points: []*Point{{}, {}}, point: []int{0, 0, 1}, bank: []int{0, 1, 1}}
	for _, c := range []struct {
		rail *rail
		want float64
	}{{nil, 10}, {&rail{trim: []float64{5, 5, 5}}, 10}, {&rail{trim: []float64{5, 5, 5}, applied: true}, 15.5}} {
		r.rail = c.rail
		p := r.perPoint([]float64{10, 10, 10})
		if math.Abs(p[0][0]-c.want) > 1e-9 || math.Abs(p[0][1]-c.want) > 1e-9 || math.Abs(p[1][1]-c.want) > 1e-9 || p[1][0] == p[1][0] {
			t.Errorf("%+v: %v, want %v", c.rail, p, c.want)
		}
	}
}

// TestBanksByHand: the folds' differences of 2, 4 and 6 % have the mean 4 and the
// standard error 2/√3; a fold without weight is none.
func TestBanksByHand(t *testing.T) {
	r := &rows{banks: 2}
	for k, d := range []float64{2, 4, 6, 99} {
		w := 1.0
		if d == 99 {
			w = 0
		}
		r.y, r.w, r.fold = append(r.y, 1, 1+d), append(r.w, w, w), append(r.fold, k, k)
	}
	res := &Result{}
	r.compareBanks(res)
	if b := res.Banks; math.Abs(b.Difference-4) > 1e-12 || math.Abs(b.SE-2/math.Sqrt(3)) > 1e-12 {
		t.Errorf("%+v", b)
	}
	r.fold = make([]int, 8)
	if r.compareBanks(res); math.Abs(res.Banks.Difference-4) > 1e-12 || res.Banks.SE == res.Banks.SE || res.BanksDiffer() {
		t.Errorf("one fold: %+v", res.Banks)
	}
	res, r.banks = &Result{}, 1
	if r.compareBanks(res); res.Banks != nil {
		t.Error("one bank is compared with itself")
	}
}

// TestProductsThatFitsAskFor: every fit of a contest, and every later one of a leader with a
// gentle surface or without the lightest load, has the products that it needs: those of all
// columns with all change none.
func TestProductsThatFitsAskFor(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	var points []*Point
	for i := range 300 {
		speed, manifold := 800+4000*random.Float64(), 30+70*random.Float64()
		air := speed * manifold / 4000
		p := &Point{clock: 10 * float64(i), Seconds: 10, Samples: 90, Speed: speed, Manifold: manifold, Barometer: 100, AirFlow: air,
			FuelFlow: air / 14.7, Inverse: 1 / (0.05 * manifold), Rail: math.NaN(), cell: i % 40}
		p.Trim = [2]float64{4 + 20/air + random.NormFloat64(), 6 + random.NormFloat64()}
		points = append(points, p)
	}
	c := newContest(newRows(points, 2), &facts{rail: 300, metered: true, computed: true})
	all := *c
	all.beside = allPairs(len(all.pool))
	all.fit()
	models, others := append(slices.Clone(c.singles), c.pairs...), append(slices.Clone(all.singles), all.pairs...)
	if len(models) != len(others) || len(c.pairs) < 10 {
		t.Fatalf("%d models, of them %d pairs, want %d", len(models), len(c.pairs), len(others))
	}
	for i, m := range models {
		o := others[i]
		if (m == nil) != (o == nil) {
			t.Fatalf("model %d is fitted %v, want %v", i, m != nil, o != nil)
		}
		if m == nil {
			continue
		}
		if !slices.Equal(m.coef, o.coef) || m.err != o.err {
			t.Errorf("%v: coefficients %v leave %v, want %v and %v", c.causes(m), m.coef, m.err, o.coef, o.err)
		}
		pattern, surely := c.pattern(m)
		if rms, z := all.pattern(o); rms != pattern || z != surely {
			t.Errorf("%v: a pattern of %v, %v, want %v, %v", c.causes(m), pattern, surely, rms, z)
		}
		z, rms := c.elsewhere(m)
		if wantZ, want := all.elsewhere(o); z != wantZ || rms != want {
			t.Errorf("%v: elsewhere %v, %v, want %v, %v", c.causes(m), z, rms, wantZ, want)
		}
	}
}
