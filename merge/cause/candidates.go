package cause

import (
	"fmt"
	"math"
	"slices"

	"calsplice/interp/drive"
	"calsplice/interp/engine"
	"calsplice/interp/lsq"
)

// candidate is a cause with the shapes that it may take.
type candidate struct {
	cause    Cause
	variants []variant
	missing  string // why it could not be examined
}

// variant is one shape: a linear model of few columns.
type variant struct {
	words    string      // for the evidence, such as "knee at 9.3 g/s of fuel"
	unit     []string    // of each coefficient
	columns  [][]float64 // over the rows
	low      []float64   // bounds of the coefficients; nil for none
	high     []float64
	free     float64 // what was chosen or fitted, knees and choices included
	ridge    float64 // holds coefficients that few rows determine small
	against  bool    // contradicts what the calibration says of itself
	lostHose bool    // the rail does not follow the manifold where it should
	at       []int   // of its columns in the pool of all shapes
}

// facts are what the candidates need to know beside the points. They decide which causes
// are possible at all: air that passes a meter by needs a meter, an error of volumetric
// efficiency a table of it.
type facts struct {
	rail       float64 // kPa above the atmosphere or the manifold
	nominal    float64 // kPa, as the calibration has it
	follows    bool    // the calibration says that the rail follows the manifold
	railGiven  bool    // the calibration gives the rail pressure
	metered    bool    // air is metered upstream
	computed   bool    // the calibration computes air from manifold pressure and a volumetric efficiency
	relative   bool    // the effective pulse is known to a factor only
	railLogged bool    // the log has the rail pressure
	restless   bool    // the engine idled and never held still
	purge      bool    // purge is logged, and its samples are left out
}

// Why a cause could not be examined, where several ask for the same.
const (
	noAir      = "the log has neither air flow, air charge nor pulse width, nor manifold pressure"
	noPulse    = "the log has no pulse width with battery voltage, and nothing to derive the pulse from"
	noPressure = "the log has no manifold pressure"
	noMeter    = "air is not metered upstream: the calibration has no air.meter and the log no air_flow"
	railSays   = "the rail pressure is logged, and what it explains is taken from the trims"
)

// inverse, one, leak and the like are regressors by row: a point's own numbers, or shapes of
// them. They are nil where any row lacks a number, so that a shape is fitted to all or not
// at all.
func (r *rows) inverse() []float64 {
	return r.column(func(p *Point, _ int) float64 { return p.Inverse })
}
func (r *rows) one() []float64 { return r.column(func(*Point, int) float64 { return 1 }) }
func (r *rows) leak() []float64 {
	return r.column(func(p *Point, _ int) float64 { return 100 * engine.Orifice(p.Manifold/p.Barometer) / p.AirFlow })
}
func (r *rows) logAir() []float64 {
	return r.column(func(p *Point, _ int) float64 { return drive.Log(p.AirFlow) })
}
func (r *rows) air() []float64 { return r.column(func(p *Point, _ int) float64 { return p.AirFlow }) }
func (r *rows) fuel() []float64 {
	return r.column(func(p *Point, _ int) float64 { return p.FuelFlow })
}

// allShapes are columns that together follow any cause well enough to tell a
// wild row; nil where the log lacks what one needs.
func (r *rows) allShapes() [][]float64 {
	shapes := [][]float64{r.one(), r.inverse(), r.leak(), r.logAir(),
		r.column(func(p *Point, _ int) float64 { return p.Manifold / 100 }),
		r.column(func(p *Point, _ int) float64 { return p.Speed / 1000 })}
	if fuel := r.fuel(); fuel != nil {
		for _, share := range []float64{0.3, 0.5, 0.7} {
			shapes = append(shapes, hinge(fuel, share*quantile(fuel, 0.99)))
		}
	}
	if r.banks == 2 {
		side := r.column(func(_ *Point, b int) float64 { return float64(2*b - 1) })
		for _, s := range slices.Clone(shapes[:3]) {
			if s != nil {
				shapes = append(shapes, product(s, side))
			}
		}
	}
	return shapes
}

// mapped is a column with each of its numbers as a function has it.
func mapped(x []float64, of func(v float64) float64) []float64 {
	c := make([]float64, len(x))
	for i, v := range x {
		c[i] = of(v)
	}
	return c
}

// hinge is 0 up to a knee and then how far past it, as a share of the knee.
func hinge(x []float64, knee float64) []float64 {
	return mapped(x, func(v float64) float64 { return max(0, v/knee-1) })
}

func scaled(s []float64, by float64) []float64 {
	return mapped(s, func(v float64) float64 { return v * by })
}

func product(a, b []float64) []float64 {
	c := make([]float64, len(a))
	for i := range a {
		c[i] = a[i] * b[i]
	}
	return c
}

// quantile is the number below which a share of all lie.
func quantile(x []float64, share float64) float64 {
	v, _ := quantiles(x, share, share)
	return v
}

// quantiles are the numbers below which two shares of all lie.
func quantiles(x []float64, low, high float64) (float64, float64) {
	s := slices.Clone(x)
	at := func(share float64) int { return min(int(share*float64(len(s))), len(s)-1) }
	h := lsq.Nth(s, at(high))
	return lsq.Nth(s, at(low)), h
}

// examined is a cause with its shapes, and unexamined one that cannot be examined.
func examined(variants ...variant) candidate { return candidate{variants: variants} }

func unexamined(why string) candidate { return candidate{missing: why} }

// shape is a variant of one column.
func shape(words, unit string, column []float64, free float64) variant {
	return variant{words: words, columns: [][]float64{column}, unit: []string{unit}, free: free}
}

// oneWay is a variant that only adds fuel: no leak lets air out of the air that is
// metered, and no pump gives too much.
func (v variant) oneWay() variant {
	v.low, v.high = []float64{0}, []float64{math.Inf(1)}
	return v
}

// scale is flow that is wrong by the same share everywhere; and, where the rail
// does not follow the manifold, by a pressure that is wrong by the same amount.
func (r *rows) scale(f *facts) candidate {
	one := r.one()
	c := examined(shape("", "%", one, 1))
	if f.follows {
		return c
	}
	if s := r.column(func(p *Point, _ int) float64 { return f.rail / (f.rail + p.Barometer - p.Manifold) }); s != nil {
		s = scaled(s, math.Sqrt(r.square(one)/r.square(s)))
		c.variants = append(c.variants, shape("a rail pressure that is wrong by the same amount everywhere", "%", s, 1.2))
	}
	return c
}

// offset is a time that is wrong by the same in every pulse.
func (r *rows) offset(f *facts) candidate {
	s, ms := r.inverse(), "ms"
	if s == nil {
		return unexamined(noPulse)
	}
	if f.relative {
		ms = ""
	}
	return examined(shape("", ms, scaled(s, 100), 1))
}

// unmetered is a hole that the manifold sucks air through, past the meter.
func (r *rows) unmetered(f *facts) candidate {
	if !f.metered {
		return unexamined(noMeter + ", and a leak is then measured with the rest")
	}
	s := r.leak()
	if s == nil {
		return unexamined(noAir)
	}
	return examined(shape("", "g/s", s, 1).oneWay())
}

// reference is a rail that holds its pressure against another one than the table
// takes it to.
func (r *rows) reference(f *facts) candidate {
	if r.railNamed() {
		return unexamined(railSays)
	}
	off := r.column(func(p *Point, _ int) float64 { return 100 * hoseOff(f.rail, p.Barometer, p.Manifold) })
	on := r.column(func(p *Point, _ int) float64 { return 100 * hoseOn(f.rail, p.Barometer, p.Manifold) })
	if off == nil { // and with it the other
		return unexamined(noPressure)
	}
	lost := shape("the rail holds against the atmosphere, the table takes it to follow the manifold", "", off, 1)
	lost.against, lost.lostHose = f.railGiven && !f.follows, true
	found := shape("the rail follows the manifold, the table takes it to hold against the atmosphere", "", on, 1)
	found.against = f.railGiven && f.follows
	c := examined(lost, found)
	for k := range c.variants {
		// How large the shape is follows from the rail pressure, if that is known.
		v := &c.variants[k]
		v.low, v.high = []float64{0.5}, []float64{1.6}
		if f.railGiven {
			v.low, v.high = []float64{0.6}, []float64{1.35} // a trim that lags shows less of it
		}
	}
	return c
}

// supply is fuel that does not come any more past some flow of it: how suddenly, is
// not known in advance.
func (r *rows) supply(f *facts) candidate {
	if r.railHolds(f) && !r.pastDuty() {
		return unexamined(railSays)
	}
	fuel := r.fuel()
	if fuel == nil {
		return unexamined(noAir)
	}
	most := quantile(fuel, 0.995)
	whole := scaled(fuel, 1/most)
	c := examined(shape("growing with the square of fuel flow", "", mapped(whole, func(v float64) float64 { return v * v * 100 }), 1).oneWay())
	for k := range 15 {
		knee := most * (0.2 + float64(0.05*float64(k)))
		h := hinge(fuel, knee)
		if !r.reaches(h) {
			continue
		}
		said := fmt.Sprintf("rising past %.3g g/s of fuel", knee)
		c.variants = append(c.variants,
			shape(said, "% a %", scaled(h, 100), 2).oneWay(),
			shape(said, "% a %²", mapped(h, func(v float64) float64 { return v * v * 100 }), 2).oneWay(),
			shape(said, "% a √%", mapped(h, func(v float64) float64 { return math.Sqrt(v) * 100 }), 2).oneWay())
	}
	if len(c.variants) == 1 {
		return unexamined("the drive's fuel flow hardly varies")
	}
	return c
}

// pastDuty reports whether injectors ran past their own limit, which no rail
// pressure shows.
func (r *rows) pastDuty() bool {
	return slices.ContainsFunc(r.points, func(p *Point) bool { return p.Duty > dutyLimit })
}

// reaches reports whether at least two operating points lie past a knee.
func (r *rows) reaches(h []float64) bool {
	past := map[int]bool{}
	for i := 0; i < len(h) && len(past) < 2; i++ {
		if h[i] > 0.02 {
			past[r.points[r.point[i]].cell] = true
		}
	}
	return len(past) == 2
}

// meter is a curve of the air meter: through zero, straight, or bent at some knots.
func (r *rows) meter(f *facts) candidate {
	if !f.metered {
		return unexamined(noMeter)
	}
	air, lg := r.air(), r.logAir()
	if air == nil || lg == nil {
		return unexamined(noAir)
	}
	one := r.one()
	low, high := quantiles(lg, 0.01, 0.99)
	if high-low < math.Log(2) {
		return unexamined("the drive's air flow stays within a factor of two")
	}
	through := scaled(air, 1/quantile(air, 0.99))
	c := examined(shape("growing with air flow", "%", through, 1.5))
	for _, line := range []struct {
		words   string
		columns [][]float64
	}{
		{"a straight line in air flow", [][]float64{one, through}}, {"a straight line in the logarithm of air flow", [][]float64{one, lg}},
		{"a bent line in air flow", bent(lg, low, high, 3)}, {"a bent line in air flow", bent(lg, low, high, 4)}, {"a bent line in air flow", bent(lg, low, high, 5)},
	} {
		n := len(line.columns)
		c.variants = append(c.variants, variant{words: line.words, columns: line.columns, unit: slices.Repeat([]string{"%"}, n), free: float64(n)})
	}
	return c
}

// bent are the columns of a line bent at n even knots, ends included.
func bent(x []float64, low, high float64, n int) [][]float64 {
	high = max(high, low+1e-9)
	columns := make([][]float64, n)
	for j := range columns {
		columns[j] = make([]float64, len(x))
	}
	for i, v := range x {
		at := min(max((v-low)/(high-low)*float64(n-1), 0), float64(n-1))
		k := min(int(at), n-2)
		columns[k][i], columns[k+1][i] = 1-(at-float64(k)), at-float64(k)
	}
	return columns
}

// bankDifference is any of the above on one bank alone, or the two apart.
func (r *rows) bankDifference(*facts) candidate {
	if r.banks < 2 {
		return unexamined("the log has the trims of one bank only")
	}
	c := examined()
	add := func(said, unit string, s []float64, by float64, free float64) {
		c.variants = append(c.variants, shape(said, unit, scaled(s, by), free))
	}
	inverse, leak, fuel := r.inverse(), r.leak(), r.fuel()
	for b := range 2 {
		side := r.column(func(_ *Point, bank int) float64 { return float64(bank ^ b ^ 1) })
		weak := fmt.Sprintf("bank %d alone", b+1)
		add(weak+", the same everywhere", "%", side, 1, 1)
		if inverse != nil {
			add(weak+", most at short pulses", "ms", product(inverse, side), 100, 1)
		}
		if leak != nil {
			add(weak+", most where little air flows", "g/s", product(leak, side), 1, 1)
		} else if s := r.column(func(p *Point, _ int) float64 { return 1e4 / (p.Manifold * p.Speed) }); s != nil {
			add(weak+", most where little air flows", "", product(s, side), 100, 1)
		}
		if fuel != nil {
			add(weak+", growing with fuel flow", "", product(scaled(fuel, 1/quantile(fuel, 0.99)), side), 100, 1.5)
		}
	}
	add("the banks apart in opposite ways", "%", r.column(func(_ *Point, bank int) float64 { return float64(2*bank-1) / 2 }), 1, 1)
	return c
}

// efficiency is structure in speed and manifold pressure: along one of them,
// along both at once, or over a grid of places.
func (r *rows) efficiency(f *facts) candidate {
	if !f.computed {
		return unexamined("air is not computed from manifold pressure: the calibration has no air.volumetric_efficiency, or an air.meter too")
	}
	speed, manifold := r.speed(), r.pressure()
	if manifold == nil {
		return unexamined(noPressure)
	}
	c := examined()
	add := func(said string, columns [][]float64, free float64) {
		columns = slices.DeleteFunc(slices.Clone(columns), func(c []float64) bool { return !slices.ContainsFunc(c, func(v float64) bool { return v != 0 }) })
		c.variants = append(c.variants, variant{words: said, columns: columns, unit: make([]string, len(columns)), free: free, ridge: 0.02})
	}
	slow, fast := quantiles(speed, 0.02, 0.98)
	light, full := quantiles(manifold, 0.02, 0.98)
	for _, n := range []int{3, 4, 6} {
		along, up := bent(speed, slow, fast, n), bent(manifold, light, full, n)
		add("along engine speed", along, float64(n))
		add("along manifold pressure", up, float64(n))
		add("along engine speed and manifold pressure", slices.Concat(along, up[1:]), float64(2*n-1))
		var places [][]float64
		for _, a := range along {
			for _, u := range up {
				places = append(places, product(a, u))
			}
		}
		add("by engine speed and manifold pressure", places, 0.6*float64(n*n))
	}
	return c
}

func (r *rows) speed() []float64 { return r.column(func(p *Point, _ int) float64 { return p.Speed }) }
func (r *rows) pressure() []float64 {
	return r.column(func(p *Point, _ int) float64 { return p.Manifold })
}

// vapour is purge that is not logged: fuel that no injector brings, everywhere
// or wherever the engine does not idle.
func (r *rows) vapour(f *facts) candidate {
	fuel, speed := r.fuel(), r.speed()
	if f.purge || fuel == nil {
		return unexamined("no")
	}
	whole := mapped(fuel, func(v float64) float64 { return -10 / v })
	idle := 1.3 * quantile(speed, 0.03)
	driving := slices.Clone(whole)
	for i := range driving {
		if speed[i] <= idle {
			driving[i] = 0
		}
	}
	return examined(shape("", "", whole, 1).oneWay(), shape("", "", driving, 1).oneWay())
}

// exhaust is air that the sensor finds in little exhaust.
func (r *rows) exhaust(f *facts) candidate {
	air := r.air()
	if air == nil {
		return unexamined(noAir)
	}
	low := quantile(air, 0.02)
	c := examined()
	for _, fading := range []func(v float64) float64{
		func(v float64) float64 { return 1 / (v * v) },
		func(v float64) float64 { return math.Exp(1 - v) },
		func(v float64) float64 { return math.Exp((1 - v) / 2) },
	} {
		s := mapped(air, func(v float64) float64 { return 100 * fading(v/low) })
		c.variants = append(c.variants, shape("", "", s, 1).oneWay())
	}
	return c
}

// pulsation is air that goes back and forth past a meter at open throttle and
// low speed, and is counted each time.
func (r *rows) pulsation(f *facts) candidate {
	s := r.column(func(p *Point, _ int) float64 {
		open := min(1, max(0, (p.Manifold/p.Barometer-0.8)/0.15))
		return 100 * open * min(1, max(0, (3500-p.Speed)/1000))
	})
	if !f.metered || s == nil {
		return unexamined("no")
	}
	return examined(shape("", "", s, 1))
}
