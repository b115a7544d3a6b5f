package cause

import (
	"path/filepath"
	"strings"
	"testing"

	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// TestOpenDriveLogs: what an expert would sign of real drives, under calibrations
// that such engines could have. Logs a to c are one small engine whose trims lie
// within what is normal but for idle; h is four drivers at a reading every 4 s; g is
// direct injection, which this tool leaves alone.
func TestOpenDriveLogs(t *testing.T) {
	small := testdrive.Design{Name: "small", Cylinders: 4, Litres: 1.5, Rated: 2.1, BestSpeed: 3600,
		Rail: tables.RailPressure{Value: 350, Unit: "kPa", RelativeTo: tables.Manifold}}.Calibration()
	metered := testdrive.Design{Name: "metered", Cylinders: 4, Litres: 2, Rated: 2.8, MeterMost: 140, FlowBy: tables.DifferentialPressure,
		Rail: tables.RailPressure{Value: 350, Unit: "kPa", RelativeTo: tables.Atmosphere}}.Calibration()
	for _, c := range []struct {
		log   string
		cal   *tables.Calibration
		sure  []Cause // that may be named with confidence
		says  string  // by the headline, or by an error
		wrong bool    // an error
	}{
		{"a", small, nil, "injector-offset fits nearly as well. No-load idle with lamps and blower on and off", false},
		{"b", small, []Cause{None}, "the same places differ from themselves at other times. Log one warm drive alone", false},
		{"c", small, []Cause{None}, "trims rise where little air flows. No-load idle with lamps", false},
		{"h", metered, []Cause{None}, "trims rise where little air flows. No-load idle against no-load 2,500 r/min", false},
		{"g", metered, nil, "port injection", true},
		{"d", metered, nil, "the log has no fuel trims", true},
		{"i", metered, nil, "hold no reading", true},
	} {
		res, err := explainFile(c.cal, filepath.Join("..", "..", "testdata", "logs", "log-"+c.log+".csv"))
		switch {
		case c.wrong:
			if err == nil || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "\n") {
				t.Errorf("log %s: %v, want one line with %q", c.log, err, c.says)
			}
		case err != nil:
			t.Errorf("log %s: %v", c.log, err)
		default:
			lead := res.Leading().Cause
			ok := !res.Certain
			for _, s := range c.sure {
				ok = ok || res.Together == nil && lead == s
			}
			if !ok {
				t.Errorf("log %s: %s is named with confidence: %s", c.log, lead, res.Verdict)
			}
			if !strings.Contains(res.Verdict, c.says) || res.Settle == "" {
				t.Errorf("log %s: %s, want %q", c.log, res.Verdict, c.says)
			}
		}
	}
}
