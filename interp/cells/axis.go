package cells

import (
	"fmt"
	"math"
	"slices"
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

// TableAxis finds the channel for a calibration's axis, by its quantity.
func TableAxis(a *tables.Axis) (*Axis, error) {
	if a == nil {
		return nil, nil
	}
	channel := channelOf(a.Quantity())
	if !isChannel(channel) {
		return nil, fmt.Errorf("no channel of a drive log goes along an axis of %s: give --x and --y", tables.Quote(a.Quantity()))
	}
	return &Axis{channel, a}, nil
}

// ruler places readings of a channel among breakpoints.
type ruler struct {
	points     []float64 // in the channel's own unit
	half       []float64 // half[i] and above belongs to breakpoint i+1, below to i
	low, scale float64
	marks      [marks]int16 // the breakpoint of each equal part, -1 where it may hold a half
}

// marks are the equal parts of a ruler, from below its first breakpoint to above
// its last: so many that few of them hold a half.
const marks = 4096

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
	r.mark()
	return r, nil
}

func (r *ruler) mark() {
	n := len(r.points)
	if n == 1 {
		return // scale 0: every value is in part 0
	}
	r.low = r.points[0] - (r.points[1] - r.points[0])
	r.scale = marks / (2*r.points[n-1] - r.points[n-2] - r.low)
	known := r.scale > 0 && !math.IsInf(r.low, 0) // the axis is not as wide as doubles are
	for k := range r.marks {
		// A half part on either side, since which part a value is in is rounded.
		from, to := r.nearest(r.low+(float64(k)-0.5)/r.scale), r.nearest(r.low+(float64(k)+1.5)/r.scale)
		if r.marks[k] = -1; known && from == to && to <= math.MaxInt16 {
			r.marks[k] = int16(to)
		}
	}
}

// index is the breakpoint nearest to v, halfway the higher one.
func (r *ruler) index(v float64) int {
	if part := int((v - r.low) * r.scale); uint(part) < marks { // of a huge ruler no number
		if at := r.marks[part]; at >= 0 {
			return int(at)
		}
	}
	return r.nearest(v)
}

// nearest is index, looked for from the first breakpoint.
func (r *ruler) nearest(v float64) int {
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

// TableAxes finds the channels for the axes of a calibration's table.
func TableAxes(doc *tables.Calibration, id string) (x, y *Axis, err error) {
	t := doc.Table(id)
	if t == nil {
		return nil, nil, fmt.Errorf("has no table %s", tables.Quote(id))
	}
	if t.X() == nil {
		return nil, nil, fmt.Errorf("table %s is a scalar: it has no axes to gather samples along", id)
	}
	if x, err = TableAxis(t.X()); err == nil {
		y, err = TableAxis(t.Y())
	}
	return x, y, tables.In("", 0, 0, "table "+id, err)
}

// ParseAxis reads an axis as people write one: "engine_speed: 600,800,1200" in
// the channel's own unit, or "engine speed [rpm]: …" in another.
func ParseAxis(s string) (*Axis, error) {
	head, list, ok := strings.Cut(s, ":")
	if !ok {
		return nil, fmt.Errorf("%s has no ':', want 'CHANNEL: V,V,…'", tables.Quote(s))
	}
	name, u := strings.TrimSpace(head), ""
	if open := strings.IndexByte(name, '['); open >= 0 && strings.HasSuffix(name, "]") {
		name, u = strings.TrimSpace(name[:open]), strings.TrimSpace(name[open+1:len(name)-1])
	}
	if name == "" {
		return nil, fmt.Errorf("%s names no channel, want 'CHANNEL: V,V,…'", tables.Quote(s))
	}
	channel := channelOf(name)
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

// channelOf is the channel that a quantity or a channel's name means.
func channelOf(name string) string {
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

func isChannel(name string) bool {
	logged, derived := drivelog.Channels()
	return slices.Contains(logged, name) || slices.Contains(derived, name)
}
