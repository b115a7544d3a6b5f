package unit

import (
	"math/big"
	"strings"
	"sync"
)

// definitions holds every unit: the spelling that is printed, the dimension,
// its ratio to the base unit as a product of exact numbers, and the other
// spellings that are read. UCUM codes stand last in each list. To add a unit,
// add a line.
//
// Exact ratios: pound 0.45359237 kg, inch 25.4 mm, standard gravity 9.80665
// m/s², US gallon 231 in³, mile 1609.344 m (NIST SP 811, appendix B.8). The
// trade's inch of mercury is the conventional one (13 595.1 kg/m³); UCUM's
// [in_i'Hg] is 3 parts in a million smaller, and kept apart.
var definitions = []struct {
	name  string
	dim   Dimension
	ratio string // fraction a/b or product a*b/c*… of decimals, read left to right; of a temperature, " from " its zero
	also  string // separated by "|"
}{
	{"kPa", Pressure, "1", "kpa"},
	{"Pa", Pressure, "0.001", ""},
	{"hPa", Pressure, "0.1", ""},
	{"MPa", Pressure, "1000", ""},
	{"bar", Pressure, "100", "bars"},
	{"mbar", Pressure, "0.1", "millibar"},
	{"atm", Pressure, "101.325", ""},
	{"psi", Pressure, psi, "lbf/in2|lb/in2|lbf/in^2|psid|[psi]"},
	{"inHg", Pressure, inHg, "in Hg|in. Hg|inches Hg|in-Hg|\"Hg"},
	{"[in_i'Hg]", Pressure, "133.322*25.4/1000", ""},
	{"mmHg", Pressure, "133.322387415/1000", "mm Hg|Torr"},
	{"mm[Hg]", Pressure, "133.322/1000", ""},
	{"kPa(g)", GaugePressure, "1", "kPag|kPa g|kPa gauge|kPa (gauge)"},
	{"bar(g)", GaugePressure, "100", "barg|bar g|bar gauge|bar (gauge)"},
	{"psi(g)", GaugePressure, psi, "psig|psi g|psi gauge|psi (gauge)"},
	{"kPa(a)", AbsolutePressure, "1", "kPaa|kPa a|kPa abs|kPa absolute|kPa (abs)|kPa (absolute)"},
	{"bar(a)", AbsolutePressure, "100", "bara|bar a|bar abs|bar absolute|bar (abs)"},
	{"psi(a)", AbsolutePressure, psi, "psia|psi a|psi abs|psi absolute|psi (abs)"},

	{"g/s", MassFlow, "1", "g/sec|gm/s|gm/sec|gps|g s-1|grams/s|grams/sec"},
	{"mg/ms", MassFlow, "1", ""},
	{"kg/h", MassFlow, "1000/3600", "kg/hr|kg/hour|kgph"},
	{"kg/s", MassFlow, "1000", ""},
	{"g/min", MassFlow, "1/60", ""},
	{"lb/h", MassFlow, "453.59237/3600", "lb/hr|lbs/hr|lbs/h|lb/hour|pph|lbm/h|lbm/hr|[lb_av]/h"},
	{"lb/min", MassFlow, "453.59237/60", "lbs/min|lbm/min|ppm|[lb_av]/min"},
	{"mL/min", VolumeFlow, "1", "ml/min|cc/min|ccm|cc/m|cm3/min|cm^3/min"},
	{"L/h", VolumeFlow, "1000/60", "l/h|L/hr|l/hr|L/hour|lph"},
	{"L/min", VolumeFlow, "1000", "l/min|lpm"},
	{"mL/s", VolumeFlow, "60", "cc/s|cm3/s|ml/s"},
	{"gal/h", VolumeFlow, "3785.411784/60", "gph|gal/hr|US gal/h|[gal_us]/h"},

	{"mg", Mass, "1", "mg/stroke|mg/str|mg/cyl|mg/cylinder|mg/cycle|mg/event|mg/{stroke}"},
	{"g", Mass, "1000", "g/stroke|g/cyl|g/cylinder|g/cycle|gram|grams|g/{stroke}"},
	{"kg", Mass, "1000000", ""},
	{"lb", Mass, "453592.37", "lbs|lbm|[lb_av]"},
	{"L", Volume, "1", "l|litre|liter|litres|liters|dm3"},
	{"mL", Volume, "0.001", "ml|cc|cm3|cm^3|ccm3"},
	{"gal", Volume, "3.785411784", "US gal|[gal_us]"},
	{"in3", Volume, "0.016387064", "cu in|cubic inch|cid|[cin_i]"},
	{"kg/L", Density, "1", "kg/l|g/mL|g/ml|g/cc|g/cm3|g/cm^3|kg/dm3"},
	{"kg/m3", Density, "0.001", "kg/m^3|g/L|g/l"},
	{"lb/gal", Density, "0.45359237/3.785411784", "[lb_av]/[gal_us]"},

	{"ms", Time, "1", "msec|msecs|millisecond|milliseconds"},
	{"us", Time, "0.001", "usec|microsecond|microseconds"},
	{"s", Time, "1000", "sec|secs|second|seconds"},
	{"min", Time, "60000", "minute|minutes"},
	{"h", Time, "3600000", "hr|hour|hours"},
	{"V", Voltage, "1", "volt|volts|vdc"},
	{"mV", Voltage, "0.001", "millivolt|millivolts"},
	{"mA", Current, "1", "milliampere"},
	{"A", Current, "1000", "amp|amps|ampere"},

	{"r/min", Rotation, "1", "rpm|rev/min|revs/min|1/min|/min|min-1|min^-1|{rev}/min|circ/min"},
	{"krpm", Rotation, "1000", "rpm x1000|x1000 rpm|1000 rpm|rpm*1000"},
	{"km/h", Speed, "1", "kmh|kph|km/hr|kmph"},
	{"mile/h", Speed, "1.609344", "mph|mi/h|miles/h|miles/hour|[mi_i]/h"},
	{"m/s", Speed, "3.6", ""},
	{"kn", Speed, "1.852", "knot|knots|kt|kts|[kn_i]"},
	{"km", Distance, "1", "kilometre|kilometer"},
	{"m", Distance, "0.001", "metre|meter"},
	{"mile", Distance, "1.609344", "miles|mi|[mi_i]"},

	{"degC", Temperature, "1 from 0", "°C|deg C|C|Cel|celsius|degrees C|degree C|Deg. C"},
	{"degF", Temperature, "5/9 from 32", "°F|deg F|F|[degF]|fahrenheit|degrees F|degree F|Deg. F"},
	{"K", Temperature, "1 from 273.15", "kelvin"},
	{"deg", Angle, "1", "°|degree|degrees|degs|deg btdc|°btdc|° btdc|degrees btdc|deg crank|°ca|° ca|deg ca|° crank"},
	{"%", Ratio, "1/100", "percent|pct|per cent"},
	{"1", Ratio, "1", "ratio|factor"},
	{"lambda", Lambda, "1", "λ|lam"},
	{"AFR", AirFuelRatio, "1", "afr|:1|a/f|air/fuel"},
	{"kW", Power, "1", ""},
	{"W", Power, "0.001", "watt|watts"},
	{"hp", Power, "745.69987158227022/1000", "bhp|[hp]|[HP]"},
	{"N m", Torque, "1", "Nm|N.m|N-m|N*m"},
	{"lbf ft", Torque, "0.45359237*9.80665*0.3048", "lb-ft|lb ft|ft-lb|ft lb|lbf.ft|ft lbf|[lbf_av].[ft_i]"},
	{"Hz", Frequency, "1", "1/s"},
	{"kHz", Frequency, "1000", ""},
}

const (
	psi  = "0.45359237*9.80665/0.0254/0.0254/1000"
	inHg = "13595.1*9.80665*25.4/1000000" // ρ·g·25.4 mm, in kPa
)

// spellings are the units by each spelling that is read, and by the same in
// small letters. They are made when the first unit is read.
var spellings = sync.OnceValues(func() (exact, lower map[string]Unit) {
	exact, lower = map[string]Unit{}, map[string]Unit{}
	add := func(u Unit, also string) {
		names := []string{u.name}
		if also != "" {
			names = append(names, strings.Split(also, "|")...)
		}
		for _, n := range names {
			if _, ok := exact[n]; ok {
				panic("unit: two units are spelled " + n)
			}
			exact[n] = u
		}
		for _, n := range names {
			// Where case tells units apart (MPa, mA and A), the first keeps the
			// careless spelling only if no other claims it.
			l := strings.ToLower(n)
			if was, ok := lower[l]; ok && was.name != u.name {
				lower[l] = Unit{}
				continue
			}
			lower[l] = u
		}
	}
	for _, d := range definitions {
		ratio, zero, _ := strings.Cut(d.ratio, " from ")
		add(Unit{name: d.name, dim: d.dim, ratio: ratio, zero: zero}, d.also)
	}
	for l, u := range lower {
		if u.dim == "" {
			delete(lower, l)
		}
	}
	return exact, lower
})

// product reads "a*b/c" as an exact fraction, from left to right.
func product(s string) *big.Rat {
	r := big.NewRat(1, 1)
	for factor := range strings.SplitSeq(s, "*") {
		for i, number := range strings.Split(factor, "/") {
			f, ok := new(big.Rat).SetString(number)
			if !ok {
				panic("unit: " + s)
			}
			if i > 0 {
				f.Inv(f)
			}
			r.Mul(r, f)
		}
	}
	return r
}
