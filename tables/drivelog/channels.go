package drivelog

import (
	"calsplice/tables/unit"
)

// channel is what the reader knows of a channel: its own unit ("" where it has
// none) and the axis quantity that it measures.
type channel struct {
	name, unit, quantity string
}

// known lists the channels in the order in which people are shown them.
var known = []channel{
	{"time", "s", ""},
	{"engine_speed", "r/min", "engine speed"},
	{"manifold_pressure", "kPa", "manifold pressure"},
	{"barometric_pressure", "kPa", ""},
	{"air_flow", "g/s", "air flow"},
	{"air_charge", "mg", "air charge"},
	{"load", "%", "load"},
	{"throttle", "%", ""},
	{"coolant", "degC", ""},
	{"intake_air", "degC", ""},
	{"battery", "V", "battery voltage"},
	{"pulse_width", "ms", ""},
	{"short_trim_1", "%", ""},
	{"long_trim_1", "%", ""},
	{"short_trim_2", "%", ""},
	{"long_trim_2", "%", ""},
	{"lambda_commanded", "lambda", ""},
	{"lambda", "lambda", ""},
	{"spark", "deg", ""},
	{"knock_retard", "deg", ""},
	{"fuel_status", "", ""},
	{"rail_pressure", "kPa", ""},
	{"purge", "%", ""},
	{"spark_blend", "%", ""},
	{"speed", "km/h", ""},
	{"gear", "", ""},
}

// derived lists what is computed from channels, with its unit and quantity.
var derivedChannels = []channel{
	{"trim", "%", ""},
	{"trim_1", "%", ""},
	{"trim_2", "%", ""},
	{"differential_pressure", "kPa", "differential pressure"},
	{"manifold_vacuum", "kPa", "manifold vacuum"},
	{"effective_pulse", "ms", "effective pulse"},
	{"duty", "%", ""},
	{"mixture_error", "%", ""},
}

func lookup(name string) (channel, bool) {
	for _, list := range [][]channel{known, derivedChannels} {
		for _, c := range list {
			if c.name == name {
				return c, true
			}
		}
	}
	return channel{}, false
}

// ChannelFor is the channel, logged or derived, that measures an axis
// quantity: "engine speed" is engine_speed.
func ChannelFor(quantity string) (name string, ok bool) {
	for _, list := range [][]channel{known, derivedChannels} {
		for _, c := range list {
			if c.quantity == quantity && quantity != "" {
				return c.name, true
			}
		}
	}
	return "", false
}

// ChannelUnit is the unit in which a channel's values are read, whatever the
// log's; "" for channels without a unit and for names that are not known.
func ChannelUnit(name string) string {
	c, _ := lookup(name)
	return c.unit
}

// Channels names the channels that headers are recognised as, in the order in
// which people are shown them, and then what is derived from them.
func Channels() (logged, derived []string) {
	for _, c := range known {
		logged = append(logged, c.name)
	}
	for _, c := range derivedChannels {
		derived = append(derived, c.name)
	}
	return logged, derived
}

// convert finds the conversion from the log's unit to the channel's own. It
// reports false where the unit is not known or does not measure the channel.
func (c channel) convert(from string) (unit.Conversion, bool) {
	same := unit.Conversion{Mul: 1, Div: 1}
	u, ok := unit.Parse(from)
	if !ok {
		return same, false
	}
	switch {
	case c.unit == "":
		return same, u.Dimension() == unit.Ratio
	case c.unit == "lambda":
		return same, u.Dimension() == unit.Lambda || u.Dimension() == unit.Ratio && u.Name() == "1"
	case c.name == "manifold_pressure" || c.name == "barometric_pressure":
		if u.Dimension() == unit.AbsolutePressure {
			own, _ := unit.Parse("kPa(a)")
			conv, err := unit.Between(u, own)
			return conv, err == nil
		}
	case c.name == "rail_pressure":
		for _, own := range []string{"kPa(a)", "kPa(g)"} {
			o, _ := unit.Parse(own)
			if conv, err := unit.Between(u, o); err == nil {
				return conv, true
			}
		}
	}
	own, _ := unit.Parse(c.unit)
	conv, err := unit.Between(u, own)
	return conv, err == nil
}
