// Package benchlog writes the large drive log that benchmarks read: 24 channels
// of an invented engine, ten rows a second. Only tests import it.
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

// File is such a log of megabytes MB, written once and kept in the temporary
// folder for the next run.
func File(b testing.TB, megabytes int) string {
	dir := filepath.Join(os.TempDir(), fmt.Sprintf("calsplice-bench-%d", os.Getuid()))
	path := filepath.Join(dir, fmt.Sprintf("log-%d.csv", megabytes))
	if _, err := os.Stat(path); err == nil {
		return path
	}
	err := os.MkdirAll(dir, 0o700)
	var f *os.File
	if err == nil {
		f, err = os.CreateTemp(dir, "log-*")
	}
	if err == nil {
		err = Write(f, int64(megabytes)<<20)
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
