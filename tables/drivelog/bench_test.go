package drivelog

import (
	"bufio"
	"compress/gzip"
	"context"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

var benchMB = flag.Int("log-mb", 64, "size of the log that benchmarks generate, in megabytes")

// benchHeader are 24 channels, ten times a second.
const benchHeader = "Time (s),Engine speed (rpm),MAP (kPa),Baro (kPa),MAF (g/s),Load (%),Throttle (%),ECT (degC),IAT (degC),Battery (V)," +
	"PW (ms),STFT B1 (%),LTFT B1 (%),STFT B2 (%),LTFT B2 (%),Lambda cmd,Lambda,Spark (deg),Knock retard (deg)," +
	"Vehicle speed (km/h),Gear,Purge (%),Oil pressure (kPa),Oil temperature (degC)\n"

// writeBenchLog writes rows of a drive that wanders, until the log has size
// bytes. The same seed writes the same bytes.
func writeBenchLog(w io.Writer, size int64) error {
	out := bufio.NewWriterSize(w, 1<<20)
	rng := rand.New(rand.NewPCG(20, 16))
	n, _ := out.WriteString(benchHeader)
	written := int64(n)
	speed, mapp, ect, short, long := 900.0, 40.0, 20.0, 0.0, 2.0
	var row []byte
	for i := 0; written < size; i++ {
		speed += 60 * (rng.Float64() - 0.5) * (1 + speed/2000)
		speed = min(max(speed, 700), 6900)
		mapp = min(max(mapp+6*(rng.Float64()-0.5), 20), 101)
		ect = min(ect+0.001, 91)
		short = min(max(short+(rng.Float64()-0.5), -10), 10)
		long += (short - long) * 0.0001
		row = strconv.AppendFloat(row[:0], float64(i)/10, 'f', 1, 64)
		for k, v := range [...]float64{speed, mapp, 100.2, speed * mapp / 4000, mapp, mapp * 0.8, ect, 31.5, 13.8 + short/50,
			mapp / 12, short, long, -short, long, 1, 1 + short/100, 40 - mapp/4, 0, speed / 40, float64(1 + int(speed)/1200), 12,
			speed / 14, ect + 4} {
			row = append(row, ',')
			row = strconv.AppendFloat(row, v, 'f', [...]int{0, 1, 1, 2, 1, 1, 1, 1, 2, 3, 2, 2, 2, 2, 3, 3, 1, 1, 1, 0, 1, 0, 1}[k], 64)
		}
		row = append(row, '\n')
		written += int64(len(row))
		if _, err := out.Write(row); err != nil {
			return err
		}
	}
	return out.Flush()
}

// benchLog is the generated log, made once for a run of the benchmarks.
func benchLog(b *testing.B) string {
	dir := filepath.Join(os.TempDir(), fmt.Sprintf("calsplice-bench-%d", os.Getuid()))
	if err := os.MkdirAll(dir, 0o700); err != nil {
		b.Fatal(err)
	}
	path := filepath.Join(dir, fmt.Sprintf("log-%d.csv", *benchMB))
	if _, err := os.Stat(path); err == nil {
		return path
	}
	f, err := os.Create(path)
	if err == nil {
		err = writeBenchLog(f, int64(*benchMB)<<20)
	}
	if err != nil {
		b.Fatal(err)
	}
	return path
}

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
	path := benchLog(b)
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
	path := benchLog(b)
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
