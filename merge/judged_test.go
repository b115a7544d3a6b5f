package merge_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
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

// TestBlocksBruteForce searches all rectangles of small grids for those in which
// every cell changed by one sum or by one factor. Every block that is told is one
// of them, and none of them holds a block and more: a person told of a part of
// what was done would look for the rest.
func TestBlocksBruteForce(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 12))
	told := 0
	for range 400 {
		rows, columns := 2+r.IntN(4), 2+r.IntN(4)
		old := make([]float64, rows*columns)
		for i := range old {
			old[i] = float64(3000+r.IntN(90000)) / 1024 // no sum or factor is near another by chance
		}
		now := append([]float64(nil), old...)
		for range 1 + r.IntN(2) { // rectangles that may overlap
			r0, c0 := r.IntN(rows), r.IntN(columns)
			r1, c1 := r0+r.IntN(rows-r0), c0+r.IntN(columns-c0)
			by := float64(2 + r.IntN(3))
			factor := r.IntN(2) == 0
			for row := r0; row <= r1; row++ {
				for c := c0; c <= c1; c++ {
					if i := row*columns + c; factor {
						now[i] *= by
					} else {
						now[i] += by
					}
				}
			}
		}
		report := merge.Compare(grid(upTo(columns), upTo(rows), old), grid(upTo(columns), upTo(rows), now), merge.Tolerance{}, merge.Selection{})
		for i, b := range report.Blocks {
			told++
			if !oneRule(old, now, columns, b.Rows, b.Columns) {
				t.Errorf("no rule explains block %v of\n%v\n%v", b, old, now)
			}
			others := taken(report.Blocks, i, columns, rows)
			for _, grown := range around(b, rows, columns) {
				if oneRule(old, now, columns, grown.Rows, grown.Columns) && free(others, grown, columns) {
					t.Errorf("block %v %v stands in rectangle %v %v, all of which one rule explains:\n%v\n%v", b.Rows, b.Columns, grown.Rows, grown.Columns, old, now)
				}
			}
		}
	}
	if told < 300 {
		t.Errorf("only %d blocks", told)
	}
}

// oneRule reports whether all cells of a rectangle changed by one sum, or all by
// one factor, or became one number: the numbers are dyadic, so that it is told
// exactly.
func oneRule(old, now []float64, columns int, rows, cols [2]int) bool {
	first := rows[0]*columns + cols[0]
	sum, factor, set := true, true, true
	for r := rows[0]; r <= rows[1]; r++ {
		for c := cols[0]; c <= cols[1]; c++ {
			i := r*columns + c
			if now[i] == old[i] {
				return false
			}
			sum = sum && now[i]-old[i] == now[first]-old[first]
			factor = factor && now[i]*old[first] == now[first]*old[i]
			set = set && now[i] == now[first]
		}
	}
	return sum || factor || set
}

// taken are the cells of all blocks but one.
func taken(blocks []merge.BlockChange, but, columns, rows int) []bool {
	cells := make([]bool, rows*columns)
	for i, b := range blocks {
		for r := b.Rows[0]; r <= b.Rows[1] && i != but; r++ {
			for c := b.Columns[0]; c <= b.Columns[1]; c++ {
				cells[r*columns+c] = true
			}
		}
	}
	return cells
}

func free(taken []bool, b merge.BlockChange, columns int) bool {
	for r := b.Rows[0]; r <= b.Rows[1]; r++ {
		for c := b.Columns[0]; c <= b.Columns[1]; c++ {
			if taken[r*columns+c] {
				return false
			}
		}
	}
	return true
}

// around are all larger rectangles that hold a block.
func around(b merge.BlockChange, rows, columns int) []merge.BlockChange {
	var list []merge.BlockChange
	for r0 := 0; r0 <= b.Rows[0]; r0++ {
		for r1 := b.Rows[1]; r1 < rows; r1++ {
			for c0 := 0; c0 <= b.Columns[0]; c0++ {
				for c1 := b.Columns[1]; c1 < columns; c1++ {
					grown := merge.BlockChange{Rows: [2]int{r0, r1}, Columns: [2]int{c0, c1}}
					if grown.Rows != b.Rows || grown.Columns != b.Columns {
						list = append(list, grown)
					}
				}
			}
		}
	}
	return list
}

// TestBlocksByHand: what a person would say of these grids, written before the
// program was asked.
func TestBlocksByHand(t *testing.T) {
	base := []float64{ // four columns, three rows
		10, 20, 30, 40,
		12, 22, 32, 42,
		14, 24, 34, 44,
	}
	edit := func(pairs map[int]float64) []float64 {
		now := append([]float64(nil), base...)
		for i, v := range pairs {
			now[i] = v
		}
		return now
	}
	for _, c := range []struct {
		why  string
		now  []float64
		want string // "rows columns rule", joined by "; "
	}{
		{"nothing", edit(nil), ""},
		{"one cell alone", edit(map[int]float64{5: 27}), "[1 1] [1 1] + 5"},
		{"two cells that have nothing in common", edit(map[int]float64{0: 17.3, 11: 41.9}), ""},
		{"two degrees more in the middle of the last two rows", edit(map[int]float64{5: 24, 6: 34, 9: 26, 10: 36}), "[1 2] [1 2] + 2"},
		{"five per cent more in the first row", edit(map[int]float64{0: 10.5, 1: 21, 2: 31.5, 3: 42}), "[0 0] [0 3] × 1.05"},
		{"everything half", edit(map[int]float64{0: 5, 1: 10, 2: 15, 3: 20, 4: 6, 5: 11, 6: 16, 7: 21, 8: 7, 9: 12, 10: 17, 11: 22}), "[0 2] [0 3] × 0.5"},
		{"all brought down to 32", edit(map[int]float64{3: 32, 7: 32, 10: 32, 11: 32}), "clamped 32"},
		{"one column set to 50", edit(map[int]float64{2: 50, 6: 50, 10: 50}), "[0 2] [2 2] = 50"},
		{"an L: the longer arm is one, the rest another", edit(map[int]float64{0: 13, 4: 15, 8: 17, 9: 27, 10: 37}), "[0 2] [0 0] + 3; [2 2] [1 2] + 3"},
	} {
		r := merge.Compare(grid(upTo(4), upTo(3), base), grid(upTo(4), upTo(3), c.now), merge.Tolerance{}, merge.Selection{})
		var got []string
		for _, b := range r.Blocks {
			words := fmt.Sprint(b.Rows, " ", b.Columns, " ")
			switch {
			case b.Factor != nil:
				words += fmt.Sprint("× ", *b.Factor)
			case b.Add != nil:
				words += fmt.Sprint("+ ", *b.Add)
			case b.Set != nil:
				words += fmt.Sprint("= ", *b.Set)
			case b.Clamped != nil:
				words = fmt.Sprint("clamped ", *b.Clamped)
			}
			got = append(got, words)
		}
		if strings.Join(got, "; ") != c.want {
			t.Errorf("%s: %q, want %q", c.why, strings.Join(got, "; "), c.want)
		}
	}
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
