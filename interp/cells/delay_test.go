package cells

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// sensorLog is a drive in which the mixture asked for steps every four seconds
// and lambda follows late by delay, with some lag and noise; in each cell the
// mixture is off by what the cell says.
func sensorLog(t testing.TB, delay float64) string {
	r := rand.New(rand.NewPCG(8, 9))
	commanded := func(s float64) float64 { return pick(int(math.Floor(s/4))%2 == 0, 1, .9) }
	speed := func(s float64) float64 { return pick(int(math.Floor((s+2)/4))%2 == 0, 1000, 3000) }
	lag := 0.0
	return csvLog(t, "RPM,Lambda cmd,Lambda,STFT (%),LTFT (%)", 1200, func(i int) string {
		now := float64(i) / 10
		then := max(now-delay, 0)
		off := pick(speed(then) == 1000, 1.02, 0.97)
		lag += (commanded(then)*off - lag) * pick(i == 0, 1, .9)
		return fmt.Sprintf("%v,%v,%.4f,0,0", speed(now), commanded(now), lag+.002*r.NormFloat64())
	})
}

func TestStepDelay(t *testing.T) {
	for _, want := range []float64{0.2, 0.4, 0.8} {
		log, err := drivelog.Open(sensorLog(t, want), nil, drivelog.Options{})
		if err != nil {
			t.Fatal(err)
		}
		got, said, err := stepDelay(context.Background(), log)
		log.Close()
		if err != nil || math.Abs(got-want) > 0.051 || !strings.Contains(said, "the median of ") {
			t.Errorf("delay %v, %q, %v, want %v", got, said, err, want)
		}
	}
}

// With the delay each reading of the sensor goes to the cell in which its fuel
// was burnt; without, the cells smear into each other.
func TestDelayedCells(t *testing.T) {
	path := sensorLog(t, 0.4)
	spec := Spec{X: mustAxis(t, "engine_speed", 1000, 3000), Values: []string{"mixture_error"}}
	near := func(spec Spec) float64 {
		d := document(t, gatherFile(t, spec, path))
		m := d.Table("mixture_error.mean")
		return max(math.Abs(m.At(0, 0)-2), math.Abs(m.At(0, 1)+3))
	}
	none := near(spec)
	spec.Delay = &Delay{Lag: 0.4}
	given := near(spec)
	spec.Delay = &Delay{Steps: true}
	steps := near(spec)
	if given > 0.15 || steps > 0.15 || none < 0.4 {
		t.Errorf("mean mixture errors are off by %.2f without a delay, %.2f with it given, %.2f with it estimated", none, given, steps)
	}
	g, said, err := Gather(context.Background(), []Log{{Name: filepath.Base(path), Once: true, Open: func() (*drivelog.Log, error) {
		return drivelog.Open(path, nil, drivelog.Options{})
	}}}, spec)
	if err != nil || g == nil || !strings.Contains(strings.Join(said, "\n"), "no delay of lambda applied: a stream") {
		t.Errorf("a stream: %q, %v", said, err)
	}
}

// An engine of two strokes has a cycle each turn. Of readings that find no place
// the reason is told.
func TestDelayInCycles(t *testing.T) {
	// At 2000 r/min a four-stroke engine's cycle takes 60 ms, so that ten are 0.6 s.
	path := csvLog(t, "RPM,Lambda", 100, func(i int) string {
		return fmt.Sprintf("%v,%v", pick(i < 50, 1000, 2000), pick(i < 56, 1, .9))
	})
	cells := func(cycles float64, engine *tables.Engine) (*Grid, string) {
		g, said, err := Gather(context.Background(), []Log{{Name: "drive.csv", Open: func() (*drivelog.Log, error) {
			return drivelog.Open(path, nil, drivelog.Options{Engine: engine})
		}}}, Spec{X: mustAxis(t, "engine_speed", 1000, 2000), Values: []string{"lambda"}, Delay: &Delay{Cycles: cycles}})
		if err != nil {
			t.Fatal(err)
		}
		return g, strings.Join(said, "\n")
	}
	for _, tc := range []struct {
		cycles float64
		engine *tables.Engine
		want   float64 // readings of what was burnt at 2000 r/min
		said   bool
	}{{10, nil, 44, true}, {10, &tables.Engine{Strokes: 4}, 44, false},
		{20, &tables.Engine{Strokes: 2}, 44, false}, {10, &tables.Engine{Strokes: 2}, 47, false}} {
		g, said := cells(tc.cycles, tc.engine)
		if n := document(t, g).Table("lambda.count"); n.At(0, 1) != tc.want || strings.Contains(said, "delay: four strokes are assumed") != tc.said {
			t.Errorf("%v cycles of %v: %v readings at 2000 r/min, want %v; said %q", tc.cycles, tc.engine, n.At(0, 1), tc.want, said)
		}
	}
	g, _ := cells(10, nil)
	if got := fmt.Sprint(g.sources[0].Dropped); got != "[{burnt before the log or over 10 s ago 12}]" {
		t.Errorf("dropped %s", got)
	}
}

func TestParseDelay(t *testing.T) {
	for s, want := range map[string]string{"auto": "from steps", "0.3": "lag=0.3 cycles=0 exhaust=0", "cycles=2, exhaust=1.5,lag=0.05": "lag=0.05 cycles=2 exhaust=1.5"} {
		if d, err := ParseDelay(s); err != nil || d.String() != want {
			t.Errorf("%q: %v, %v, want %s", s, d, err, want)
		}
	}
	for _, s := range []string{"", "-1", "lag=", "distance=3", "1e999", "NaN"} {
		if d, err := ParseDelay(s); err == nil {
			t.Errorf("%q was read as %v", s, d)
		}
	}
}
