package drivelog

import (
	"compress/gzip"
	"context"
	"flag"
	"io"
	"os"
	"testing"

	"calsplice/tables/drivelog/benchlog"
)

var benchMB = flag.Int("log-mb", 64, "size of the log that benchmarks generate, in megabytes")

func benchScan(b *testing.B, path string, size int64, opt Options, columns ...string) {
	b.Helper()
	b.SetBytes(size)
	for b.Loop() {
		l, err := Open(path, nil, opt)
		if err != nil {
			b.Fatal(err)
		}
		kept := 0
		_, err = l.Scan(context.Background(), Query{Columns: columns}, func(f *Frame) error {
			for i, v := range f.Columns[0].Value {
				if v == v && f.Columns[3].Value[i] == 1 {
					kept++
				}
			}
			return nil
		})
		l.Close()
		if err != nil || kept == 0 {
			b.Fatal(err, kept)
		}
	}
}

func BenchmarkScan(b *testing.B) {
	path := benchlog.Regular(b, *benchMB)
	size := int64(*benchMB) << 20
	query := []string{"short_trim_1", "engine_speed", "manifold_pressure", "coolant >= 70"}
	b.Run("filtered", func(b *testing.B) { benchScan(b, path, size, Options{}, query...) })
	b.Run("one worker", func(b *testing.B) { benchScan(b, path, size, Options{Workers: 1}, query...) })
	b.Run("trim", func(b *testing.B) {
		benchScan(b, path, size, Options{}, "trim", "engine_speed", "manifold_pressure", "coolant >= 70")
	})
	b.Run("gzip", func(b *testing.B) {
		packed := path + ".gz"
		if _, err := os.Stat(packed); err != nil {
			in, _ := os.Open(path)
			out, _ := os.Create(packed)
			z, _ := gzip.NewWriterLevel(out, 6)
			if _, err := io.Copy(z, in); err != nil {
				b.Fatal(err)
			}
			z.Close()
			out.Close()
			in.Close()
		}
		benchScan(b, packed, size, Options{}, query...)
	})
}

func BenchmarkSurvey(b *testing.B) {
	path := benchlog.Regular(b, *benchMB)
	b.SetBytes(int64(*benchMB) << 20)
	for b.Loop() {
		l, err := Open(path, nil, Options{})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := l.Survey(context.Background()); err != nil {
			b.Fatal(err)
		}
		l.Close()
	}
}
