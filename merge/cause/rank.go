package cause

import (
	"cmp"
	"math"
	"slices"
)

// Finding is one cause and how well it fits.
type Finding struct {
	Cause        Cause
	Share        float64 // of the trim that it explains unseen, 0 to 1; for none: that needs no cause
	Margin       float64 // its share over that of the best other cause
	Effect       float64 // largest trim that it stands for, %
	Shape        string  // which of its shapes fits best, in words; may be ""
	Coefficients []Coefficient
	OwnLimit     float64  // of supply-limit: the injectors' duty where it is past their own limit, %; else 0
	Alike        []string // what trims cannot tell from it
	Evidence     []string
	Test         string // the physical test that tells it from its nearest rival
	// Predicted is the trim of each point and bank, %, as the fit has it; nil for none.
	Predicted [][2]float64

	fit      *fitted
	with     *fitted // the fit of two causes of which this is one; nil alone
	lostHose bool    // pressure-reference by a rail that does not follow the manifold
}

// Coefficient is a fitted number with its 95 % interval from the drive's folds.
type Coefficient struct {
	Value, Low, High float64
	Unit             string
}

// Unexamined is a cause that could not be examined, and why.
type Unexamined struct {
	Cause Cause
	Why   string
}

// Pair is two causes together, where one does not explain the trims.
type Pair struct {
	Causes    [2]Cause
	Share     float64
	Gain      float64 // over the better of the two alone
	Predicted [][2]float64
}

// Where a cause counts: the trim that it stands for must pass what nobody would
// repair (0.78 % is one quantum of the trim), and the trims within the smaller
// number need no cause.
const (
	effectNone = 1.0 // % and below: no cause
	effectFull = 1.8 // % and above: judged by its share alone
	idleBand   = 0.7 // %
	normalTrim = 4.0 // % and above: trims that no cause explains are not put down to nothing
)

// rank fits every candidate and orders them. It fills Found, Unexamined,
// Together, Certain and Banks of a result.
func (r *rows) rank(res *Result, f *facts) {
	candidates := r.candidates(f)
	for i := range candidates {
		c := &candidates[i]
		if c.missing != "" {
			res.Unexamined = append(res.Unexamined, Unexamined{c.cause, c.missing})
			continue
		}
		res.Found = append(res.Found, r.finding(c))
	}
	discount(res.Found)
	res.Found = append(res.Found, Finding{Cause: None, Share: r.noneShare(res.Found)})
	for _, u := range res.Unexamined {
		if len(res.Found) < 3 { // who asks for a ranking is shown one
			res.Found = append(res.Found, Finding{Cause: u.Cause})
		}
	}
	order(res.Found)
	r.together(res)
	r.compareBanks(res)
	res.Certain = r.certain(res, f)
}

// nameTwo puts two causes that are wanted together first, each with the share of
// both, before a single richer shape that only stands in for them.
func (res *Result) nameTwo(pair *fitted) {
	p := res.Together
	for i := range res.Found {
		f := &res.Found[i]
		if f.Cause != p.Causes[0] && f.Cause != p.Causes[1] {
			continue
		}
		at := 0
		if f.Cause == p.Causes[1] {
			at = len(pair.coef) - len(f.fit.coef)
		}
		f.Share, f.with, f.Predicted = max(p.Share, res.Found[0].Share), pair, p.Predicted
		f.Coefficients = f.Coefficients[:0:0]
		for j := range f.fit.coef {
			f.Coefficients = append(f.Coefficients, coefficient(pair, at+j))
		}
	}
	order(res.Found)
}

// noneShare is how much of the trim needs no cause: what noise accounts for;
// where no cause stands for a trim worth a repair, the band within which trims
// need none; and what no cause explains, while the trims are small.
func (r *rows) noneShare(found []Finding) float64 {
	if r.total == 0 {
		return 1
	}
	counts, best := 0.0, 0.0
	for _, f := range found {
		best = max(best, f.Share)
		if f.Share > 0.3 {
			counts = max(counts, relevance(f.Effect))
		}
	}
	share := (r.noise + float64((1-counts)*r.whole()*idleBand*idleBand)) / r.total
	small := min(1, max(0, (normalTrim-r.largest(r.y))/(normalTrim-effectFull)))
	if r.heavy(5, 5) {
		small, share = 0, min(1, r.noise/r.total)
	}
	return min(1, share+float64(small*max(0, 1-best-share)))
}

// perhaps is how many standard errors better than nothing a cause may predict
// before a drive is no longer called healthy without a doubt.
const perhaps = 1.5

// significance is how surely the best cause that stands for a trim worth a
// repair predicts better than nothing, in standard errors over the folds.
func (r *rows) significance(found []Finding) float64 {
	nothing := &fitted{unseen: r.y}
	best := 0.0
	for _, f := range found {
		if f.fit != nil && f.Effect >= effectFull && f.Share > 0.02 {
			best = max(best, r.contrast(f.fit, nothing))
		}
	}
	return best
}

// heavy reports whether trims past a size stood for some seconds anywhere,
// however rare in the drive: what no small mean may hide.
func (r *rows) heavy(size, long float64) bool {
	seconds := 0.0
	for i, y := range r.y {
		if p := r.points[r.point[i]]; math.Abs(y) > size && p.Samples >= 3 {
			seconds += p.Seconds
		}
	}
	return seconds >= long
}

func relevance(effect float64) float64 {
	return min(1, max(0, (effect-effectNone)/(effectFull-effectNone)))
}

// discount takes from all causes alike what the one that fits best stands for
// less than a trim worth a repair. Each by its own would favour those that fit
// badly, since they overshoot.
func discount(found []Finding) {
	if len(found) == 0 {
		return
	}
	best := slices.MaxFunc(found, func(a, b Finding) int { return cmp.Compare(a.Share, b.Share) })
	for i := range found {
		found[i].Share *= relevance(best.Effect)
	}
}

func (r *rows) finding(c *candidate) Finding {
	found := Finding{Cause: c.cause}
	fit := r.best(c)
	if fit == nil {
		return found
	}
	found.fit, found.Effect, found.Shape = fit, fit.effect, fit.variant.said
	share := fit.share
	if c.cause == AirMeter && fit.effect > 0 {
		// A flat curve is no curve, but flow that is wrong everywhere.
		share *= min(1, r.swing(fit.predicted)/(0.5*fit.effect))
	}
	found.Share = max(0, share)
	found.lostHose = fit.variant.lostHose
	found.Predicted = r.perPoint(fit.predicted)
	for j := range fit.coef {
		found.Coefficients = append(found.Coefficients, coefficient(fit, j))
	}
	return found
}

func coefficient(f *fitted, j int) Coefficient {
	half := float64(2.26 * f.se[j]) // t(0.975, folds − 1)
	return Coefficient{f.coef[j], f.coef[j] - half, f.coef[j] + half, f.variant.unit[j]}
}

// swing is how far a prediction varies over all but the outermost twentieths.
func (r *rows) swing(predicted []float64) float64 {
	return quantile(predicted, 0.95) - quantile(predicted, 0.05)
}

func (r *rows) perPoint(predicted []float64) [][2]float64 {
	p := make([][2]float64, len(r.points))
	for i := range p {
		p[i] = [2]float64{math.NaN(), math.NaN()}
	}
	for i, v := range predicted {
		p[r.point[i]][r.bank[i]] = v
	}
	return p
}

// order puts the best first and sets the margins.
func order(found []Finding) {
	slices.SortStableFunc(found, func(a, b Finding) int {
		switch {
		case a.Share > b.Share:
			return -1
		case a.Share < b.Share:
			return 1
		case a.with != nil && b.with != nil && a.fit.share != b.fit.share:
			return cmp.Compare(b.fit.share, a.fit.share)
		}
		return slices.Index(Causes, a.Cause) - slices.Index(Causes, b.Cause)
	})
	for i := range found {
		for j := range found {
			// The partner of a pair is no rival.
			if j != i && (found[i].with == nil || found[j].with == nil) {
				found[i].Margin = found[i].Share - found[j].Share
				break
			}
		}
	}
}

// together looks for two causes that explain clearly more than the best alone:
// a share of the trim more and half of what was left, or surely so and three
// quarters of it. Each of the two must stand for a trim worth a repair.
func (r *rows) together(res *Result) {
	var single *fitted
	for _, f := range res.Found {
		if f.fit != nil && (single == nil || f.fit.raw > single.raw) {
			single = f.fit
		}
	}
	var both *fitted
	for i, a := range res.Found {
		for _, b := range res.Found[i+1:] {
			if a.fit == nil || b.fit == nil {
				continue
			}
			pair := r.both(a.fit, b.fit)
			if pair == nil || !r.clearer(pair, single, a.Cause == AirMeter || b.Cause == AirMeter) ||
				!r.bothCount(pair, len(a.fit.coef)) || both != nil && r.plain(pair) >= r.plain(both) {
				continue
			}
			both = pair
			res.Together = &Pair{[2]Cause{a.Cause, b.Cause}, pair.share, pair.share - single.share, r.perPoint(pair.predicted)}
		}
	}
	if both != nil {
		res.nameTwo(both)
	}
}

// clearer reports whether a pair explains clearly more than a single cause.
func (r *rows) clearer(pair, single *fitted, meter bool) bool {
	const enough, rms = 0.03, 0.5 // of the trim; %
	gain, left := pair.raw-single.raw, (1-pair.raw)/(1-single.raw)
	switch {
	case pair.share < 0.5 || !(gain > 0):
		return false
	case meter: // a bent line with another cause may only be a line bent otherwise
		return gain >= 2*enough && left <= 0.5
	case gain >= enough && left <= 0.5:
		return true
	}
	return left <= 0.25 && math.Sqrt(gain*r.total/r.whole()) >= rms && r.contrast(pair, single) > 1.5
}

// bothCount reports whether each half of a pair stands for a trim worth a
// repair; the first half has n columns.
func (r *rows) bothCount(pair *fitted, n int) bool {
	for _, half := range [][2]int{{0, n}, {n, len(pair.coef)}} {
		part := make([]float64, len(r.y))
		for j := half[0]; j < half[1]; j++ {
			for i, v := range pair.variant.columns[j] {
				part[i] += float64(pair.coef[j] * v)
			}
		}
		if r.largest(part) < effectFull {
			return false
		}
	}
	return true
}

// certain reports whether the leading cause may be named: it explains most of
// the trim, and the next one explains clearly less, also from one part of the
// drive to the other.
func (r *rows) certain(res *Result, facts *facts) bool {
	lead, next := &res.Found[0], &res.Found[min(1, len(res.Found)-1)]
	if lead.Cause == None {
		return lead.Share >= 0.5 && r.significance(res.Found) < perhaps && !r.heavy(8, 2)
	}
	if lead.Share < 0.5 || lead.fit == nil {
		return false
	}
	if lead.with != nil {
		if len(res.Found) > 2 {
			next = &res.Found[2]
		}
		return next.fit == nil || r.contrast(lead.with, next.fit) > 1
	}
	if next.fit == nil {
		return lead.Margin > 0.05
	}
	for _, f := range res.Found[1:] {
		// A shape that is blurred by an estimate may be the true one.
		if facts.estimated && f.Cause == PressureReference && f.Share > lead.Share-0.2 {
			return false
		}
	}
	z := r.contrast(lead.fit, next.fit)
	switch richer := next.fit.variant.free - lead.fit.variant.free; {
	case richer >= 2 && lead.Margin >= 0.03 && z > -1.5:
		return true // a bent line that happens to have the leader's shape
	case lead.Margin >= 0.02 && z > 1:
		return true
	}
	return lead.Margin >= 0.004 && z > 2.5
}

// contrast is how many standard errors the second fit's unseen error lies over
// the first's, from the folds of the drive.
func (r *rows) contrast(a, b *fitted) float64 {
	sums := map[int]float64{}
	for i := range r.y {
		sums[r.fold[i]] += float64(r.w[i] * (float64(b.unseen[i]*b.unseen[i]) - float64(a.unseen[i]*a.unseen[i])))
	}
	var m mean
	for k := range folds {
		if v, ok := sums[k]; ok {
			m.add(v)
		}
	}
	if m.n < 2 {
		return 0
	}
	variance := 0.0
	for k := range folds {
		if v, ok := sums[k]; ok {
			variance += float64((v - m.value()) * (v - m.value()))
		}
	}
	se := math.Sqrt(variance / float64(m.n-1) / float64(m.n))
	if se == 0 {
		return math.Inf(1)
	}
	return m.value() / se
}

// compareBanks measures how the banks differ, whatever leads.
func (r *rows) compareBanks(res *Result) {
	if r.banks < 2 {
		return
	}
	sums := make([]float64, folds)
	weights := make([]float64, folds)
	for i := 0; i+1 < len(r.y); i += 2 {
		w := r.w[i] + r.w[i+1]
		sums[r.fold[i]] += float64(w * (r.y[i+1] - r.y[i]))
		weights[r.fold[i]] += w
	}
	var m mean
	for k := range sums {
		if weights[k] > 0 {
			m.add(sums[k] / weights[k])
		}
	}
	b := &Banks{Difference: m.value(), SE: math.NaN()}
	if m.n > 1 {
		variance := 0.0
		for k := range sums {
			if weights[k] > 0 {
				d := sums[k]/weights[k] - b.Difference
				variance += float64(d * d)
			}
		}
		b.SE = math.Sqrt(variance / float64(m.n-1) / float64(m.n))
	}
	res.Banks = b
}
