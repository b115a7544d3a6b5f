package cells

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/logtest"
	"calsplice/interp/cells/sift"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// TestNothingIsLostInSilence: of every log that can be gathered, real or
// hostile, each row is kept or counted under the reason why it is not.
func TestNothingIsLostInSilence(t *testing.T) {
	files, err := filepath.Glob("../../testdata/hostile-logs/*.*")
	if err != nil {
		t.Fatal(err)
	}
	files = append(files, logDir+"/log-a.csv", logDir+"/log-b.csv")
	axis, err := tables.NewAxis("engine speed", "r/min", []float64{800, 1600, 3200})
	if err != nil {
		t.Fatal(err)
	}
	gathered := 0
	for _, file := range files {
		for _, spec := range []Spec{{}, {Where: "engine_speed > 800"}, {Filters: sift.FilterOptions{Steady: true}}} {
			spec.X, spec.Values = &axes.Axis{Channel: "engine_speed", Axis: axis}, []string{"engine_speed"}
			open := func() (*drivelog.Log, error) { return drivelog.Open(file, nil, drivelog.Options{}) }
			g, _, err := Gather(context.Background(), []Log{{Name: "log", Open: open}}, spec)
			if err != nil {
				continue // refused, and said
			}
			gathered++
			for _, s := range document(t, g).Contents().Source {
				sum := s.Kept
				for _, n := range s.Dropped {
					sum += n.Count
				}
				if sum != s.Rows || s.Rows == 0 {
					t.Errorf("%s %q: %d rows, of which %d are kept and %v dropped", file, spec.Where, s.Rows, s.Kept, s.Dropped) // promise: never silent
				}
			}
		}
	}
	if gathered < 30 {
		t.Errorf("only %d gatherings", gathered)
	}
}

// A number that is no reading of anything in a car is no sample, and counted.
func TestHugeIsNoSample(t *testing.T) {
	open := func() (*drivelog.Log, error) {
		return drivelog.Open("-", strings.NewReader("time,RPM,MAF (g/s)\n0,800,1\n1,800,1e99\n2,800,1e200\n3,800,-1e200\n"), drivelog.Options{})
	}
	g, _, err := Gather(context.Background(), []Log{{Name: "log", Open: open}}, Spec{X: logtest.Axis(t, "engine_speed", 800), Values: []string{"air_flow"}})
	if err != nil {
		t.Fatal(err)
	}
	doc := document(t, g)
	if n, most := doc.Table("air_flow.count").At(0, 0), doc.Table("air_flow.max").At(0, 0); n != 2 || most != 1e99 {
		t.Errorf("%v samples up to %v, want 2 up to 1e99", n, most)
	}
	if s := doc.Contents().Source[0]; s.Kept != 2 || len(s.Dropped) != 1 || s.Dropped[0].Count != 2 {
		t.Errorf("the source is %+v", s)
	}
}

// A row without a time is counted as that, beside the readings that share an instant.
func TestRowsWithoutATime(t *testing.T) {
	for text, want := range map[string]string{
		"time,RPM\n0,800\n,800\n2,800\n": "[{no time 1}]",
		"time;channel;value;unit\n0;RPM;800;\n0;MAP;40;\n;RPM;800;\n1;RPM;800;\n2;RPM;800;\n": "[{no time 1} {part of another row's instant 1}]",
	} {
		open := func() (*drivelog.Log, error) { return drivelog.Open("-", strings.NewReader(text), drivelog.Options{}) }
		g, _, err := Gather(context.Background(), []Log{{Name: "log", Open: open}}, Spec{X: logtest.Axis(t, "engine_speed", 800), Values: []string{"engine_speed"}})
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(document(t, g).Contents().Source[0].Dropped); got != want {
			t.Errorf("%q: dropped %s, want %s", text, got, want)
		}
	}
}
