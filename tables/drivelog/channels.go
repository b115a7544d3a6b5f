package drivelog

import (
	"calsplice/tables/unit"
)

// channel is what the reader knows of a channel: its own unit ("" where it has
// none), the axis quantity that it measures, and whether its values in that unit
// never reach 1000.
type channel struct {
	name, unit, quantity string
	small                bool
}

const small, large = true, false

// known lists the channels in the order in which people are shown them.
var known = []channel{
	{"time", "s", "", large},
	{"engine_speed", "r/min", "engine speed", large},
	{"manifold_pressure", "kPa", "manifold pressure", small},
	{"barometric_pressure", "kPa", "", small},
	{"air_flow", "g/s", "air flow", large},
	{"air_charge", "mg", "air charge", large},
	{"load", "%", "load", small},
	{"throttle", "%", "", small},
	{"coolant", "degC", "", small},
	{"intake_air", "degC", "", small},
	{"battery", "V", "battery voltage", small},
	{"pulse_width", "ms", "", small},
	{"short_trim_1", "%", "", small},
	{"long_trim_1", "%", "", small},
	{"short_trim_2", "%", "", small},
	{"long_trim_2", "%", "", small},
	{"lambda_commanded", "lambda", "", small},
	{"lambda", "lambda", "", small},
	{"spark", "deg", "", small},
	{"knock_retard", "deg", "", small},
	{"fuel_status", "", "", large},
	{"rail_pressure", "kPa", "", large},
	{"purge", "%", "", small},
	{"spark_blend", "%", "", small},
	{"speed", "km/h", "", small},
	{"gear", "", "", small},
}

// derived lists what is computed from channels, with its unit and quantity.
var derivedChannels = []channel{
	{"trim", "%", "", large},
	{"trim_1", "%", "", large},
	{"trim_2", "%", "", large},
	{"differential_pressure", "kPa", "differential pressure", large},
	{"manifold_vacuum", "kPa", "manifold vacuum", large},
	{"effective_pulse", "ms", "effective pulse", large},
	{"duty", "%", "", large},
	{"mixture_error", "%", "", large},
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
