package testdrive

import (
	"math"
	"testing"

	"calsplice/tables"
)

var metered = Design{Name: "Quay crane", Cylinders: 3, Litres: 1.2, Rated: 2.4, FlowBy: tables.ManifoldVacuum, MeterMost: 90,
	Rail: tables.RailPressure{Value: 350, Unit: "kPa", RelativeTo: tables.Atmosphere}}

var computed = Design{Name: "Dredger", Cylinders: 8, Litres: 4.4, Rated: 3.4, FlowBy: tables.DifferentialPressure, BestSpeed: 3000,
	Rail: tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Manifold}, OffsetFactor: 1.3}

// TestNeededIsWhatTheLoopFinds: the trim that follows from the equations is the
// one that the closed loop settles at, for every fault, on engines of each kind,
// whatever the controller and the road.
func TestNeededIsWhatTheLoopFinds(t *testing.T) {
	crane, dredger, turbo := metered.Calibration(), computed.Calibration(), Turbo()
	leak := func(l Fault) *Fault { return &l }
	for _, row := range []struct {
		name   string
		cal    *tables.Calibration
		plant  Plant
		opt    DriveOptions
		within float64
	}{
		{"healthy, a grid of one cell", crane, Plant{}, DriveOptions{Control: Control{Grid: 1}}, 0.4},
		{"flow 8 % wrong, 64 cells, on the motorway", Scaled(dredger, "injector.flow", 1.08, 0), Plant{Mass: 2400}, DriveOptions{Route: Motorway, Control: Control{Grid: 8}}, 0.4},
		{"offset, a slow linear control with a delay", crane, Plant{Fault: Fault{Offset: 0.15}}, DriveOptions{Control: Control{Linear: true, Delay: 0.8}}, 0.4},
		{"leak at altitude, nothing learned", crane, Plant{Barometer: 76, Fault: Fault{Leak: 0.25}}, DriveOptions{Control: Control{NoLong: true}}, 0.8},
		{"a restricted line, a large limit cycle", dredger, Plant{Mass: 2400, Fault: Fault{Restriction: 2}}, DriveOptions{Control: Control{Ramp: 0.05, Jump: 0.02, Delay: 0.4}}, 0.6},
		{"a pump that fails hard", dredger, Plant{Mass: 2400, Fault: Fault{SupplyLimit: 3.2, SupplySlope: 0.5}}, DriveOptions{}, 0.5},
		{"a rail set too low, with flow against vacuum", crane, Plant{Fault: Fault{Rail: &tables.RailPressure{Value: 290, Unit: "kPa", RelativeTo: tables.Atmosphere}}}, DriveOptions{}, 0.4},
		{"hose off in boost", turbo, Plant{Boost: 60, Fault: Fault{HoseOff: true}}, DriveOptions{Route: Country}, 0.5},
		{"lean sensor", crane, Plant{Fault: Fault{SensorBias: 0.05}}, DriveOptions{}, 0.4},
		{"another fuel", crane, Plant{Stoich: 14.1}, DriveOptions{Route: Town}, 0.4},
		{"pulsation", crane, Plant{Fault: Fault{Pulsation: -0.08}}, DriveOptions{}, 0.4},
		{"a hunting idle with a leak", crane, Plant{Fault: Fault{Hunting: 120, Leak: 0.2}}, DriveOptions{}, 0.8},
		{"a fault that appears", crane, Plant{Later: leak(Fault{FlowScale: 0.9}), LaterAt: 0}, DriveOptions{}, 0.4},
		{"trims learned before, a factor, channels held", Scaled(crane, "injector.flow", 0.94, 0), Plant{}, DriveOptions{Before: 8, TrimsAs: "factor", Held: 1.5}, 0.4},
		{"per cent near 100", Scaled(crane, "injector.flow", 0.94, 0), Plant{}, DriveOptions{TrimsAs: "100"}, 0.4},
		{"one bank", dredger, Plant{Mass: 2400, Banks: 2, Fault: Fault{Bank2: 0.08}}, DriveOptions{}, 0.4},
	} {
		row.plant.Truth = map[string]*tables.Calibration{"Quay crane": crane, "Dredger": dredger}[row.cal.Name()]
		if row.plant.Truth == nil {
			row.plant.Truth = turbo
		}
		row.opt.Seed, row.opt.Minutes = 5, 12
		l := Drive(row.cal, row.plant, row.opt)
		for i := range l.Rows() { // back to per cent
			for _, c := range [][]float64{l.Column("short_trim_1"), l.Column("long_trim_1")} {
				switch row.opt.TrimsAs {
				case "factor":
					c[i] = 100 * (c[i] - 1)
				case "100":
					c[i] -= 100
				}
			}
		}
		want, got := mean(Needed(row.cal, row.plant, l).Closed), settled(l, "1", nil)
		if row.plant.Banks == 2 {
			got = (got + settled(l, "2", nil)) / 2
		}
		t.Logf("%-46s %+6.2f %%, needed %+6.2f %%", row.name, got, want)
		if math.Abs(got-want) > row.within {
			t.Errorf("%s: the loop settles at %.2f %%, the equations need %.2f %%", row.name, got, want)
		}
	}
}

func mean(list []float64) float64 {
	sum := 0.0
	for _, v := range list {
		sum += v
	}
	return sum / float64(len(list))
}

// TestWhatPasses: what belongs to a part of a drive shows there and not
// elsewhere: purge that is not counted, warm-up fuel, a leak of the exhaust, a
// fault that appears.
func TestWhatPasses(t *testing.T) {
	crane := metered.Calibration()
	for _, row := range []struct {
		name        string
		plant       Plant
		opt         DriveOptions
		where       func(l *Log, i int) bool
		least, most float64 // size in per cent: there at least, elsewhere at most
	}{
		{"steady purge at idle", Plant{}, DriveOptions{PurgeSteady: true, Vapour: 0.06},
			func(l *Log, i int) bool { return l.Column("engine_speed")[i] < 900 }, 6, 3},
		{"warm-up fuel in the first minutes", Plant{Fault: Fault{WarmUp: 0.25}}, DriveOptions{Cold: true},
			func(l *Log, i int) bool { return l.Column("coolant")[i] < 65 }, 6, 1},
		{"a leak of the exhaust at idle", Plant{Fault: Fault{ExhaustLeak: 0.15}}, DriveOptions{},
			func(l *Log, i int) bool { return l.Column("engine_speed")[i] < 900 }, 10, 3},
		{"less flow from minute 6", Plant{Later: &Fault{FlowScale: 0.9}, LaterAt: 6}, DriveOptions{},
			func(l *Log, i int) bool { return l.Column("time")[i] > 420 }, 10, 2},
	} {
		row.plant.Truth, row.opt.Seed, row.opt.Minutes, row.opt.Control.NoLong = crane, 7, 12, true
		l := Drive(crane, row.plant, row.opt)
		var sum, n [2]float64
		for i, status := range l.Column("fuel_status") {
			k := 1
			if row.where(l, i) {
				k = 0
			} else if i > 0 && row.where(l, max(0, i-100)) {
				continue
			}
			if status == 2 {
				sum[k], n[k] = sum[k]+l.Column("short_trim_1")[i], n[k]+1
			}
		}
		there, other := sum[0]/n[0], sum[1]/n[1]
		t.Logf("%-34s %+.2f %% there, %+.2f %% elsewhere", row.name, there, other)
		if math.Abs(there) < row.least || math.Abs(other) > row.most {
			t.Errorf("%s: %.2f %% there and %.2f %% elsewhere, want %v at least and %v at most", row.name, there, other, row.least, row.most)
		}
	}
}
