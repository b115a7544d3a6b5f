package propose

import (
	"context"
	"fmt"
	"testing"

	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// TestEverySpellingOfFlow: a flow table may be a number, a curve along any of
// three pressures in any unit, or a map; mass or volume.
func TestEverySpellingOfFlow(t *testing.T) {
	if testing.Short() {
		t.Skip("drives for seconds")
	}
	truth := testdrive.Four()
	flow := truth.Table("injector.flow").Fields()
	points := flow.X.Points() // kPa differential: 300 gauge + vacuum
	along := func(of func(delta float64) float64, reverse bool) ([]float64, []float64) {
		var x, v []float64
		for i := range points {
			if reverse {
				i = len(points) - 1 - i
			}
			x, v = append(x, of(points[i])), append(v, flow.Values[i])
		}
		return x, v
	}
	vacuum, atVacuum := along(func(d float64) float64 { return d - 300 }, false)
	inches, atInches := along(func(d float64) float64 { return (d - 300) / 3.386389 }, false)
	pressure, atPressure := along(func(d float64) float64 { return 98.5 - (d - 300) }, true)
	rows := []struct {
		name string
		with func(f *tables.Fields)
	}{
		{"against vacuum", func(f *tables.Fields) { f.X, f.Values = axis(tables.ManifoldVacuum, "kPa", vacuum...), atVacuum }},
		{"against vacuum in inHg", func(f *tables.Fields) { f.X, f.Values = axis(tables.ManifoldVacuum, "inHg", inches...), atInches }},
		{"against manifold pressure", func(f *tables.Fields) { f.X, f.Values = axis(tables.ManifoldPressure, "kPa", pressure...), atPressure }},
		{"volume, in a trade unit", func(f *tables.Fields) {
			f.Unit, f.Resolution, f.Limits = "cc/min", 0.1, nil
			f.Values = append([]float64(nil), f.Values...)
			for i := range f.Values {
				f.Values[i] *= 60 / 0.745
			}
		}},
		{"map, against pressure and speed", func(f *tables.Fields) {
			f.Y = axis(tables.EngineSpeed, "r/min", 800, 3000)
			f.Values = append(append([]float64(nil), f.Values...), f.Values...)
		}},
	}
	for _, row := range rows {
		f := flow
		row.with(&f)
		table, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		right, err := truth.WithTable(table)
		if err != nil {
			t.Fatal(err)
		}
		cal := testdrive.Scaled(right, "injector.flow", 1.07, 0)
		plant := testdrive.Plant{Truth: truth}
		for _, by := range []string{"cells", "fit"} {
			p, err := fuelFrom(context.Background(), cal, logged(t, cal, plant, testdrive.DriveOptions{Seed: 5, Minutes: 8}), by, Defaults())
			if by == "fit" && f.Y != nil {
				if err == nil {
					t.Errorf("%s: a fit takes a map", row.name)
				}
				continue
			}
			if err != nil {
				t.Errorf("%s: %v", row.name, err)
				continue
			}
			after := applied(t, cal, p)
			mean, _ := sizes(t, after, logged(t, after, plant, testdrive.DriveOptions{Seed: 6, Minutes: 8}))
			most := 1.0
			if f.Y != nil {
				most = 2.5 // a map is changed only where evidence is, and read between its cells
			}
			if mean > most {
				t.Errorf("%s, by %s: mean size %.2f %% after one pass: %s", row.name, by, mean, fmt.Sprint(p.Report.Counts))
			}
		}
	}
}
