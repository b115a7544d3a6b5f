package drivelog

import (
	"math"
	"strings"
	"testing"
)

// TestClock: times are told and asked for as the log writes them: seconds that are counted,
// or the time of day, past midnight and in the zone that the log names.
func TestClock(t *testing.T) {
	for _, c := range []struct {
		first, next string
		t           float64 // of the second row
		told        string
		asked       map[string]float64
	}{
		{"1.5", "2.25", 2.25, "2.25 s", map[string]float64{"2.25": 2.25, "0:02": math.NaN()}},
		{"23:59:59", "00:00:00.5", 86400.5, "00:00:00.5", map[string]float64{"00:00:00.5": 86400.5, "23:59": 86340, "17:59:58": 64798 + 86400, "17:59:59": 64799, "86400.5": 86400.5}},
		{"10:00:00", "10:00:00.0625", 36000.0625, "10:00:00.063", map[string]float64{"10:00": 36000, "21:59:59": 79199, "03:59:59": 14399 + 86400, "04:00": 14400, "24:00:01": math.NaN(), "ten": math.NaN(), "NaN": math.NaN()}},
		{"1970-01-02 01:00:00+01:00", "1970-01-02 01:00:01+01:00", 86401, "01:00:01", map[string]float64{"01:00:01": 86401, "00:00": 86400 - 3600}},
		{"1970-01-01T23:00:00-02", "1970-01-01T23:00:01-02", 86400 + 3601, "23:00:01", map[string]float64{"23:00:01": 86400 + 3601}},
	} {
		log, err := Open("-", strings.NewReader("time,RPM\n"+c.first+",800\n"+c.next+",900\n"), Options{TimeFormat: map[bool]string{true: "s"}[c.t < 3]})
		if err != nil {
			t.Fatal(err)
		}
		clock := log.Clock()
		if got := clock.Text(c.t); got != c.told {
			t.Errorf("%s: %v is told as %s, want %s", c.first, c.t, got, c.told)
		}
		for text, want := range c.asked {
			got, err := clock.Read(text)
			if want != want && err == nil || want == want && (err != nil || got != want) {
				t.Errorf("%s: %s is %v (%v), want %v", c.first, text, got, err, want)
			}
		}
	}
	if c := (Clock{OfDay: true, first: 36000}); !c.OneDay(100799) || c.OneDay(100800) {
		t.Error("a day from six hours before 10:00 on is not what ends at 04:00")
	}
	if got := (Clock{OfDay: true}).Span(-0.5, 1); got != "23:59:59.5 to 00:00:01" {
		t.Error(got)
	}
	if got := (Clock{}).Span(-0.5, 1); got != "−0.5 to 1 s" {
		t.Error(got)
	}
}
