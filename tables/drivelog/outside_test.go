package drivelog

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"calsplice/tables/drivelog/channel"
	"calsplice/tables/unit"
)

// pandasReads prints what pandas reads of logs as testdata/duckdb/sniff.mjs prints
// what DuckDB does.
const pandasReads = `
import json, sys
import pandas as pd
out = {}
for path in sys.argv[1:]:
    table = pd.read_csv(path, index_col=False, sep=None, engine="python", encoding="utf-8")
    out[path] = {name: {"n": float(c.count()), "low": float(c.min()), "high": float(c.max()), "mean": float(c.mean())}
                 for name, c in table.items() if c.dtype != object and c.count()}
print(json.dumps(out))
`

// TestOutsideReadsTheSame: pandas and DuckDB's sniffer, which know nothing of
// engines, read the open logs' columns of numbers with the same readings, least,
// greatest and mean. Columns that are converted here, and those in which a judge
// takes words for none of its business, are left to the other tests. The judges
// are asked with CALSPLICE_OUTSIDE=1 only; then they must be there.
func TestOutsideReadsTheSame(t *testing.T) {
	if os.Getenv("CALSPLICE_OUTSIDE") != "1" {
		t.Skip("asked with CALSPLICE_OUTSIDE=1 only")
	}
	logs, err := filepath.Abs(realLogs)
	if err != nil {
		t.Fatal(err)
	}
	var files []string
	for _, x := range "abcdefhi" { // log-g is long
		files = append(files, filepath.Join(logs, "log-"+string(x)+".csv"))
	}
	surveys := map[string]*Survey{}
	for _, f := range files {
		surveys[f] = survey(t, f, Options{})
	}
	python, err := exec.LookPath("/usr/bin/python3")
	if err != nil {
		python = "python3"
	}
	pandas := exec.Command(python, append([]string{"-c", pandasReads}, files[:6]...)...) // no decimal commas: pandas does not look for them
	duck := exec.Command("node", append([]string{"sniff.mjs"}, files...)...)
	duck.Dir = filepath.Join(logs, "../duckdb")
	for name, judge := range map[string]*exec.Cmd{"pandas": pandas, "DuckDB": duck} {
		judge.Stderr = os.Stderr
		raw, err := judge.Output()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		type figures struct{ N, Low, High, Mean float64 }
		var read map[string]map[string]figures
		if err := json.Unmarshal(raw, &read); err != nil {
			t.Fatal(err)
		}
		compared := 0
		for file, columns := range read {
			for _, c := range surveys[file].Channels {
				want, ok := columns[c.Header]
				h := channel.ReadHeading(c.Header)
				if !ok || c.Name == "time" || c.Name != "" && h.Unit != "" && unitName(h.Unit) != c.Unit {
					continue
				}
				compared++
				for _, p := range [][2]float64{{float64(c.Count), want.N}, {float64(c.Min), want.Low}, {float64(c.Max), want.High}, {float64(c.Mean), want.Mean}} {
					if math.Abs(p[0]-p[1]) > 1e-9*math.Max(1, math.Abs(p[1])) {
						t.Errorf("%s, %s: %q is %+v here, %+v there", name, filepath.Base(file), c.Header, c, want)
						break
					}
				}
			}
		}
		t.Logf("%s: %d columns are the same", name, compared)
		if compared < 100 {
			t.Errorf("%s: only %d columns were compared", name, compared)
		}
	}
}

func unitName(text string) string {
	u, _ := unit.Parse(text)
	return u.Name()
}
