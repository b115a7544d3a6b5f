package propose

import (
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"calsplice/merge/cause"
	"calsplice/tables"
)

// workedPoints are testdata/causes/points.csv: columns by name.
func workedPoints(t *testing.T) map[string][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "causes", "points.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	points := map[string][]float64{}
	for _, line := range lines[1:] {
		for i, text := range line {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				t.Fatal(err)
			}
			points[lines[0][i]] = append(points[lines[0][i]], v)
		}
	}
	return points
}

// workedDrive holds each point for a while, six times over, in another order each
// time; its closed loop swings by half a quantum round the trim worked by hand.
func workedDrive(points map[string][]float64, of string) []byte {
	var b strings.Builder
	b.WriteString("time,engine_speed,manifold_pressure,barometric_pressure,air_flow,battery,coolant,throttle,pulse_width,fuel_status,short_trim_1,long_trim_1,rail_pressure")
	banks := 1
	if of == "bank-difference" {
		banks = 2
		b.WriteString(",short_trim_2,long_trim_2")
	}
	b.WriteByte('\n')
	t, n := 0.0, len(points["psi"])
	for lap := range 6 {
		for i := range n {
			k := (i*[]int{1, 5, 7, 11}[lap%4] + 3*lap) % n
			for row := range 36 {
				swing := 0.39 * float64(1-2*(row/2%2))
				trim := [2]float64{points[of][k] + swing, points[of][k] + swing}
				if banks == 2 {
					trim[0] = swing
				}
				pulse := points["effective pulse [ms]"][k]*(1+(trim[0]+trim[1])/200) + 1
				rail := 300.0
				switch of {
				case "supply-limit":
					rail = points["rail over manifold [kPa]"][k]
				case "pressure-reference": // it holds 300 kPa over the atmosphere
					rail += 100 - points["manifold [kPa]"][k]
				}
				fmt.Fprintf(&b, "%.2f,%v,%v,100,%v,14,88,20,%.5f,2,%.5f,0,%v", t, points["engine speed [r/min]"][k], points["manifold [kPa]"][k],
					points["air flow [g/s]"][k], pulse, trim[0], rail)
				if banks == 2 {
					fmt.Fprintf(&b, ",%.5f,0", trim[1])
				}
				b.WriteByte('\n')
				t += 0.5
			}
		}
	}
	return []byte(b.String())
}

func workedCalibration(t *testing.T, of string) *tables.Calibration {
	t.Helper()
	air := tables.Fields{ID: "air", Role: tables.AirMeter, Unit: "g/s", Resolution: 0.01,
		X: axis(tables.AirFlow, "g/s", 3.835831, 10, 20, 30, 47.19870), Values: []float64{3.83, 10, 20, 30, 47.2}}
	if of == "volumetric-efficiency" {
		air = tables.Fields{ID: "air", Role: tables.AirVolumetricEfficiency, Unit: "%", Resolution: 0.1,
			X: axis(tables.EngineSpeed, "r/min", 800, 1000, 1500, 2000, 2500, 3000, 3500), Values: []float64{80, 80, 80, 80, 80, 80, 80}}
	}
	made := []*tables.Table{}
	for _, f := range []tables.Fields{
		{ID: "flow", Role: tables.InjectorFlow, Unit: "g/s", Resolution: 0.001, Values: []float64{3}},
		{ID: "offset", Role: tables.InjectorOffset, Unit: "ms", Resolution: 0.001, X: axis(tables.BatteryVoltage, "V", 12, 14), Values: []float64{1, 1}},
		air,
	} {
		table, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		made = append(made, table)
	}
	c, err := tables.NewCalibration(tables.Contents{Tables: made, Engine: &tables.Engine{Cylinders: 4, Strokes: 4, Injectors: 4, PulsesPerCycle: 1, StoichAFR: 14.7,
		Displacement: &tables.Measure{Value: 2, Unit: "L"}, RailPressure: &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Manifold}}})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestWorkedByHand compares causes and proposals with the drives of
// testdata/causes, whose arithmetic stands beside them.
func TestWorkedByHand(t *testing.T) {
	points := workedPoints(t)
	for _, row := range []struct {
		of          string
		coefficient float64 // as the README has it; NaN where the shape has no number of its own
		within      float64
		by          string
		table       string // that is to be edited
		to          map[int]float64
	}{
		{"flow-scale", 7.142857, 0.05, "cells", "flow", map[int]float64{0: 2.8}},
		{"injector-offset", 0.15, 0.002, "fit", "offset", map[int]float64{0: 1.15, 1: 1.15}},
		{"unmetered-air", 0.5, 0.005, "cells", "", nil},
		{"pressure-reference", math.NaN(), 0, "cells", "", nil},
		{"supply-limit", math.NaN(), 0, "cells", "", nil},
		{"air-meter", math.NaN(), 0, "cells", "air", map[int]float64{4: 50.976}},
		{"volumetric-efficiency", math.NaN(), 0, "cells", "air", map[int]float64{3: 88}},
		{"bank-difference", 8.695652, 0.1, "cells", "", nil},
	} {
		t.Run(row.of, func(t *testing.T) {
			cal := workedCalibration(t, row.of)
			logs := asLog(cal, workedDrive(points, row.of))
			res, err := cause.Explain(context.Background(), cal, logs, cause.Options{})
			if err != nil {
				t.Fatal(err)
			}
			lead := res.Leading()
			if string(lead.Cause) != row.of || res.Together != nil || !res.Certain {
				t.Fatalf("%s leads, certain %v: %s", lead.Cause, res.Certain, res.Verdict)
			}
			if c := lead.Coefficients; row.within > 0 && (len(c) != 1 || math.Abs(math.Abs(c[0].Value)-row.coefficient) > row.within) {
				t.Errorf("coefficient %v, by hand %v", c, row.coefficient)
			}
			for i, p := range res.Points {
				k := slices.IndexFunc(points["air flow [g/s]"], func(air float64) bool { return math.Abs(air-p.AirFlow) < 1e-6 })
				if got, want := lead.Predicted[i][len(p.Trim)-1], points[row.of][max(k, 0)]; k < 0 || got == got && math.Abs(got-want) > 0.35 {
					t.Errorf("at %.0f r/min and %.0f kPa the fit has %.3f %%, by hand %.3f", p.Speed, p.Manifold, got, want)
				}
			}
			checkWorked(t, cal, row.table, row.to, func() (*Proposal, error) {
				return fuelFrom(context.Background(), cal, logs, row.by, Defaults())
			})
		})
	}
}

func checkWorked(t *testing.T, cal *tables.Calibration, table string, to map[int]float64, propose func() (*Proposal, error)) {
	t.Helper()
	p, err := propose()
	if table == "" {
		if err == nil && len(p.Changes.Edits) > 0 {
			t.Errorf("%d edits", len(p.Changes.Edits))
		}
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	after := applied(t, cal, p)
	for at, want := range to {
		if got := after.Table(table).Values()[at]; math.Abs(got/want-1) > 0.002 {
			t.Errorf("%s [%d] becomes %v, by hand %v", table, at, got, want)
		}
	}
	for _, e := range p.Changes.Edits {
		if e.On() != table {
			t.Errorf("an edit of %s", e.On())
		}
	}
}
