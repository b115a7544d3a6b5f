package cells

import (
	"context"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"calsplice/interp/cells/logtest"
	"calsplice/interp/cells/sift"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// With the delay each reading of the sensor goes to the cell in which its fuel
// was burnt; without, the cells smear into each other.
func TestDelayedCells(t *testing.T) {
	path := logtest.Sensor(t, 0.4)
	spec := Spec{X: logtest.Axis(t, "engine_speed", 1000, 3000), Values: []string{"mixture_error"}}
	near := func(spec Spec) float64 {
		d := document(t, gatherFile(t, spec, path))
		m := d.Table("mixture_error.mean")
		return max(math.Abs(m.At(0, 0)-2), math.Abs(m.At(0, 1)+3))
	}
	none := near(spec)
	spec.Delay = &sift.Delay{Lag: 0.4}
	given := near(spec)
	spec.Delay = &sift.Delay{Steps: true}
	steps := near(spec)
	if given > 0.15 || steps > 0.15 || none < 0.4 {
		t.Errorf("mean mixture errors are off by %.2f without a delay, %.2f with it given, %.2f with it estimated", none, given, steps)
	}
	// A stream is opened once and put aside, so that its delay is estimated like a file's.
	stream, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Close()
	g, said, err := Gather(context.Background(), []Log{{Name: "-", Open: func() (*drivelog.Log, error) {
		return drivelog.Open("-", stream, drivelog.Options{})
	}}}, spec)
	if err != nil || !strings.Contains(strings.Join(said, "\n"), "-: delay of lambda 0.4") {
		t.Fatalf("a stream: %q, %v", said, err)
	}
	if m := document(t, g).Table("mixture_error.mean"); max(math.Abs(m.At(0, 0)-2), math.Abs(m.At(0, 1)+3)) != steps {
		t.Errorf("a stream: %v, and %.2f off from the file", m.Values(), steps)
	}
}

// An engine of two strokes has a cycle each turn. Of readings that find no place
// the reason is told.
func TestDelayInCycles(t *testing.T) {
	// At 2000 r/min a four-stroke engine's cycle takes 60 ms, so that ten are 0.6 s.
	path := logtest.CSV(t, "RPM,Lambda", 100, func(i int) string {
		return fmt.Sprintf("%v,%v", logtest.Pick(i < 50, 1000, 2000), logtest.Pick(i < 56, 1, .9))
	})
	cells := func(cycles float64, engine *tables.Engine) (*Grid, string) {
		g, said, err := Gather(context.Background(), []Log{{Name: "drive.csv", Open: func() (*drivelog.Log, error) {
			return drivelog.Open(path, nil, drivelog.Options{Engine: engine})
		}}}, Spec{X: logtest.Axis(t, "engine_speed", 1000, 2000), Values: []string{"lambda"}, Delay: &sift.Delay{Cycles: cycles}})
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
	if got := fmt.Sprint(g.sources[0].Dropped); got != "[{combustion before the log began or over 10 s earlier 12}]" {
		t.Errorf("dropped %s", got)
	}
}
