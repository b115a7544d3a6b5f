package cause

import (
	"cmp"
	"math"
	"slices"

	"calsplice/interp/cells/tally"
	"calsplice/interp/drive"
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

	model    *model  // that the share and the numbers are of; nil where none fits
	alone    *model  // the fit of this cause by itself
	beside   Cause   // the other of two causes that are fitted at once; "" alone
	explains float64 // of a measured pressure: share of the trims' size
	measured bool    // by a gauge or a logged pressure
	lostHose bool    // pressure-reference by a rail that does not follow the manifold
}

// Coefficient is a fitted number with its 95 % interval.
type Coefficient struct {
	Value, Low, High float64
	Unit             string
}

// Unexamined is a cause that could not be examined, and why.
type Unexamined struct {
	Cause Cause  `json:"cause"`
	Why   string `json:"why"`
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

// rank lets the causes compete and orders them. It fills Found, Unexamined,
// Together, Certain, Doubts and Banks of a result.
func (r *rows) rank(res *Result, f *facts) {
	c := newContest(r, f)
	found := make([]Finding, len(c.list))
	// What a log hides competes in the fits, and is told as a doubt, not as a finding.
	tally.Each(len(found), func(i int) {
		if !c.list[i].cause.hidden() {
			found[i] = c.finding(c.list[i].cause, c.singles[i])
		}
	})
	for i := range c.list {
		switch k := &c.list[i]; {
		case k.cause.hidden():
		case k.missing != "":
			res.Unexamined = append(res.Unexamined, Unexamined{k.cause, k.missing})
		default:
			res.Found = append(res.Found, found[i])
		}
	}
	discount(res.Found)
	res.Found = append(res.Found, Finding{Cause: None, Share: r.noneShare(res.Found)})
	for _, u := range res.Unexamined {
		if len(res.Found) < 3 { // who asks for a ranking is shown one
			res.Found = append(res.Found, Finding{Cause: u.Cause})
		}
	}
	order(res.Found)
	c.together(res)
	r.compareBanks(res)
	for i := range res.Found {
		res.Found[i].OwnLimit = r.ownLimit(&res.Found[i])
	}
	c.judge(res)
	if r.railNamed() {
		// A supply's pressure moves within a place: only what is large beside it counts.
		if at, effect := r.change(r.rail.trim); effect >= max(leastChange, 0.3*r.largest(r.rail.trim)) {
			res.ChangedAt = r.points[at].Time
		}
		found := r.railFinding(f)
		res.nameRail(found, r.ownRest(res.Leading(), found.Effect))
	}
}

// nameRail puts a measured rail pressure first: alone, or with the cause of the
// rest where that has one of its own.
func (res *Result) nameRail(found Finding, both bool) {
	rest := res.Leading()
	if !both {
		res.Doubts, res.Together = nil, nil
		res.Certain = found.Share >= 0.5 && math.IsNaN(res.ChangedAt) && res.Foreign <= mostForeign
	} else {
		res.Together = &Pair{[2]Cause{found.Cause, rest.Cause}, rest.Share, rest.Share - found.Share, rest.Predicted}
		res.Certain = res.Certain && rest.beside == "" && !rest.Cause.is(bends) && math.IsNaN(res.ChangedAt)
	}
	// A gauge is no guess: what it shows stands first, whatever fits better.
	found.Share = max(found.Share, rest.Share)
	res.Found = slices.DeleteFunc(res.Found, func(f Finding) bool { return f.Cause == found.Cause })
	res.Found = slices.Insert(res.Found, 0, found)
	res.Unexamined = slices.DeleteFunc(res.Unexamined, func(u Unexamined) bool { return u.Cause == found.Cause })
	setMargins(res.Found)
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
	// What noise makes, and while no cause counts, the band about zero that nobody would
	// call a trim.
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
func (c *contest) significance(found []Finding) float64 {
	nothing := &model{left: c.gram.square}
	best := 0.0
	for _, f := range found {
		if f.alone != nil && f.Effect >= effectFull && f.Share > 0.02 {
			best = max(best, contrast(f.alone, nothing))
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

// relevance is 0 for a trim that nobody would repair, 1 for one that is judged by its fit alone.
func relevance(effect float64) float64 {
	return min(1, max(0, (effect-effectNone)/(effectFull-effectNone)))
}

// discount scales every share by the relevance of the best-fitting cause's effect.
// Scaling each by its own effect would favour poor fits, which overshoot.
func discount(found []Finding) {
	if len(found) == 0 {
		return
	}
	best := slices.MaxFunc(found, func(a, b Finding) int { return cmp.Compare(a.Share, b.Share) })
	for i := range found {
		found[i].Share *= relevance(best.Effect)
	}
}

// finding is a cause as its best shape has it; without one, that it does not fit.
func (c *contest) finding(cause Cause, m *model) Finding {
	if m == nil {
		return Finding{Cause: cause}
	}
	predicted := m.predict()
	share, effect := m.share, c.r.largest(predicted)
	if cause.is(bends) && effect > 0 {
		// A flat curve is no curve, but flow that is wrong everywhere.
		share *= min(1, c.r.swing(predicted)/(0.5*effect))
	}
	return Finding{Cause: cause, Share: max(0, share), Effect: effect, Shape: m.shape.words, lostHose: m.shape.lostHose,
		model: m, alone: m, Predicted: c.r.perPoint(predicted), Coefficients: c.coefficients(m)}
}

// swing is how far a prediction varies over all but the outermost twentieths.
func (r *rows) swing(predicted []float64) float64 {
	low, high := quantiles(predicted, 0.05, 0.95)
	return high - low
}

// perPoint is a prediction by point and bank, with what a measured rail pressure
// explains.
func (r *rows) perPoint(predicted []float64) [][2]float64 {
	p := make([][2]float64, len(r.points))
	for i := range p {
		p[i] = [2]float64{math.NaN(), math.NaN()}
	}
	for i, v := range predicted {
		if r.rail != nil && r.rail.applied {
			v = (float64((1+v/100)*(1+r.rail.trim[i]/100)) - 1) * 100
		}
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
		case a.beside != "" && b.beside != "" && a.alone.share != b.alone.share:
			return cmp.Compare(b.alone.share, a.alone.share)
		}
		return a.Cause.place() - b.Cause.place()
	})
	setMargins(found)
}

// setMargins sets each share's margin over that of the best other cause.
func setMargins(found []Finding) {
	for i := range found {
		for j := range found {
			// The partner of a pair is no rival.
			if j != i && (found[i].beside == "" || found[j].beside == "") {
				found[i].Margin = found[i].Share - found[j].Share
				break
			}
		}
	}
}

// compareBanks measures how the banks differ, whatever leads.
func (r *rows) compareBanks(res *Result) {
	if r.banks < 2 {
		return
	}
	var parts [folds]drive.Mean
	for i := 0; i+1 < len(r.y); i += 2 {
		parts[r.fold[i]].Add(r.y[i+1]-r.y[i], r.w[i]+r.w[i+1])
	}
	var means []float64
	for _, p := range parts {
		if p.Weight > 0 {
			means = append(means, p.Value())
		}
	}
	mean, spread := drive.Spread(means)
	res.Banks = &Banks{Difference: mean, SE: spread / math.Sqrt(float64(len(means)))}
}
