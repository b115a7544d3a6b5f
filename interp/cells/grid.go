package cells

import (
	"fmt"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/sift"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Weight is how a sample is shared among breakpoints, as files and the flag --weight call
// it.
type Weight string

// The ways to weigh a sample. Each sample goes whole to the nearest
// breakpoints, which "" means too, or is spread over its four neighbours by bilinear
// weight; then a cell's count is a sum of weights.
const (
	Nearest Weight = "nearest"
	Spread  Weight = "spread"
)

// ParseWeight reads the name of a way to weigh samples.
func ParseWeight(s string) (Weight, error) {
	if w := Weight(s); w == Nearest || w == Spread {
		return w, nil
	}
	return "", fmt.Errorf("weight is %s, expected nearest or spread", tables.Quote(s))
}

// Grid is the evidence of some channels in the cells of one pair of axes. It
// is what [Gather] fills, [Grid.Document] writes down and [fromDocument] reads
// back.
type Grid struct {
	settings settings
	x, y     axes.Axis // y has none along a curve
	channels []channel
	sources  []tables.Source // what became of each log's rows
	logs     []sift.LogID    // by what was read of them, so that none counts twice

	converted string // the first table of its document that is in another unit than its cells; "" for none
}

// channel is the evidence of one channel.
type channel struct {
	name, unit string
	cells      []*tally.Cell // row after row; nil where no sample came
}

// columns is the length of a row of cells.
func (g *Grid) columns() int { return g.x.Len() }

// size is the number of cells.
func (g *Grid) size() int {
	if g.y.Axis == nil {
		return g.x.Len()
	}
	return g.x.Len() * g.y.Len()
}

// newGrid is an empty grid of the same question as g: one log's part.
func newGrid(set settings, x, y *axes.Axis, values []string) *Grid {
	g := &Grid{settings: set, x: *x}
	if y != nil {
		g.y = *y
	}
	for _, v := range values {
		g.channels = append(g.channels, channel{v, drivelog.ChannelUnit(v), make([]*tally.Cell, g.size())})
	}
	return g
}

// Sums are exact, so it makes no difference in which order logs are added; that is what lets
// each log be read by a worker of its own.

// merge adds the evidence of another grid of the same question, which is of no use then.
func (g *Grid) merge(o *Grid) {
	for i := range g.channels {
		for j, c := range o.channels[i].cells {
			if p := &g.channels[i].cells[j]; *p == nil {
				*p = c
			} else if c != nil {
				(*p).Merge(c)
			}
		}
	}
	g.sources = append(g.sources, o.sources...)
	g.logs = append(g.logs, o.logs...)
}

// at is a cell, made where there was none.
func (g *Grid) at(channel, i int) *tally.Cell {
	p := &g.channels[channel].cells[i]
	if *p == nil {
		*p = new(tally.Cell)
	}
	return *p
}
