package tablejson_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tablejson"
	"calsplice/tables/tabletest"

	"pgregory.net/rapid"
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
	c, err := tablejson.Parse([]byte(van), "van.json")
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
	again, err := tablejson.Parse(first.Bytes(), "first")
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

// roundTrip is the law of every spelling: what is written reads back the same
// to the bit, and writes the same bytes again.
func roundTrip(t interface{ Fatalf(string, ...any) }, c *tables.Calibration) {
	var first, second bytes.Buffer
	if err := tablejson.Write(&first, c); err != nil {
		t.Fatalf("write: %v", err)
	}
	again, err := tablejson.Parse(first.Bytes(), "first")
	if err != nil {
		t.Fatalf("read back: %v\n%s", err, first.Bytes())
	}
	if !again.Equal(c) {
		t.Fatalf("reads back as another document:\n%s", first.Bytes())
	}
	if err := tablejson.Write(&second, again); err != nil || second.String() != first.String() {
		t.Fatalf("writing again gives other bytes: %v", err)
	}
}

func TestRoundTrip(t *testing.T) {
	for seed := range uint64(5000) {
		roundTrip(t, tabletest.Document(tabletest.Rand(seed)))
		roundTrip(t, tabletest.Cells(tabletest.Rand(seed)))
	}
	rapid.Check(t, lawRoundTrip)
}

func lawRoundTrip(t *rapid.T) {
	roundTrip(t, tabletest.Document(tabletest.Rapid(t)))
	roundTrip(t, tabletest.Cells(tabletest.Rapid(t)))
}

func FuzzRoundTrip(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawRoundTrip)) }

// FuzzRead feeds the reader anything: it may refuse, but whatever it takes it
// must be able to write and read back.
func FuzzRead(f *testing.F) {
	f.Add([]byte(van))
	for seed := range uint64(8) {
		var b bytes.Buffer
		tablejson.Write(&b, tabletest.Cells(tabletest.Rand(seed)))
		f.Add(b.Bytes())
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if c, err := tablejson.Parse(data, "fuzz"); err == nil {
			roundTrip(t, c)
		} else if !errors.As(err, new(*tables.Fault)) && !errors.As(err, new(tables.Faults)) {
			t.Fatalf("an error without a place: %v", err)
		}
	})
}

// BenchmarkRead and BenchmarkWrite are 2,000 maps of 20 × 20.
func large(tb testing.TB) []byte {
	axis := func() *tables.Axis {
		p := make([]float64, 20)
		for i := range p {
			p[i] = float64(500 + 325*i)
		}
		return tabletest.Must(tables.NewAxis("engine speed", "r/min", p))
	}
	c := tables.Contents{Name: "large"}
	s := tabletest.Rand(1)
	for i := range 2000 {
		f := tables.Fields{ID: fmt.Sprintf("map.%d", i), Unit: "deg", Resolution: 0.01, X: axis(), Y: axis(), Values: make([]float64, 400)}
		for j := range f.Values {
			f.Values[j] = float64(s.N(400000)) / 10000
		}
		c.Tables = append(c.Tables, tabletest.Must(tables.NewTable(f)))
	}
	var b bytes.Buffer
	if err := tablejson.Write(&b, tabletest.Must(tables.NewCalibration(c))); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// BenchmarkReadWrite reads, validates and writes 800,000 cells.
func BenchmarkReadWrite(b *testing.B) {
	data := large(b)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		c, err := tablejson.Parse(data, "large")
		if err != nil {
			b.Fatal(err)
		}
		if err := tablejson.Write(io.Discard, c); err != nil {
			b.Fatal(err)
		}
	}
}

// TestRoomForValues: axes that promise nine million cells take no room for them
// where the text holds one.
func TestRoomForValues(t *testing.T) {
	axis := `{"unit": "%", "points": [0`
	for i := range 2999 {
		axis += fmt.Sprintf(", %d", i+1)
	}
	text := `{"format": "calsplice/1", "tables": [{"id": "t", "unit": "deg", "x": ` + axis + `]}, "y": ` + axis + `]}, "values": [[1]]}]}`
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := tablejson.Parse([]byte(text), "t.json")
	runtime.ReadMemStats(&after)
	if took := after.TotalAlloc - before.TotalAlloc; took > 4<<20 || err == nil {
		t.Errorf("%d bytes, want at most 4 MiB; error %v", took, err)
	}
}
