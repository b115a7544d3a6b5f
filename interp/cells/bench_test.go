package cells

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// benchLog writes a made-up drive of 24 channels, ten rows a second, that
// wanders as that of drivelog's own benchmarks does.
func benchLog(b testing.TB, rows int) string {
	r := rand.New(rand.NewPCG(20, 16))
	var s strings.Builder
	s.WriteString("Time (s),Engine speed (rpm),MAP (kPa),STFT B1 (%),LTFT B1 (%),ECT (degC),Throttle (%)")
	for i := range 17 {
		fmt.Fprintf(&s, ",Extra %d", i)
	}
	speed, kpa, short := 900.0, 40.0, 0.0
	for i := range rows {
		speed = min(max(speed+60*(r.Float64()-.5)*(1+speed/2000), 700), 6900)
		kpa = min(max(kpa+6*(r.Float64()-.5), 20), 101)
		short = min(max(short+r.Float64()-.5, -10), 10)
		fmt.Fprintf(&s, "\n%.1f,%.0f,%.1f,%.2f,3.12,88,%.1f", float64(i)/10, speed, kpa, short, kpa*.8)
		for range 17 {
			fmt.Fprintf(&s, ",%.2f", 100*r.Float64())
		}
	}
	path := filepath.Join(b.TempDir(), "bench.csv")
	if err := os.WriteFile(path, []byte(s.String()), 0o600); err != nil {
		b.Fatal(err)
	}
	return path
}

func benchAxis(b testing.TB, channel string, first, step float64, n int) *Axis {
	var p []float64
	for i := range n {
		p = append(p, first+step*float64(i))
	}
	return mustAxis(b, channel, p...)
}

// BenchmarkShareOfReading compares, in one run, reading the columns of a log
// and gathering them into a 20 × 16 grid; it reports what the statistics cost
// as a share of the reading.
func BenchmarkShareOfReading(b *testing.B) {
	path := benchLog(b, 500_000)
	x, y := benchAxis(b, "engine_speed", 700, 320, 20), benchAxis(b, "manifold_pressure", 20, 5.4, 16)
	open := func() (*drivelog.Log, error) { return drivelog.Open(path, nil, drivelog.Options{}) }
	spec := Spec{X: x, Y: y, Values: []string{"trim"}}
	columns := []string{"engine_speed", "manifold_pressure", "trim", "short_trim_1", "long_trim_1"}
	var reading, gathering float64
	for b.Loop() {
		b.StopTimer()
		reading += seconds(func() {
			log, err := open()
			if err != nil {
				b.Fatal(err)
			}
			defer log.Close()
			if _, err := log.Scan(context.Background(), drivelog.Query{Columns: columns}, func(*drivelog.Frame) error { return nil }); err != nil {
				b.Fatal(err)
			}
		})
		b.StartTimer()
		gathering += seconds(func() {
			g, _, err := Gather(context.Background(), []Log{{Name: "bench.csv", Open: open}}, spec)
			if err != nil {
				b.Fatal(err)
			}
			if _, err := g.Document(); err != nil {
				b.Fatal(err)
			}
		})
	}
	b.ReportMetric((gathering-reading)/reading, "statistics/reading")
	b.ReportMetric(gathering/float64(b.N)/500_000*1e9, "ns/row")
}

// BenchmarkSample is the cost of one sample, once it is read.
func BenchmarkSample(b *testing.B) {
	for _, w := range []Weight{Nearest, Spread} {
		b.Run(w.String(), func(b *testing.B) {
			x, y := benchAxis(b, "engine_speed", 600, 300, 20), benchAxis(b, "manifold_pressure", 20, 5, 16)
			g := newGrid(settings{weight: w}, x, y, []string{"trim"})
			t, err := newTracker(g)
			if err != nil {
				b.Fatal(err)
			}
			r := rand.New(rand.NewPCG(1, 2))
			var list [4096][3]float64
			rpm, kpa, trim := 2000., 50., 0.
			for i := range list {
				rpm = min(max(rpm+60*r.NormFloat64(), 700), 6500)
				kpa = min(max(kpa+3*r.NormFloat64(), 20), 101)
				trim = .95*trim + .8*r.NormFloat64()
				list[i] = [3]float64{rpm, kpa, math.Round(trim/.78125) * .78125}
			}
			i := 0
			b.ReportAllocs()
			for b.Loop() {
				s := &list[i%len(list)]
				t.move(float64(i)/20, s[0], s[1], 0)
				t.add(0, s[2])
				i++
			}
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
		var c Combiner
		for i := range 10_000 {
			if err := c.Add(docs[i%len(docs)], "cells"); err != nil {
				b.Fatal(err)
			}
		}
		c.g.logs = nil // the fifty are there two hundred times each
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
