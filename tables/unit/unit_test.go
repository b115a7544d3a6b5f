package unit

import (
	"encoding/json"
	"math"
	"os"
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
	if Same("MPa", "mPa") {
		t.Error("MPa and mPa are the same unit")
	}
}
