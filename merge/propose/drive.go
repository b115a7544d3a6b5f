package propose

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"calsplice/interp/cells/sift"
	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// drive is the settled evidence of one or more logs: means over one operating
// point and a few seconds, so that whole limit cycles of the trim go into each.
type drive struct {
	kind    kind
	cal     *tables.Calibration
	inj     *engine.Injector
	logs    int              // so far
	reading *collector       // of the log that is read
	lacks   map[string]error // by quantity of a fuel table's axis, why a log does not give it
	blocks  []block
	samples float64 // in them
	length  float64 // samples of the drive within which blocks were joined
	runs    int     // unbroken stretches of evidence
	has     map[string]bool
	notes   tables.Notes
	// full is what the logs know of full load, where closed loop does not go.
	most lookup.Point // the highest manifold pressure seen
	long float64      // % of learned trim there; NaN where not logged
}

// Indices into blockChannels.
const (
	inSpeed = iota
	inManifold
	inBarometer
	inDelta
	inBattery
	inCharge
	inFlow
	inLoad
	inTrim
	inPulse
	inCommanded
	inSpark
	inRetard
	inBlend
	inRail
	inLong
	inThrottle
	inAll
)

// How far an operating point may move within a block, and how long it lasts.
const (
	blockSeconds  = 3.0
	blockSpeed    = 120.0 // r/min
	blockManifold = 4.0   // kPa
)

// collector turns one log's frames into blocks.
type collector struct {
	d       *drive
	log     int
	name    string
	column  [inAll]int       // place in the frame; −1 where the log has no such channel
	inj     *engine.Injector // nil where the calibration has none to read
	sum     [inAll]float64
	num     [inAll]float64
	inv     float64
	invN    float64
	first   [2]float64 // speed and manifold pressure of the block's first sample
	line    int
	start   float64
	n       float64
	stretch int
	broken  bool // the run has ended
	fault   error
	at      lookup.Point // of the sample under way

	selector *sift.Selector
	limits   *sift.Limiter
	before   float64 // samples before this log
	assumed  bool    // no barometer is logged
}

// kind is what a drive is read for.
type kind struct {
	channel string // of the missing fuel
	filters sift.FilterOptions
	none    string // what is left is nothing
}

// byTrim is closed loop, settled; byLambda is everything that is steady enough
// for a wideband sensor, where trims do not reach: open loop, and trims at
// their limit. A pull at full load never stands still in speed.
var (
	byTrim   = kind{"trim", sift.FilterOptions{Steady: true}, "no settled closed-loop sample is left"}
	byLambda = kind{"mixture_error", sift.FilterOptions{Steady: true, SpeedRate: 1500,
		Not: []sift.Filter{sift.ClosedLoop, sift.Enrichment, sift.Settled, sift.Cycles}}, "no steady sample of lambda is left"}
)

// newDrive takes part in the reading of logs for the samples that are evidence.
// Status 16, closed loop with a fault, never is.
func newDrive(cal *tables.Calibration, inj *engine.Injector, k kind) *drive {
	d := &drive{kind: k, cal: cal, inj: inj, has: map[string]bool{}, lacks: map[string]error{}, long: math.NaN()}
	d.most.Manifold = math.NaN()
	return d
}

// usable is nil where the logs were read without err and hold evidence.
func (d *drive) usable(err error) error {
	if err != nil {
		return err
	}
	if len(d.blocks) == 0 {
		return errors.New(d.kind.none)
	}
	if d.kind.channel != byTrim.channel {
		d.unapplied()
	}
	return nil
}

// unapplied takes a learned trim that is logged in open loop and not applied out
// of the mixture's error: the pulse is then nearer to what the air wants without
// the trim than with it.
func (d *drive) unapplied() {
	fuel, j := fuelOf(d.cal), d.inj
	if fuel == nil || j == nil || j.FlowTable == nil || j.OffsetTable == nil {
		return
	}
	for i := range d.blocks {
		b := &d.blocks[i]
		learned := 1 + b.long/100
		base, pulse := fuel(b)/j.Flow(&b.at), b.pulse-j.Offset(&b.at)
		if math.Abs(pulse-base) < math.Abs(pulse-float64(base*learned)) {
			b.trim = (1+b.trim)/learned - 1
		}
	}
}

// Begin asks a log for what blocks hold.
func (d *drive) Begin(name string, log *drivelog.Log) (drivelog.Reader, error) {
	if err := log.Resolve(d.kind.channel); err != nil {
		return drivelog.Reader{}, err
	}
	c := &collector{d: d, log: d.logs, name: name, inj: d.inj, broken: true, before: d.samples}
	var columns []string
	for k, name := range blockChannels {
		if k == inTrim {
			name = d.kind.channel
		}
		c.column[k] = -1
		has := log.Has(name)
		d.has[name] = has && (d.logs == 0 || d.has[name])
		if has {
			c.column[k] = len(columns)
			columns = append(columns, name)
		}
	}
	d.axes(name, log)
	c.limits, columns = sift.WatchLimits(log, 0, []uint8{sift.TrimsBehind(d.kind.channel, nil)}, columns)
	c.assumed = !log.Has("barometric_pressure")
	var err error
	if c.selector, err = sift.NewSelector(log, columns, evidenceOnly(log), d.kind.filters, c.frame); err != nil {
		return drivelog.Reader{}, err
	}
	d.logs, d.reading = d.logs+1, c
	return c.selector.Reader(), nil
}

// axes keeps what of a fuel table's axes a log does not give.
func (d *drive) axes(name string, log *drivelog.Log) {
	for _, role := range []tables.Role{tables.InjectorFlow, tables.AirMeter, tables.AirVolumetricEfficiency} {
		for _, t := range d.cal.ByRole(role) {
			for _, a := range []*tables.Axis{t.X(), t.Y()} {
				if a == nil || d.lacks[a.Quantity()] != nil {
					continue
				}
				if channel, ok := drivelog.ChannelFor(a.Quantity()); ok {
					d.lacks[a.Quantity()] = tables.In(name, 0, 0, "", log.Resolve(channel))
				}
			}
		}
	}
}

// End ends a log. It is an error where none of it is evidence.
func (d *drive) End(reading *drivelog.Reading) error {
	c := d.reading
	sel, err := c.selector.End(reading)
	if err != nil {
		return err
	}
	if c.flush(); c.fault != nil {
		return c.fault
	}
	c.limits.Finish(func(_, at int, n float64) { d.blocks[at].limited += n })
	name := c.name + ": "
	for _, s := range slices.Concat(sel.Notes, readingNotes(sel.Reading)) {
		d.notes.Add(name + s)
	}
	if d.kind.channel == "trim" {
		d.notes.Addf("%s%.0f samples are evidence, %s", name, d.samples-c.before, why(sel))
	}
	if d.samples == c.before {
		return fmt.Errorf("%s: %s", d.kind.none, why(sel))
	}
	if c.assumed {
		d.notes.Add(name + "no barometric pressure is logged, 101.325 kPa is assumed")
	}
	return nil
}

// vapour reports whether trims are negative at low air flow: fuel that no
// injector brought.
func (d *drive) vapour() bool {
	var flow []float64
	for i := range d.blocks {
		flow = append(flow, d.blocks[i].at.AirFlow)
	}
	slices.Sort(flow)
	low := flow[len(flow)/3]
	sum, n := 0.0, 0.0
	for i := range d.blocks {
		if b := &d.blocks[i]; !(b.at.AirFlow > low) {
			sum, n = sum+float64(b.n*b.trim), n+b.n
		}
	}
	return sum/n < -Quantum/100
}

// knows reports whether the logs give what an axis measures.
func (d *drive) knows(quantity string) bool {
	channel, _ := drivelog.ChannelFor(quantity)
	return d.has[channel]
}

// zero reports whether no trim ever left 0.
func (d *drive) zero() bool {
	for i := range d.blocks {
		if d.blocks[i].trim != 0 {
			return false
		}
	}
	return true
}

// evidenceOnly is the condition that leaves closed loop with a fault out.
func evidenceOnly(log *drivelog.Log) string {
	if log.Has("fuel_status") {
		return "fuel_status != 16"
	}
	return ""
}

// readingNotes lists what a reading assumed and the faults that it met.
func readingNotes(r *drivelog.Reading) []string {
	list := append([]string(nil), r.Notes...)
	for _, f := range r.Faults {
		list = append(list, f.Text)
	}
	return list
}

// why says what the filters left out.
func why(sel *sift.Selection) string {
	s := fmt.Sprintf("of %d rows", sel.Rows)
	for r := sift.Kept + 1; r <= sift.Unread; r++ {
		reason := r.String()
		if r == sift.NotWhere {
			reason = "closed loop with a fault" // evidenceOnly asks for nothing else
		}
		if n := sel.Dropped[r]; n > 0 {
			s += fmt.Sprintf(", %d %s", n, reason)
		}
	}
	return s
}

func (c *collector) frame(f *drivelog.Frame, why []sift.Reason) error {
	value := func(k, i int) float64 {
		if c.column[k] < 0 {
			return math.NaN()
		}
		return f.Columns[c.column[k]].Value[i]
	}
	for i := range f.N {
		c.fullLoad(f, i, value)
		c.limits.Next(f, i, f.Stretch[i] != c.stretch)
		if f.Stretch[i] != c.stretch {
			c.stretch = f.Stretch[i]
			c.end()
		}
		if why[i] != sift.Kept {
			c.end()
			continue
		}
		if trim := c.column[inTrim]; !f.Columns[trim].Fresh[i] || math.IsNaN(f.Columns[trim].Value[i]) {
			continue
		}
		speed, manifold := value(inSpeed, i), value(inManifold, i)
		if c.n > 0 && (f.Time[i]-c.start > blockSeconds || math.Abs(speed-c.first[0]) > blockSpeed || math.Abs(manifold-c.first[1]) > blockManifold) {
			c.flush()
		}
		if c.n == 0 {
			if c.broken {
				c.d.runs++
				c.broken = false
			}
			c.first, c.line, c.start = [2]float64{speed, manifold}, f.Line[i], f.Time[i]
		}
		c.n++
		c.limits.Sample(0, len(c.d.blocks), 1)
		for k := range c.sum {
			if v := value(k, i); !math.IsNaN(v) {
				c.sum[k] += v
				c.num[k]++
			}
		}
		if err := c.effective(f.Line[i], i, value); err != nil && c.fault == nil {
			c.fault = err
		}
	}
	return nil
}

// effective adds the inverse of the sample's effective pulse. A pulse that the
// offset does not leave anything of is a fault of the table or of the log.
func (c *collector) effective(line, i int, value func(k, i int) float64) error {
	if c.inj == nil || c.d.kind.channel != "trim" || !(value(inPulse, i) > 0) {
		return nil
	}
	c.at = c.d.point(func(k int) float64 { return value(k, i) })
	pulse, offset := value(inPulse, i), c.inj.Offset(&c.at)
	if math.IsNaN(offset) {
		return nil
	}
	p := (pulse - offset) / (1 + value(inTrim, i)/100)
	if !(p > 0) {
		return &tables.Fault{File: c.name, Line: line, What: fmt.Sprintf("a pulse of %s ms does not exceed table %s, %s ms at %s V",
			tables.FormatValue(pulse), c.inj.OffsetTable.Table().ID(), short(offset), tables.FormatValue(c.at.Battery))}
	}
	if pulse > c.inj.MinPulse+0.005 && p > c.inj.LinearFrom {
		c.inv += 1 / p
		c.invN++
	}
	return nil
}

func (c *collector) end() {
	c.flush()
	c.broken = true
}

// flush closes a block.
func (c *collector) flush() {
	if c.n == 0 {
		return
	}
	mean := func(k int) float64 {
		if c.num[k] == 0 {
			return math.NaN()
		}
		return c.sum[k] / c.num[k]
	}
	b := block{log: c.log, line: c.line, run: c.d.runs, time: c.start, n: c.n, after: c.d.samples, at: c.d.point(mean), trim: mean(inTrim) / 100, pulse: mean(inPulse),
		inverse: c.inv / c.invN, commanded: mean(inCommanded), spark: mean(inSpark), retard: mean(inRetard), blend: mean(inBlend), rail: mean(inRail), long: mean(inLong)}
	c.d.blocks = append(c.d.blocks, b)
	c.d.samples += b.n
	if len(c.d.blocks) >= mostBlocks {
		c.limits.Renumber(c.d.coarsen())
	}
	c.sum, c.num, c.inv, c.invN, c.n = [inAll]float64{}, [inAll]float64{}, 0, 0, 0
}

// fullLoad keeps the highest manifold pressure of the drive, the effective
// pulse and what learned trim stood there.
func (c *collector) fullLoad(f *drivelog.Frame, i int, value func(k, i int) float64) {
	const turning = 400 // r/min: an engine that stands has the barometer in its manifold
	if !(value(inSpeed, i) > turning) {
		return
	}
	if m := value(inManifold, i); m > c.d.most.Manifold || !math.IsNaN(m) && math.IsNaN(c.d.most.Manifold) {
		c.d.most = c.d.point(func(k int) float64 { return value(k, i) })
		c.d.long = value(inLong, i)
		if c.inj != nil {
			learned := 0.0
			if !math.IsNaN(c.d.long) {
				learned = c.d.long / 100
			}
			if p := (value(inPulse, i) - c.inj.Offset(&c.d.most)) / (1 + learned); p > 0 {
				c.d.most.Pulse = p
			}
		}
	}
}

func short(v float64) string { return tables.FormatValue(math.Round(v*1000) / 1000) }
