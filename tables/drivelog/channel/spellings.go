package channel

import (
	"slices"
	"strings"
	"unicode"
)

// spelling is one way in which loggers name a channel: all its words must
// stand in the header, in any order, any of its also-words may, and no other:
// so "relative throttle position" is not the throttle. A lesser spelling
// serves only where no other column is the channel.
type spelling struct {
	channel string
	words   string
	also    string
	bank    bool // "Bank 1", "B1" or "1" may follow; 2 too where the channel has one
	lesser  bool
}

// spellings is the table to extend: SAE J1979 and J1930 terms and the trade's
// abbreviations, after the aliases below have been put in.
var spellings = []spelling{
	{channel: "time", words: "time", also: "elapsed log stamp offset date relative"},
	{channel: "time", words: "timestamp"},
	{channel: "time", words: "seconds", also: "elapsed time"},
	{channel: "time", words: "milliseconds", also: "elapsed time"},
	{channel: "time", words: "datetime"},
	{channel: "time", words: "t", lesser: true},
	{channel: "time", words: "engine run time", lesser: true},
	{channel: "time", words: "engine run tine", lesser: true},
	{channel: "time", words: "runtime", also: "engine", lesser: true},
	{channel: "time", words: "run time", lesser: true},
	{channel: "time", words: "time engine start since", lesser: true},

	{channel: "engine_speed", words: "engine speed", also: "rpm revolutions sensor"},
	{channel: "engine_speed", words: "rpm", also: "engine"},
	{channel: "engine_speed", words: "rpm x1000", also: "engine", lesser: true},
	{channel: "engine_speed", words: "engine speed x1000", also: "rpm", lesser: true},

	{channel: "manifold_pressure", words: "manifold pressure", also: "intake absolute map sensor"},
	{channel: "manifold_pressure", words: "map", also: "intake manifold absolute pressure sensor"},
	{channel: "barometric_pressure", words: "barometric", also: "pressure absolute sensor"},
	{channel: "barometric_pressure", words: "atmospheric pressure", also: "absolute"},

	{channel: "air_flow", words: "air flow", also: "mass rate sensor meter maf intake engine"},
	{channel: "air_flow", words: "maf", also: "mass air flow rate sensor intake"},
	{channel: "air_charge", words: "cylinder air", also: "mass charge per"},
	{channel: "air_charge", words: "air charge", also: "mass per cylinder"},

	{channel: "load", words: "load", also: "engine calculated value"},
	{channel: "load", words: "load absolute", also: "engine value", lesser: true},

	{channel: "throttle", words: "throttle", also: "position absolute tps sensor opening valve plate angle"},
	{channel: "throttle", words: "tps", also: "position sensor"},

	{channel: "coolant", words: "coolant temperature", also: "engine sensor ect water"},
	{channel: "coolant", words: "ect", also: "engine coolant temperature sensor"},
	{channel: "coolant", words: "coolant", also: "engine", lesser: true},
	{channel: "coolant", words: "water temperature", also: "engine", lesser: true},
	{channel: "intake_air", words: "intake temperature", also: "air sensor iat"},
	{channel: "intake_air", words: "iat", also: "intake air temperature sensor"},

	{channel: "battery", words: "battery", also: "voltage"},
	{channel: "battery", words: "module voltage", also: "control"},
	{channel: "battery", words: "system voltage", lesser: true},
	{channel: "battery", words: "supply voltage", lesser: true},
	{channel: "battery", words: "ecu voltage", lesser: true},

	{channel: "pulse_width", words: "pulse width", also: "injector fuel", bank: true},
	{channel: "pulse_width", words: "pw", also: "injector fuel", bank: true},
	{channel: "pulse_width", words: "injector duration", also: "pulse fuel", bank: true},
	{channel: "pulse_width", words: "injector time", also: "fuel on", bank: true, lesser: true},

	{channel: "short_trim", words: "short fuel trim", also: "term", bank: true},
	{channel: "short_trim", words: "short term trim", also: "fuel", bank: true},
	{channel: "short_trim", words: "short trim", also: "fuel", bank: true},
	{channel: "short_trim", words: "stft", also: "short term fuel trim", bank: true},
	{channel: "short_trim", words: "shrtft", bank: true},
	{channel: "long_trim", words: "long fuel trim", also: "term", bank: true},
	{channel: "long_trim", words: "long term trim", also: "fuel", bank: true},
	{channel: "long_trim", words: "long trim", also: "fuel", bank: true},
	{channel: "long_trim", words: "ltft", also: "long term fuel trim", bank: true},
	{channel: "long_trim", words: "longft", bank: true},

	{channel: "lambda_commanded", words: "commanded lambda", also: "value", bank: true},
	{channel: "lambda_commanded", words: "commanded afr", also: "lambda value", bank: true},
	{channel: "lambda_commanded", words: "commanded air fuel ratio", also: "afr", bank: true},
	{channel: "lambda_commanded", words: "commanded equivalence ratio", also: "fuel air lambda", bank: true},
	{channel: "lambda_commanded", words: "commanded equivalence", also: "fuel air lambda", bank: true},
	{channel: "lambda", words: "lambda", also: "measured actual wide band wideband range value o2 oxygen sensor", bank: true},
	{channel: "lambda", words: "afr", also: "measured actual wide band wideband lambda gauge value sensor", bank: true},
	{channel: "lambda", words: "air fuel ratio", also: "measured actual wide band wideband afr gauge lambda", bank: true},
	{channel: "lambda", words: "equivalence ratio", also: "wide range band wideband oxygen o2 sensor measured actual lambda fuel air", bank: true},

	{channel: "spark", words: "spark", also: "advance timing angle"},
	{channel: "spark", words: "ignition advance", also: "timing angle spark"},
	{channel: "spark", words: "ignition timing", also: "advance angle spark"},
	{channel: "spark", words: "ignition angle", also: "advance timing"},
	{channel: "spark", words: "timing advance", also: "angle cylinder 1"},
	{channel: "spark_blend", words: "spark blend", also: "factor ratio"},
	{channel: "knock_retard", words: "knock retard", also: "spark total timing angle kr"},
	{channel: "knock_retard", words: "kr", also: "total"},

	{channel: "fuel_status", words: "fuel status", also: "system", bank: true},
	{channel: "fuel_status", words: "fuel system", also: "status", bank: true, lesser: true},
	{channel: "fuel_status", words: "loop status", also: "fuel closed", lesser: true},

	{channel: "rail_pressure", words: "rail pressure", also: "fuel gauge"},
	{channel: "rail_pressure", words: "frp", also: "fuel rail pressure"},
	{channel: "rail_pressure", words: "fuel pressure", lesser: true},

	{channel: "purge", words: "purge", also: "commanded evaporative canister valve duty cycle solenoid"},
	{channel: "speed", words: "vehicle speed", also: "sensor"},
	{channel: "speed", words: "vss", also: "vehicle speed sensor"},
	{channel: "speed", words: "speed", lesser: true},
	{channel: "speed", words: "road speed", lesser: true},
	{channel: "gear", words: "gear", also: "current actual position number engaged"},
}

// aliases puts one word in place of its variants before headers are compared.
var aliases = map[string]string{
	"pos": "position", "temp": "temperature", "volts": "voltage", "volt": "voltage", "equiv": "equivalence",
	"cmd": "commanded", "cmded": "commanded", "target": "commanded", "desired": "commanded", "setpoint": "commanded", "command": "commanded",
	"ign": "ignition", "adv": "advance", "inj": "injector", "injection": "injector", "injectors": "injector",
	"baro": "barometric", "barometer": "barometric", "evap": "evaporative", "airflow": "air flow", "airmass": "air mass",
	"pulsewidth": "pulse width", "press": "pressure", "inlet": "intake", "cyl": "cylinder", "calc": "calculated",
	"abs": "absolute", "eng": "engine", "veh": "vehicle", "spd": "speed", "bat": "battery", "batt": "battery", "vbat": "battery",
	"vbatt": "battery", "sec": "seconds", "secs": "seconds", "ms": "milliseconds", "msec": "milliseconds", "revs": "rpm",
	"stftb": "stft b", "ltftb": "ltft b", "fueltrim": "fuel trim", "longterm": "long term", "shortterm": "short term", "timestamps": "timestamp",
	"percent": "", "the": "", "of": "", "from": "", "signal": "", "stfuel": "short fuel", "ltfuel": "long fuel",
	"enginespeed": "engine speed", "manifoldpressure": "manifold pressure", "throttleposition": "throttle position",
	"knockretard": "knock retard", "sparkadvance": "spark advance", "coolanttemp": "coolant temperature",
}

// WordsOf takes a header apart: at everything that is no letter or digit,
// between aCamel and Case, and between letters and digits; then the aliases.
func WordsOf(header string) []string {
	var words []string
	var cur []rune
	flush := func() {
		if len(cur) > 0 {
			w := strings.ToLower(string(cur))
			if a, ok := aliases[w]; ok {
				words = append(words, strings.Fields(a)...)
			} else {
				words = append(words, w)
			}
			cur = cur[:0]
		}
	}
	rs := []rune(header)
	for i, r := range rs {
		switch {
		case !unicode.IsLetter(r) && !unicode.IsDigit(r):
			flush()
			continue
		case i > 0 && len(cur) > 0:
			p := rs[i-1]
			camel := unicode.IsUpper(r) && (unicode.IsLower(p) || i+1 < len(rs) && unicode.IsUpper(p) && unicode.IsLower(rs[i+1]))
			if camel || unicode.IsDigit(r) != unicode.IsDigit(p) {
				flush()
			}
		}
		cur = append(cur, r)
	}
	flush()
	// The multiplier of a tachometer's dial is one word.
	for i := 0; i+1 < len(words); i++ {
		if words[i] == "x" && words[i+1] == "1000" {
			words = slices.Replace(words, i, i+2, "x1000")
		}
	}
	return words
}

// Recognise is the channel that a header without its unit names.
func Recognise(header string) (name string, lesser, ok bool) {
	if slices.ContainsFunc(Known, func(c Channel) bool { return c.Name == header }) {
		return header, false, true // the channel's own name
	}
	words := WordsOf(header)
	if len(words) == 0 {
		return "", false, false
	}
	// First with all words, since the 1 of "timing advance cylinder 1" is no bank.
	for _, bankless := range []bool{true, false} {
		bank, rest := 0, words
		if !bankless {
			if bank, rest = bankOf(words); bank == 0 {
				break
			}
		}
		for _, s := range spellings {
			if bank > 0 && !s.bank || !s.match(rest) {
				continue
			}
			switch s.channel {
			case "short_trim", "long_trim":
				if bank == 2 {
					return s.channel + "_2", s.lesser, true
				}
				return s.channel + "_1", s.lesser, true
			}
			if bank < 2 {
				return s.channel, s.lesser, true
			}
		}
	}
	return "", false, false
}

// match reports whether the words of a header are those of the spelling.
func (s *spelling) match(words []string) bool {
	need, also := strings.Fields(s.words), strings.Fields(s.also)
	for _, n := range need {
		if !slices.Contains(words, n) {
			return false
		}
	}
	for _, w := range words {
		if !slices.Contains(need, w) && !slices.Contains(also, w) {
			return false
		}
	}
	return true
}

// bankOf takes the words that name bank 1 or 2 (or the first sensor of a bank)
// out of a header; bank 0 is none.
func bankOf(words []string) (bank int, rest []string) {
	number := func(w string) int {
		switch w {
		case "1":
			return 1
		case "2":
			return 2
		}
		return 0
	}
	for i, w := range words {
		n := number(w)
		if n == 0 {
			continue
		}
		from := i
		if i > 0 && (words[i-1] == "bank" || words[i-1] == "b") {
			from--
		}
		rest = slices.Concat(words[:from], words[i+1:])
		return n, rest
	}
	return 0, words
}
