package cause

import "math"

const gamma = 1.4 // ratio of the specific heats of air

// orifice is the flow of air through a hole from the atmosphere into a manifold
// at a ratio of the two pressures, against the choked flow: 1 up to the critical
// ratio, falling to 0 at equal pressures, and negative in boost, when the hole
// leaks out (de Saint-Venant and Wantzel's compressible orifice).
func orifice(ratio float64) float64 {
	if ratio > 1 {
		return -ratio * orifice(1/ratio)
	}
	critical := math.Pow(2/(gamma+1), gamma/(gamma-1))
	if ratio <= critical {
		return 1
	}
	flow := func(r float64) float64 {
		return math.Sqrt(max(0, math.Pow(r, 2/gamma)-math.Pow(r, (gamma+1)/gamma)))
	}
	return flow(ratio) / flow(critical)
}

// hoseOff is the trim, as a share, of a rail that holds its pressure against the
// atmosphere where the table takes it to follow the manifold: more fuel than
// the table knows under vacuum, less in boost.
func hoseOff(rail, barometer, manifold float64) float64 {
	return math.Sqrt(rail/(rail+barometer-manifold)) - 1
}

// hoseOn is the other way round: the rail follows the manifold, the table does
// not know it.
func hoseOn(rail, barometer, manifold float64) float64 {
	return math.Sqrt((rail+barometer-manifold)/rail) - 1
}
