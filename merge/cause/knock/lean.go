package knock

import (
	"math"

	"calsplice/interp/drive"
)

// fillLean stands in for a wideband sensor: what the closed loop asks for at an
// air flow, extended past where it goes. Open loop may or may not apply what
// was learned, so this is how lean it runs where it does not.
func (d *Drive) fillLean() {
	line, measured := d.demand.line(), d.openLean.line()
	for i := range d.Stays {
		s := &d.Stays[i]
		// What a wideband sensor reads of rich commands at that air flow is nearer to it than
		// what closed loop asks for at less.
		if s.Rich > richFrom && s.leanTime < leanSeconds {
			if v := measured(s.Flow); v == v {
				s.Lean, s.leanTime = v/100, leanSeconds
				continue
			}
		}
		if s.Lean == s.Lean || s.open < 0.5*s.Seconds || !(s.Flow > 0) {
			continue
		}
		s.Lean = line(s.Flow) / 100
	}
}

// demand is the trim of closed loop over air flow.
type demand [256]drive.Mean // by steps of demandStep; the weights are seconds

const demandStep = 1.0 // g/s

// add takes the trim at an air flow; the last step is of all flows past it.
func (d *demand) add(flow, trim, seconds float64) {
	d[min(int(flow/demandStep), len(d)-1)].Add(trim, seconds)
}

// line is the trim over air flow: a straight line through the upper half of
// what closed loop reaches, its mean below; NaN where closed loop shows nothing.
func (d *demand) line() func(flow float64) float64 {
	middle := func(i int) float64 { return (float64(i) + 0.5) * demandStep }
	top := 0.0
	for i, m := range d {
		if m.Weight > 1.5 {
			top = middle(i)
		}
	}
	var n, x, y, xx, xy float64
	for i, m := range d {
		if f := middle(i); f >= 0.45*top && f <= top && m.Weight > 0 {
			w, t := min(m.Weight, 20), m.Value()
			n, x, y, xx, xy = n+w, x+float64(w*f), y+float64(w*t), xx+float64(w*f*f), xy+float64(w*f*t)
		}
	}
	if n < 5 {
		return func(float64) float64 { return math.NaN() }
	}
	slope := 0.0
	if det := float64(n*xx) - float64(x*x); det > 1e-6*n*xx {
		slope = (float64(n*xy) - float64(x*y)) / det
	}
	at := (y - float64(slope*x)) / n
	return func(flow float64) float64 { return at + float64(slope*min(flow, 1.6*top)) }
}
