package plausible

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tablejson"
)

// van is the example of the format's description.
const van = `{"format": "calsplice/1", "name": "Fell rescue van, as found",
 "engine": {"cylinders": 4, "strokes": 4, "injectors": 4, "pulses_per_cycle": 1,
  "displacement": {"value": 2.5, "unit": "L"},
  "rail_pressure": {"value": 380, "unit": "kPa", "relative_to": "atmosphere"},
  "stoich_afr": 14.7, "fuel_density": {"value": 0.745, "unit": "kg/L"}},
 "tables": [
  {"id": "injector.flow", "role": "injector.flow", "unit": "g/s", "resolution": 0.001, "limits": [0, 12],
   "x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 350, 400, 450]},
   "values": [2.214, 2.425, 2.62, 2.8, 2.97]},
  {"id": "injector.offset", "role": "injector.offset", "unit": "ms",
   "x": {"quantity": "battery voltage", "unit": "V", "points": [8, 10, 12, 14, 16]},
   "y": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 350, 450]},
   "values": [[2.1, 1.5, 1.12, 0.86, 0.7], [2.2, 1.58, 1.18, 0.92, 0.75], [2.3, 1.66, 1.25, 0.98, 0.8]]},
  {"id": "injector.min_pulse", "role": "injector.min_pulse", "unit": "ms", "values": 0.4},
  {"id": "spark.advance", "role": "spark.advance", "unit": "deg", "resolution": 0.5, "limits": [-10, 60],
   "x": {"quantity": "engine speed", "unit": "r/min", "points": [600, 800, 1200, 1600, 2000, 2400, 2800, 3200, 4000, 4800, 5600, 6400]},
   "y": {"quantity": "air charge", "unit": "mg", "points": [80, 120, 160, 240, 320, 400, 480, 640]},
   "values": [
    [12,14,18,24,28,31,33,35,37,38,38,37], [12,14,18,24,28,31,33,34.5,36.5,37,37,36],
    [11,13.5,17,23,27,30,32,33.5,35,36,36,35], [10,12.5,16,21,25,27.5,29.5,31,32.5,33.5,34,33],
    [8,10.5,13.5,18,22,24.5,26.5,28,29.5,30.5,31,30.5], [6,8,11,15,18.5,21,23,24.5,26.5,27.5,28,27.5],
    [4,6,8.5,12,15.5,18,20,21.5,23.5,25,25.5,25], [0,2,4.5,7.5,10.5,13,15,16.5,19,20.5,21.5,21]]},
  {"id": "spark.low", "role": "spark.fallback", "unit": "deg", "resolution": 0.5,
   "x": {"quantity": "engine speed", "unit": "r/min", "points": [800, 1600, 3200, 6400]},
   "y": {"quantity": "air charge", "unit": "mg", "points": [80, 240, 480]},
   "values": [[12,20,31,33], [10,17,27,29], [3,8,17,20]]},
  {"id": "air.meter", "role": "air.meter", "unit": "g/s", "resolution": 0.01,
   "x": {"quantity": "meter signal", "unit": "V", "points": [0, 0.5, 1, 2, 3, 4, 5]}, "values": [0, 0, 2, 9, 30, 80, 180]},
  {"id": "air.ve", "role": "air.volumetric_efficiency", "unit": "%",
   "x": {"quantity": "engine speed", "unit": "r/min", "points": [1000, 3000, 5000]}, "values": [70, 88, 82]},
  {"id": "fuel.stoich", "role": "fuel.stoich_afr", "unit": "1", "values": 14.7}]}`

func read(t *testing.T, text string) *tables.Calibration {
	t.Helper()
	c, err := tablejson.Parse([]byte(text), "van.json")
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func lines(findings []Finding) []string {
	var list []string
	for _, f := range findings {
		at := ""
		if f.At != nil {
			at = fmt.Sprintf("[%d, %d]", f.At[0], f.At[1])
		}
		list = append(list, strings.TrimSpace(f.Rule+" "+f.Table+at)+": "+f.Text)
	}
	return list
}

// TestFindings plants one slip at a time into a sound calibration: the slip is
// found where it stands, and nothing else is.
func TestFindings(t *testing.T) {
	for _, c := range []struct {
		why, old, new string
		want          []string // "rule table[r, c]", in order
	}{
		{"the calibration as it is", "", "", nil},
		{"dead time that rises with voltage", "1.5, 1.12, 0.86", "1.5, 1.6, 0.86", []string{"neighbours injector.offset[0, 2]", "offset-voltage injector.offset[0, 2]", "offset-pressure injector.offset[0, 2]"}},
		{"dead time that dips", "1.5, 1.12, 0.86", "1.5, 0.8, 0.86", []string{"offset-voltage injector.offset[0, 2]"}},
		{"dead time that stays the same", "0.92, 0.75", "0.75, 0.75", []string{"offset-voltage injector.offset[1, 3]", "offset-pressure injector.offset[1, 3]"}},
		{"dead time that falls with pressure", "2.3, 1.66", "2.1, 1.66", []string{"offset-pressure injector.offset[2, 0]"}},
		{"dead time below zero", "0.86, 0.7]", "0.86, -0.7]", []string{"offset-size injector.offset[0, 4]", "offset-convex injector.offset[0, 3]"}},
		{"dead time in microseconds, said to be milliseconds", `"ms", "values": 0.4`, `"ms", "values": 400`, []string{"min-pulse injector.min_pulse[0, 0]"}},
		{"flow that falls with pressure", "2.62, 2.8", "2.92, 2.8", []string{"flow-pressure injector.flow[0, 2]", "flow-root injector.flow[0, 2]"}},
		{"flow off the square-root law", "2.425, 2.62", "2.26, 2.62", []string{"flow-root injector.flow[0, 1]"}},
		{"no flow", "[2.214,", "[0,", []string{"flow-size injector.flow[0, 0]"}},
		{"off the resolution", "2.62, 2.8", "2.6204, 2.8", []string{"resolution injector.flow[0, 2]"}},
		{"past the limits", `"limits": [0, 12]`, `"limits": [0, 2.9]`, []string{"limits injector.flow[0, 4]"}},
		{"spark beyond what an engine bears", "38,38,37]", "38,38,75]", []string{"limits spark.advance[0, 11]", "spark-bounds spark.advance[0, 11]"}},
		{"a slip of a digit", "22,24.5,26.5", "22,34.5,26.5", []string{"neighbours spark.advance[4, 5]"}},
		{"a slip in the first row", "28,31,33,35", "28,31,13,35", []string{"neighbours spark.advance[0, 6]"}},
		{"a fallback above what it falls back from", "[10,17,27,29]", "[10,17,32,29]", []string{"fallback-above-advance spark.low[1, 2]"}},
		{"an axis in a unit of something else", `"battery voltage", "unit": "V"`, `"battery voltage", "unit": "kPa"`, []string{"unit-axis injector.offset"}},
		{"a table in a unit of something else", `"role": "injector.offset", "unit": "ms"`, `"role": "injector.offset", "unit": "g/s"`, []string{"unit-role injector.offset"}},
		{"no offset", `"role": "injector.offset"`, `"role": "other"`, []string{"group-incomplete"}},
		{"no flow table", `"role": "injector.flow"`, `"role": "other"`, []string{"group-incomplete"}},
		{"a role twice", `"role": "spark.fallback"`, `"role": "spark.advance"`, []string{"role-twice spark.low"}},
		{"litres of fuel per litre", `"unit": "kg/L"`, `"unit": "L"`, []string{"engine-unit"}},
		{"a gauge in inches", `"value": 380, "unit": "kPa"`, `"value": 380, "unit": "V"`, []string{"engine-unit"}},
		{"cubic centimetres, said to be litres", `"value": 2.5, "unit": "L"`, `"value": 2500, "unit": "L"`, []string{"displacement"}},
		{"litres, said to be cubic centimetres", `"value": 2.5, "unit": "L"`, `"value": 2.5, "unit": "cc"`, []string{"displacement"}},
		{"kilograms per cubic metre, said to be per litre", `"value": 0.745`, `"value": 745`, []string{"fuel-density"}},
		{"a density with its point slipped", `"value": 0.745, "unit": "kg/L"`, `"value": 74.5, "unit": "kg/m3"`, []string{"fuel-density"}},
		{"bar, said to be kilopascal", `"value": 380`, `"value": 3.8`, []string{"rail-pressure"}},
		{"a vacuum in the rail", `"value": 380`, `"value": -380`, []string{"rail-pressure"}},
		{"too many cylinders", `"cylinders": 4`, `"cylinders": 44`, []string{"cylinders"}},
		{"a fuel that is none", `"stoich_afr": 14.7`, `"stoich_afr": 1.47`, []string{"stoich"}},
		{"a table of a fuel that is none", `"unit": "1", "values": 14.7`, `"unit": "1", "values": 147`, []string{"stoich fuel.stoich[0, 0]"}},
		{"the same in another unit", `"unit": "1", "values": 14.7`, `"unit": "AFR", "values": 1.47`, []string{"stoich fuel.stoich[0, 0]"}},
		{"an efficiency of one in percent", "[70, 88, 82]", "[70, 0.88, 82]", []string{"efficiency air.ve[0, 1]"}},
		{"no efficiency where the engine never runs", "[70, 88, 82]", "[0, 88, 82]", nil},
		{"an efficiency in percent, said to be a factor", `"air.volumetric_efficiency", "unit": "%"`, `"air.volumetric_efficiency", "unit": "1"`,
			[]string{"efficiency air.ve[0, 0]", "efficiency air.ve[0, 1]", "efficiency air.ve[0, 2]"}},
		{"an efficiency as a factor", `"unit": "%",
   "x": {"quantity": "engine speed", "unit": "r/min", "points": [1000, 3000, 5000]}, "values": [70, 88, 82]`, `"unit": "1",
   "x": {"quantity": "engine speed", "unit": "r/min", "points": [1000, 3000, 5000]}, "values": [0.7, 0.88, 0.82]`, nil},
		{"a meter's curve that falls", "2, 9, 30, 80", "2, 9, 3, 80", []string{"meter air.meter[0, 4]"}},
		{"a meter that answers with a period", `"unit": "V", "points": [0, 0.5, 1, 2, 3, 4, 5]}, "values": [0, 0, 2, 9, 30, 80, 180]`,
			`"unit": "us", "points": [0, 0.5, 1, 2, 3, 4, 5]}, "values": [180, 80, 30, 9, 2, 0, 0]`, nil},
	} {
		text := strings.Replace(van, c.old, c.new, 1)
		if c.old != "" && text == van {
			t.Fatalf("%s: nothing to change", c.why)
		}
		findings, _ := Check(read(t, text))
		var got []string
		for _, l := range lines(findings) {
			got = append(got, l[:strings.Index(l, ": ")])
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: want %q, got\n%s", c.why, c.want, strings.Join(lines(findings), "\n"))
		}
		for _, f := range findings {
			if f.Basis == "" || f.Text == "" {
				t.Errorf("%s: a finding without words: %+v", c.why, f)
			}
		}
	}
}

func TestWords(t *testing.T) {
	findings, _ := Check(read(t, strings.Replace(van, "1.5, 1.12, 0.86", "1.5, 1.6, 0.86", 1)))
	findings = slices.DeleteFunc(findings, func(f Finding) bool { return f.Rule != "offset-voltage" })
	want := "offset-voltage injector.offset[0, 2]: offset does not fall as voltage rises: 1.5 ms at 10 V, 1.6 ms at 12 V (at 12 V, 250 kPa)"
	if got := lines(findings); len(got) != 1 || got[0] != want || findings[0].Basis != practice {
		t.Errorf("got %q, resting on %q", got, findings[0].Basis)
	}
}

func TestScalarFlow(t *testing.T) {
	const doc = `{"format": "calsplice/1", %s "tables": [%s
	 {"id": "offset", "role": "injector.offset", "unit": "us", "x": {"quantity": "battery voltage", "unit": "V", "points": [10, 14]}, "values": [1500, 860]},
	 {"id": "flow", "role": "injector.flow", "unit": "cc/min", "values": 240}]}`
	const reference = `{"id": "p", "role": "injector.reference_pressure", "unit": "bar", "values": 3},`
	const follows = `"engine": {"rail_pressure": {"value": 3, "unit": "bar", "relative_to": "manifold"}},`
	for _, c := range []struct {
		engine, table string
		want          int
	}{{"", "", 1}, {"", reference, 0}, {follows, "", 0}} {
		findings, _ := Check(read(t, fmt.Sprintf(doc, c.engine, c.table)))
		if len(findings) != c.want {
			t.Errorf("%q %q: %q", c.engine, c.table, lines(findings))
		}
	}
}

// TestVacuum: flow against manifold vacuum rises by the law of the rail
// pressure behind it, and against manifold pressure falls.
func TestVacuum(t *testing.T) {
	const doc = `{"format": "calsplice/1", "engine": {"rail_pressure": {"value": 400, "unit": "kPa", "relative_to": "%s"}},
	 "tables": [{"id": "o", "role": "injector.offset", "unit": "ms", "values": 0.9},
	 {"id": "f", "role": "injector.flow", "unit": "lb/hr", "x": {"quantity": "%s", "unit": "%s", "points": [%s]}, "values": [%s]}]}`
	root := func(dps ...float64) string {
		var out []string
		for _, dp := range dps {
			out = append(out, fmt.Sprintf("%.2f", 1.9*math.Sqrt(dp)))
		}
		return strings.Join(out, ", ")
	}
	for _, c := range []struct {
		why, to, quantity, unit, points, values string
		want                                    []string
	}{
		{"vacuum", "atmosphere", "manifold vacuum", "kPa", "0, 20, 40, 60, 80", root(400, 420, 440, 460, 480), nil},
		{"pressure, absolute", "atmosphere", "manifold pressure", "kPa", "20, 60, 100, 200", root(481.3, 441.3, 401.3, 301.3), nil},
		{"pressure against an absolute rail", "absolute", "manifold pressure", "kPa", "20, 60, 100", root(380, 340, 300), nil},
		{"the wrong way round", "atmosphere", "manifold vacuum", "kPa", "0, 20, 40, 60, 80", root(480, 460, 440, 420, 400),
			[]string{"flow-pressure", "flow-pressure", "flow-pressure", "flow-pressure", "flow-root", "flow-root"}},
		{"a regulator that follows the manifold", "manifold", "manifold pressure", "kPa", "20, 60, 100", "38, 38, 38", nil},
	} {
		findings, _ := Check(read(t, fmt.Sprintf(doc, c.to, c.quantity, c.unit, c.points, c.values)))
		var got []string
		for _, f := range findings {
			got = append(got, f.Rule)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: want %q, got\n%s", c.why, c.want, strings.Join(lines(findings), "\n"))
		}
	}
}

// TestShapesAreNotSlips: what engines really look like, none of which is a
// finding: a meter's steep curve, a volumetric efficiency with a sharp
// resonance, a cliff where a strategy changes, flat tables, rounding.
func TestShapesAreNotSlips(t *testing.T) {
	grid := func(role tables.Role, unit string, resolution float64, nx, ny int, f func(x, y float64) float64) *tables.Table {
		px, py := make([]float64, nx), make([]float64, ny)
		for i := range px {
			px[i] = 600 + 400*float64(i)
		}
		for i := range py {
			py[i] = 10 + 10*float64(i)
		}
		x, _ := tables.NewAxis("engine speed", "r/min", px)
		y, _ := tables.NewAxis("load", "%", py)
		fields := tables.Fields{ID: "t", Role: role, Unit: unit, Resolution: resolution, X: x, Y: y}
		if ny == 1 {
			fields.Y = nil
		}
		for _, yv := range py {
			for _, xv := range px {
				fields.Values = append(fields.Values, f(xv, yv))
			}
		}
		made, err := tables.NewTable(fields)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range fields.Values {
			fields.Values[i] = made.Round(v)
		}
		return made
	}
	for _, c := range []struct {
		why string
		t   *tables.Table
	}{
		{"a meter's steep curve", grid(tables.AirMeter, "g/s", 0.01, 30, 1, func(x, _ float64) float64 { return math.Exp((x - 600) / 1800) })},
		{"a resonance at one speed", grid(tables.AirVolumetricEfficiency, "%", 0.1, 16, 10, func(x, y float64) float64 {
			return 60 + y/4 + 12*math.Exp(-math.Pow((x-3000)/250, 2)) + 5*math.Sin(x/900)
		})},
		{"the same with few loads", grid(tables.AirVolumetricEfficiency, "%", 0.1, 16, 3, func(x, y float64) float64 {
			return 60 + y/4 + 12*math.Exp(-math.Pow((x-3000)/250, 2)) + 5*math.Sin(x/900)
		})},
		{"a cliff in speed", grid(tables.SparkAdvance, "deg", 0.5, 16, 10, func(x, y float64) float64 {
			if x < 1100 {
				return 12
			}
			return 34 - y/5 + x/900
		})},
		{"a cliff in load", grid(tables.SparkAdvance, "deg", 0.25, 16, 10, func(x, y float64) float64 {
			if y > 75 {
				return 10 + x/1000
			}
			return 34 - y/5 + x/900
		})},
		{"a corner that is enriched", grid("", "lambda", 0.01, 12, 10, func(x, y float64) float64 {
			if y > 75 && x > 3500 {
				return 0.86
			}
			return 1
		})},
		{"flat", grid("", "AFR", 0.1, 12, 10, func(x, y float64) float64 { return 14.7 })},
		{"coarse rounding", grid(tables.SparkAdvance, "deg", 2, 16, 12, func(x, y float64) float64 { return 10 + 8*math.Log(x/600) - y/9 })},
		{"a curve with a kink", grid("", "%", 0.1, 12, 1, func(x, _ float64) float64 { return math.Max(0, x-2600) / 50 })},
		{"a curve with a step", grid("", "%", 0.1, 12, 1, func(x, _ float64) float64 { return 50 * math.Round(math.Min(x, 2000)/2000) })},
		{"a step at the start", grid("", "%", 0.1, 12, 1, func(x, _ float64) float64 {
			if x < 1100 {
				return 0
			}
			return 10
		})},
	} {
		doc, err := tables.NewCalibration(tables.Contents{Tables: []*tables.Table{c.t}})
		if err != nil {
			t.Fatal(err)
		}
		if findings, _ := Check(doc); len(findings) > 0 {
			t.Errorf("%s:\n%s", c.why, strings.Join(lines(findings), "\n"))
		}
	}
}

// TestSpikeInAShortCurve: one slip among eight values.
func TestSpikeInAShortCurve(t *testing.T) {
	const doc = `{"format": "calsplice/1", "tables": [{"id": "t", "unit": "deg",
	 "x": {"quantity": "load", "unit": "%%", "points": [10, 20, 30, 40, 50, 60, 70, 80]}, "values": [%s]}]}`
	for _, c := range []struct {
		values string
		want   int
	}{
		{"10, 20, 30, 48, 50, 60, 70, 80", 1}, {"10, 20, 30, 40, 50, 60, 70, 80", 0}, {"10, 20, 30, 30, 30, 60, 70, 80", 0},
		{"10, 12, 15, 21, 32, 50, 90, 150", 0}, {"0, 0, 0, 0, 5, 10, 15, 20", 0}, {"14, 20, 26, 3, 33, 35, 36, 36", 1},
	} {
		findings, _ := Check(read(t, fmt.Sprintf(doc, c.values)))
		if len(findings) != c.want || c.want == 1 && findings[0].At[1] != 3 {
			t.Errorf("%s: %q", c.values, lines(findings))
		}
	}
}

func TestManyAreCounted(t *testing.T) {
	f := tables.Fields{ID: "t", Unit: "deg", Limits: &tables.Limits{Low: 0, High: 1}}
	var p []float64
	for i := range 40 {
		p, f.Values = append(p, float64(i)), append(f.Values, 5)
	}
	f.X, _ = tables.NewAxis("load", "%", p)
	table, _ := tables.NewTable(f)
	doc, _ := tables.NewCalibration(tables.Contents{Tables: []*tables.Table{table}})
	findings, _ := Check(doc)
	if n := len(findings); n != most+1 || findings[n-1].Text != "and 28 more cells like that" {
		t.Errorf("got\n%s", strings.Join(lines(findings), "\n"))
	}
}

// TestWhatNothingComputesWith: what no rule can look at is named: a finding
// where a role asks for it, a note elsewhere.
func TestWhatNothingComputesWith(t *testing.T) {
	for _, c := range []struct{ why, old, new, finding, note string }{
		{"the values' unit", `"role": "injector.offset", "unit": "ms"`, `"role": "injector.offset", "unit": "ticks"`,
			`unit-unknown injector.offset: its unit "ticks" is not known, so nothing can be computed with it for the role injector.offset`, ""},
		{"an axis's unit", `"battery voltage", "unit": "V"`, `"battery voltage", "unit": "counts"`,
			`unit-unknown injector.offset: the unit "counts" of its x axis is not known, so nothing can be computed along it`, ""},
		{"an axis's quantity", `"engine speed", "unit": "r/min", "points": [1000, 3000`, `"speed", "unit": "r/min", "points": [1000, 3000`,
			`quantity-unknown air.ve: the quantity "speed" of its x axis is not known, expected one of ` + strings.Join(tables.Quantities, ", "), ""},
		{"an id that is a role's name, without the role", `"id": "injector.offset", "role": "injector.offset", "unit": "ms"`, `"id": "injector.offset", "unit": "ms"`,
			`no-role injector.offset: its id is the name of a role that it does not have: give it "role": "injector.offset", or "other"`, ""},
		{"the same with the role other", `"id": "injector.offset", "role": "injector.offset"`, `"id": "injector.offset", "role": "other"`, "", ""},
		{"an engine's unit", `"unit": "kg/L"`, `"unit": "stone/firkin"`, "", `engine fuel_density: its unit "stone/firkin" is not known, so it was not checked`},
		{"a unit without a role", `"role": "fuel.stoich_afr", "unit": "1"`, `"unit": "steps"`, "", `units that nothing computes with: "steps" (fuel.stoich)`},
		{"a known unit without a role", `"role": "fuel.stoich_afr", "unit": "1"`, `"unit": "AFR"`, "", ""},
		{"a quantity without a role", `"role": "air.volumetric_efficiency", "unit": "%",
   "x": {"quantity": "engine speed"`, `"unit": "%", "x": {"quantity": "wheel speed"`, "", `quantities that nothing computes with: "wheel speed" (air.ve)`},
		{"an axis's unit without a role", `"role": "air.volumetric_efficiency", "unit": "%",
   "x": {"quantity": "engine speed", "unit": "r/min"`, `"unit": "%", "x": {"quantity": "engine speed", "unit": "ticks"`, "", `units that nothing computes with: "ticks" (air.ve)`},
	} {
		text := strings.Replace(van, c.old, c.new, 1)
		if text == van {
			t.Fatalf("%s: nothing to change", c.why)
		}
		findings, notes := Check(read(t, text))
		findings = slices.DeleteFunc(findings, func(f Finding) bool { return f.Rule == "group-incomplete" })
		if got := strings.Join(lines(findings), "\n"); got != c.finding {
			t.Errorf("%s: found %q, want %q", c.why, got, c.finding)
		}
		if got := strings.Join(notes, "\n"); got != c.note {
			t.Errorf("%s: noted %q, want %q", c.why, got, c.note) // promise: never silent
		}
	}
}

// TestNothingJudged: a document in which no rule could look at anything says so.
func TestNothingJudged(t *testing.T) {
	const doc = `{"format": "calsplice/1", "tables": [%s]}`
	const offset = `{"id": "dead time", "unit": "ms", "x": {"quantity": "battery voltage", "unit": "V", "points": [8, 12, 16]}, "values": [-5, 1, 400]}`
	const note = "no table has a role, so values were held against their own limits, resolution and neighbours only"
	many := ""
	for i := range most + 3 {
		many += fmt.Sprintf(`, {"id": "t%d", "unit": "u%d", "values": 1}`, i, i)
	}
	for _, c := range []struct {
		tables string
		want   []string
	}{
		{"", nil},
		{strings.Replace(offset, "dead time", "dead", 1), []string{note}},
		{strings.Replace(offset, `"dead time"`, `"dead", "role": "other"`, 1), []string{note}},
		{`{"id": "p", "role": "injector.reference_pressure", "unit": "bar", "values": 3}`, nil},
		{`{"id": "p", "role": "injector.reference_pressure", "unit": "bar", "values": 3}` + many,
			[]string{`units that nothing computes with: "u0" (t0), "u1" (t1), "u2" (t2), "u3" (t3), "u4" (t4), "u5" (t5), "u6" (t6), "u7" (t7), "u8" (t8), "u9" (t9), "u10" (t10), "u11" (t11), and 3 more`}},
	} {
		if _, notes := Check(read(t, fmt.Sprintf(doc, c.tables))); !slices.Equal(notes, c.want) {
			t.Errorf("%s: noted %q, want %q", c.tables, notes, c.want) // promise: never silent
		}
	}
}
