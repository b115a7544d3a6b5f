package cells

import (
	"context"
	"path/filepath"
	"testing"

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
		for _, spec := range []Spec{{}, {Where: "engine_speed > 800"}, {Filters: FilterOptions{Steady: true}}} {
			spec.X, spec.Values = &Axis{"engine_speed", axis}, []string{"engine_speed"}
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
					t.Errorf("%s %q: %d rows, of which %d are kept and %v dropped", file, spec.Where, s.Rows, s.Kept, s.Dropped)
				}
			}
		}
	}
	if gathered < 30 {
		t.Errorf("only %d gatherings", gathered)
	}
}
