// Package drive is how those who judge a drive read its logs, so that each reads them
// the same way: the channels that they ask for, the values of an instant, the operating
// point that those make, and means over many.
//
// It judges nothing. Which instants count is for interp/cells/sift, what they add up
// to for the packages that cut a drive into stretches of their own: merge/cause into
// points of one place and ten seconds, merge/propose into blocks of a few seconds,
// merge/cause/knock into stays of a bin of the spark table. Each of them keeps no more
// than some ten thousand, however long the drive: the first two by [Join], the last by
// joining stays as they end.
package drive

import (
	"math"

	"calsplice/interp/lookup"
	"calsplice/tables/drivelog"
	"calsplice/tables/unit"
)

// Channel is one of the channels that a drive is judged by.
type Channel int

// The channels, those of the operating point first.
const (
	Speed Channel = iota
	Manifold
	Barometer
	Delta
	Battery
	Charge
	AirFlow
	Load
	Pulse
	Rail
	Trim
	Trim1
	Trim2
	Short1
	Short2
	Long1
	Commanded
	Lambda
	Mixture
	Status
	Spark
	Retard
	Blend
	Throttle
	Intake
	Coolant
	Gear
	Count // how many there are
)

var names = [Count]string{"engine_speed", "manifold_pressure", "barometric_pressure", "differential_pressure", "battery", "air_charge",
	"air_flow", "load", "pulse_width", "rail_pressure", "trim", "trim_1", "trim_2", "short_trim_1", "short_trim_2", "long_trim_1",
	"lambda_commanded", "lambda", "mixture_error", "fuel_status", "spark", "knock_retard", "spark_blend", "throttle", "intake_air",
	"coolant", "gear"}

// Name is the channel's name in a log.
func (k Channel) Name() string { return names[k] }

// Instant is the channels at one instant of a log, in the channels' units; NaN for one
// that is not asked for, that the log does not have, or that has no reading.
type Instant [Count]float64

// Nothing is an instant of which nothing is known.
func Nothing() (v Instant) {
	for k := range v {
		v[k] = math.NaN()
	}
	return v
}

// Point is the instant's operating point; without a barometer it stands at sea level.
func (v *Instant) Point() (p lookup.Point) {
	v.Place(&p)
	return p
}

// Place is Point in room that is given: for every row of a log it costs a third.
func (v *Instant) Place(p *lookup.Point) {
	p.Speed, p.Manifold, p.Barometer, p.Delta, p.Battery = v[Speed], v[Manifold], v[Barometer], v[Delta], v[Battery]
	p.Charge, p.AirFlow, p.Load, p.Pulse = v[Charge], v[AirFlow], v[Load], math.NaN()
	if p.Barometer != p.Barometer {
		p.Barometer = unit.Atmosphere
	}
}

// Columns are the channels that are asked of one log.
type Columns struct {
	Names []string  // of those that the log has, in the order of a frame's columns
	Asked []Channel // the same
	at    [Count]int
	frame *drivelog.Frame
	first int // of the instants that are laid out
	rows  [ahead]Instant

	unknown []float64
}

// ahead is how many instants are laid out at a time: the values of a channel follow one
// another in a frame, those of an instant in memory that is near.
const ahead = 32

// Ask asks a log for those of the channels that it has.
func Ask(has func(name string) bool, channels ...Channel) *Columns {
	c := &Columns{}
	for i := range c.rows {
		c.rows[i] = Nothing()
	}
	for k := range c.at {
		c.at[k] = -1
	}
	for _, k := range channels {
		if has(names[k]) {
			c.at[k] = len(c.Asked)
			c.Names, c.Asked = append(c.Names, names[k]), append(c.Asked, k)
		}
	}
	return c
}

// Has reports whether a channel is asked for.
func (c *Columns) Has(k Channel) bool { return c.at[k] >= 0 }

// Take takes a frame whose first columns are those asked for.
func (c *Columns) Take(f *drivelog.Frame) { c.frame, c.first = f, -ahead }

// Values are a channel over the frame; NaN for one that is not asked for, or that the log does
// not have.
func (c *Columns) Values(k Channel) []float64 {
	if c.Has(k) {
		return c.frame.Columns[c.at[k]].Value
	}
	for len(c.unknown) < c.frame.N {
		c.unknown = append(c.unknown, math.NaN())
	}
	return c.unknown[:c.frame.N]
}

// At is instant i of the frame. It is valid until the next call.
func (c *Columns) At(i int) *Instant {
	if k := i - c.first; k >= 0 && k < ahead {
		return &c.rows[k]
	}
	return c.layOut(i)
}

// layOut lays out the instants from i on, and is the first of them.
func (c *Columns) layOut(i int) *Instant {
	c.first = i
	rows := c.rows[:min(ahead, c.frame.N-i)]
	for column, k := range c.Asked {
		values := c.frame.Columns[column].Value[i : i+len(rows)]
		for j := range rows {
			rows[j][k] = values[j]
		}
	}
	return &c.rows[0]
}

// Fresh reports whether a channel was read anew at instant i of the frame.
func (c *Columns) Fresh(k Channel, i int) bool {
	return c.at[k] >= 0 && c.frame.Columns[c.at[k]].Fresh[i]
}

// Mean is a weighted mean that leaves out what is not known. The zero value is of
// nothing.
type Mean struct{ Sum, Weight float64 }

// Add takes a value that counts so much.
func (m *Mean) Add(v, weight float64) {
	if v == v {
		m.Sum += float64(v * weight)
		m.Weight += weight
	}
}

// AddAll takes those of the values that stand at some places, each as one.
func (m *Mean) AddAll(values []float64, at []int) {
	sum, weight := m.Sum, m.Weight // not in memory, where each sum would wait for the one before
	for _, i := range at {
		if v := values[i]; v == v {
			sum += v
			weight++
		}
	}
	m.Sum, m.Weight = sum, weight
}

// Join takes what another mean was given.
func (m *Mean) Join(o Mean) { m.Sum, m.Weight = m.Sum+o.Sum, m.Weight+o.Weight }

// Value is the mean; NaN of nothing.
func (m *Mean) Value() float64 { return m.Sum / m.Weight }

// Numbers numbers keys from 0 on in the order in which they are first met.
type Numbers[K comparable] map[K]int

// Of is a key's number.
func (n Numbers[K]) Of(key K) int {
	i, known := n[key]
	if !known {
		i = len(n)
		n[key] = i
	}
	return i
}

// Join makes one of the items of a list that have a key in common, each taken into the
// first of them, and is the list that is left, in the room of the one given; and for
// each item given, its place in what is left.
func Join[T any, K comparable](list []T, key func(*T) K, join func(into, one *T)) ([]T, []int) {
	number, to := make(Numbers[K], len(list)), make([]int, len(list))
	for i := range list {
		n := len(number)
		at := number.Of(key(&list[i]))
		if at < n {
			join(&list[at], &list[i])
		} else {
			list[at] = list[i]
		}
		to[i] = at
	}
	return list[:len(number)], to
}

// Sum, AddScaled, Spread and Log do what a library's would, in one order and without
// products fused into sums, so that every processor gives the same bits.

// Sum is the sum of a list.
func Sum(list []float64) float64 {
	sum := 0.0
	for _, v := range list {
		sum += v
	}
	return sum
}

// AddScaled adds so many times a column to another of the same length.
func AddScaled(to []float64, times float64, column []float64) {
	for i, v := range column {
		to[i] += float64(times * v)
	}
}

// Spread is the mean of a list and its standard deviation, of which one value has none.
func Spread(list []float64) (mean, deviation float64) {
	mean = Sum(list) / float64(len(list))
	square := 0.0
	for _, v := range list {
		square += float64((v - mean) * (v - mean))
	}
	return mean, math.Sqrt(square / float64(len(list)-1))
}

// Log is the natural logarithm to twelve decimals: processors differ in its last bit.
func Log(v float64) float64 { return math.Round(math.Log(v)*1e12) / 1e12 }
