package knock

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"calsplice/interp/drive"
	"calsplice/tables"
)

// Result is why spark is pulled in a drive: the causes in their order, whether the first
// is a promise, and what a person must see whatever the cause.
type Result struct {
	Verdict string    `json:"verdict"`
	Certain bool      `json:"certain"` // up to what the leading cause's Alike names
	Causes  []Finding `json:"causes"`  // best first
	Inspect []string  `json:"inspect"` // single events that want the engine stopped
	Torque  *Torque   `json:"torque"`  // null where nothing was pulled under load
	Events  int       `json:"events"`  // unbroken times with more than a degree of retard
	Lifts   int       `json:"lifts"`   // of them after a throttle lift
	Peak    float64   `json:"peak"`    // degrees
	Notes   []string  `json:"notes"`

	repair bool // no cause that a spark table may hide is in doubt
}

// Finding is one cause, judged.
type Finding struct {
	Cause    Cause    `json:"cause"`
	Share    float64  `json:"share"` // of the retard that it explains, less what its fit costs
	Title    string   `json:"title"`
	Evidence []string `json:"evidence"`
	Alike    []string `json:"alike"` // what retard cannot tell from it
	Test     string   `json:"test"`
}

// Leading is the best cause.
func (r *Result) Leading() *Finding { return &r.Causes[0] }

// Repair reports whether it is certain that the cause is one that no spark table
// may hide, though not always which.
func (r *Result) Repair() bool { return r.repair }

// Nothing reports whether no table needs an edit: nothing was heard, or what was
// heard is rather false.
func (r *Result) Nothing() bool {
	c := r.Leading().Cause
	return c == None || c == FalseKnock
}

// Explain says why spark is pulled. What it counts and fits stands in signs; what follows
// from that in rank; here it is put together with what else the drive showed.
func (d *Drive) Explain() *Result {
	g := d.signs()
	list, certain := g.rank()
	r := &Result{Certain: certain, Inspect: d.inspect(), Events: d.eventCount, Lifts: d.liftCount, Peak: d.loudest, Torque: d.torque(), Notes: append([]string{}, d.Notes...)}
	if list[0].cause == FalseKnock && len(r.Inspect) > 0 {
		r.Certain = false // 5 degrees at high load are never called false
	}
	if d.Other > 0 {
		r.Certain = false
		r.Notes = append(r.Notes, d.Mismatch())
	}
	if s := d.fuelsDiffer(g); s != "" {
		r.Certain = false
		r.Notes = append(r.Notes, s)
	}
	// Low octane and a lean mixture look alike where the log does not show the mixture: one
	// of them is certain then, and both are repaired, but not which.
	lead := list[0].cause
	r.repair = r.Certain && lead.Repaired()
	r.Certain = r.Certain && !(lead == LowOctane && g.mixtureHidden())
	for _, c := range list {
		r.Causes = append(r.Causes, Finding{Cause: c.cause, Share: c.score, Title: c.cause.entry().title, Evidence: d.evidence(g, c.cause),
			Alike: g.alike(c.cause), Test: d.test(g, c.cause)})
	}
	r.Verdict = r.verdict()
	return r
}

// Mismatch says that another spark table drove.
func (d *Drive) Mismatch() string {
	return fmt.Sprintf("the log does not come from this calibration, or another limit was in charge: spark table and log disagree in %.0f %% of time, which is no evidence", 100*d.Other)
}

// inspect asks for an inspection where knock took 5 degrees or more at high load,
// and names the worst time.
func (d *Drive) inspect() []string {
	if len(d.Events) == 0 {
		return []string{}
	}
	e := slices.MaxFunc(d.Events, func(a, b Event) int { return cmp.Compare(a.High, b.High) })
	text := fmt.Sprintf("stop, inspect: knock took %.1f deg away at high load at %s, %.0f r/min%s", e.High, e.clock.Text(e.At), e.Speed, d.where(e.Bin))
	if n := len(d.Events) - 1; n > 0 {
		text += fmt.Sprintf(", and %.0f deg or more %s", inspectFrom, tables.Plural(n, "more time"))
	}
	return []string{text}
}

// where names the cell that sets most of the spark in a bin.
func (d *Drive) where(bin int) string {
	if bin < 0 || d.bins[bin].Weight == nil {
		return ""
	}
	return " (cell of " + d.Table.Where(d.Nearest(bin)) + ")"
}

// Nearest is the cell that sets most of the spark in a bin.
func (d *Drive) Nearest(bin int) int {
	w := d.bins[bin].Weight
	return slices.Index(w, slices.Max(w))
}

// fuelsDiffer compares the logs of one command: where one needs more retard than
// another at the same places and temperatures, the fuel may be another one.
func (d *Drive) fuelsDiffer(g *signs) string {
	m := g.fits[LowOctane]
	if m == nil {
		return ""
	}
	byLog := map[int]drive.Mean{}
	obs := d.observations()
	for i := range obs {
		o := &obs[i]
		e := o.need - m.need(i)
		if !o.heard {
			e = min(0, o.most-m.need(i))
		}
		log := d.Stays[o.time].Log
		of := byLog[log]
		of.Add(e, o.weight)
		byLog[log] = of
	}
	low, high := math.Inf(1), math.Inf(-1)
	var of [2]int
	for _, log := range slices.Sorted(maps.Keys(byLog)) {
		m := byLog[log]
		if m.Weight < 5 {
			continue
		}
		if v := m.Value(); v < low {
			low, of[0] = v, log
		}
		if v := m.Value(); v > high {
			high, of[1] = v, log
		}
	}
	if !(high-low > 1) {
		return ""
	}
	return fmt.Sprintf("log %d needs %.1f deg more retard than log %d at the same places and temperatures: another fuel in the tank would do that; explain each drive alone", of[1]+1, high-low, of[0]+1)
}

// Torque is an estimate of the torque that the retard gives away.
type Torque struct {
	Retard float64 `json:"retard"` // mean degrees under load where spark was pulled, with what a blend took
	Worst  float64 `json:"worst"`
	Lost   float64 `json:"lost_percent"` // at the mean
	Most   float64 `json:"most_percent"` // at the worst
	Source string  `json:"source"`
}

// torqueSource says where the torque's curve comes from.
const torqueSource = "estimate: quadratic in degrees from best torque, with the curvature of a published engine model (Crossley and Cook, 1991, from memory), not measured on this engine"

// torque estimates what the retard costs under load. The model's torque is
// quadratic in spark advance σ: of air charge m [g a cylinder] and speed N
// [rad/s] it has (0.26 + 0.00048·N + 2.55·m)·σ − (0.0028 + 0.05·m)·σ² N m.
func (d *Drive) torque() *Torque {
	var t Torque
	var seconds float64
	for i := range d.Stays {
		s := &d.Stays[i]
		off := s.Mean + s.Deficit
		if s.Share < loaded || off < 0.5 {
			continue
		}
		seconds += s.Seconds
		t.Retard += float64(s.Seconds * off)
		t.Lost += float64(s.Seconds * lost(s, off))
		t.Worst = max(t.Worst, off)
		t.Most = max(t.Most, lost(s, off))
	}
	if seconds < 1 {
		return nil
	}
	t.Retard, t.Lost, t.Source = t.Retard/seconds, t.Lost/seconds, torqueSource
	return &t
}

// lost is the share of torque, in per cent, that so many degrees off the table
// cost.
func lost(s *Stay, off float64) float64 {
	m, n := 0.4*s.Share, s.Speed*math.Pi/30
	linear, square := 0.26+float64(0.00048*n)+float64(2.55*m), 0.0028+float64(0.05*m)
	best := linear / (2 * square)
	const air, mixture = 379.36, -181.3 + 21.91*14.6 - 0.85*14.6*14.6
	at := func(spark float64) float64 {
		return mixture + float64(air*m) + float64(0.027*n) - float64(0.000107*n*n) + float64(linear*spark) - float64(square*spark*spark)
	}
	// A table past best torque gives nothing away until the retard brings it there.
	full := min(s.Table, best)
	return 100 * (1 - at(full-off)/at(full))
}
