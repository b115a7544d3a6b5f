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
	print   Fingerprint
	kept    int
	nowhere int // kept by the filters, but the axes are not known
	stale   int // and no channel has a new reading
	ago     int // and what a delayed reading tells of was burnt too long ago
	left    int // or where a filter leaves samples out

	// of the last instant of the frame before
	stretch            int
	lastCell, lastStay int32

	// of the frame, by instant
	cell []int32  // that the operating point is in; −1 where it is not known
	stay []int32  // how often it has come into another cell
	take [][]bool // by channel: it has a sample; nil where it has one at every instant
	late []late   // what became of a delayed reading; nil without delay

	rooms [][]bool // for take
	room  samples  // of one channel
}

// watchLimits asks for the raw trims behind the channels.
func (p *placer) watchLimits(log *drivelog.Log, spec Spec, columns []string) []string {
	behind := make([]uint8, len(spec.Values))
	var all uint8
	for i, v := range spec.Values {
		behind[i] = trimsBehind(v, spec.Let)
		all |= behind[i]
	}
	all |= all & 0b1010 >> 1 // a long trim's short one tells whether it is at a limit
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
	for c := range channels {
		p.print.Add(c, f.Time, x, f.Columns[p.values-1].Value, channels[c].Value)
	}
	p.locate(x, y, f.Stretch)
	every := p.choose(channels, why)
	p.late = p.late[:0]
	if t.g.settings.weight == Nearest && t.normal == nil && p.delay == nil {
		for i := p.limits.from(f, 0); i < f.N; i = p.limits.from(f, i+1) {
			p.watch(f, i, []share{{int(p.cell[i]), 1}})
		}
		for c := range channels {
			t.follow(c, p.samples(f.Time, channels[c].Value, c))
		}
	} else {
		for i := range f.N {
			at := 0.0
			if y != nil {
				at = y[i]
			}
			t.move(f.Time[i], x[i], at, f.Stretch[i])
			if p.delay != nil {
				p.late = append(p.late, p.delay.next(f, i, x[i], at, why[i] == Kept))
			}
			p.watch(f, i, t.here)
			for c := range channels {
				if p.takes(c, i) {
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

// takes reports whether a channel has a sample at an instant.
func (p *placer) takes(channel, i int) bool {
	take := p.take[channel]
	return take == nil || take[i]
}

// count tells what became of the instants of a frame.
func (p *placer) count(why []Reason) {
	for i, r := range why {
		if r != Kept {
			continue
		}
		outcome := lateStale
		if len(p.late) > 0 {
			outcome = p.late[i]
		}
		for c := range p.take {
			if p.takes(c, i) {
				outcome = lateSample
			}
		}
		switch {
		case outcome == lateSample:
			p.kept++
		case outcome == lateAgo:
			p.ago++
		case outcome == lateLeft:
			p.left++
		case outcome == lateNowhere || p.cell[i] < 0:
			p.nowhere++
		default:
			p.stale++
		}
	}
}

// locate finds the cell of each instant, and the stay there.
func (p *placer) locate(x, y []float64, stretch []int) {
	n := len(x)
	if cap(p.cell) < n {
		p.cell, p.stay = make([]int32, n), make([]int32, n)
	}
	p.cell, p.stay = p.cell[:n], p.stay[:n]
	cells, stays, stretch := p.cell[:n], p.stay[:n], stretch[:n]
	clear(cells)
	p.t.x.addIndices(cells, x)
	if y != nil {
		p.t.y.addIndices(cells, y)
	}
	cell, last, stay := p.lastCell, p.stretch, p.lastStay
	for i := range cells {
		at := max(cells[i], -1)
		other := int32(0)
		if int(at-cell)|(stretch[i]-last) != 0 { // one condition, which is no branch: it can't be foreseen
			other = 1
		}
		stay += other
		cell, last = at, stretch[i]
		cells[i], stays[i] = at, stay
	}
	p.lastCell, p.lastStay = cell, stay
}

// choose finds the instants at which each channel has a sample: a new reading
// that no filter leaves out, where the operating point is known. It reports
// whether one channel has a sample at every instant.
func (p *placer) choose(channels []drivelog.Column, why []Reason) (every bool) {
	if p.take == nil {
		p.take, p.rooms = make([][]bool, len(channels)), make([][]bool, len(channels))
	}
	for c := range channels {
		delayed := p.delay != nil && slices.Contains(p.delay.channels, c)
		if !delayed && p.all(&channels[c], why) {
			p.take[c], every = nil, true
			continue
		}
		take := p.rooms[c][:0]
		for i, v := range channels[c].Value {
			take = append(take, !delayed && why[i] == Kept && channels[c].Fresh[i] && math.Abs(v) <= most && p.cell[i] >= 0)
		}
		p.take[c], p.rooms[c] = take, take
	}
	return every
}

// all reports whether choose takes every instant of a channel, as it mostly does.
func (p *placer) all(channel *drivelog.Column, why []Reason) bool {
	fresh, cell := channel.Fresh[:len(why)], p.cell[:len(why)]
	for i, v := range channel.Value[:len(why)] {
		if why[i] != Kept || !fresh[i] || !(math.Abs(v) <= most) || cell[i] < 0 {
			return false
		}
	}
	return true
}

// samples are those of a channel, given all its instants.
func (p *placer) samples(time, value []float64, channel int) samples {
	take := p.take[channel]
	if take == nil {
		return samples{p.cell, p.stay, time, value}
	}
	s := samples{p.room.cell[:0], p.room.stay[:0], p.room.time[:0], p.room.value[:0]}
	for i, t := range take {
		if t {
			s.cell, s.stay = append(s.cell, p.cell[i]), append(s.stay, p.stay[i])
			s.time, s.value = append(s.time, time[i]), append(s.value, value[i])
		}
	}
	p.room = s
	return s
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
		if p.limits.standing != 0 && p.takes(c, i) {
			for _, s := range here {
				p.limits.sample(c, s.cell, s.weight)
			}
		}
	}
}
