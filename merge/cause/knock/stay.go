package knock

import (
	"math"

	"calsplice/interp/drive"
	"calsplice/interp/lookup"
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

	joined joined // of no stays where this is one
}

// silent is a stay in which nothing was heard yet.
var silent = Stay{Need: math.NaN(), Quiet: math.Inf(1)}

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

// finish makes means of what are sums by seconds until the drive ends.
func (s *Stay) finish() {
	for _, v := range [...]*float64{&s.Mean, &s.Speed, &s.Charge, &s.Flow, &s.Table, &s.Deficit, &s.Rich} {
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
