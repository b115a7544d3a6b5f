package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"calsplice/tables/drivelog/benchlog"
	"calsplice/tables/tablejson"
)

var benchMB = flag.Int("log-mb", 100, "size of the log that benchmarks generate, in megabytes")

const duckFolder = "../../testdata/duckdb"

// benchJob is what both are asked of a log: the channel, and what else calsplice
// is told.
type benchJob struct {
	name, channel string
	log           func(t testing.TB, megabytes int) string
	args          []string
}

// benchJobs are one raw channel of a regular log under one filter, and what people
// ask of the logs that they have. For DuckDB an empty cell is no value: so too with
// a maximum age of nothing.
var benchJobs = []benchJob{
	{"regular", "short_trim_1", benchlog.Regular, []string{"--where", "coolant >= 70"}},
	{"job", "trim", benchlog.Job, []string{"--where", "fuel_status == 2 && coolant >= 70", "--max-age", "0"}},
}

// duckCells asks DuckDB (npm, testdata/duckdb) for the cells that cellsArgs
// asks calsplice for: its least wall time of some runs, and for each cell row,
// column, count, mean, deviation, minimum and maximum.
func duckCells(t testing.TB, job *benchJob, log string, repeats int) (seconds float64, cells [][]float64) {
	t.Helper()
	var doc struct {
		Seconds float64
		Cells   [][]float64
	}
	duck(t, &doc, "cells.mjs", job.name, log, fmt.Sprint(repeats))
	return doc.Seconds, doc.Cells
}

// duck runs a script of testdata/duckdb and reads what it prints.
func duck(t testing.TB, into any, script ...string) {
	t.Helper()
	if _, err := os.Stat(duckFolder + "/node_modules/@duckdb"); err != nil {
		if os.Getenv("CALSPLICE_OUTSIDE") == "1" {
			t.Fatal("DuckDB is not there: npm install in testdata/duckdb")
		}
		t.Skip("DuckDB is not there: npm install in testdata/duckdb")
	}
	cmd := exec.Command("node", script...)
	cmd.Dir, cmd.Stderr = duckFolder, os.Stderr
	out, err := cmd.Output()
	if err == nil {
		err = json.Unmarshal(out, into)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func cellsArgs(job *benchJob, log, out string) []string {
	var x, y []string
	for i := range 20 {
		x = append(x, fmt.Sprint(700+320*i))
	}
	for i := range 16 {
		y = append(y, fmt.Sprint(20+5*i))
	}
	return append([]string{"cells", log, "--value", job.channel, "--x", "engine_speed: " + strings.Join(x, ","),
		"--y", "manifold_pressure: " + strings.Join(y, ","), "-o", out}, job.args...)
}

// agree compares the cells of a document with DuckDB's.
func agree(t testing.TB, job *benchJob, out string, want [][]float64) {
	t.Helper()
	data, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := tablejson.Parse(data, out)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0.0
	for _, cell := range want {
		r, c := int(cell[0]), int(cell[1])
		seen += cell[2]
		for k, statistic := range []string{"count", "mean", "sd", "min", "max"} {
			table := doc.Table(job.channel + "." + statistic)
			if table == nil {
				t.Fatalf("there is no table of the %s", statistic)
			}
			if got, w := table.At(r, c), cell[2+k]; !(math.Abs(got-w) <= 1e-9*math.Max(1, math.Abs(w))) && !(cell[2] == 1 && statistic == "sd") {
				t.Errorf("%s of [%d, %d] is %v, DuckDB has %v", statistic, r, c, got, w)
			}
		}
	}
	if len(want) < 100 || seen < 1000 {
		t.Errorf("only %d cells of %v samples were compared", len(want), seen)
	}
}

// TestCellsAgreeWithDuckDB: counts, means, deviations, minima and maxima of a
// filtered channel on a 20 × 16 grid.
func TestCellsAgreeWithDuckDB(t *testing.T) {
	for i := range benchJobs {
		job := &benchJobs[i]
		log := job.log(t, 16)
		_, want := duckCells(t, job, log, 1)
		out := filepath.Join(t.TempDir(), "cells.json")
		if status := run(cellsArgs(job, log, out), nil, io.Discard, io.Discard); status != 0 {
			t.Fatalf("%s: status %d", job.name, status)
		}
		agree(t, job, out, want)
	}
}

// BenchmarkCellsAgainstDuckDB reads each log by both in the same run, on the
// same cores (two, unless GOMAXPROCS says otherwise), and reports calsplice's
// wall time as a share of DuckDB's.
func BenchmarkCellsAgainstDuckDB(b *testing.B) {
	for i := range benchJobs {
		job := &benchJobs[i]
		b.Run(job.name, func(b *testing.B) {
			log := job.log(b, *benchMB)
			out := filepath.Join(b.TempDir(), "cells.json")
			best := math.Inf(1)
			b.SetBytes(int64(*benchMB) << 20)
			for b.Loop() {
				start := time.Now()
				if status := run(cellsArgs(job, log, out), nil, io.Discard, io.Discard); status != 0 {
					b.Fatalf("status %d", status)
				}
				best = min(best, time.Since(start).Seconds())
			}
			b.StopTimer()
			theirs, want := duckCells(b, job, log, 3)
			agree(b, job, out, want)
			b.ReportMetric(best, "s/calsplice")
			b.ReportMetric(theirs, "s/duckdb")
			b.ReportMetric(best/theirs, "of-duckdb")
		})
	}
}
