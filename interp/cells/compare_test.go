package cells

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/logtest"
	"calsplice/tables"
	"calsplice/tables/tableunit"
)

// TestStepUp: a p-value is never worse off than a larger one, worked by hand:
// 3/1 · 0.01 and 3/2 · 0.02 are both past 3/3 · 0.021.
func TestStepUp(t *testing.T) {
	for i, q := range controlled([]float64{.02, .021, .01}) {
		if math.Abs(q-.021) > 1e-15 {
			t.Errorf("p-value %d is controlled to %v, want 0.021", i, q)
		}
	}
}

// Welch's test and the control of false discoveries agree with SciPy's
// ttest_ind_from_stats(equal_var=False) and with the step-up procedure written
// out from Benjamini and Hochberg's paper (SciPy's false_discovery_control where
// it has one). The values in the table came from SciPy 1.10.1.
func TestWelchFixed(t *testing.T) {
	for _, tc := range []struct{ m1, s1, n1, m2, s2, n2, p float64 }{
		{4.2, 1.1, 12, 3.1, 2.3, 9, 0.21245858986276},
		{0, 1, 3, 5, 1, 3, 0.003602232609104},
		{-2.5, 0.7, 40, -2.4, 0.9, 25, 0.63849260665939},
		{10, 3, 5, 10, 3, 5, 1},
	} {
		got := welch(&estimate{mean: tc.m1, se: tc.s1 / math.Sqrt(tc.n1), freedom: tc.n1 - 1}, &estimate{mean: tc.m2, se: tc.s2 / math.Sqrt(tc.n2), freedom: tc.n2 - 1})
		if math.Abs(got-tc.p) > 1e-10 {
			t.Errorf("%+v: p is %.14g", tc, got)
		}
	}
	got := controlled([]float64{.01, .04, .03, .005, .5})
	want := []float64{.025, .05, .05, .025, .5}
	for i := range want {
		if math.Abs(got[i]-want[i]) > 1e-15 {
			t.Errorf("controlled p-values are %v, want %v", got, want)
			break
		}
	}
}

func TestWelchSciPy(t *testing.T) {
	python := logtest.Python(t, "scipy")
	r := rand.New(rand.NewPCG(5, 6))
	var in [][6]float64
	for range 200 {
		in = append(in, [6]float64{r.NormFloat64() * 3, .1 + r.Float64()*3, float64(3 + r.IntN(60)),
			r.NormFloat64() * 3, .1 + r.Float64()*3, float64(3 + r.IntN(60))})
	}
	raw, _ := json.Marshal(in)
	script := `
import json, sys
from scipy import stats
d = json.load(sys.stdin)
p = [stats.ttest_ind_from_stats(*row, equal_var=False).pvalue for row in d]
n, order = len(p), sorted(range(len(p)), key=lambda i: p[i])
q, least = [0.0] * n, 1.0
for k in range(n - 1, -1, -1):
    least = min(least, p[order[k]] * n / (k + 1)); q[order[k]] = least
if hasattr(stats, "false_discovery_control"):
    q = [float(v) for v in stats.false_discovery_control(p)]
print(json.dumps([[float(v) for v in p], q]))
`
	cmd := exec.Command(python, "-c", script)
	cmd.Stdin = strings.NewReader(string(raw))
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want [2][]float64
	if err := json.Unmarshal(out, &want); err != nil {
		t.Fatal(err)
	}
	var p []float64
	for i, row := range in {
		p = append(p, welch(&estimate{mean: row[0], se: row[1] / math.Sqrt(row[2]), freedom: row[2] - 1}, &estimate{mean: row[3], se: row[4] / math.Sqrt(row[5]), freedom: row[5] - 1}))
		if math.Abs(p[i]-want[0][i]) > 1e-9*want[0][i]+1e-14 {
			t.Errorf("%v: p is %v, SciPy has %v", row, p[i], want[0][i])
		}
	}
	for i, q := range controlled(p) {
		if math.Abs(q-want[1][i]) > 1e-9 {
			t.Errorf("q[%d] is %v, SciPy has %v", i, q, want[1][i])
		}
	}
}

// grid2 is a drive over a map: the operating point wanders over 12 × 8 cells,
// noise remembers a second, trims come in steps of 0.78 %.
func grid2(seed uint64, n int, truth func(x, y float64) float64) []sample {
	r := rand.New(rand.NewPCG(seed, 9))
	x, y, e := r.Float64()*11, r.Float64()*7, 0.0
	log := make([]sample, n)
	fold := func(v, high float64) float64 {
		if v < -.5 {
			return -1 - v
		}
		if v > high+.5 {
			return 2*high + 1 - v
		}
		return v
	}
	for i := range log {
		x, y = fold(x+.25*r.NormFloat64(), 11), fold(y+.2*r.NormFloat64(), 7)
		e = .9*e + .6*r.NormFloat64()
		log[i] = sample{0, x, y, []float64{math.Round((truth(x, y)+e)/.78125) * .78125}}
	}
	return log
}

func upTo(t testing.TB, channel string, n int) *axes.Axis {
	var p []float64
	for i := range n {
		p = append(p, float64(i))
	}
	return logtest.Axis(t, channel, p...)
}

// Twenty pairs of drives of a healthy engine: no more cells are called changed
// than the rate that is controlled. A change of 4 % in a corner is found there,
// and hardly anywhere else.
func TestTwentyHealthyPairs(t *testing.T) {
	x, y := upTo(t, "engine_speed", 12), upTo(t, "load", 8)
	same := func(x, y float64) float64 { return 2 - .2*x + .3*y }
	drive := func(seed uint64, truth func(x, y float64) float64) []sample { return grid2(seed, 12_000, truth) }
	falsePairs, falseCells, tested := 0, 0, 0
	for pair := range uint64(20) {
		a := document(t, fill(t, x, y, Nearest, []string{"trim"}, drive(2*pair, same)))
		b := document(t, fill(t, x, y, Nearest, []string{"trim"}, drive(2*pair+1, same)))
		c, err := Compare(a, b)
		if err != nil {
			t.Fatal(err)
		}
		tested += c.Channels[0].Tested
		falseCells += c.Channels[0].Changed
		if c.Changed() {
			falsePairs++
		}
	}
	t.Logf("%d of 20 pairs, %d of %d cells", falsePairs, falseCells, tested)
	// Where nothing changed every discovery is false, so that 5 % of pairs may
	// have one: 1 of 20, and 3 or fewer with 98 % probability.
	if falsePairs > 3 || float64(falseCells) > Rate*float64(tested)/10 || tested < 20*60 {
		t.Errorf("%d of 20 healthy pairs have changed cells, %d of %d", falsePairs, falseCells, tested)
	}

	corner := func(x, y float64) float64 {
		if x < 5.5 && y < 3.5 {
			return same(x, y) + 4
		}
		return same(x, y)
	}
	found, missed, wrong := 0, 0, 0
	for pair := range uint64(5) {
		a := document(t, fill(t, x, y, Nearest, []string{"trim"}, drive(100+2*pair, same)))
		b := document(t, fill(t, x, y, Nearest, []string{"trim"}, drive(101+2*pair, corner)))
		c, err := Compare(a, b)
		if err != nil {
			t.Fatal(err)
		}
		for _, cell := range c.Channels[0].Cells {
			inside := cell.At[0] < 4 && cell.At[1] < 6
			switch {
			case cell.Changed && inside:
				found++
			case cell.Changed:
				wrong++
			case inside && cell.P.Known():
				missed++
			}
		}
	}
	t.Logf("change in a corner: %d found, %d missed, %d wrong", found, missed, wrong)
	if found < 3*missed || float64(wrong) > 2*Rate*float64(found+wrong) {
		t.Errorf("change in a corner: %d found, %d missed, %d wrong", found, missed, wrong)
	}
}

func TestCompareVerdict(t *testing.T) {
	x := logtest.Axis(t, "engine_speed", 0, 1)
	log := func(first, second float64) []sample {
		var l []sample
		for i := range 80 {
			v := float64(i%3-1) / 10
			l = append(l, sample{0, float64(i / 5 % 2), 0, []float64{[]float64{first, second}[i/5%2] + v}})
		}
		return append(l, sample{0, 1, 0, []float64{second}})
	}
	a := document(t, fill(t, x, nil, Nearest, []string{"trim"}, log(8, 2)))
	b := document(t, fill(t, x, nil, Nearest, []string{"trim"}, log(.5, 2)))
	c, err := Compare(a, b)
	if err != nil {
		t.Fatal(err)
	}
	ch := c.Channels[0]
	if got := fmt.Sprintf("%d/%d", ch.Changed, ch.Tested); got != "1/2" || !ch.Cells[0].Changed {
		t.Errorf("%s cells changed, want the first of two", got)
	}
	if ch.Before.CellShare != .5 || ch.After.CellShare != 1 || ch.Before.WorstAt != [2]int{0, 0} || math.Abs(ch.Before.Worst-8) > .1 {
		t.Errorf("before %+v, after %+v", ch.Before, ch.After)
	}
	if _, err := Compare(a, document(t, fill(t, logtest.Axis(t, "engine_speed", 0, 2), nil, Nearest, []string{"trim"}, log(1, 1)))); err == nil {
		t.Error("cells on other axes compared")
	}
}

// Where no visit differs from another there is no variance, and yet a change.
func TestCompareWithoutNoise(t *testing.T) {
	x := logtest.Axis(t, "engine_speed", 0, 1, 2)
	drive := func(v ...float64) *tables.Calibration {
		var l []sample
		for i := range 60 { // ten visits, and three of the last cell
			at := i % 2
			if i%20 == 19 {
				at = 2
			}
			l = append(l, sample{0, float64(at), 0, []float64{v[at]}})
		}
		return document(t, fill(t, x, nil, Nearest, []string{"knock_retard"}, l))
	}
	c, err := Compare(drive(0, 1, 0), drive(3, 1, 3))
	if err != nil {
		t.Fatal(err)
	}
	// 30 and 30 visits: 2/C(60, 30); 3 and 3: 2/C(6, 3).
	for i, want := range []float64{1.691e-17, 1, 0.1} {
		if got := float64(c.Channels[0].Cells[i].P); !(math.Abs(got-want) <= 1e-3*want) {
			t.Errorf("cell %d: p is %v, want %v", i, got, want)
		}
	}
	if c.Channels[0].Changed != 1 {
		t.Errorf("%d cells changed, want the first", c.Channels[0].Changed)
	}
	// 33.3 kPa, and 0.333 bar read as kPa.
	if c, err := Compare(drive(33.3, 33.3, 33.3), drive(33.300000000000004, 33.3, 33.300000000000004)); err != nil || c.Changed() {
		t.Errorf("a last digit is a change: %+v, %v", c, err)
	}
}

// Another unit changes no p-value.
func TestCompareConverted(t *testing.T) {
	x, y := upTo(t, "engine_speed", 6), upTo(t, "load", 4)
	var docs, converted []*tables.Calibration
	for seed := range uint64(2) {
		d := document(t, fill(t, x, y, Nearest, []string{"intake_air"}, grid2(seed, 3000, func(x, y float64) float64 { return 20 + float64(seed)*x })))
		in, _, err := tableunit.Convert(d, "intake_air.mean", "degF")
		if err != nil {
			t.Fatal(err)
		}
		docs, converted = append(docs, d), append(converted, in)
	}
	a, err := Compare(docs[0], docs[1])
	if err != nil {
		t.Fatal(err)
	}
	b, err := Compare(converted[0], converted[1])
	if err != nil {
		t.Fatal(err)
	}
	for i, cell := range a.Channels[0].Cells {
		if p, q := cell.P, b.Channels[0].Cells[i].P; p.Known() != q.Known() || p.Known() && math.Abs(float64(p-q)) > 1e-9 {
			t.Errorf("cell %v: p is %v, and in the other unit %v", cell.At, p, q)
		}
	}
	alone := document(t, fill(t, x, y, Nearest, []string{"intake_air", "trim"}, nil))
	if c, err := Compare(alone, docs[0]); err != nil || !c.Changed() || fmt.Sprint(c.OnlyOld) != "[trim]" {
		t.Errorf("a channel of one drive alone: %+v, %v", c, err)
	}
	if _, err := Combine(converted...); err == nil || !strings.Contains(err.Error(), "convert it back") {
		t.Errorf("error is %v", err)
	}
}
