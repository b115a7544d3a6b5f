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
// What each cause predicts of the trim, with p the effective pulse, P the rail
// pressure, m and b the manifold's and the atmosphere's, ψ the compressible flow
// through a hole (1 where choked, 0 at equal pressure, negative in boost):
//
//	cause                 trim                            why                                    cannot be told from
//	flow-scale            constant; ∝ 1/Δp where a gauge  the same share of every pulse          rail pressure, fuel, sensor bias, constant gain
//	                      pressure is off by an amount                                           of the meter
//	injector-offset       Δ/p                             the same time of every pulse           a voltage that is not the logged one; steady purge,
//	                                                                                             but for its speed
//	unmetered-air         A·ψ(m/b) / metered air          a hole that the manifold sucks at      an exhaust leak, a meter's zero error, misfire
//	pressure-reference    √(P/(P+b−m)) − 1, or its        a regulator that follows the other     volumetric efficiency along manifold pressure
//	                      inverse                         pressure
//	supply-limit          rises past a fuel flow, or      a pump or a line that gives less       on metered air any error of the meter at high flow
//	                      with its square
//	air-meter             a line bent along air flow      a meter's curve                        flow + leak, flow + supply, offset
//	volumetric-efficiency along speed, pressure, or both  air that is computed by a table        two of the above at once
//	bank-difference       one bank's share of the above   one bank's parts                       one bank's exhaust leak or sensor
//	none                  nothing past noise              -                                      two faults that cancel
//
// Purge that is not logged (∝ −1/fuel), an exhaust leak at idle (∝ 1/air²) and
// pulsation at open throttle compete too: they are no answers, but where one fits
// as well as the leader, that is a doubt.
//
// A bent line bends to fit anything, and so does a second shape beside a first.
// Three rules follow. A pair is named only where it explains clearly more than the
// best cause alone and each half stands for a trim worth a repair. A bent line is
// certain only where it also beats every pair. And a leader's own fit is tested,
// not only its lead: what it leaves must not be more than the same places differ
// from themselves, must follow neither speed, load nor time, and must not turn to
// another cause where the lightest load is left out.
//
// # From a log to a verdict
//
// The reader takes the settled instants of closed loop (interp/cells/sift says which),
// derives from each what the causes need (air, fuel, effective pulse: from channels, or
// from each other where some are missing), and gathers them into points, at three levels
// of strictness as long as the strictest alone may not suffice. Points become rows, one
// for each bank, weighted so that an hour of idling does not drown a minute at full load.
// Each cause is a few linear shapes over the rows; every shape, and every pair of shapes,
// is fitted from one set of sums, and judged on the tenth of the drive that its fit has
// not seen. What is left is ordered, tested for what would make it doubtful, and put into
// words.
//
// The package is not for open loop alone, nor for drives without trims: there it has
// nothing to say, and says that.
//
// A measured rail pressure comes first: what it explains is taken from the trims.
// The same places early and late tell whether the drive is one state.
//
// The [Result] ranks the causes with margins. It says when two causes together
// are there, and when the drive cannot tell: a guess is worth less than the
// name of the test that would decide. Beside each cause stands what the trims
// cannot tell from it.
//
// The package does not change tables and does not decide whether somebody may:
// it reports what is certain, what is mechanical, or that the mixture is lean in
// boost, and merge/propose stops for it.
package cause
