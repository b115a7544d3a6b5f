// Package cause says which cause fits the fuel trims of a drive, before anybody
// touches a table.
//
// Trims tell that fuel is wrong, not why. But causes leave shapes: wrong flow
// is the same everywhere, a wrong offset goes with the inverse of the pulse, air
// that passes the meter by matters where little air is metered, a regulator
// without its hose follows the manifold's pressure. [Explain] reads a drive's
// settled samples, gathers them into [Point]s (means over one operating point
// and some seconds, so that whole limit cycles of the trims go in), fits each
// cause by its own shape, and judges each by how much of the trim it predicts in
// stretches of the drive that its fit has not seen.
//
// The [Result] ranks the causes with margins. It says when two causes together
// are wanted, and when the drive cannot tell: a guess is worth less than the
// name of the test that would decide. Beside each cause stands what the trims
// cannot tell from it.
//
// The package does not change tables and does not decide whether somebody may:
// it reports that a cause is mechanical, or that the mixture is lean in boost,
// and merge/propose stops for it.
package cause

// Cause names what may be wrong.
type Cause string

// The causes, by the names that reports and the command's JSON use.
const (
	None              Cause = "none"               // noise suffices
	FlowScale         Cause = "flow-scale"         // the same share everywhere
	InjectorOffset    Cause = "injector-offset"    // goes with 1/p, p the effective pulse
	UnmeteredAir      Cause = "unmetered-air"      // a leak behind the meter
	PressureReference Cause = "pressure-reference" // rail and table differ in what the rail follows
	SupplyLimit       Cause = "supply-limit"       // rises past a fuel flow
	AirMeter          Cause = "air-meter"          // a curve in air flow
	// VolumetricEfficiency is structure in speed and manifold pressure.
	VolumetricEfficiency Cause = "volumetric-efficiency"
	BankDifference       Cause = "bank-difference" // one bank unlike the other
)

// Causes lists every cause, in the order in which ties are resolved.
var Causes = []Cause{None, FlowScale, InjectorOffset, UnmeteredAir, PressureReference, SupplyLimit, AirMeter, VolumetricEfficiency, BankDifference}

// Mechanical reports whether a cause is a fault to repair, not a table to
// correct.
func (c Cause) Mechanical() bool {
	switch c {
	case UnmeteredAir, PressureReference, SupplyLimit, BankDifference:
		return true
	}
	return false
}
