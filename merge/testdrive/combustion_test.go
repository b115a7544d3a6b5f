package testdrive

import (
	"math"
	"testing"
)

// TestKnockTrends holds the cylinder's knock limit to figures of the literature
// (Russ, SAE 960497, from memory): a degree of spark, 7 K of intake air and 10 K
// of coolant are worth about one octane number each, 10 kPa of manifold pressure
// three to four, and most octane is needed 5 % rich.
func TestKnockTrends(t *testing.T) {
	for _, c := range []*Combustion{
		{Compression: 9.4, Burn: 50, Scale: 0.34}, {Compression: 10.2, Burn: 57, Scale: 0.42}, {Compression: 11, Burn: 64, Scale: 0.5},
	} {
		c.Ready()
		for _, speed := range []float64{1300, 2000, 2800} {
			for _, pressure := range []float64{85, 95} {
				at := func(pressure, intake, coolant, lambda, octane float64) float64 {
					return c.Limit(speed, pressure, intake, coolant, lambda, octane)
				}
				base := at(pressure, 30, 88, 0.95, 93)
				if base > c.Best(speed)+6 {
					continue // not limited by knock
				}
				octane := (at(pressure, 30, 88, 0.95, 95) - at(pressure, 30, 88, 0.95, 91)) / 4
				for _, row := range []struct {
					name      string
					got       float64
					low, high float64
				}{
					{"degrees for an octane number", octane, 0.4, 1.6},
					{"octane numbers for 7 K of intake air", (base - at(pressure, 37, 88, 0.95, 93)) / octane, 0.6, 1.7},
					{"octane numbers for 10 K of coolant", (base - at(pressure, 30, 98, 0.95, 93)) / octane, 0.6, 1.7},
					{"octane numbers for 10 kPa", (at(pressure-5, 30, 88, 0.95, 93) - at(pressure+5, 30, 88, 0.95, 93)) / octane, 2.5, 6.5},
					{"degrees won 9 % richer than that", at(pressure, 30, 88, 0.86, 93) - base, 0.5, 7.5},
					{"degrees won 10 % leaner than that", at(pressure, 30, 88, 1.05, 93) - base, -1.5, 2},
				} {
					if !(row.got >= row.low && row.got <= row.high) {
						t.Errorf("compression %v, %v r/min, %v kPa: %s is %.2f, expected %v to %v", c.Compression, speed, pressure, row.name, row.got, row.low, row.high)
					}
				}
			}
		}
	}
}

// The worked value of the induction time: octane 90, 40 atm, 900 K.
func TestInductionTime(t *testing.T) {
	c := Combustion{Scale: 1}
	want := 17.68 * math.Pow(0.9, 3.402) * math.Pow(40, -1.7) * math.Exp(3800.0/900) // ms
	if got := c.induction(40*101325, 900) * math.Pow(0.9, 3.402); math.Abs(got/want-1) > 1e-12 {
		t.Errorf("induction time %v ms, want %v", got, want)
	}
}
