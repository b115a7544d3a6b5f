package cause

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"sort"
	"strings"
	"testing"

	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// driven reads a simulated drive without a file: closed loop, warm, no purge,
// and some seconds after the last step of speed, load or fuel status.
func driven(cal *tables.Calibration, l *testdrive.Log) ([]*Point, int, *facts, error) {
	e, err := newEngine(cal)
	if err != nil {
		return nil, 0, nil, err
	}
	d := &deriver{e: e}
	d.plan(func(name string) bool { return l.Column(name) != nil })
	get := func(name string, i int) float64 {
		if c := l.Column(name); c != nil {
			return c[i]
		}
		return math.NaN()
	}
	g := newGatherer()
	banks := 1
	if l.Column("short_trim_2") != nil {
		banks = 2
	}
	calm, was := -100.0, raw{}
	wasTime := 0.0
	for i := range l.Rows() {
		t := get("time", i)
		r := raw{speed: get("engine_speed", i), manifold: get("manifold_pressure", i), baro: get("barometric_pressure", i),
			air: get("air_flow", i), charge: get("air_charge", i), pulse: get("pulse_width", i), battery: get("battery", i),
			rail: get("rail_pressure", i), commanded: get("lambda_commanded", i), load: math.NaN()}
		for b := range r.trim {
			s, long := get(fmt.Sprintf("short_trim_%d", b+1), i), get(fmt.Sprintf("long_trim_%d", b+1), i)
			r.trim[b], r.held[b] = ((1+s/100)*(1+long/100)-1)*100, s
		}
		dt := t - wasTime
		if math.Abs(r.speed-was.speed) > 300*dt+10 || math.Abs(r.manifold-was.manifold) > 20*dt+0.5 || get("fuel_status", i) != 2 {
			calm = t
		}
		was, wasTime = r, t
		if t-calm < 3 || get("coolant", i) < 70 || get("purge", i) > 0 {
			continue
		}
		s := sample{line: i + 2, clock: t, seconds: dt}
		if d.sample(&r, &s) == fit {
			g.add(&s)
		}
	}
	return g.finish(), banks, d.facts(), nil
}

func TestDrives(t *testing.T) {
	if os.Getenv("CALSPLICE_FIGURES") != "1" {
		t.Skip("long")
	}
	for _, fault := range Causes {
		got := map[string]int{}
		right, unsure, mistaken := 0, 0, 0
		const seeds = 16
		for seed := range seeds {
			random := rand.New(rand.NewPCG(uint64(seed), 5))
			cal, plant, said := faulty(fault, random)
			l := testdrive.Drive(cal, plant, testdrive.DriveOptions{Seed: uint64(seed), Minutes: 10 + 15*random.Float64(), Hz: 10, Drift: 0.003, Purge: random.IntN(2) == 0})
			points, banks, f, err := driven(cal, l)
			if err != nil {
				t.Fatal(err)
			}
			res := &Result{}
			newRows(points, banks).rank(res, f)
			lead := res.Leading().Cause
			got[fmt.Sprintf("%s %v", lead, res.Certain)]++
			switch {
			case lead == fault && res.Certain:
				right++
			case lead == fault:
				right++
				unsure++
				t.Logf("unsure %s %s seed %d: %s", fault, said, seed, list(res))
			case res.Certain:
				mistaken++
				t.Logf("WRONG %s %s seed %d: %s", fault, said, seed, list(res))
			default:
				t.Logf("wrong, unsure %s %s seed %d: %s", fault, said, seed, list(res))
			}
		}
		var names []string
		for n, c := range got {
			names = append(names, fmt.Sprintf("%s %d", n, c))
		}
		sort.Strings(names)
		t.Logf("%-18s first in %3d of %3d (%d unsure), wrong and sure %d: %s", fault, right, seeds, unsure, mistaken, strings.Join(names, ", "))
	}
}

// faulty is a calibration and the engine that it does not fit.
func faulty(fault Cause, random *rand.Rand) (*tables.Calibration, testdrive.Plant, string) {
	size := 0.04 + 0.16*random.Float64()
	sign := 1.0
	if random.IntN(2) == 0 {
		sign = -1
	}
	cal := testdrive.Four()
	plant := testdrive.Plant{}
	switch random.IntN(3) {
	case 0:
		cal = testdrive.Turbo()
		plant.Boost = 60
	case 1:
		if fault == FlowScale || fault == InjectorOffset || fault == BankDifference || fault == None || fault == PressureReference {
			cal = testdrive.Six()
			plant.Banks = 2
		}
	}
	if fault == BankDifference {
		plant.Banks = 2
	}
	plant.Truth = cal
	said := fmt.Sprintf("%.1f%% %s", 100*sign*size, cal.Name())
	switch fault {
	case FlowScale:
		plant.Fault.FlowScale = 1 + sign*size
	case InjectorOffset:
		plant.Fault.Offset = sign * size * 1.8
	case UnmeteredAir:
		plant.Fault.Leak = size * 3
	case PressureReference:
		if cal.Engine().RailPressure.RelativeTo == tables.Manifold {
			plant.Fault.HoseOff = true
		} else {
			plant.Fault.Rail = &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Manifold}
		}
	case SupplyLimit:
		plant.Fault.SupplyLimit = 1.2 + 1.2*random.Float64()
		said += fmt.Sprintf(" limit %.2f g/s", plant.Fault.SupplyLimit)
	case AirMeter:
		top := 50 + 20*random.Float64()
		kind := random.IntN(3)
		said += fmt.Sprintf(" kind %d", kind)
		plant.Fault.MeterError = func(q float64) float64 {
			switch kind {
			case 0:
				return -sign * size * q / top
			case 1:
				return -sign * size * (1 - 2*q/top)
			}
			u := math.Log(q / 10)
			return sign * size * math.Exp(-u*u)
		}
	case BankDifference:
		plant.Fault.Bank2 = sign * size
	}
	return cal, plant, said
}
