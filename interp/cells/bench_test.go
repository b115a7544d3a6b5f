package cells

import (
	"context"
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/logtest"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/drivelog/benchlog"
)

var benchMB = flag.Int("log-mb", 100, "size of the log that benchmarks generate, in megabytes")

func benchAxis(b testing.TB, channel string, first, step float64, n int) *axes.Axis {
	var p []float64
	for i := range n {
		p = append(p, first+step*float64(i))
	}
	return logtest.Axis(b, channel, p...)
}

// BenchmarkShareOfReading compares, in one run, reading a log and gathering it
// into a 20 × 16 grid with its document. It reports what the statistics cost as a
// share of reading the whole log, and as a share of reading only the columns that
// the question needs; each at its best.
func BenchmarkShareOfReading(b *testing.B) {
	path := benchlog.Regular(b, *benchMB)
	x, y := benchAxis(b, "engine_speed", 700, 320, 20), benchAxis(b, "manifold_pressure", 20, 5, 16)
	open := func() (*drivelog.Log, error) { return drivelog.Open(path, nil, drivelog.Options{}) }
	read := func(columns func(*drivelog.Log) []string) float64 {
		return seconds(func() {
			log, err := open()
			if err != nil {
				b.Fatal(err)
			}
			defer log.Close()
			q := drivelog.Query{Columns: columns(log)}
			if _, err := log.Scan(context.Background(), q, func(*drivelog.Frame) error { return nil }); err != nil {
				b.Fatal(err)
			}
		})
	}
	spec := Spec{X: x, Y: y, Values: []string{"short_trim_1"}, Where: "coolant >= 70"}
	whole, needed, gathering := math.Inf(1), math.Inf(1), math.Inf(1)
	for b.Loop() {
		b.StopTimer()
		whole = min(whole, read(func(log *drivelog.Log) []string {
			logged, _ := drivelog.Channels()
			return slices.DeleteFunc(logged, func(name string) bool { return !log.Logged(name) })
		}))
		needed = min(needed, read(func(*drivelog.Log) []string {
			return []string{"engine_speed", "manifold_pressure", "short_trim_1", "coolant >= 70"}
		}))
		b.StartTimer()
		gathering = min(gathering, seconds(func() {
			g, _, err := Gather(context.Background(), []Log{{Name: "bench.csv", Open: open}}, spec)
			if err != nil {
				b.Fatal(err)
			}
			if _, err := g.Document(); err != nil {
				b.Fatal(err)
			}
		}))
	}
	b.ReportMetric((gathering-needed)/whole, "statistics/whole")
	b.ReportMetric((gathering-needed)/needed, "statistics/needed")
	b.ReportMetric(whole*1000, "ms/whole")
	b.ReportMetric(needed*1000, "ms/needed")
	b.ReportMetric(gathering*1000, "ms/gathering")
}

// BenchmarkSample is the cost of one sample, once it is read.
func BenchmarkSample(b *testing.B) {
	for _, w := range []Weight{Nearest, Spread} {
		b.Run(string(w), func(b *testing.B) {
			x, y := benchAxis(b, "engine_speed", 600, 300, 20), benchAxis(b, "manifold_pressure", 20, 5, 16)
			g := newGrid(settings{Weight: w}, x, y, []string{"trim"})
			l, err := newLocator(g)
			if err != nil {
				b.Fatal(err)
			}
			r := rand.New(rand.NewPCG(1, 2))
			const n = 4096
			out, time, stretch, take := newPlacer(g, 1), make([]float64, n), make([]int, n), make([]bool, n)
			var list [3][]float64
			rpm, kpa, trim := 2000., 50., 0.
			for i := range n {
				rpm = min(max(rpm+60*r.NormFloat64(), 700), 6500)
				kpa = min(max(kpa+3*r.NormFloat64(), 20), 101)
				trim = .95*trim + .8*r.NormFloat64()
				list[0], list[1], list[2] = append(list[0], rpm), append(list[1], kpa), append(list[2], math.Round(trim/.78125)*.78125)
				time[i], take[i] = float64(i)/20, true
			}
			b.ReportAllocs()
			for b.Loop() {
				l.locate(list[0], list[1], stretch)
				out.logs[0].Add(&l.Shares, time, list[2], take)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/sample")
		})
	}
}

// BenchmarkCombine combines ten thousand documents that are in memory already:
// a season's drives of a fleet.
func BenchmarkCombine(b *testing.B) {
	x, y := upTo(b, "engine_speed", 12), upTo(b, "load", 8)
	var docs []*tables.Calibration
	for seed := range uint64(50) {
		docs = append(docs, document(b, fill(b, x, y, Nearest, []string{"trim"}, grid2(seed, 3000, func(x, y float64) float64 { return x - y }))))
	}
	for b.Loop() {
		var c combiner
		for i := range 10_000 {
			g, err := toCombine(docs[i%len(docs)], "cells")
			if err == nil {
				err = c.Add(g, "cells")
			}
			if err != nil {
				b.Fatal(err)
			}
			c.g.logs = nil // the fifty are there two hundred times each
			clear(c.logs)
		}
		if _, err := c.Document(); err != nil {
			b.Fatal(err)
		}
	}
}

func seconds(f func()) float64 {
	start := time.Now()
	f()
	return time.Since(start).Seconds()
}
