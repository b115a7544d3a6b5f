package cause

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/interp/cells"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Options tune an explanation. The zero value is what the command uses.
type Options struct {
	Filters cells.FilterOptions // Steady is set where nothing is asked for
}

// Explain reads drive logs and says which cause fits their trims. The logs are
// opened in turn, each once; they should have been given the calibration's
// engine facts. It is an error where a log has no trims, where no settled
// closed-loop sample is left, where every trim is 0, and where a logged pulse
// does not exceed the calibration's offset.
func Explain(ctx context.Context, cal *tables.Calibration, logs []cells.Log, opt Options) (*Result, error) {
	e, err := newEngine(cal)
	if err != nil {
		return nil, err
	}
	if len(opt.Filters.Use) == 0 {
		opt.Filters.Steady = true
	}
	x := &explainer{e: e, opt: opt, res: &Result{Boost: e.boost}, open: newGatherer()}
	for i := range x.levels {
		x.levels[i] = newGatherer()
	}
	var faults tables.Faults
	x.many = len(logs) > 1
	for i, l := range logs {
		err := x.read(ctx, i, l)
		if f, ok := err.(*tables.Fault); ok {
			faults = append(faults, f)
		} else if err != nil {
			return nil, tables.In(l.Name, 0, 0, "", err)
		}
	}
	if err := faults.Err(); err != nil {
		return nil, err
	}
	return x.explain(logs)
}

// explainer holds the samples of a drive at three levels of strictness: settled,
// steady, and merely closed loop, for a drive that never settles.
type explainer struct {
	e      *engine
	opt    Options
	res    *Result
	levels [3]*gatherer
	clock  float64
	facts  *facts
	purge  bool
	open   *gatherer // open-loop samples by a wideband sensor
	bias   mean      // of that sensor where the loop is closed, share
	many   bool      // logs
}

// Names of the levels, for a person.
var levelSaid = [3]string{"",
	"the drive has too few settled samples: steady ones in which the trim may still be moving were used too",
	"the drive hardly ever holds still: all closed-loop samples were used, also where speed and load change"}

// columns asked of a log, by place.
const (
	cSpeed = iota
	cManifold
	cBaro
	cAir
	cCharge
	cLoad
	cPulse
	cBattery
	cRail
	cCommanded
	cTrim1
	cTrim2
	cShort1
	cShort2
	cStatus
	cLambda
	cMixture
	cCount
)

var columnNames = [cCount]string{"engine_speed", "manifold_pressure", "barometric_pressure", "air_flow", "air_charge", "load",
	"pulse_width", "battery", "rail_pressure", "lambda_commanded", "trim_1", "trim_2", "short_trim_1", "short_trim_2",
	"fuel_status", "lambda", "mixture_error"}

// reader takes one log's frames.
type reader struct {
	x       *explainer
	d       *deriver
	log     int
	name    string
	at      [cCount]int // column of the query; −1 where the log has none
	last    float64
	stretch int
	started bool
	kept    int
	unfit   map[unfit]int
	wide    bool       // a wideband sensor tells the mixture where the loop is open
	status  bool       // the log tells whether the loop is closed
	still   [2]float64 // s for which each bank's short trim has stood at 0
}

func (x *explainer) read(ctx context.Context, i int, l cells.Log) error {
	log, err := l.Open()
	if err != nil {
		return err
	}
	defer log.Close()
	r := &reader{x: x, d: &deriver{e: x.e}, log: i, name: l.Name, unfit: map[unfit]int{}}
	if !log.Has("trim_1") && !log.Has("trim_2") {
		if err := log.Resolve("trim"); err != nil {
			return &tables.Fault{File: l.Name, What: "the log has no fuel trims (short_trim_1, long_trim_1): what the fuel control adds or removes is what causes are told by"}
		}
	}
	if !log.Has("engine_speed") {
		return &tables.Fault{File: l.Name, What: "the log has no engine_speed"}
	}
	var ask []string
	for c, name := range columnNames {
		if r.at[c] = -1; log.Has(name) {
			r.at[c] = len(ask)
			ask = append(ask, name)
		}
	}
	r.d.plan(log.Logged)
	if r.status = log.Has("fuel_status"); !r.status {
		x.of(l.Name, "no fuel_status is logged: the loop is taken as open where the short trim stands at 0")
	}
	x.purge = x.purge || log.Has("purge")
	filters := x.opt.Filters
	if r.wide = log.Logged("lambda") && log.Logged("lambda_commanded") && log.Has("mixture_error"); r.wide {
		// This log's open loop is evidence too: what is closed is told below.
		filters.Not = append(slices.Clone(filters.Not), cells.ClosedLoop, cells.Enrichment)
	}
	sel, err := cells.Select(ctx, log, ask, "", filters, r.frame)
	if err != nil {
		return err
	}
	x.source(l.Name, r, sel)
	x.join(r.d)
	return nil
}

// join keeps the facts under which all logs can be examined.
func (x *explainer) join(d *deriver) {
	f := d.facts()
	if x.facts == nil {
		x.facts = f
		return
	}
	x.facts.metered = x.facts.metered && f.metered
	x.facts.relative = x.facts.relative || f.relative
}

func (x *explainer) source(name string, r *reader, sel *cells.Selection) {
	s := Source{Name: name, Rows: sel.Rows, Kept: r.kept}
	for why := cells.Kept + 1; int(why) < 32; why++ {
		if n := sel.Dropped[why]; n > 0 {
			s.Dropped = append(s.Dropped, Dropped{why.String(), n})
		}
	}
	for _, why := range []unfit{openLoop, enriched, noTrim, standing, shortPulse} {
		if n := r.unfit[why]; n > 0 {
			s.Dropped = append(s.Dropped, Dropped{string(why), n})
		}
	}
	x.res.Logs = append(x.res.Logs, s)
	var assumed []string
	for _, said := range slices.Concat(sel.Reading.Said, sel.Said, r.d.said()) {
		if channel, unit, ok := strings.Cut(said, ": the log gives no unit, "); ok {
			assumed = append(assumed, channel+" in "+strings.TrimSuffix(unit, " is assumed"))
			continue
		}
		x.of(name, "%s", said)
	}
	if assumed != nil {
		x.of(name, "the log gives no units: %s assumed", strings.Join(assumed, ", "))
	}
	for _, f := range sel.Faults {
		x.of(name, "%s", f.Text)
	}
}

// of says something of one log, by name where there are several.
func (x *explainer) of(name, format string, args ...any) {
	if x.many {
		format, args = "%s: "+format, append([]any{tables.Clean(name)}, args...)
	}
	x.caution(format, args...)
}

func (x *explainer) caution(format string, args ...any) {
	if s := fmt.Sprintf(format, args...); !slices.Contains(x.res.Cautions, s) {
		x.res.Cautions = append(x.res.Cautions, s)
	}
}

// level is how strict a gatherer may be that takes a sample left out for this
// reason; −1 for none.
func level(why cells.Reason) int {
	switch why {
	case cells.Kept:
		return 0
	case cells.PartCycle, cells.NotSettled:
		return 1
	case cells.NotSteady:
		return 2
	}
	return -1
}

func (r *reader) frame(f *drivelog.Frame, why []cells.Reason) error {
	for i := range f.N {
		dt := f.Time[i] - r.last
		if !r.started || f.Stretch[i] != r.stretch {
			// A gap, or a clock that starts again, is a pause of unknown length.
			dt, r.x.clock = 0, r.x.clock+sliceSeconds
		}
		r.started, r.stretch, r.last = true, f.Stretch[i], f.Time[i]
		r.x.clock += max(0, dt)
		if err := r.instant(f, i, dt, level(why[i])); err != nil {
			return err
		}
	}
	return nil
}

func (r *reader) get(f *drivelog.Frame, c, i int) float64 {
	if r.at[c] < 0 {
		return math.NaN()
	}
	return f.Columns[r.at[c]].Value[i]
}

func (r *reader) fresh(f *drivelog.Frame, c, i int) bool {
	return r.at[c] >= 0 && f.Columns[r.at[c]].Fresh[i]
}

// instant takes one instant of a frame; at is the strictest level that has it.
func (r *reader) instant(f *drivelog.Frame, i int, dt float64, at int) error {
	get := func(c int) float64 { return r.get(f, c, i) }
	raw := raw{speed: get(cSpeed), manifold: get(cManifold), baro: get(cBaro), air: get(cAir),
		charge: get(cCharge), load: get(cLoad), pulse: get(cPulse), battery: get(cBattery),
		rail: get(cRail), commanded: get(cCommanded), trim: [2]float64{get(cTrim1), get(cTrim2)},
		held: [2]float64{get(cShort1), get(cShort2)}}
	mode := r.mode(&raw, get(cStatus), dt)
	if mode != fit && (mode != openLoop || !r.wide) {
		r.unfit[mode]++
		return nil
	}
	fresh := r.fresh(f, cTrim1, i) || r.fresh(f, cTrim2, i)
	if mode == openLoop {
		fresh = at == 0 && r.fresh(f, cMixture, i)
	}
	if at < 0 || !fresh {
		return nil
	}
	for b := range raw.held {
		if r.at[cShort1+b] < 0 {
			raw.held[b] = raw.trim[b]
		}
	}
	s := sample{log: r.log, line: f.Line[i], time: f.Time[i], clock: r.x.clock, seconds: min(max(dt, 0), 2)}
	switch u := r.d.sample(&raw, &s); {
	case u == underOffset && at == 0:
		return &tables.Fault{File: r.name, Line: f.Line[i], What: fmt.Sprintf(
			"pulse_width is %s ms, not above the offset of table %s, %s ms: the table is not this engine's, or the pulse is logged without its offset",
			short(raw.pulse), r.x.e.offset.Table().ID(), short(s.offset))}
	case u == underOffset:
		return nil
	case u != fit:
		r.unfit[u]++
		return nil
	}
	if s.manifold > s.baro+8 {
		r.x.res.Boost = true
	}
	if r.wide {
		r.x.wideband(&s, mode, get(cLambda), raw.commanded, get(cMixture))
	}
	if mode == openLoop {
		return nil
	}
	if at == 0 {
		r.kept++
	}
	for k := at; k < len(r.x.levels); k++ {
		r.x.levels[k].add(&s)
	}
	return nil
}

// mode tells closed loop from open loop and enrichment where the filters leave
// that to the reader.
func (r *reader) mode(raw *raw, status, dt float64) unfit {
	switch {
	case r.open(raw.held[0], raw.held[1], dt):
		return openLoop
	case !r.wide:
		return fit
	case r.status && status != 2 && status != 16:
		return openLoop
	case raw.commanded > 0.4 && raw.commanded < 0.97:
		return enriched
	}
	return fit
}

// open reports whether the loop seems open in a log that does not say: every
// short trim has stood at exactly 0 for longer than one in control does.
func (r *reader) open(one, two, dt float64) bool {
	if r.status {
		return false
	}
	const long = 1.5 // s
	open, any := true, false
	for b, v := range [...]float64{one, two} {
		if v != v {
			continue
		}
		if any = true; v != 0 || dt > long {
			r.still[b] = 0
		} else {
			r.still[b] += dt
		}
		open = open && r.still[b] > long
	}
	return any && open
}

func short(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", v), "0"), ".")
}

// What a drive must have for its settled samples alone to serve.
const (
	enoughCells   = 5
	enoughSeconds = 40.0
)

// explain judges what was read.
func (x *explainer) explain(logs []cells.Log) (*Result, error) {
	res := x.res
	points := x.choose()
	if len(points) == 0 {
		return nil, x.nothing(logs)
	}
	points, banks, err := x.fitted(points, logs)
	if err != nil {
		return nil, err
	}
	points = x.withOpen(points, banks)
	if points = whole(points); len(points) == 0 {
		return nil, x.nothing(logs)
	}
	res.Points = points
	x.e.estimateManifold(x, points)
	r := newRows(points, banks)
	x.e.pressure(x, points)
	r.rank(res, x.facts)
	for _, s := range x.e.said {
		x.caution("%s", s)
	}
	r.shares(res)
	r.tell(res, x.facts)
	x.beside(res)
	return res, nil
}

// choose takes the strictest samples of which there are enough. A drive that
// holds one point is not helped by the little that it changes.
func (x *explainer) choose() []*Point {
	var sets [len(x.levels)][]*Point
	var seconds [len(x.levels)]float64
	for k, g := range x.levels {
		sets[k] = g.finish()
		for _, p := range sets[k] {
			seconds[k] += p.Seconds
		}
	}
	last := len(sets) - 1
	for k := range sets[:last] {
		if seconds[k] >= enoughSeconds && (len(x.levels[k].cells) >= enoughCells || seconds[last] < 1.5*seconds[k]) {
			last = k
			break
		}
	}
	if last > 0 && len(sets[last]) > 0 {
		x.caution("%s", levelSaid[last])
	}
	return sets[last]
}

// beside names what else may stand behind the trims, and how far the drive went.
func (x *explainer) beside(res *Result) {
	_, _, bands := res.Bands()
	if len(bands) > 0 && !x.purge && bands[0].Seen[0] < -2 {
		x.caution("purge is not logged: vapour from the canister takes fuel away at low air flow too; repeat with the purge line closed off")
	}
	var pressure, fuel float64
	for _, p := range res.Points {
		pressure, fuel = max(pressure, p.Manifold), max(fuel, p.FuelFlow)
	}
	if pressure > 0 {
		x.caution("the closed-loop samples reach %.0f kPa of manifold pressure: of more load than that, trims say nothing", pressure)
	}
}

// nothing is the error of a drive without a sample, with the reason that took
// most of them.
func (x *explainer) nothing(logs []cells.Log) error {
	var faults tables.Faults
	for _, s := range x.res.Logs {
		var why []string
		for _, d := range s.Dropped {
			why = append(why, fmt.Sprintf("%d %s", d.Count, d.Reason))
		}
		what := fmt.Sprintf("none of %d rows is closed-loop evidence", s.Rows)
		if len(why) > 0 {
			what += ": " + strings.Join(why, ", ")
		}
		faults = append(faults, &tables.Fault{File: s.Name, What: what})
	}
	return faults.Err()
}

// fitted keeps the banks whose trims are alive and the points that have them.
func (x *explainer) fitted(points []*Point, logs []cells.Log) ([]*Point, int, error) {
	var live [2]bool
	var seen [2]int
	for _, p := range points {
		for b, t := range p.Trim {
			if t == t {
				seen[b]++
				live[b] = live[b] || t != 0
			}
		}
	}
	switch {
	case !live[0] && !live[1]:
		return nil, 0, &tables.Fault{File: logs[0].Name,
			What: "every fuel trim is 0 in closed loop: nothing was corrected, or these columns are not the controller's trims"}
	case seen[1]*2 < seen[0] || !live[1]:
		if seen[1] > 0 && !live[1] {
			x.caution("bank 2's trim never leaves 0: it is taken as not fitted")
		}
		return only(points, 0), 1, nil
	case seen[0]*2 < seen[1] || !live[0]:
		if seen[0] > 0 && !live[0] {
			x.caution("bank 1's trim never leaves 0: it is taken as not fitted")
		}
		return only(points, 1), 1, nil
	}
	both := slices.DeleteFunc(points, func(p *Point) bool { return p.Trim[0] != p.Trim[0] || p.Trim[1] != p.Trim[1] })
	return both, 2, nil
}

// whole leaves out the points that lack a quantity which most of them have, and
// takes a quantity that few have from all, so that every cause is judged by the
// same points.
func whole(points []*Point) []*Point {
	for _, of := range []func(p *Point) *float64{
		func(p *Point) *float64 { return &p.Manifold }, func(p *Point) *float64 { return &p.AirFlow },
		func(p *Point) *float64 { return &p.FuelFlow }, func(p *Point) *float64 { return &p.Inverse },
		func(p *Point) *float64 { return &p.Rail },
	} {
		missing := func(p *Point) bool { return math.IsNaN(*of(p)) || math.IsInf(*of(p), 0) }
		n := 0
		for _, p := range points {
			if missing(p) {
				n++
			}
		}
		switch {
		case 3*n < len(points):
			points = slices.DeleteFunc(points, missing)
		case n > 0:
			for _, p := range points {
				*of(p) = math.NaN()
			}
		}
	}
	return points
}

// only makes points of one bank.
func only(points []*Point, bank int) []*Point {
	points = slices.DeleteFunc(points, func(p *Point) bool { return p.Trim[bank] != p.Trim[bank] })
	for _, p := range points {
		p.Trim = [2]float64{p.Trim[bank], math.NaN()}
		p.AtLimit = [2]float64{p.AtLimit[bank], 0}
	}
	return points
}

// shares fills in how much of the time the trims are in order, and how much of
// it they stand at a limit.
func (r *rows) shares(res *Result) {
	var whole, within, limit float64
	for _, p := range r.points {
		whole += p.Seconds
		inside := true
		for b := range r.banks {
			inside = inside && math.Abs(p.Trim[b]) <= 5
			limit += p.Seconds * p.AtLimit[b] / float64(r.banks)
		}
		if inside {
			within += p.Seconds
		}
	}
	if whole > 0 {
		res.Share5, res.AtLimit = within/whole, limit/whole
	}
	if res.AtLimit > 0.02 {
		res.Cautions = append(res.Cautions, fmt.Sprintf(
			"trims stand at their limit in %.0f %% of the settled time: their sign is evidence, their size a lower bound", 100*res.AtLimit))
	}
}

// estimateManifold stands in for a manifold pressure that no log has: the
// barometer times the share that a cylinder's air has of what it takes at full
// load, which is the most that the drive shows, or what the displacement takes.
func (e *engine) estimateManifold(x *explainer, points []*Point) {
	var charges []float64
	for _, p := range points {
		if p.Manifold == p.Manifold || !(p.AirFlow/p.Speed > 0) {
			return
		}
		charges = append(charges, p.AirFlow/p.Speed)
	}
	full := quantile(charges, 0.99)
	if e.volume > 0 {
		const density, filling = 1.15, 0.85 // g/L of intake air, share; from memory, no source
		full = max(full, density*filling*e.volume/30/float64(e.strokes))
	}
	for i, p := range points {
		p.Manifold = p.Barometer * charges[i] / full
	}
	x.facts.estimated = true
	x.caution("no manifold pressure is logged: it is estimated from the air that a cylinder takes, which blurs unmetered-air and pressure-reference")
}

// pressure names a logged rail pressure that is not the nominal one.
func (e *engine) pressure(x *explainer, points []*Point) {
	var m mean
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range points {
		m.add(p.Rail)
		if p.Rail == p.Rail {
			low, high = min(low, p.Rail), max(high, p.Rail)
		}
	}
	if m.n == 0 {
		return
	}
	if v := m.value(); math.Abs(v) > 0.05 || high-low > 0.1 {
		x.caution("the logged rail pressure drives the injectors %+.0f %% from the nominal pressure (%+.0f to %+.0f %%): mend that first",
			100*v, 100*low, 100*high)
	}
}
