package merge_test

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"testing"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tabletest"
)

func grid(x, y []float64, values []float64) *tables.Calibration {
	a := func(q string, p []float64) *tables.Axis { return tabletest.Must(tables.NewAxis(q, "%", p)) }
	t := tabletest.Must(tables.NewTable(tables.Fields{ID: "t", Unit: "deg", X: a("load", x), Y: a("throttle", y), Values: values}))
	return tabletest.Must(tables.NewCalibration(tables.Contents{Name: "van", Tables: []*tables.Table{t}}))
}

func upTo(n int) []float64 {
	p := make([]float64, n)
	for i := range p {
		p[i] = float64(10 * i)
	}
	return p
}

// carried is what SciPy says of one merge: ours, which is the base's surface on
// more breakpoints, and the merged surface, which is ours and the difference that
// theirs made, both interpolated with scipy.interpolate.
const carried = `
import sys, json, numpy as np
from scipy.interpolate import RegularGridInterpolator
out = []
for c in json.load(sys.stdin):
    base, theirs = np.array(c["base"]), np.array(c["theirs"])
    x, y = np.array(c["x"]), np.array(c["y"])
    nx, ny = np.array(c["new_x"]), np.array(c["new_y"])
    at = np.stack(np.meshgrid(np.clip(ny, y[0], y[-1]), np.clip(nx, x[0], x[-1]), indexing="ij"), axis=-1)
    ours = RegularGridInterpolator((y, x), base)(at)
    moved = RegularGridInterpolator((y, x), theirs - base)(at)
    out.append({"ours": ours.ravel().tolist(), "merged": (ours + moved).ravel().tolist()})
json.dump(out, sys.stdout)
`

// TestMergeSciPy: one side adds breakpoints, the other changes values: the merged
// values are those that SciPy finds by interpolating the difference.
func TestMergeSciPy(t *testing.T) {
	type ask struct {
		X      []float64   `json:"x"`
		Y      []float64   `json:"y"`
		NewX   []float64   `json:"new_x"`
		NewY   []float64   `json:"new_y"`
		Base   [][]float64 `json:"base"`
		Theirs [][]float64 `json:"theirs"`
	}
	r := rand.New(rand.NewPCG(21, 22))
	var cases []ask
	for range 60 {
		c := ask{X: upTo(3 + r.IntN(4)), Y: upTo(2 + r.IntN(4))}
		for _, to := range []struct{ old, now *[]float64 }{{&c.X, &c.NewX}, {&c.Y, &c.NewY}} {
			for i, p := range *to.old {
				*to.now = append(*to.now, p)
				if i+1 < len(*to.old) && r.IntN(2) == 0 {
					*to.now = append(*to.now, p+float64(1+r.IntN(9)))
				}
			}
		}
		for range c.Y {
			row := make([]float64, len(c.X))
			for i := range row {
				row[i] = float64(r.IntN(400)) / 8
			}
			c.Base = append(c.Base, row)
			c.Theirs = append(c.Theirs, append([]float64(nil), row...))
		}
		for range 1 + r.IntN(4) {
			c.Theirs[r.IntN(len(c.Y))][r.IntN(len(c.X))] += float64(1+r.IntN(64)) / 16
		}
		cases = append(cases, c)
	}
	var answers []struct{ Ours, Merged []float64 }
	scipy(t, carried, cases, &answers)
	flat := func(rows [][]float64) (list []float64) {
		for _, row := range rows {
			list = append(list, row...)
		}
		return list
	}
	for i, c := range cases {
		base, theirs := grid(c.X, c.Y, flat(c.Base)), grid(c.X, c.Y, flat(c.Theirs))
		m, err := merge.Merge(base, grid(c.NewX, c.NewY, answers[i].Ours), theirs, merge.MergeOptions{})
		if err != nil || len(m.Conflicts) > 0 {
			t.Errorf("%+v: %v %v", c, err, m.Conflicts)
			continue
		}
		for k, got := range m.Merged.Table("t").Values() {
			if want := answers[i].Merged[k]; math.Abs(got-want) > 1e-9 {
				t.Errorf("%+v: cell %d is %v, SciPy has %v", c, k, got, want)
			}
		}
	}
}

// scipy asks a script that reads JSON and writes JSON. Without SciPy the test is
// skipped, or fails under CALSPLICE_OUTSIDE=1.
func scipy(t *testing.T, script string, ask, answer any) {
	t.Helper()
	in, err := json.Marshal(ask)
	if err != nil {
		t.Fatal(err)
	}
	for _, python := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(python, "-c", "import scipy").Run() != nil {
			continue
		}
		cmd := exec.Command(python, "-c", script)
		cmd.Stdin, cmd.Stderr = bytes.NewReader(in), os.Stderr
		out, err := cmd.Output()
		if err == nil {
			err = json.Unmarshal(out, answer)
		}
		if err != nil {
			t.Fatal(err)
		}
		return
	}
	if os.Getenv("CALSPLICE_OUTSIDE") == "1" {
		t.Fatal("SciPy is not here (Debian: python3-scipy)")
	}
	t.Skip("SciPy is not here")
}
