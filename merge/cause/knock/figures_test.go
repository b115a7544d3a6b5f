package knock

import (
	"bytes"
	"fmt"
	"os"
	"testing"

	"calsplice/interp/cells"
	"calsplice/merge/testdrive"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// driven is the log of a random engine.
func driven(t testing.TB, c *testdrive.KnockCase) []cells.Log {
	t.Helper()
	var b bytes.Buffer
	if err := testdrive.Drive(c.Cal, c.Plant, c.Drive).WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	return []cells.Log{logOf("drive.csv", c.Cal, b.Bytes())}
}

func logOf(name string, cal *tables.Calibration, data []byte) cells.Log {
	return cells.Log{Name: name, Open: func() (*drivelog.Log, error) {
		return drivelog.Open("-", bytes.NewReader(data), drivelog.Options{Engine: cal.Engine(), Workers: 1})
	}}
}

// TestFigures asks why spark is pulled on random engines, fuels, weathers and
// drivers. CALSPLICE_FIGURES=1 drives the set that thresholds were chosen on, and
// CALSPLICE_FIGURES=fresh one that is looked at once.
func TestFigures(t *testing.T) {
	if testing.Short() {
		t.Skip("drives for seconds")
	}
	each, from, spare := 1, uint64(0), 1 // of six drives one may miss the promise of nine in ten
	switch os.Getenv("CALSPLICE_FIGURES") {
	case "":
	case "fresh":
		each, from, spare = 34, 300_000, 0
	default:
		each, from, spare = 15, 0, 0
	}
	all, first, certain, wrong := 0, 0, 0, 0
	for _, family := range testdrive.KnockFamilies {
		n, right, sure := 0, 0, 0
		for i := range uint64(each) {
			c := testdrive.RandomKnock(family, from+i)
			r, _, err := heardIn(c.Cal, driven(t, c))
			if err != nil {
				t.Fatalf("%s %d: %v", family, from+i, err)
			}
			n++
			ok := string(r.Leading().Cause) == family
			if ok {
				right++
			}
			if r.Certain {
				sure++
				if !ok {
					wrong++
				}
			}
			if !ok {
				t.Logf("%s %d: certain %v, %s; %s", family, from+i, r.Certain, shares(r), c.What)
			}
		}
		t.Logf("%-14s true cause first in %d of %d drives, certain in %d", family, right, n, sure)
		all, first, certain = all+n, first+right, certain+sure
	}
	t.Logf("true cause first in %d of %d drives (%.1f %%), certain in %d, certain and wrong in %d (%.1f %%)",
		first, all, 100*float64(first)/float64(all), certain, wrong, 100*float64(wrong)/float64(all))
	if 10*first < 9*all-10*spare || 100*wrong > all {
		t.Errorf("true cause first in %d of %d drives, certain and wrong in %d", first, all, wrong)
	}
}

func shares(r *Result) (s string) {
	for _, f := range r.Causes[:3] {
		s += fmt.Sprintf("%s %.2f ", f.Cause, f.Share)
	}
	return s
}
