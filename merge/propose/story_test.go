package propose

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/cells"
	"calsplice/merge/cause"
	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// story is an engine with something wrong, and what an honest answer to its
// drive may be.
type story struct {
	name  string
	cal   *tables.Calibration // the truth where nil
	plant testdrive.Plant
	opt   testdrive.DriveOptions
	by    string // cells where empty

	may     []string    // the causes that may be named with confidence, "a+b" for two together
	must    bool        // one of them must be named with confidence
	leads   string      // the cause that leads, sure or not; "" for any
	edits   tables.Role // the only role that may be edited, and must be where a name must; "" for no edit
	refused []string    // what a refusal says
	changed float64     // s at which the drive is found to change; 0 for never
	says    string      // what the headline says
}

// answered drives a story and asks both commands.
func (s *story) answered(t *testing.T, seed uint64) (*cause.Result, *testdrive.Log, *Proposal, error) {
	t.Helper()
	if s.opt.Minutes == 0 {
		s.opt.Minutes = 20
	}
	s.opt.Seed, s.opt.Drift = seed, 0.002
	if s.cal == nil {
		s.cal = s.plant.Truth
	}
	l := testdrive.Drive(s.cal, s.plant, s.opt)
	var b bytes.Buffer
	if err := l.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	logs := asLog(s.cal, b.Bytes())
	res, err := cause.Explain(context.Background(), s.cal, logs, cause.Options{})
	if err != nil {
		t.Fatalf("%s: %v", s.name, err)
	}
	by := s.by
	if by == "" {
		by = "cells"
	}
	p, err := fuelFrom(context.Background(), s.cal, logs, by, Defaults())
	return res, l, p, err
}

// sureOf is the cause that a result names with confidence, or "".
func sureOf(res *cause.Result) string {
	switch p := res.Together; {
	case !res.Certain:
		return ""
	case p != nil:
		names := []string{string(p.Causes[0]), string(p.Causes[1])}
		slices.Sort(names)
		return strings.Join(names, "+")
	}
	return string(res.Leading().Cause)
}

// changedAt is the field of the promised JSON, NaN where it is null.
func changedAt(t *testing.T, res *cause.Result) float64 {
	t.Helper()
	text, err := json.Marshal(res)
	if err != nil {
		t.Fatal(err)
	}
	var out struct {
		At *float64 `json:"changed_at"`
	}
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	if out.At == nil {
		return math.NaN()
	}
	return *out.At
}

var percent = regexp.MustCompile(`[0-9.]+ %`)

func (s *story) check(t *testing.T, seed uint64) {
	t.Helper()
	res, l, p, err := s.answered(t, seed)
	fail := func(what string, args ...any) {
		t.Helper()
		t.Errorf("%s, seed %d: "+what+"\n\t%s", append(append([]any{s.name, seed}, args...), res.Verdict)...)
	}
	sure := sureOf(res)
	if sure != "" && !slices.Contains(s.may, sure) {
		fail("%s is named with confidence", sure)
	}
	if s.must && sure == "" {
		fail("nothing is named, expected %v", s.may)
	}
	if lead := string(res.Leading().Cause); s.leads != "" && lead != s.leads {
		fail("%s leads, expected %s", lead, s.leads)
	}
	if sure == "" && percent.MatchString(res.Verdict) {
		fail("a number of a cause that is not sure stands in the headline")
	}
	if sure == "" && res.Settle == "" {
		fail("no test would settle it")
	}
	if !strings.Contains(res.Verdict, s.says) {
		fail("the headline does not say %q", s.says)
	}
	if at := changedAt(t, res); s.changed == 0 && at == at || s.changed > 0 && !(math.Abs(at-s.changed) < 90) {
		fail("changed at %v s, expected %v", at, s.changed)
	}
	s.checkEdits(t, seed, p, err, l)
}

func (s *story) checkEdits(t *testing.T, seed uint64, p *Proposal, err error, l *testdrive.Log) {
	t.Helper()
	for _, want := range s.refused {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s, seed %d: %v, want %q", s.name, seed, err, want)
		}
	}
	if err != nil || len(p.Changes.Edits) == 0 {
		if s.edits != "" && s.must {
			t.Errorf("%s, seed %d: no edit of %s: %v", s.name, seed, s.edits, err)
		}
		return
	}
	if s.edits == "" {
		t.Errorf("%s, seed %d: %d edits", s.name, seed, len(p.Changes.Edits))
		return
	}
	for _, e := range p.Changes.Edits {
		role := s.cal.Table(e.On()).Role()
		if role != s.edits && !(s.by == "fit" && role == tables.InjectorOffset) {
			t.Errorf("%s, seed %d: an edit of %s, want %s", s.name, seed, role, s.edits)
		}
	}
	was, now := testdrive.Needed(s.cal, s.plant, l), testdrive.Needed(applied(t, s.cal, p), s.plant, l)
	if now.Mean > was.Mean || math.Abs(now.Full) > math.Abs(was.Full)+1.5 {
		t.Errorf("%s, seed %d: worse off: mean size of the trim %.2f to %.2f %%, full load %+.2f to %+.2f %%", s.name, seed, was.Mean, now.Mean, was.Full, now.Full)
	}
}

// tell runs stories over two seeds each.
func tell(t *testing.T, stories ...story) {
	t.Helper()
	if testing.Short() {
		t.Skip("drives for seconds")
	}
	for i := range stories {
		for seed := range uint64(2) {
			stories[i].check(t, 40+seed)
		}
	}
}

var (
	four, six, boosted = testdrive.Four(), testdrive.Six(), testdrive.Turbo()
	fourPlant          = testdrive.Plant{Truth: four}
	sixPlant           = testdrive.Plant{Truth: six}
)

func with(p testdrive.Plant, f testdrive.Fault) testdrive.Plant {
	p.Fault = f
	return p
}

// A turbo engine whose regulator has lost its hose, on a flat motorway: the drive
// cannot tell, and no fuel is taken from an engine that is lean in boost.
func TestNoEditWhileItCannotTell(t *testing.T) {
	for _, by := range []string{"cells", "fit"} {
		tell(t, story{name: "hose off on a flat motorway, by " + by, by: by, plant: testdrive.Plant{Truth: boosted, Boost: 70, Fault: testdrive.Fault{HoseOff: true}},
			opt: testdrive.DriveOptions{Route: testdrive.Motorway}, may: []string{"pressure-reference"}})
	}
}

// What an air meter's curve can be bent to fit is not the air meter; and a meter
// that is bent is corrected in its own table, not in the injectors'.
func TestAirMeterIsNoCatchAll(t *testing.T) {
	low := testdrive.Scaled(four, "injector.flow", 1.07, 0)
	tell(t,
		story{name: "flow and leak", cal: low, plant: with(fourPlant, testdrive.Fault{Leak: 0.35}), may: []string{"flow-scale+unmetered-air"}},
		story{name: "flow and pump", cal: low, plant: with(fourPlant, testdrive.Fault{SupplyLimit: 1.3, SupplySlope: 0.3}), may: []string{"flow-scale+supply-limit"}},
		story{name: "hunting idle with a leak", plant: with(fourPlant, testdrive.Fault{Leak: 0.35, Hunting: 150}), may: []string{"unmetered-air"}},
		story{name: "exhaust leak at idle", plant: with(fourPlant, testdrive.Fault{ExhaustLeak: 0.1}), may: []string{"unmetered-air"}},
		story{name: "a bent meter", plant: with(fourPlant, testdrive.Fault{MeterError: func(q float64) float64 {
			return 0.09 * math.Exp(-math.Pow(math.Log(q/11)/0.5, 2))
		}}), may: []string{"air-meter"}, must: true, edits: tables.AirMeter},
	)
}

// On an engine whose air is computed from the manifold's pressure, a dip in
// volumetric efficiency is that, and leaves the injectors alone.
func TestVolumetricEfficiencyIsNoFlow(t *testing.T) {
	dip := func(speed, _ float64) float64 { return -0.1 * math.Exp(-math.Pow((speed-1900)/450, 2)) }
	place := func(speed, kPa float64) float64 {
		return 0.1 * math.Exp(-math.Pow((speed-2100)/500, 2)) * math.Exp(-math.Pow((kPa-52)/18, 2))
	}
	tell(t,
		story{name: "a dip over speed", plant: with(sixPlant, testdrive.Fault{Efficiency: dip}), may: []string{"volumetric-efficiency"}, must: true, edits: tables.AirVolumetricEfficiency},
		story{name: "one place", plant: with(sixPlant, testdrive.Fault{Efficiency: place}), may: []string{"volumetric-efficiency"}, leads: "volumetric-efficiency", edits: tables.AirVolumetricEfficiency},
	)
}

// A fault that starts half-way through the drive is found to, and nothing is
// certain over the whole.
func TestDriveThatChanges(t *testing.T) {
	tell(t,
		story{name: "hose off at minute 12", plant: testdrive.Plant{Truth: six, Banks: 2, Later: &testdrive.Fault{HoseOff: true}, LaterAt: 12}, changed: 720},
		story{name: "a leak at minute 8", plant: testdrive.Plant{Truth: four, Later: &testdrive.Fault{Leak: 0.5}, LaterAt: 8}, changed: 480},
		story{name: "no change", plant: fourPlant, may: []string{"none"}, must: true, leads: "none"},
	)
}

// What passes and what only part of the drive has is a doubt, and edits nothing.
func TestDoubtsAreNoCause(t *testing.T) {
	purge := func(steady bool) testdrive.DriveOptions {
		return testdrive.DriveOptions{Purge: !steady, PurgeSteady: steady, Vapour: 0.08, Without: []string{"purge"}}
	}
	tell(t,
		story{name: "heavy purge, not logged", plant: fourPlant, opt: purge(false), may: []string{"none"}},
		story{name: "steady purge, not logged", plant: fourPlant, opt: purge(true)},
		story{name: "steady purge, not logged, speed and density", plant: sixPlant, opt: purge(true)},
		story{name: "open-throttle pulsation", plant: with(fourPlant, testdrive.Fault{Pulsation: 0.1}), may: []string{"none"}},
		story{name: "warm-up fuel without a coolant channel", plant: with(fourPlant, testdrive.Fault{WarmUp: 0.25}),
			opt: testdrive.DriveOptions{Cold: true, Without: []string{"coolant"}}, may: []string{"none"}},
	)
}

// Two faults at once are named together or not at all.
func TestTwoFaults(t *testing.T) {
	flow := testdrive.Scaled(four, "injector.flow", 1.08, 0)
	offset := testdrive.Scaled(four, "injector.offset", 1, -0.15)
	tell(t,
		story{name: "flow and leak", cal: flow, plant: with(fourPlant, testdrive.Fault{Leak: 0.4}), may: []string{"flow-scale+unmetered-air"}, must: true},
		story{name: "flow and pump, rail logged", cal: flow, plant: with(fourPlant, testdrive.Fault{SupplyLimit: 1.3, SupplySlope: 0.3}), opt: testdrive.DriveOptions{RailSensor: true},
			may: []string{"flow-scale+supply-limit"}},
		story{name: "offset and leak", cal: offset, plant: with(fourPlant, testdrive.Fault{Leak: 0.4}), may: []string{"injector-offset+unmetered-air"}},
		story{name: "hose and flow", cal: testdrive.Scaled(six, "injector.flow", 1.08, 0), plant: with(sixPlant, testdrive.Fault{HoseOff: true}),
			may: []string{"flow-scale+pressure-reference"}},
	)
}

// An offset is corrected by fit, and by cells not at all.
func TestOffsetIsCorrectedByFit(t *testing.T) {
	plant := testdrive.Plant{Truth: boosted, Boost: 70, Fault: testdrive.Fault{Offset: 0.16}}
	tell(t,
		story{name: "by cells", plant: plant, may: []string{"injector-offset"}, must: true, refused: []string{"--by fit", "--despite-cause"}},
		story{name: "by fit", by: "fit", plant: plant, may: []string{"injector-offset"}, must: true, edits: tables.InjectorFlow},
	)
}

// A rail pressure that the log shows, or that a gauge read, comes first: what it
// explains is no error of the injectors.
func TestRailPressureComesFirst(t *testing.T) {
	low := testdrive.Plant{Truth: boosted, Boost: 70, Fault: testdrive.Fault{Rail: &tables.RailPressure{Value: 260, Unit: "kPa", RelativeTo: tables.Manifold}}}
	logs := logged(t, boosted, low, testdrive.DriveOptions{Seed: 40, Minutes: 15})
	for _, given := range []float64{0, 260} {
		opt := Defaults()
		opt.RailPressure = given
		p, err := fuelFrom(context.Background(), boosted, logs, "cells", opt)
		edited := err == nil && len(p.Changes.Edits) > 0
		if edited != (given == 0) {
			t.Errorf("a gauge reading of %v kPa: edited %v, %v", given, edited, err)
		}
	}
}

// A rail that is low by the same in boost as at idle follows the manifold: it is
// headlined by the pressure, with boost and without, and is no lost reference.
func TestLowRailInBoost(t *testing.T) {
	low := testdrive.Plant{Truth: boosted, Boost: 70, Fault: testdrive.Fault{Rail: &tables.RailPressure{Value: 260, Unit: "kPa", RelativeTo: tables.Manifold}}}
	tell(t, story{name: "rail at 260 kPa, logged", plant: low, opt: testdrive.DriveOptions{RailSensor: true}, may: []string{"pressure-reference"}, must: true,
		refused: []string{"a fault is repaired, not calibrated away"}, says: "rail pressure is 260 kPa as measured and 300 kPa in the calibration"})
}

// A measured pressure that is off by less than 5 % is no cause of its own, but what
// it explains is no error of the table either: edits are of what is left.
func TestSmallRailDeviationIsTaken(t *testing.T) {
	const kpa, flow = 290.0, 1.06
	plant := testdrive.Plant{Truth: boosted, Boost: 70, Fault: testdrive.Fault{Rail: &tables.RailPressure{Value: kpa, Unit: "kPa", RelativeTo: tables.Manifold}}}
	cal := testdrive.Scaled(boosted, "injector.flow", flow, 0)
	for _, logs := range [][]cells.Log{
		logged(t, cal, plant, testdrive.DriveOptions{Seed: 40, Minutes: 20, RailSensor: true}),
		logged(t, cal, plant, testdrive.DriveOptions{Seed: 40, Minutes: 20}),
	} {
		opt := Defaults()
		opt.RailPressure = kpa // stands only where the log has none
		for _, by := range []string{"cells", "fit"} {
			p, err := fuelFrom(context.Background(), cal, logs, by, opt)
			if err != nil || len(p.Changes.Edits) == 0 {
				t.Fatalf("by %s: %v", by, err)
			}
			want, got := cal.Table("injector.flow").Values()[0]/flow, applied(t, cal, p).Table("injector.flow").Values()[0]
			if math.Abs(got/want-1) > 0.006 { // the pressure alone is worth 1.7 %
				t.Errorf("by %s: flow %v, want %v", by, got, want)
			}
			if !strings.Contains(strings.Join(p.Report.Notes, "\n"), "the measured rail pressure explains +1.7 % of trim") {
				t.Errorf("by %s: %v", by, p.Report.Notes)
			}
		}
	}
}

// What cannot be this engine is refused before any cause.
func TestAnotherEnginesLog(t *testing.T) {
	l := testdrive.Drive(boosted, testdrive.Plant{Truth: boosted, Boost: 70}, testdrive.DriveOptions{Seed: 40, Minutes: 8, RailSensor: true})
	for i, v := range l.Column("rail_pressure") { // 4 to 20 MPa
		l.Column("rail_pressure")[i] = 4000 + 40*v
	}
	var b bytes.Buffer
	if err := l.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	logs := asLog(boosted, b.Bytes())
	for what, run := range map[string]func() error{
		"explain": func() error {
			_, err := cause.Explain(context.Background(), boosted, logs, cause.Options{})
			return err
		},
		"propose": func() error {
			_, err := fuelFrom(context.Background(), boosted, logs, "cells", Defaults())
			return err
		},
	} {
		if err := run(); err == nil || !strings.Contains(err.Error(), "port injection") || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s of a log with a rail at 4 MPa and more: %v, want one line on port injection", what, err)
		}
	}
}

// A meter that reads low at full load, where a wideband sensor sees it, is not
// the pump while no rail pressure is known.
func TestMeterLowAtFullLoadIsNotThePump(t *testing.T) {
	tell(t, story{name: "meter low at full load", plant: with(fourPlant, testdrive.Fault{MeterError: func(q float64) float64 {
		return -0.1 * min(1.2, max(0, (q-15)/30))
	}}), opt: testdrive.DriveOptions{Wideband: true}, may: []string{"air-meter", "none"}})
}

// A table and a rail that are referenced differently are one fault, and a second
// bank that is short of fuel at high flow is remarked on.
func TestOneFaultIsOne(t *testing.T) {
	e := *boosted.Engine()
	e.RailPressure = &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Atmosphere}
	c := boosted.Contents()
	c.Engine = &e
	cal, err := tables.NewCalibration(c)
	if err != nil {
		t.Fatal(err)
	}
	tell(t,
		story{name: "references differ", cal: cal, plant: testdrive.Plant{Truth: boosted, Boost: 70}, may: []string{"pressure-reference"}, leads: "pressure-reference"},
		story{name: "bank 2 short at high flow", plant: testdrive.Plant{Truth: six, Banks: 2, Fault: testdrive.Fault{Bank2: 0.08, Bank2From: 1.2}},
			may: []string{"bank-difference"}, leads: "bank-difference"},
	)
}
