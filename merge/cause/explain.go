package cause

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"strings"

	"calsplice/interp/cells"
	"calsplice/interp/cells/sift"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Options tune an explanation. The zero value is what the command uses.
type Options struct {
	Filters sift.FilterOptions // Steady is set where nothing is asked for
	// RailPressure is what a gauge reads, kPa, relative to what the calibration's
	// rail pressure is relative to; it stands where the log has none. 0: not given.
	RailPressure float64
	Beside       Companion // reads the logs in the same pass; nil: nobody
}

// Companion reads each log while the causes do, so that a log is read once.
type Companion interface {
	// Begin says what of a log is asked for; a reader without a Frame takes no part.
	Begin(name string, log *drivelog.Log) drivelog.Reader
	// End follows each log in which Begin took part.
	End(reading *drivelog.Reading) error
}

// Explain reads drive logs and says which cause fits their trims. The logs are
// opened in turn, each once; they should have been given the calibration's
// engine facts. It is an error where a log has no trims, where no settled
// closed-loop sample is left, where every trim is 0, and where a logged pulse
// does not exceed the calibration's offset.
func Explain(ctx context.Context, cal *tables.Calibration, logs []cells.Log, opt Options) (*Result, error) {
	e, err := newVehicle(cal)
	if err != nil {
		return nil, err
	}
	if len(opt.Filters.Use) == 0 {
		opt.Filters.Steady = true
	}
	x := &explainer{e: e, opt: opt, res: &Result{Boost: e.boost, ChangedAt: math.NaN()}, open: newGatherer(), coolant: true}
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
	if err := cmp.Or(faults.Err(), sift.Twice(x.logs)); err != nil {
		return nil, err
	}
	return x.explain(logs)
}

// explainer holds the samples of a drive at three levels of strictness: settled,
// steady, and merely closed loop, for a drive that never settles.
type explainer struct {
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
	bias    mean                        // of that sensor where the loop is closed, share
	many    bool                        // logs
	logs    []sift.LogID
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

// explain judges what was read.
func (x *explainer) explain(logs []cells.Log) (*Result, error) {
	res := x.res
	points := x.warm(x.choose())
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
	if r.rail != nil {
		r.rail.logged = x.facts.railLogged
	}
	x.facts.restless = x.idle.all >= enoughIdle && x.idle.held < heldIdle*x.idle.all
	res.Rail = r.rail != nil && r.rail.applied
	r.rank(res, x.facts)
	if r.deviates() && !r.rail.applied {
		x.caution("the measured rail pressure is %s %% from what the calibration says drives the injectors, and the trims do not show it: the controller corrects for it, or the gauge is wrong", tables.Signed(100*r.rail.mean, 0))
	}
	for _, s := range x.e.notes {
		x.caution("%s", s)
	}
	r.shares(res)
	r.describe(res, x.facts)
	x.beside(res)
	return res, nil
}

// Idle never held still where less than this share of its time is settled, of
// this much of it, s: stops in traffic leave about half settled.
const (
	enoughIdle = 20.0
	heldIdle   = 0.2
)

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
		x.caution("closed-loop samples reach only %.0f kPa manifold pressure; trims say nothing about higher load", pressure)
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
