package knock

import (
	"cmp"
	"math"
	"slices"

	"calsplice/interp/drive"
	"calsplice/interp/lookup"
	"calsplice/tables"
)

// transient is what happened just before retard rose.
type transient int

const (
	steady transient = iota
	lift
	shift
	tip
)

// Stay is one unbroken time at one operating point: the unit of evidence here, as a visit
// of a cell is of trims. However long it lasts it says one thing of the need there.
type Stay struct {
	Log, Bin int
	Start    float64 // s
	Seconds  float64
	Off      bool // the logged spark is not what the tables say
	Held     bool // retard stays where it is: knock holds it

	Readings int
	Heard    [4]int       // rises of retard, by what happened just before
	free     int          // of them not after a transient, nor within a second of a lift
	near     listening    // within a second of a lift or a lower gear, rises of any kind
	off      [2]listening // apart from transients, with under 1 and with 2 or more degrees off the table
	Need     float64      // degrees off the table that the knock heard asks for; NaN where none was heard
	Quiet    float64      // degrees off the table at which no knock was heard: the need is no more

	before, after float64 // the highest retard at which knock was heard, with what the blend took, and after it

	Peak float64 // degrees of retard
	Mean float64 // degrees of retard

	Speed, Charge, Flow, Share float64 // means; Share of the drive's highest load
	Table, Deficit             float64
	Intake, Coolant            float64 // degC; NaN where not logged
	Rich                       float64 // share by which the commanded mixture is richer than lambda 1
	Lean                       float64 // share by which the mixture is leaner than commanded; NaN where not known

	intake, coolant, lean, trim drive.Mean // by seconds; the first three become the numbers above

	open, closed float64 // s in open and in closed loop
	leanTime     float64 // s in which lean was measured; of several that are each too short to tell, of the longest
	calm         float64 // s since the last rise
	cut          float64 // s without fuel

	joined joined // zero where this is one stay
}

// add takes one reading into the stay's means.
func (s *Stay) add(r *reading) {
	w := max(r.seconds, 1e-3)
	s.Seconds += w
	s.Readings++
	if r.v[drive.Pulse] < 0.05 {
		s.cut += w
	}
	retard := r.v[drive.Retard]
	s.Peak = max(s.Peak, retard)
	s.Mean += float64(w * retard)
	s.Speed += float64(w * r.at.Speed)
	s.Charge += float64(w * r.load)
	s.Flow += float64(w * r.at.AirFlow)
	s.Table += float64(w * r.table)
	s.Deficit += float64(w * r.deficit)
	s.intake.Add(r.v[drive.Intake], w)
	s.coolant.Add(r.v[drive.Coolant], w)
	s.mixture(r, w)
	if r.lifted && !(r.v[drive.Pulse] < 0.05) {
		s.near.seconds += w
	}
	s.offBy(retard + r.deficit).seconds += w
	// Right after a rise the retard is too much or too little; half a second later what is
	// not heard says that so much is enough.
	if s.calm += w; s.calm > settling {
		s.Quiet = min(s.Quiet, retard+r.deficit)
	}
}

// mixture takes a wideband lambda against the commanded one, or what trim open
// loop applies, for what the closed loop shows of that air flow.
func (s *Stay) mixture(r *reading, w float64) {
	commanded := r.v[drive.Commanded]
	if !(commanded > 0.4) {
		commanded = 1
	}
	s.Rich += float64(w * max(0, 1-commanded))
	if l := r.v[drive.Lambda]; l > 0.4 && r.settled {
		s.lean.Add(l/commanded-1, w)
		s.leanTime += w
	}
	s.trim.Add(r.v[drive.Trim], w)
	switch status := r.v[drive.Status]; {
	case status == 2 || status == 16:
		s.closed += w
	case status == status:
		s.open += w
	}
}

// hear takes a rise of retard: knock was heard although so much was taken off.
func (s *Stay) hear(r *rise) {
	s.Heard[r.kind]++
	if r.lifted || r.kind == lift || r.kind == shift {
		s.near.heard++
	}
	if r.kind != steady && r.kind != tip {
		return
	}
	if !r.lifted {
		s.free++
	}
	s.offBy(r.before).heard++
	if !(s.Need == s.Need) || r.before > s.before {
		s.before, s.after, s.Quiet = r.before, r.after, math.Inf(1)
		s.Need = (s.before + s.after) / 2
	}
}

// offBy is what was heard with so much off the table.
func (s *Stay) offBy(degrees float64) *listening {
	switch {
	case degrees < 1:
		return &s.off[0]
	case degrees >= 2:
		return &s.off[1]
	}
	return &listening{}
}

// bound puts the need between the retard at which knock was last heard and the
// one at which it stopped.
func (s *Stay) bound() {
	if s.Need == s.Need {
		s.Need = min(s.Need, max(s.before, s.Quiet))
	}
}

// means are the numbers that are sums by seconds until the drive ends, and then means.
func (s *Stay) means() [7]*float64 {
	return [...]*float64{&s.Mean, &s.Speed, &s.Charge, &s.Flow, &s.Table, &s.Deficit, &s.Rich}
}

// finish turns sums into means.
func (s *Stay) finish() {
	for _, v := range s.means() {
		*v /= s.Seconds
	}
	s.Intake, s.Coolant, s.Lean = s.intake.Value(), s.coolant.Value(), s.lean.Value()
}

// Knocked reports whether knock was heard, or held the retard, other than after
// a transient.
func (s *Stay) Knocked() bool { return s.Need == s.Need || s.Held }

// Apart reports whether knock was heard, or held the retard, where no throttle
// lift or lower gear rattles the drive line.
func (s *Stay) Apart() bool { return s.free > 0 || s.Held }

// Needed is the retard off the table that knock asked for in a stay where it was
// heard or held.
func (s *Stay) Needed() float64 {
	if held := s.Mean + s.Deficit; s.Held && !(s.Need > held) {
		return held
	}
	return s.Need
}

// Lifts counts the rises of retard after a throttle lift or a gear change.
func (s *Stay) Lifts() int { return s.Heard[lift] + s.Heard[shift] }

const richFrom = 0.03 // share richer than lambda 1 that only open loop commands

const leanSeconds = 0.7 // of a lambda sensor's readings that tell a lean mixture

// LeanBy is the share by which a stay ran lean: by a wideband sensor, by what
// closed loop shows of that air flow, or by the trim; NaN where not known.
func (s *Stay) LeanBy() float64 {
	if s.leanTime > 0 && s.leanTime < leanSeconds {
		return math.NaN() // the throttle's opening alone makes as much
	}
	if s.Lean == s.Lean || s.trim.Weight == 0 {
		return s.Lean
	}
	return s.trim.Value() / 100
}

// mixtureShown reports whether the log shows how lean the engine ran: by a
// wideband sensor, or because closed loop held the mixture.
func (s *Stay) mixtureShown() bool { return s.leanTime > 0 || s.closed > 0.5*s.Seconds }

// loadOf is what an operating point has of load, in whatever unit.
func loadOf(at *lookup.Point) float64 {
	switch {
	case at.Charge == at.Charge:
		return at.Charge
	case at.Manifold == at.Manifold:
		return at.Manifold
	}
	return at.Load
}

// Event is one unbroken time with retard above the noise floor.
type Event struct {
	Log   int
	Start float64 // s
	Peak  float64 // degrees
	Lift  bool    // it rose last after a throttle lift

	High, At, Speed float64 // its peak at high load where that is 5 degrees or more, when, at how many r/min
	Bin             int
}

// high reports whether an operating point is in the upper half of the table's
// load axis, or at 80 kPa or more.
func (d *Drive) high(at *lookup.Point) bool {
	if at.Manifold >= 80 {
		return true
	}
	x, y := d.bound.XY(at)
	for i, a := range []*tables.Axis{d.Table.Y(), d.Table.X()} {
		if a == nil {
			continue
		}
		switch a.Quantity() {
		case tables.AirCharge, tables.Load, tables.ManifoldPressure, tables.AirFlow:
			v, points := [2]float64{y, x}[i], [2][]float64{d.y, d.x}[i]
			return v >= (points[0]+points[len(points)-1])/2
		}
	}
	return true
}

// Bin is a part of the spark table's plane: half an interval of each axis around
// its middle.
type Bin struct {
	Seconds float64
	Weight  []float64 // by cell: the mean share of the cell in the spark there

	// around sums up the shares of the cells that there can be, from a first row and
	// column on: those beside a breakpoint and its own, or on both sides of an interval.
	around [3][3]float64
}

// half is the number of a place on an axis in steps of bins.
func half(at float64) int { return int(2*at + 0.5) }

// first is the first breakpoint that has a share in the spark of a bin, by its number on an axis.
func first(bin int) int { return (bin - 1) / 2 }

// add takes a reading in a bin by the shares of the four cells around it.
func (d *Drive) add(bin int, r *reading) {
	b, seconds := &d.bins[bin], max(r.seconds, 1e-3)
	b.Seconds += seconds
	row, column := int(r.fy), int(r.fx)
	across := [2]float64{near(column, r.fx), near(column+1, r.fx)}
	above, left := first(half(r.fy)), first(half(r.fx))
	for k, down := range [2]float64{near(row, r.fy), near(row+1, r.fy)} {
		to := &b.around[row-above+k]
		to[column-left] += float64(seconds * (across[0] * down))
		to[column-left+1] += float64(seconds * (across[1] * down))
	}
}

// weigh makes the mean shares of a bin's cells of their sums.
func (d *Drive) weigh(bin int) {
	b := &d.bins[bin]
	if b.Seconds == 0 {
		return
	}
	b.Weight = make([]float64, len(d.Table.Values()))
	above, left := first(bin/(2*len(d.x)-1)), first(bin%(2*len(d.x)-1))
	for r, sums := range b.around[:min(len(d.y)-above, 3)] {
		for c, sum := range sums[:min(len(d.x)-left, 3)] {
			b.Weight[(above+r)*len(d.x)+left+c] = sum / b.Seconds
		}
	}
}

// share is a cell's bilinear share in the spark at a place on the axes.
func (d *Drive) share(cell int, fx, fy float64) float64 {
	n := d.Table.Columns()
	return near(cell%n, fx) * near(cell/n, fy)
}

// near is a breakpoint's linear weight: 1 on it, 0 a breakpoint away.
func near(breakpoint int, at float64) float64 { return max(0, 1-math.Abs(at-float64(breakpoint))) }

const cornerShare = 0.05 // from which a cell is a corner of an operating point

// confirm marks the cells that set the spark at all of some places.
func (d *Drive) confirm(places []spot) {
	for c := range d.confirmed {
		if !d.confirmed[c] {
			d.confirmed[c] = !slices.ContainsFunc(places, func(p spot) bool { return d.share(c, p.fx, p.fy) < cornerShare })
		}
	}
}

// Confirmed reports whether a cell certainly set the spark where knock was heard.
func (d *Drive) Confirmed(cell int) bool { return d.confirmed[cell] }

// Drive is what drive logs say of knock on one spark table.
type Drive struct {
	Table  *tables.Table
	Stays  []Stay
	Events []Event // of 5 degrees or more at high load
	Notes  tables.Notes
	Other  float64 // share of time in which spark table and log disagree, where that is most of it; else 0

	bound                 *lookup.Table
	slack                 float64 // that it has at most
	x, y                  []float64
	bins                  []Bin
	within                float64        // s of a log within which stays are joined; 0 while none are
	slice                 slice          // under way
	same                  map[uint64]int // by kind, its stay in that
	confirmed             []bool         // by cell
	compared, differing   int
	demand                demand // of closed loop, in per cent
	openLean              demand // per cent that a wideband sensor reads lean of a rich command
	hasLambda, hasTrim    bool
	hasIntake             bool
	eventCount, liftCount int
	loudest               float64
	most                  float64 // highest load of the drive
}

// newDrive is a drive of which nothing is heard yet. Bins are half an interval wide, so that
// each lies about a breakpoint or between two, and the same few cells set its spark.
func newDrive(t *tables.Table, bound *lookup.Table) *Drive {
	// Stays are large, and their room is taken from the machine only as it is used.
	d := &Drive{Table: t, bound: bound, slack: bound.MostSlack(), x: pointsOf(t.X()), y: pointsOf(t.Y()), Stays: make([]Stay, 0, mostStays)}
	d.bins = make([]Bin, (2*len(d.x)-1)*(2*len(d.y)-1))
	d.confirmed = make([]bool, len(t.Values()))
	return d
}

// pointsOf are the breakpoints in the channels' unit, or as they stand where that is unknown.
func pointsOf(a *tables.Axis) []float64 {
	if a == nil {
		return []float64{0}
	}
	if p, err := lookup.Points(a); err == nil {
		return p
	}
	return a.Points()
}

// place finds where a reading lies on the axes, and the number of its bin; false where that
// is not known.
func (d *Drive) place(r *reading) (bin int, ok bool) {
	if r.on, ok = d.bound.Find(&r.at); !ok {
		return -1, false
	}
	r.fx, r.fy = steps(r.on.I, r.on.U, len(d.x)), steps(r.on.J, r.on.W, len(d.y))
	return half(r.fy)*(2*len(d.x)-1) + half(r.fx), true
}

// steps is a place on an axis in steps of breakpoints, just short of the last, so that a
// step on always has a cell.
func steps(i int, share float64, points int) float64 {
	return max(0, min(float64(i)+share, float64(points-1)-1e-9))
}

// Weights is by cell the share of the cell in the spark at a bin.
func (d *Drive) Weights(bin int) []float64 { return d.bins[bin].Weight }

// finishEvent keeps what people must see of an event.
func (d *Drive) finishEvent(e *Event) {
	d.eventCount++
	if e.Lift {
		d.liftCount++
	}
	d.loudest = max(d.loudest, e.Peak)
	if e.High > 0 {
		d.Events = append(d.Events, *e)
	}
}

// finish makes the drive ready to be judged.
func (d *Drive) finish() {
	// Where another calibration, or a limit, sets the spark most of the time, the stays in
	// which it does are no evidence about this table.
	if d.compared > 0 && 2*d.differing > d.compared {
		d.Other = float64(d.differing) / float64(d.compared)
		d.Stays = slices.DeleteFunc(d.Stays, func(s Stay) bool { return s.Off })
	}
	for i := range d.Stays {
		d.Stays[i].finish()
	}
	if d.compared == 0 {
		d.Notes = append(d.Notes, "spark is not logged: whether this calibration drove is not known")
	}
	for i := range d.bins {
		d.weigh(i)
	}
	d.shares()
	d.fillLean()
	for i := range d.Stays {
		s := &d.Stays[i]
		s.bound()
		if s.Held = s.Held && s.Share >= lightLoad; !s.Held {
			continue // some controllers keep what they have where they don't listen
		}
		for c, w := range d.bins[s.Bin].Weight {
			d.confirmed[c] = d.confirmed[c] || w >= 4*cornerShare // of a bin's mean: at each place in it a corner
		}
	}
}

// shares puts the load of each stay against the highest that the drive held for
// some seconds.
func (d *Drive) shares() {
	order := make([]int, len(d.Stays))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(d.Stays[b].Charge, d.Stays[a].Charge) })
	// One wild reading of load would make all the rest look light.
	seconds := 0.0
	for _, i := range order {
		if seconds += d.Stays[i].Seconds; seconds >= 4 {
			d.most = d.Stays[i].Charge
			break
		}
	}
	for i := range d.Stays {
		s := &d.Stays[i]
		if s.Share = s.Charge / d.most; s.Share != s.Share {
			s.Share = 1
		}
	}
}

// fillLean stands in for a wideband sensor: what the closed loop asks for at an
// air flow, extended past where it goes. Open loop may or may not apply what
// was learned, so this is how lean it runs where it does not.
func (d *Drive) fillLean() {
	line, measured := d.demand.line(), d.openLean.line()
	for i := range d.Stays {
		s := &d.Stays[i]
		// What a wideband sensor reads of rich commands at that air flow is nearer to it than
		// what closed loop asks for at less.
		if s.Rich > richFrom && s.leanTime < leanSeconds {
			if v := measured(s.Flow); v == v {
				s.Lean, s.leanTime = v/100, leanSeconds
				continue
			}
		}
		if s.Lean == s.Lean || s.open < 0.5*s.Seconds || !(s.Flow > 0) {
			continue
		}
		s.Lean = line(s.Flow) / 100
	}
}

// demand is the trim of closed loop over air flow.
type demand [256]drive.Mean // by steps of demandStep; the weights are seconds

const demandStep = 1.0 // g/s

// add takes the trim at an air flow; the last step is of all flows past it.
func (d *demand) add(flow, trim, seconds float64) {
	d[min(int(flow/demandStep), len(d)-1)].Add(trim, seconds)
}

// line is the trim over air flow: a straight line through the upper half of
// what closed loop reaches, its mean below; NaN where closed loop shows nothing.
func (d *demand) line() func(flow float64) float64 {
	middle := func(i int) float64 { return (float64(i) + 0.5) * demandStep }
	top := 0.0
	for i, m := range d {
		if m.Weight > 1.5 {
			top = middle(i)
		}
	}
	var n, x, y, xx, xy float64
	for i, m := range d {
		if f := middle(i); f >= 0.45*top && f <= top && m.Weight > 0 {
			w, t := min(m.Weight, 20), m.Value()
			n, x, y, xx, xy = n+w, x+float64(w*f), y+float64(w*t), xx+float64(w*f*f), xy+float64(w*f*t)
		}
	}
	if n < 5 {
		return func(float64) float64 { return math.NaN() }
	}
	slope := 0.0
	if det := float64(n*xx) - float64(x*x); det > 1e-6*n*xx {
		slope = (float64(n*xy) - float64(x*y)) / det
	}
	at := (y - float64(slope*x)) / n
	return func(flow float64) float64 { return at + float64(slope*min(flow, 1.6*top)) }
}
