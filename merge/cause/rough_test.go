package cause

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"calsplice/tables"
)

// roughDrive is another simulator than merge/testdrive, made from the formulas
// alone and unlike it on purpose: operating points drawn at random and changed
// in a second or two, an integrating short trim that lags and may swing or not,
// a long trim that learns in coarse cells, limits that may be small, sensors
// that are noisy and rounded, and a logger that may be slow or lack channels.
type roughDrive struct {
	random         *rand.Rand
	fault          Cause
	size           float64 // share at the place where the fault is largest
	metered, boost bool
	banks          int
	minutes, hz    float64
	noise          float64 // share, from stay to stay
	limit          float64 // share, of each trim
	swing          float64 // share, of the limit cycle; 0 for none
	lag            float64 // s
	without        []string

	said string
}

type roughState struct{ speed, manifold, battery, air, p, duty, fuel float64 }

const roughBaro, roughFlow, roughVolume, roughRail = 97.0, 3.4, 0.55, 320.0

func (d *roughDrive) at(speed, manifold, battery float64) roughState {
	ve := 0.70 + 0.17*math.Exp(-math.Pow((speed-3200)/2200, 2)) + 0.0006*(manifold-60)
	charge := manifold * roughVolume / (0.28705 * 315) * ve * 1000 // mg
	p := charge / 14.6 / roughFlow
	offset := roughOffset(battery)
	return roughState{speed, manifold, battery, charge * 4 * speed / 120 / 1000, p, (p + offset) * speed / 1200, charge * 4 * speed / 120 / 1000 / 14.6}
}

func roughOffset(volts float64) float64 { return 0.75 + 0.18*(14-volts) + 0.02*(14-volts)*(14-volts) }

// wants is the trim that the fault asks for.
func (d *roughDrive) wants() func(s roughState, bank int) float64 {
	sign := 1.0
	if d.random.IntN(2) == 0 {
		sign = -1
	}
	idle, top := d.at(820, 33, 14), d.at(3800, 92, 14)
	a := d.size
	d.said = fmt.Sprintf("%+.1f %%", 100*sign*a)
	switch d.fault {
	case FlowScale:
		return func(roughState, int) float64 { return 1/(1-sign*a) - 1 }
	case InjectorOffset:
		return func(s roughState, _ int) float64 { return sign * a * idle.p / s.p }
	case UnmeteredAir:
		leak := a * idle.air
		return func(s roughState, _ int) float64 { return leak * orifice(s.manifold/roughBaro) / s.air }
	case PressureReference:
		if d.random.IntN(2) == 0 {
			d.said = "hose off"
			return func(s roughState, _ int) float64 {
				return math.Sqrt(roughRail/(roughRail+roughBaro-s.manifold)) - 1
			}
		}
		d.said = "hose on"
		return func(s roughState, _ int) float64 {
			return math.Sqrt((roughRail+roughBaro-s.manifold)/roughRail) - 1
		}
	case SupplyLimit:
		knee := top.fuel * (0.35 + 0.3*d.random.Float64())
		d.said = fmt.Sprintf("%.1f %% past %.2g g/s", 100*a, knee)
		k := (1 - 1/((1+a)*(1+a))) / (top.fuel/knee - 1) // loss of pressure a share of fuel past the knee
		return func(s roughState, _ int) float64 {
			return 1/math.Sqrt(max(0.2, 1-k*max(0, s.fuel/knee-1))) - 1
		}
	case AirMeter:
		kind := d.random.IntN(4)
		d.said += fmt.Sprintf(" kind %d", kind)
		return func(s roughState, _ int) float64 {
			u := math.Log(s.air/idle.air) / math.Log(top.air/idle.air) // 0 to 1
			switch kind {
			case 0:
				return sign * a * s.air / top.air
			case 1:
				return sign * a * (1 - 2*u)
			case 2:
				return sign * a * math.Exp(-math.Pow((u-0.5)/0.25, 2))
			}
			return 1/(1-sign*a*math.Sqrt(s.air/top.air)) - 1
		}
	case BankDifference:
		weak := d.random.IntN(2)
		return func(s roughState, b int) float64 {
			if b == weak {
				return sign * a
			}
			return 0
		}
	}
	return func(roughState, int) float64 { return 0 }
}

func (d *roughDrive) csv() []byte {
	wants := d.wants()
	names := []string{"time", "engine_speed", "manifold_pressure", "barometric_pressure", "air_flow", "throttle", "coolant",
		"battery", "pulse_width", "fuel_status", "lambda_commanded"}
	for b := range d.banks {
		names = append(names, fmt.Sprintf("short_trim_%d", b+1), fmt.Sprintf("long_trim_%d", b+1))
	}
	var out bytes.Buffer
	keep := slices.DeleteFunc(slices.Clone(names), func(n string) bool { return slices.Contains(d.without, n) })
	out.WriteString(strings.Join(keep, ",") + "\n")
	const dt = 0.05
	target, now := [3]float64{820, 33, 14}, [3]float64{820, 33, 14}
	left, off, due := 10.0, 0.0, 0.0
	var short, sensed [2]float64
	var long [2][16]float64
	up := [2]bool{}
	phase := d.random.Float64() * 6
	for n := range int(d.minutes * 60 / dt) {
		t := float64(n) * dt
		if left -= dt; left < 0 {
			target = d.next(target[0])
			left = 4 + 18*d.random.Float64()
			off = d.noise * d.random.NormFloat64()
		}
		for k, tau := range []float64{0.6, 0.3, 1} {
			now[k] += (target[k] - now[k]) * dt / tau
		}
		s := d.at(now[0], now[1], now[2])
		open := now[1] > roughBaro-6 && !d.boost
		cell := min(3, int(now[0]/1200))*4 + min(3, int(now[1]/28))
		row := []float64{t, now[0] + 6*d.random.NormFloat64(), now[1] + 0.3*d.random.NormFloat64(), roughBaro, s.air * (1 + 0.01*d.random.NormFloat64()),
			5 + (now[1]-25)*0.9, 88, now[2] + 0.03*d.random.NormFloat64(), 0, 2, 1}
		if open {
			row[9], row[10] = 4, 0.88
		}
		total := 0.0
		for b := range d.banks {
			want := wants(s, b) + off + 0.003*math.Sin(t/230+phase)
			lg := &long[b][cell]
			have := (1+short[b])*(1+*lg) - 1
			sensed[b] += ((want - have) - sensed[b]) * dt / (d.lag/2 + 0.1)
			if open {
				short[b] = 0
			} else {
				gain := sensed[b] * dt / d.lag
				if d.swing > 0 {
					if sensed[b] > d.swing/3 {
						up[b] = true
					} else if sensed[b] < -d.swing/3 {
						up[b] = false
					}
					gain = math.Copysign(math.Max(0.02, math.Abs(sensed[b])/d.lag), map[bool]float64{true: 1, false: -1}[up[b]]) * dt
				}
				short[b] = math.Min(math.Max(short[b]+gain, -d.limit), d.limit)
				*lg = math.Min(math.Max(*lg+short[b]*dt/20, -d.limit), d.limit)
			}
			row = append(row, math.Round(short[b]*128)/1.28, math.Round(*lg*128)/1.28)
			total += ((1+short[b])*(1+*lg) - 1) / float64(d.banks)
		}
		row[8] = s.p*(1+total)/row[10] + roughOffset(now[2])
		if t < due {
			continue
		}
		due += 1 / d.hz
		d.row(&out, names, row)
	}
	return out.Bytes()
}

func (d *roughDrive) next(speed float64) [3]float64 {
	volts := 13.2 + 1.1*d.random.Float64()
	switch x := d.random.Float64(); {
	case x < 0.2:
		return [3]float64{790 + 60*d.random.Float64(), 31 + 6*d.random.Float64(), volts}
	case x < 0.75:
		return [3]float64{1200 + 1800*d.random.Float64(), 35 + 40*d.random.Float64(), volts}
	case d.boost && x < 0.87:
		return [3]float64{2200 + 1600*d.random.Float64(), 100 + 60*d.random.Float64(), volts}
	}
	return [3]float64{2000 + 2300*d.random.Float64(), 55 + 41*d.random.Float64(), volts}
}

func (d *roughDrive) row(out *bytes.Buffer, names []string, row []float64) {
	first := true
	for k, n := range names {
		if slices.Contains(d.without, n) {
			continue
		}
		if !first {
			out.WriteByte(',')
		}
		first = false
		digits := map[string]int{"time": 2, "engine_speed": 0, "manifold_pressure": 0, "air_flow": 2, "battery": 1, "pulse_width": 2,
			"throttle": 1, "barometric_pressure": 0, "lambda_commanded": 2}
		n := digits[n]
		if k >= 11 {
			n = 3
		}
		fmt.Fprintf(out, "%.*f", n, row[k])
	}
	out.WriteByte('\n')
}

// calibration is the table set that the engine of a rough drive is run by.
func (d *roughDrive) calibration(t testing.TB) *tables.Calibration {
	axis := func(q, u string, p ...float64) *tables.Axis {
		a, err := tables.NewAxis(q, u, p)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	var list []*tables.Table
	add := func(f tables.Fields) {
		tab, err := tables.NewTable(f)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, tab)
	}
	volts := []float64{8, 10, 12, 13, 14, 15, 16}
	var offsets []float64
	for _, v := range volts {
		offsets = append(offsets, roughOffset(v))
	}
	add(tables.Fields{ID: "injector.flow", Role: tables.InjectorFlow, Unit: "g/s", Values: []float64{roughFlow}})
	add(tables.Fields{ID: "injector.offset", Role: tables.InjectorOffset, Unit: "ms", X: axis("battery voltage", "V", volts...), Values: offsets})
	if d.metered {
		add(tables.Fields{ID: "air.meter", Role: tables.AirMeter, Unit: "g/s", X: axis("meter frequency", "Hz", 1000, 9000), Values: []float64{1, 150}})
	}
	follows := tables.Manifold
	if d.said == "hose on" {
		follows = tables.Atmosphere
	}
	c, err := tables.NewCalibration(tables.Contents{Name: "rough", Tables: list, Engine: &tables.Engine{Cylinders: 4, Strokes: 4, Injectors: 4,
		PulsesPerCycle: 1, StoichAFR: 14.6, RailPressure: &tables.RailPressure{Value: roughRail, Unit: "kPa", RelativeTo: follows}}})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func roughFor(fault Cause, random *rand.Rand) *roughDrive {
	d := &roughDrive{random: random, fault: fault, size: 0.04 + 0.16*random.Float64(), metered: true, boost: random.IntN(4) == 0,
		banks: 1 + random.IntN(2), minutes: 8 + 20*random.Float64(), hz: []float64{1, 2, 5, 10, 20}[random.IntN(5)],
		noise: 0.002 + 0.006*random.Float64(), limit: []float64{0.1, 0.2, 0.25}[random.IntN(3)], lag: 0.7 + 2*random.Float64()}
	if random.IntN(2) == 0 {
		d.swing = 0.02
	}
	if fault == BankDifference {
		d.banks = 2
	}
	switch random.IntN(6) {
	case 0:
		d.without = []string{"battery"}
	case 1:
		d.without = []string{"pulse_width"}
	case 2:
		d.without = []string{"fuel_status", "lambda_commanded"}
	case 3:
		d.without = []string{"air_flow"}
	case 4:
		d.without = []string{"barometric_pressure", "throttle"}
	}
	return d
}
