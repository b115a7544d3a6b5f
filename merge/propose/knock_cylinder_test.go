package propose_test

import (
	"math"
	"sort"
	"testing"
)

// Combustion is a cylinder in which knock follows from pressure, temperature,
// fuel and mixture, in place of a fixed margin over the spark table.
//
// The end gas knocks where the integral of dt over its induction time reaches 1
// before the flame gets there (Livengood and Wu, 1955). The induction time is
// Douaud and Eyzat's (SAE 780080, as widely quoted; the paper itself was not at
// hand):
//
//	τ = 17.68 ms · (ON/100)^3.402 · (p/atm)^−1.7 · exp(3800 K/T)
//
// Pressure comes from one zone with a Wiebe burn, the unburned gas is compressed
// isentropically. That formula knows no mixture: an octane bonus away from 5 %
// rich stands in for it (most octane is needed there: SAE 960497, from memory).
type Combustion struct {
	Compression float64 // ratio
	Burn        float64 // degrees from spark to the end of combustion at 2000 r/min
	Scale       float64 // of the induction time: chamber, swirl, cooling
	Octane      float64 // of the fuel in the tank
	limit       *limitTable
}

// The fixed numbers of the cylinder (common practice, no source, but for γ).
const (
	gammaUnburned = 1.32
	gammaMixed    = 1.28
	heat          = 2.15e6 // J for each kg of charge, less what the walls take
	gasConstant   = 287.0  // J/(kg·K)
	rodRatio      = 3.3    // connecting rod over crank
	knockEnd      = 0.85   // share burned after which what is left no longer knocks
	wallShare     = 0.41   // of the charge's temperature that follows the coolant
	richest       = 0.95   // lambda of the highest octane need
)

var (
	limitSpeed = []float64{700, 1300, 2000, 2800, 3800, 5000, 6500}
	limitPress = []float64{30, 55, 70, 80, 90, 100, 115, 135, 160, 190}
	limitTemp  = []float64{290, 315, 340, 365, 395} // K, of the charge as the intake closes
	limitON    = []float64{70, 80, 88, 95, 102, 112}
)

// limitTable is the knock-limited spark advance over speed, manifold pressure,
// charge temperature and octane number.
type limitTable struct{ v []float64 }

// Ready computes the engine's limits; an engine is ready once for all its fuels.
func (c *Combustion) Ready() *Combustion {
	t := &limitTable{}
	// The integral does not depend on the fuel but by one factor, so that one sweep
	// over spark serves all octane numbers: the limit is where it reaches the fuel's.
	const first, by, n = -30.0, 2.5, 33
	var reached [n]float64
	for _, speed := range limitSpeed {
		for _, p := range limitPress {
			for _, temp := range limitTemp {
				for k := range reached {
					reached[k] = c.integral(first+float64(by*float64(k)), speed, p, temp)
				}
				for _, on := range limitON {
					need, most := math.Pow(on/100, 3.402), c.Best(speed)+15
					k := sort.Search(n, func(k int) bool { return reached[k] >= need })
					at := first + float64(by*float64(k))
					if k > 0 && k < n {
						share := (need - reached[k-1]) / (reached[k] - reached[k-1])
						at += float64(by * (share - 1))
					}
					t.v = append(t.v, min(at, most))
				}
			}
		}
	}
	c.limit = t
	return c
}

// burn is how long combustion takes at a speed, in degrees.
func (c *Combustion) burn(speed float64) float64 {
	return c.Burn * math.Pow(speed/2000, 0.3)
}

// integral is ∫dt/τ for octane 100 up to the end of what can knock.
func (c *Combustion) integral(spark, speed, manifold, temp float64) float64 {
	const dt = 2 // degrees
	volume := func(deg float64) float64 {
		a := deg * math.Pi / 180
		return 1 + (c.Compression-1)/2*(rodRatio+1-math.Cos(a)-math.Sqrt(rodRatio*rodRatio-math.Sin(a)*math.Sin(a)))
	}
	const closes = -120.0
	p0, v0 := manifold*1000, volume(closes)
	added := p0 * v0 / (gasConstant * temp) * heat
	long := c.burn(speed)
	deg := -spark
	p := p0 * math.Pow(v0/volume(deg), gammaUnburned)
	sum, burned, v := 0.0, 0.0, volume(deg)
	for burned < knockEnd && deg < 90 {
		// Wiebe's function with an exponent of 3 and 99.3 % burned at the end.
		x := (deg + dt + spark) / long
		next := 1 - math.Exp(-5*x*x*x)
		nv := volume(deg + dt)
		p += (float64((gammaMixed-1)*added*(next-burned)) - float64(gammaMixed*p*(nv-v))) / v
		t := temp * math.Pow(p/p0, (gammaUnburned-1)/gammaUnburned)
		sum += dt / (speed * 0.006) / c.induction(p, t)
		deg, v, burned = deg+dt, nv, next
	}
	return sum
}

// induction is the induction time in ms at octane 100; pressure in Pa, in K.
func (c *Combustion) induction(p, t float64) float64 {
	return c.Scale * 17.68 * math.Pow(p/101325, -1.7) * math.Exp(3800/t)
}

// Best is the spark advance of most torque: half burned 8 degrees after top
// dead centre.
func (c *Combustion) Best(speed float64) float64 {
	return c.burn(speed)*math.Cbrt(math.Ln2/5) - 8
}

// Limit is the most spark advance without knock. Temperatures are in degC; on is
// the fuel's octane number.
func (c *Combustion) Limit(speed, manifold, intake, coolant, lambda, on float64) float64 {
	// The charge is warmed by the walls and by what is left in the cylinder, some 12 K,
	// and cooled by the fuel that evaporates beyond what burns best.
	temp := intake + float64(wallShare*(coolant-intake)) + 273.15 + 12 + float64(110*(min(lambda, richest)-richest))
	off := lambda - richest
	bonus := 550.0 // octane numbers for each lambda squared
	if off > 0 {
		bonus = 60
	}
	return c.limit.at(speed, manifold, temp, on+min(4.5, float64(bonus*off*off)))
}

// at interpolates over all four axes and holds the edges.
func (t *limitTable) at(x ...float64) float64 {
	axes := [...][]float64{limitSpeed, limitPress, limitTemp, limitON}
	var low [4]int
	var share [4]float64
	for k, a := range axes {
		i := min(max(sort.SearchFloat64s(a, x[k])-1, 0), len(a)-2)
		low[k] = i
		share[k] = min(1, max(0, (x[k]-a[i])/(a[i+1]-a[i])))
	}
	sum := 0.0
	for corner := range 16 {
		w, at := 1.0, 0
		for k, a := range axes {
			up := corner >> k & 1
			if up == 1 {
				w *= share[k]
			} else {
				w *= 1 - share[k]
			}
			at = at*len(a) + low[k] + up
		}
		if w > 0 {
			sum += float64(w * t.v[at])
		}
	}
	return sum
}

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
