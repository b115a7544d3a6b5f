package cause

import (
	"context"
	"fmt"
	"math"
	"strings"

	"calsplice/interp/cells"
	"calsplice/interp/cells/sift"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Options tune an explanation.
type Options struct {
	// RailPressure is what a gauge reads, kPa, relative to what the calibration's
	// rail pressure is relative to; it stands where the log has none. 0: not given.
	RailPressure float64
}

// Explain reads drive logs and says which cause fits their trims, as
// [Explainer.Result] does.
func Explain(ctx context.Context, cal *tables.Calibration, logs []cells.Log, opt Options) (*Result, error) {
	x, err := NewExplainer(cal, opt)
	if err == nil {
		err = cells.Read(ctx, logs, x)[0]
	}
	if err != nil {
		return nil, err
	}
	return x.Result()
}

// NewExplainer explains by a calibration the trims of logs that [cells.Read] reads,
// which should have been given the calibration's engine facts.
func NewExplainer(cal *tables.Calibration, opt Options) (*Explainer, error) {
	e, err := newVehicle(cal)
	if err != nil {
		return nil, err
	}
	x := &Explainer{e: e, opt: opt, res: &Result{Boost: e.boost, ChangedAt: math.NaN()}, open: newGatherer(), clocks: map[int]drivelog.Clock{}, coolant: true}
	for i := range x.levels {
		x.levels[i] = newGatherer()
	}
	return x, nil
}

// Explainer holds the samples of drives at three levels of strictness: settled,
// steady, and merely closed loop, for a drive that never settles.
type Explainer struct {
	e       *vehicle
	opt     Options
	res     *Result
	levels  [3]*gatherer
	clock   float64
	facts   *facts
	purge   bool
	coolant bool                        // every log has it
	idle    struct{ all, held float64 } // s of closed loop at idle speed, and of it settled
	open    *gatherer                   // open-loop samples by a wideband sensor
	logs    []sift.LogID
	clocks  map[int]drivelog.Clock // of them
	notes   [][2]string            // of a log by name
	reading *reader                // of the log that is read
	trims   bool                   // a log has some
}

// Names of the levels, for a person.
var levelSaid = [3]string{"",
	"the drive has too few settled samples: steady ones in which the trim may still be moving were used too",
	"the drive hardly ever holds still: all closed-loop samples were used, also where speed and load change"}

// What a drive must have for its settled samples alone to serve.
const (
	enoughCells   = 5
	enoughSeconds = 40.0
)

// Trimless reports whether no log that was read has a fuel trim.
func (x *Explainer) Trimless() bool { return !x.trims }

// Result says which cause fits the trims. It is an error where no settled
// closed-loop sample is left, and where every trim is 0.
func (x *Explainer) Result() (*Result, error) {
	if err := sift.Twice(x.logs); err != nil {
		return nil, err
	}
	x.cautionOfLogs()
	res := x.res
	chosen, bias := x.choose()
	points := x.warm(chosen)
	if len(points) == 0 {
		return nil, x.noSamplesError()
	}
	points, banks, err := x.fitted(points)
	if err != nil {
		return nil, err
	}
	// Open loop adds what closed loop never shows, such as full load; then all points must
	// have the same quantities, or causes would be judged on different drives.
	points = x.withOpen(points, bias, banks)
	if points = whole(points); len(points) == 0 {
		return nil, x.noSamplesError()
	}
	res.Points = points
	x.estimateManifold(points)
	r := newRows(points, banks)
	if r.rail != nil {
		r.rail.logged = x.facts.railLogged
	}
	x.facts.restless = x.idle.all >= enoughIdle && x.idle.held < heldIdle*x.idle.all
	res.Rail = r.rail != nil && r.rail.applied
	r.rank(res, x.facts)
	res.clock = x.clocks[res.changedIn]
	if r.deviates() && !r.rail.applied {
		x.res.Cautions.Addf("the measured rail pressure is %s %% from what the calibration says drives the injectors, and the trims do not show it: the controller corrects for it, or the gauge is wrong", tables.Signed(100*r.rail.mean, 0))
	}
	for _, s := range x.e.notes {
		x.res.Cautions.Add(s)
	}
	r.shares(res)
	r.describe(res, x.facts)
	x.addCautions(res)
	return res, nil
}

// Idle never held still where less than this share of its time is settled, of
// this much of it, s: stops in traffic leave about half settled.
const (
	enoughIdle = 20.0
	heldIdle   = 0.2
)

// addCautions names what else may be behind the trims, and how far the drive went.
func (x *Explainer) addCautions(res *Result) {
	_, _, bands := res.Bands()
	if len(bands) > 0 && !x.purge && bands[0].Seen[0] < -2 {
		x.res.Cautions.Add("purge is not logged: vapour from the canister takes fuel away at low air flow too; repeat with the purge line closed off")
	}
	var pressure, fuel float64
	for _, p := range res.Points {
		pressure, fuel = max(pressure, p.Manifold), max(fuel, p.FuelFlow)
	}
	if pressure > 0 {
		x.res.Cautions.Addf("closed-loop samples reach only %.0f kPa manifold pressure; trims say nothing about higher load", pressure)
	}
}

// noSamplesError reports that no row could be used, with the reason that took most
// of them.
func (x *Explainer) noSamplesError() error {
	var faults tables.Faults
	for _, s := range x.res.Logs {
		why := tables.Each(s.Dropped, func(d tables.Dropped) string { return fmt.Sprintf("%d %s", d.Count, d.Reason) })
		what := fmt.Sprintf("none of %d rows is closed-loop evidence", s.Rows)
		if len(why) > 0 {
			what += ": " + strings.Join(why, ", ")
		}
		faults = append(faults, &tables.Fault{File: s.Name, What: what})
	}
	return faults.Err()
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
			"trims are at their limit for %.0f %% of the settled time: there the true error is at least as large as shown", 100*res.AtLimit))
	}
}
