package unit

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"
)

// TestPublishedFactors checks every factor and worked value of
// testdata/reference/constants.json, which quotes NIST SP 811 appendix B.8 and
// the exact definitions behind it.
func TestPublishedFactors(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/reference/constants.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Conversions []struct{ From, To, Factor, Offset string }
		Checks      []struct {
			From, To, In, Out string
			Density           string `json:"density_g_per_mL"`
		}
		UCUM map[string]string
	}
	if err := json.Unmarshal(raw, &ref); err != nil {
		t.Fatal(err)
	}
	if len(ref.Conversions) < 15 || len(ref.Checks) < 5 || len(ref.UCUM) < 15 {
		t.Fatalf("reference has %d conversions, %d checks, %d codes", len(ref.Conversions), len(ref.Checks), len(ref.UCUM))
	}
	for _, c := range ref.Conversions {
		near(t, c.From+" to "+c.To, 1, c.From, c.To, number(t, c.Factor)+number(t, c.Offset), 0)
	}
	for _, c := range ref.Checks {
		near(t, c.In+" "+c.From+" to "+c.To, number(t, c.In), c.From, c.To, number(t, c.Out), number(t, c.Density))
	}
	for ours, code := range ref.UCUM {
		switch ours {
		case "inHg", "lambda": // UCUM's own inch of mercury; UCUM writes lambda as a bare 1
			continue
		}
		if !Same(ours, code) {
			t.Errorf("%s and its UCUM code %s are not the same unit", ours, code)
		}
	}
}

func number(t *testing.T, s string) float64 {
	if s == "" {
		return 0
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func near(t *testing.T, what string, v float64, from, to string, want, density float64) {
	t.Helper()
	a, oka := Parse(spelled(from))
	b, okb := Parse(spelled(to))
	if !oka || !okb {
		t.Errorf("%s: not known", what)
		return
	}
	c, err := Flow(a, b, density)
	if err != nil {
		t.Errorf("%s: %v", what, err)
		return
	}
	// The reference gives 15 significant digits, gallons 9.
	tol := 1e-14
	if from == "gal(US)/h" {
		tol = 1e-9
	}
	if got := c.Apply(v); math.Abs(got-want) > tol*math.Max(1, math.Abs(want)) {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

func spelled(s string) string {
	switch s {
	case "gal(US)":
		return "gal"
	case "gal(US)/h":
		return "gal/h"
	}
	return s
}

func TestKeptApart(t *testing.T) {
	for _, c := range []struct{ from, to, why string }{
		{"psi(g)", "kPa", "a gauge pressure is not a plain one"},
		{"psia", "psig", "the barometer stands between them"},
		{"lb/h", "cc/min", "mass to volume flow needs a density"},
		{"AFR", "lambda", "needs a stoichiometric ratio"},
		{"furlong", "km", "not known"},
		{"mPa", "kPa", "a milli-pascal is not a megapascal"},
	} {
		if v, err := Convert(1, c.from, c.to); err == nil {
			t.Errorf("%s to %s gave %v: %s", c.from, c.to, v, c.why)
		}
	}
}

func TestSpellings(t *testing.T) {
	for _, c := range []struct{ a, b string }{
		{"lb/hr", "[lb_av]/h"}, {"cc/min", "mL/min"}, {"RPM", "r/min"}, {"DegC", "°C"}, {"℉", "degF"},
		{"g/sec", "g/s"}, {"µs", "us"}, {" PSI ", "psi"}, {"KPA", "kPa"}, {"mg/{stroke}", "mg"}, {"MPH", "mile/h"},
	} {
		if !Same(c.a, c.b) {
			t.Errorf("%q and %q are not the same unit", c.a, c.b)
		}
	}
}

// published are base units in one of each unit, as NIST SP 811, appendix B.8,
// prints them (to seven digits), or as the unit is defined.
var published = map[string]float64{
	"kPa": 1, "Pa": 0.001, "hPa": 0.1, "MPa": 1000, "bar": 100, "mbar": 0.1, "atm": 101.325, "psi": 6.894757, "inHg": 3.386389, "[in_i'Hg]": 3.386379,
	"mmHg": 0.1333224, "mm[Hg]": 0.133322, "kPa(g)": 1, "bar(g)": 100, "psi(g)": 6.894757, "kPa(a)": 1, "bar(a)": 100, "psi(a)": 6.894757,
	"g/s": 1, "mg/ms": 1, "kg/h": 0.2777778, "kg/s": 1000, "g/min": 0.01666667, "lb/h": 0.1259979, "lb/min": 7.559873,
	"mL/min": 1, "L/h": 16.66667, "L/min": 1000, "mL/s": 60, "gal/h": 63.09020,
	"mg": 1, "g": 1000, "kg": 1e6, "lb": 453592.4, "L": 1, "mL": 0.001, "gal": 3.785412, "in3": 0.01638706,
	"kg/L": 1, "kg/m3": 0.001, "lb/gal": 0.1198264, "ms": 1, "us": 0.001, "s": 1000, "min": 60000, "h": 3600000,
	"V": 1, "mV": 0.001, "mA": 1, "A": 1000, "r/min": 1, "krpm": 1000, "km/h": 1, "mile/h": 1.609344, "m/s": 3.6, "kn": 1.852,
	"km": 1, "m": 0.001, "mile": 1.609344, "deg": 1, "%": 0.01, "1": 1, "lambda": 1, "AFR": 1,
	"kW": 1, "W": 0.001, "hp": 0.7456999, "N m": 1, "lbf ft": 1.355818, "Hz": 1, "kHz": 1000,
}

// TestEveryUnit holds each unit's ratio to its published factor; a unit without
// one has no place here.
func TestEveryUnit(t *testing.T) {
	base := map[Dimension]string{}
	for _, d := range definitions {
		if base[d.dim] == "" && d.ratio == "1" {
			base[d.dim] = d.name
		}
	}
	for _, d := range definitions {
		if d.dim == Temperature {
			continue // they have zeros of their own: see below
		}
		want, ok := published[d.name]
		if !ok {
			t.Errorf("%s has no published factor", d.name)
			continue
		}
		to := base[d.dim]
		if d.dim == Ratio {
			to = "1"
		}
		if got, err := Convert(1, d.name, to); err != nil || math.Abs(got/want-1) > 5e-7 {
			t.Errorf("1 %s is %v %s, published is %v (%v)", d.name, got, to, want, err)
		}
	}
	for _, c := range []struct {
		v    float64
		unit string
		want float64
	}{{212, "degF", 100}, {32, "degF", 0}, {0, "K", -273.15}, {300, "K", 26.85}, {-40, "degC", -40}} {
		if got, err := Convert(c.v, c.unit, "degC"); err != nil || math.Abs(got-c.want) > 1e-12*300 {
			t.Errorf("%v %s is %v degC, want %v (%v)", c.v, c.unit, got, c.want, err)
		}
	}
}

// TestSame: a unit is another where every number is the same in both.
func TestSame(t *testing.T) {
	for _, c := range []struct {
		a, b string
		same bool
	}{
		{"furlong", "furlong", true},  // not known, and the same text
		{"furlong", "ms", false},      // one known
		{"ms", "furlong", false},      // the other
		{"furlong", "fathom", false},  // neither
		{"MPa", "mPa", false},         // a prefix apart
		{"ms", "us", false},           // one dimension, another size
		{"kPa", "kPa (abs)", false},   // one size, another dimension
		{"degC", "K", false},          // one size of a degree, another zero
		{"degF", "degF", true},        // both with a zero of their own
		{"degC", "degF", false},       // another size and another zero
		{"1", "lambda", false},        // a share is no lambda
		{" r / min", "r/min", false},  // blanks inside a unit are not of its spelling
		{"  r/min  ", " r/min", true}, // around it they are
	} {
		if got := Same(c.a, c.b); got != c.same {
			t.Errorf("%q and %q: %v", c.a, c.b, got)
		}
	}
}

// TestFits: an axis takes the units that its quantity can have; what is not
// known fits anything.
func TestFits(t *testing.T) {
	for _, c := range []struct {
		quantity, unit string
		fits           bool
	}{
		{"engine speed", "rpm", true}, {"engine speed", "kPa", false}, {"engine speed", "wheels", true}, {"mood", "kPa", true},
		{"manifold vacuum", "inHg", true}, {"air flow", "g/s", true}, {"air flow", "mL/min", false}, {"load", "%", true},
	} {
		if got := Fits(c.quantity, c.unit); got != c.fits {
			t.Errorf("%s in %s: %v", c.quantity, c.unit, got)
		}
	}
}

// TestIdentity: a conversion that leaves numbers alone neither scales nor
// shifts them.
func TestIdentity(t *testing.T) {
	for _, c := range []struct {
		from, to string
		identity bool
	}{{"rpm", "r/min", true}, {"ms", "us", false}, {"degC", "K", false}, {"degC", "°C", true}, {"degC", "degF", false}, {"furlong", "furlong", true}} {
		conv, err := Find(c.from, c.to)
		if err != nil || conv.Identity() != c.identity {
			t.Errorf("%s to %s: %+v, %v", c.from, c.to, conv, err)
		}
	}
}

// TestDimensions: every unit is listed once, under one of the dimensions.
func TestDimensions(t *testing.T) {
	names := 0
	seen := map[Dimension]bool{}
	for _, d := range Dimensions() {
		if seen[d] || len(Names(d)) == 0 {
			t.Errorf("%s is listed twice or has no unit", d)
		}
		seen[d] = true
		names += len(Names(d))
	}
	if names != len(definitions) {
		t.Errorf("%d of %d units are listed", names, len(definitions))
	}
	if got := Names(Temperature); !slices.Equal(got, []string{"degC", "degF", "K"}) {
		t.Errorf("temperatures are %v", got)
	}
}
