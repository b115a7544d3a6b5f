package cells

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tableunit"
)

// TestSettling: a trim has settled 3 s after the loop closes at the earliest, and
// then when it has turned twice or its mean no longer drifts by 1 % from one
// second to the next; after 15 s it is taken as it is.
func TestSettling(t *testing.T) {
	closes := func(trim func(s float64) float64) func(i int) string {
		return func(i int) string {
			return fmt.Sprintf("1000,%v,%.2f", pick(i < 20, 1, 2), trim(float64(i)/10))
		}
	}
	ramp := func(slope, until float64) func(s float64) float64 {
		return func(s float64) float64 { return slope * (min(max(s, 2), until) - 2) }
	}
	for _, c := range []struct {
		why  string
		trim func(s float64) float64
		n    int
		want string
	}{
		{"level from the start", ramp(0, 0), 100, "kept 0-19, trim not settled 20-49, kept 50-99"},
		{"0.9 % each second is no drift", ramp(0.9, 99), 100, "kept 0-19, trim not settled 20-49, kept 50-99"},
		{"2 % each second is, until a second of it is over", ramp(2, 6), 100, "kept 0-19, trim not settled 20-70, kept 71-99"},
		{"half a minute is enough", ramp(0.3*5, 99), 400, fmt.Sprintf("kept 0-19, trim not settled 20-%d, kept %d-399", latest(t)-1, latest(t))},
		{"a swing counts where its mean stands, and from its second turn on", func(s float64) float64 { return 5 * math.Sin(2*math.Pi*s/6) }, 100,
			"kept 0-19, trim not settled 20-53, kept 54-57, trim not settled 58-81, kept 82-99"},
	} {
		path := csvLog(t, "RPM,Fuel status,STFT (%)", c.n, closes(c.trim))
		list, _ := reasons(t, path, "", FilterOptions{Use: []Filter{Settled}})
		if got := runs(list); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.why, got, c.want)
		}
	}
}

// latest is the row at which a trim counts whatever it does, its loop closed
// after two seconds.
func latest(t *testing.T) int {
	o := FilterOptions{}.withDefaults()
	if !(o.LongestSettle > *o.SettleTrim) {
		t.Fatal("there is no wait for a trim that drifts")
	}
	return 20 + int(math.Round(o.LongestSettle*10))
}

// TestOptionsInALine: what was asked for is a line, with the bounds that are not
// the usual ones, so that cells gathered otherwise do not combine.
func TestOptionsInALine(t *testing.T) {
	sixty := 60.
	for want, o := range map[string]FilterOptions{
		"":                       {},
		"warm":                   {Use: []Filter{Warm}},
		"warm warm-at=60":        {Use: []Filter{Warm}, WarmAt: &sixty},
		"purge richer-than=0.95": {Use: []Filter{Purge}, RicherThan: 0.95},
	} {
		if got := o.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// TestChannelOfAnAxis: a quantity of the format, a channel, and a channel's name
// with blanks mean the channel; what is none stays as it is written.
func TestChannelOfAnAxis(t *testing.T) {
	for name, want := range map[string]string{
		"engine speed": "engine_speed", "engine_speed": "engine_speed", "trim 1": "trim_1", "mixture error": "mixture_error", "knock retard": "knock_retard",
		"manifold vacuum": "manifold_vacuum", "mood": "mood", "my mood": "my mood",
	} {
		if got := channelOf(name); got != want {
			t.Errorf("%s is channel %s, want %s", name, got, want)
		}
	}
}

// TestWhereNoTestIs: Welch's test wants a variance and a degree of freedom on
// both sides. Without any variance all ways to share the visits out tell: of six
// visits there are twenty ways to choose three, two of them as extreme.
func TestWhereNoTestIs(t *testing.T) {
	for _, v := range [][6]float64{{1, 0, 5, 2, 0, 5}, {1, 1, 0, 2, 1, 5}, {1, 1, 5, 2, 1, 0}, {1, math.NaN(), 5, 2, 1, 5}, {1, 1, 5, 2, 1, math.NaN()}} {
		if p := welch(v[0], v[1], v[2], v[3], v[4], v[5]); !math.IsNaN(p) {
			t.Errorf("%v: p is %v", v, p)
		}
	}
	if p := welch(1, 0, 5, 2, 1, 5); !(p > 0 && p < 1) {
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
	x := mustAxis(t, "engine_speed", 0, 1, 2)
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
	if len(ch.Cells) != 2 || ch.Tested != 2 || ch.Cells[0].P == nil || *ch.Cells[0].P != 1 || ch.Changed != 0 {
		t.Errorf("nothing moves: %+v", ch)
	}
	a, b := drive(1, 1), drive(1.5, 1.2)
	c, err := Compare(a, b)
	if err != nil {
		t.Fatal(err)
	}
	var se, freedom, mean [2]float64
	for i, d := range []*tables.Calibration{a, b} {
		g, err := FromDocument(d)
		if err != nil {
			t.Fatal(err)
		}
		e, f := g.channels[0].plainErrors()
		se[i], freedom[i], mean[i] = e[0]*tailError, max(f[0]*tailFreedom, 1), d.Table("trim.mean").At(0, 0)
	}
	want := welch(mean[0], se[0], freedom[0], mean[1], se[1], freedom[1])
	if got := c.Channels[0].Cells[0].P; got == nil || math.Abs(*got-want) > 1e-12 {
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
	if is.Before.Bound != 0.05 || *is.Before.CellShare != *was.Before.CellShare || math.Abs(*is.Cells[0].P-*was.Cells[0].P) > 1e-9 {
		t.Errorf("as shares %+v, as per cents %+v", is.Before, was.Before)
	}
}

// TestTrackLaw: what a track has forgotten is missed by no question: rate, drift
// and fall are those of all readings.
func TestTrackLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const keep = 2.
		var k, all track
		at := 0.
		for range rapid.IntRange(1, 200).Draw(t, "readings") {
			at += float64(rapid.IntRange(1, 8).Draw(t, "eighths")) / 8
			v := float64(rapid.IntRange(-20, 20).Draw(t, "value"))
			k.push(at, v, keep)
			all.time, all.value = append(all.time, at), append(all.value, v)
			n := len(all.time)
			rate, sum, count := 0., [2]float64{}, [2]float64{}
			for i, s := range all.time {
				if at-s >= 1 {
					rate = (v - all.value[i]) / (at - s)
				}
				if at-s <= 2 {
					half := int(pick(at-s > 1, 1, 0))
					sum[half] += all.value[i]
					count[half]++
				}
			}
			drift := 0.
			if count[0] > 0 && count[1] > 0 {
				drift = math.Abs(sum[0]/count[0] - sum[1]/count[1])
			}
			fall := 0.
			for i := range n {
				for j := i; j < n; j++ {
					if i+1 == n || all.time[i+1] > at-keep+1e-9 {
						fall = max(fall, all.value[i]-all.value[j])
					}
				}
			}
			if k.rate(1) != rate || !(math.Abs(k.drift(2)-drift) <= 1e-12) || k.fall(at-keep) != fall {
				t.Fatalf("at %v: rate %v, want %v; drift %v, want %v; fall %v, want %v", at, k.rate(1), rate, k.drift(2), drift, k.fall(at-keep), fall)
			}
		}
	})
}

// TestAtLimitLaw: a sample is at the limit in a run of ten readings and two
// seconds at least in which a trim behind its channel stands at the log's own
// highest or lowest reading, where that is 8 % or more: found by looking at the
// whole log at once.
func TestAtLimitLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 200).Draw(t, "instants")
		var trims [2][]float64
		for b := range trims {
			for len(trims[b]) < n {
				v := rapid.SampledFrom([]float64{-12, -9, -7, 0, 7, 9, 12}).Draw(t, "trim")
				trims[b] = append(trims[b], slices.Repeat([]float64{v}, rapid.SampledFrom([]int{1, 5, 16, 17, 18, 40}).Draw(t, "long"))...)
			}
			trims[b] = trims[b][:n]
		}
		cell := rapid.SliceOfN(rapid.SampledFrom([]int{0, 0, 0, 1}), n, n).Draw(t, "cells")
		channels := []string{"short_trim_1", "short_trim_2", "trim"}
		behind := []uint8{0b0001, 0b0100, 0b0101}
		at := [2][]bool{atLimitAtOnce(trims[0]), atLimitAtOnce(trims[1])}
		g := newGrid(settings{}, mustAxis(&testing.T{}, "engine_speed", 0, 1), nil, channels)
		l := newLimiter(0, behind, [4]int{0, -1, 1, -1})
		f := frameOf(trims[0], trims[1])
		var want [3][2]float64
		for i := range f.N {
			l.next(f, i, i == 0)
			for ch := range channels {
				l.sample(ch, cell[i], 1)
				if ch != 1 && at[0][i] || ch != 0 && at[1][i] {
					want[ch][cell[i]]++
				}
			}
		}
		l.finish(g)
		for ch, name := range channels {
			for c := range want[ch] {
				if got := g.at(ch, c).sum[sumLimit].Float64(); got != want[ch][c] {
					t.Fatalf("%s, cell %d: %v at the limit, want %v\n%v", name, c, got, want[ch][c], trims)
				}
			}
		}
	})
}

// atLimitAtOnce marks the instants of a trim at its limit, at eight readings a
// second.
func atLimitAtOnce(trim []float64) []bool {
	at := make([]bool, len(trim))
	for i := 0; i < len(trim); {
		j := i
		for j < len(trim) && trim[j] == trim[i] {
			j++
		}
		extreme := trim[i] == slices.Max(trim) && trim[i] >= 8 || trim[i] == slices.Min(trim) && trim[i] <= -8
		for k := i; k < j; k++ {
			at[k] = extreme && j-i >= 17
		}
		i = j
	}
	return at
}

// TestKeysOfCells: a cell's key is refused past the grid's last row and column.
func TestKeysOfCells(t *testing.T) {
	g := newGrid(settings{}, mustAxis(t, "engine_speed", 0, 1, 2), mustAxis(t, "load", 0, 1), []string{"trim"})
	for key, want := range map[string]int{"trim[0,0]": 0, "trim[0,2]": 2, "trim[1,2]": 5, "trim[2,0]": -1, "trim[2,2]": -1, "trim[0,3]": -1, "lambda[0,0]": -1, "trim[-1,0]": -1, "trim": -1, "trim[1": -1} {
		_, at, ok := g.findKey(key)
		if ok != (want >= 0) || ok && at != want {
			t.Errorf("%s is cell %d, %v, want %d", key, at, ok, want)
		}
	}
}

// frameOf is eight readings a second of channels.
func frameOf(channels ...[]float64) *drivelog.Frame {
	f := &drivelog.Frame{N: len(channels[0])}
	for _, values := range channels {
		f.Columns = append(f.Columns, drivelog.Column{Value: values, Fresh: slices.Repeat([]bool{true}, len(values))})
	}
	for i := range f.N {
		f.Time, f.Stretch = append(f.Time, float64(i)/8), append(f.Stretch, 0)
	}
	return f
}

// TestSettlingWithoutATrim: where no trim is logged the least time alone counts.
func TestSettlingWithoutATrim(t *testing.T) {
	path := csvLog(t, "RPM,Fuel status", 100, func(i int) string { return fmt.Sprintf("1000,%v", pick(i < 20, 1, 2)) })
	list, _ := reasons(t, path, "", FilterOptions{Use: []Filter{Settled}})
	if got, want := runs(list), "kept 0-19, trim not settled 20-49, kept 50-99"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// TestHalfInterval: t at 97.5 % of one degree of freedom less than visits.
func TestHalfInterval(t *testing.T) {
	for visits, want := range map[float64]float64{2: 12.7062, 3: 4.30265, 11: 2.22814, 121: 1.97993} {
		if got := HalfInterval(1, visits); math.Abs(got-want) > 1e-4 {
			t.Errorf("%v visits: %v, want %v", visits, got, want)
		}
	}
}

// TestMisfitIsTheSum: what a surface leaves of the folds, from their sums, is
// what it leaves of each sample.
func TestMisfitIsTheSum(t *testing.T) {
	var log []sample
	for i := range 400 {
		log = append(log, sample{0, float64(i*7%41) / 20, float64(i*11%31) / 15, []float64{float64(i % 13)}})
	}
	g := fillSurface(t, true, upTo(t, "engine_speed", 3), upTo(t, "load", 3), Nearest, []string{"trim"}, log)
	f := newSurfaceFit(g, g.channels[0].surface)
	values := []float64{3, -1, 4, 1, -5, 9, 2, 6, -5}
	got, want := 0.0, 0.0
	for k := range folds {
		got += f.misfit(k, mat.NewVecDense(9, values))
	}
	for _, s := range log {
		i, j := min(int(s.x), 1), min(int(s.y), 1)
		u, w := s.x-float64(i), s.y-float64(j)
		at := func(i, j int) float64 { return values[3*j+i] }
		v := (1-w)*((1-u)*at(i, j)+u*at(i+1, j)) + w*((1-u)*at(i, j+1)+u*at(i+1, j+1))
		want += (s.v[0] - v) * (s.v[0] - v)
	}
	if math.Abs(got-want) > 1e-9*want {
		t.Errorf("the surface leaves %v, want %v", got, want)
	}
}
