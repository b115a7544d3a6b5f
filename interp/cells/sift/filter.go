package sift

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Filter names one reason to leave samples out.
type Filter string

// The filters, in the order in which they are asked: a sample left out counts
// for the first that leaves it out.
const (
	ClosedLoop Filter = "closed-loop" // fuel status is closed loop (2, or 16 with a fault)
	Warm       Filter = "warm"        // coolant at working temperature
	Overrun    Filter = "overrun"     // no fuel cut on the overrun
	Enrichment Filter = "enrichment"  // no mixture commanded richer than the catalyst wants
	Purge      Filter = "purge"       // no fuel vapour from the canister
	Rates      Filter = "rates"       // speed, load and throttle have changed slowly for a while
	Settled    Filter = "settled"     // the trim has settled since the loop closed or the learned cell changed
	Cycles     Filter = "cycles"      // whole limit cycles of the short trim only
)

// filters are all of them, each with what adds its step, or names what the log lacks for it.
var filters = []struct {
	name  Filter
	build func(s *Selector) (missing string)
}{
	{ClosedLoop, (*Selector).buildClosedLoop},
	{Warm, byReading("coolant", slowly, Cold, func(b bounds, v float64) bool { return v < b.warmAt })},
	{Overrun, (*Selector).buildOverrun},
	// A commanded mixture of 0 is a column that the controller never fills.
	{Enrichment, byReading("lambda_commanded", seldom, Enriched, func(_ bounds, v float64) bool { return v > 0.4 && v < richerThan })},
	{Purge, byReading("purge", seldom, Purging, func(_ bounds, v float64) bool { return v > 0 })},
	{Rates, (*Selector).buildRates},
	{Settled, (*Selector).buildSettled},
	{Cycles, (*Selector).buildCycles},
}

// Filters lists every filter.
var Filters = func() (list []Filter) {
	for _, f := range filters {
		list = append(list, f.name)
	}
	return list
}()

// FilterOptions says which samples to use. The zero value keeps all.
type FilterOptions struct {
	Use    []Filter // asked for by name: a log without their channels is refused
	Steady bool     // all filters; those whose channels the log lacks are skipped, and said
	Not    []Filter // but for these

	WarmAt     *float64 // degC; nil is 70
	SpeedRate  float64  // r/min each second; 0 is 300
	SettleTrim *float64 // seconds at least that a trim gets to settle; nil is 3
}

// The bounds that filters go by: common practice, no source.
const (
	usualWarmAt     = 70
	usualSpeedRate  = 300
	loadRate        = 20 // % or kPa each second
	throttleRate    = 10 // % each second
	settleRates     = 1  // seconds that the rates must have been under their bounds
	usualSettleTrim = 3
	richerThan      = 0.97 // lambda commanded that is enrichment
	learnedStep     = 1.2  // % by which the long trim jumps where the learned cell changes
	longestSettle   = 15   // seconds after which a trim counts as settled anyway
	longestPending  = 20   // seconds after which a trim without a turn is no limit cycle
)

// bounds are those that can be asked for.
type bounds struct{ warmAt, speedRate, settleTrim float64 }

// bounds puts what is usual in the place of what is not asked for.
func (o FilterOptions) bounds() bounds {
	b := bounds{usualWarmAt, cmp.Or(o.SpeedRate, usualSpeedRate), usualSettleTrim}
	if o.WarmAt != nil {
		b.warmAt = *o.WarmAt
	}
	if o.SettleTrim != nil {
		b.settleTrim = *o.SettleTrim
	}
	return b
}

// asks reports whether a filter is asked for, and whether by name.
func (o FilterOptions) asks(f Filter) (asked, byName bool) {
	if slices.Contains(o.Not, f) {
		return false, false
	}
	byName = slices.Contains(o.Use, f)
	return byName || o.Steady, byName
}

// Validate refuses names that are no filter.
func (o FilterOptions) Validate() error {
	for _, f := range slices.Concat(o.Use, o.Not) {
		if !slices.Contains(Filters, f) {
			names := tables.Each(Filters, func(k Filter) string { return string(k) })
			return fmt.Errorf("there is no filter %s: there are %s", tables.Quote(string(f)), strings.Join(names, ", "))
		}
	}
	return nil
}

// String is one line that two equal selections share.
func (o FilterOptions) String() string {
	var parts []string
	for _, f := range Filters {
		if asked, _ := o.asks(f); asked {
			parts = append(parts, string(f))
		}
	}
	if parts == nil {
		return ""
	}
	b, usual := o.bounds(), FilterOptions{}.bounds()
	for _, v := range []struct {
		name         string
		value, usual float64
	}{{"warm-at", b.warmAt, usual.warmAt}, {"speed-rate", b.speedRate, usual.speedRate}, {"settle-trim", b.settleTrim, usual.settleTrim}} {
		if v.value != v.usual {
			parts = append(parts, v.name+"="+tables.FormatValue(v.value))
		}
	}
	return strings.Join(parts, " ")
}

// run is the instants of a frame that belong to one stretch, with a reason for each.
// A filter takes a run at a time: a call for each instant would be most of its work.
type run struct {
	time    []float64
	columns []drivelog.Column
	start   int     // of the run in the frame's columns
	first   bool    // the stretch begins with it
	why     []uint8 // the Reason of each
}

// values are a column's over the run; nil where the log has none.
func (r *run) values(column int) []float64 {
	if column < 0 {
		return nil
	}
	return r.columns[column].Value[r.start : r.start+len(r.time)]
}

// fresh is where a column was read anew.
func (r *run) fresh(column int) []bool {
	return r.columns[column].Fresh[r.start : r.start+len(r.time)]
}

// drop gives an instant a reason.
func (r *run) drop(i int, why Reason) { r.why[i] = uint8(why) }

// judge adds a filter's judgement over some channels, in columns of its own; its name
// holds every bound that it goes by.
func (s *Selector) judge(name string, columns []string, begin func() func(r *run)) {
	s.query.Judges = append(s.query.Judges, drivelog.Judge{Name: name, Columns: columns, New: func() func(f *drivelog.Frame, said []uint8) {
		step, stretch := begin(), -1
		return func(f *drivelog.Frame, said []uint8) {
			clear(said)
			for i, next := 0, 0; i < f.N; i = next {
				// Most frames are of one stretch, whose numbers never fall.
				if next = f.N; f.Stretch[f.N-1] != f.Stretch[i] {
					next = i + slices.IndexFunc(f.Stretch[i:], func(n int) bool { return n != f.Stretch[i] })
				}
				step(&run{f.Since[i:next], f.Columns, i, f.Stretch[i] != stretch, said[i:next]})
				stretch = f.Stretch[i]
			}
		}
	}})
}

// Reason is why a sample is left out; Kept is none.
type Reason uint8

// The reasons, in the order in which they are asked.
const (
	Kept Reason = iota
	NotWhere
	NotClosedLoop
	Cold
	FuelCut
	Enriched
	Purging
	NotSteady
	NotSettled
	PartCycle
	Unread // a channel that a filter needs has no reading
	pending
)

var reasonNames = [...]string{"kept", "outside --where", "not closed loop", "cold", "fuel cut on the overrun",
	"commanded enrichment", "purge", "not steady", "trim not settled", "incomplete limit cycle",
	"no reading of a channel that a filter needs", "pending"}

// String is the reason as the counts of a source name it.
func (r Reason) String() string { return reasonNames[r] }

// ask asks the filters that are wanted and that the log has channels for. One asked for by
// name whose channels are missing is an error.
func (s *Selector) ask(opt FilterOptions) error {
	// In the filters' own order, not in that in which they were asked for: a sample that
	// several leave out counts for the first, and the counts should not depend on a person.
	for _, f := range filters {
		asked, byName := opt.asks(f.name)
		if !asked {
			continue
		}
		missing := f.build(s)
		switch {
		case missing == "":
		case byName:
			return fmt.Errorf("filter %s needs %s, which the log does not have", f.name, missing)
		default:
			s.notes.Addf("filter %s skipped: the log has no %s", f.name, missing)
		}
	}
	return nil
}

// askWhere leaves out the instants outside a condition.
func (s *Selector) askWhere(condition string) {
	s.judge("where "+condition, []string{condition}, func() func(r *run) {
		return func(r *run) {
			for i, v := range r.values(0) {
				if v != 1 && (v == 0 || v != v) {
					r.drop(i, NotWhere)
				}
			}
		}
	})
}

// optional is the column of a channel that the log may lack: −1 where it does.
func (s *Selector) optional(name string) int { return s.query.AskIf(s.log.Has(name), name) }

// buildCycles watches the trim that swings; whole cycles are told with hindsight, by the
// selector.
func (s *Selector) buildCycles() (missing string) {
	if s.short = s.optional("short_trim_1"); s.short < 0 {
		s.short = s.optional("short_trim_2")
	}
	if s.short < 0 {
		return "short_trim_1"
	}
	return ""
}

// Seconds for which a reading of a channel that is polled seldom stands.
const (
	slowly   = 60 // coolant
	seldom   = 10 // what the controller decides
	promptly = 0
)

// byReading is a filter that leaves out the instants at which one channel's reading is bad. A
// logger may poll seldom what changes seldom: there a reading stands for so many seconds
// where others would be too old.
func byReading(channel string, hold float64, why Reason, bad func(b bounds, v float64) bool) func(s *Selector) (missing string) {
	return func(s *Selector) (missing string) {
		if !s.log.Has(channel) {
			return channel
		}
		s.judge(fmt.Sprint(why, s.warmAt), []string{channel}, func() func(r *run) {
			last, at, verdict := math.NaN(), math.Inf(-1), Unread // of the last reading that stands
			return func(r *run) {
				for i, v := range r.values(0) {
					switch t := r.time[i]; {
					case v == last:
						at = t
					case v == v:
						last, at, verdict = v, t, Kept
						if bad(s.bounds, v) {
							verdict = why
						}
					case r.first && i == 0 || t-at > hold+drivelog.Tick:
						last, verdict = math.NaN(), Unread
					}
					if verdict != Kept {
						r.drop(i, verdict)
					}
				}
			}
		})
		return ""
	}
}

// buildClosedLoop watches the fuel status also for a fault, which is cautioned of.
func (s *Selector) buildClosedLoop() (missing string) {
	s.status = s.optional("fuel_status")
	return byReading("fuel_status", seldom, NotClosedLoop, func(_ bounds, v float64) bool { return !closedLoop(v) })(s)
}

// closedLoop reports whether a fuel status of SAE J1979 is one: 2 is closed loop, 16 closed
// loop with a fault of one of its sensors.
func closedLoop(status float64) bool { return status == 2 || status == 16 }

// buildOverrun tells a fuel cut by a pulse of no length; without a pulse, and
// where no fuel status is asked that would say so, by a closed throttle above idle.
func (s *Selector) buildOverrun() (missing string) {
	const noPulse, aboveIdle, closedBand, opened = 0.05, 1500, 0.5, 5 // ms, r/min, %, %
	if s.log.Has("pulse_width") {
		return byReading("pulse_width", promptly, FuelCut, func(_ bounds, v float64) bool { return v < noPulse })(s)
	}
	if s.status >= 0 { // an open loop is left out already
		return ""
	}
	if !s.log.Has("throttle") || !s.log.Has("engine_speed") {
		return "pulse_width, or throttle and engine_speed"
	}
	// A sensor of a throttle seldom reads 0 when it is shut, so shut is what is lowest in the
	// log so far, once the log has shown that it opens.
	s.judge("overrun", []string{"throttle", "engine_speed"}, func() func(r *run) {
		low, high := math.Inf(1), math.Inf(-1) // of the throttle, so far
		return func(r *run) {
			speeds := r.values(1)
			for i, v := range r.values(0) {
				speed := speeds[i]
				if v != v || speed != speed {
					r.drop(i, Unread)
					continue
				}
				low, high = min(low, v), max(high, v)
				if high-low >= opened && v <= low+closedBand && speed > aboveIdle {
					r.drop(i, FuelCut)
				}
			}
		}
	})
	return ""
}
