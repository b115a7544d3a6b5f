package knock

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"calsplice/interp"
	"calsplice/interp/cells"
	"calsplice/interp/drive"
	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// What counts as knock heard anew, as retard that a controller holds, and as the
// transients after which a knock sensor hears what is none (common practice, no
// source).
const (
	riseBy        = 0.15 // degrees above the lowest reading since the last rise: a controller that holds retard hunts by 0.2 to 0.3
	noiseFloor    = 1.0  // degrees: below it now and then is sensor noise
	heldWithin    = 0.35 // degrees in which held retard stays
	heldSeconds   = 5.0
	liftPoints    = 10.0 // % of throttle within a second
	wideOpen      = 60.0 // % of throttle: no lift
	tipPoints     = 15.0
	sensorSeconds = 1.0 // until a lambda sensor reads a newly commanded mixture
	shiftSeconds  = 0.6 // after a gear change; later than that, torque is back
	inspectFrom   = 5.0 // degrees of one event at high load
	afterLift     = 1.0 // s for which the drive line rattles
	settling      = 0.5 // seconds until what follows a rise shows what it was
)

// channels are what is asked of a log, and ofAxes those that only a table over such a quantity
// asks for.
var (
	channels = []drive.Channel{drive.Retard, drive.Speed, drive.Manifold, drive.Charge, drive.AirFlow, drive.Load, drive.Trim, drive.Pulse,
		drive.Commanded, drive.Spark, drive.Blend, drive.Lambda, drive.Status, drive.Intake, drive.Coolant}
	ofAxes = map[string]drive.Channel{tables.ManifoldVacuum: drive.Barometer, tables.DifferentialPressure: drive.Delta, tables.BatteryVoltage: drive.Battery}
)

// Listener hears the knock in logs that [cells.Read] reads, reading by reading.
type Listener struct {
	why   string // there is no spark table to listen by; "" where there is
	must  bool   // a log without knock_retard is an error
	heard int    // logs that have knock_retard

	d      *Drive
	cal    *tables.Calibration
	blend  *lookup.Blend
	log    int
	name   string
	clock  drivelog.Clock
	placed bool // a reading of this log lies on the table

	columns *drive.Columns
	reading reading // under way
	stretch int
	last    float64 // time of the last reading of retard; NaN where there is none
	low     float64 // lowest retard since it last rose
	was     float64 // retard at the last reading
	motion  transients
	said    uint8   // of the instant under way
	thrown  float64 // when that was last said
	jumped  float64 // likewise
	geared  float64 // likewise
	held    window  // of retard above the noise floor
	calm    float64 // when retard was last below that, where held does not know it yet; else NaN
	event   *Event

	commanded, since float64     // lambda, and since when
	stay             *Stay       // the stay that is open
	pending          queue[Stay] // that the drive does not have yet
	opened           int         // stays of all logs
	recent           queue[spot]
	rises            []rise  // that wait for what follows them
	pace             [2]pace // of speed and load
}

// NewListener listens by a calibration's spark table. Logs without knock_retard are
// passed over.
func NewListener(cal *tables.Calibration) *Listener {
	spark := cal.ByRole(tables.SparkAdvance)
	if len(spark) != 1 {
		return &Listener{why: fmt.Sprintf("the calibration has %s with role spark.advance, where one is needed", tables.Plural(len(spark), "table"))}
	}
	s, err := listenBy(cal, spark[0])
	if err != nil {
		return &Listener{why: err.Error()}
	}
	return s
}

// listenBy listens by one table. Its axes must be ones that a log can place a reading on.
func listenBy(cal *tables.Calibration, target *tables.Table) (*Listener, error) {
	bound, err := lookup.Bind(target)
	if err != nil {
		return nil, err
	}
	return &Listener{d: newDrive(target, bound), cal: cal, blend: lookup.NewBlend(cal), held: window{keep: heldSeconds}}, nil
}

// Read reads drive logs for knock on the spark table that drove them.
func Read(ctx context.Context, cal *tables.Calibration, target *tables.Table, logs []cells.Log) (*Drive, error) {
	s, err := listenBy(cal, target)
	if err != nil {
		return nil, err
	}
	s.must = true
	if err := cells.Read(ctx, logs, s)[0]; err != nil {
		return nil, err
	}
	s.d.finish()
	return s.d, nil
}

// Result is why spark is pulled. Where logs or calibration cannot show it the
// result is nil, and silent says what is missing.
func (s *Listener) Result() (result *Result, silent string) {
	switch {
	case s.heard == 0:
		return nil, "the log has no channel knock_retard"
	case s.why != "":
		return nil, s.why
	}
	s.d.finish()
	return s.d.Explain(), ""
}

// Begin takes part in the reading of a log that has knock_retard.
func (s *Listener) Begin(name string, log *drivelog.Log) (r drivelog.Reader, err error) {
	if err = log.Resolve("knock_retard"); err != nil {
		if !s.must {
			err = nil
		}
		return r, err
	}
	if s.heard++; s.why != "" {
		return r, nil
	}
	asked := channels
	for _, quantity := range slices.Concat(s.d.bound.Quantities(), s.blend.Quantities()) {
		if k, ok := ofAxes[quantity]; ok && !slices.Contains(asked, k) {
			asked = append(slices.Clip(asked), k)
		}
	}
	s.columns = drive.Ask(log.Has, asked...)
	s.name, s.clock, s.stretch, s.placed = name, log.Clock(), -1, false
	s.d.logged(log.Has, name)
	return drivelog.Reader{Query: drivelog.Query{Columns: s.columns.Names, Judges: []drivelog.Judge{s.motion.judge(log.Has)}}, Frame: s.frame}, nil
}

// End ends a log. A log whose retard never lies on the table says nothing of it, and that is
// an error rather than a drive without knock.
func (s *Listener) End(reading *drivelog.Reading) error {
	s.restart()
	for _, text := range reading.Notes {
		s.d.Notes.Add(s.name + ": " + text)
	}
	for _, f := range reading.Faults {
		s.d.Notes.Add(s.name + ": " + f.Text)
	}
	if !s.placed {
		return errors.New("no reading of knock_retard lies on the spark table's axes")
	}
	s.log++
	return nil
}

// frame takes a frame instant by instant: what throttle, gears and speed did at each, and
// retard at those at which it was read anew.
func (s *Listener) frame(f *drivelog.Frame) error {
	s.columns.Take(f)
	for i := range f.N {
		if f.Stretch[i] != s.stretch {
			s.restart()
			s.stretch = f.Stretch[i]
		}
		now, v := f.Since[i], s.columns.At(i)
		if s.said = f.Said[0][i]; s.said != 0 {
			s.note(now)
		}
		s.resolve(now)
		if retard := v[drive.Retard]; retard == retard && s.columns.Fresh(drive.Retard, i) {
			s.reading.time, s.reading.clock, s.reading.v = now, f.Time[i], v
			s.take(&s.reading)
		}
	}
	return nil
}

// note keeps when what was said of the instant was said last.
func (s *Listener) note(now float64) {
	if s.said&thrown != 0 {
		s.thrown = now
	}
	if s.said&jumped != 0 {
		s.jumped = now
	}
	if s.said&geared != 0 {
		s.geared = now
	}
}

// restart forgets what does not reach over a gap in the log.
func (s *Listener) restart() {
	s.resolve(math.Inf(1))
	s.stay = nil
	s.endEvent()
	s.last, s.low, s.was = math.NaN(), math.Inf(1), math.NaN()
	s.recent.clear()
	s.settle()
	s.said, s.thrown, s.jumped, s.geared = 0, math.Inf(-1), math.Inf(-1), math.Inf(-1)
}

// reading is the channels at one reading of the retard.
type reading struct {
	time    float64 // since the log began
	clock   float64 // by the log's clock
	v       *drive.Instant
	at      lookup.Point
	load    float64         // that it has, in whatever unit
	on      interp.Position // where it lies on the table's axes
	fx, fy  float64         // the same in steps of breakpoints
	table   float64         // advance by the table
	deficit float64         // what the learned blend takes off it
	off     bool            // the logged spark is not what the tables say
	seconds float64         // since the last reading
	settled bool            // the sensor reads the mixture that is commanded now
	lifted  bool            // less than a second after a lift, or about a lower gear
}

// take takes one reading of retard.
func (s *Listener) take(r *reading) {
	retard := r.v[drive.Retard]
	if r.seconds = 0.0; s.last == s.last {
		r.seconds = min(max(0, r.time-s.last), 2)
	}
	s.last = r.time
	// A rise is told against the lowest reading since the last one, so that a slow creep up
	// is heard as well as a jump.
	rose := retard >= s.low+riseBy-1e-9
	before := s.was
	if rose || retard < s.low {
		s.low = retard
	}
	s.was = retard
	if c := r.v[drive.Commanded]; !(math.Abs(c-s.commanded) < 0.01) || r.v[drive.Pulse] < 0.05 {
		s.commanded, s.since = c, r.time
	}
	r.settled = r.time >= s.since+sensorSeconds
	r.lifted = r.time <= s.thrown+afterLift
	r.v.Place(&r.at)
	r.at.Fill(s.cal.Engine())
	r.load = loadOf(&r.at)
	s.closedLoop(r)
	bin, ok := s.d.place(r)
	// Events are counted wherever they are; stays need a place on the table.
	s.follow(r, rose, bin)
	if !ok {
		s.stay = nil
		return
	}
	s.spark(r)
	s.enter(r, bin)
	s.stay.add(r)
	s.d.add(bin, r)
	s.pass(r)
	// Below the noise floor a rise is the sensor's own.
	if rose && retard > noiseFloor {
		s.stay.calm = 0
		s.rises = append(s.rises, rise{time: r.time, kind: s.transient(), before: before + r.deficit, after: retard + r.deficit, lifted: r.lifted})
	}
	s.hold(r)
}

// enter opens a stay where the operating point moved to another bin.
func (s *Listener) enter(r *reading, bin int) {
	if st := s.stay; st != nil && st.Bin == bin && st.Off == r.off {
		return
	}
	s.settle()
	s.stay, s.placed = s.pending.next(), true
	*s.stay = silent
	s.stay.Log, s.stay.Bin, s.stay.Start, s.stay.Off = s.log, bin, r.time, r.off
	s.opened++
	s.held.clear()
	s.calm = math.NaN()
}

// pendingStay is one of the stays that have not been kept yet, by its number.
func (s *Listener) pendingStay(number int) *Stay {
	list := s.pending.all()
	return &list[number-s.opened+len(list)]
}

// settle keeps the stays that have ended, but for those in which rises that wait, or that
// are still to come, may be heard.
func (s *Listener) settle() {
	list := s.pending.all()
	if recent := s.recent.all(); len(recent) > 0 {
		list = list[:len(list)-s.opened+recent[0].stay]
	}
	for i := range list {
		s.d.keep(&list[i])
	}
	s.pending.drop(len(list))
}

// spark asks whether the tables set the logged spark.
func (s *Listener) spark(r *reading) {
	r.table, r.deficit, r.off = s.d.bound.ReadAt(r.on), 0, false
	if s.blend != nil && r.v[drive.Blend] == r.v[drive.Blend] {
		r.deficit = r.table - s.blend.At(&r.at, r.on, r.table, r.v[drive.Blend])
	}
	spark := r.v[drive.Spark]
	if spark != spark {
		return
	}
	want := r.table - r.deficit - r.v[drive.Retard]
	// A table's own steepness is asked only where the spark is off by more than rounding.
	by, most := math.Abs(spark-want), s.d.rounding
	r.off = by > most && (by > most+s.d.slack[r.on.J*len(s.d.x)+r.on.I] || by > most+s.d.bound.Slack(&r.at))
	s.d.compared++
	if r.off {
		s.d.differing++
	}
}

// transient is what just happened that a sensor hears as knock.
func (s *Listener) transient() transient {
	switch {
	case s.said&lifted != 0:
		return lift
	case s.geared > s.last-shiftSeconds || s.last <= s.jumped+shiftSeconds/2:
		return shift
	case s.said&tipped != 0:
		return tip
	}
	return steady
}

// closedLoop gathers what the fuel control asks for over air flow.
func (s *Listener) closedLoop(r *reading) {
	flow := r.at.AirFlow
	if l, c := r.v[drive.Lambda], r.v[drive.Commanded]; r.settled && l > 0.4 && c < 1-richFrom && flow > 0 {
		s.d.openLean.add(flow, 100*(l/c-1), r.seconds)
	}
	if status := r.v[drive.Status]; (status == 2 || status == 16) && flow > 0 && r.v[drive.Trim] == r.v[drive.Trim] {
		s.d.demand.add(flow, r.v[drive.Trim], r.seconds)
	}
}

// logged notes what a log lacks, and so what cannot be told from it.
func (d *Drive) logged(has func(channel string) bool, name string) {
	logs := func(k drive.Channel) bool { return has(k.Name()) }
	if !logs(drive.Throttle) {
		d.Notes.Add(name + ": throttle is not logged: a throttle lift is told by a fall of load")
	}
	if !logs(drive.Lambda) && !logs(drive.Trim) {
		d.Notes.Add(name + ": neither lambda nor trims are logged: whether the mixture is lean at load is not known")
	}
	if !logs(drive.Intake) {
		d.Notes.Add(name + ": intake air temperature is not logged: a hot charge cannot be recognised")
	}
	d.hasLambda = d.hasLambda || logs(drive.Lambda)
	d.hasTrim = d.hasTrim || logs(drive.Trim)
	d.hasIntake = d.hasIntake || logs(drive.Intake)
}
