package drivelog

import (
	"fmt"
	"strings"
	"testing"

	"calsplice/tables"
)

// TestRailReference: what a logged rail pressure is measured against is what its
// own unit says, else what the calibration says, else the atmosphere. At 40 kPa
// in the manifold under 100 kPa of atmosphere, 300 kPa of rail leave:
func TestRailReference(t *testing.T) {
	for _, c := range []struct {
		unit    string
		against tables.Reference // of the calibration; "" for none
		want    float64
		said    bool // that a gauge is assumed
	}{
		{"kPa", "", 300 + 100 - 40, true},
		{"kPa", tables.Atmosphere, 300 + 100 - 40, false},
		{"kPa", tables.Absolute, 300 - 40, false},
		{"kPa", tables.Manifold, 300, false},
		{"kPa(g)", "", 300 + 100 - 40, true},
		{"kPa(g)", tables.Absolute, 300 + 100 - 40, false},
		{"kPa(g)", tables.Manifold, 300, false},
		{"kPa(a)", "", 300 - 40, false},
		{"kPa(a)", tables.Atmosphere, 300 - 40, false},
		{"kPa(a)", tables.Manifold, 300 - 40, false},
	} {
		opt := Options{}
		if c.against != "" {
			opt.Engine = &tables.Engine{RailPressure: &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: c.against}}
		}
		got, r, err := tryScan(fmt.Sprintf("Time (s),MAP (kPa),Barometric pressure (kPa),\"Fuel rail pressure (%s)\"\n0,40,100,300\n1,40,100,300\n", c.unit), opt, "differential_pressure")
		if err != nil || !strings.HasPrefix(got, fmt.Sprintf("2 0 %g*\n", c.want)) {
			t.Errorf("%s under %q: %s %v, want %v", c.unit, c.against, got, err, c.want)
			continue
		}
		if said := strings.Contains(strings.Join(r.Notes, "\n"), "rail_pressure is taken as a gauge pressure"); said != c.said {
			t.Errorf("%s under %q: %q", c.unit, c.against, r.Notes)
		}
	}
}

// TestMidnight: a clock of day goes on at midnight; a gap there is one, and a
// step back at noon is no midnight.
func TestMidnight(t *testing.T) {
	for _, c := range []struct{ why, second, times, faults string }{
		{"a row each second", "00:00:00.5", "86399.5 86400.5 86401.5", ""},
		{"five minutes without a row", "00:05:00.5", "86399.5 86700.5 86701.5", "gap [3]"},
		{"the next morning", "11:00:00.5", "86399.5 126000.5 126001.5", "gap [3]"},
		{"a step back by day", "13:00:00.5", "86399.5 46800.5 46801.5", "clock-back [3]"},
	} {
		next := strings.Replace(c.second, "00.5", "01.5", 1)
		l, err := Open("-", strings.NewReader("Time,RPM\n23:59:59.5,800\n"+c.second+",810\n"+next+",820\n"), Options{})
		if err != nil {
			t.Fatal(err)
		}
		var times []string
		r, err := l.Scan(t.Context(), Query{Columns: []string{"engine_speed"}}, func(f *Frame) error {
			for _, v := range f.Time[:f.N] {
				times = append(times, fmt.Sprint(v))
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		l.Close()
		var faults []string
		for _, f := range r.Faults {
			faults = append(faults, fmt.Sprint(f.Kind, " ", f.Lines))
		}
		if got := strings.Join(times, " "); got != c.times || strings.Join(faults, ", ") != c.faults {
			t.Errorf("%s: %s with %q, want %s with %q", c.why, got, faults, c.times, c.faults)
		}
	}
}
