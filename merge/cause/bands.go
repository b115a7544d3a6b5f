package cause

import "math"

// Band is the settled driving within a range of one quantity, with the trims
// seen there and those that the leading cause predicts.
type Band struct {
	Low, High float64
	Seconds   float64
	Seen      [2]float64 // %, of each bank; NaN where there is none
	Predicted [2]float64 // NaN where none leads
}

// Bands sorts the drive into ranges of what separates causes best: air flow, or
// else manifold pressure or speed. Each range is twice the one before it for air
// flow and of even width otherwise.
func (r *Result) Bands() (quantity, unit string, bands []Band) {
	of := func(p *Point) float64 { return p.AirFlow }
	quantity, unit = "air flow", "g/s"
	step := func(v float64) float64 { return math.Floor(math.Log2(v)) }
	edge := math.Exp2
	if !r.all(of) {
		of, quantity, unit = func(p *Point) float64 { return p.Manifold }, "manifold pressure", "kPa"
		step, edge = func(v float64) float64 { return math.Floor(v / 20) }, func(k float64) float64 { return 20 * k }
	}
	if !r.all(of) {
		of, quantity, unit = func(p *Point) float64 { return p.Speed }, "engine speed", "r/min"
		step, edge = func(v float64) float64 { return math.Floor(v / 750) }, func(k float64) float64 { return 750 * k }
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range r.Points {
		low, high = min(low, step(of(p))), max(high, step(of(p)))
	}
	for k := low; k <= high && len(bands) < 32; k++ {
		b := Band{Low: edge(k), High: edge(k + 1)}
		var seen, predicted [2]weighed
		for i, p := range r.Points {
			if step(of(p)) != k {
				continue
			}
			b.Seconds += p.Seconds
			for bank := range seen {
				seen[bank].add(p.Trim[bank], p.Seconds)
				if f := r.Predicted(); f != nil {
					predicted[bank].add(f[i][bank], p.Seconds)
				}
			}
		}
		for bank := range seen {
			b.Seen[bank], b.Predicted[bank] = seen[bank].value(), predicted[bank].value()
		}
		if b.Seconds > 0 {
			bands = append(bands, b)
		}
	}
	return quantity, unit, bands
}

// Predicted is the trim of each point and bank, %, by the leading cause, or by
// two where two are named; nil where none leads.
func (r *Result) Predicted() [][2]float64 {
	if r.Together != nil {
		return r.Together.Predicted
	}
	return r.Leading().Predicted
}

func (r *Result) all(of func(p *Point) float64) bool {
	for _, p := range r.Points {
		if v := of(p); !(v > 0) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// weighed is a weighted mean that leaves out NaN.
type weighed struct{ sum, weight float64 }

func (m *weighed) add(v, w float64) {
	if v == v {
		m.sum += float64(v * w)
		m.weight += w
	}
}

func (m *weighed) value() float64 {
	if m.weight == 0 {
		return math.NaN()
	}
	return m.sum / m.weight
}
