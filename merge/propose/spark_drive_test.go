package propose

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"calsplice/interp/cells"
	"calsplice/merge/testdrive"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

func sparkFrom(t testing.TB, cal *tables.Calibration, plant testdrive.Plant, opt testdrive.DriveOptions) *Proposal {
	t.Helper()
	p, err := sparkFromDrive(context.Background(), cal, logged(t, cal, plant, opt), SparkDefaults())
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestStaleFuelKnocks: old fuel knocks at load, and the table is not changed for
// it. Where somebody insists, advance is taken away there, and the next drives
// knock less.
func TestStaleFuelKnocks(t *testing.T) {
	if testing.Short() {
		t.Skip("drives for seconds")
	}
	truth := testdrive.Turbo()
	plant := testdrive.Plant{Truth: truth, Boost: 60, Fault: testdrive.Fault{OldFuel: 8}}
	knocks := func(cal *tables.Calibration, seed uint64) (sum float64) {
		l := testdrive.Drive(cal, plant, testdrive.DriveOptions{Seed: seed, Minutes: 15})
		for _, v := range l.Column("knock_retard") {
			sum += v
		}
		return sum / float64(l.Rows())
	}
	cal := truth
	before := knocks(cal, 50)
	for pass := range uint64(3) {
		logs := logged(t, cal, plant, testdrive.DriveOptions{Seed: 40 + pass, Minutes: 15})
		opt := SparkDefaults()
		if _, err := sparkFromDrive(context.Background(), cal, logs, opt); pass == 0 && (err == nil || !strings.Contains(err.Error(), "low-octane")) {
			t.Fatalf("the table is changed for stale fuel: %v", err)
		}
		opt.DespiteCause = true
		p, err := sparkFromDrive(context.Background(), cal, logs, opt)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range p.Report.Edits {
			if e.To > e.From {
				t.Errorf("pass %d adds advance: %+v", pass, e)
			}
		}
		if pass == 0 && len(p.Report.Edits) == 0 {
			t.Fatal("nothing is proposed for an engine that knocks")
		}
		cal = applied(t, cal, p)
	}
	after := knocks(cal, 50)
	t.Logf("mean retard %.3f deg before, %.3f after three passes", before, after)
	if after > 0.5*before {
		t.Errorf("mean retard %.3f deg before, %.3f after three passes: want half at most", before, after)
	}
}

func TestHealthySparkStays(t *testing.T) {
	for seed := range uint64(2) {
		truth := testdrive.Four()
		p := sparkFrom(t, truth, testdrive.Plant{Truth: truth}, testdrive.DriveOptions{Seed: seed, Minutes: 20})
		if len(p.Report.Edits) > 0 || len(p.Report.First) > 0 {
			t.Errorf("seed %d: %d edits and %q on a healthy engine", seed, len(p.Report.Edits), p.Report.First)
		}
	}
}

func TestOneLargeEventIsTold(t *testing.T) {
	truth := testdrive.Four()
	p := sparkFrom(t, truth, testdrive.Plant{Truth: truth, Fault: testdrive.Fault{SingleKnock: 7}}, testdrive.DriveOptions{Seed: 2, Minutes: 20})
	if len(p.Report.Edits) > 0 {
		t.Errorf("one event is proposed for: %v", p.Report.Edits)
	}
	if len(p.Report.First) != 1 || !strings.Contains(p.Report.First[0], "stop, inspect: knock took 7.0 deg away at high load") {
		t.Errorf("first %q", p.Report.First)
	}
}

func TestAnotherSparkTableDrove(t *testing.T) {
	truth := testdrive.Four()
	p := sparkFrom(t, truth, testdrive.Plant{Truth: truth, Fault: testdrive.Fault{SparkMissing: 6, OldFuel: 8}}, testdrive.DriveOptions{Seed: 2, Minutes: 10})
	if len(p.Report.First) == 0 || !strings.Contains(p.Report.First[0], "another limit was in charge") || len(p.Report.Edits) > 0 {
		t.Errorf("first %q, edits %v", p.Report.First, p.Report.Edits)
	}
}

// TestStandingRetard: retard that was there when a cell was entered is evidence
// where it stands, and none where it decays. In each of six rounds knock is
// heard at 2000 r/min and the drive goes on to 3000.
func TestStandingRetard(t *testing.T) {
	cal := calWith(t, sparkTables(nil)...)
	for _, row := range []struct {
		name   string
		retard func(seconds float64) float64 // since the knock was heard
		stay   float64                       // s at 3000 r/min
		want   string
	}{
		{"stands", func(float64) float64 { return 3 }, 20, Proposed},
		{"stands through short stays: nothing was heard there anew", func(float64) float64 { return 3 }, 4, Decaying},
		{"stands, between two steps", func(s float64) float64 { return 3 + 0.1*float64(int(10*s)%3) }, 20, Proposed},
		{"decays by 0.7 deg/s", func(s float64) float64 { return max(0, 9-0.7*s) }, 20, Decaying},
		{"decays by 0.25 deg/s in steps of 0.5", func(s float64) float64 { return max(0, 9-0.5*math.Floor(s/2)) }, 20, Decaying},
	} {
		var b bytes.Buffer
		b.WriteString("Time [s],Engine Speed [r/min],Air charge [mg],Throttle [%],Knock Retard [deg],Spark Advance [deg]\n")
		now := 0.0
		hold := func(seconds, speed, charge, advance float64, retard func(s float64) float64) {
			for i := range int(seconds * 10) {
				v := retard(float64(i) / 10)
				fmt.Fprintf(&b, "%.1f,%g,%g,40,%.2f,%.2f\n", now, speed, charge, v, advance-v)
				now += 0.1
			}
		}
		for range 6 {
			hold(20, 1000, 200, 20, func(float64) float64 { return 0 })
			hold(2, 2000, 500, 14, row.retard)
			hold(row.stay, 3000, 500, 18, func(s float64) float64 { return row.retard(2 + s) })
		}
		logs := []cells.Log{{Name: "drive.csv", Open: func() (*drivelog.Log, error) {
			return drivelog.Open("-", bytes.NewReader(b.Bytes()), drivelog.Options{Workers: 1})
		}}}
		p, err := sparkFromDrive(context.Background(), cal, logs, SparkDefaults())
		if err != nil {
			t.Fatal(err)
		}
		if c := p.Report.Cells[5]; c.Verdict != row.want {
			t.Errorf("%s: %s, want %s", row.name, c.Verdict, row.want)
		}
	}
}
