package propose

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"calsplice/interp/cells/sift"
	"calsplice/interp/drive"
	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// settled is the evidence of one or more logs: means over one operating
// point and a few seconds, so that whole limit cycles of the trim go into each.
type settled struct {
	kind    kind
	cal     *tables.Calibration
	inj     *engine.Injector
	reading *collector       // of the log that is read
	lacks   map[string]error // by channel, why a log does not give it
	blocks  []block
	samples float64 // in them
	length  float64 // samples of the drive within which blocks were joined
	runs    int     // unbroken stretches of evidence
	notes   tables.Notes
	// full is what the logs know of full load, where closed loop does not go.
	most lookup.Point // the highest manifold pressure seen
	long float64      // % of learned trim there; NaN where not logged
}

// How far an operating point may move within a block, and how long it lasts: less than
// the steps of any table, longer than a limit cycle at idle.
const (
	blockSeconds  = 3.0
	blockSpeed    = 120.0 // r/min
	blockManifold = 4.0   // kPa
)

// collector turns one log's frames into blocks. It holds one block at a time, as sums: a
// log of any length leaves no more behind than its blocks.
type collector struct {
	d       *settled
	name    string
	columns *drive.Columns
	sums    [drive.Count]drive.Mean
	mean    drive.Instant // of what is not asked for nothing is known
	inverse drive.Mean    // of the effective pulse
	first   [2]float64    // speed and manifold pressure of the block's first sample
	start   float64
	n       float64
	stretch int
	broken  bool // the run has ended
	fault   error
	at      lookup.Point // of the sample under way
	line    []int        // of the frame's instants
	taken   []int        // of those, the samples of the block that its sums do not have yet
	plain   bool         // the injector's offset goes by voltage and pressure alone

	selector *sift.Selector
	limits   *sift.Limiter // counts at which samples of a block a trim stood at its limit
	before   float64       // samples before this log
}

// kind is what a drive is read for. Both kinds are blocks of the same shape, so that all
// that follows takes either.
type kind struct {
	channel drive.Channel // of the missing fuel
	filters sift.FilterOptions
	none    string // what is left is nothing
}

// byTrim is closed loop, settled; byLambda is everything that is steady enough
// for a wideband sensor, where trims do not reach: open loop, and trims at
// their limit. A pull at full load never stands still in speed.
var (
	byTrim   = kind{drive.Trim, sift.FilterOptions{Steady: true}, "no settled closed-loop sample is left"}
	byLambda = kind{drive.Mixture, sift.FilterOptions{Steady: true, SpeedRate: 1500,
		Not: []sift.Filter{sift.ClosedLoop, sift.Enrichment, sift.Settled, sift.Cycles}}, "no steady sample of lambda is left"}
)

// byTrims reports whether the missing fuel is what the controller added.
func (d *settled) byTrims() bool { return d.kind.channel == drive.Trim }

// newSettled takes part in the reading of logs for the samples that are evidence.
// Status 16, closed loop with a fault, never is.
func newSettled(cal *tables.Calibration, inj *engine.Injector, k kind) *settled {
	// All the room at once: what of it no block takes costs nothing.
	d := &settled{kind: k, cal: cal, inj: inj, blocks: make([]block, 0, mostBlocks), lacks: map[string]error{}, long: math.NaN()}
	d.most.Manifold = math.NaN()
	return d
}

// usable is nil where the logs were read without err and hold evidence.
func (d *settled) usable(err error) error {
	if err != nil {
		return err
	}
	if len(d.blocks) == 0 {
		return errors.New(d.kind.none)
	}
	if !d.byTrims() {
		d.unapplied() // in closed loop the trim is applied by definition
	}
	return nil
}

// unapplied takes a learned trim that is logged in open loop and not applied out
// of the mixture's error: the pulse is then nearer to what the air wants without
// the trim than with it.
func (d *settled) unapplied() {
	fuel, j := fuelOf(d.cal), d.inj
	if fuel == nil || j.FlowTable == nil || j.OffsetTable == nil {
		return
	}
	// By the block, not by the log: some controllers apply what they learned at some loads.
	for i := range d.blocks {
		b := &d.blocks[i]
		learned := 1 + b.long/100
		base, pulse := fuel(b)/j.Flow(&b.at), b.pulse-j.Offset(&b.at)
		if math.Abs(pulse-base) < math.Abs(pulse-float64(base*learned)) {
			b.trim = (1+b.trim)/learned - 1
		}
	}
}

// plainOffset reports whether the injector's offset goes by voltage and pressure alone.
func (d *settled) plainOffset() bool {
	return d.inj.OffsetTable == nil || !slices.ContainsFunc(d.inj.OffsetTable.Quantities(), func(q string) bool {
		return q != tables.BatteryVoltage && q != tables.DifferentialPressure
	})
}

// Begin asks a log for what blocks hold.
func (d *settled) Begin(name string, log *drivelog.Log) (drivelog.Reader, error) {
	if err := log.Resolve(d.kind.channel.Name()); err != nil {
		return drivelog.Reader{}, err
	}
	has := func(channel string) bool {
		lack := tables.In(name, 0, 0, "", log.Resolve(channel))
		d.lacks[channel] = cmp.Or(d.lacks[channel], lack)
		return lack == nil
	}
	asked := slices.Clone(blockChannels)
	asked[slices.Index(asked, drive.Trim)] = d.kind.channel
	c := &collector{d: d, name: name, broken: true, before: d.samples, columns: drive.Ask(has, asked...), mean: drive.Nothing(), plain: d.plainOffset()}
	has("purge")
	d.alongFuel(has)
	q := drivelog.Query{Columns: c.columns.Names}
	c.limits = sift.WatchLimits(log, 0, []uint8{sift.TrimsBehind(d.kind.channel.Name(), nil)}, &q)
	var err error
	if c.selector, err = sift.NewSelector(log, q, evidenceOnly(log), d.kind.filters, c.frame); err != nil {
		return drivelog.Reader{}, err
	}
	d.reading = c
	return c.selector.Reader(), nil
}

// alongFuel asks for the channels along the axes of the tables that fuel is corrected in.
func (d *settled) alongFuel(has func(channel string) bool) {
	for _, role := range fuelRoles {
		for _, t := range d.cal.ByRole(role) {
			for _, a := range axesOf(t, 0) {
				if channel, ok := drivelog.ChannelFor(a.Quantity()); ok {
					has(channel)
				}
			}
		}
	}
}

// End ends a log. It is an error where none of it is evidence.
func (d *settled) End(reading *drivelog.Reading) error {
	c := d.reading
	sel, err := c.selector.End(reading)
	if err != nil {
		return err
	}
	if c.flush(); c.fault != nil {
		return c.fault
	}
	// Only the end of a log shows what the extremes of its trims are.
	c.limits.Finish(func(_, at int, n float64) { d.blocks[at].limited += n })
	name := c.name + ": "
	for _, s := range slices.Concat(sel.Notes, readingNotes(sel.Reading)) {
		d.notes.Add(name + s)
	}
	if d.byTrims() {
		d.notes.Addf("%s%.0f samples are evidence, %s", name, d.samples-c.before, why(sel))
	}
	if d.samples == c.before {
		return fmt.Errorf("%s: %s", d.kind.none, why(sel))
	}
	if !c.columns.Has(drive.Barometer) {
		d.notes.Add(name + "no barometric pressure is logged, 101.325 kPa is assumed")
	}
	return nil
}

// vapour reports whether trims are negative at low air flow: fuel that no
// injector brought. The canister gives the same whatever the engine burns, so it is the
// larger share the less that is.
func (d *settled) vapour() bool {
	var flow []float64
	for i := range d.blocks {
		flow = append(flow, d.blocks[i].at.AirFlow)
	}
	slices.Sort(flow)
	low := flow[len(flow)/3]
	var trim drive.Mean
	for i := range d.blocks {
		if b := &d.blocks[i]; !(b.at.AirFlow > low) {
			trim.Add(b.trim, b.n)
		}
	}
	return trim.Value() < -Quantum/100
}

// lack is why the logs do not give the channel of a quantity, nil where they do or there is
// none.
func (d *settled) lack(quantity string) error {
	channel, _ := drivelog.ChannelFor(quantity)
	return d.lacks[channel]
}

// zero reports whether no trim ever left 0.
func (d *settled) zero() bool {
	return !slices.ContainsFunc(d.blocks, func(b block) bool { return b.trim != 0 })
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

// why says what the filters left out: law 9, nothing is dropped in silence.
func why(sel *sift.Selection) string {
	s := fmt.Sprintf("of %d rows", sel.Rows)
	for _, d := range sel.Dropped {
		if d.Reason == sift.NotWhere.String() {
			d.Reason = "closed loop with a fault" // evidenceOnly asks for nothing else
		}
		s += fmt.Sprintf(", %d %s", d.Count, d.Reason)
	}
	return s
}

// frame cuts the kept instants of a frame into blocks. A block ends after some seconds,
// where speed or pressure move, and with the run: a mean over a change would be of no
// operating point. An instant that repeats a held trim is no new evidence.
func (c *collector) frame(f *drivelog.Frame, why []sift.Reason) error {
	c.columns.Take(f)
	c.line = f.Line
	for i, m := range c.columns.Values(drive.Manifold) {
		if m == m && !(m <= c.d.most.Manifold) {
			c.fullLoad(c.columns.At(i))
		}
	}
	trim := f.Columns[slices.Index(c.columns.Asked, c.d.kind.channel)]
	speed, manifold := c.columns.Values(drive.Speed), c.columns.Values(drive.Manifold)
	next := c.limits.From(f, 0)
	for i, stretch := range f.Stretch {
		if i == next {
			c.limits.Next(f, i, stretch != c.stretch)
			next = c.limits.From(f, i+1)
		}
		if stretch != c.stretch {
			c.stretch = stretch
			c.end()
		}
		if why[i] != sift.Kept {
			c.end()
			continue
		}
		// A held trim keeps the block open and adds nothing to it.
		if v := trim.Value[i]; !trim.Fresh[i] || v != v {
			continue
		}
		if c.n > 0 && (f.Since[i]-c.start > blockSeconds+drivelog.Tick || math.Abs(speed[i]-c.first[0]) > blockSpeed || math.Abs(manifold[i]-c.first[1]) > blockManifold) {
			c.flush()
		}
		if c.n == 0 {
			if c.broken {
				c.d.runs++
				c.broken = false
			}
			c.first, c.start = [2]float64{speed[i], manifold[i]}, f.Since[i]
		}
		c.n++
		c.taken = append(c.taken, i)
		c.limits.Sample(0, len(c.d.blocks), 1)
	}
	c.add()
	return nil
}

// add takes the samples of the frame into the block's sums, channel by channel.
func (c *collector) add() {
	for _, k := range c.columns.Asked {
		c.sums[k].AddAll(c.columns.Values(k), c.taken)
	}
	if c.d.byTrims() {
		trim, pulse, battery, delta := c.columns.Values(drive.Trim), c.columns.Values(drive.Pulse), c.columns.Values(drive.Battery), c.columns.Values(drive.Delta)
		for _, i := range c.taken {
			if c.at.Battery, c.at.Delta = battery[i], delta[i]; !c.plain {
				c.at = c.d.point(c.columns.At(i))
			}
			c.effective(c.line[i], pulse[i], trim[i])
		}
	}
	c.taken = c.taken[:0]
}

// effective adds the inverse of the sample's effective pulse. A pulse that the
// offset does not leave anything of is a fault of the table or of the log.
func (c *collector) effective(line int, pulse, trim float64) {
	offset := c.d.inj.Offset(&c.at)
	if !(pulse > 0) || math.IsNaN(offset) {
		return
	}
	p := (pulse - offset) / (1 + trim/100)
	if !(p > 0) && c.fault == nil {
		c.fault = &tables.Fault{File: c.name, Line: line, What: fmt.Sprintf("a pulse of %s ms does not exceed table %s, %s ms at %s V",
			tables.FormatValue(pulse), c.d.inj.OffsetTable.Table().ID(), short(offset), tables.FormatValue(c.at.Battery))}
	}
	if pulse > c.d.inj.MinPulse+0.005 && p > max(0, c.d.inj.LinearFrom) {
		c.inverse.Add(1/p, 1)
	}
}

// end ends the block and the run: what follows is another visit.
func (c *collector) end() {
	c.flush()
	c.broken = true
}

// flush closes a block.
func (c *collector) flush() {
	if c.n == 0 {
		return
	}
	c.add()
	mean := &c.mean
	for _, k := range c.columns.Asked {
		mean[k] = c.sums[k].Value()
	}
	// The inverse of the pulse is averaged by itself: 1/p of a mean pulse is not the mean
	// of 1/p, and an offset's trim goes with the latter.
	c.d.blocks = append(c.d.blocks, block{})
	b := &c.d.blocks[len(c.d.blocks)-1] // filled in where it stands: a copy of it would cost as much again
	b.run, b.time, b.n, b.after = c.d.runs, c.start, c.n, c.d.samples
	mean.Place(&b.at)
	b.at.Fill(c.d.cal.Engine())
	b.trim, b.pulse, b.inverse, b.commanded = mean[c.d.kind.channel]/100, mean[drive.Pulse], c.inverse.Value(), mean[drive.Commanded]
	b.spark, b.retard, b.blend, b.rail, b.long = mean[drive.Spark], mean[drive.Retard], mean[drive.Blend], mean[drive.Rail], mean[drive.Long1]
	c.d.samples += c.n
	if len(c.d.blocks) >= mostBlocks {
		c.limits.Renumber(c.d.coarsen())
	}
	c.sums, c.inverse, c.n = [drive.Count]drive.Mean{}, drive.Mean{}, 0
}

// fullLoad keeps the highest manifold pressure of the drive, the effective
// pulse and what learned trim stood there.
func (c *collector) fullLoad(v *drive.Instant) {
	const turning = 400 // r/min: an engine that stands has the barometer in its manifold
	most := &c.d.most
	if m := v[drive.Manifold]; !(v[drive.Speed] > turning) || math.IsNaN(m) || m <= most.Manifold {
		return
	}
	*most, c.d.long = c.d.point(v), v[drive.Long1]
	// Closed loop does not go there, but what it learned elsewhere may be applied.
	learned := 0.0
	if !math.IsNaN(c.d.long) {
		learned = c.d.long / 100
	}
	if p := (v[drive.Pulse] - c.d.inj.Offset(most)) / (1 + learned); p > 0 {
		most.Pulse = p
	}
}

// short is a number of ms as messages have it.
func short(v float64) string { return tables.FormatValue(math.Round(v*1000) / 1000) }
