package cells

import (
	"math"
	"strings"
	"testing"

	"calsplice/interp/cells/logtest"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
	"calsplice/tables/tableunit"
)

// TestWhereNoTestIs: Welch's test wants a variance and a degree of freedom on
// both sides. Without any variance all ways to share the visits out tell: of six
// visits there are twenty ways to choose three, two of them as extreme.
func TestWhereNoTestIs(t *testing.T) {
	for _, v := range [][6]float64{{1, 0, 5, 2, 0, 5}, {1, 1, 0, 2, 1, 5}, {1, 1, 5, 2, 1, 0}, {1, math.NaN(), 5, 2, 1, 5}, {1, 1, 5, 2, 1, math.NaN()}} {
		if p := welch(&estimate{mean: v[0], se: v[1], freedom: v[2]}, &estimate{mean: v[3], se: v[4], freedom: v[5]}); !math.IsNaN(p) {
			t.Errorf("%v: p is %v", v, p)
		}
	}
	if p := welch(&estimate{mean: 1, se: 0, freedom: 5}, &estimate{mean: 2, se: 1, freedom: 5}); !(p > 0 && p < 1) {
		t.Errorf("one side without variance: %v", p)
	}
	for _, c := range []struct {
		differ bool
		a, b   float64
		want   float64
	}{{true, 3, 3, 2. / 20}, {true, 4, 2, 2. / 15}, {true, 1, 1, 1}, {false, 3, 3, 1}} {
		if p := permuted(c.differ, c.a, c.b); math.Abs(p-c.want) > 1e-12 {
			t.Errorf("%v and %v visits, differ %v: %v, want %v", c.a, c.b, c.differ, p, c.want)
		}
	}
}

// TestCompareWorked: cells that neither drive has are not listed; a reading that
// never moves did not change; p is Welch's on errors and degrees of freedom that
// are made wider for the tail; the bound of trims goes into their unit.
func TestCompareWorked(t *testing.T) {
	x := logtest.Axis(t, "engine_speed", 0, 1, 2)
	drive := func(at float64, spread float64) *tables.Calibration {
		var l []sample
		for i := range 300 {
			cell := float64(i / 5 % 2)
			v := at + cell*3 + spread*float64(i/10*7%5)
			l = append(l, sample{0, cell, 0, []float64{v}})
		}
		return document(t, fill(t, x, nil, Nearest, []string{"trim"}, l))
	}
	still, err := Compare(drive(0, 0), drive(0, 0))
	if err != nil {
		t.Fatal(err)
	}
	ch := still.Channels[0]
	if len(ch.Cells) != 2 || ch.Tested != 2 || ch.Cells[0].P != 1 || ch.Changed != 0 {
		t.Errorf("nothing moves: %+v", ch)
	}
	a, b := drive(1, 1), drive(1.5, 1.2)
	c, err := Compare(a, b)
	if err != nil {
		t.Fatal(err)
	}
	var of [2]estimate
	for i, d := range []*tables.Calibration{a, b} {
		g, err := fromDocument(d)
		if err != nil {
			t.Fatal(err)
		}
		e, f := tally.PlainErrors(g.channels[0].cells)
		of[i] = estimate{mean: d.Table("trim.mean").At(0, 0), se: e[0] * tailError, freedom: max(f[0]*tailFreedom, 1)}
	}
	want := welch(&of[0], &of[1])
	if got := float64(c.Channels[0].Cells[0].P); !(math.Abs(got-want) <= 1e-12) {
		t.Errorf("p is %v, want %v", got, want)
	}
	shares := func(d *tables.Calibration) *tables.Calibration {
		var err error
		for _, s := range []string{"mean", "se"} {
			if d, _, err = tableunit.Convert(d, "trim."+s, "1"); err != nil {
				t.Fatal(err)
			}
		}
		return d
	}
	s, err := Compare(shares(a), shares(b))
	if err != nil {
		t.Fatal(err)
	}
	was, is := c.Channels[0], s.Channels[0]
	if is.Before.Bound != 0.05 || is.Before.CellShare != was.Before.CellShare || math.Abs(float64(is.Cells[0].P-was.Cells[0].P)) > 1e-9 {
		t.Errorf("as shares %+v, as per cents %+v", is.Before, was.Before)
	}
}

// TestKeysOfCells: a cell's key is refused past the grid's last row and column.
func TestKeysOfCells(t *testing.T) {
	one := fill(t, logtest.Axis(t, "engine_speed", 0), nil, Nearest, []string{"trim"}, []sample{{0, 0, 0, []float64{1}}})
	text := one.state()["trim[0,0]"]
	for key, want := range map[string]int{"trim[0,0]": 0, "trim[0,2]": 2, "trim[1,2]": 5, "trim[2,0]": -1, "trim[2,2]": -1, "trim[0,3]": -1, "lambda[0,0]": -1, "trim[-1,0]": -1, "trim": -1, "trim[1": -1, "trim~surface[0,0]": -1, "trim[0,01]": -1, "trim[0,0]~1": -1} {
		g := newGrid(settings{}, logtest.Axis(t, "engine_speed", 0, 1, 2), logtest.Axis(t, "load", 0, 1), []string{"trim"})
		err := g.readState(tables.Extra{key: text})
		if (err == nil) != (want >= 0) || err == nil && g.channels[0].cells[want] == nil || err != nil && !strings.HasSuffix(err.Error(), "names no cell of the document") {
			t.Errorf("%s: %v", key, err)
		}
	}
}
