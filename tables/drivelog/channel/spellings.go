package channel

import (
	"fmt"
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

// spellings is the table to extend: SAE J1979 and J1930 terms, after the aliases
// below have spelled out abbreviations and variants. Which of two spellings comes
// first makes no difference, but for the words of a lesser one.
var spellings = []spelling{
	{channel: "time", words: "time", also: "elapsed log stamp offset date relative"},
	{channel: "time", words: "seconds", also: "elapsed time"},
	{channel: "time", words: "milliseconds", also: "elapsed time"},
	{channel: "time", words: "t", lesser: true},
	{channel: "time", words: "run time", also: "engine", lesser: true},
	{channel: "time", words: "engine run tine", lesser: true},
	{channel: "time", words: "time engine start since", lesser: true},

	{channel: "engine_speed", words: "engine speed", also: "revolutions sensor"},
	{channel: "engine_speed", words: "engine speed x1000", lesser: true},

	{channel: "manifold_pressure", words: "manifold pressure", also: "intake absolute sensor"},
	{channel: "barometric_pressure", words: "barometric", also: "pressure absolute sensor"},
	{channel: "barometric_pressure", words: "atmospheric pressure", also: "absolute"},

	{channel: "air_flow", words: "air flow", also: "mass rate sensor meter intake engine"},
	{channel: "air_charge", words: "cylinder air", also: "mass charge per"},
	{channel: "air_charge", words: "air charge", also: "mass per cylinder"},

	{channel: "load", words: "load", also: "engine calculated value"},
	{channel: "load", words: "load absolute", also: "engine value", lesser: true},

	{channel: "throttle", words: "throttle", also: "position absolute sensor opening valve plate angle"},

	{channel: "coolant", words: "coolant temperature", also: "engine sensor water"},
	{channel: "coolant", words: "coolant", also: "engine", lesser: true},
	{channel: "coolant", words: "water temperature", also: "engine", lesser: true},
	{channel: "intake_air", words: "intake temperature", also: "air sensor"},

	{channel: "battery", words: "battery", also: "voltage"},
	{channel: "battery", words: "module voltage", also: "control"},
	{channel: "battery", words: "system voltage", lesser: true},
	{channel: "battery", words: "supply voltage", lesser: true},
	{channel: "battery", words: "ecu voltage", lesser: true},

	{channel: "pulse_width", words: "pulse width", also: "injector fuel", bank: true},
	{channel: "pulse_width", words: "injector duration", also: "pulse fuel", bank: true},
	{channel: "pulse_width", words: "injector time", also: "fuel on", bank: true, lesser: true},

	{channel: "short_trim", words: "short trim", also: "fuel term", bank: true},
	{channel: "long_trim", words: "long trim", also: "fuel term", bank: true},

	{channel: "lambda_commanded", words: "commanded lambda", also: "value", bank: true},
	{channel: "lambda_commanded", words: "commanded air fuel ratio", also: "lambda value", bank: true},
	{channel: "lambda_commanded", words: "commanded equivalence", also: "ratio fuel air lambda", bank: true},
	{channel: "lambda", words: "lambda", also: "measured actual wide band wideband range value o2 oxygen sensor", bank: true},
	{channel: "lambda", words: "air fuel ratio", also: "measured actual wide band wideband lambda gauge value sensor", bank: true},
	{channel: "lambda", words: "equivalence ratio", also: "wide range band wideband oxygen o2 sensor measured actual lambda fuel air", bank: true},

	{channel: "spark", words: "spark", also: "advance timing angle"},
	{channel: "spark", words: "ignition advance", also: "timing angle spark"},
	{channel: "spark", words: "ignition timing", also: "advance angle spark"},
	{channel: "spark", words: "ignition angle", also: "advance timing"},
	{channel: "spark", words: "timing advance", also: "angle cylinder 1"},
	{channel: "spark_blend", words: "spark blend", also: "factor ratio"},
	{channel: "knock_retard", words: "knock retard", also: "spark total timing angle"},

	{channel: "fuel_status", words: "fuel status", also: "system", bank: true},
	{channel: "fuel_status", words: "fuel system", bank: true, lesser: true},
	{channel: "fuel_status", words: "loop status", also: "fuel closed", lesser: true},

	{channel: "rail_pressure", words: "rail pressure", also: "fuel gauge"},
	{channel: "rail_pressure", words: "fuel pressure", lesser: true},

	{channel: "purge", words: "purge", also: "commanded evaporative canister valve duty cycle solenoid"},
	{channel: "speed", words: "vehicle speed", also: "sensor"},
	{channel: "speed", words: "speed", lesser: true},
	{channel: "speed", words: "road speed", lesser: true},
	{channel: "gear", words: "gear", also: "current actual position number engaged"},
}

// aliases puts words in place of an abbreviation or a variant before headers are
// compared, so that each spelling above is written once, in full.
var aliases = map[string]string{
	"rpm": "engine speed", "revs": "engine speed", "map": "manifold absolute pressure", "maf": "mass air flow", "tps": "throttle position sensor",
	"ect": "engine coolant temperature", "iat": "intake air temperature", "pw": "pulse width", "afr": "air fuel ratio", "kr": "knock retard",
	"frp": "fuel rail pressure", "vss": "vehicle speed sensor", "stft": "short term fuel trim", "ltft": "long term fuel trim",
	"stftb": "short term fuel trim b", "ltftb": "long term fuel trim b", "shrtft": "short fuel trim", "longft": "long fuel trim",
	"stfuel": "short fuel", "ltfuel": "long fuel", "fueltrim": "fuel trim", "longterm": "long term", "shortterm": "short term",
	"timestamp": "time stamp", "timestamps": "time stamp", "datetime": "date time", "runtime": "run time",
	"pos": "position", "temp": "temperature", "volts": "voltage", "volt": "voltage", "equiv": "equivalence",
	"cmd": "commanded", "cmded": "commanded", "target": "commanded", "desired": "commanded", "setpoint": "commanded", "command": "commanded",
	"ign": "ignition", "adv": "advance", "inj": "injector", "injection": "injector", "injectors": "injector",
	"baro": "barometric", "barometer": "barometric", "evap": "evaporative", "airflow": "air flow", "airmass": "air mass",
	"pulsewidth": "pulse width", "press": "pressure", "inlet": "intake", "cyl": "cylinder", "calc": "calculated",
	"abs": "absolute", "eng": "engine", "veh": "vehicle", "spd": "speed", "bat": "battery", "batt": "battery", "vbat": "battery",
	"vbatt": "battery", "sec": "seconds", "secs": "seconds", "ms": "milliseconds", "msec": "milliseconds",
	"percent": "", "the": "", "of": "", "from": "", "signal": "",
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
	// The longest reading first: a number may be part of a name, or a bank's.
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
			switch {
			case bank > 0 && !s.bank || !s.match(rest):
			case strings.HasSuffix(s.channel, "_trim"):
				return fmt.Sprintf("%s_%d", s.channel, max(bank, 1)), s.lesser, true
			case bank < 2:
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
	for i, w := range words {
		n := map[string]int{"1": 1, "2": 2}[w]
		if n == 0 {
			continue
		}
		from := i
		if i > 0 && (words[i-1] == "bank" || words[i-1] == "b") {
			from--
		}
		return n, slices.Concat(words[:from], words[i+1:])
	}
	return 0, words
}
