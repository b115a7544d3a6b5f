package cells

import (
	"math"
	"slices"

	"calsplice/interp/cells/sift"
	"calsplice/interp/cells/tally"
	"calsplice/tables/drivelog"
)

// placer puts the frames of one log into cells.
type placer struct {
	g       *Grid
	logs    []*tally.Log // by channel
	here    *locator
	values  int // first column that is a value
	limits  *sift.Limiter
	delay   *delayer // nil where no channel is delayed
	print   sift.Fingerprint
	stretch int      // of the last instant of the frame before
	take    [][]bool // by channel and instant of the frame: it has a sample
	any     []bool   // and any channel has
	kept    int
	lost    [results]int // instants that the filters keep, and that are no sample
}

// result is what became of an instant that the filters keep.
type result uint8

const (
	sampled  result = iota
	unread          // no new reading, or not of every channel that a delayed one needs
	tooOld          // combustion before the log began, or longer ago than is remembered
	filtered        // combustion during filtered-out samples
	offAxes         // the axes are not known
	results
)

// most is the size past which a number is no reading of anything in a car, and
// its square no double.
const most = 1e100

// newPlacer puts samples into a grid, of frames whose values begin at a column.
func newPlacer(g *Grid, values int) placer {
	n := len(g.channels)
	p := placer{g: g, values: values, print: make(sift.Fingerprint, n), take: make([][]bool, n)}
	for range g.channels {
		p.logs = append(p.logs, tally.New(g.size()))
	}
	return p
}

// finish adds everything to the grid when the log ends.
func (p *placer) finish() {
	for c, log := range p.logs {
		log.Into(func(at int) *tally.Cell { return p.g.at(c, at) })
	}
	p.limits.Finish(func(channel, at int, weight float64) { p.g.at(channel, at).AddLimit(weight) })
}

func (p *placer) frame(f *drivelog.Frame, why []sift.Reason) error {
	channels := f.Columns[p.values : p.values+len(p.g.channels)]
	x, y := f.Columns[0].Value, []float64(nil)
	if p.values == 2 {
		y = f.Columns[1].Value
	}
	// Two logs are one where they have the same times, places and readings; what else stands in
	// their files makes no difference to the cells.
	for c := range channels {
		p.print.Add(c, f.Time, x, f.Columns[p.values-1].Value, channels[c].Value)
	}
	p.here.locate(x, y, f.Stretch)
	if p.delay != nil {
		p.delay.frame(f, x, y, why)
	}
	for c := range channels {
		if p.delay != nil && sift.Delayed(p.g.channels[c].name) {
			values := p.delay.values(p.g.channels[c].name)
			p.take[c] = p.take[c][:0]
			for _, v := range values {
				p.take[c] = append(p.take[c], math.Abs(v) < most)
			}
			p.logs[c].Add(&p.delay.then.Shares, p.delay.time, values, p.take[c])
		} else {
			p.take[c] = p.choose(&channels[c], why, p.take[c][:0])
			p.logs[c].Add(&p.here.Shares, f.Time, channels[c].Value, p.take[c])
		}
	}
	// An instant is kept where any channel has a sample, and counts once.
	p.any = append(p.any[:0], p.take[0]...)
	for _, take := range p.take[1:] {
		for i, t := range take {
			p.any[i] = p.any[i] || t
		}
	}
	// A trim is far from its limits at most instants, and those are skipped many at a time.
	for i := p.limits.From(f, 0); i < f.N; i = p.limits.From(f, i+1) {
		p.watch(f, i)
	}
	p.stretch = f.Stretch[f.N-1]
	p.count(why)
	return nil
}

// choose finds the instants at which a channel has a sample: a new reading that
// no filter leaves out, where the operating point is known.
func (p *placer) choose(channel *drivelog.Column, why []sift.Reason, take []bool) []bool {
	fresh, value := channel.Fresh[:len(why)], channel.Value[:len(why)]
	take = slices.Grow(take, len(why))[:len(why)]
	for i, r := range why {
		take[i] = r == sift.Kept && fresh[i] && math.Abs(value[i]) <= most && p.here.Known(i)
	}
	return take
}

// count reports what became of the instants of a frame.
func (p *placer) count(why []sift.Reason) {
	for i, r := range why {
		switch {
		case r != sift.Kept:
		case p.any[i]:
			p.kept++
		case p.delay != nil && p.delay.results[i] > unread:
			p.lost[p.delay.results[i]]++
		case !p.here.Known(i):
			p.lost[offAxes]++
		default:
			p.lost[unread]++
		}
	}
}

// watch takes the trims of one instant, and records the samples that a trim at
// its limit bears on.
func (p *placer) watch(f *drivelog.Frame, i int) {
	// A trim that stood at its limit before a gap did not stand there through it.
	before := p.stretch
	if i > 0 {
		before = f.Stretch[i-1]
	}
	p.limits.Next(f, i, f.Stretch[i] != before)
	for c, take := range p.take {
		if take[i] {
			for k, end := p.here.Of(i); k < end; k++ {
				p.limits.Sample(c, int(p.here.Cell[k]), p.here.Weighs(k))
			}
		}
	}
}
