package cause

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// The regulator's shapes: 300 kPa over a manifold at 30 kPa under 100 kPa of
// atmosphere is 370 kPa without the hose.
func TestHose(t *testing.T) {
	if got, want := hoseOff(300, 100, 30), math.Sqrt(300.0/370)-1; math.Abs(got-want) > 1e-15 {
		t.Errorf("hose off %v, want %v", got, want)
	}
	if got := hoseOff(300, 100, 180); got < 0.1 {
		t.Errorf("without the hose in boost the trim is %v, want fuel added", got)
	}
	if got := (1 + hoseOff(300, 100, 50)) * (1 + hoseOn(300, 100, 50)); math.Abs(got-1) > 1e-15 {
		t.Errorf("the two are not each other's inverse: %v", got)
	}
}

// A limit is where readings pile up at the end; a limit cycle's peak is none.
func TestLimits(t *testing.T) {
	var held, cycling limits
	for i := range 600 {
		held.add(math.Min(9.375, 0.78125*math.Floor(6+8*math.Sin(float64(i)/40))))
		cycling.add(0.78125 * math.Floor(14+4*math.Sin(float64(i)/5)))
	}
	if !held.stands(9.375, 1) || held.stands(9.375, -1) || held.stands(8.59375, 1) {
		t.Error("a trim held at 9.4 % is not told")
	}
	for v := range cycling.count {
		if cycling.stands(v, 1) {
			t.Errorf("a limit cycle's %v %% is told as a limit", v)
		}
	}
}

// Two faults at once, neither of which explains the trims alone.
func TestTogether(t *testing.T) {
	cal := testdrive.Four()
	plant := testdrive.Plant{Truth: cal, Fault: testdrive.Fault{FlowScale: 1.12, Offset: 0.22}}
	l := testdrive.Drive(cal, plant, testdrive.DriveOptions{Seed: 2, Minutes: 20, Drift: 0.003})
	res := mustExplain(t, cal, onDisk(t, l))
	if p := res.Together; p == nil || p.Causes != [2]Cause{InjectorOffset, FlowScale} && p.Causes != [2]Cause{FlowScale, InjectorOffset} {
		t.Errorf("flow and offset both wrong: %s", list(res))
	}
	// Flow is 12 % over the table, the offset 0.22 ms: trim = 1/1.12 − 1 + 0.22/p.
	for _, f := range res.Found[:2] {
		want, within := 100*(1/1.12-1), 0.6
		if f.Cause == InjectorOffset {
			want, within = 0.22, 0.015
		}
		if c := f.Coefficients[0]; math.Abs(c.Value-want) > within {
			t.Errorf("%s is %v, want %.3f", f.Cause, c, want)
		}
	}
}

// What stops propose: banks that differ, mechanical faults, a hose lost in boost.
func TestGates(t *testing.T) {
	drive := func(cal *tables.Calibration, p testdrive.Plant) *Result {
		p.Truth = cal
		return mustExplain(t, cal, onDisk(t, testdrive.Drive(cal, p, testdrive.DriveOptions{Seed: 6, Minutes: 8, Hz: 5})))
	}
	for _, c := range []struct {
		why                      string
		cal                      *tables.Calibration
		plant                    testdrive.Plant
		lead                     Cause
		mechanical, lean, differ bool
	}{
		{"wrong flow is a table's business", testdrive.Four(), testdrive.Plant{Fault: testdrive.Fault{FlowScale: 0.9}}, FlowScale, false, false, false},
		{"a lost hose on an engine without boost", testdrive.Six(), testdrive.Plant{Fault: testdrive.Fault{HoseOff: true}}, PressureReference, true, false, false},
		{"a lost hose in boost", testdrive.Turbo(), testdrive.Plant{Boost: 60, Fault: testdrive.Fault{HoseOff: true}}, PressureReference, true, true, false},
		{"one weak bank", testdrive.Six(), testdrive.Plant{Banks: 2, Fault: testdrive.Fault{Bank2: 0.08}}, BankDifference, true, false, true},
		{"wrong flow and banks apart", testdrive.Six(), testdrive.Plant{Banks: 2, Fault: testdrive.Fault{FlowScale: 0.85, Bank2: 0.05}}, FlowScale, true, false, true},
		{"healthy banks", testdrive.Six(), testdrive.Plant{Banks: 2}, None, false, false, false},
	} {
		res := drive(c.cal, c.plant)
		if res.Leading().Cause != c.lead || res.Mechanical() != c.mechanical || res.LeanInBoost() != c.lean || res.BanksDiffer() != c.differ {
			t.Errorf("%s: mechanical %v, lean in boost %v, banks differ %v: %s", c.why, res.Mechanical(), res.LeanInBoost(), res.BanksDiffer(), list(res))
		}
	}
}

// Banks that differ are to be compared, whatever leads.
func TestNextSteps(t *testing.T) {
	cal := testdrive.Six()
	p := testdrive.Plant{Truth: cal, Banks: 2, Fault: testdrive.Fault{FlowScale: 0.85, Bank2: 0.05}}
	res := mustExplain(t, cal, onDisk(t, testdrive.Drive(cal, p, testdrive.DriveOptions{Seed: 6, Minutes: 8, Hz: 5})))
	s := strings.Join(res.NextSteps(), "\n")
	if !strings.Contains(s, "Do not change a table") || !strings.Contains(s, "apart: compare banks") {
		t.Errorf("orders: %s", s)
	}
}

// A leak is not offered where air is not metered, however the log spells air.
func TestOffered(t *testing.T) {
	cal := testdrive.Six()
	l := testdrive.Drive(cal, testdrive.Plant{Truth: cal}, testdrive.DriveOptions{Seed: 1, Minutes: 8, Without: []string{"air_flow"}})
	res := mustExplain(t, cal, onDisk(t, l))
	for _, f := range res.Found {
		if f.Cause == UnmeteredAir || f.Cause == AirMeter {
			t.Errorf("%s is offered on speed-density air", f.Cause)
		}
	}
	if len(res.Found) < 3 {
		t.Errorf("%d causes, want three at least", len(res.Found))
	}
	why := fmt.Sprint(res.Unexamined)
	if !strings.Contains(why, "not metered upstream") || !strings.Contains(why, "one bank only") {
		t.Errorf("not examined: %s", why)
	}
}

// Each thing that a log or a calibration can lack or have wrong is one clear line.
func TestBadInput(t *testing.T) {
	cal := testdrive.Four()
	good := testdrive.Drive(cal, testdrive.Plant{Truth: cal, Fault: testdrive.Fault{FlowScale: 0.93}}, testdrive.DriveOptions{Seed: 1, Minutes: 3})
	edit := func(channel string, f func(float64) float64) *testdrive.Log {
		c := testdrive.Drive(cal, testdrive.Plant{Truth: cal, Fault: testdrive.Fault{FlowScale: 0.93}}, testdrive.DriveOptions{Seed: 1, Minutes: 3})
		for _, name := range strings.Split(channel, ",") {
			for i, v := range c.Column(name) {
				c.Column(name)[i] = f(v)
			}
		}
		return c
	}
	always := func(v float64) func(float64) float64 { return func(float64) float64 { return v } }
	for _, c := range []struct {
		why, want string
		cal       *tables.Calibration
		log       *testdrive.Log
	}{
		{"no trims", "the log has no fuel trims", cal, testdrive.Drive(cal, testdrive.Plant{Truth: cal},
			testdrive.DriveOptions{Seed: 1, Minutes: 2, Without: []string{"short_trim_1", "long_trim_1"}})},
		{"open loop only", "none of 1800 rows is closed-loop evidence: 1800 not closed loop", cal, edit("fuel_status", always(4))},
		{"trims that never move", "every fuel trim is 0 in closed loop", cal, edit("short_trim_1,long_trim_1", always(0))},
		{"an offset longer than the pulses", "not above the offset of table injector.offset", testdrive.Scaled(cal, "injector.offset", 6, 0), good},
	} {
		path := onDisk(t, c.log)
		_, err := explainFile(c.cal, path)
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want one line with %q", c.why, err, c.want)
		}
		if err != nil && !strings.HasPrefix(err.Error(), path) {
			t.Errorf("%s: %v does not name the log", c.why, err)
		}
	}
	if _, err := explainFile(testdrive.Scaled(cal, "injector.offset", 6, 0), onDisk(t, good)); err != nil {
		var line int
		if _, e := fmt.Sscanf(err.Error()[strings.Index(err.Error(), ".csv:")+5:], "%d", &line); e != nil || line < 2 {
			t.Errorf("%v names no line of the log", err)
		}
	}
}

// Trims at their limit are said, and the cause is still told.
func TestSaturated(t *testing.T) {
	cal := testdrive.Four()
	plant := testdrive.Plant{Truth: cal, Fault: testdrive.Fault{Leak: 1.1}}
	l := testdrive.Drive(cal, plant, testdrive.DriveOptions{Seed: 3, Minutes: 12, TrimLimit: 10})
	res := mustExplain(t, cal, onDisk(t, l))
	if res.Leading().Cause != UnmeteredAir || res.AtLimit < 0.1 {
		t.Errorf("at limit %.2f: %s", res.AtLimit, list(res))
	}
	if s := strings.Join(res.Cautions, "\n"); !strings.Contains(s, "are at their limit") {
		t.Errorf("limits are not said: %s", s)
	}
}

// A trim that is the same everywhere, and hardly worth a repair, is not put down
// to a shape that overshoots it.
func TestSmallAndConstant(t *testing.T) {
	for seed := range uint64(12) {
		d := steadyFor(FlowScale, rand.New(rand.NewPCG(seed, 3)))
		d.size, d.noise, d.boost = 1.3+0.1*float64(seed%4), 0.1, false
		res := d.result()
		if c := res.Leading().Cause; c != FlowScale && c != None {
			t.Errorf("seed %d, %.1f %%: %s", seed, d.size, list(res))
		}
	}
}

// A logged rail pressure that falls under load is named and settles the matter.
func TestRailLogged(t *testing.T) {
	cal := testdrive.Turbo()
	plant := testdrive.Plant{Truth: cal, Boost: 60, Fault: testdrive.Fault{SupplyLimit: 1.5}}
	l := testdrive.Drive(cal, plant, testdrive.DriveOptions{Seed: 3, Minutes: 12, RailSensor: true})
	res := mustExplain(t, cal, onDisk(t, l))
	if f := res.Leading(); f.Cause != SupplyLimit || f.Shape != "as the logged rail pressure falls" {
		t.Errorf("%s by %q", list(res), f.Shape)
	}
	if !strings.Contains(res.Verdict, "as the logged rail pressure falls") || !res.Certain {
		t.Errorf("certain %v: %s", res.Certain, res.Verdict)
	}
}

// A pump that fails only at full load, where the loop is open, shows by a
// wideband sensor and not without; a sensor that is off is not believed.
func TestWideband(t *testing.T) {
	cal := testdrive.Four()
	plant := testdrive.Plant{Truth: cal, Fault: testdrive.Fault{SupplyLimit: 2.3}}
	opt := testdrive.DriveOptions{Seed: 8, Minutes: 16, Hz: 5}
	if res := mustExplain(t, cal, onDisk(t, testdrive.Drive(cal, plant, opt))); res.Leading().Cause != None {
		t.Errorf("without the sensor: %s", list(res))
	}
	opt.Wideband = true
	l := testdrive.Drive(cal, plant, opt)
	res := mustExplain(t, cal, onDisk(t, l))
	if res.Leading().Cause != SupplyLimit {
		t.Errorf("with the sensor: %s", list(res))
	}
	for i := range l.Column("lambda") {
		l.Column("lambda")[i] *= 1.07
	}
	res = mustExplain(t, cal, onDisk(t, l))
	if s := strings.Join(res.Cautions, "\n"); res.Leading().Cause != None || !strings.Contains(s, "it is not used") {
		t.Errorf("with a sensor that is off: %s; %s", list(res), s)
	}
}

// Injectors at their own limit are named as that, not as a pump's.
func TestOwnLimit(t *testing.T) {
	d := steadyFor(SupplyLimit, rand.New(rand.NewPCG(5, 77)))
	d.boost, d.size = true, 15
	points := d.points()
	for _, p := range points {
		p.Duty = math.Min(97, 3*p.Duty)
	}
	res := &Result{}
	r := newRows(points, d.banks)
	r.rank(res, &facts{rail: d.rail, metered: true})
	r.describe(res, &facts{})
	if f := res.Leading(); f.Cause != SupplyLimit || f.OwnLimit <= dutyLimit || !strings.Contains(res.Verdict, "the injectors' own") {
		t.Errorf("%s: %q", list(res), res.Verdict)
	}
}

// A log that can show little is still answered with a ranking of three.
func TestThreeCauses(t *testing.T) {
	cal := testdrive.Six()
	l := testdrive.Drive(cal, testdrive.Plant{Truth: cal}, testdrive.DriveOptions{Seed: 1, Minutes: 6, Hz: 5,
		Without: []string{"air_flow", "air_charge", "pulse_width", "manifold_pressure"}})
	res := mustExplain(t, cal, onDisk(t, l))
	if len(res.Found) < 3 || !strings.HasPrefix(res.Found[2].Evidence[0], "not examined: ") {
		t.Errorf("%v", res.Found)
	}
}

// The JSON is what machines were promised, and the same bytes each time.
func TestJSON(t *testing.T) {
	cal := testdrive.Four()
	path := onDisk(t, testdrive.Drive(cal, testdrive.Plant{Truth: cal, Fault: testdrive.Fault{Leak: 0.4}}, testdrive.DriveOptions{Seed: 9, Minutes: 10}))
	one, err := json.Marshal(mustExplain(t, cal, path))
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		if other, _ := json.Marshal(mustExplain(t, cal, path)); string(other) != string(one) {
			t.Fatal("the same log gives other bytes")
		}
	}
	var out struct {
		Causes []struct {
			Cause    Cause
			Share    *float64
			Margin   *float64
			Alike    []string
			Evidence []string
			Test     string
		}
	}
	if err := json.Unmarshal(one, &out); err != nil {
		t.Fatal(err)
	}
	if len(out.Causes) < 3 {
		t.Fatalf("%d causes", len(out.Causes))
	}
	for i, c := range out.Causes {
		if c.Share == nil || c.Margin == nil || c.Alike == nil || c.Evidence == nil || c.Test == "" {
			t.Errorf("%s lacks a field", c.Cause)
		}
		if i > 0 && *c.Share > *out.Causes[i-1].Share {
			t.Errorf("%s is out of order", c.Cause)
		}
	}
}

// Real open drive logs, from engines whose calibration nobody has: whatever is
// said of them is a number, in order, and the same again.
func TestRealLogs(t *testing.T) {
	plain, err := tables.NewCalibration(tables.Contents{})
	if err != nil {
		t.Fatal(err)
	}
	direct := filepath.Join("..", "..", "testdata", "logs", "log-g.csv")
	if _, err := explainFile(plain, direct); err == nil || !strings.Contains(err.Error(), "only port injection is supported") {
		t.Errorf("a direct-injection log: %v", err)
	}
	for _, name := range []string{"a", "b", "c", "h"} {
		path := filepath.Join("..", "..", "testdata", "logs", "log-"+name+".csv")
		res := mustExplain(t, plain, path)
		last := 1.0
		for _, f := range res.Found {
			if !(f.Share >= 0 && f.Share <= last) || math.IsNaN(f.Margin) || math.IsNaN(f.Effect) {
				t.Errorf("log %s: %s has share %v, margin %v, effect %v", name, f.Cause, f.Share, f.Margin, f.Effect)
			}
			last = f.Share
		}
		if len(res.Found) < 3 || len(res.Found)+len(res.Unexamined) != len(allCauses()) {
			t.Errorf("log %s: %d causes, %d not examined, of %d", name, len(res.Found), len(res.Unexamined), len(allCauses()))
		}
		if b := res.Banks; name == "h" && b != nil {
			t.Errorf("log %s has one bank's trims", name)
		}
	}
}

// Two logs of one drive say what the whole says: the points are the same but at
// the cut.
func TestLogsInParts(t *testing.T) {
	cal := testdrive.Four()
	path := onDisk(t, testdrive.Drive(cal, testdrive.Plant{Truth: cal, Fault: testdrive.Fault{Leak: 0.4}}, testdrive.DriveOptions{Seed: 9, Minutes: 16}))
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(text), "\n")
	first, second := filepath.Join(t.TempDir(), "a.csv"), filepath.Join(t.TempDir(), "b.csv")
	half := len(lines) / 2
	if os.WriteFile(first, []byte(strings.Join(lines[:half], "")), 0o666) != nil ||
		os.WriteFile(second, []byte(lines[0]+strings.Join(lines[half:], "")), 0o666) != nil {
		t.Fatal("cannot write")
	}
	whole, parts := mustExplain(t, cal, path), mustExplain(t, cal, first, second)
	a, b := whole.Leading(), parts.Leading()
	if a.Cause != b.Cause || math.Abs(a.Coefficients[0].Value-b.Coefficients[0].Value) > 0.02 || len(parts.Logs) != 2 {
		t.Errorf("whole: %s %v; parts: %s %v", a.Cause, a.Coefficients, b.Cause, b.Coefficients)
	}
}

// BenchmarkExplain25Minutes reads and explains a 25-minute log at 25 Hz.
func BenchmarkExplain25Minutes(b *testing.B) {
	cal := testdrive.Four()
	path := onDisk(b, testdrive.Drive(cal, testdrive.Plant{Truth: cal, Fault: testdrive.Fault{Leak: 0.4}}, testdrive.DriveOptions{Seed: 9, Minutes: 25, Hz: 25}))
	for b.Loop() {
		mustExplain(b, cal, path)
	}
}
