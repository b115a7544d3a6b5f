package cells

import (
	"fmt"
	"math"
	"sort"

	"calsplice/interp"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/unit"
)

// Axis is an axis of the grid and the channel that is read along it. The
// breakpoints may stand in another unit than the channel's own: they stay as
// they are, so that cells lie on a table's breakpoints to the bit, and samples
// are compared with them in the channel's unit.
type Axis struct {
	Channel string
	*tables.Axis
}

// TableAxis finds the channel for a calibration's axis, by its quantity.
func TableAxis(a *tables.Axis) (*Axis, error) {
	if a == nil {
		return nil, nil
	}
	channel, ok := drivelog.ChannelFor(a.Quantity())
	if !ok {
		return nil, fmt.Errorf("no channel of a drive log goes along an axis of %s", tables.Quote(a.Quantity()))
	}
	return &Axis{channel, a}, nil
}

// ruler places readings of a channel among breakpoints.
type ruler struct {
	points []float64 // in the channel's own unit
	half   []float64 // half[i] and above belongs to breakpoint i+1, below to i
}

// newRuler converts an axis's breakpoints to its channel's unit.
func newRuler(a *Axis, channelUnit string) (*ruler, error) {
	if a == nil {
		return &ruler{points: []float64{0}}, nil
	}
	points := make([]float64, a.Len())
	copy(points, a.Points())
	if a.Unit() != "" && !unit.Same(a.Unit(), channelUnit) {
		if channelUnit == "" {
			return nil, fmt.Errorf("channel %s has no unit, and the axis is in %s", a.Channel, a.Unit())
		}
		c, err := unit.Find(a.Unit(), channelUnit)
		if err != nil {
			return nil, fmt.Errorf("axis %s of channel %s: %w", tables.Quote(a.Quantity()), a.Channel, err)
		}
		for i := range points {
			points[i] = c.Apply(points[i])
		}
	}
	r := &ruler{points: points, half: make([]float64, len(points)-1)}
	for i := range r.half {
		a, b := points[i], points[i+1]
		// Halfway between decimals is not halfway between the doubles nearest
		// to them: a few last places below still counts as halfway.
		slack := 4 * (math.Nextafter(max(math.Abs(a), math.Abs(b)), math.Inf(1)) - max(math.Abs(a), math.Abs(b)))
		r.half[i] = a + (b-a)/2 - slack
	}
	return r, nil
}

// nearest is the breakpoint nearest to v, halfway the higher one; near is a
// guess to look at first.
func (r *ruler) nearest(v float64, near int) int {
	if (near == 0 || v >= r.half[near-1]) && (near == len(r.half) || v < r.half[near]) {
		return near
	}
	if len(r.half) > 40 {
		return sort.Search(len(r.half), func(i int) bool { return v < r.half[i] })
	}
	i := 0
	for i < len(r.half) && v >= r.half[i] {
		i++
	}
	return i
}

// spread is the breakpoint below v and the share of v's weight that belongs to
// the next one.
func (r *ruler) spread(v float64) (int, float64) {
	if len(r.points) == 1 {
		return 0, 0
	}
	return interp.Weights(r.points, v)
}
