// Package benchlog writes the large drive logs that benchmarks read, 24 channels of
// an invented engine: a regular one, ten rows a second, and one as people have them.
// Only tests import it.
package benchlog

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// header are 24 channels, ten times a second.
const header = "Time (s),Engine speed (rpm),MAP (kPa),Baro (kPa),MAF (g/s),Load (%),Throttle (%),ECT (degC),IAT (degC),Battery (V)," +
	"PW (ms),STFT B1 (%),LTFT B1 (%),STFT B2 (%),LTFT B2 (%),Lambda cmd,Lambda,Spark (deg),Knock retard (deg)," +
	"Vehicle speed (km/h),Gear,Purge (%),Oil pressure (kPa),Oil temperature (degC)\n"

// Write writes rows of a drive that wanders, until the log has size
// bytes. The same seed writes the same bytes.
func Write(w io.Writer, size int64) error {
	out := bufio.NewWriterSize(w, 1<<20)
	rng := rand.New(rand.NewPCG(20, 16))
	n, _ := out.WriteString(header)
	written := int64(n)
	speed, mapp, ect, short, long := 900.0, 40.0, 20.0, 0.0, 2.0
	var row []byte
	for i := 0; written < size; i++ {
		speed += float64(60 * (rng.Float64() - 0.5) * (1 + speed/2000))
		speed = min(max(speed, 700), 6900)
		mapp = min(max(mapp+float64(6*(rng.Float64()-0.5)), 20), 101)
		ect = min(ect+0.001, 91)
		short = min(max(short+(rng.Float64()-0.5), -10), 10)
		long += float64((short - long) * 0.0001)
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

// jobHeader are 24 channels as a logger of a workshop writes them, one of which is
// words, with the decimals of each.
var jobHeader = []struct {
	name     string
	decimals int
}{
	{"Time (s)", 3}, {"Engine speed (rpm)", 1}, {"MAP (kPa)", 2}, {"Baro (kPa)", 1}, {"MAF (g/s)", 3}, {"Load (%)", 2},
	{"Throttle (%)", 1}, {"ECT (degC)", 1}, {"IAT (degC)", 1}, {"Battery (V)", 3}, {"PW (ms)", 4}, {"STFT B1 (%)", 2},
	{"LTFT B1 (%)", 2}, {"Fuel status", 0}, {"Lambda cmd", 3}, {"Lambda", 4}, {"Spark (deg)", 1}, {"Knock retard (deg)", 2},
	{"Vehicle speed (km/h)", 1}, {"Gear", 0}, {"Steering angle (deg)", 1}, {"Oil pressure (kPa)", 1}, {"Oil temperature (degC)", 1},
}

// WriteJob writes a log as people have them: steps of 20 to 60 ms, about one cell
// in fifty empty, words in the last column, one to four decimals, trims and a
// steering angle on both sides of 0, a loop that opens, and cold starts.
func WriteJob(w io.Writer, size int64) error {
	out := bufio.NewWriterSize(w, 1<<20)
	rng := rand.New(rand.NewPCG(23, 1))
	for _, h := range jobHeader {
		out.WriteString(h.name + ",")
	}
	n, _ := out.WriteString("Driver's mark\n")
	written := int64(n)
	speed, mapp, ect, short, long, steering, t := 900.0, 40.0, 20.0, 0.0, 2.0, 0.0, 0.0
	words := [...]string{"cruise", "pull", "coast", "idle", "mark 7"}
	var row []byte
	for i := 0; written < size; i++ {
		t += float64(20+rng.IntN(41)) / 1000
		speed = min(max(speed+float64(60*(rng.Float64()-0.5)*(1+speed/2000)), 700), 6900)
		mapp = min(max(mapp+float64(6*(rng.Float64()-0.5)), 20), 101)
		ect = min(ect+0.005, 91)
		if i%100_000 == 99_999 {
			ect = 20
		}
		short = min(max(short+(rng.Float64()-0.5), -10), 10)
		long += float64((short - long) * 0.0001)
		steering = min(max(steering+float64(8*(rng.Float64()-0.5)), -180), 180)
		status := 2.0
		if mapp > 95 || i%5000 < 400 {
			status = 4
		}
		row = row[:0]
		for k, v := range [...]float64{t, speed, mapp, 100.2, speed * mapp / 4000, mapp, mapp * 0.8, ect, 31.5, 13.8 + short/50,
			mapp / 12, short, long, status, 1, 1 + short/100, 40 - mapp/4, 0, speed / 40, float64(1 + int(speed)/1200), steering,
			speed / 14, ect + 4} {
			if k == 0 || rng.IntN(50) > 0 {
				row = strconv.AppendFloat(row, v, 'f', jobHeader[k].decimals, 64)
			}
			row = append(row, ',')
		}
		row = append(row, words[i/700%len(words)]...)
		row = append(row, '\n')
		written += int64(len(row))
		if _, err := out.Write(row); err != nil {
			return err
		}
	}
	return out.Flush()
}

// file is the log that write writes, of megabytes MB and under a name, kept in the
// temporary folder for the next run.
func file(b testing.TB, name string, write func(w io.Writer, size int64) error, megabytes int) string {
	dir := filepath.Join(os.TempDir(), fmt.Sprintf("calsplice-bench-%d", os.Getuid()))
	path := filepath.Join(dir, fmt.Sprintf("%s-%d.csv", name, megabytes))
	if _, err := os.Stat(path); err == nil {
		return path
	}
	err := os.MkdirAll(dir, 0o700)
	var f *os.File
	if err == nil {
		f, err = os.CreateTemp(dir, "log-*")
	}
	if err == nil {
		err = write(f, int64(megabytes)<<20)
	}
	if err == nil {
		err = f.Close()
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		b.Fatal(err)
	}
	return path
}

// Regular is the log of [Write].
func Regular(b testing.TB, megabytes int) string { return file(b, "log", Write, megabytes) }

// Job is the log of [WriteJob].
func Job(b testing.TB, megabytes int) string { return file(b, "job-1", WriteJob, megabytes) }
