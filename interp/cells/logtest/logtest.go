// Package logtest writes the made-up drive logs that the tests of package cells
// and of its rooms read, and finds the judges that they are held to. Only tests
// import it.
package logtest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/interp/cells/axes"
	"calsplice/tables"
)

// Axis is an axis of a channel, in its own unit.
func Axis(t testing.TB, channel string, points ...float64) *axes.Axis {
	t.Helper()
	a, err := tables.NewAxis(channel, "", points)
	if err != nil {
		t.Fatal(err)
	}
	return &axes.Axis{Channel: channel, Axis: a}
}

// CSV writes a log of ten rows a second; row gives the fields of the i-th.
func CSV(t testing.TB, header string, n int, row func(i int) string) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("Time (s)," + header + "\n")
	for i := range n {
		fmt.Fprintf(&b, "%.1f,%s\n", float64(i)/10, row(i))
	}
	path := filepath.Join(t.TempDir(), "drive.csv")
	if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// Pick is a where ok, and else b.
func Pick(ok bool, a, b float64) float64 {
	if ok {
		return a
	}
	return b
}

// Sensor is a drive in which the mixture asked for steps every four seconds
// and lambda follows late by delay, with some lag and noise; in each cell the
// mixture is off by what the cell says.
func Sensor(t testing.TB, delay float64) string {
	r := rand.New(rand.NewPCG(8, 9))
	commanded := func(s float64) float64 { return Pick(int(math.Floor(s/4))%2 == 0, 1, .9) }
	speed := func(s float64) float64 { return Pick(int(math.Floor((s+2)/4))%2 == 0, 1000, 3000) }
	lag := 0.0
	return CSV(t, "RPM,Lambda cmd,Lambda,STFT (%),LTFT (%)", 1200, func(i int) string {
		now := float64(i) / 10
		then := max(now-delay, 0)
		off := Pick(speed(then) == 1000, 1.02, 0.97)
		lag += (commanded(then)*off - lag) * Pick(i == 0, 1, .9)
		return fmt.Sprintf("%v,%v,%.4f,0,0", speed(now), commanded(now), lag+.002*r.NormFloat64())
	})
}

// Python is one that has modules. Without it the test is skipped, or fails under
// CALSPLICE_OUTSIDE=1.
func Python(t *testing.T, modules ...string) string {
	t.Helper()
	for _, python := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(python, "-c", "import "+strings.Join(modules, ", ")).Run() == nil {
			return python
		}
	}
	if os.Getenv("CALSPLICE_OUTSIDE") == "1" {
		t.Fatalf("no python3 with %s, and CALSPLICE_OUTSIDE=1 needs one", strings.Join(modules, ", "))
	}
	t.Skipf("no python3 with %s", strings.Join(modules, ", "))
	return ""
}
