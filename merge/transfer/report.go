package transfer

import (
	"cmp"
	"fmt"
	"slices"

	"calsplice/tables"
)

// What the report takes where nobody says otherwise.
const (
	usualDutyLimit = 0.85   // common practice, no source
	usualBSFC      = 304.14 // g/kWh: 0.50 lb/(hp h), as carburetor-manual.com states with its sizing formula
	usualLambda    = 0.85   // full load; common practice, no source
	usualBattery   = 14     // V, engine running; common practice, no source
	usualSpeed     = 6000   // r/min at full load; common practice, no source
	idleManifold   = 35     // kPa; common practice, no source
	idleFill       = 0.15   // of a full cylinder's air; common practice, no source
	airDensity     = 1.2    // g/L, dry air at 101.325 kPa and 21 °C (ideal gas, 28.96 g/mol)
)

// forReport is where these come from.
const forReport = "assumed for the report: common practice, no source"

var usualVoltages = []float64{10, 12, 14}

// Point is one operating point: fuel for one injection, battery voltage and
// differential pressure, with the pulse before and after in ms.
type Point struct {
	Fuel     float64       `json:"fuel_mg"`
	Voltage  float64       `json:"battery_v"`
	Pressure float64       `json:"differential_pressure_kpa"`
	Before   tables.Number `json:"before_ms"`
	After    tables.Number `json:"after_ms"`

	Effective    tables.Number `json:"effective_ms"`  // of the pulse after: without offset and correction
	UnderMinimum bool          `json:"under_minimum"` // the pulse after is shorter than the shortest one
	BelowLinear  bool          `json:"below_linear"`  // its effective part is below the linear range
}

// Idle is what becomes of the pulses at idle.
type Idle struct {
	Fuel       float64       `json:"fuel_mg"`
	From       string        `json:"from"`
	Minimum    tables.Number `json:"minimum_ms"`     // shortest pulse; null where no table says
	LinearFrom tables.Number `json:"linear_from_ms"` // effective pulse; null where no table says
	Points     []Point       `json:"points"`
}

// Duty is the share of the time that the injectors are open at the highest
// demand, in percent.
type Duty struct {
	AirMass  float64       `json:"air_mass_mg"`
	Speed    float64       `json:"speed_rpm"`
	Lambda   float64       `json:"lambda"`
	Fuel     float64       `json:"fuel_mg"` // an injection
	Pressure float64       `json:"differential_pressure_kpa"`
	Battery  float64       `json:"battery_v"`
	Period   float64       `json:"period_ms"`
	Before   tables.Number `json:"before_percent"`
	After    tables.Number `json:"after_percent"`
	Limit    float64       `json:"limit_percent"`
	From     string        `json:"from"`
}

// Power is what the flow supports: kW = 3600 · flow · injectors · (duty limit −
// offset/period) / BSFC.
type Power struct {
	Before    tables.Number `json:"before_kw"`
	After     tables.Number `json:"after_kw"`
	Flow      tables.Number `json:"flow_g_per_s"` // after, of one injector
	Offset    float64       `json:"offset_ms"`
	Pressure  float64       `json:"differential_pressure_kpa"`
	Injectors int           `json:"injectors"`
	Speed     float64       `json:"speed_rpm"`
	Period    float64       `json:"period_ms"`
	DutyLimit float64       `json:"duty_limit_percent"`
	BSFC      float64       `json:"bsfc_g_per_kwh"`
}

// report fills in what a person judges the transfer by.
func (j *job) report() {
	r := j.result
	j.recipient.settleFluid(j.donor)
	// The recipient may be a blank to be filled in, whose own injector says nothing: the
	// part of the report that compares is then left out, and the rest stands.
	var before, after injector
	if fault := attempt(func() { before = j.recipient.with(nil, &notes{}).newInjector() }); fault != nil {
		j.notShown("pulse widths before", fault)
	}
	if fault := attempt(func() { after = j.recipient.with(r.Members, &notes{}).newInjector() }); fault != nil {
		j.notShown("pulse widths, duty and power", fault)
	} else {
		j.points(before, after)
		j.idle(before, after)
		j.atFullLoad(before, after)
		if g := after.grounds(); g != "" {
			j.notes.assume("correction below the linear range", g, "assumed for the report")
		}
	}
	r.Review = j.review(before, after)
	r.RoundTrips = j.roundTrips()
}

func (j *job) notShown(what string, why any) {
	j.result.NotShown = append(j.result.NotShown, fmt.Sprintf("%s: %v", what, why))
}

// settleFluid gives a side without a fuel density the other's, as the transfer
// itself does.
func (s *side) settleFluid(other *side) {
	if s.fluid.density == 0 {
		s.fluid = other.fuel
	}
}

// reportPressures are the differential pressures that the report looks at: at idle and at
// full load where the rail tells them, else some of the flow's own.
func (j *job) reportPressures() []float64 {
	if idle, full, ok := j.loads(); ok {
		return slices.Compact([]float64{idle, full})
	}
	i := slices.IndexFunc(j.result.Members, func(m Member) bool { return m.Role == tables.InjectorFlow })
	if i < 0 {
		return nil
	}
	at := slices.Clone(j.result.Members[i].Pressure)
	slices.Sort(at)
	at = slices.Compact(at)
	// A low, a middle and a high one say what a grid of all of them would.
	if len(at) > 3 {
		at = []float64{at[0], at[len(at)/2], at[len(at)-1]}
	}
	return at
}

// loads are the differential pressures at idle and at full load.
func (j *job) loads() (idle, full float64, ok bool) {
	s := j.recipient
	if v, _, ok := s.fixedDelta(); ok {
		return v, v, true
	}
	if s.rail == nil {
		return 0, 0, false
	}
	baro := s.useBaro()
	rail := s.useRail(nil, "")
	j.notes.assume("manifold pressure at idle", short(idleManifold)+" kPa", forReport)
	idle, full = rail.Delta(idleManifold, baro), rail.Delta(cmp.Or(j.opt.Demand.Manifold, baro), baro)
	return idle, full, full > 0
}

// point compares one operating point.
func point(before, after injector, fuel, volts, dp float64) Point {
	p := place{pressure: dp, voltage: volts}
	pt := Point{Fuel: fuel, Voltage: volts, Pressure: dp, Before: unknown}
	if before != nil {
		b, _ := before.pulse(fuel, p)
		pt.Before = tables.Number(b)
	}
	total, effective := after.pulse(fuel, p)
	pt.After, pt.Effective = tables.Number(total), tables.Number(effective)
	pt.UnderMinimum = total < after.minimum(p)
	pt.BelowLinear = effective < after.linearFrom()
	return pt
}

// points is the grid of fuel × voltage × pressure.
func (j *job) points(before, after injector) {
	fuels, pressures := j.fuels(after), j.reportPressures()
	for _, dp := range pressures {
		for _, v := range j.opt.Voltages {
			for _, f := range fuels {
				j.result.Points = append(j.result.Points, point(before, after, f, v, dp))
			}
		}
	}
}

// fuels are the masses of one injection that the report looks at, from idle to
// full load.
func (j *job) fuels(after injector) []float64 {
	if len(j.opt.FuelMass) > 0 {
		return j.opt.FuelMass
	}
	var list []float64
	if full, ok := j.fullFuel(); ok {
		// Idle, cruise, half load and full load, roughly: shares of a full cylinder.
		for _, share := range []float64{0.1, 0.25, 0.5, 1} {
			list = append(list, twoDigits(share*full))
		}
		return list
	}
	at := j.reportPressures()
	if len(at) == 0 {
		return nil
	}
	// Nothing is known of the engine: then pulses that any engine has, turned into
	// fuel by the injector itself.
	for _, ms := range []float64{1, 2, 5, 10} {
		list = append(list, twoDigits(ms*after.flow(at[0])))
	}
	return list
}

// twoDigits rounds what is for reading, half a digit up: 6.7 mg, and not 6.712345.
func twoDigits(v float64) float64 { return tables.Significant(v*(1+1e-12), 2) }

// fullFuel is the fuel of one injection for a cylinder full of air at lambda 1.
func (j *job) fullFuel() (mg float64, ok bool) {
	if j.facts.Volume == 0 || j.facts.Cylinders == 0 {
		return 0, false
	}
	share := j.injectionShare()
	air := j.facts.Volume / j.facts.Cylinders * airDensity * 1000
	j.notes.assume("air in a full cylinder", short(air)+" mg", "displacement and air of 1.2 g/L")
	return air / j.stoich() * share, true
}

// injectionShare is how much of a cylinder's fuel one injection of one injector
// gives; an engine of which only the injectors are known has one a cylinder.
func (j *job) injectionShare() float64 {
	injectors := j.injectors()
	share := 1 / j.pulses()
	if j.facts.Cylinders > 0 {
		share *= j.facts.Cylinders / injectors
	}
	return share
}

// given is a number that a document or the person gave, or else what stands for it,
// noted.
func (j *job) given(v, usual float64, name, unit, from string) float64 {
	if v == 0 {
		j.notes.assume(name, short(usual)+unit, from)
	}
	return cmp.Or(v, usual)
}

func (j *job) injectors() float64 {
	return j.given(float64(j.recipient.engine().Injectors), j.facts.Injectors, "injectors", "", "assumed: one injector per cylinder")
}

func (j *job) pulses() float64 {
	return j.given(float64(j.recipient.engine().PulsesPerCycle), j.facts.Pulses, "pulses per cycle", "", "assumed")
}

func (j *job) stoich() float64 {
	return j.given(j.recipient.engine().StoichAFR, j.facts.Stoich, "stoichiometric air/fuel ratio", "", "assumed: petrol")
}

// period is the time from one pulse to the next, in ms.
func (j *job) period(speed float64) float64 {
	j.given(float64(j.recipient.engine().Strokes), j.facts.Strokes, "strokes", "", "assumed")
	j.pulses()
	return j.facts.Period(speed)
}

func (j *job) idle(before, after injector) {
	fuel, from := j.opt.IdleFuel, "--idle-fuel"
	if fuel == 0 {
		full, ok := j.fullFuel()
		if !ok {
			j.notShown("idle", "give --idle-fuel, or the recipient's displacement and cylinders")
			return
		}
		fuel, from = twoDigits(idleFill*full), fmt.Sprintf("%s %% of a full cylinder, common practice, no source", short(idleFill*100))
	}
	pressures := j.reportPressures()
	if len(pressures) == 0 {
		return
	}
	dp := pressures[0]
	i := &Idle{Fuel: fuel, From: from, LinearFrom: tables.Number(after.linearFrom()), Minimum: tables.Number(after.minimum(place{pressure: dp, voltage: usualBattery}))}
	for _, v := range j.opt.Voltages {
		i.Points = append(i.Points, point(before, after, fuel, v, dp))
	}
	j.result.Idle = i
}

// atFullLoad works out duty and power.
func (j *job) atFullLoad(before, after injector) {
	_, dp, ok := j.loads()
	if !ok {
		// One pressure for all loads is what a flow of one number stands for.
		if s := j.reportPressures(); len(s) == 1 { // a scalar flow: at its reference pressure
			dp, ok = s[0], true
			j.notes.assume("differential pressure at full load", short(dp)+" kPa", "the flow's reference pressure")
		}
	}
	if !ok {
		j.notShown("duty and power", "the differential pressure at full load is not known: give the recipient's engine rail_pressure, or --pressure")
		return
	}
	if j.facts.Injectors == 0 {
		j.notShown("duty and power", "give the recipient's engine injectors or cylinders")
		return
	}
	j.duty(before, after, dp)
	j.power(before, after, dp, int(j.injectors()))
}

func (j *job) battery() float64 {
	return j.given(j.opt.Demand.Battery, usualBattery, "battery voltage, engine running", " V", forReport)
}

func (j *job) duty(before, after injector, dp float64) {
	d := j.opt.Demand
	if d.AirMass == 0 || d.Speed == 0 {
		j.notShown("duty at the highest demand", "give --log, or --air-mass and --speed")
		return
	}
	share := j.injectionShare()
	lambda, volts := j.given(d.Lambda, usualLambda, "lambda at full load", "", forReport), j.battery()
	r := &Duty{AirMass: d.AirMass, Speed: d.Speed, Lambda: lambda, Pressure: dp, Battery: volts, Before: unknown,
		Fuel: d.AirMass / (j.stoich() * lambda) * share, Period: j.period(d.Speed), Limit: 100 * cmp.Or(j.opt.DutyLimit, usualDutyLimit), From: d.From}
	pt := point(before, after, r.Fuel, volts, dp)
	r.Before, r.After = pt.Before*100/tables.Number(r.Period), pt.After*100/tables.Number(r.Period)
	// Past the limit the injector has no time to close, and past 100 % none at all: the
	// mixture goes lean at full load, which is where it must not.
	if r.After > tables.Number(r.Limit) {
		j.notes.cautions.Addf("at the highest demand (%s mg of air at %s r/min) the injectors would be open %s %% of the time, over the limit of %s %%",
			short(r.AirMass), short(r.Speed), r.After, short(r.Limit))
	}
	j.result.Duty = r
}

func (j *job) power(before, after injector, dp float64, n int) {
	limit := j.given(j.opt.DutyLimit*100, usualDutyLimit*100, "duty limit", " %", forReport) / 100
	speed := j.given(j.opt.Demand.Speed, usualSpeed, "engine speed at full load", " r/min", forReport)
	bsfc := j.given(j.opt.BSFC, usualBSFC, "brake-specific fuel consumption", " g/kWh", "0.50 lb/(hp h), carburetor-manual.com")
	p := place{pressure: dp, voltage: j.battery()}
	r := &Power{Pressure: dp, Injectors: n, Speed: speed, Period: j.period(speed), DutyLimit: 100 * limit, BSFC: bsfc, Before: unknown,
		Offset: after.value(tables.InjectorOffset, p, 0), Flow: tables.Number(after.flow(dp))}
	// kW = 3600 · F · injectors · (duty limit − offset/period) / BSFC, F in g/s at full
	// load: in the offset nothing flows, so that it costs a share of every period.
	kW := func(i injector) tables.Number {
		return tables.Number(supports(i.flow(dp), n, limit, i.value(tables.InjectorOffset, p, 0)/r.Period, bsfc))
	}
	if r.After = kW(after); before != nil {
		r.Before = kW(before)
	}
	j.result.Power = r
}

// supports is the power in kW of n injectors of a flow in g/s, open for a share
// of the time of which the offset flows nothing.
func supports(flow float64, n int, limit, offset, bsfc float64) float64 {
	return 3600 * flow * float64(n) * max(0, limit-offset) / bsfc
}
