// Package axes is along what samples are gathered: a table's axis, the channel
// that is read along it, and the breakpoint at which a reading belongs.
//
// It promises that a reading halfway between two breakpoints goes to the higher
// one, also where halfway is a decimal that no double holds, and that an axis in
// another unit than its channel's keeps its breakpoints to the bit. It knows
// nothing of samples.
package axes

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

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

// Of finds the channel for a calibration's axis, by its quantity.
func Of(a *tables.Axis) (*Axis, error) {
	if a == nil {
		return nil, nil
	}
	channel := Channel(a.Quantity())
	if !isChannel(channel) {
		return nil, fmt.Errorf("no channel of a drive log goes along an axis of %s: give --x and --y", tables.Quote(a.Quantity()))
	}
	return &Axis{channel, a}, nil
}

// Ruler places readings of a channel among breakpoints.
type Ruler struct {
	points     []float64 // in the channel's own unit
	half       []float64 // half[i] and above belongs to breakpoint i+1, below to i
	low, scale float64   // one part before the first, and how many there are in one of the unit
	parts      []part    // equal parts of what is around the breakpoints; none where two halves are as close as that
	stride     int       // of one breakpoint, among cells
}

// part is what a ruler knows of one of its parts: values below the half belong
// to one breakpoint, others to the next.
type part struct {
	half         float64 // +Inf where none is near
	below, above int32   // these breakpoints, times the stride
}

// NewRuler converts an axis's breakpoints to its channel's unit.
func NewRuler(a *Axis, stride int) (*Ruler, error) {
	if a == nil || a.Axis == nil {
		return &Ruler{points: []float64{0}, stride: stride}, nil
	}
	points, channelUnit := slices.Clone(a.Points()), drivelog.ChannelUnit(a.Channel)
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
	r := &Ruler{points: points, half: make([]float64, len(points)-1), stride: stride}
	for i := range r.half {
		a, b := points[i], points[i+1]
		// Halfway between decimals is not halfway between the doubles nearest
		// to them: a few last places below still counts as halfway.
		most := max(math.Abs(a), math.Abs(b))
		r.half[i] = a + (b-a)/2 - 4*(most-math.Nextafter(most, 0))
	}
	r.divide()
	return r, nil
}

// divide finds what is in each part of three times what the breakpoints span.
func (r *Ruler) divide() {
	const count = 1024
	first, last := r.points[0], r.points[len(r.points)-1]
	r.low, r.scale = first-(last-first), count/(3*(last-first))
	if !(r.scale > 0) || math.IsInf(r.scale, 0) || math.IsInf(r.low, 0) {
		return // one breakpoint, or more than doubles hold
	}
	parts := make([]part, count)
	for k := range parts {
		// A half part on either side, since which part a value is in is rounded.
		p := part{math.Inf(1), r.nearest(r.low + (float64(k)+0.5)/r.scale), r.nearest(r.low + (float64(k)+2.5)/r.scale)}
		if p.above > p.below {
			p.half = r.half[p.below/int32(r.stride)]
		}
		if parts[k] = p; p.above > p.below+int32(r.stride) {
			return
		}
	}
	r.parts = parts
}

// Index is the breakpoint nearest to v, halfway the higher one, times the stride.
func (r *Ruler) Index(v float64) int32 {
	var at [1]int32
	r.AddIndices(at[:], []float64{v})
	return at[0]
}

// AddIndices adds the index of each of many values; for NaN a number far below 0.
func (r *Ruler) AddIndices(to []int32, values []float64) {
	to = to[:len(values)]
	low, scale, parts := r.low, r.scale, r.parts
	for i, v := range values {
		k := uint64(int64((v-low)*scale)) - 1 // beyond any part also for NaN, which processors make 0 or the least number
		switch {
		case k < uint64(len(parts)):
			p := &parts[k]
			at, above := p.below, p.above // both are read before, so that there is no branch
			if v >= p.half {
				at = above
			}
			to[i] += at
		case v == v:
			to[i] += r.nearest(v)
		default:
			to[i] = math.MinInt32 / 2
		}
	}
}

// nearest is Index, looked for among all breakpoints.
func (r *Ruler) nearest(v float64) int32 {
	return int32(r.stride * sort.Search(len(r.half), func(i int) bool { return !(v >= r.half[i]) }))
}

// Spread is the breakpoint below v and the share of v's weight that belongs to
// the next one. A reading on a breakpoint is on it alone, whatever doubles make of its
// decimals in another unit.
func (r *Ruler) Spread(v float64) (int, float64) {
	i, w := interp.Weights(r.points, v)
	if whole := math.Round(w); math.Abs(w-whole) < 1e-12 {
		w = whole
	}
	return i, w
}

// Len is how many breakpoints there are.
func (r *Ruler) Len() int { return len(r.points) }

// OfTable finds the channels for the axes of a calibration's table.
func OfTable(doc *tables.Calibration, id string) (x, y *Axis, err error) {
	t := doc.Table(id)
	if t == nil {
		return nil, nil, errors.New(tables.Unknown("table", id, doc.IDs()))
	}
	if t.X() == nil {
		return nil, nil, fmt.Errorf("table %s is a scalar: it has no axes to gather samples along", id)
	}
	if x, err = Of(t.X()); err == nil {
		y, err = Of(t.Y())
	}
	if err != nil {
		err = fmt.Errorf("table %s: %w", id, err)
	}
	return x, y, err
}

// Parse reads an axis as people write one: "engine_speed: 600,800,1200" in
// the channel's own unit, or "engine speed [rpm]: …" in another.
func Parse(s string) (*Axis, error) {
	head, list, ok := strings.Cut(s, ":")
	if !ok {
		return nil, fmt.Errorf("%s has no ':', expected 'CHANNEL: V,V,…'", tables.Quote(s))
	}
	name, u := strings.TrimSpace(head), ""
	if open := strings.IndexByte(name, '['); open >= 0 && strings.HasSuffix(name, "]") {
		name, u = strings.TrimSpace(name[:open]), strings.TrimSpace(name[open+1:len(name)-1])
	}
	if name == "" {
		return nil, fmt.Errorf("%s names no channel, expected 'CHANNEL: V,V,…'", tables.Quote(s))
	}
	// A quantity such as "engine speed" is as good as the channel's own name.
	channel := Channel(name)
	if u == "" {
		u = drivelog.ChannelUnit(channel)
	}
	var points []float64
	for _, f := range strings.FieldsFunc(list, func(r rune) bool { return r == ',' || r == ' ' || r == ';' }) {
		v, err := tables.ParseValue(f)
		if err != nil {
			return nil, err
		}
		points = append(points, v)
	}
	a, err := tables.NewAxis(strings.ReplaceAll(name, "_", " "), u, points)
	if err != nil {
		return nil, err
	}
	return &Axis{channel, a}, nil
}

// Channel is the channel that a quantity or a channel's name means.
func Channel(name string) string {
	if channel, ok := drivelog.ChannelFor(name); ok {
		return channel
	}
	if channel, ok := drivelog.ChannelFor(strings.ReplaceAll(name, "_", " ")); ok {
		return channel
	}
	if plain := strings.ReplaceAll(name, " ", "_"); isChannel(plain) {
		return plain
	}
	return name
}

// isChannel reports whether a log may have a channel of this name, or derive it.
func isChannel(name string) bool {
	return slices.Contains(slices.Concat(drivelog.Channels()), name)
}
