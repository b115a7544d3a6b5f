package sift

import (
	"encoding/json"
	"math"
	"os/exec"
	"path/filepath"
	"testing"

	"calsplice/interp/cells/logtest"
)

// TestEventsPandas: pandas finds the same events in real logs by run lengths, from
// the files themselves: readings above the threshold that follow each other without
// a gap of five usual steps, or two seconds where those are less.
func TestEventsPandas(t *testing.T) {
	python := logtest.Python(t, "pandas")
	const script = `
import sys, json, pandas as pd
file, time, name, beside, above = sys.argv[1:]
d = pd.read_csv(file, index_col=False, skipinitialspace=True)
d["line"] = d.index + 2
t = d[time]
if t.dtype == object:
    t = pd.to_timedelta(t).dt.total_seconds()
d["t"], d["beside"] = t, d[beside].ffill()
steps = t.diff()
gap = max(2, 5 * steps[steps > 0].median())
d = d[d[name].notna()]
over = d[name] > float(above)
run = ((over != over.shift()) | (d.t - d.t.shift() > gap)).cumsum()
out = []
for _, g in d[over].groupby(run[over]):
    peak = g.loc[g[name].idxmax()]
    out.append([g.t.iloc[0], g.t.iloc[-1], peak[name], peak["line"], peak["beside"]])
print(json.dumps([[float(v) for v in e] for e in out]))
`
	const manifold, rpm, short = "INTAKE_MANIFOLD_PRESSURE ()", "ENGINE_RPM ()", "SHORT_TERM_FUEL_TRIM_BANK_1 ()"
	for _, c := range []struct {
		file, time, header, beside, channel string
		above                               float64
		least                               int
	}{
		{"log-a.csv", "ENGINE_RUN_TINE ()", rpm, manifold, "engine_speed", 2000, 2},
		{"log-a.csv", "ENGINE_RUN_TINE ()", short, manifold, "short_trim_1", 4, 50},
		{"log-b.csv", "ENGINE_RUN_TINE ()", rpm, manifold, "engine_speed", 1500, 5},
		{"log-c.csv", "ENGINE_RUN_TINE ()", rpm, manifold, "engine_speed", 1500, 5},
		{"log-d.csv", "Time", "Engine RPM [RPM]", "Intake Manifold Absolute Pressure [kPa]", "engine_speed", 2000, 5},
	} {
		file := filepath.Join("../../../testdata/logs", c.file)
		raw, err := exec.Command(python, "-c", script, file, c.time, c.header, c.beside, jsonNumber(c.above)).Output()
		if err != nil {
			t.Fatal(err)
		}
		var want [][5]float64
		if err := json.Unmarshal(raw, &want); err != nil {
			t.Fatal(err)
		}
		got := eventsOf(t, file, c.channel, c.above, nil, nil)
		if len(got) != len(want) || len(got) < c.least {
			t.Errorf("%s, %s over %v: %d events, pandas has %d, want %d at least", c.file, c.channel, c.above, len(got), len(want), c.least)
			continue
		}
		for i, e := range got {
			w := want[i]
			if math.Abs(e.Start-w[0])+math.Abs(e.End-w[1])+math.Abs(e.Duration-(w[1]-w[0])) > 1e-6 || e.Peak != w[2] || e.Line != int(w[3]) || e.At["manifold_pressure"] != w[4] {
				t.Errorf("%s, %s over %v: event %d is %+v, pandas has %v", c.file, c.channel, c.above, i, e, w)
			}
		}
	}
}

func jsonNumber(v float64) string {
	text, _ := json.Marshal(v)
	return string(text)
}
