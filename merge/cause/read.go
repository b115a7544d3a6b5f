package cause

import (
	"fmt"
	"slices"
	"strings"

	"calsplice/interp/cells/sift"
	"calsplice/interp/drive"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/unit"
)

// channels are what is asked of a log.
var channels = []drive.Channel{drive.Speed, drive.Manifold, drive.Barometer, drive.AirFlow, drive.Charge, drive.Load, drive.Pulse, drive.Battery,
	drive.Rail, drive.Commanded, drive.Trim1, drive.Trim2, drive.Short1, drive.Short2, drive.Status, drive.Lambda, drive.Mixture}

// reader takes one log's frames. What it decides by itself, beside the filters, is whether
// the loop is closed in a log that does not say, and what of open loop a wideband sensor
// makes evidence of.
type reader struct {
	x        *Explainer
	selector *sift.Selector
	d        *deriver
	log      int
	name     string
	columns  *drive.Columns
	last     float64
	stretch  int
	started  bool
	kept     int
	rejected [len(rejections)]int
	wide     bool             // a wideband sensor tells the mixture where the loop is open
	trimmed  bool             // a fuel trim was read
	status   bool             // the log reports whether the loop is closed
	print    sift.Fingerprint // of each bank's trim
	still    [2]float64       // s for which each bank's short trim has stood at 0
	zero     bool             // every short trim is at 0
	waiting  []waiting        // samples at such a time, which may prove to be of an open loop
	rail     drive.Mean       // kPa, as logged
}

// Begin asks a log for what the causes are told by. It is an error where the log has
// no trims.
func (x *Explainer) Begin(name string, log *drivelog.Log) (drivelog.Reader, error) {
	none := drivelog.Reader{}
	r := &reader{x: x, d: &deriver{e: x.e}, log: len(x.logs), name: name, print: make(sift.Fingerprint, 2),
		columns: drive.Ask(log.Has, channels...)}
	has := log.Has("trim_1") || log.Has("trim_2")
	if x.trims = x.trims || has; !has {
		if err := log.Resolve("trim"); err != nil {
			return none, &tables.Fault{File: name, What: "the log has no fuel trims (short_trim_1, long_trim_1): what the fuel control adds or removes is what causes are told by"}
		}
	}
	if !log.Has("engine_speed") {
		return none, &tables.Fault{File: name, What: "the log has no engine_speed"}
	}
	r.d.plan(log.Logged)
	if r.status = log.Has("fuel_status"); !r.status {
		x.cautionForLog(name, "no fuel_status is logged: the loop is taken as open where the short trim stands at 0")
	}
	x.purge = x.purge || log.Has("purge")
	x.coolant = x.coolant && log.Has("coolant")
	filters := sift.FilterOptions{Steady: true}
	if r.wide = log.Logged("lambda") && log.Logged("lambda_commanded") && log.Has("mixture_error"); r.wide {
		// This log's open loop is evidence too: what is closed is told below.
		filters.Not = []sift.Filter{sift.ClosedLoop, sift.Enrichment}
	}
	var err error
	if r.selector, err = sift.NewSelector(log, drivelog.Query{Columns: r.columns.Names}, "", filters, r.frame); err != nil {
		return none, err
	}
	x.reading, x.clocks[r.log] = r, log.Clock()
	return r.selector.Reader(), nil
}

// End ends a log. It is an error where its trims hold no reading.
func (x *Explainer) End(reading *drivelog.Reading) error {
	r := x.reading
	sel, err := r.selector.End(reading)
	if err != nil {
		return err
	}
	if v := r.rail.Value(); v > tables.MaxRailPressure {
		return &tables.Fault{File: r.name, What: fmt.Sprintf("rail_pressure is %.0f kPa on average, expected at most %d kPa: only port injection is supported, and this log is not of the calibration's engine", v, tables.MaxRailPressure)}
	}
	r.release()
	if !r.trimmed {
		return &tables.Fault{File: r.name, What: "the columns of the fuel trims hold no reading: expected numbers in short_trim_1 or long_trim_1; have the logger read them"}
	}
	x.logs = append(x.logs, sift.LogID{Fingerprint: r.print.String(), Name: r.name})
	x.source(r.name, r, sel)
	x.join(r.d)
	return nil
}

// join keeps the facts under which all logs can be examined.
func (x *Explainer) join(d *deriver) {
	f := d.facts()
	if x.facts == nil {
		x.facts = f
		return
	}
	x.facts.metered = x.facts.metered && f.metered
	x.facts.relative = x.facts.relative || f.relative
	x.facts.railLogged = x.facts.railLogged && f.railLogged
	x.facts.purge = x.facts.purge && f.purge
}

// source keeps what became of a log's rows: by the filters' reasons, and by the reader's own
// where filters leave that to it.
func (x *Explainer) source(name string, r *reader, sel *sift.Selection) {
	s := tables.Source{Name: name, Rows: sel.Rows, Kept: r.kept, Dropped: sel.Dropped}
	for why, n := range r.rejected {
		if n > 0 {
			s.Dropped = append(s.Dropped, tables.Dropped{Reason: rejected(why).String(), Count: n})
		}
	}
	x.res.Logs = append(x.res.Logs, s)
	for _, note := range slices.Concat(sel.Reading.Notes, sel.Notes, r.d.notes()) {
		x.cautionForLog(name, note)
	}
	for _, f := range sel.Faults {
		x.cautionForLog(name, f.Text)
	}
}

// of keeps what is to be said of one log.
func (x *Explainer) cautionForLog(name, text string) {
	x.notes = append(x.notes, [2]string{name, text})
}

// cautionOfLogs says what was kept, by the log's name where there are several.
func (x *Explainer) cautionOfLogs() {
	for _, n := range x.notes {
		if len(x.logs) > 1 {
			n[1] = n[0] + ": " + n[1]
		}
		x.res.Cautions.Add(n[1])
	}
}

// level is how strict a gatherer may be that takes a sample left out for this
// reason; −1 for none.
func level(why sift.Reason) int {
	switch why {
	case sift.Kept:
		return 0
	case sift.PartCycle, sift.NotSettled:
		return 1
	case sift.NotSteady:
		return 2
	}
	return -1
}

// frame takes a frame with the filters' reasons. The clock of the whole drive never falls: a
// gap or a restart adds a slice, so that no point reaches over it. What is no evidence is
// looked at where it shows whether the loop is closed, and how an engine idles.
func (r *reader) frame(f *drivelog.Frame, why []sift.Reason) error {
	r.columnwise(f)
	speed := r.columns.Values(drive.Speed)
	for i := range f.N {
		now := f.Since[i]
		dt := now - r.last
		if !r.started || f.Stretch[i] != r.stretch {
			// A gap, or a clock that starts again, is a pause of unknown length.
			dt, r.x.clock = 0, r.x.clock+sliceSeconds
		}
		r.started, r.stretch, r.last = true, f.Stretch[i], now
		r.x.clock += max(0, dt)
		at := level(why[i])
		if at > 0 && r.x.levels[0].suffices() {
			at = -1 // once settled samples suffice, nothing is asked of the others
		}
		if at < 0 && r.status && !(speed[i] < fastIdle) {
			continue
		}
		if err := r.instant(f, i, dt, at); err != nil {
			return err
		}
	}
	return nil
}

// columnwise takes what is asked of a frame's columns as a whole: a log is known by its
// trims and where the engine was then, and boost is mostly reached where the loop is open.
func (r *reader) columnwise(f *drivelog.Frame) {
	r.columns.Take(f)
	speed := r.columns.Values(drive.Speed)
	for c, k := range r.columns.Asked {
		switch values := f.Columns[c].Value; k {
		case drive.Trim1, drive.Trim2:
			r.print.Add(int(k-drive.Trim1), f.Time, speed, values, values)
			r.trimmed = r.trimmed || slices.ContainsFunc(values, func(v float64) bool { return v == v })
		case drive.Manifold:
			r.x.res.Boost = r.x.res.Boost || boosted(values, r.columns.Values(drive.Barometer))
		case drive.Rail:
			for _, v := range values {
				r.rail.Add(v, 1)
			}
		}
	}
}

// boosted reports whether a manifold pressure is clearly above a barometer's, or sea level's
// where none is logged, kPa.
func boosted(manifold, barometer []float64) bool {
	for i, v := range manifold {
		if v > nan(barometer[i], unit.Atmosphere)+8 {
			return true
		}
	}
	return false
}

// held is what the controller limits: each bank's short trim, or its trim where no short
// one is logged.
func (r *reader) held(v *drive.Instant) (one, two float64) {
	of := func(short, trim drive.Channel) float64 {
		if r.columns.Has(short) {
			return v[short]
		}
		return v[trim]
	}
	return of(drive.Short1, drive.Trim1), of(drive.Short2, drive.Trim2)
}

// at is an instant of the frame, at which what a gauge reads stands for a rail pressure that
// is not logged.
func (r *reader) at(i int) *drive.Instant {
	v := r.columns.At(i)
	if v[drive.Rail] != v[drive.Rail] && r.x.opt.RailPressure > 0 {
		v[drive.Rail] = r.x.opt.RailPressure
	}
	return v
}

// idle counts the closed loop at idle speed, and how much of it is settled.
func (r *reader) idle(mode rejected, speed, dt float64, at int) {
	if mode != fit || !(speed > stalled && speed < fastIdle) {
		return
	}
	r.x.idle.all += min(dt, 2)
	if at == 0 {
		r.x.idle.held += min(dt, 2)
	}
}

// instant takes one instant of a frame; at is the strictest level that has it.
func (r *reader) instant(f *drivelog.Frame, i int, dt float64, at int) error {
	v := r.at(i)
	one, two := r.held(v)
	mode := r.mode(v[drive.Status], v[drive.Commanded], one, two, dt)
	r.idle(mode, v[drive.Speed], dt, at)
	// Samples at a short trim of 0 wait: a second and a half of it shows whether the loop was
	// open, and then they were none.
	if mode == openLoop {
		for _, w := range r.waiting {
			r.reject(mode, w.at)
		}
		r.waiting = r.waiting[:0]
	} else if !r.zero {
		r.release()
	}
	fresh := mode == fit && (r.columns.Fresh(drive.Trim1, i) || r.columns.Fresh(drive.Trim2, i)) ||
		mode == openLoop && r.wide && r.columns.Fresh(drive.Mixture, i)
	switch {
	case mode != fit && (mode != openLoop || !r.wide):
		r.reject(mode, at)
		return nil
	case at < 0 || !fresh || at > 0 && mode == openLoop:
		return nil
	}
	s := sample{log: r.log, time: f.Time[i], clock: r.x.clock, seconds: min(max(dt, 0), 2), held: [2]float64{one, two}}
	switch u := r.d.admit(v, &s); {
	case u == underOffset && at == 0:
		// Settled driving on a pulse in which no fuel flows: the tables are of another engine.
		return &tables.Fault{File: r.name, Line: f.Line[i], What: fmt.Sprintf(
			"pulse_width is %s ms, not above the offset of table %s, %s ms: the table is not this engine's, or the pulse is logged without its offset",
			short(v[drive.Pulse]), r.x.e.OffsetTable.Table().ID(), short(s.offset))}
	case u != fit:
		r.reject(u, at)
		return nil
	}
	r.d.derive(v, &s)
	if r.wide {
		r.x.wideband(&s, mode, v[drive.Lambda], v[drive.Commanded], v[drive.Mixture])
	}
	if mode == openLoop {
		return nil
	}
	if r.zero {
		r.waiting = append(r.waiting, waiting{s, at})
	} else {
		r.take(&s, at)
	}
	return nil
}

// reject counts an instant that is no evidence, unless a filter has counted it.
func (r *reader) reject(why rejected, at int) {
	if at == 0 && why != underOffset {
		r.rejected[why]++
	}
}

// waiting is a sample that is evidence unless the loop proves to be open.
type waiting struct {
	s  sample
	at int
}

// release takes the samples that wait.
func (r *reader) release() {
	for i := range r.waiting {
		r.take(&r.waiting[i].s, r.waiting[i].at)
	}
	r.waiting = r.waiting[:0]
}

// take gives a sample to all levels from the strictest that has it: to the strictest
// alone where that suffices, for then no other is looked at.
func (r *reader) take(s *sample, at int) {
	levels := &r.x.levels
	if at == 0 {
		r.kept++
	}
	if levels[0].suffices() {
		if at == 0 {
			levels[0].add(s)
		}
		return
	}
	for k := at; k < len(levels); k++ {
		levels[k].add(s)
	}
	if levels[0].suffices() {
		levels[1], levels[2] = newGatherer(), newGatherer()
	}
}

// An engine idles between these speeds, r/min (common practice, no source).
const (
	stalled  = 400.0
	fastIdle = 1200.0
)

// mode tells closed loop from open loop and enrichment where the filters leave
// that to the reader.
func (r *reader) mode(status, commanded, one, two, dt float64) rejected {
	switch {
	case r.open(one, two, dt):
		return openLoop
	case !r.wide:
		return fit
	case r.status && status != 2 && status != 16:
		return openLoop
	case commanded > 0.4 && commanded < 0.97:
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
	r.zero = true
	for b, v := range [...]float64{one, two} {
		if v != v {
			continue
		}
		if any = true; v != 0 || dt > long {
			r.still[b], r.zero = 0, false
		} else {
			r.still[b] += dt
		}
		open = open && r.still[b] > long
	}
	r.zero = r.zero && any
	return any && open
}

// short is a number to three decimals, without trailing zeros.
func short(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", v), "0"), ".")
}
