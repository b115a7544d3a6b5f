package cause

import (
	"fmt"
	"math"

	"calsplice/interp/drive"
	"calsplice/tables"
)

// A rail pressure that is measured is applied before any cause is looked for:
// what it explains of the trims is no flow error. It counts from a deviation of
// 5 % of the nominal pressure, and so 2.5 % of trim (common practice, no source).
const railCounts = 2.5 // %

// rail is what a measured rail pressure explains of the trims.
type rail struct {
	logged   bool      // by the log, and not by a gauge's one reading
	trim     []float64 // % of each row
	applied  bool      // the trims show it
	explains float64   // share of the trims' size, over the settled time
	mean     float64   // deviation of the pressure that drives the injectors, share
	kpa      float64   // the measured pressure's mean
}

// deviation is what a pressure that drives the injectors, off by a share, adds
// to the trim, as a share.
func deviation(share float64) float64 { return 1/math.Sqrt(1+share) - 1 }

// applyRail takes from the trims what a measured rail pressure explains, as far
// as they show it: a controller may correct for its own sensor.
func (r *rows) applyRail() {
	var before, after, seconds float64
	trim := r.column(func(p *Point, _ int) float64 { return 100 * deviation(p.Rail) })
	if trim == nil {
		return
	}
	r.rail = &rail{trim: trim}
	left := make([]float64, len(r.y))
	// Whether the trims shrink decides: a controller that corrects for the sensor itself has
	// taken the pressure's error out of them already.
	for i, y := range r.y {
		p := r.points[r.point[i]]
		if left[i] = ((1+y/100)/(1+trim[i]/100) - 1) * 100; r.bound[i]*(trim[i]-y) > 0 {
			left[i] = 0 // a trim at its limit that the pressure asks to go past it
		}
		before += float64(p.Seconds * math.Abs(y))
		after += float64(p.Seconds * math.Abs(left[i]))
		seconds += p.Seconds
		r.rail.mean += float64(p.Seconds * p.Rail)
		r.rail.kpa += float64(p.Seconds * p.railPressure)
	}
	r.rail.mean /= seconds
	r.rail.kpa /= seconds
	if r.rail.applied = after < before; r.rail.applied {
		r.y, r.rail.explains = left, 1-after/before
	}
}

// deviates reports whether the pressure is far enough off to be a cause.
func (r *rows) deviates() bool { return r.rail != nil && r.largest(r.rail.trim) >= railCounts }

// named reports whether the pressure is a cause of the trims.
func (r *rows) railNamed() bool { return r.deviates() && r.rail.applied }

// railHolds reports whether a logged pressure leaves nothing for a supply to
// explain: it holds, or what it lacks is taken from the trims. What the sensor
// is referenced to stays open, and with it a regulator's reference.
func (r *rows) railHolds(f *facts) bool {
	return r.rail != nil && f.railLogged && (r.rail.applied || !r.deviates())
}

// railFinding is a measured rail pressure as a cause: a supply that gives way
// where it falls with the flow of fuel, and else a regulator that does not hold
// what the calibration says.
func (r *rows) railFinding(f *facts) Finding {
	found := Finding{Cause: PressureReference, Share: r.rail.explains, explains: r.rail.explains, Effect: r.largest(r.rail.trim), measured: true,
		Shape: fmt.Sprintf("rail pressure is %.0f kPa as measured and %.0f kPa in the calibration (%s %% at the injectors)", r.rail.kpa, f.nominal, tables.Signed(100*r.rail.mean, 0))}
	if r.rail.logged && !r.followsReference(f) && r.fallsWithFuel(f.nominal) {
		found.Cause, found.Shape = SupplyLimit, "as the logged rail pressure falls"
	}
	found.Predicted = r.perPoint(make([]float64, len(r.y)))
	var boost, light drive.Mean
	for i, p := range r.points {
		if p.Manifold > p.Barometer+8 {
			boost.Add(r.rail.trim[i*r.banks], 1)
		} else {
			light.Add(r.rail.trim[i*r.banks], 1)
		}
	}
	// Lean in boost: more fuel is asked for there than at light load. A pressure that
	// is low by the same everywhere follows the manifold all the same.
	found.lostHose = found.Cause == PressureReference && boost.Value()-light.Value() >= railCounts
	return found
}

// ownRest reports whether what a measured pressure leaves has a cause of its own:
// one that is large beside the pressure's effect, or that stands for a trim worth a
// repair also where the pressure is as the calibration says. What a mean of the
// pressure leaves, or a control that follows it late, does neither.
func (r *rows) ownRest(rest *Finding, effect float64) bool {
	const beside, enough = 0.3, 0.1
	const follows = 0.06 // ms that an offset moves with the pressure; from memory, no source
	switch {
	case rest.Cause == InjectorOffset && len(rest.Coefficients) == 1 && math.Abs(rest.Coefficients[0].Value) < follows && rest.Coefficients[0].Value*r.rail.mean > 0:
		return false // an injector opens sooner against less pressure than its table is for
	case rest.Cause == None || rest.model == nil || rest.Effect < effectFull:
		return false
	case rest.Effect >= beside*effect:
		return true
	}
	var square, weight float64
	for i, v := range rest.model.predict() {
		if math.Abs(r.rail.trim[i]) < railCounts {
			square += float64(r.w[i] * v * v)
			weight += r.w[i]
		}
	}
	return weight >= enough*r.whole() && square >= pairFull*pairFull*weight
}

// followsReference reports whether the measured pressure is what a regulator with
// the other reference holds.
func (r *rows) followsReference(f *facts) bool {
	for _, shape := range []func(rail, barometer, manifold float64) float64{hoseOff, hoseOn} {
		off := r.column(func(p *Point, _ int) float64 { return 100 * shape(f.rail, p.Barometer, p.Manifold) })
		for i := range off {
			off[i] -= r.rail.trim[i]
		}
		if off != nil && r.square(off) < 0.25*r.square(r.rail.trim) {
			return true
		}
	}
	return false
}

// fallsWithFuel reports whether the pressure in the rail itself falls with the
// flow of fuel, by what adds 2 % to the trim. One that is low by the same
// everywhere is a larger share of what is left against a full manifold.
func (r *rows) fallsWithFuel(nominal float64) bool {
	fuel := r.fuel()
	if fuel == nil {
		return false
	}
	low, high := quantiles(fuel, 0.5, 0.9)
	var idle, load drive.Mean
	for i, f := range fuel {
		switch {
		case f <= low:
			idle.Add(100*deviation(r.points[r.point[i]].railPressure/nominal-1), 1)
		case f >= high:
			load.Add(100*deviation(r.points[r.point[i]].railPressure/nominal-1), 1)
		}
	}
	return load.Value()-idle.Value() >= 2
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
