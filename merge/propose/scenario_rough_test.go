package propose_test

import (
	"bytes"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"

	"calsplice/interp/engine"
	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// rough is another simulator than merge/testdrive, made from the formulas alone
// and unlike it on purpose: operating points drawn at random and changed in a
// second or two, an integrating short trim that lags and may swing or not, a
// long trim that learns in coarse cells, limits that may be small, sensors that
// are noisy and rounded, and a logger that may be slow or lack channels.
type rough struct {
	random      *rand.Rand
	boost       bool
	banks       int
	minutes, hz float64
	noise       float64 // share, from stay to stay
	limit       float64 // share, of each trim
	swing       float64 // share, of the limit cycle; 0 for none
	lag         float64 // s
	without     []string
	wants       func(s *roughState, bank int) float64 // the trim that the fault needs, a share

	cells   [2]roughBank
	visited []roughState
}

// roughBank is the fuel control of one bank.
type roughBank struct {
	short, sensed float64
	long          [16]float64
	up            bool
}

// roughState is an operating point: p is the effective pulse in ms, air and fuel
// are in g/s.
type roughState struct{ speed, manifold, battery, air, fuel, p float64 }

const (
	roughBaro, roughFlow, roughVolume, roughRail = 97.0, 3.4, 0.55, 320.0 // kPa, g/s, L a cylinder, kPa
	roughStep                                    = 0.05                   // s
)

func roughAt(speed, manifold, battery float64) roughState {
	// An efficiency with a hump over speed, the ideal gas at 315 K, and fuel at lambda
	// 1 for it: everything else of an operating point follows.
	share := 0.70 + 0.17*math.Exp(-math.Pow((speed-3200)/2200, 2)) + 0.0006*(manifold-60)
	charge := manifold * roughVolume / (0.28705 * 315) * share * 1000 // mg
	air := charge * 4 * speed / 120 / 1000
	return roughState{speed, manifold, battery, air, air / 14.6, charge / 14.6 / roughFlow}
}

func roughOffset(volts float64) float64 { return 0.75 + 0.18*(14-volts) + 0.02*(14-volts)*(14-volts) }

// roughly puts a cause into the other simulator.
func roughly(name string) func(s *Scenario, d draw) {
	return func(s *Scenario, d draw) {
		r := d.varies
		s.rough = &rough{random: r, boost: r.IntN(4) == 0, banks: 1 + r.IntN(2), minutes: between(r, 8, 28), hz: one(r, 1.0, 2, 5, 10, 20),
			noise: between(r, 0.002, 0.008), limit: one(r, 0.1, 0.2, 0.25), swing: one(r, 0, 0.02), lag: between(r, 0.7, 2.7),
			without: one(r, nil, []string{"battery"}, []string{"pulse_width"}, []string{"fuel_status", "lambda_commanded"},
				[]string{"air_flow"}, []string{"barometric_pressure", "throttle"}),
			// A healthy engine wants nothing of its control.
			wants: func(*roughState, int) float64 { return 0 }}
		s.about, s.metered = nil, name != "volumetric-efficiency"
		s.options.Route = testdrive.Mixed
		size, follows := between(r, 0.04, 0.18), tables.Manifold
		s.say("%.1f %%, without %v", 100*size, s.rough.without)
		if name != "none" {
			s.is(name, roughHeldBy[name]...)
			follows = s.roughFault(name, size, sign(r)*size)
		}
		s.Cal = roughCalibration(s.metered, follows)
	}
}

// roughHeldBy are the roles of the tables that hold a fault.
var roughHeldBy = map[string][]tables.Role{
	"flow-scale": {tables.InjectorFlow, tables.InjectorOffset}, "injector-offset": {tables.InjectorFlow, tables.InjectorOffset},
	"air-meter": {tables.AirMeter}, "volumetric-efficiency": {tables.AirVolumetricEfficiency},
}

// roughFault sets what a fault of a size needs, which has a sign where it may have
// either, and returns what the calibration's rail follows.
func (s *Scenario) roughFault(name string, size, signed float64) tables.Reference {
	r := s.rough
	idle, top := roughAt(820, 33, 14), roughAt(3800, 92, 14)
	switch name {
	case "flow-scale":
		s.Truth.Flow = 100 * signed
		r.wants = func(*roughState, int) float64 { return signed }
	case "injector-offset":
		s.Truth.Offset = signed * idle.p
		r.wants = func(at *roughState, _ int) float64 { return signed * idle.p / at.p }
	case "unmetered-air":
		s.Truth.Leak = size * idle.air
		r.wants = func(at *roughState, _ int) float64 {
			return size * idle.air * engine.Orifice(at.manifold/roughBaro) / at.air
		}
	case "pressure-reference":
		hose := func(at *roughState, _ int) float64 {
			return math.Sqrt(roughRail/(roughRail+roughBaro-at.manifold)) - 1
		}
		if r.wants = hose; signed > 0 {
			r.wants = func(at *roughState, _ int) float64 { return 1/(1+hose(at, 0)) - 1 }
			return tables.Atmosphere
		}
	case "supply-limit":
		r.wants = roughPump(size, top.fuel*between(r.random, 0.35, 0.65), top.fuel)
		s.Truth.Apart = "supply without a rail pressure"
	case "air-meter":
		kind := r.random.IntN(len(roughMeters))
		r.wants = func(at *roughState, _ int) float64 {
			return signed * roughMeters[kind](math.Log(at.air/idle.air)/math.Log(top.air/idle.air), at.air/top.air)
		}
		if rises := kind == 0 || kind == len(roughMeters)-1; rises && signed > 0 {
			s.Truth.Apart = "meter low at high flow without a rail pressure"
		}
	case "volumetric-efficiency":
		at0 := between(r.random, 1500, 2600)
		r.wants = func(at *roughState, _ int) float64 { return signed * bell(at.speed, at0, 400) }
	case "bank-difference":
		r.banks = 2
		sides := [2]float64{}
		sides[r.random.IntN(2)] = signed
		r.wants = func(_ *roughState, b int) float64 { return sides[b] }
	}
	return tables.Manifold
}

// roughPump is a supply that gives out past a knee, of such a slope that the top of
// the drive wants the size that was drawn.
func roughPump(size, knee, top float64) func(at *roughState, _ int) float64 {
	k := (1 - 1/((1+size)*(1+size))) / (top/knee - 1) // loss of pressure a share of fuel past the knee
	return func(at *roughState, _ int) float64 {
		return 1/math.Sqrt(max(0.2, 1-k*max(0, at.fuel/knee-1))) - 1
	}
}

// roughMeters bend a meter as meterShapes do; the first and the last rise.
var roughMeters = []func(u, share float64) float64{
	func(_, share float64) float64 { return share },
	func(u, _ float64) float64 { return 1 - 2*u },
	func(u, _ float64) float64 { return bell(u, 0.5, 0.25) },
	func(_, share float64) float64 { return math.Sqrt(share) },
}

// roughColumns are what is logged, with decimals.
var roughColumns = []struct {
	name   string
	digits int
}{
	{"time", 2}, {"engine_speed", 0}, {"manifold_pressure", 0}, {"barometric_pressure", 0}, {"air_flow", 2}, {"throttle", 0}, {"coolant", 0},
	{"battery", 1}, {"pulse_width", 2}, {"fuel_status", 0}, {"lambda_commanded", 2},
	{"short_trim_1", 3}, {"long_trim_1", 3}, {"short_trim_2", 3}, {"long_trim_2", 3},
}

// csv drives and returns the log.
func (d *rough) csv() []byte {
	var out bytes.Buffer
	keep := roughColumns[:11+2*d.banks]
	write := func(cell func(i int) string) {
		for i, c := range keep {
			if !slices.Contains(d.without, c.name) {
				out.WriteString([]string{"", ","}[min(i, 1)] + cell(i))
			}
		}
		out.WriteByte('\n')
	}
	write(func(i int) string { return keep[i].name })
	target, now := [3]float64{820, 33, 14}, [3]float64{820, 33, 14}
	left, off, due := 10.0, 0.0, 0.0
	phase := d.random.Float64() * 6
	for n := range int(d.minutes * 60 / roughStep) {
		t := float64(n) * roughStep
		if left -= roughStep; left < 0 {
			target = d.next()
			// A point is held for some seconds and reached in a second or two; each stay is a
			// little off, as wind, slope and heat make it.
			left = between(d.random, 4, 22)
			off = d.noise * d.random.NormFloat64()
		}
		for k, tau := range []float64{0.6, 0.3, 1} {
			now[k] += (target[k] - now[k]) * roughStep / tau
		}
		s := roughAt(now[0], now[1], now[2])
		row := d.step(&s, t, off+0.003*math.Sin(t/230+phase))
		// Once a second, in closed loop: the places that a correction is judged at.
		if n%20 == 0 && row[9] == 2 {
			d.visited = append(d.visited, s)
		}
		if t < due {
			continue
		}
		due += 1 / d.hz
		write(func(i int) string { return strconv.FormatFloat(row[i], 'f', keep[i].digits, 64) })
	}
	return out.Bytes()
}

// step closes the loop once and is a row of the log.
func (d *rough) step(s *roughState, t, off float64) []float64 {
	noise := d.random.NormFloat64
	row := []float64{t, s.speed + 6*noise(), s.manifold + 0.3*noise(), roughBaro, s.air * (1 + 0.01*noise()),
		5 + (s.manifold-25)*0.9, 88, s.battery + 0.03*noise(), 0, 2, 1}
	open := s.manifold > roughBaro-6 && !d.boost
	if open {
		row[9], row[10] = 4, 0.88
	}
	cell := min(3, int(s.speed/1200))*4 + min(3, int(s.manifold/28))
	total := 0.0
	for b := range d.banks {
		k := &d.cells[b]
		have := (1+k.short)*(1+k.long[cell]) - 1
		// The sensor follows the error that is left with half the loop's lag.
		k.sensed += (d.wants(s, b) + off - have - k.sensed) * roughStep / (d.lag/2 + 0.1)
		if open {
			k.short = 0
		} else {
			k.short = min(max(k.short+d.gain(k), -d.limit), d.limit)
			k.long[cell] = min(max(k.long[cell]+k.short*roughStep/20, -d.limit), d.limit)
		}
		// Quantised as SAE J1979 has it: 128 steps to 100 %.
		row = append(row, math.Round(k.short*128)/1.28, math.Round(k.long[cell]*128)/1.28)
		total += ((1+k.short)*(1+k.long[cell]) - 1) / float64(d.banks)
	}
	row[8] = s.p*(1+total)/row[10] + roughOffset(s.battery)
	return row
}

// gain is by how much a short trim moves in a step.
func (d *rough) gain(k *roughBank) float64 {
	if d.swing == 0 {
		return k.sensed * roughStep / d.lag
	}
	// A switching sensor turns only when the mixture has gone past the middle.
	if math.Abs(k.sensed) > d.swing/3 {
		k.up = k.sensed > 0
	}
	size := max(0.02, math.Abs(k.sensed)/d.lag) * roughStep
	if k.up {
		return size
	}
	return -size
}

// next is the operating point that comes now.
func (d *rough) next() [3]float64 {
	volts := between(d.random, 13.2, 14.3)
	switch x := d.random.Float64(); {
	case x < 0.2:
		return [3]float64{between(d.random, 790, 850), between(d.random, 31, 37), volts}
	case x < 0.75:
		return [3]float64{between(d.random, 1200, 3000), between(d.random, 35, 75), volts}
	case d.boost && x < 0.87:
		return [3]float64{between(d.random, 2200, 3800), between(d.random, 100, 160), volts}
	}
	return [3]float64{between(d.random, 2000, 4300), between(d.random, 55, 96), volts}
}

// needed are the trims that a calibration needs at the points of the drive.
func (d *rough) needed(cal *tables.Calibration) testdrive.Needs {
	var n testdrive.Needs
	flow, offset := cal.ByRole(tables.InjectorFlow)[0], cal.ByRole(tables.InjectorOffset)[0]
	at := func(s *roughState) float64 {
		// How far a correction moved the offset at 14 V, and the flow as a whole: a rough
		// drive has no more of either.
		moved := offset.Values()[4] - roughOffset(14)
		pulse := s.p*(1+d.wants(s, 0)/2+d.wants(s, d.banks-1)/2) - moved
		return 100 * (pulse/s.p*flow.Values()[0]/roughFlow - 1)
	}
	for i := range d.visited {
		v := at(&d.visited[i])
		n.Closed = append(n.Closed, v)
		n.Mean += math.Abs(v) / float64(len(d.visited))
	}
	top := roughAt(3800, 96, 14)
	n.Full = at(&top)
	return n
}

// roughCalibration is the table set that the engine of a rough drive is run by.
func roughCalibration(metered bool, follows tables.Reference) *tables.Calibration {
	table := func(f tables.Fields) *tables.Table { return testdrive.Must(tables.NewTable(f)) }
	axis := func(quantity, unit string, points ...float64) *tables.Axis {
		return testdrive.Must(tables.NewAxis(quantity, unit, points))
	}
	volts := axis("battery voltage", "V", 8, 10, 12, 13, 14, 15, 16)
	offset := tables.Fields{ID: "injector.offset", Role: tables.InjectorOffset, Unit: "ms", Resolution: 0.001, X: volts}
	for _, v := range volts.Points() {
		offset.Values = append(offset.Values, math.Round(1000*roughOffset(v))/1000)
	}
	air := tables.Fields{ID: "air.meter", Role: tables.AirMeter, Unit: "g/s", X: axis("meter frequency", "Hz", 1000, 9000), Values: []float64{1, 150}}
	if !metered {
		air = tables.Fields{ID: "air.efficiency", Role: tables.AirVolumetricEfficiency, Unit: "%", Resolution: 0.1,
			X: axis("engine speed", "r/min", 800, 1500, 2000, 2500, 3000, 4000), Values: []float64{72, 76, 80, 84, 86, 86}}
	}
	return testdrive.Must(tables.NewCalibration(tables.Contents{Name: "rough",
		Engine: &tables.Engine{Cylinders: 4, Strokes: 4, Injectors: 4, PulsesPerCycle: 1, StoichAFR: 14.6,
			RailPressure: &tables.RailPressure{Value: roughRail, Unit: "kPa", RelativeTo: follows}},
		Tables: []*tables.Table{
			table(tables.Fields{ID: "injector.flow", Role: tables.InjectorFlow, Unit: "g/s", Resolution: 0.001, Values: []float64{roughFlow}}),
			table(offset), table(air)}}))
}
