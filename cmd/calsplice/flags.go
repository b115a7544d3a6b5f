package main

import (
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"calsplice/cmd/calsplice/manual"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// outputs are the extensions of -o, of the commands that write no documents.
var outputs = map[string][]string{"give": {".csv", ".tsv", ".txt", ""}, "report": {".html", ".json"},
	"events": {".html", ".json"}, "explain": {".html", ".json"}, "trace": {".html", ".svg", ".png"}}

// number says what the number of a flag can be, and in words.
type number struct {
	wanted string
	can    func(v float64) bool
}

// wrong is a value, as it was typed, that is no such number, and what was wanted; ""
// where it is one.
func (n number) wrong(value string) string {
	v, err := strconv.ParseFloat(value, 64)
	switch {
	case err != nil:
		return tables.Quote(value) + ", expected " + n.wanted
	case !n.can(v):
		return fmt.Sprintf("%v, expected %s", v, n.wanted)
	}
	return ""
}

// wrong is a value that a flag cannot have, and what was wanted; "" where it can.
func wrong(d manual.Declared, v string) string {
	if n, ok := numbers[d.Names[0]]; ok {
		return n.wrong(v)
	}
	if _, err := strconv.ParseBool(v); d.Value == "" && err != nil {
		return tables.Quote(v) + ", expected true or false"
	}
	return wrongChoice(d, v)
}

var (
	anyNumber = number{"a number", func(v float64) bool { return !math.IsNaN(v) }}
	count     = number{"a whole number", func(v float64) bool { return v == math.Trunc(v) && math.Abs(v) < 1e15 }}
	fromZero  = func(v float64) bool { return v >= 0 && finite(v) }
)

func atLeast(bound float64) number {
	return number{fmt.Sprintf("a number, %v or more", bound), func(v float64) bool { return v >= bound && finite(v) }}
}

func from(low, high float64, unit string) number {
	return number{fmt.Sprintf("%v to %v %s", low, high, unit), func(v float64) bool { return v >= low && v <= high }}
}

// numbers are the flags that are numbers.
var numbers = map[string]number{
	"above": {"a threshold", anyNumber.can}, "gain": anyNumber, "bound": anyNumber, "dead-band": anyNumber,
	"warm-at": {"a temperature in degC", finite}, "settle": {"seconds", fromZero}, "within": {"a number from 0", fromZero},
	"min-count": count, "min-visits": count,
	"max-age": atLeast(0), "gap": atLeast(0), "gauge-stoich": atLeast(1),
	"header-line": {"a line, counted from 1", func(v float64) bool { return v >= 1 && count.can(v) }}, "max-line": {"bytes, 1024 or more", func(v float64) bool { return v >= 1024 && count.can(v) }},
	"trim-limit": {"the size in % at which the controller stops a trim, 1 at least", func(v float64) bool { return v >= 1 }},
	// What no engine has is in another unit, such as bar, g/L, or a share for per cent.
	"rail-pressure": from(20, tables.MaxRailPressure, "kPa"), "pressure": from(20, tables.MaxRailPressure, "kPa"), "barometer": from(50, 115, "kPa"),
	"rated-density": from(0.5, 1.1, "kg/L"), "donor-density": from(0.5, 1.1, "kg/L"), "density": from(0.5, 1.1, "kg/L"),
	"voltage": from(3, 60, "V"), "idle-fuel": from(0.1, 1000, "mg"), "air-mass": from(10, 20_000, "mg"), "speed": from(100, 30_000, "r/min"),
	"lambda": from(0.4, 2, "(not an air/fuel ratio)"), "bsfc": from(100, 3000, "g/kWh"), "duty-limit": from(10, 100, "%"),
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// output says where and in which spelling documents and change sets go.
func (in *input) output() tablefile.Options {
	return tablefile.Options{Format: in.text("format"), Stdout: in.stdout}
}

// extension is the lower-case extension of -o, with its dot; "" where there is
// none.
func extension(out string) string { return strings.ToLower(filepath.Ext(out)) }
