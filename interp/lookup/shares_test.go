package lookup

import (
	"math"
	"math/rand/v2"
	"testing"

	"calsplice/tables"
)

// The shares of a point give the very value that is read there, and are of
// cells that the table has.
func TestSharesReadWhatAtReads(t *testing.T) {
	f := tables.Fields{ID: "t", Unit: "ms", X: axisOf(t, tables.BatteryVoltage, "V", 8, 10, 14),
		Y: axisOf(t, tables.DifferentialPressure, "kPa", 200, 300), Values: []float64{1, 2, 5, 7, 11, 13}}
	table, err := tables.NewTable(f)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Bind(table)
	if err != nil {
		t.Fatal(err)
	}
	src := rand.New(rand.NewPCG(1, 1))
	points := []Point{{Battery: 8, Delta: 200}, {Battery: 14, Delta: 300}, {Battery: 20, Delta: 100}, {Battery: 10, Delta: 250}}
	for range 200 {
		points = append(points, Point{Battery: 6 + 10*src.Float64(), Delta: 150 + 200*src.Float64()})
	}
	for _, p := range points {
		sum, weight := 0.0, 0.0
		for _, s := range b.Shares(&p) {
			sum, weight = sum+s.Weight*f.Values[s.Cell], weight+s.Weight
		}
		if math.Abs(sum-b.At(&p)) > 1e-12 || math.Abs(weight-1) > 1e-12 {
			t.Errorf("%+v: shares of %v give %v, read is %v", p, weight, sum, b.At(&p))
		}
	}
	if s := b.Shares(&Point{Battery: math.NaN(), Delta: 250}); s != nil {
		t.Errorf("a point without a voltage has the shares %v", s)
	}
}

// TestNearest: the nearest breakpoint, halfway the higher one.
func TestNearest(t *testing.T) {
	for v, want := range map[float64]int{-5: 0, 0: 0, 4.9: 0, 5: 1, 14.9: 1, 25: 2, 24.9: 1, 99: 2} {
		if got := Nearest([]float64{0, 10, 40}, v); got != want {
			t.Errorf("%v: %d, want %d", v, got, want)
		}
	}
}
