package channel

import "calsplice/tables/unit"

// Channel is what the reader knows of a channel: its own unit ("" where it has
// none), the axis quantity that it measures, and whether its values in that unit
// never reach 1000.
type Channel struct {
	Name, unit, quantity string
	small                bool
}

const small, large = true, false

// Known lists the channels in the order in which people are shown them.
var Known = []Channel{
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
var DerivedChannels = []Channel{
	{"trim", "%", "", large},
	{"trim_1", "%", "", large},
	{"trim_2", "%", "", large},
	{"differential_pressure", "kPa", "differential pressure", large},
	{"manifold_vacuum", "kPa", "manifold vacuum", large},
	{"effective_pulse", "ms", "effective pulse", large},
	{"duty", "%", "", large},
	{"mixture_error", "%", "", large},
}

// find is the first channel of which is holds.
func find(is func(c *Channel) bool) (Channel, bool) {
	for _, list := range [][]Channel{Known, DerivedChannels} {
		for i := range list {
			if is(&list[i]) {
				return list[i], true
			}
		}
	}
	return Channel{}, false
}

// Lookup is the channel of a name, logged or derived.
func Lookup(name string) (Channel, bool) {
	return find(func(c *Channel) bool { return c.Name == name })
}

// For is the channel, logged or derived, that measures an axis
// quantity: "engine speed" is engine_speed.
func For(quantity string) (name string, ok bool) {
	c, ok := find(func(c *Channel) bool { return c.quantity == quantity && quantity != "" })
	return c.Name, ok
}

// UnitOf is the unit in which a channel's values are read, whatever the
// log's; "" for channels without a unit and for names that are not known.
func UnitOf(name string) string {
	c, _ := Lookup(name)
	return c.unit
}

// Names lists the channels that headers are recognised as, in the order in
// which people are shown them, and then what is derived from them.
func Names() (logged, derived []string) {
	for _, c := range Known {
		logged = append(logged, c.Name)
	}
	for _, c := range DerivedChannels {
		derived = append(derived, c.Name)
	}
	return logged, derived
}

// convert finds the conversion from the log's unit to the channel's own. It
// reports false where the unit is not known or does not measure the channel.
func (c Channel) convert(from string) (unit.Conversion, bool) {
	u, ok := unit.Parse(from)
	switch {
	case !ok:
		return AsWritten, false
	case c.unit == "":
		return AsWritten, u.Dimension() == unit.Ratio
	case c.unit == "lambda":
		return AsWritten, u.Dimension() == unit.Lambda || u.Dimension() == unit.Ratio && u.Name() == "1"
	}
	// A unit that says against what it is measured fits only its own kind.
	for _, own := range c.units() {
		o, _ := unit.Parse(own)
		if conv, err := unit.Between(u, o); err == nil {
			return conv, true
		}
	}
	return AsWritten, false
}

// units are the channel's own unit and, of a pressure, the same one with what it
// is measured against.
func (c Channel) units() []string {
	switch c.Name {
	case "manifold_pressure", "barometric_pressure":
		return []string{"kPa(a)", "kPa"}
	case "rail_pressure":
		return []string{"kPa(a)", "kPa(g)", "kPa"}
	}
	return []string{c.unit}
}
