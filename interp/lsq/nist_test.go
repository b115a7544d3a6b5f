package lsq

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// The linear regression sets of the NIST Statistical Reference Datasets, with
// the digits that the solver must agree on at least. Longley and the Wamplers
// are NIST's hard ones; Filip's powers, rounded to doubles, no longer hold more
// digits than about eight.
var nistDigits = map[string]float64{
	"Norris": 11, "Pontius": 11, "NoInt1": 11, "NoInt2": 11, "Longley": 9, "Filip": 7,
	"Wampler1": 9, "Wampler2": 9, "Wampler3": 9, "Wampler4": 9, "Wampler5": 9,
}

type certified struct {
	File    string
	Model   string
	Lines   [2]int            `json:"data_lines"`
	Columns []string          `json:"columns"`
	Coef    map[string]string `json:"coef"`
	SD      map[string]string `json:"coef_sd"`
	Scale   string            `json:"residual_sd"`
	R2      string            `json:"r_squared"`
}

func TestNIST(t *testing.T) {
	folder := filepath.Join("..", "..", "testdata", "nist")
	text, err := os.ReadFile(filepath.Join(folder, "certified.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all struct{ Linear map[string]certified }
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	for name, want := range nistDigits {
		c, ok := all.Linear[name]
		if !ok {
			t.Errorf("%s: not in certified.json", name)
			continue
		}
		p, names := nistProblem(t, filepath.Join(folder, c.File), c)
		fit, err := p.Solve(Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		coef, sd := 15.0, 15.0
		for j, b := range names {
			coef = min(coef, digits(fit.Coef[j], c.Coef[b]))
			sd = min(sd, digits(fit.SE[j], c.SD[b]))
		}
		scale := digits(fit.Scale, c.Scale)
		t.Logf("%-9s coefficients %4.1f digits, standard errors %4.1f, residual sd %4.1f, condition %.1e",
			name, coef, sd, scale, fit.Condition)
		if coef < want || sd < want || scale < want {
			t.Errorf("%s: agrees to %.1f, %.1f and %.1f digits, want %g", name, coef, sd, scale, want)
		}
	}
}

// digits is how many significant digits agree; against a certified 0 it is the
// number of zeros behind the point.
func digits(got float64, text string) float64 {
	want, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return 0
	}
	size := math.Abs(want)
	if want == 0 {
		size = 1
	}
	return min(15, -math.Log10(math.Abs(got-want)/size))
}

func nistProblem(t *testing.T, path string, c certified) (*Problem, []string) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	degree, intercept := 0, !strings.Contains(c.Model, "no intercept")
	if _, err := fmt.Sscanf(c.Model, "polynomial degree %d", &degree); err != nil {
		degree = 0
	}
	p := &Problem{}
	var names []string
	for _, line := range strings.Split(string(text), "\n")[c.Lines[0]-1 : c.Lines[1]] {
		var v []float64
		for _, f := range strings.Fields(line) {
			n, err := strconv.ParseFloat(f, 64)
			if err != nil {
				t.Fatal(err)
			}
			v = append(v, n)
		}
		row, from := []float64{}, 1
		if intercept {
			row, from = append(row, 1), 0
		}
		if degree > 0 {
			for k, x := 1, v[1]; k <= degree; k, x = k+1, x*v[1] {
				row = append(row, x)
			}
		} else {
			row = append(row, v[1:]...)
		}
		p.X, p.Y, p.Columns = append(p.X, row...), append(p.Y, v[0]), len(row)
		names = names[:0]
		for j := range row {
			names = append(names, fmt.Sprintf("B%d", j+from))
		}
	}
	return p, names
}
