package dialect

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"calsplice/tables"
)

// FuzzNumber: numbers are read as strconv reads them, to the bit, and nothing but
// plain decimals is one.
func FuzzNumber(f *testing.F) {
	for _, s := range []string{"0", "-0", "1.5", "14.8500003815", "1e3", "-.5", "5.", ".", "", "123456789012345678", "0x1F", "1_000", "+7",
		"9007199254740993", "2.2250738585072014e-308", "1e999", "--1", "1.2.3", "12345678", "1234567.", "-1234.567", "1e+", "1e1_0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		want, err := tables.ParseValue(s)
		if err != nil && strings.Contains(err.Error(), "would be read as") {
			want, err = strconv.ParseFloat(s, 64) // what a document refuses may be a reading
		}
		if strings.ContainsAny(s, "+-") && err == nil {
			if _, e := strconv.ParseFloat(s, 64); e != nil {
				err = e
			}
		}
		got, ok := Number([]byte(s), '.')
		if len(s) < 400 && (ok != (err == nil) || ok && math.Float64bits(got) != math.Float64bits(want)) {
			t.Errorf("number(%q) is %v %v, want %v %v", s, got, ok, want, err)
		}
	})
}
