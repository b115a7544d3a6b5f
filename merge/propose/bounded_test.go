package propose

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"calsplice/interp/cells"
	"calsplice/interp/engine"
	"calsplice/merge/cause"
	"calsplice/merge/cause/knock"
	"calsplice/merge/testdrive"
	"calsplice/tables/drivelog"
)

// restless is a log that wanders from place to place each second, for so many of them.
type restless struct {
	seconds, at           int
	rng                   *rand.Rand
	speed, manifold, trim float64
	row                   []byte
}

func newRestless(seconds int) *restless {
	return &restless{seconds: seconds, rng: rand.New(rand.NewPCG(1, 2)), speed: 2000, manifold: 60,
		row: []byte("Time (s),Engine speed (rpm),MAP (kPa),Baro (kPa),MAF (g/s),Battery (V),PW (ms),STFT B1 (%),LTFT B1 (%),Throttle (%),ECT (degC),Spark (deg),Knock retard (deg),Lambda,Lambda cmd\n")}
}

func (r *restless) Read(p []byte) (int, error) {
	for len(r.row) < len(p) && r.at < r.seconds {
		r.speed = min(max(r.speed+float64(240*(r.rng.Float64()-0.5)), 800), 5800)
		r.manifold = min(max(r.manifold+float64(14*(r.rng.Float64()-0.5)), 25), 100)
		r.trim = 3 + float64(2*math.Sin(float64(r.at)/3))
		retard := 0.0
		if r.at%300 < 4 {
			retard = 3 - float64(r.at%300)/2
		}
		r.row = fmt.Appendf(r.row, "%d,%.0f,%.1f,101,%.2f,14,%.3f,%.2f,1,30,90,%.1f,%.2f,1,1\n", r.at, r.speed, r.manifold, r.speed*r.manifold/4000,
			0.9+float64(r.manifold/14), r.trim, 20-retard, retard)
		r.at++
	}
	if len(r.row) == 0 {
		return 0, io.EOF
	}
	n := copy(p, r.row)
	r.row = append(r.row[:0], r.row[n:]...)
	return n, nil
}

// TestMemoryDoesNotGrow: what is kept of a drive of 160 hours is what is kept of one of
// 40, for each that reads it.
func TestMemoryDoesNotGrow(t *testing.T) {
	if testing.Short() {
		t.Skip("reads a million rows")
	}
	cal := testdrive.Turbo()
	inj, err := engine.NewInjector(cal)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name string
		part func() cells.Part
	}{
		{"trims", func() cells.Part { return newSettled(cal, inj, byTrim) }},
		{"wideband", func() cells.Part { return newSettled(cal, inj, byLambda) }},
		{"knock", func() cells.Part { return knock.NewListener(cal) }},
		{"causes", func() cells.Part {
			x, err := cause.NewExplainer(cal, cause.Options{})
			if err != nil {
				t.Fatal(err)
			}
			return x
		}},
	} {
		kept := func(hours int) float64 {
			p := row.part()
			logs := []cells.Log{{Name: "drive.csv", Open: func() (*drivelog.Log, error) {
				return drivelog.Open("-", newRestless(hours*3600), drivelog.Options{Engine: cal.Engine(), Workers: 1})
			}}}
			if err := cells.Read(context.Background(), logs, p)[0]; err != nil {
				t.Fatalf("%s: %v", row.name, err)
			}
			with := heap()
			runtime.KeepAlive(p)
			return with
		}
		before := heap()
		short, long := kept(40)-before, kept(160)-before
		t.Logf("%s: %.1f and %.1f MB", row.name, short/1e6, long/1e6)
		if short < 2e6 {
			t.Errorf("%s: 40 hours keep %.1f MB: too little to show anything", row.name, short/1e6)
		}
		if long > 1.5*short+1e6 {
			t.Errorf("%s: 40 hours keep %.1f MB, and 160 hours %.1f", row.name, short/1e6, long/1e6)
		}
	}
}

// heap is the bytes that are in use.
func heap() float64 {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return float64(m.HeapAlloc)
}
