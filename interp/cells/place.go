package cells

import (
	"math"
	"slices"

	"calsplice/tables/drivelog"
)

// placer puts the frames of one log into cells.
type placer struct {
	t       *tracker
	values  int // first column that is a value
	limits  *limiter
	delay   *delayer // nil where no channel is delayed
	print   fingerprint
	stretch int // of the last instant of the frame before
	kept    int
	nowhere int // kept by the filters, but the axes are not known
	stale   int // and no channel has a new reading

	// of the frame, by instant
	cell []int    // that the operating point is in; −1 where it is not known
	take [][]bool // by channel: it has a sample
	any  []bool   // some channel has a sample
}

// watchLimits asks for the raw trims behind the channels.
func (p *placer) watchLimits(log *drivelog.Log, spec Spec, columns []string) []string {
	behind := make([]uint8, len(spec.Values))
	var all uint8
	for i, v := range spec.Values {
		behind[i] = trimsBehind(v, spec.Let)
		all |= behind[i]
	}
	at := [4]int{-1, -1, -1, -1}
	for i, raw := range rawTrims {
		if all>>i&1 != 0 && log.Has(raw) {
			at[i] = len(columns)
			columns = append(columns, raw)
		}
	}
	p.limits = newLimiter(spec.TrimLimit, behind, at)
	return columns
}

// most is the size past which a number is no reading of anything in a car, and
// its square no double.
const most = 1e100

func (p *placer) frame(f *drivelog.Frame, why []Reason) error {
	t := p.t
	channels := f.Columns[p.values : p.values+len(t.g.channels)]
	x, y := f.Columns[0].Value, []float64(nil)
	if p.values == 2 {
		y = f.Columns[1].Value
	}
	p.print.add(0, f.Time, channels[0].Value)
	for c := range channels[1:] {
		p.print.add(c+2, channels[c+1].Value, nil)
	}
	p.locate(x, y)
	every := p.choose(channels, why)
	p.limits.begin(f)
	if t.g.settings.weight == Nearest && t.normal == nil && p.delay == nil {
		for i, near := range p.limits.near {
			if near || p.limits.standing > 0 {
				p.watch(f, i, []share{{p.cell[i], 1}})
			}
		}
		for c := range channels {
			t.follow(c, f, p.cell, channels[c].Value, p.take[c])
		}
	} else {
		for i := range f.N {
			at := 0.0
			if y != nil {
				at = y[i]
			}
			t.move(f.Time[i], x[i], at, f.Stretch[i])
			if p.delay != nil && p.delay.next(f, i, x[i], at, why[i] == Kept) {
				p.any[i] = true
			}
			p.watch(f, i, t.here)
			for c := range channels {
				if p.take[c][i] {
					t.add(c, channels[c].Value[i])
				}
			}
		}
	}
	p.stretch = f.Stretch[f.N-1]
	if every {
		p.kept += f.N
	} else {
		p.count(why)
	}
	return nil
}

// count tells what became of the instants of a frame.
func (p *placer) count(why []Reason) {
	kept, any := 0, p.any[:len(why)]
	for i, r := range why {
		switch {
		case r != Kept:
		case any[i]:
			kept++
		case p.cell[i] < 0:
			p.nowhere++
		default:
			p.stale++
		}
	}
	p.kept += kept
}

// locate finds the cell of each instant.
func (p *placer) locate(x, y []float64) {
	if cap(p.cell) < len(x) {
		p.cell = make([]int, len(x))
	}
	p.cell = p.cell[:len(x)]
	cell, rx, ry, columns := p.cell, p.t.x, p.t.y, len(p.t.x.points)
	for i, v := range x {
		w := 0.0
		if y != nil {
			w = y[i]
		}
		at := -1
		if v == v && w == w {
			at = ry.index(w)*columns + rx.index(v)
		}
		cell[i] = at
	}
}

// choose finds the instants at which each channel has a sample: a new reading
// that no filter leaves out, where the operating point is known. It reports
// whether one channel has a sample at every instant.
func (p *placer) choose(channels []drivelog.Column, why []Reason) (every bool) {
	n := len(why)
	for len(p.take) < len(channels) {
		p.take = append(p.take, nil)
	}
	for c := range channels {
		p.take[c] = append(p.take[c][:0], make([]bool, n)...)
		if p.delay != nil && slices.Contains(p.delay.channels, c) {
			continue
		}
		take, fresh, cell, taken := p.take[c], channels[c].Fresh[:n], p.cell[:n], 0
		for i, v := range channels[c].Value[:n] {
			if why[i] == Kept && fresh[i] && math.Abs(v) <= most && cell[i] >= 0 {
				take[i] = true
				taken++
			}
		}
		every = every || taken == n
	}
	p.any = append(p.any[:0], p.take[0]...)
	for _, take := range p.take[1:] {
		for i, t := range take {
			p.any[i] = p.any[i] || t
		}
	}
	return every
}

// watch takes the trims of one instant, and records the samples that a trim at
// its limit bears on.
func (p *placer) watch(f *drivelog.Frame, i int, here []share) {
	before := p.stretch
	if i > 0 {
		before = f.Stretch[i-1]
	}
	p.limits.next(f, i, f.Stretch[i] != before)
	for c := range p.take {
		if p.limits.standing > 0 && p.take[c][i] {
			for _, s := range here {
				p.limits.sample(c, s.cell, s.weight)
			}
		}
	}
}
