package knock

import (
	"cmp"
	"math"
	"slices"

	"calsplice/interp/lookup"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Drive is what drive logs say of knock on one spark table.
type Drive struct {
	Table  *tables.Table
	Stays  []Stay
	Events []Event // of 5 degrees or more at high load
	Notes  tables.Notes
	Other  float64 // share of time in which spark table and log disagree, where that is most of it; else 0

	bound                 *lookup.Table
	slack                 []float64 // of the table, by cell, at most
	rounding              float64   // degrees by which a logged spark may be off the table, before its steepness counts
	x, y                  []float64
	bins                  []Bin
	within                float64 // s of a log within which stays are joined; 0 while none are
	slice                 slice   // under way
	kept                  []kept  // by stay, once some are joined
	latest                []int   // by bin, 1 and the number of the last stay in the slice; 0 for none
	confirmed             []bool  // by cell
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
	d := &Drive{Table: t, bound: bound, slack: bound.MostSlack(), rounding: 0.5 + t.Resolution(), x: lookup.PointsOf(t.X()), y: lookup.PointsOf(t.Y()), Stays: make([]Stay, 0, mostStays)}
	d.bins = make([]Bin, (2*len(d.x)-1)*(2*len(d.y)-1))
	d.latest = make([]int, len(d.bins))
	d.confirmed = make([]bool, len(t.Values()))
	return d
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
	across, down := r.fx-float64(column), r.fy-float64(row)
	above, left := row-first(half(r.fy)), column-first(half(r.fx))
	low, high := b.around[above][left:left+2], b.around[above+1][left:left+2]
	low[0] += float64(seconds * ((1 - across) * (1 - down)))
	low[1] += float64(seconds * (across * (1 - down)))
	high[0] += float64(seconds * ((1 - across) * down))
	high[1] += float64(seconds * (across * down))
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
	at := float64(i) + share
	if last := float64(points-1) - 1e-9; at > last {
		at = max(0, last)
	}
	return at
}

// Weights is by cell the share of the cell in the spark at a bin.
func (d *Drive) Weights(bin int) []float64 { return d.bins[bin].Weight }

// Event is one unbroken time with retard above the noise floor.
type Event struct {
	Log   int
	Start float64 // s
	Peak  float64 // degrees
	Lift  bool    // it rose last after a throttle lift

	High, At, Speed float64 // its peak at high load where that is 5 degrees or more, when, at how many r/min
	Bin             int
	clock           drivelog.Clock // of its log
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
