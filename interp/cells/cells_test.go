package cells

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/logtest"
	"calsplice/interp/cells/sift"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablejson"
)

// sample is one instant of a made-up log: an operating point and readings, NaN
// for none.
type sample struct {
	stretch int
	x, y    float64
	v       []float64
}

// time is that of the i-th instant: ten a second.
func (s sample) time(i int) float64 { return float64(i) / 10 }

// fill gathers made-up logs into one grid, as Gather does with one worker.
func fill(t testing.TB, x, y *axes.Axis, w Weight, names []string, logs ...[]sample) *Grid {
	t.Helper()
	set := settings{Version: stateVersion, X: x.Channel, Weight: w}
	if y != nil {
		set.Y = y.Channel
	}
	whole := newGrid(set, x, y, names)
	for i, log := range logs {
		g := newGrid(set, x, y, names)
		record(t, g, log)
		g.sources = []tables.Source{{Name: fmt.Sprintf("log-%d.csv", i), Rows: len(log)}}
		g.logs = []sift.LogID{{Fingerprint: fmt.Sprint(i, len(log)), Name: g.sources[0].Name}}
		whole.merge(g)
	}
	return whole
}

// record puts a log's samples into a grid.
func record(t testing.TB, g *Grid, log []sample) {
	t.Helper()
	l, err := newLocator(g)
	if err != nil {
		t.Fatal(err)
	}
	p := newPlacer(g, 1)
	p.limits = sift.NewLimiter(0, make([]uint8, len(g.channels)), [4]int{-1, -1, -1, -1})
	for i, s := range log {
		l.locate([]float64{s.x}, []float64{s.y}, []int{s.stretch})
		for c, v := range s.v {
			p.logs[c].Add(&l.Shares, []float64{s.time(i)}, []float64{v}, []bool{!math.IsNaN(v)})
		}
	}
	p.finish()
}

func document(t testing.TB, g *Grid) *tables.Calibration {
	t.Helper()
	d, err := g.Document()
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// drawLog is an adversarial log: few and many values, values that are nearly
// the same, points on and halfway between breakpoints, unknown points, gaps.
func drawLog(t *rapid.T, label string) []sample {
	n := rapid.IntRange(0, 60).Draw(t, label+" length")
	step := rapid.SampledFrom([]float64{0, 0, 0.78125, 0.01, 1e-9, 1e15}).Draw(t, label+" step")
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, label+" seed"), 1))
	log := make([]sample, n)
	x, y, stretch := 0.0, 0.0, 0
	for i := range log {
		if r.IntN(3) == 0 {
			x, y = float64(r.IntN(13)-1)*100, float64(r.IntN(9)-1)*5
		}
		if r.IntN(12) == 0 {
			stretch++
		}
		s := sample{stretch, x + float64(r.IntN(3)), y, []float64{0, 0}}
		if r.IntN(15) == 0 {
			s.x = math.NaN()
		}
		for c := range s.v {
			switch v := r.NormFloat64(); {
			case r.IntN(4) == 0:
				s.v[c] = math.NaN()
			case step == 0:
				s.v[c] = v * 1e3
			default:
				s.v[c] = math.Round(v*4)*step + float64(c)*1e3
			}
		}
		log[i] = s
	}
	return log
}

// Law 6: the cells of two logs combined are the cells of the two read in one
// command, to the byte, in any order, through the written document.
func checkCombine(t *rapid.T) {
	w := rapid.SampledFrom([]Weight{Nearest, Spread}).Draw(t, "weight")
	logs := make([][]sample, rapid.IntRange(2, 4).Draw(t, "logs"))
	for i := range logs {
		logs[i] = drawLog(t, fmt.Sprint("log ", i))
	}
	tb := &testing.T{}
	x, y := logtest.Axis(tb, "engine_speed", 0, 200, 400, 800), logtest.Axis(tb, "load", 0, 10, 20, 30)
	if rapid.Bool().Draw(t, "curve") {
		y = nil
	}
	names := []string{"trim", "knock_retard"}
	whole := fill(tb, x, y, w, names, logs...)
	want := document(tb, whole)
	var docs []*tables.Calibration
	for i, log := range logs {
		g := fill(tb, x, y, w, names, log)
		g.sources[0].Name = fmt.Sprintf("log-%d.csv", i)
		g.logs = []sift.LogID{{Fingerprint: fmt.Sprint(i, len(log)), Name: g.sources[0].Name}}
		docs = append(docs, reread(t, document(tb, g)))
	}
	docs = rapid.Permutation(docs).Draw(t, "order")
	first, err := Combine(docs[:len(docs)-1]...)
	if err != nil {
		t.Fatal(err)
	}
	got, err := Combine(docs[len(docs)-1], reread(t, first))
	if err != nil {
		t.Fatal(err)
	}
	if a, b := tablejson.SHA256(got), tablejson.SHA256(want); a != b {
		t.Fatalf("combined cells differ from those of one reading:\n%v\n%v", got.Contents(), want.Contents()) // promise: the same bytes each time
	}
}

// reread is a document written as JSON and read back.
func reread(t *rapid.T, d *tables.Calibration) *tables.Calibration {
	var b bytes.Buffer
	if err := tablejson.Write(&b, d); err != nil {
		t.Fatal(err)
	}
	back, err := tablejson.Parse(b.Bytes(), "cells.json")
	if err != nil {
		t.Fatal(err)
	}
	return back
}

func TestCombine(t *testing.T) { rapid.Check(t, checkCombine) }
func FuzzCombine(f *testing.F) { f.Fuzz(rapid.MakeFuzz(checkCombine)) }

// The statistics of a cell are those of the plain list of its samples.
func TestStatisticsByHand(t *testing.T) {
	nan := math.NaN()
	for _, tc := range []struct {
		why    string
		w      Weight
		log    []sample
		at     int // cell
		want   [9]float64
		within float64
	}{
		{why: "two stays of two samples: mean of all, se from the stays' sums",
			log: []sample{{0, 0, 0, []float64{1}}, {0, 0, 0, []float64{3}}, {0, 100, 0, []float64{50}}, {0, 0, 0, []float64{4}}, {0, 0, 0, []float64{8}}},
			at:  0, want: [9]float64{4, 2, 4, math.Sqrt(26.0 / 3), 2, 1, 8, 7.4, 0}},
		{why: "one sample has no deviation and one stay no error",
			log: []sample{{0, 100, 0, []float64{5}}}, at: 1, want: [9]float64{1, 1, 5, nan, nan, 5, 5, 5, 0}},
		{why: "halfway goes to the higher breakpoint, past the ends to the end one",
			log: []sample{{0, 50, 0, []float64{1}}, {0, 900, 0, []float64{2}}}, at: 1, want: [9]float64{2, 1, 1.5, math.Sqrt(.5), nan, 1, 2, 1.95, 0}},
		{why: "an instant without a new reading does not end a stay, nor count",
			log: []sample{{0, 0, 0, []float64{1}}, {0, 0, 0, []float64{nan}}, {0, 0, 0, []float64{1}}}, at: 0, want: [9]float64{2, 1, 1, 0, nan, 1, 1, 1, 0}},
		{why: "passing through another cell ends a stay, even without a reading there",
			log: []sample{{0, 0, 0, []float64{1}}, {0, 100, 0, []float64{nan}}, {0, 0, 0, []float64{1}}}, at: 0, want: [9]float64{2, 2, 1, 0, 0, 1, 1, 1, 0}},
		{why: "a gap in the log ends a stay",
			log: []sample{{0, 0, 0, []float64{1}}, {1, 0, 0, []float64{1}}}, at: 0, want: [9]float64{2, 2, 1, 0, 0, 1, 1, 1, 0}},
		{why: "an operating point that is not known ends a stay",
			log: []sample{{0, 0, 0, []float64{1}}, {0, nan, 0, []float64{9}}, {0, 0, 0, []float64{1}}}, at: 0, want: [9]float64{2, 2, 1, 0, 0, 1, 1, 1, 0}},
		{why: "a cell without samples is empty",
			log: []sample{{0, 0, 0, []float64{1}}}, at: 1, want: [9]float64{nan, nan, nan, nan, nan, nan, nan, nan, nan}},
		{why: "spread: weights 3/4 and 1/4, deviations by Σw − Σw²/Σw", w: Spread,
			log: []sample{{0, 25, 0, []float64{2}}, {0, 25, 0, []float64{6}}}, at: 1, want: [9]float64{.5, 1, 4, math.Sqrt(8), nan, 2, 6, 6, 0}},
		{why: "spread: on a breakpoint all weight is its own", w: Spread,
			log: []sample{{0, 100, 0, []float64{2}}}, at: 0, want: [9]float64{nan, nan, nan, nan, nan, nan, nan, nan, nan}},
	} {
		g := fill(t, logtest.Axis(t, "engine_speed", 0, 100), nil, tc.w, []string{"trim"}, tc.log)
		d := document(t, g)
		for i, name := range tally.Statistics {
			got := d.Table("trim." + name).Values()[tc.at]
			if math.Abs(got-tc.want[i]) > 1e-12 || math.IsNaN(got) != math.IsNaN(tc.want[i]) {
				t.Errorf("%s: %s is %v, want %v", tc.why, name, got, tc.want[i])
			}
		}
	}
}

// A table may have a single breakpoint, and as many dimensions as axes.
func TestOneBreakpoint(t *testing.T) {
	for _, w := range []Weight{Nearest, Spread} {
		g := fill(t, logtest.Axis(t, "engine_speed", 1000), logtest.Axis(t, "load", 7), w, []string{"trim"},
			[]sample{{0, 0, 0, []float64{1}}, {0, 5000, 99, []float64{3}}})
		if got := document(t, g).Table("trim.mean").At(0, 0); got != 2 {
			t.Errorf("%v: mean is %v, want 2", w, got)
		}
	}
}

func TestCombineRefused(t *testing.T) {
	log := []sample{{0, 0, 0, []float64{1}}}
	x := logtest.Axis(t, "engine_speed", 0, 100)
	good := document(t, fill(t, x, nil, Nearest, []string{"trim"}, log))
	other := func(mod func(g *Grid)) *tables.Calibration {
		g := fill(t, x, nil, Nearest, []string{"trim"}, log)
		g.logs[0].Fingerprint = "another"
		mod(g)
		return document(t, g)
	}
	for _, tc := range []struct {
		why, want string
		doc       *tables.Calibration
	}{
		{"the same log again", "document 2: log log-0.csv is the same as log-0.csv of document 1: its samples would count twice", good},
		{"other breakpoints", `document 2: x axis is engine_speed 0, 200, and that of document 1 is engine_speed 0, 100: only cells on the same axes combine`,
			document(t, fill(t, logtest.Axis(t, "engine_speed", 0, 200), nil, Nearest, []string{"trim"}, log))},
		{"a map and a curve", `document 2: y axis is load 1, and that of document 1 is no axis: only cells on the same axes combine`,
			document(t, fill(t, x, logtest.Axis(t, "load", 1), Nearest, []string{"trim"}, log))},
		{"other weights", `document 2: weight is "spread", and that of document 1 is "nearest": only cells gathered alike combine`,
			other(func(g *Grid) { g.settings.Weight = Spread })},
		{"another selection", `document 2: selection is "where load > 3", and that of document 1 is "": only cells gathered alike combine`,
			other(func(g *Grid) { g.settings.Asked = "where load > 3" })},
		{"other channels", "document 2: channels are knock_retard, and those of document 1 are trim: only cells of the same channels combine",
			document(t, fill(t, x, nil, Nearest, []string{"knock_retard"}, log))},
	} {
		_, err := Combine(good, tc.doc)
		if err == nil || err.Error() != tc.want {
			t.Errorf("%s: error is\n%v, want\n%s", tc.why, err, tc.want)
		}
	}
	long := func(last float64) *tables.Calibration {
		return document(t, fill(t, logtest.Axis(t, "engine_speed", 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, last, 100), nil, Nearest, []string{"trim"}, log))
	}
	_, err := Combine(long(50), long(40))
	if want := "document 2: x axis is engine_speed 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, … 14 in all, and that of document 1 is " +
		"engine_speed 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, … 14 in all, with 50 for 40: only cells on the same axes combine"; err == nil || err.Error() != want {
		t.Errorf("a breakpoint between: error is\n%v, want\n%s", err, want)
	}
}

// Following the operating point for many instants at once is what moving it
// instant by instant is, however a log is cut into frames.
func checkFollow(t *rapid.T) {
	tb := &testing.T{}
	x, y := logtest.Axis(tb, "engine_speed", 0, 300, 700, 1200), logtest.Axis(tb, "load", 0, 10, 40)
	names := []string{"trim", "spark"}
	log := drawLog(t, "log")
	want := fill(tb, x, y, Nearest, names, log)
	g := newGrid(want.settings, x, y, names)
	here, err := newLocator(g)
	if err != nil {
		t.Fatal(err)
	}
	p := newPlacer(g, 2)
	p.here, p.limits = here, sift.NewLimiter(0, make([]uint8, 2), [4]int{-1, -1, -1, -1})
	for from := 0; from < len(log); {
		n := rapid.IntRange(1, len(log)-from).Draw(t, "frame")
		f := &drivelog.Frame{N: n, Columns: make([]drivelog.Column, 4)}
		for i, s := range log[from : from+n] {
			f.Time, f.Stretch = append(f.Time, s.time(from+i)), append(f.Stretch, s.stretch)
			for c, v := range []float64{s.x, s.y, s.v[0], s.v[1]} {
				f.Columns[c].Value = append(f.Columns[c].Value, v)
				f.Columns[c].Fresh = append(f.Columns[c].Fresh, true)
			}
		}
		if err := p.frame(f, make([]sift.Reason, n)); err != nil {
			t.Fatal(err)
		}
		from += n
	}
	p.finish()
	g.sources, g.logs = want.sources, want.logs
	if diff := cmp.Diff(want.state(), g.state()); diff != "" {
		t.Errorf("instant by instant, and at once:\n%s", diff)
	}
}

func TestFollow(t *testing.T) { rapid.Check(t, checkFollow) }
func FuzzFollow(f *testing.F) { f.Fuzz(rapid.MakeFuzz(checkFollow)) }
