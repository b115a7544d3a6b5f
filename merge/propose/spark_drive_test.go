package propose

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"calsplice/merge/testdrive"
	"calsplice/tables"
)

func sparkFrom(t testing.TB, cal *tables.Calibration, plant testdrive.Plant, opt testdrive.DriveOptions) *Proposal {
	t.Helper()
	p, err := SparkFromLogs(context.Background(), cal, logged(t, cal, plant, opt), SparkDefaults())
	if err != nil {
		t.Fatal(err)
	}
	if testing.Verbose() {
		var b bytes.Buffer
		p.Report.WriteText(&b)
		t.Log(b.String())
	}
	return p
}

// TestStaleFuelKnocks: old fuel knocks at load, the proposal takes advance away
// there, and the next drives knock less.
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
		p := sparkFrom(t, cal, plant, testdrive.DriveOptions{Seed: 40 + pass, Minutes: 15})
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
