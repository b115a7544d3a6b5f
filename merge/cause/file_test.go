package cause

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"calsplice/interp/cells"
	"calsplice/merge/testdrive"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

func onDisk(t testing.TB, l *testdrive.Log) string {
	t.Helper()
	var b bytes.Buffer
	if err := l.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "drive.csv")
	if err := os.WriteFile(path, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
	return path
}

func explainFile(cal *tables.Calibration, paths ...string) (*Result, error) {
	var logs []cells.Log
	for _, path := range paths {
		logs = append(logs, cells.Log{Name: path, Open: func() (*drivelog.Log, error) {
			return drivelog.Open(path, nil, drivelog.Options{Engine: cal.Engine()})
		}})
	}
	return Explain(context.Background(), cal, logs, Options{})
}

func mustExplain(t testing.TB, cal *tables.Calibration, paths ...string) *Result {
	t.Helper()
	res, err := explainFile(cal, paths...)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// TestFile reads a leaking engine's drive as the command does.
func TestFile(t *testing.T) {
	cal := testdrive.Four()
	l := testdrive.Drive(cal, testdrive.Plant{Truth: cal, Fault: testdrive.Fault{Leak: 0.4}}, testdrive.DriveOptions{Seed: 4, Minutes: 12})
	res, err := explainFile(cal, onDisk(t, l))
	if err != nil {
		t.Fatal(err)
	}
	if lead := res.Leading(); lead.Cause != UnmeteredAir || !res.Mechanical() || lead.Share < 0.9 {
		t.Errorf("leads: %s %.2f, %s", lead.Cause, lead.Share, list(res))
	}
	if c := res.Leading().Coefficients; len(c) != 1 || c[0].Value < 0.36 || c[0].Value > 0.44 {
		t.Errorf("leak of 0.4 g/s fitted as %v", c)
	}
}
