package sift

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"calsplice/interp/cells/logtest"
	"calsplice/tables/drivelog"
)

// TestSettling: a trim has settled 3 s after the loop closes at the earliest, and
// then when it has turned twice or its mean no longer drifts by 1 % from one
// second to the next; after 15 s it is taken as it is.
func TestSettling(t *testing.T) {
	closes := func(trim func(s float64) float64) func(i int) string {
		return func(i int) string {
			return fmt.Sprintf("1000,%v,%.2f", logtest.Pick(i < 20, 1, 2), trim(float64(i)/10))
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
		path := logtest.CSV(t, "RPM,Fuel status,STFT (%)", c.n, closes(c.trim))
		list, _ := reasons(t, path, "", FilterOptions{Use: []Filter{Settled}})
		if got := runs(list); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.why, got, c.want)
		}
	}
}

// latest is the row at which a trim counts whatever it does, its loop closed
// after two seconds.
func latest(t *testing.T) int {
	if !(longestSettle > usualSettleTrim) {
		t.Fatal("there is no wait for a trim that drifts")
	}
	return 20 + int(math.Round(longestSettle*10))
}

// TestOptionsInALine: what was asked for is a line, with the bounds that are not
// the usual ones, so that cells gathered otherwise do not combine.
func TestOptionsInALine(t *testing.T) {
	sixty := 60.
	for want, o := range map[string]FilterOptions{
		"":                     {},
		"warm":                 {Use: []Filter{Warm}},
		"warm warm-at=60":      {Use: []Filter{Warm}, WarmAt: &sixty},
		"purge speed-rate=0.5": {Use: []Filter{Purge}, SpeedRate: 0.5},
		"purge settle-trim=0":  {Use: []Filter{Purge}, SettleTrim: new(float64)},
	} {
		if got := o.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// TestTrackLaw: what a track has forgotten is missed by no question: drift and fall are those
// of all readings.
func TestTrackLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const keep = 2.
		var k, all track
		at := 0.
		for range rapid.IntRange(1, 200).Draw(t, "readings") {
			at += float64(rapid.IntRange(1, 8).Draw(t, "eighths")) / 8
			v := float64(rapid.IntRange(-20, 20).Draw(t, "value"))
			k.push(at, v, keep)
			all.list = append(all.list, timed{at, v})
			n := len(all.list)
			sum, count := [2]float64{}, [2]float64{}
			for _, r := range all.list {
				if at-r.time <= 2 {
					half := int(logtest.Pick(at-r.time > 1, 1, 0))
					sum[half] += r.value
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
					if i+1 == n || all.list[i+1].time > at-keep+1e-9 {
						fall = max(fall, all.list[i].value-all.list[j].value)
					}
				}
			}
			if !(math.Abs(k.drift(2)-drift) <= 1e-12) || k.fall(at-keep) != fall {
				t.Fatalf("at %v: drift %v, want %v; fall %v, want %v", at, k.drift(2), drift, k.fall(at-keep), fall)
			}
		}
	})
}

// TestRatesLaw: an instant is left out for 1 s from the beginning of a stretch, from a reading
// that is missing, and from one that came by more than its channel's bound each second since
// the last one at least 0.4 s older: found by asking that of each, however frames cut the log.
func TestRatesLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lively := rapid.SampledFrom([]float64{0.1, 1, 3, 10}).Draw(t, "lively")
		missing := rapid.SampledFrom([]int{5, 50}).Draw(t, "missing")
		const n = 6000
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		rare := func(of int) bool { return rng.IntN(of) == 0 }
		time, begins, last, at := make([]float64, n), make([]bool, n), make([]float64, n), 0.
		for i := range n {
			at += float64(rng.IntN(7))*0.01 + logtest.Pick(rare(40), rng.Float64()*2, 0)
			time[i], begins[i], last[i] = at, i == 0 || rare(80), math.Inf(-1)
		}
		var w watch
		var columns []drivelog.Column
		for k := range rapid.IntRange(1, 3).Draw(t, "channels") {
			bound := 20 * float64(k+1)
			w.channels = append(w.channels, watched{column: k, bound: bound})
			c := drivelog.Column{Value: make([]float64, n), Fresh: make([]bool, n)}
			columns = append(columns, c)
			v, since, read := 50., 0., []timed(nil)
			for i := range n {
				if c.Fresh[i] = !rare(4); c.Fresh[i] {
					v += float64((rng.Float64()-0.5)*lively) + logtest.Pick(rare(60), float64((rng.Float64()-0.5)*40), 0)
				}
				if c.Value[i] = v; rare(missing) {
					c.Value[i] = math.NaN()
				}
				if begins[i] || c.Value[i] != v {
					since, read = time[i], nil
				}
				if c.Fresh[i] && c.Value[i] == v {
					read = append(read, timed{time[i], v})
					for j := len(read) - 1; j >= 0; j-- {
						if dt := time[i] - read[j].time; dt >= 0.4-1e-6 {
							since = logtest.Pick(math.Abs((v-read[j].value)/dt) > bound*(1+1e-6), time[i], since)
							break
						}
					}
				}
				last[i] = max(last[i], since)
			}
		}
		got, want := make([]uint8, n), make([]uint8, n)
		for i := range want {
			want[i] = uint8(logtest.Pick(time[i]-last[i] < 1-1e-6, float64(NotSteady), 0))
		}
		for i, next := 0, 0; i < n; i = next {
			for next = i + 1; next < n && !begins[next] && !rare(50); next++ {
			}
			w.take(&run{time[i:next], columns, i, begins[i], got[i:next]})
		}
		if !slices.Equal(got, want) {
			t.Fatalf("got  %v\nwant %v", got, want)
		}
	})
}

// TestSettledCutAnywhere: which instants wait for the trim does not depend on where frames cut
// the log.
func TestSettledCutAnywhere(t *testing.T) {
	const n = 4000
	rng := rand.New(rand.NewPCG(5, 8))
	time, columns := make([]float64, n), make([]drivelog.Column, 4)
	for k := range columns {
		columns[k] = drivelog.Column{Value: make([]float64, n), Fresh: make([]bool, n)}
	}
	status, long := 2., 0.
	for i := range n {
		time[i] = float64(i) / 10
		if rng.IntN(60) == 0 {
			status = logtest.Pick(status == 2, 1, 2)
		}
		if rng.IntN(200) == 0 {
			long = float64(rng.NormFloat64() * 3)
		}
		for k, v := range []float64{status, logtest.Pick(rng.IntN(300) == 0, 0, 3), float64(rng.NormFloat64() * 2), long} {
			columns[k].Value[i], columns[k].Fresh[i] = logtest.Pick(rng.IntN(3) > 0, v, math.NaN()), rng.IntN(3) > 0
		}
	}
	judged := func(most int) []uint8 {
		s, why := settling{least: 3, status: 0, pulse: 1, trim: 2, long: []int{3}}, make([]uint8, n)
		for i, next := 0, 0; i < n; i = next {
			next = min(n, i+1+rng.IntN(most))
			s.take(&run{time[i:next], columns, i, i == 0, why[i:next]})
		}
		return why
	}
	want := judged(1)
	if waits := slices.Index(want, uint8(NotSettled)); waits < 0 || !slices.Contains(want[waits:], 0) {
		t.Fatal("nothing waits, or all does")
	}
	for _, most := range []int{2, 7, 50, 400} {
		if got := judged(most); !slices.Equal(got, want) {
			t.Errorf("cut into up to %d instants, others wait", most)
		}
	}
}

// TestNothingKeptGoesStraightThrough: a frame of which no instant is kept waits for no limit
// cycle, so that it is not copied.
func TestNothingKeptGoesStraightThrough(t *testing.T) {
	for _, c := range []struct {
		said []uint8
		want int
	}{{[]uint8{uint8(Cold), uint8(Cold)}, 1}, {[]uint8{uint8(Cold), 0}, 0}} {
		given := 0
		s := &Selector{status: -1, fn: func(*drivelog.Frame, []Reason) error { given++; return nil }}
		f := &drivelog.Frame{N: 2, Line: make([]int, 2), Time: []float64{0, 1}, Since: []float64{0, 1}, Stretch: make([]int, 2), Said: [][]uint8{c.said},
			Columns: []drivelog.Column{{Value: make([]float64, 2), Fresh: make([]bool, 2)}}}
		if err := s.frame(f); err != nil || given != c.want {
			t.Errorf("%v: %d frames went through, want %d; %v", c.said, given, c.want, err)
		}
	}
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
		l := NewLimiter(0, behind, [4]int{0, -1, 1, -1})
		f := frameOf(trims[0], trims[1])
		var got, want [3][2]float64
		for i := range f.N {
			l.Next(f, i, i == 0)
			for ch := range channels {
				l.Sample(ch, cell[i], 1)
				if ch != 1 && at[0][i] || ch != 0 && at[1][i] {
					want[ch][cell[i]]++
				}
			}
		}
		l.Finish(func(ch, cell int, weight float64) { got[ch][cell] += weight })
		for ch, name := range channels {
			for c := range want[ch] {
				if got := got[ch][c]; got != want[ch][c] {
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

// frameOf is eight readings a second of channels.
func frameOf(channels ...[]float64) *drivelog.Frame {
	f := &drivelog.Frame{N: len(channels[0])}
	for _, values := range channels {
		f.Columns = append(f.Columns, drivelog.Column{Value: values, Fresh: slices.Repeat([]bool{true}, len(values))})
	}
	for i := range f.N {
		f.Time, f.Stretch = append(f.Time, float64(i)/8), append(f.Stretch, 0)
	}
	f.Since = f.Time
	return f
}

// TestSettlingWithoutATrim: where no trim is logged the least time alone counts.
func TestSettlingWithoutATrim(t *testing.T) {
	path := logtest.CSV(t, "RPM,Fuel status", 100, func(i int) string { return fmt.Sprintf("1000,%v", logtest.Pick(i < 20, 1, 2)) })
	list, _ := reasons(t, path, "", FilterOptions{Use: []Filter{Settled}})
	if got, want := runs(list), "kept 0-19, trim not settled 20-49, kept 50-99"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}
