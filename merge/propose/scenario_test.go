// A scenario is a drive that finding causes and proposing corrections are judged by: an
// engine, a fault, a road, a controller and a logger at random, with the truth beside them.
//
// There are two sets. Whoever works on the method looks at Chosen as often as
// it helps; Fresh is looked at once, after the method is fixed. They share no
// seed, and each has engines, controllers and shapes of faults that the other
// does not have. A scenario is what stays (engine, kind of fault, road,
// controller, logger); its drives differ in sizes, length, noise and traffic.
//
// Each scenario is one line of scenario_kinds_test.go: the kind of fault by the name that
// the figures count it under, what the fault needs of an engine or a road to be there
// at all, and how it is put in. A fault also says what an honest answer to it is:
// which causes are true, which names are as right, and where trims alone cannot
// tell. That is the Truth beside the drive.
//
// The last nine kinds are driven by another simulator, scenario_rough_test.go, that was
// made from the formulas alone and shares with merge/testdrive only that of the
// orifice. What a method finds with one and misses with the other it has learned
// from the simulator, and not from the physics.
//
// They leave out knock, whose engines RandomKnock draws, and every
// judgement: whether an answer is right is asked where the figures are made. They stand
// outside the package, and name causes by their words alone: who judges a method must
// not share its thoughts.

package propose_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// Set is which scenarios are drawn.
type Set string

const (
	Chosen Set = "chosen" // to work with
	Fresh  Set = "fresh"  // to be looked at once
)

// Count is how many scenarios a set has.
var Count = len(kinds)

// Scenario is one drive, ready to be driven, and what is true of it.
type Scenario struct {
	Name  string // the set, the numbers, and everything drawn, in words
	Cal   *tables.Calibration
	Truth Truth

	plant   testdrive.Plant
	options testdrive.DriveOptions
	rough   *rough // instead of both, the other simulator; nil for a drive of merge/testdrive
	log     *testdrive.Log

	litres, boost float64
	metered       bool
	fresh         bool
	about         []string
}

// Truth is what a judge may hold an answer against.
type Truth struct {
	Kind    string   // of fault, as in the figures' table
	Causes  []string // none for a healthy engine, two for two faults at once
	Also    []string // names that are as right: what no trim can tell from the cause
	Tables  []string // that hold the fault: the roles whose edit corrects it
	Nature  bool     // a constant that trims cannot tell from flow: its edit is no harm
	Doubt   bool     // nothing but a doubt or none is honest
	Changes bool     // in the midst of the drive
	Apart   string   // why trims alone cannot tell it, and empty where they can
	Flow    float64  // true flow error of the table in per cent of trim; 0 is none
	Offset  float64  // ms
	Leak    float64  // g/s
	Road    testdrive.Route
}

// Single reports whether one cause is true and trims can tell it.
func (t *Truth) Single() bool { return len(t.Causes) == 1 && !t.Nature && !t.Doubt && !t.Changes }

// Draw draws drive number drive of a scenario of a set. The same numbers give the
// same drive.
func Draw(set Set, scenario, drive int) *Scenario {
	seed := map[Set]uint64{Chosen: 0xc05e, Fresh: 0xf4e5}[set]
	stays := rand.New(rand.NewPCG(seed, uint64(scenario)))
	// What stays must not depend on what varies, so that the drives of a scenario are
	// of one engine: two streams, each drawn from in one fixed order.
	varies := rand.New(rand.NewPCG(seed^0xd41e, uint64(scenario)<<16|uint64(drive)))
	s := &Scenario{fresh: set == Fresh}
	f := kinds[scenario%len(kinds)]
	s.Truth.Kind = f.name
	s.engine(stays, f.needs)
	s.road(stays, f.needs)
	s.logger(stays)
	s.control(stays)
	s.options.Seed, s.options.Minutes = varies.Uint64(), between(varies, 15, 30)
	s.options.Drift, s.options.Wander = 0.003, between(varies, 0, 0.005)
	s.Cal = s.plant.Truth
	f.put(s, draw{stays, varies})
	s.Truth.Road = s.options.Route
	if slices.ContainsFunc(s.Truth.Causes, mechanical) {
		s.Truth.Tables = nil // a fault is repaired first
	}
	s.Name = fmt.Sprintf("%s %d/%d %s: %s", set, scenario, drive, f.name, strings.Join(s.about, ", "))
	return s
}

func mechanical(cause string) bool {
	return slices.Contains([]string{"unmetered-air", "pressure-reference", "supply-limit", "bank-difference"}, cause)
}

// CSV drives, and is the log as a logger writes it.
func (s *Scenario) CSV() []byte {
	if s.rough != nil {
		return s.rough.csv()
	}
	var b bytes.Buffer
	s.log = testdrive.Drive(s.Cal, s.plant, s.options)
	s.log.WriteCSV(&b) // which takes everything
	return b.Bytes()
}

// Needed are the trims that the engine of the drive needs under a calibration,
// at the places where [Scenario.CSV] drove it.
func (s *Scenario) Needed(cal *tables.Calibration) testdrive.Needs {
	if s.rough != nil {
		return s.rough.needed(cal)
	}
	return testdrive.Needed(cal, s.plant, s.log)
}

// Repaired are the trims that it would need with nothing wrong but its tables.
func (s *Scenario) Repaired() testdrive.Needs {
	if s.rough != nil {
		return testdrive.Needs{}
	}
	p := s.plant
	// What is wrong with a table stays: it is in the calibration, and not in the part.
	p.Fault, p.Later = testdrive.Fault{}, nil
	return testdrive.Needed(s.Cal, p, s.log)
}

// draw are the random numbers of what stays and of what varies.
type draw struct{ stays, varies *rand.Rand }

func between(r *rand.Rand, low, high float64) float64 { return low + float64((high-low)*r.Float64()) }

func one[T any](r *rand.Rand, of ...T) T { return of[r.IntN(len(of))] }

func sign(r *rand.Rand) float64 { return one(r, -1.0, 1.0) }

func (s *Scenario) say(format string, a ...any) { s.about = append(s.about, fmt.Sprintf(format, a...)) }

// What a fault needs of an engine or a road to be there at all.
type needs int

const (
	anything needs = 0
	meter    needs = 1 << iota
	computed
	hose   // a regulator that follows the manifold
	axis   // flow against differential pressure
	banks  // two
	onRoad // a mixed drive
)

// engine invents an engine.
func (s *Scenario) engine(r *rand.Rand, n needs) {
	cylinders := one(r, 4, 4, 6, 3)
	if s.fresh {
		cylinders = one(r, 4, 5, 8, 2)
	}
	if n&banks != 0 {
		cylinders = one(r, 6, 8)
	}
	volume := between(r, 0.33, 0.58)
	d := testdrive.Design{Name: fmt.Sprintf("%d-cylinder engine", cylinders), Cylinders: cylinders, Litres: float64(cylinders) * volume,
		Rail:   tables.RailPressure{Value: one(r, 250.0, 300, 350, 380, 400), Unit: "kPa", RelativeTo: one(r, tables.Atmosphere, tables.Manifold)},
		FlowBy: one(r, "", tables.DifferentialPressure, tables.DifferentialPressure), BestSpeed: between(r, 2600, 4200),
		OffsetFactor: between(r, 0.7, 1.5)}
	if r.Float64() < 0.3 {
		s.boost = between(r, 40, 90)
	}
	s.metered = r.IntN(2) == 0 && n&computed == 0 || n&meter != 0
	if n&hose != 0 {
		d.Rail.RelativeTo = tables.Manifold
	}
	// A flow of one number is right only where the pressure does not change.
	if n&axis != 0 || d.Rail.RelativeTo != tables.Manifold && d.FlowBy == "" {
		d.FlowBy = tables.DifferentialPressure
		if n&axis == 0 && s.fresh {
			d.FlowBy = tables.ManifoldVacuum
		}
	}
	d.Boost = s.boost
	// Injectors that reach full load at a duty a good engine has: some 5.5 g/s for each
	// litre of a cylinder, and more for its boost.
	d.Rated = volume * between(r, 5.2, 6.2) * (1 + s.boost/90)
	if s.metered {
		d.MeterMost = d.Litres * 70 * (1 + s.boost/110)
	}
	s.litres = d.Litres
	s.plant = testdrive.Plant{Truth: d.Calibration(), Boost: s.boost, Mass: 900 + 420*d.Litres,
		Barometer: one(r, 98.5, 101, 100, 97, 88, 76)}
	// Only engines with two banks can have one that differs.
	if cylinders >= 6 && r.IntN(2) == 0 || n&banks != 0 {
		s.plant.Banks = 2
	}
	s.say("%.1f L %d cylinders, rail %v kPa against %s, flow by %q, metered %v, boost %.0f, %d banks, barometer %v", d.Litres, cylinders, d.Rail.Value,
		d.Rail.RelativeTo, d.FlowBy, s.metered, s.boost, max(1, s.plant.Banks), s.plant.Barometer)
}

func (s *Scenario) road(r *rand.Rand, n needs) {
	s.options.Route = testdrive.Mixed
	// Two drives in three or more are mixed ones, on which a method can be held to a name; the
	// rest shows whether it knows what a drive cannot tell.
	if x := r.Float64(); n&onRoad == 0 && x < 0.35 {
		s.options.Route = one(r, testdrive.Town, testdrive.Town, testdrive.Country, testdrive.Motorway, testdrive.Steady)
	}
	s.options.Cold = r.Float64() < 0.3
	s.options.SteadyBattery = r.Float64() < 0.15
	s.options.Purge = r.IntN(2) == 0
	s.say("route %d, cold %v, purge logged %v", s.options.Route, s.options.Cold, s.options.Purge)
}

// logger leaves channels out, few at a time, and never those without which
// nothing can be said.
func (s *Scenario) logger(r *rand.Rand) {
	o := &s.options
	o.Hz = one(r, 1.0, 2, 5, 10, 10, 20)
	// A logger that polls channels in turn repeats what it read last.
	if o.Hz >= 5 && r.Float64() < 0.15 {
		o.Held = one(r, 0.5, 1)
	}
	o.TrimsAs = one(r, "%", "%", "%", "factor", "100")
	for _, name := range []string{"barometric_pressure", "coolant", "intake_air", "battery", "throttle", "air_charge", "speed", "gear", "spark", "knock_retard"} {
		if r.Float64() < 0.15 {
			o.Without = append(o.Without, name)
		}
	}
	if !s.metered && r.IntN(2) == 0 {
		o.Without = append(o.Without, "air_flow")
	}
	if s.plant.Barometer < 90 { // a log that does not say where it was is another matter
		o.Without = slices.DeleteFunc(o.Without, func(n string) bool { return n == "barometric_pressure" })
	}
	o.RailSensor, o.Wideband = r.Float64() < 0.2, r.Float64() < 0.25
	s.say("%v Hz, held %v s, trims as %s, without %v, rail %v, wideband %v", o.Hz, o.Held, o.TrimsAs, o.Without, o.RailSensor, o.Wideband)
}

func (s *Scenario) control(r *rand.Rand) {
	c := &s.options.Control
	*c = testdrive.Control{Ramp: between(r, 0.012, 0.04), Jump: between(r, 0.004, 0.016), Grid: one(r, 1, 4, 4), Learn: between(r, 8, 30)}
	if s.fresh {
		c.Grid, c.Delay, c.Linear = one(r, 4, 8, 8), between(r, 0, 0.6), r.Float64() < 0.25
	} else if r.Float64() < 0.3 {
		c.Delay = between(r, 0.1, 1)
	}
	c.NoLong = r.Float64() < 0.1
	s.options.Before = one(r, 0.0, 0, 10)
	s.options.TrimLimit = one(r, 25.0, 25, 20)
	s.say("ramp %.3f, jump %.3f, delay %.2f s, linear %v, %d × %d learned (%v) in %.0f s, %v min before", c.Ramp, c.Jump, c.Delay, c.Linear,
		c.Grid, c.Grid, !c.NoLong, c.Learn, s.options.Before)
}

// scaled makes one table of the calibration wrong.
func (s *Scenario) scaled(id string, factor, shift float64) {
	s.Cal = testdrive.Scaled(s.Cal, id, factor, shift)
}

// TestDraw keeps the sets what they claim to be: drives that can be driven, the
// same again for the same numbers, and no scenario in both sets.
func TestDraw(t *testing.T) {
	names := map[string]bool{}
	healthy := 0
	for _, set := range []Set{Chosen, Fresh} {
		for i := range Count {
			s, again, other := Draw(set, i, 1), Draw(set, i, 1), Draw(set, i, 2)
			if s.Name != again.Name || s.options.Seed != again.options.Seed {
				t.Errorf("%s is drawn differently a second time", s.Name)
			}
			if s.options.Seed == other.options.Seed {
				t.Errorf("%s is the same in two drives", s.Name)
			}
			about := s.Name[len(set):]
			if names[about] {
				t.Errorf("%s is in both sets", s.Name)
			}
			names[about] = true
			if s.options.Minutes = 1; s.rough != nil {
				s.rough.minutes = 1
			}
			if rows := bytes.Count(s.CSV(), []byte("\n")); rows < 60 {
				t.Errorf("%s: %d rows in a minute", s.Name, rows)
			}
			if len(s.Truth.Causes) == 0 && !s.Truth.Doubt {
				healthy++
			}
		}
	}
	if healthy != 14 {
		t.Errorf("%d scenarios are of healthy engines, want 14 of %d", healthy, 2*Count)
	}
}
