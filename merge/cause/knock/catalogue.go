package knock

import (
	"math"
	"slices"
)

// Cause names what may pull the spark.
type Cause string

// The causes, by the names that reports and the command's JSON use.
const (
	None         Cause = "none"          // nothing, or sensor noise
	LowOctane    Cause = "low-octane"    // wherever the engine is loaded
	OverAdvanced Cause = "over-advanced" // a region of the table
	HotCharge    Cause = "hot-charge"    // follows intake air or coolant
	LeanAtLoad   Cause = "lean-at-load"  // where the mixture is lean
	FalseKnock   Cause = "false-knock"   // does not depend on load or advance
)

// entry is what is known of a cause whatever the drive. The words are trade practice;
// where no source is named there is none.
type entry struct {
	cause    Cause
	title    string
	alike    []string // what retard cannot tell from it
	test     string   // the physical test that confirms it
	repaired bool     // no spark table may hide it
	need     terms    // what real knock of this cause asks for; nil for what is none
	cost     float64  // free numbers of its fit, less those that its bounds all but fix
}

const pull = "a wideband sensor and a rail gauge on one pull" // shows a mixture that is lean at load

// soundTable is what a sound table needs: at normal temperature and the commanded mixture
// nothing anywhere. Every fit keeps to bounds from physics, so that no cause explains a
// drive with numbers that no engine has.
var soundTable = terms{{one, math.Inf(-1), -1, -2, 0}, {load, 0, 25, 3, .01}, {speed, -1, 1, 0, .1}, {rich, -.4, 0, -.1, 20}}

// usualHeat is what a hot charge asks for on any fuel.
var usualHeat = term{heat, .1, .14, .12, 100}

// catalogue is every cause in the order in which ties are resolved. A region has its place
// as well as its height, which the search for it adds.
var catalogue = []entry{
	{cause: None, title: "no knock worth a repair: retard under about 1 deg now and then is sensor noise (common practice, no source)",
		alike: []string{},
		test:  "none needed; look again where retard comes back under load"},
	{cause: LowOctane, title: "the fuel knocks too early: retard wherever the engine is loaded", repaired: true,
		alike: []string{"base timing off (check by light)", "the whole spark table too far advanced", "deposits in the chamber", "oil in the intake", "spark plugs too hot"},
		test: "drain the tank, refill with fuel of known octane, reset learned knock, drive the same road in the same weather; check base timing by light. " +
			"Do not retard the table for it",
		need: terms{{one, 1.5, math.Inf(1), 3, 0}, {load, -2, 15, 5, .01}, {speed, -3, 2, 0, .1}, {bend, -3, 0, -1, .1}, {rich, -.4, 0, -.1, 20}, {heat, .05, .2, .12, 100}},
		cost: 5},
	{cause: OverAdvanced, title: "a region of the spark table is advanced past the limit that the rest of the drive shows",
		alike: []string{"a hot spot or deposits that knock at those speeds only", "a resonance at those speeds that the sensor takes for knock"},
		test:  "take 2 to 3 deg off that region and leave the rest, as propose spark does: the knock must go there only; diff against the former file often shows the edit",
		need:  slices.Concat(soundTable, terms{usualHeat}), cost: 6},
	{cause: HotCharge, title: "the charge is too hot: retard follows intake air or coolant temperature", repaired: true,
		alike: []string{"low octane in warm weather", "a temperature sensor that reads wrong"},
		test: "the same pull cool, after ten minutes of standing hot, and cool again, with intake air and coolant logged; check ducting, charge cooler, fan, " +
			"thermostat",
		need: slices.Concat(soundTable, terms{{heat, .06, .22, .12, 100}}), cost: 3},
	{cause: LeanAtLoad, title: "the mixture is lean at load: fuel first", repaired: true,
		alike: []string{"low octane while the mixture happens to be lean", "a lambda sensor that reads lean"},
		test:  pull + "; pump voltage, filter, then fuel tables; look at knock again after that",
		need:  slices.Concat(soundTable[:3], terms{usualHeat, {lean, .1, .7, .35, 20}}), cost: 4},
	{cause: FalseKnock, title: "what the sensor hears is not knock: it does not depend on load or advance",
		alike: []string{"piston slap or a loose part in a band of speed: mechanical; inspect where spark 2 to 3 deg later leaves it unchanged"},
		test:  "take 2 to 3 deg off: nothing changes if it is false; listen, check the sensor's torque and wiring, mounts and heat shields; the same speed without load"},
}

// realCauses are those of real knock.
var realCauses = slices.DeleteFunc(slices.Clone(catalogue), func(e entry) bool { return e.need == nil })

// entry is the cause's own.
func (c Cause) entry() *entry {
	return &catalogue[slices.IndexFunc(catalogue, func(e entry) bool { return e.cause == c })]
}

// Repaired reports whether the cause is one that no spark table may hide.
func (c Cause) Repaired() bool { return c.entry().repaired }

// Columns of the fits.
func one(*observation) float64     { return 1 }
func load(o *observation) float64  { return o.load - 1 }
func speed(o *observation) float64 { return o.speed }
func bend(o *observation) float64  { return o.speed * o.speed }
func rich(o *observation) float64  { return o.rich }
func heat(o *observation) float64  { return o.heat }

// lean is worth no more past 10 %: knock is worst a little rich of lambda 1.
func lean(o *observation) float64 { return min(10, max(0, o.lean-3)) }
