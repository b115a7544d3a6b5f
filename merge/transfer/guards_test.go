package transfer

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"calsplice/merge"
	"calsplice/merge/caution"
	"calsplice/tables"
	"calsplice/tables/tablejson"
)

const guardDonor = `{"format": "calsplice/1", "name": "tender", "engine": {"fuel_density": {"value": 0.745, "unit": "kg/L"}, "stoich_afr": 14.7},
 "tables": [
  {"id": "d.flow", "role": "injector.flow", "unit": "g/s", "x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 400]}, "values": [2.7, 3, 3.5]},
  {"id": "d.offset", "role": "injector.offset", "unit": "ms", "x": {"quantity": "battery voltage", "unit": "V", "points": [8, 12, 14]}, "values": [2, 1.1, 0.8]},
  {"id": "d.min", "role": "injector.min_pulse", "unit": "ms", "values": 0.5}]}`

const guardRecipient = `{"format": "calsplice/1", "name": "van",
 "engine": {"cylinders": 4, "strokes": 4, "injectors": 4, "pulses_per_cycle": 1, "displacement": {"value": 2, "unit": "L"},
  "rail_pressure": {"value": 300, "unit": "kPa", "relative_to": "atmosphere"}, "stoich_afr": 14.7, "fuel_density": {"value": 0.745, "unit": "kg/L"}},
 "tables": [
  {"id": "flow", "role": "injector.flow", "unit": "g/s", "x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 350, 400]}, "values": [1.8, 2, 2.15, 2.3]},
  {"id": "offset", "role": "injector.offset", "unit": "ms", "x": {"quantity": "battery voltage", "unit": "V", "points": [8, 12, 14]}, "values": [1.8, 1, 0.7]},
  {"id": "min", "role": "injector.min_pulse", "unit": "ms", "values": 0.6},
  {"id": "crank", "unit": "ms", "x": {"quantity": "coolant", "unit": "degC", "points": [-20, 20]}, "values": [30, 8]},
  {"id": "spark", "role": "spark.advance", "unit": "deg", "values": 10}]}`

// numbers are written with five digits, so that a reader can check them.
var numbers = regexp.MustCompile(`-?[0-9]+\.[0-9]+(e-?[0-9]+)?`)

func fiveDigits(s string) string {
	v, _ := strconv.ParseFloat(s, 64)
	if math.Abs(v) < 1e-12 {
		v = 0
	}
	return strconv.FormatFloat(v, 'g', 5, 64)
}

// words are the lines of which it matters that they go.
var words = regexp.MustCompile("^(caution|assumed|not shown)")

// told is all that a transfer tells a person, a line each.
func told(t *testing.T, donor, recipient string, opt Options) []string {
	t.Helper()
	doc := func(text, name string) *tables.Calibration {
		c, err := tablejson.Parse([]byte(text), name)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		return c
	}
	opt.DonorName, opt.RecipientName = "d.json", "r.json"
	r, err := Run(doc(donor, "d.json"), doc(recipient, "r.json"), opt)
	if err != nil {
		return strings.Split(err.Error(), "\n")
	}
	var list []string
	for _, c := range r.Cautions {
		list = append(list, "caution: "+c)
	}
	list = append(list, "set: "+r.Changes.MadeBy+", "+r.Changes.Title)
	if want := slices.Concat(r.Cautions, caution.Standing); !slices.Equal(r.Changes.Cautions, want) {
		t.Errorf("the change set carries %q, want %q", r.Changes.Cautions, want)
	}
	for _, a := range r.Assumed {
		list = append(list, "assumed: "+a.String())
	}
	for _, n := range r.NotShown {
		list = append(list, "not shown: "+n)
	}
	if r.Idle != nil {
		list = append(list, fmt.Sprintf("idle: %v mg, %s, minimum %v ms, linear from %v ms, %d points", r.Idle.Fuel, r.Idle.From, r.Idle.Minimum, r.Idle.LinearFrom, len(r.Idle.Points)))
	}
	for name, part := range map[string]any{"duty": r.Duty, "power": r.Power, "review": r.Review} {
		text, _ := json.Marshal(part)
		list = append(list, name+": "+numbers.ReplaceAllStringFunc(string(text), fiveDigits))
	}
	for _, trip := range r.RoundTrips {
		text, _ := json.Marshal(trip)
		list = append(list, "round trip: "+numbers.ReplaceAllStringFunc(string(text), fiveDigits))
	}
	for i, p := range r.Points {
		if i == 0 || i == len(r.Points)-1 || len(r.Points) < 4 {
			list = append(list, fmt.Sprintf("point %d: %v mg, %v V, %v kPa: %v to %v ms, minimum %v, linear %v", i, p.Fuel, p.Voltage, p.Pressure, p.Before, p.After, p.UnderMinimum, p.BelowLinear))
		}
	}
	for _, m := range r.Members {
		list = append(list, fmt.Sprintf("member: %s %.6g %v", m.Table, m.After.Values(), m.Origin))
	}
	for _, e := range r.Changes.Edits {
		if c, ok := e.(*merge.CellEdit); ok && c.Why != nil {
			list = append(list, fmt.Sprintf("edit: %s [%d, %d] %.5g to %.5g %s, %s", c.Table, c.Row, c.Column, c.From, c.To, c.Why.Unit, c.Why.Note))
		}
	}
	slices.SortStableFunc(list, func(a, b string) int {
		x, _, _ := strings.Cut(a, ":")
		y, _, _ := strings.Cut(b, ":")
		return strings.Compare(x, y)
	})
	return list
}

var update = flag.Bool("update", false, "write testdata/guards.txt anew")

// TestGuards changes one thing at a time in a transfer that needs no caution:
// what it tells then, and does not tell without the change, stands in
// testdata/guards.txt. The numbers there were worked out by hand where they first
// came up: see its head.
func TestGuards(t *testing.T) {
	const golden = "testdata/guards.txt"
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	head, _, _ := strings.Cut(string(want), "\n== ")
	base := told(t, guardDonor, guardRecipient, Options{})
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n== as it is\n  %s\n", head, strings.Join(base, "\n  "))
	for _, c := range guards {
		texts := map[bool]string{true: guardDonor, false: guardRecipient}
		for i := 0; i+1 < len(c.edits); i += 2 {
			old, ofDonor := strings.CutPrefix(c.edits[i], "d:")
			if !strings.Contains(texts[ofDonor], old) {
				t.Fatalf("%s: nothing to change", c.why)
			}
			texts[ofDonor] = strings.Replace(texts[ofDonor], old, c.edits[i+1], 1)
		}
		now := told(t, texts[true], texts[false], c.opt)
		fmt.Fprintf(&b, "\n== %s\n", c.why)
		for _, l := range base {
			if !slices.Contains(now, l) && len(now) > 1 && words.MatchString(l) {
				fmt.Fprintln(&b, "-", l)
			}
		}
		for _, l := range now {
			if !slices.Contains(base, l) {
				fmt.Fprintln(&b, "+", l)
			}
		}
	}
	if *update {
		if err := os.WriteFile(golden, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(b.String(), "\n")); diff != "" && !*update {
		t.Errorf("−want +got:\n%s", diff)
	}
}

// guards are changes: pairs of a text and what takes its place, in the donor
// where "d:" stands before it.
var guards = []struct {
	why   string
	edits []string
	opt   Options
}{
	{"resolution", []string{`"g/s", "x"`, `"g/s", "resolution": 0.25, "x"`}, Options{}},
	{"limits", []string{`"g/s", "x"`, `"g/s", "limits": [0, 3.1], "x"`}, Options{}},
	{"past the donor's voltages", []string{`"V", "points": [8, 12, 14]`, `"V", "points": [6, 12, 18]`}, Options{}},
	{"monotonic", []string{`d:"values": [2, 1.1, 0.8]`, `"values": [2, 0.8, 1.1]`}, Options{}},
	{"flow past", []string{`"points": [250, 300, 350, 400]`, `"points": [200, 300, 350, 450]`}, Options{}},
	{"flow at 0", []string{`"points": [250, 300, 350, 400]`, `"points": [0, 300, 350, 400]`}, Options{}},
	{"one breakpoint", []string{`d:"points": [250, 300, 400]}, "values": [2.7, 3, 3.5]`, `"points": [300]}, "values": [3]`}, Options{}},
	{"no strokes, injectors, pulses", []string{`"strokes": 4, "injectors": 4, "pulses_per_cycle": 1, `, ``}, Options{Demand: Demand{AirMass: 600, Speed: 6000}}},
	{"two strokes, two pulses, 2 injectors", []string{`"strokes": 4, "injectors": 4, "pulses_per_cycle": 1, `, `"strokes": 2, "injectors": 2, "pulses_per_cycle": 2, `}, Options{Demand: Demand{AirMass: 600, Speed: 6000}}},
	{"two injectors a cylinder", []string{`"strokes": 4, "injectors": 4, "pulses_per_cycle": 1, `, `"strokes": 4, "injectors": 8, "pulses_per_cycle": 1, `}, Options{Demand: Demand{AirMass: 600, Speed: 6000}}},
	{"no displacement", []string{`"displacement": {"value": 2, "unit": "L"},`, ``}, Options{}},
	{"no displacement nor rail", []string{`"displacement": {"value": 2, "unit": "L"},`, ``, `"rail_pressure": {"value": 300, "unit": "kPa", "relative_to": "atmosphere"}, `, ``}, Options{}},
	{"no rail", []string{`"rail_pressure": {"value": 300, "unit": "kPa", "relative_to": "atmosphere"}, `, ``}, Options{}},
	{"absolute rail", []string{`"relative_to": "atmosphere"`, `"relative_to": "absolute"`}, Options{Demand: Demand{Manifold: 200}}},
	{"manifold rail", []string{`"relative_to": "atmosphere"`, `"relative_to": "manifold"`}, Options{}},
	{"boost", nil, Options{Demand: Demand{AirMass: 1200, Speed: 6000, Manifold: 200, Battery: 13.5, Lambda: 0.8, From: "a log"}}},
	{"small demand", nil, Options{Demand: Demand{AirMass: 300, Speed: 3000}, DutyLimit: 0.8, BSFC: 300}},
	{"rated", nil, Options{RatedDensity: 0.8}},
	{"no stoich", []string{`"stoich_afr": 14.7, "fuel_density": {"value": 0.745, "unit": "kg/L"}},
 "tables": [
  {"id": "flow"`, `"fuel_density": {"value": 0.745, "unit": "kg/L"}},
 "tables": [
  {"id": "flow"`}, Options{}},
	{"other fuel", []string{`"stoich_afr": 14.7`, `"stoich_afr": 9.8`}, Options{}},
	{"fuel within 3 %", []string{`"stoich_afr": 14.7`, `"stoich_afr": 14.3`}, Options{}},
	{"fuel just past 3 %", []string{`"stoich_afr": 14.7`, `"stoich_afr": 14.2`}, Options{}},
	{"other fuel, no density", []string{`"stoich_afr": 14.7`, `"stoich_afr": 9.8`, `d:"fuel_density": {"value": 0.745, "unit": "kg/L"}, `, ``}, Options{}},
	{"volume, both densities", []string{`"unit": "g/s"`, `"unit": "cc/min"`}, Options{}},
	{"volume, no donor density", []string{`"unit": "g/s"`, `"unit": "cc/min"`, `d:"fuel_density": {"value": 0.745, "unit": "kg/L"}, `, ``}, Options{}},
	{"volume, no recipient density", []string{`"unit": "g/s"`, `"unit": "cc/min"`, `, "fuel_density": {"value": 0.745, "unit": "kg/L"}`, ``}, Options{}},
	{"volume, no density", []string{`"unit": "g/s"`, `"unit": "cc/min"`, `, "fuel_density": {"value": 0.745, "unit": "kg/L"}`, ``, `d:"fuel_density": {"value": 0.745, "unit": "kg/L"}, `, ``}, Options{}},
	{"densities differ", []string{`"value": 0.745`, `"value": 0.78`}, Options{}},
	{"barometer", []string{`"differential pressure"`, `"manifold pressure"`, `"points": [250, 300, 350, 400]`, `"points": [20, 60, 100, 140]`}, Options{Barometer: 90}},
	{"vacuum", []string{`"differential pressure"`, `"manifold vacuum"`, `"points": [250, 300, 350, 400]`, `"points": [0, 30, 60, 90]`}, Options{}},
	{"min pulse long", []string{`d:"values": 0.5`, `"values": 3`}, Options{}},
	{"nonlinear ms", []string{`{"id": "min"`, nonlinearMS + `{"id": "min"`, `d:{"id": "d.min"`, nonlinearMS + `{"id": "d.min"`}, Options{IdleFuel: 2}},
	{"nonlinear %", []string{`{"id": "min"`, strings.Replace(nonlinearMS, `"ms", "x"`, `"%", "x"`, 1) + `{"id": "min"`, `d:{"id": "d.min"`, strings.Replace(nonlinearMS, `"ms", "x"`, `"%", "x"`, 1) + `{"id": "d.min"`}, Options{IdleFuel: 2}},
	{"no minimum", []string{`{"id": "min", "role": "injector.min_pulse", "unit": "ms", "values": 0.6},`, ``}, Options{Partial: true}},
	{"fuel and volts asked", nil, Options{FuelMass: []float64{3, 7}, Voltages: []float64{11, 13}, IdleFuel: 2.5}},
	{"offset with pressure", []string{`d:"V", "points": [8, 12, 14]}, "values": [2, 1.1, 0.8]`, `"V", "points": [8, 12, 14]}, "y": {"quantity": "differential pressure", "unit": "kPa", "points": [200, 400]}, "values": [[2, 1.1, 0.8], [2.4, 1.5, 1.2]]`}, Options{Pressure: 300}},
	{"offset constant with pressure", []string{`d:"V", "points": [8, 12, 14]}, "values": [2, 1.1, 0.8]`, `"V", "points": [8, 12, 14]}, "y": {"quantity": "differential pressure", "unit": "kPa", "points": [200, 400]}, "values": [[2, 1.1, 0.8], [2, 1.1, 0.8]]`}, Options{}},
	{"offset without voltage", []string{`"x": {"quantity": "battery voltage", "unit": "V", "points": [8, 12, 14]}, "values": [1.8, 1, 0.7]`, `"values": 1`}, Options{Voltage: 13}},
	{"offset without voltage, none given", []string{`"x": {"quantity": "battery voltage", "unit": "V", "points": [8, 12, 14]}, "values": [1.8, 1, 0.7]`, `"values": 1`}, Options{}},
	{"donor constant over voltage", []string{`d:"values": [2, 1.1, 0.8]`, `"values": [1, 1, 1]`}, Options{}},
	{"donor one voltage", []string{`d:"points": [8, 12, 14]}, "values": [2, 1.1, 0.8]`, `"points": [12]}, "values": [1]`}, Options{}},
	{"same values", []string{`"values": [1.8, 2, 2.15, 2.3]`, `"values": [2.7, 3, 3.25, 3.5]`, `"values": [1.8, 1, 0.7]`, `"values": [2, 1.1, 0.8]`, `"values": 0.6`, `"values": 0.5`}, Options{}},
	{"a scalar at a reference pressure on both sides", []string{`"x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 350, 400]}, "values": [1.8, 2, 2.15, 2.3]}`,
		`"values": 2}, {"id": "at", "role": "injector.reference_pressure", "unit": "bar", "values": 3.5}`,
		`d:"x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 400]}, "values": [2.7, 3, 3.5]}`,
		`"values": 3}, {"id": "d.at", "role": "injector.reference_pressure", "unit": "kPa", "values": 300}`}, Options{}},
	{"a scalar at a reference pressure, no rail", []string{`"rail_pressure": {"value": 300, "unit": "kPa", "relative_to": "atmosphere"}, `, ``,
		`"x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 350, 400]}, "values": [1.8, 2, 2.15, 2.3]}`,
		`"values": 2}, {"id": "at", "role": "injector.reference_pressure", "unit": "bar", "values": 3.5}`}, Options{}},
	{"a scalar at a rail that follows the manifold", []string{`"relative_to": "atmosphere"`, `"relative_to": "manifold"`,
		`"x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 350, 400]}, "values": [1.8, 2, 2.15, 2.3]`, `"values": 2`}, Options{}},
	{"an axis that says nothing at a rail that follows the manifold", []string{`"relative_to": "atmosphere"`, `"relative_to": "manifold"`,
		`"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 350, 400]}, "values": [1.8, 2, 2.15, 2.3]`,
		`"quantity": "manifold pressure", "unit": "kPa", "points": [30, 100]}, "values": [2, 2]`}, Options{}},
	{"a flow that changes there", []string{`"relative_to": "atmosphere"`, `"relative_to": "manifold"`, `"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 350, 400]}, "values": [1.8, 2, 2.15, 2.3]`,
		`"quantity": "manifold pressure", "unit": "kPa", "points": [30, 100]}, "values": [2, 1.8]`}, Options{}},
	{"injectors, and no cylinders", []string{`"cylinders": 4, `, ``}, Options{Demand: Demand{AirMass: 600, Speed: 6000}}},
	{"neither injectors nor cylinders", []string{`"cylinders": 4, `, ``, `"injectors": 4, `, ``}, Options{Demand: Demand{AirMass: 600, Speed: 6000}}},
	{"two injectors for four cylinders", []string{`"injectors": 4`, `"injectors": 2`}, Options{Demand: Demand{AirMass: 300, Speed: 6000}}},
	{"a gauge rail in a gauge unit", []string{`"value": 300, "unit": "kPa"`, `"value": 3, "unit": "bar(g)"`}, Options{}},
	{"an absolute rail in a gauge unit", []string{`"value": 300, "unit": "kPa", "relative_to": "atmosphere"`, `"value": 3, "unit": "bar(g)", "relative_to": "absolute"`}, Options{}},
	{"an absolute rail in an absolute unit", []string{`"value": 300, "unit": "kPa", "relative_to": "atmosphere"`, `"value": 4, "unit": "bar(a)", "relative_to": "absolute"`}, Options{}},
	{"a gauge rail in an absolute unit", []string{`"value": 300, "unit": "kPa"`, `"value": 4, "unit": "bar(a)"`}, Options{}},
	{"a rail of 0", []string{`"value": 300`, `"value": 0`}, Options{}},
	{"a rail in volts", []string{`"value": 300, "unit": "kPa"`, `"value": 3, "unit": "V"`}, Options{}},
	{"a nameless donor", []string{`d:"name": "tender", `, ``}, Options{}},
	{"no flow on either side", []string{`"role": "injector.flow", `, ``, `d:"role": "injector.flow", `, ``}, Options{Partial: true}},
	{"an offset over two axes whose columns turn", []string{`d:"V", "points": [8, 12, 14]}, "values": [2, 1.1, 0.8]`, `"V", "points": [8, 12, 14]}, "y": {"quantity": "differential pressure", "unit": "kPa", "points": [200, 300, 400]}, "values": [[2, 1.1, 0.8], [2.4, 1.5, 1.2], [2.2, 1.3, 1]]`,
		`"V", "points": [8, 12, 14]}, "values": [1.8, 1, 0.7]`, `"V", "points": [8, 12, 14]}, "y": {"quantity": "differential pressure", "unit": "kPa", "points": [200, 300, 400]}, "values": [[1.8, 1, 0.7], [1.9, 1.1, 0.8], [2, 1.2, 0.9]]`}, Options{}},
	{"a flow that only the recipient has, at no pressure that is known", []string{`d:"role": "injector.flow", `, ``, `"rail_pressure": {"value": 300, "unit": "kPa", "relative_to": "atmosphere"}, `, ``}, Options{Partial: true}},
	{"both densities given", nil, Options{DonorDensity: 0.75, RecipientDensity: 0.78}},
	{"three pressures", []string{`"rail_pressure": {"value": 300, "unit": "kPa", "relative_to": "atmosphere"}, `, ``, `"points": [250, 300, 350, 400]}, "values": [1.8, 2, 2.15, 2.3]`, `"points": [250, 300, 350]}, "values": [1.8, 2, 2.15]`}, Options{}},
	{"a displacement in a unit that is none", []string{`"value": 2, "unit": "L"`, `"value": 2, "unit": "firkin"`}, Options{}},
	{"a flow that is a map", []string{`"points": [250, 300, 350, 400]}, "values": [1.8, 2, 2.15, 2.3]`,
		`"points": [250, 400]}, "y": {"quantity": "battery voltage", "unit": "V", "points": [10, 14]}, "values": [[1.8, 2.3], [1.8, 2.3]]`}, Options{}},
	{"an offset that changes with a pressure which the regulator keeps", []string{`d:"name": "tender", "engine": {`, `"name": "tender", "engine": {"rail_pressure": {"value": 300, "unit": "kPa", "relative_to": "manifold"}, `,
		`d:"V", "points": [8, 12, 14]}, "values": [2, 1.1, 0.8]`, `"V", "points": [8, 12, 14]}, "y": {"quantity": "manifold pressure", "unit": "kPa", "points": [30, 100]}, "values": [[2, 1.1, 0.8], [2.2, 1.2, 0.9]]`}, Options{}},
	{"a flow along the coolant", []string{`"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 350, 400]`, `"quantity": "coolant", "unit": "degC", "points": [20, 40, 60, 80]`}, Options{}},
	{"a correction along the coolant", []string{`{"id": "min"`, nonlinearMS + `{"id": "min"`, `d:{"id": "d.min"`, strings.Replace(nonlinearMS, "effective pulse", "coolant", 1) + `{"id": "d.min"`}, Options{}},
	{"a speed and no air", nil, Options{Demand: Demand{Speed: 6000}}},
	{"air and no speed", nil, Options{Demand: Demand{AirMass: 600}}},
	{"a donor that gives no density, rated", []string{`d:"fuel_density": {"value": 0.745, "unit": "kg/L"}, `, ``}, Options{RatedDensity: 0.8}},
	{"a flow of many", []string{`"unit": "g/s"`, `"unit": "mL/s"`, `"displacement": {"value": 2, "unit": "L"}`, `"displacement": {"value": 60, "unit": "L"}`}, Options{}},
	{"four pressures, the middle one of which is looked at", []string{`"rail_pressure": {"value": 300, "unit": "kPa", "relative_to": "atmosphere"}, `, ``}, Options{FuelMass: []float64{5}, Voltages: []float64{14}}},
	{"within half a step", []string{`"g/s", "x"`, `"g/s", "resolution": 0.5, "x"`, `"values": [1.8, 2, 2.15, 2.3]`, `"values": [2.5, 3.1, 3.0, 3.26]`}, Options{}},
}

const nonlinearMS = `{"id": "nl", "role": "injector.nonlinear", "unit": "ms", "x": {"quantity": "effective pulse", "unit": "ms", "points": [0.5, 1, 2, 4]}, "values": [0.2, 0.1, 0, 0]}, `
