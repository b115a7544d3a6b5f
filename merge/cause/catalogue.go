package cause

import (
	"slices"

	"calsplice/interp/cells/tally"
)

// Cause names what may be wrong.
type Cause string

// The causes, by the names that reports and the command's JSON use.
const (
	None                 Cause = "none"
	FlowScale            Cause = "flow-scale"
	InjectorOffset       Cause = "injector-offset"
	UnmeteredAir         Cause = "unmetered-air"
	PressureReference    Cause = "pressure-reference"
	SupplyLimit          Cause = "supply-limit"
	AirMeter             Cause = "air-meter"
	VolumetricEfficiency Cause = "volumetric-efficiency"
	BankDifference       Cause = "bank-difference"
)

// What a log may hide, and what would look like a cause if nobody thought of it:
// these compete with the causes, and where they fit as well a doubt is named.
const (
	hiddenPurge   Cause = "purge that is not logged"
	hiddenExhaust Cause = "an exhaust leak before the sensor at idle"
	hiddenPulses  Cause = "pulsation at the meter at open throttle"
)

// entry is what is known of a cause whatever the drive.
type entry struct {
	cause  Cause
	title  string
	shapes func(*rows, *facts) candidate // by which it is told; nil for none
	traits trait
	alike  []string // what the trims of a drive cannot tell from it
	test   string   // confirms it, whatever else is in question; rules out what a log hides
	looks  string   // of what a log hides: the doubt that it raises
}

// trait is something that some causes have in common.
type trait int

const (
	mechanical trait = 1 << iota // a fault to repair, not a table to correct
	bends                        // its shape bends to fit anything
	atIdle                       // it is told from others by what idle shows
)

// catalogue is every cause in the order in which ties are resolved, and behind them what a
// log may hide. The tests are trade practice, without a source where none is named.
var catalogue = []entry{
	{cause: None, title: "nothing that needs a cause",
		alike: []string{"two faults that cancel where the drive went", "a fault that shows only where the loop is open"},
		test:  "none needed; drive where the loop is open with a wideband sensor before trusting full load"},
	{cause: FlowScale, title: "fuel flow wrong by the same share everywhere", shapes: (*rows).scale,
		alike: []string{"rail pressure wrong by a constant share", "fuel composition (E10 in a petrol table: +3.9 %)", "fuel density and temperature",
			"a biased mixture sensor", "a restriction in the fuel line or the injectors", "a constant gain error of the air measurement"},
		test: "pressure gauge at the rail at idle and under load, then a fuel volume test: pressure and volume right leave the injectors, the fuel or the sensor"},
	{cause: InjectorOffset, title: "injector offset wrong", shapes: (*rows).offset, traits: atIdle,
		alike: []string{"supply voltage at the injectors other than the logged one", "injectors that are slow to open or close",
			"rail pressure so far off that the injectors open late", "a leaking injector or purge valve (fuel that comes whatever the pulse)"},
		test: "no-load idle against no-load 2,500 r/min: an offset stays where a leak shrinks; repeat with lamps and blower on: an offset moves with the voltage"},
	{cause: UnmeteredAir, title: "air that the meter does not see", shapes: (*rows).unmetered, traits: mechanical | atIdle,
		alike: []string{"an exhaust leak before the sensor", "a misfire at light load", "a biased mixture sensor at low flow",
			"an air meter with a zero error", "a crankcase ventilation valve or brake booster that leaks"},
		test: "smoke test of the intake, and no-load idle against no-load 2,500 r/min: a leak shrinks"},
	{cause: PressureReference, title: "the regulator's reference is not the one the calibration assumes", shapes: (*rows).reference, traits: mechanical | atIdle,
		alike: []string{"a regulator that sticks", "a rail pressure in the calibration that is not the engine's own", "volumetric efficiency wrong along manifold pressure"},
		test:  "pressure gauge at the rail at idle, vacuum hose on and off: it must change by the manifold's vacuum where the regulator follows the manifold, and must not where it holds against the atmosphere"},
	{cause: SupplyLimit, title: "fuel supply at its limit", shapes: (*rows).supply, traits: mechanical,
		alike: []string{"a tired pump or its wiring", "a blocked filter or strainer", "injectors at the end of their duty", "an air meter that reads low at high flow"},
		test:  "pressure gauge at the rail under load: it must hold; then a fuel volume test at the return"},
	{cause: AirMeter, title: "air meter wrong along its curve", shapes: (*rows).meter, traits: bends | atIdle,
		alike: []string{"a dirty or aged meter", "air ducts or a filter that disturb the flow before the meter", "volumetric efficiency wrong along air flow"},
		test:  "scale the meter against speed-density air (manifold pressure, intake temperature, speed) over the whole range of flow"},
	{cause: VolumetricEfficiency, title: "volumetric efficiency wrong in parts of speed and load", shapes: (*rows).efficiency, traits: bends | atIdle,
		alike: []string{"the charge temperature model", "a manifold pressure sensor that reads wrong along its range", "cam timing", "exhaust back pressure"},
		test:  "manifold pressure sensor against the barometer with the engine off, cam timing, then the same speeds and loads again: volumetric efficiency repeats"},
	{cause: BankDifference, title: "one bank unlike the other", shapes: (*rows).bankDifference, traits: mechanical,
		alike: []string{"an exhaust leak before one bank's sensor", "a misfire on one bank", "a biased sensor on one bank",
			"a leak at one bank's manifold", "one bank's injectors worn or of another batch"},
		test: "compare banks: swap sensors or a pair of injectors across and see whether the difference follows; smoke test of the exhaust before the sensors"},
	{cause: hiddenPurge, shapes: (*rows).vapour, looks: "purge is not logged, and canister vapour would look the same",
		test: "Repeat the drive with the purge line closed off"},
	{cause: hiddenExhaust, shapes: (*rows).exhaust, looks: "an exhaust leak before the sensor would look the same at idle",
		test: "Test the exhaust before the sensor for leaks with smoke, and drive again"},
	{cause: hiddenPulses, shapes: (*rows).pulsation, looks: "air that pulses past the meter at open throttle would look the same",
		test: "Drive the same loads at 3,500 r/min and more, where the pulsation is gone"},
}

// place is where the catalogue has a cause; −1 where it does not.
func (c Cause) place() int {
	return slices.IndexFunc(catalogue, func(e entry) bool { return e.cause == c })
}

// entry is the cause's own, which says nothing of one that is not in the catalogue.
func (c Cause) entry() *entry {
	if i := c.place(); i >= 0 {
		return &catalogue[i]
	}
	return &entry{}
}

// is reports whether a cause has a trait.
func (c Cause) is(t trait) bool { return c.entry().traits&t != 0 }

// hidden reports whether a cause is one that a log may hide, which is no answer
// but a doubt.
func (c Cause) hidden() bool { return c.entry().looks != "" }

// Mechanical reports whether a cause is a fault to repair, not a table to
// correct.
func (c Cause) Mechanical() bool { return c.is(mechanical) }

// Title is the cause in a few words.
func (c Cause) Title() string { return c.entry().title }

// candidates lists every cause with its shapes on these rows.
func (r *rows) candidates(f *facts) []candidate {
	list := make([]candidate, len(catalogue))
	tally.Each(len(list), func(i int) {
		if e := &catalogue[i]; e.shapes != nil {
			list[i] = e.shapes(r, f)
			list[i].cause = e.cause
		}
	})
	return slices.DeleteFunc(list, func(c candidate) bool { return c.cause == "" })
}
