package propose

import (
	"context"
	"slices"
	"testing"

	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// TestAirTables judges corrections of the air side by driving again: the trims
// come down, and the report says what else the table moves.
func TestAirTables(t *testing.T) {
	if testing.Short() {
		t.Skip("drives for seconds")
	}
	for _, row := range []struct {
		name   string
		truth  *tables.Calibration
		plant  testdrive.Plant
		target string
	}{
		{"an air meter that reads low as flow rises", testdrive.Four(),
			testdrive.Plant{Fault: testdrive.Fault{MeterError: func(flow float64) float64 { return -0.10 * min(1, max(0, (flow-4)/16)) }}},
			"air.meter"},
		{"volumetric efficiency that misses a hump in speed", testdrive.Six(),
			testdrive.Plant{Banks: 2, Fault: testdrive.Fault{Efficiency: func(speed, manifold float64) float64 {
				if speed > 1800 && speed < 2300 {
					return 0.07
				}
				return 0
			}}}, "air.efficiency"},
	} {
		row.plant.Truth = row.truth
		cal := row.truth
		opt := Defaults()
		opt.Target, opt.DespiteCause = row.target, true
		drive := testdrive.DriveOptions{Seed: 31, Minutes: 25, Purge: true}
		logs := logged(t, cal, row.plant, drive)
		p, err := fuelFrom(context.Background(), cal, logs, "cells", opt)
		if err != nil {
			t.Fatalf("%s: %v", row.name, err)
		}
		shifts := slices.ContainsFunc(p.Report.Cells, func(c Cell) bool { return c.Load.Known() && c.Spark.Known() })
		if !shifts {
			t.Errorf("%s: the report does not tell how load and spark shift", row.name)
		}
		before, _ := sizes(t, cal, logs)
		cal = applied(t, cal, p)
		drive.Seed++
		after, _ := sizes(t, cal, logged(t, cal, row.plant, drive))
		t.Logf("%s: mean size %.2f %% before, %.2f %% after", row.name, before, after)
		if after > 0.6*before || after > 1.2 {
			t.Errorf("%s: mean size %.2f %% before, %.2f %% after one pass", row.name, before, after)
		}
	}
}
