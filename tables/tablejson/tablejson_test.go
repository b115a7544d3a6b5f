package tablejson_test

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"calsplice/tables/tablejson"
)

const van = `{
  "format": "calsplice/1",
  "name": "Fell rescue van, as found",
  "notes": "free text",
  "engine": {
    "cylinders": 4, "strokes": 4, "injectors": 4, "pulses_per_cycle": 1,
    "displacement": {"value": 2.5, "unit": "L"},
    "rail_pressure": {"value": 380, "unit": "kPa", "relative_to": "atmosphere"},
    "stoich_afr": 14.7,
    "fuel_density": {"value": 0.745, "unit": "kg/L"}
  },
  "tables": [
    {"id": "injector.flow", "title": "Injector flow", "role": "injector.flow", "unit": "g/s", "resolution": 0.001,
     "limits": [0, 12], "notes": "",
     "x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 300, 350, 400, 450]},
     "values": [2.214, 2.425, 2.62, 2.8, 2.97]},
    {"id": "injector.offset", "role": "injector.offset", "unit": "ms",
     "x": {"quantity": "battery voltage", "unit": "V", "points": [8, 10, 12, 14, 16]},
     "y": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 350, 450]},
     "values": [[2.1, 1.5, 1.12, 0.86, 0.7], [2.2, 1.58, 1.18, 0.92, 0.75], [2.3, 1.66, 1.25, 0.98, 0.8]]},
    {"id": "injector.min_pulse", "role": "injector.min_pulse", "unit": "ms", "values": 0.4}
  ]
}
`

// TestCanonical writes the format's own example and compares it with a file
// that a person can read; what was written reads back and writes the same.
func TestCanonical(t *testing.T) {
	c, err := tablejson.Read(strings.NewReader(van), "van.json")
	if err != nil {
		t.Fatal(err)
	}
	var first, second bytes.Buffer
	if err := tablejson.Write(&first, c); err != nil {
		t.Fatal(err)
	}
	const golden = "testdata/van.json"
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Log(first.String())
		t.Fatal(err)
	}
	if first.String() != string(want) {
		t.Errorf("written:\n%s\nwant:\n%s", first.String(), want)
	}
	again, err := tablejson.Read(bytes.NewReader(first.Bytes()), "first")
	if err != nil {
		t.Fatal(err)
	}
	if !again.Equal(c) {
		t.Error("what was written reads back as another document")
	}
	if err := tablejson.Write(&second, again); err != nil {
		t.Fatal(err)
	}
	if second.String() != first.String() {
		t.Error("writing again gives other bytes")
	}
}
