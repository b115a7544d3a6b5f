package cause

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"calsplice/interp/drive"
)

// Doubt is what keeps the leading cause from being certain, and what would
// settle it.
type Doubt struct {
	What   string `json:"what"`
	Settle string `json:"settle"`
}

// together names two causes where they explain clearly more than the best alone.
func (c *contest) together(res *Result) {
	single, pair := c.leading(), c.bestPair()
	if single == nil || pair == nil || !c.needed(pair, single) {
		return
	}
	list := c.causes(pair)
	predicted, coef := c.r.perPoint(pair.predict()), c.coefficients(pair)
	c.product(pair, coef)
	res.Together = &Pair{[2]Cause{list[0], list[1]}, pair.share, pair.share - single.share, predicted}
	for k, cause := range list {
		i := slices.IndexFunc(res.Found, func(f Finding) bool { return f.Cause == cause })
		f, n := &res.Found[i], len(pair.parts[k].columns)
		f.Share, f.model, f.beside, f.Predicted = max(pair.share, res.Found[0].Share), pair, list[1-k], predicted
		if f.alone == nil { // alone it has no fit within what is physically possible
			f.alone, f.Effect = pair, c.r.largest(pair.predict())
		}
		f.Shape, f.lostHose, f.Coefficients = pair.parts[k].words, pair.parts[k].lostHose, coef[:min(n, len(coef))]
		coef = coef[len(f.Coefficients):]
	}
	order(res.Found)
}

// product turns the coefficients of a sum of two shapes into those of a product:
// with flow wrong by a, what else is wrong is corrected by (1 + a) times its own
// trim. Only an offset's time adds to the pulse.
func (c *contest) product(pair *model, coef []Coefficient) {
	k := slices.Index(c.causes(pair), FlowScale)
	if k < 0 || coef == nil || c.has(pair, InjectorOffset) {
		return
	}
	flow := k * len(pair.parts[0].columns)
	by := 1 + coef[flow].Value/100
	for j := range coef {
		if v := &coef[j]; j != flow {
			v.Value, v.Low, v.High = v.Value/by, v.Low/by, v.High/by
		}
	}
}

// needed reports whether a pair explains clearly more than a single cause. A
// bent line, which stands for any pair, must itself explain clearly more.
func (c *contest) needed(pair, single *model) bool {
	switch {
	case pair.share < 0.5:
		return false
	case c.has(pair, FlowScale) && c.has(pair, BankDifference) && c.r.quietBank():
		return false // one bank is off, and the other shows that nothing else is
	case c.bends(single):
		return !c.beats(single, pair) && pair.share > single.share-0.05
	}
	z, gain := contrast(pair, single), c.rms(single.err-pair.err)
	return pair.err <= 0.75*single.err && (z > 1.5 && gain >= 0.5 || z > 0.8 && gain >= 0.8)
}

// beats reports whether a bent line explains more than another model, surely and
// by an amount that matters, its richness paid for.
func (c *contest) beats(bent, other *model) bool {
	return bent.share >= other.share+0.02 && contrast(bent, other) > 1.2 && c.rms(other.err-bent.err) >= 0.45
}

// judge decides whether the leading cause is certain, and lists what speaks
// against it.
func (c *contest) judge(res *Result) {
	lead := res.Leading()
	at, effect := c.r.change(c.left(lead.model))
	if p := lead.model; at < 0 && p != nil && len(p.of) == 2 && !c.has(p, SupplyLimit) {
		at, effect = c.r.change(c.r.y) // two shapes may follow a change between them
	}
	res.ChangedAt = math.NaN()
	if effect >= leastChange {
		res.ChangedAt, res.changedIn = c.r.points[at].Time, c.r.points[at].Log
	}
	res.Foreign = c.r.foreign()
	if v := c.r.seconds(); v < enoughSeconds {
		res.doubt(fmt.Sprintf("only %.0f s of the drive are evidence", v), moreDriving)
	}
	if lead.Cause != None && lead.model != nil {
		c.doubts(res, lead)
	}
	res.Certain = len(res.Doubts) == 0 && math.IsNaN(res.ChangedAt) && res.Foreign <= mostForeign
	if lead.Cause == None {
		res.Certain = res.Certain && lead.Share >= 0.5 && c.sound(res.Found)
		if !res.Certain {
			c.unexplained(res)
		}
	}
}

// sound reports whether nothing that was found, no trim that stood for seconds and no
// place that differs from itself speaks against a healthy engine.
func (c *contest) sound(found []Finding) bool {
	return c.significance(found) < perhaps && !c.r.heavy(8, 2) && c.rms(c.r.noise) < restless
}

// unexplained says what trims show that no cause explains, as doubts with what
// would settle them.
func (c *contest) unexplained(res *Result) {
	const own = 0.25 // share of the trims
	switch d, _ := lightest(res); {
	case d >= apart && c.f.metered:
		res.doubt("trims rise where little air flows", sentence(test(UnmeteredAir, InjectorOffset)))
	case d >= apart:
		res.doubt("trims rise where little air flows", sentence(test(InjectorOffset, FlowScale)))
	case d <= -apart:
		res.doubt("trims fall where little air flows", hiddenPurge.entry().test)
	}
	if c.r.noise >= own*c.r.total {
		res.doubt("the same places differ from themselves at other times", "Log one warm drive alone, with fuel status and two readings per second or more, and the purge line closed off")
	}
}

// What differs by less than apart, in % of trim, may be noise. The repeats of a
// sound engine's operating points differ by 0.1 to 1.1 % rms in 24 drives of a
// simulator that shares nothing with this project's.
const (
	apart    = 2.0
	restless = 1.5
)

// lightest is how much higher the trims are where the least air flows, for 20 s
// at least, than elsewhere, in %; and whether they are as high nowhere else.
func lightest(res *Result) (by float64, top bool) {
	var light, rest drive.Mean
	highest := math.Inf(-1)
	_, _, bands := res.Bands()
	for _, b := range bands {
		if light.Weight < 20 {
			light.Add(b.Seen[0], b.Seconds)
		} else {
			rest.Add(b.Seen[0], b.Seconds)
			highest = max(highest, b.Seen[0])
		}
	}
	return light.Value() - rest.Value(), light.Value() > highest
}

// seconds is the time that counts.
func (r *rows) seconds() float64 {
	sum := 0.0
	for _, p := range r.points {
		sum += p.Seconds
	}
	return sum
}

// foreign is the share of the settled time in which this calibration would have
// commanded other pulses than the log has; 0 where that cannot be told.
func (r *rows) foreign() float64 {
	var m drive.Mean
	for _, p := range r.points {
		m.Add(p.foreign, p.Seconds)
	}
	return nan(m.Value(), 0)
}

// mostForeign is the share of the settled time from which the log is not of this
// calibration.
const mostForeign = 0.5

// What a leader may leave, % rms. Right causes leave up to 0.6 beyond what the
// same places differ from themselves, and up to 0.5 of a pattern, over some 400
// drives of merge/testdrive's engines; two faults taken for one leave 0.6 to 3.
const (
	leastLack    = 0.75
	leastPattern = 0.6
	leastOther   = 0.4 // by which another cause is better without the lightest load
)

// A leader that stands for a trim this small, in per cent, must explain this
// share of it: sound engines whose controllers wander by a per cent were named an
// offset of 0.02 ms that explained 50 to 70 % (6 of some 280 drives of a simulator
// that shares nothing with this project's).
const (
	smallEffect = 2.5
	clearShare  = 0.85
)

// weak says why a leader explains too little of the trims; "" where it does not.
func weak(lead *Finding) string {
	switch {
	case lead.Share < 0.5:
		return "no cause explains half of the trims"
	case lead.Share < clearShare && lead.Effect < smallEffect:
		return "the trims are small, and noise explains nearly as much of them"
	}
	return ""
}

// doubts lists what speaks against a leading cause. Each names a way in which the best fit
// of a drive can be a wrong name; none is a matter of the fit's own margin alone.
func (c *contest) doubts(res *Result, lead *Finding) {
	m := lead.model
	if s := weak(lead); s != "" {
		res.doubt(s, moreDriving)
	}
	if c.flat() {
		res.doubt("speed and load hardly moved", "Add idle and one pull to the drive")
	}
	if c.has(m, SupplyLimit) && c.f.metered {
		what := "supply or air meter"
		if lead.OwnLimit > 0 {
			what = fmt.Sprintf("supply, air meter, or the injectors' own limit (duty %.0f %%)", lead.OwnLimit)
		}
		res.doubt("fuel is missing as flow rises: "+what, "A gauge at the rail under load decides")
	}
	if c.f.restless && slices.ContainsFunc(c.causes(m), func(cause Cause) bool { return cause.is(atIdle) }) {
		res.doubt("idle never held still", "Hold 2,500 r/min, then idle, half a minute each")
	}
	if c.has(m, FlowScale) && c.has(m, PressureReference) && slices.Min(c.sizes(m, func(part []float64) float64 { return c.rms(c.r.square(part)) })) < 4 {
		res.doubt("a regulator that also holds another pressure does as well as a small error of flow", sentence(test(PressureReference, FlowScale)))
	}
	if by, top := lightest(res); c.has(m, AirMeter) && by >= apart && top {
		res.doubt("trims rise where little air flows, as a leak raises them", sentence(test(UnmeteredAir, AirMeter)))
	}
	c.rivals(res, lead)
	if v := c.lackOfFit(m); v > max(leastLack, c.leniency(m)*c.rms(c.gram.total)) {
		res.doubt(fmt.Sprintf("the same places fit their own repeats better than %s does", lead.Cause), lead.Cause.entry().test)
	}
	if v, z := c.pattern(m); v > leastPattern && z > 2 {
		res.doubt(fmt.Sprintf("what %s leaves still follows speed, load or time", lead.Cause), lead.Cause.entry().test)
	}
	if z, v := c.elsewhere(m); z > 1.5 && v > leastOther {
		res.doubt("without the lightest load another cause fits better", "Hold 2,500 r/min, then idle, half a minute each")
	}
}

// flat reports whether a drive stayed at one load: a few seconds elsewhere make
// no other. At one load every shape is a constant.
func (c *contest) flat() bool {
	air := c.r.air()
	if air == nil {
		return false
	}
	const tail = 0.02 // of the settled time at each end
	// By time, not by rows: a place that was driven through in a second is no load.
	order := make([]int, len(air))
	whole := 0.0
	for i := range order {
		order[i] = i
		whole += c.r.points[c.r.point[i]].Seconds
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(air[a], air[b]) })
	low, high, sum := 0.0, 0.0, 0.0
	for _, i := range order {
		if sum < tail*whole {
			low = air[i]
		}
		if sum < (1-tail)*whole {
			high = air[i]
		}
		sum += c.r.points[c.r.point[i]].Seconds
	}
	return high < 1.6*low
}

// rivals adds the causes, and the pairs of causes, that a leader is not told
// from: those first that a log hides, since a person cannot see them in it.
func (c *contest) rivals(res *Result, lead *Finding) {
	m := lead.model
	for i, other := range c.singles {
		cause := c.list[i].cause
		if other == nil || slices.Contains(m.of, i) || c.toldApart(m, other, cause) {
			continue
		}
		if cause.hidden() {
			res.doubt(cause.entry().looks, cause.entry().test)
		} else {
			res.doubt(fmt.Sprintf("%s fits nearly as well", cause), sentence(test(lead.Cause, cause)))
		}
	}
	// One pair is named, the best: ten that do as well say no more than it.
	var worst *model
	little := c.withLittle(m)
	for _, other := range c.pairs {
		if c.threat(m, other) && !(other.err > 0.95*little && slices.Contains(other.of, m.of[0])) && (worst == nil || other.share > worst.share) {
			worst = other
		}
	}
	if worst == nil {
		return
	}
	list := c.causes(worst)
	for _, cause := range list {
		if cause.hidden() {
			res.doubt(cause.entry().looks, cause.entry().test)
			return
		}
	}
	res.doubt(fmt.Sprintf("%s together with %s would do as well", list[0], list[1]), sentence(test(list[0], list[1])))
}

// withLittle is what a leader leaves unexplained with something beside it that is
// not worth a repair: nothing that explains no more than that puts it in doubt.
func (c *contest) withLittle(lead *model) float64 {
	least := math.Inf(1)
	for _, m := range c.pairs {
		if len(lead.of) == 1 && slices.Contains(m.of, lead.of[0]) && !c.counts(m, effectFull, 0) {
			least = min(least, m.err)
		}
	}
	return least
}

// told reports whether a leader is told from another cause.
func (c *contest) toldApart(lead, other *model, cause Cause) bool {
	switch {
	case cause == hiddenExhaust && len(lead.of) == 1 && c.has(lead, UnmeteredAir):
		return true // the same to any trim: it stands in the leader's alike
	case cause.is(bends) && !c.bends(lead):
		return !c.better(other, lead)
	case c.bends(lead) && !c.beats(lead, other):
		return false
	}
	return c.clearly(lead, other)
}

// doubt adds a doubt once.
func (res *Result) doubt(what, settle string) {
	if d := (Doubt{what, settle}); !slices.Contains(res.Doubts, d) {
		res.Doubts = append(res.Doubts, d)
	}
}

// leniency is the share of the trims that a right cause may leave: how a supply
// gives way, and how a bent line bends, is not known in advance.
func (c *contest) leniency(m *model) float64 {
	if c.has(m, SupplyLimit) || c.bends(m) {
		return 0.2
	}
	return 0.12
}

// clearly reports whether a model is told from another cause.
func (c *contest) clearly(lead, other *model) bool {
	margin, z := lead.share-other.share, contrast(lead, other)
	switch richer := other.shape.free - lead.shape.free; {
	case richer >= 2 && margin >= 0.03 && z > -1.5:
		return true // a bent line that happens to have the leader's shape
	case margin >= 0.02 && z > 1:
		return true
	case c.rms(other.err-lead.err) >= 0.35 && z > 1.5:
		return true
	}
	return margin >= 0.004 && z > 2.5
}

// threat reports whether a pair puts a leader in doubt: it explains surely more,
// by an amount that matters; a bent line must itself explain more than any pair
// that could stand in its place.
func (c *contest) threat(lead, pair *model) bool {
	if slices.Equal(lead.of, pair.of) || !c.counts(pair, effectFull, 0) || c.alike(lead, pair) {
		return false
	}
	switch {
	case c.bends(lead):
		return pair.share > 0.5 && !c.beats(lead, pair)
	case len(lead.of) == 2:
		return !c.clearly(lead, pair)
	}
	return c.better(pair, lead)
}

// alike reports whether a pair is the leader itself: with an exhaust leak in the
// place of unmetered air, which no trim tells from it, or with the offset that an
// injector has at a pressure that the table does not know of.
func (c *contest) alike(lead, pair *model) bool {
	if c.has(lead, PressureReference) && c.has(pair, PressureReference) && c.has(pair, InjectorOffset) {
		return true
	}
	if !c.has(lead, UnmeteredAir) || !c.has(pair, hiddenExhaust) {
		return false
	}
	return !slices.ContainsFunc(c.causes(pair), func(cause Cause) bool { return cause != hiddenExhaust && !c.has(lead, cause) })
}

// bends reports whether a model is a bent line.
func (c *contest) bends(m *model) bool {
	return slices.ContainsFunc(c.causes(m), func(cause Cause) bool { return cause.is(bends) })
}

// better reports whether a richer model explains surely more, by an amount that
// matters.
func (c *contest) better(rich, plain *model) bool {
	z, gain := contrast(rich, plain), c.rms(plain.err-rich.err)
	return z > 1.5 && gain >= 0.35 || z > 0.8 && gain >= 0.5
}

// left is what a model leaves of each row's trim; all of it where there is none.
func (c *contest) left(m *model) []float64 {
	if m == nil {
		return c.r.y
	}
	u := slices.Clone(m.y)
	for i, p := range m.predict() {
		u[i] -= p
	}
	return u
}
