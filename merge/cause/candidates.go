package cause

import (
	"fmt"
	"math"
	"slices"
)

// candidate is a cause with the shapes that it may take.
type candidate struct {
	cause    Cause
	variants []variant
	missing  string // why it could not be examined
}

// variant is one shape: a linear model of few columns.
type variant struct {
	said     string      // for the evidence, such as "knee at 9.3 g/s of fuel"
	unit     []string    // of each coefficient
	columns  [][]float64 // over the rows
	fixed    bool        // the one column holds as it is: nothing is fitted
	low      []float64   // bounds of the coefficients; nil for none
	high     []float64
	free     float64 // what was chosen or fitted, knees and choices included
	against  bool    // contradicts what the calibration says of itself
	lostHose bool    // the rail does not follow the manifold where it should
}

// facts are what the candidates need to know beside the points.
type facts struct {
	rail       float64 // kPa above the atmosphere or the manifold
	follows    bool    // the calibration says that the rail follows the manifold
	said       bool    // the calibration gives the rail pressure
	metered    bool    // air is metered upstream
	relative   bool    // the effective pulse is known to a factor only
	estimated  bool    // manifold pressure is estimated from air
	byPressure bool    // the calibration computes air from manifold pressure
	noAir      string  // why air flow is not known, else ""
	noPulse    string
	noPressure string
}

func (r *rows) inverse() []float64 {
	return r.column(func(p *Point, _ int) float64 { return p.Inverse })
}
func (r *rows) one() []float64 { return r.column(func(*Point, int) float64 { return 1 }) }
func (r *rows) leak() []float64 {
	return r.column(func(p *Point, _ int) float64 { return 100 * orifice(p.Manifold/p.Barometer) / p.AirFlow })
}
func (r *rows) logAir() []float64 {
	return r.column(func(p *Point, _ int) float64 { return math.Log(p.AirFlow) })
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

func hinge(x []float64, knee float64) []float64 {
	h := make([]float64, len(x))
	for i, v := range x {
		h[i] = max(0, v/knee-1)
	}
	return h
}

func rooted(x []float64) []float64 {
	c := make([]float64, len(x))
	for i, v := range x {
		c[i] = math.Sqrt(v)
	}
	return c
}

func product(a, b []float64) []float64 {
	c := make([]float64, len(a))
	for i := range a {
		c[i] = a[i] * b[i]
	}
	return c
}

func quantile(x []float64, share float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return s[min(int(share*float64(len(s))), len(s)-1)]
}

var (
	positive = []float64{0}
	anything = []float64{math.Inf(1)}
)

// candidates lists every cause with its shapes on these rows.
func (r *rows) candidates(f *facts) []candidate {
	return []candidate{
		{cause: FlowScale, variants: []variant{{columns: [][]float64{r.one()}, unit: []string{"%"}, free: 1}}},
		r.offset(f), r.unmetered(f), r.reference(f), r.supply(f), r.meter(f), r.bankDifference(f),
	}
}

func (r *rows) offset(f *facts) candidate {
	c := candidate{cause: InjectorOffset}
	s := r.inverse()
	if s == nil {
		c.missing = f.noPulse
		return c
	}
	ms := "ms"
	if f.relative {
		ms = ""
	}
	c.variants = []variant{{columns: [][]float64{scaled(s, 100)}, unit: []string{ms}, free: 1}}
	return c
}

func scaled(s []float64, by float64) []float64 {
	c := slices.Clone(s)
	for i := range c {
		c[i] *= by
	}
	return c
}

func (r *rows) unmetered(f *facts) candidate {
	c := candidate{cause: UnmeteredAir}
	if !f.metered {
		c.missing = "air is not metered upstream: the calibration has no air.meter and the log no air_flow, and a leak is then measured with the rest"
		return c
	}
	s := r.leak()
	if s == nil {
		c.missing = f.noAir
		return c
	}
	c.variants = []variant{{columns: [][]float64{s}, unit: []string{"g/s"}, low: positive, high: anything, free: 1, against: f.byPressure}}
	return c
}

func (r *rows) reference(f *facts) candidate {
	c := candidate{cause: PressureReference}
	off := r.column(func(p *Point, _ int) float64 { return 100 * hoseOff(f.rail, p.Barometer, p.Manifold) })
	on := r.column(func(p *Point, _ int) float64 { return 100 * hoseOn(f.rail, p.Barometer, p.Manifold) })
	if off == nil || on == nil {
		c.missing = f.noPressure
		return c
	}
	const offSaid = "the rail holds against the atmosphere, the table takes it to follow the manifold"
	const onSaid = "the rail follows the manifold, the table takes it to hold against the atmosphere"
	for _, v := range []variant{
		{said: offSaid, columns: [][]float64{off}, against: f.said && !f.follows, lostHose: true},
		{said: onSaid, columns: [][]float64{on}, against: f.said && f.follows},
	} {
		fixed := v
		fixed.fixed, fixed.unit, fixed.free = true, []string{""}, 0
		c.variants = append(c.variants, fixed)
		// How large the shape is follows from the rail pressure, if that is known.
		v.unit, v.free, v.low, v.high = []string{""}, 1, []float64{0.6}, []float64{1.5}
		if f.said {
			v.low, v.high = []float64{0.8}, []float64{1.25}
		}
		c.variants = append(c.variants, v)
	}
	return c
}

func (r *rows) supply(f *facts) candidate {
	c := candidate{cause: SupplyLimit}
	fuel := r.fuel()
	if fuel == nil {
		c.missing = f.noAir
		return c
	}
	most := quantile(fuel, 0.995)
	for k := range 15 {
		knee := most * (0.2 + float64(0.05*float64(k)))
		h := hinge(fuel, knee)
		if !r.reaches(h) {
			continue
		}
		said := fmt.Sprintf("rising past %.3g g/s of fuel", knee)
		c.variants = append(c.variants,
			variant{said: said, columns: [][]float64{scaled(h, 100)}, unit: []string{"% a %"}, low: positive, high: anything, free: 2},
			variant{said: said, columns: [][]float64{scaled(product(h, h), 100)}, unit: []string{"% a %²"}, low: positive, high: anything, free: 2},
			variant{said: said, columns: [][]float64{scaled(rooted(h), 100)}, unit: []string{"% a √%"}, low: positive, high: anything, free: 2})
	}
	if v := r.falling(fuel); v != nil {
		c.variants = append(c.variants, *v)
	}
	if len(c.variants) == 0 {
		c.missing = "the drive's fuel flow hardly varies"
	}
	return c
}

// falling is the trim that a logged rail pressure asks for, where that pressure
// falls with fuel flow; nil where it is not logged or holds.
func (r *rows) falling(fuel []float64) *variant {
	trim := r.column(func(p *Point, _ int) float64 { return 100 * (1/math.Sqrt(1+p.Rail) - 1) })
	if trim == nil {
		return nil
	}
	low, high := quantile(fuel, 0.5), quantile(fuel, 0.9)
	var idle, load mean
	for i, f := range fuel {
		switch {
		case f <= low:
			idle.add(trim[i])
		case f >= high:
			load.add(trim[i])
		}
	}
	if load.value()-idle.value() < 2 {
		return nil
	}
	return &variant{said: "as the logged rail pressure falls", columns: [][]float64{trim}, unit: []string{""}, fixed: true}
}

// reaches reports whether at least two operating points lie past a knee.
func (r *rows) reaches(h []float64) bool {
	past := map[int]bool{}
	for i, v := range h {
		if v > 0.02 {
			past[r.points[r.point[i]].cell] = true
		}
	}
	return len(past) >= 2
}

func (r *rows) meter(f *facts) candidate {
	c := candidate{cause: AirMeter}
	if !f.metered {
		c.missing = "air is not metered upstream: the calibration has no air.meter and the log no air_flow"
		return c
	}
	air, lg := r.air(), r.logAir()
	if air == nil || lg == nil {
		c.missing = f.noAir
		return c
	}
	one := r.one()
	low, high := quantile(lg, 0.01), quantile(lg, 0.99)
	if high-low < math.Log(2) {
		c.missing = "the drive's air flow stays within a factor of two"
		return c
	}
	c.variants = []variant{
		{said: "growing with air flow", columns: [][]float64{scaled(air, 1/quantile(air, 0.99))}, unit: []string{"%"}, free: 1.5},
		{said: "a straight line in air flow", columns: [][]float64{one, scaled(air, 1/quantile(air, 0.99))}, unit: []string{"%", "%"}, free: 2},
		{said: "a straight line in the logarithm of air flow", columns: [][]float64{one, lg}, unit: []string{"%", "%"}, free: 2},
		{said: "a bent line in air flow", columns: bent(lg, low, high, 3), unit: []string{"%", "%", "%"}, free: 3},
		{said: "a bent line in air flow", columns: bent(lg, low, high, 4), unit: []string{"%", "%", "%", "%"}, free: 4},
		{said: "a bent line in air flow", columns: bent(lg, low, high, 5), unit: []string{"%", "%", "%", "%", "%"}, free: 5},
	}
	for i := range c.variants {
		c.variants[i].against = f.byPressure
	}
	return c
}

// bent are the columns of a line bent at n even knots, ends included.
func bent(x []float64, low, high float64, n int) [][]float64 {
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

func (r *rows) bankDifference(f *facts) candidate {
	c := candidate{cause: BankDifference}
	if r.banks < 2 {
		c.missing = "the log has the trims of one bank only"
		return c
	}
	add := func(said, unit string, s []float64, by float64, free float64) {
		if s != nil {
			c.variants = append(c.variants, variant{said: said, columns: [][]float64{scaled(s, by)}, unit: []string{unit}, free: free})
		}
	}
	for b := range 2 {
		side := r.column(func(_ *Point, bank int) float64 { return float64(bank ^ b ^ 1) })
		weak := fmt.Sprintf("bank %d alone", b+1)
		add(weak+", the same everywhere", "%", side, 1, 1)
		if s := r.inverse(); s != nil {
			add(weak+", most at short pulses", "ms", product(s, side), 100, 1)
		}
		if s := r.leak(); s != nil {
			add(weak+", most where little air flows", "g/s", product(s, side), 1, 1)
		} else if s := r.column(func(p *Point, _ int) float64 { return 1e4 / (p.Manifold * p.Speed) }); s != nil {
			add(weak+", most where little air flows", "", product(s, side), 100, 1)
		}
		if fuel := r.fuel(); fuel != nil {
			add(weak+", growing with fuel flow", "", product(scaled(fuel, 1/quantile(fuel, 0.99)), side), 100, 1.5)
		}
	}
	sign := r.column(func(_ *Point, bank int) float64 { return float64(2*bank-1) / 2 })
	add("the banks apart in opposite ways", "%", sign, 1, 1)
	return c
}
