package propose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"

	"calsplice/interp/drive"
	"calsplice/merge/cause/knock"
	"calsplice/tables"
)

// sparkFromLogs takes advance away where drive logs show persistent knock.
// Unlike averages, a log reports where retard began from where it only decays,
// knock from a blip after lifting the throttle, and the table from the other
// causes of knock.
func (in *Input) sparkFromLogs(target *tables.Table) (*Report, error) {
	d, err := knock.Read(in.Context, in.Cal, target, in.Logs)
	if err != nil {
		return nil, err
	}
	why := d.Explain()
	r := newSparkReport(target)
	// What must be inspected or is another calibration's stands first, also where the
	// proposal is then refused.
	if r.First = slices.Clone(why.Inspect); d.Other > 0 {
		r.First = slices.Insert(r.First, 0, d.Mismatch())
	}
	s := &sparkDrive{d: d, target: target, opt: &in.Options, edit: !why.Nothing()}
	s.gather()
	if why.Repair() && s.proposes() {
		if !in.Options.DespiteCause {
			return nil, refuseSpark(why)
		}
		r.First = append(r.First, "continued because of --despite-cause")
	}
	for i := range s.corners {
		r.Cells = append(r.Cells, s.judge(i))
	}
	r.Notes = slices.Clone(d.Notes)
	if r.changes() {
		r.First = append(r.First, beforeEdits(why)...)
	} else {
		r.Notes.Add(why.Verdict)
	}
	s.name(r)
	return r, nil
}

// beforeEdits is why spark is pulled, and the test that comes before edits where
// that may be what no table should hide.
func beforeEdits(why *knock.Result) []string {
	lines := []string{why.Verdict}
	if lead := why.Leading(); lead.Cause.Repaired() {
		lines = append(lines, fmt.Sprintf("apply these edits only where the test rules %s out: %s", lead.Cause, lead.Test))
	}
	return lines
}

// refuseSpark is the refusal to retard a table for what it does not hold.
func refuseSpark(why *knock.Result) error {
	lines := append(slices.Clone(why.Inspect), why.Verdict,
		"this is repaired, not calibrated away: "+why.Leading().Test, "--despite-cause proposes edits anyway")
	return refusal(lines...)
}

// What an edit of a cell rests on.
const (
	cornerShare = 0.1  // share of a cell in the spark where it knocked, from which it is a corner
	apart       = 3.0  // seconds without knock between two visits
	smallest    = 0.25 // degrees of correction that are worth an edit
	singleFrom  = 3.0  // degrees of a single visit that are named
)

// sparkDrive distributes the retard that a drive needed over the cells that set
// the spark there. Knock is heard at places between breakpoints, where up to four cells
// set the spark together: a place that needs 4° may be helped by any of them, and a cell
// may be needed by several places. So the retards of all cells are found at once, as those
// whose bilinear sum comes nearest to what all places need, and only then is each cell
// judged by its own visits.
type sparkDrive struct {
	d       *knock.Drive
	target  *tables.Table
	opt     *Options
	edit    bool // knock is the table's, or may be
	corners []corner
	points  []sparkPoint
	retard  []float64 // by cell, degrees to take away
}

// corner is the evidence for one cell: of the stays in whose spark it had more than a
// tenth of a share. Its own visits confirm it; how much it gives away is solved for with
// its neighbours.
type corner struct {
	visits, lifts, readings int
	close                   int     // visits in which knock was heard and it had much of the spark
	decays                  bool    // retard was there that knock elsewhere caused
	seconds                 float64 // listened to, with more than a tenth of its share
	need                    []float64
	most                    float64 // degrees that were needed where no cell had more of the spark
	lean, leanTime          float64
	last                    float64 // end of the last visit
	log                     int
}

// sparkPoint is an operating point that the cells must hold: as much retard as
// knock heard there asked for, or no more than was there in quiet.
type sparkPoint struct {
	weight []float64
	need   float64
	heard  bool
	counts float64
}

// gather counts each cell's visits, and collects the operating points.
func (s *sparkDrive) gather() {
	s.corners = make([]corner, len(s.target.Values()))
	needs, quiet := map[int][]float64{}, map[int]float64{}
	var order []int
	for i := range s.d.Stays {
		st := &s.d.Stays[i]
		if _, seen := quiet[st.Bin]; !seen {
			quiet[st.Bin] = math.Inf(1)
			order = append(order, st.Bin)
		}
		if st.Knocked() {
			needs[st.Bin] = append(needs[st.Bin], st.Needed())
			nearest := &s.corners[s.d.Nearest(st.Bin)]
			nearest.most = max(nearest.most, st.Needed())
		} else if st.Seconds >= 0.5 {
			quiet[st.Bin] = min(quiet[st.Bin], st.Quiet)
		}
		for c, w := range s.d.Weights(st.Bin) {
			if w >= cornerShare {
				s.corners[c].add(st, w)
			}
		}
	}
	// A place asks for what four in five of its visits needed: one that was worse may have
	// been hotter than the rest.
	for _, bin := range order {
		p := sparkPoint{weight: s.d.Weights(bin)}
		if list := needs[bin]; len(list) > 0 {
			p.heard, p.need, p.counts = true, quantile(list, 0.8), float64(min(len(list), 5))
		} else if p.need = quiet[bin]; !math.IsInf(p.need, 1) {
			p.counts = 1
		}
		if p.counts > 0 {
			s.points = append(s.points, p)
		}
	}
	s.solve()
}

// add takes one stay in which the cell had a share of the spark. Stays that follow each
// other within seconds are one visit: knock that goes on while the engine moves through
// neighbouring bins is confirmed once, not many times.
func (c *corner) add(st *knock.Stay, w float64) {
	c.seconds += st.Seconds
	c.readings += st.Readings
	c.lifts += st.Lifts()
	if !st.Knocked() {
		c.decays = c.decays || st.Peak > noiseFloor
		return
	}
	// Neighbouring bins share their cells: knock on the way through them is one visit.
	if c.visits == 0 || st.Log != c.log || st.Start > c.last+apart {
		c.visits++
		if w >= 0.25 && st.Need == st.Need {
			c.close++
		}
	}
	c.log, c.last = st.Log, st.Start+st.Seconds
	c.need = append(c.need, st.Needed())
	if v := st.LeanBy(); v == v {
		c.lean += float64(w * v)
		c.leanTime += w
	}
}

// quantile is the sorted list's value at a share; its highest for two.
func quantile(list []float64, share float64) float64 {
	sorted := slices.Sorted(slices.Values(list))
	return stat.Quantile(share, stat.Empirical, sorted, nil)
}

// lean1 is by how much the mixture was lean where the cell knocked; NaN where unknown.
func (c *corner) lean1() float64 { return c.lean / c.leanTime }

// persistent reports whether knock needed more than what is noise.
func (c *corner) persistent() bool {
	return len(c.need) > 0 && slices.Max(c.need) >= noiseFloor
}

// placed reports whether knock was certainly heard where a cell sets the spark, or so
// often close to it that it must have been. It guards the cells around the one that
// knocked, which share in its spark.
func (s *sparkDrive) placed(i int) bool { return s.d.Confirmed(i) || s.corners[i].close >= 3 }

// solve finds the retard of the cells that comes nearest to what the operating
// points need, by their bilinear weights. Falling short counts in full; more
// than needed counts little, for another cell may need it.
func (s *sparkDrive) solve() {
	// Too little retard leaves knock, which breaks engines; too much costs a little torque.
	// The ridge leaves a cell alone that hardly any place asks for.
	const over, quietOver, ridge = 0.15, 0.1, 0.02
	s.retard = make([]float64, len(s.corners))
	took := make([]float64, len(s.points))
	// Coordinate descent: the retards are few, and each has its bounds.
	for range 200 {
		moved := 0.0
		for c := range s.retard {
			if s.refuses(c) != "" {
				continue
			}
			num, den := -ridge*s.retard[c], ridge
			for k := range s.points {
				p := &s.points[k]
				w := p.weight[c]
				if w == 0 {
					continue
				}
				e, v := p.need-took[k], p.counts
				switch {
				case !p.heard && e >= 0:
					continue
				case !p.heard:
					v *= quietOver
				case e < 0:
					v *= over
				}
				num += float64(v * w * e)
				den += float64(v * w * w)
			}
			next := min(max(0, s.retard[c]+num/den), s.opt.Bound)
			step := next - s.retard[c]
			moved = max(moved, math.Abs(step))
			s.retard[c] = next
			for k := range s.points {
				took[k] += float64(step * s.points[k].weight[c])
			}
		}
		if moved < 1e-3 {
			return
		}
	}
}

// proposes reports whether any cell would be edited.
func (s *sparkDrive) proposes() bool {
	return slices.ContainsFunc(s.retard, func(v float64) bool { return v >= smallest })
}

// judge decides a cell of the spark table.
func (s *sparkDrive) judge(i int) Cell {
	k, e := &s.corners[i], noEvidence()
	e.Count, e.Visits = k.readings, k.visits
	if len(k.need) > 0 {
		e.Mean, e.P95 = tables.Number(drive.Sum(k.need)/float64(len(k.need))), tables.Number(quantile(k.need, 0.95))
	}
	c := cellOf(s.target, i, e)
	switch c.Verdict = s.refuses(i); {
	case c.Verdict != "":
	case s.retard[i] < smallest:
		c.Verdict = Elsewhere
	default:
		// To the nearest step, where the bound lets it.
		c.To, c.Verdict = retarded(s.target, c.From, min(s.opt.Bound, float64(s.retard[i]*s.opt.Gain)+s.target.Resolution()/2))
	}
	return c
}

// refuses is why a cell may not be retarded; "" where it may: knock in two visits, and no
// lean mixture. It is what law 7 asks of a cell.
func (s *sparkDrive) refuses(i int) string {
	switch k := &s.corners[i]; {
	// The order is from what was seen to what it allows: the first that holds is the reason.
	case k.seconds == 0:
		return NoSamples
	case k.visits == 0 && k.lifts > 0:
		return AfterLift
	case k.visits == 0 && k.decays:
		return Decaying
	case k.visits == 0 || !s.edit:
		return NotPersistent
	case k.lean1() > leanMost:
		return Lean
	case !k.persistent():
		return NotPersistent
	case k.visits < max(2, s.opt.MinVisits):
		return FewVisits
	case !s.placed(i):
		return Unplaced
	}
	return ""
}

// name says by their places what the counts hide: single visits with much
// retard, cells that want fuel first, and steps that the edits make.
func (s *sparkDrive) name(r *Report) {
	var lean, step []string
	for i := range s.corners {
		k := &s.corners[i]
		switch v := r.Cells[i].Verdict; {
		case v == FewVisits && k.most >= singleFrom:
			r.Notes.Addf("one visit needed %.1f deg less at %s %s: too little for an edit; drive there again", k.most, s.target.Where(i), s.target.Place(i))
		case v == Lean:
			lean = append(lean, s.target.Where(i)+" "+s.target.Place(i))
		}
	}
	// Less spark would hide a lean mixture for a while and heat what comes after it.
	if len(lean) > 0 {
		r.Notes.Add("fix fuel first, the mixture is lean by more than 3 %, at " + strings.Join(lean, "; "))
	}
	for i := range r.Cells {
		for _, j := range []int{i + 1, i + s.target.Columns()} {
			if j == i+1 && j%s.target.Columns() == 0 || j >= len(r.Cells) {
				continue
			}
			was, is := math.Abs(r.Cells[j].From-r.Cells[i].From), math.Abs(r.Cells[j].To-r.Cells[i].To)
			// Steps that were there before are the table's own.
			if is > was+stepFrom && is > 2*stepFrom {
				step = append(step, fmt.Sprintf("%.1f deg (was %.1f) between %s and %s", is, was, s.target.Where(i), s.target.Where(j)))
			}
		}
	}
	if len(step) > 0 {
		r.Notes.Add("the edits make steps between neighbours: " + strings.Join(step, "; ") + ". Their neighbours stay as they are because no knock was confirmed there; smooth by hand, only by retard")
	}
}

const stepFrom = 1.5 // degrees by which a step grows before it is named
