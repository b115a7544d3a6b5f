package interp

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "write the values that SciPy gives anew")

// question is what the judge is asked, and verdict what it answers.
type question struct {
	X      []float64    `json:"x"`
	Y      []float64    `json:"y"`
	Values [][]float64  `json:"values"`
	At     [][2]float64 `json:"at"`
}

type verdict struct {
	Extend []float64 `json:"extend"`
	Hold   []float64 `json:"hold"`
	SciPy  string    `json:"scipy"`
}

// judge asks SciPy. Where there is none the test is skipped, or fails under
// CALSPLICE_OUTSIDE=1.
func judge(t *testing.T, ask, answer any) {
	t.Helper()
	python := ""
	for _, p := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(p, "-c", "import scipy").Run() == nil {
			python = p
			break
		}
	}
	if python == "" {
		if os.Getenv("CALSPLICE_OUTSIDE") == "1" {
			t.Fatal("SciPy is not here (Debian: python3-scipy)")
		}
		t.Skip("SciPy is not here")
	}
	in, err := json.Marshal(ask)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "testdata/judge.py")
	cmd.Stdin, cmd.Stderr = bytes.NewReader(in), os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(out, answer); err != nil {
		t.Fatal(err)
	}
}

// fixedQuestion is an uneven map, read at its nodes, on its lines, inside cells
// and past every side.
func fixedQuestion() question {
	r := rand.New(rand.NewPCG(7, 11))
	q := question{X: []float64{600, 800, 1250, 2000, 3500, 6000}, Y: []float64{20, 35, 50, 90, 100}}
	for range q.Y {
		row := make([]float64, len(q.X))
		for i := range row {
			row[i] = math.Round(r.Float64()*4000) / 100
		}
		q.Values = append(q.Values, row)
	}
	for _, y := range append([]float64{0, 27.5, 62, 130}, q.Y...) {
		for _, x := range append([]float64{0, 700, 1999, 5000, 9000}, q.X...) {
			q.At = append(q.At, [2]float64{x, y})
		}
	}
	return q
}

// agrees holds the package to a verdict.
func agrees(t *testing.T, q question, v verdict) {
	t.Helper()
	var values []float64
	for _, row := range q.Values {
		values = append(values, row...)
	}
	tab := table(t, axis(t, "x", "", q.X...), axis(t, "y", "", q.Y...), 0, values...)
	s := NewSurface(tab)
	for i, p := range q.At {
		for _, c := range []struct {
			how  Outside
			want float64
		}{{Hold, v.Hold[i]}, {Extend, v.Extend[i]}} {
			got, _, err := At(tab, p[0], p[1], c.how)
			if err != nil || math.Abs(got-c.want) > 1e-12*math.Max(1, math.Abs(c.want)) {
				t.Errorf("%v at %v: %v (%v), SciPy %v", c.how, p, got, err, c.want)
			}
		}
		if got := s.At(p[0], p[1]); math.Abs(got-v.Hold[i]) > 1e-12*math.Max(1, math.Abs(got)) {
			t.Errorf("surface at %v: %v, SciPy %v", p, got, v.Hold[i])
		}
	}
}

// SciPy's RegularGridInterpolator gave these values once; no SciPy is needed.
func TestSciPyValues(t *testing.T) {
	const file = "testdata/scipy.json"
	q := fixedQuestion()
	if *update {
		var v []verdict
		judge(t, []question{q}, &v)
		data, err := json.MarshalIndent(v[0], "", " ")
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, append(data, '\n'), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var v verdict
	if err := json.Unmarshal(data, &v); err != nil {
		t.Fatal(err)
	}
	agrees(t, q, v)
}

// And it gives them today, on other maps.
func TestSciPyLive(t *testing.T) {
	var asked []question
	for seed := range uint64(5) {
		r := rand.New(rand.NewPCG(5, seed))
		line := func() []float64 {
			points := []float64{r.NormFloat64() * 100}
			for range 1 + r.IntN(20) {
				points = append(points, points[len(points)-1]+0.1+r.ExpFloat64()*50)
			}
			return points
		}
		q := question{X: line(), Y: line()}
		for range q.Y {
			row := make([]float64, len(q.X))
			for i := range row {
				row[i] = r.NormFloat64() * 30
			}
			q.Values = append(q.Values, row)
		}
		within := func(p []float64) float64 { return p[0] + (p[len(p)-1]-p[0])*(1.4*r.Float64()-0.2) }
		for range 500 {
			q.At = append(q.At, [2]float64{within(q.X), within(q.Y)})
		}
		asked = append(asked, q)
	}
	var v []verdict
	judge(t, asked, &v)
	for i, q := range asked {
		agrees(t, q, v[i])
	}
}

// Tables of 20 × 20 onto 64 × 64, table by table, are read at least 20 times as
// fast as by SciPy in the same run. Of each side the best thousand of 10,000
// tables counts, gone through several times: other work on the machine takes a
// core away for longer than one of our thousands lasts.
func TestFasterThanSciPy(t *testing.T) {
	if os.Getenv("CALSPLICE_OUTSIDE") != "1" || testing.Short() {
		t.Skip("a race of seconds: CALSPLICE_OUTSIDE=1 runs it")
	}
	const n, thousand, from, to = 10000, 1000, 20, 64
	var scipy struct{ Seconds float64 }
	judge(t, map[string]int{"tables": n, "from": from, "to": to}, &scipy)
	points := make([]float64, from)
	for i := range points {
		points[i] = float64(i)
	}
	a := axis(t, "x", "", points...)
	fine := spread(a, to)
	r := rand.New(rand.NewPCG(1, 1))
	values := make([]float64, n*from*from)
	for i := range values {
		values[i] = r.Float64()
	}
	best := time.Hour
	for begun := time.Now(); time.Since(begun) < 2*time.Second; {
		for k := 0; k < n; k += thousand {
			start := time.Now()
			at := brackets(a, fine, Hold)
			var room []float64
			for i := k; i < k+thousand; i++ {
				room = grid(room, values[i*from*from:(i+1)*from*from], from, at, at)
			}
			best = min(best, time.Since(start))
		}
	}
	ratio := scipy.Seconds / best.Seconds()
	t.Logf("SciPy %.4f s, here %.4f s: %.0f times as fast", scipy.Seconds, best.Seconds(), ratio)
	if ratio < 20 {
		t.Errorf("%.1f times as fast as SciPy, want 20", ratio)
	}
}
