package sift

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"calsplice/interp/cells/logtest"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// TestStepsByHand: which steps of the mixture tell the delay of the sensor, and what
// they tell. The step is at 5 s, the sensor answers half a second later.
func TestStepsByHand(t *testing.T) {
	type at = func(s float64) float64
	step := func(from, to, when float64) at {
		return func(s float64) float64 { return logtest.Pick(s < when-1e-9, from, to) }
	}
	blip := func(f at, when, by float64) at {
		return func(s float64) float64 { return f(s) + logtest.Pick(math.Abs(s-when) < 0.01, by, 0) }
	}
	every := func(dt float64) (times []float64) {
		for i := range int(math.Round(10/dt)) + 1 {
			times = append(times, float64(i)*dt)
		}
		return times
	}
	down, answer := step(1, 0.5, 5), step(1, 0.5, 5.5)
	for _, c := range []struct {
		why           string
		times         []float64
		input, lambda at
		pulse         at // nil: not logged
		noInput       bool
		stale         func(s float64) bool
		parted        float64 // s at which a new stretch begins; 0 is none
		want          float64
		steps         int
	}{
		{why: "richer", times: every(0.1), input: down, lambda: answer, want: 0.5, steps: 1},
		{why: "leaner", times: every(0.1), input: step(0.5, 1, 5), lambda: step(0.5, 1, 5.5), want: 0.5, steps: 1},
		{why: "on the way, and half of it", times: every(0.1), input: down, lambda: func(s float64) float64 { return 1 - 0.5*min(1, max(0, (s-5)/1)) }, want: 0.5, steps: 1},
		{why: "0.041", times: every(0.1), input: step(1, 0.959, 5), lambda: answer, want: 0.5, steps: 1},
		{why: "0.039 is no step", times: every(0.1), input: step(1, 0.961, 5), lambda: answer},
		{why: "an answer of 0.021", times: every(0.1), input: down, lambda: step(1, 0.979, 5.5), want: 0.5, steps: 1},
		{why: "one of 0.019 is none", times: every(0.1), input: down, lambda: step(1, 0.981, 5.5)},
		{why: "nor one the other way", times: every(0.1), input: down, lambda: step(1, 1.5, 5.5)},
		{why: "unrest 1.3 s before", times: every(0.1), input: blip(down, 3.7, 0.02), lambda: answer},
		{why: "a little of it", times: every(0.1), input: blip(down, 3.7, 0.01), lambda: answer, want: 0.5, steps: 1},
		{why: "unrest 1.7 s before", times: every(0.1), input: blip(down, 3.3, 0.02), lambda: answer, want: 0.5, steps: 1},
		{why: "unrest 1.9 s after", times: every(0.1), input: blip(down, 6.9, -0.02), lambda: answer},
		{why: "unrest 2.1 s after", times: every(0.1), input: blip(down, 7.1, 0.02), lambda: answer, want: 0.5, steps: 1},
		{why: "an old value at the half", times: every(0.1), input: down, lambda: step(1, 0.5, 5.3), stale: func(s float64) bool { return s > 5.25 && s < 5.45 }, want: 0.5, steps: 1},
		{why: "each second after it is too seldom", times: append(every(0.1)[:50:50], 5, 6, 7, 8, 9), input: down, lambda: step(1, 0.5, 6)},
		{why: "each 0.65 s is not", times: append(every(0.1)[:50:50], 5, 5.65, 6.3, 6.95), input: down, lambda: step(1, 0.5, 5.65), want: 0.65, steps: 1},
		{why: "seldom before, often after", times: append([]float64{1, 2, 2.5, 3, 3.5, 4, 4.5}, every(0.1)[50:]...), input: down, lambda: answer, want: 0.5, steps: 1},
		{why: "a gap is no step", times: every(0.1), input: down, lambda: answer, parted: 5},
		{why: "a gap long before is none either", times: every(0.1), input: down, lambda: answer, parted: 1, want: 0.5, steps: 1},
		{why: "before the sensor is read", times: every(0.1), input: down, lambda: func(s float64) float64 { return logtest.Pick(s < 4.8, math.NaN(), answer(s)) }, want: 0.5, steps: 1},
		{why: "a fuel cut", times: every(0.1), noInput: true, pulse: step(3, 0.04, 5), lambda: step(1, 1.5, 5.5), want: 0.5, steps: 1},
		{why: "a fuel cut beside a mixture", times: every(0.1), input: step(1, 1, 0), pulse: step(3, 0.04, 5), lambda: step(1, 1.5, 5.5), want: 0.5, steps: 1},
		{why: "a pulse of 0.05 ms is no cut", times: every(0.1), noInput: true, pulse: step(3, 0.05, 5), lambda: step(1, 1.5, 5.5)},
		{why: "a shorter pulse is no step", times: every(0.1), input: down, pulse: step(3, 2, 4.5), lambda: answer, want: 0.5, steps: 1},
	} {
		f := &drivelog.Frame{N: len(c.times), Columns: make([]drivelog.Column, 1)}
		add := func(column int, v float64, fresh bool) {
			for len(f.Columns) <= column {
				f.Columns = append(f.Columns, drivelog.Column{})
			}
			f.Columns[column].Value, f.Columns[column].Fresh = append(f.Columns[column].Value, v), append(f.Columns[column].Fresh, fresh)
		}
		for _, s := range c.times {
			f.Time = append(f.Time, s)
			f.Stretch = append(f.Stretch, int(logtest.Pick(c.parted > 0 && s > c.parted-1e-9, 1, 0)))
			add(0, c.lambda(s), c.stale == nil || !c.stale(s))
			at := 1
			if !c.noInput {
				add(at, c.input(s), true)
				at++
			}
			if c.pulse != nil {
				add(at, c.pulse(s), true)
			}
		}
		s := &stepScan{commanded: 1, pulse: -1}
		if c.noInput {
			s.commanded = -1
		}
		if c.pulse != nil {
			s.pulse = len(f.Columns) - 1
		}
		if err := s.frame(f); err != nil {
			t.Fatal(err)
		}
		if len(s.delays) != c.steps || c.steps > 0 && math.Abs(s.delays[0]-c.want) > 1e-9 {
			t.Errorf("%s: %v, want %d of %v", c.why, s.delays, c.steps, c.want)
		}
	}
}

// TestMedianOfSteps: the delay is the median of the steps, of an even number the mean
// of the two in the middle; under three steps, or without a channel that has any,
// there is none, and that is said.
func TestMedianOfSteps(t *testing.T) {
	late := []float64{0.8, 0.2, 0.6, 0.5}
	row := func(columns func(input, lambda float64) string) func(i int) string {
		return func(i int) string {
			s := float64(i) / 10
			k := min(int(s/5), len(late)-1) // a step at 4, 9, 14 … s
			input := float64((int(s+1)/5)%2) / 2
			lambda := float64((int(s+1-late[k])/5)%2) / 2
			return "1000," + columns(input+1, lambda+1)
		}
	}
	both := row(func(input, lambda float64) string { return fmt.Sprintf("%v,%v", input, lambda) })
	for _, c := range []struct {
		why, header string
		rows        int
		row         func(i int) string
		delay       float64
		said        string
	}{
		{"four", "RPM,Lambda cmd,Lambda", 220, both, 0.55, "delay of lambda 0.55 s: the median of 4 steps, 0.20 to 0.80 s"},
		{"three", "RPM,Lambda cmd,Lambda", 170, both, 0.6, "delay of lambda 0.60 s: the median of 3 steps, 0.20 to 0.80 s"},
		{"two", "RPM,Lambda cmd,Lambda", 120, both, 0, "no delay of lambda applied: 2 clear steps are too few to tell it"},
		{"no channel with steps", "RPM,Lambda", 170, row(func(_, lambda float64) string { return fmt.Sprint(lambda) }), 0,
			"no delay of lambda applied: the log has neither lambda_commanded nor pulse_width, whose steps would tell it"},
		{"by a pulse of 1 ms and of none, in turn", "RPM,Injector PW (ms),Lambda", 170, row(func(input, lambda float64) string { return fmt.Sprintf("%v,%v", 3-2*input, lambda) }), 0.6,
			"delay of lambda 0.60 s: the median of 3 steps, 0.20 to 0.80 s"},
	} {
		log, err := drivelog.Open(logtest.CSV(t, c.header, c.rows, c.row), nil, drivelog.Options{})
		if err != nil {
			t.Fatal(err)
		}
		delay, said, err := StepDelay(context.Background(), log)
		log.Close()
		if err != nil || math.Abs(delay-c.delay) > 1e-9 || said != c.said {
			t.Errorf("%s: %v, %q, %v", c.why, delay, said, err)
		}
	}
}

// TestTurnsByHand: a turn counts once a reading lies 1 % from the furthest; the start
// is none, and a lower turning point is told when it is certain, at its own instant.
func TestTurnsByHand(t *testing.T) {
	for _, c := range []struct {
		why            string
		values         []float64
		valleys, count int
		at             int
	}{
		{"up and down", []float64{0, 2, 0}, 0, 1, 0},
		{"down and up", []float64{2, 0, 2}, 1, 1, 1},
		{"up, down and up", []float64{0, 2, 0, 2}, 1, 2, 2},
		{"within the band", []float64{0, 0.9, 0, 0.9, 0}, 0, 0, 0},
		{"at the band", []float64{0, 1, 0, 1}, 1, 2, 2},
		{"the furthest counts", []float64{2, 1, 0.5, 1.4, 1.5}, 1, 1, 2},
		{"and the first of two", []float64{2, 0, 0, 1}, 1, 1, 1},
		{"slowly up, and down", []float64{0, 0.5, 1, 1.5, 1, 0.6, 0.5}, 0, 1, 0},
		{"still", []float64{3, 3, 3}, 0, 0, 0},
	} {
		var u turns
		valleys := 0
		for i, v := range c.values {
			if u.next(v, i) {
				valleys++
			}
		}
		if valleys != c.valleys || u.valleys != valleys || u.count != c.count || valleys > 0 && u.at != c.at {
			t.Errorf("%s: %d valleys, the last at %d, %d turns; want %d, %d and %d", c.why, u.valleys, u.at, u.count, c.valleys, c.at, c.count)
		}
	}
}

// TestCyclesLaw: of each run of kept instants, what lies before its first lower turning
// point and after its last is part of a cycle, where there are two; where there are
// not, all of it is kept. Frames of any length give the same, each whole and in order.
func TestCyclesLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var trim, where []float64
		var fresh []bool
		var stretch []int
		parts := 0
		for range rapid.IntRange(1, 12).Draw(t, "runs") {
			if rapid.IntRange(0, 5).Draw(t, "gap") == 0 {
				parts++
			}
			keep := logtest.Pick(rapid.IntRange(0, 4).Draw(t, "dropped") > 0, 1, 0)
			for range rapid.IntRange(1, 12).Draw(t, "instants") {
				trim = append(trim, rapid.SampledFrom([]float64{-2, -0.5, 0, 0.5, 2, math.NaN()}).Draw(t, "trim"))
				fresh = append(fresh, rapid.IntRange(0, 3).Draw(t, "old") > 0)
				where, stretch = append(where, keep), append(stretch, parts)
			}
		}
		n := len(trim)
		want := make([]Reason, n)
		for from := 0; from < n; {
			to := from
			for to < n && stretch[to] == stretch[from] && where[to] == where[from] {
				to++
			}
			if where[from] == 0 {
				for i := from; i < to; i++ {
					want[i] = NotWhere
				}
			} else if v := valleysOf(trim, fresh, from, to); len(v) > 1 {
				for i := from; i < to; i++ {
					if i < v[0] || i >= v[len(v)-1] {
						want[i] = PartCycle
					}
				}
			}
			from = to
		}
		var got []Reason
		p := Selector{status: -1}
		p.fn = func(f *drivelog.Frame, why []Reason) error {
			if f.N != len(why) || !(math.Abs(f.Time[0]-float64(len(got))/10) < 1e-9) {
				t.Fatalf("a frame of %d instants, at %v s, after %d", f.N, f.Time[0], len(got))
			}
			got = append(got, why...)
			return nil
		}
		for from := 0; from < n; {
			to := min(n, from+rapid.IntRange(1, 20).Draw(t, "frame"))
			f := &drivelog.Frame{N: to - from, Stretch: stretch[from:to], Columns: []drivelog.Column{{Value: trim[from:to], Fresh: fresh[from:to]}}, Said: make([][]uint8, 1)}
			for i := from; i < to; i++ {
				f.Time = append(f.Time, float64(i)/10)
				f.Said[0] = append(f.Said[0], uint8(logtest.Pick(where[i] == 0, float64(NotWhere), float64(Kept))))
			}
			f.Since = f.Time
			if err := p.frame(f); err != nil {
				t.Fatal(err)
			}
			from = to
		}
		if err := p.finish(); err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got, want) {
			t.Fatalf("trims %v of %v, where %v, stretches %v:\n%s, want\n%s", trim, fresh, where, stretch, runs(got), runs(want))
		}
	})
}

// valleysOf are the lower turning points of a run, found by looking at all of it: from
// the lowest reading since the last upper turning point, up by 1 % or more.
func valleysOf(trim []float64, fresh []bool, from, to int) (at []int) {
	low, high, falling, any := -1, math.Inf(-1), false, false
	for i := from; i < to; i++ {
		v := trim[i]
		if !fresh[i] || v != v {
			continue
		}
		if !any {
			any, low, high = true, i, v
			continue
		}
		switch {
		case !falling:
			if high = max(high, v); v < trim[low] {
				low = i
			}
			if v <= high-1 {
				falling, low = true, i
			} else if v >= trim[low]+1 { // rising for certain: what lay lower is no turning point
				low = i
			}
		case v < trim[low]:
			low = i
		case v >= trim[low]+1:
			at = append(at, low)
			falling, high = false, v
		}
	}
	return at
}

// TestNoCycleForTooLong: a trim without a turn for twenty seconds is no limit cycle:
// what waits is kept, and a new run begins.
func TestNoCycleForTooLong(t *testing.T) {
	still := func(rows int) string {
		return logtest.CSV(t, "RPM,STFT (%)", rows, func(i int) string {
			return fmt.Sprintf("1000,%v", []float64{0, 3, 0, 3, 0, 3}[min(i/10, 5)]) // valleys at 20 and 40, certain at 30 and 50
		})
	}
	list, _ := reasons(t, still(500), "", FilterOptions{Use: []Filter{Cycles}})
	if got, want := runs(list), "incomplete limit cycle 0-19, kept 20-499"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	// What follows is a run of its own, with a first and a last cycle.
	again := logtest.CSV(t, "RPM,STFT (%)", 500, func(i int) string {
		return fmt.Sprintf("1000,%d", 3*(i/10%2)*int(logtest.Pick(i < 60 || i >= 400, 1, 0))+int(logtest.Pick(i >= 60 && i < 400, 3, 0)))
	})
	list, _ = reasons(t, again, "", FilterOptions{Use: []Filter{Cycles}})
	if got, want := runs(list), "incomplete limit cycle 0-19, kept 20-251, incomplete limit cycle 252-399, kept 400-479, incomplete limit cycle 480-499"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	// One that never turned again before the end is the beginning of a cycle.
	list, _ = reasons(t, still(250), "", FilterOptions{Use: []Filter{Cycles}})
	if got, want := runs(list), "incomplete limit cycle 0-19, kept 20-39, incomplete limit cycle 40-249"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// TestSelectWithoutColumns: nothing but a filter is asked of a log; a reason of one
// frame says nothing of the next.
func TestSelectWithoutColumns(t *testing.T) {
	open := func(header string, n int, row func(i int) string) *drivelog.Log {
		log, err := drivelog.Open(logtest.CSV(t, header, n, row), nil, drivelog.Options{})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { log.Close() })
		return log
	}
	for header, opt := range map[string]FilterOptions{"RPM,STFT (%)": {Use: []Filter{Cycles}}, "RPM,STFT B2 (%)": {Use: []Filter{Cycles}}} {
		var list []Reason
		sel, err := selectFrom(context.Background(), open(header, 200, func(i int) string { return fmt.Sprintf("1000,%.3f", 3*math.Sin(2*math.Pi*float64(i)/20)) }), nil, "", opt,
			func(_ *drivelog.Frame, why []Reason) error { list = append(list, why...); return nil })
		if got, want := runs(list), "incomplete limit cycle 0-14, kept 15-194, incomplete limit cycle 195-199"; err != nil || got != want || dropped(sel, PartCycle) != 20 {
			t.Errorf("%s: %s, want %s (%v, %v)", header, got, want, sel.Dropped, err)
		}
	}
	var list []Reason
	_, err := selectFrom(context.Background(), open("RPM", 20, func(i int) string { return fmt.Sprint(1000 + i/10) }), nil, "engine_speed > 1000", FilterOptions{},
		func(_ *drivelog.Frame, why []Reason) error { list = append(list, why...); return nil })
	if got, want := runs(list), "outside --where 0-9, kept 10-19"; err != nil || got != want {
		t.Errorf("%s, want %s (%v)", got, want, err)
	}
	const rows = 30_000
	list = nil
	_, err = selectFrom(context.Background(), open("RPM,ECT", rows, func(i int) string { return fmt.Sprintf("1000,%v", logtest.Pick(i < rows/2, 20, 90)) }), nil, "", FilterOptions{Use: []Filter{Warm}},
		func(_ *drivelog.Frame, why []Reason) error { list = append(list, why...); return nil })
	if got, want := runs(list), fmt.Sprintf("cold 0-%d, kept %d-%d", rows/2-1, rows/2, rows-1); err != nil || got != want {
		t.Errorf("%s, want %s (%v)", got, want, err)
	}
}

// TestRatesByHand: what a rate is taken over and what is said of channels that a log
// lacks; where a channel has no reading the engine is not known to be steady.
func TestRatesByHand(t *testing.T) {
	list, sel := reasons(t, logtest.CSV(t, "RPM,MAP", 100, func(i int) string { return "1000," + pickText(i >= 40 && i < 62, "", "50") }), "", FilterOptions{Use: []Filter{Rates}})
	// A reading stands for two seconds: from 40 on it is the last one, at 60 there is none.
	if got, want := runs(list), "not steady 0-9, kept 10-59, not steady 60-70, kept 71-99"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got := strings.Join(sel.Notes, "\n"); got != "filter rates goes without throttle: the log has none" {
		t.Errorf("said %q", got)
	}
	_, sel = reasons(t, logtest.CSV(t, "RPM,Throttle (%)", 20, func(i int) string { return "1000,5" }), "", FilterOptions{Use: []Filter{Rates}})
	if got := strings.Join(sel.Notes, "\n"); got != "filter rates goes without load or manifold_pressure: the log has none" {
		t.Errorf("said %q", got)
	}
}

// TestBoundsAreDecimal: wherever in a log something changes, it leaves out as many rows, and a
// change of just the bound none, whatever doubles make of tenths of a second.
func TestBoundsAreDecimal(t *testing.T) {
	of := func(header string, use Filter, row func(i int) string) string {
		list, _ := reasons(t, logtest.CSV(t, header, 100, row), "", FilterOptions{Use: []Filter{use}})
		return runs(list)
	}
	for k := 20; k < 60; k++ {
		// A rate is taken over 0.4 s, and must then have been small for 1 s.
		got := of("RPM,MAP", Rates, func(i int) string { return fmt.Sprintf("%v,50", logtest.Pick(i < k, 1000, 2000)) })
		if want := fmt.Sprintf("not steady 0-9, kept 10-%d, not steady %d-%d, kept %d-99", k-1, k, k+12, k+13); got != want {
			t.Errorf("speed jumps at row %d: %s, want %s", k, got, want)
		}
		got = of("RPM,LTFT (%)", Settled, func(i int) string { return fmt.Sprintf("1000,%v", logtest.Pick(i < k, 0, 2)) })
		if want := fmt.Sprintf("kept 0-%d, trim not settled %d-%d, kept %d-99", k-1, k, k+29, k+30); got != want {
			t.Errorf("the long trim jumps at row %d: %s, want %s", k, got, want)
		}
	}
	if got, want := of("RPM,MAP", Rates, func(i int) string { return fmt.Sprintf("%d,50", 1000+30*i) }), "not steady 0-9, kept 10-99"; got != want {
		t.Errorf("300 r/min each second: %s, want %s", got, want)
	}
}

// TestSettledByHand: what begins the wait for a trim and what does not: a pulse of just
// 0.05 ms is none, nor a status that is not read.
func TestSettledByHand(t *testing.T) {
	for _, c := range []struct {
		why, header string
		row         func(i int) string
		want        string
	}{
		{"just no cut", "RPM,Injector PW (ms),LTFT (%)", func(i int) string { return fmt.Sprintf("1000,%v,0", logtest.Pick(i < 20 || i >= 40, 3, 0.05)) }, "kept 0-99"},
		{"a status that is not read for a while", "RPM,Fuel status,LTFT (%)", func(i int) string { return "1000," + pickText(i >= 20 && i < 60, "", "2") + ",0" }, "kept 0-99"},
		{"an open loop", "RPM,Fuel status,LTFT (%)", func(i int) string { return "1000," + pickText(i >= 20 && i < 60, "1", "2") + ",0" }, "kept 0-59, trim not settled 60-89, kept 90-99"},
		{"a cut that the pulse tells and the status does not", "RPM,Fuel status,Injector PW (ms),LTFT (%)", func(i int) string { return fmt.Sprintf("1000,2,%v,0", logtest.Pick(i < 20 || i >= 40, 3, 0.04)) },
			"kept 0-39, trim not settled 40-69, kept 70-99"},
		{"a learned cell that the short trim takes 5 s to follow", "RPM,STFT (%),LTFT (%)", func(i int) string {
			return fmt.Sprintf("1000,%.2f,%v", max(0, 10-max(0, float64(i-20)*0.2)), logtest.Pick(i < 20, 0, 2))
		}, "kept 0-19, trim not settled 20-80, kept 81-99"},
		{"a learned cell before the loop opens and closes", "RPM,Fuel status,LTFT (%)", func(i int) string {
			return fmt.Sprintf("1000,%v,%v", logtest.Pick(i >= 40 && i < 50, 1, 2), logtest.Pick(i < 10, 0, 2))
		},
			"kept 0-9, trim not settled 10-39, kept 40-49, trim not settled 50-79, kept 80-99"},
		{"a learned cell 1.2 % away", "RPM,LTFT (%)", func(i int) string { return fmt.Sprintf("1000,%v", logtest.Pick(i < 50, 0, 1.2)) }, "kept 0-49, trim not settled 50-79, kept 80-99"},
		{"1.1 % away", "RPM,LTFT (%)", func(i int) string { return fmt.Sprintf("1000,%v", logtest.Pick(i < 50, 0, 1.1)) }, "kept 0-99"},
		{"a loop that closes unread, its status polled every five seconds", "RPM,Fuel status,LTFT (%)", func(i int) string { return "1000," + pickText(i%50 == 0, pickText(i == 0, "1", "2"), "") + ",0" },
			"kept 0-49, trim not settled 50-79, kept 80-99"},
		{"a learned cell that changes unread, its trim polled every five seconds", "RPM,LTFT (%)", func(i int) string { return "1000," + pickText(i%50 == 0, pickText(i == 0, "3", "0"), "") },
			"kept 0-49, trim not settled 50-79, kept 80-99"},
		{"downwards", "RPM,LTFT B2 (%)", func(i int) string { return fmt.Sprintf("1000,%v", logtest.Pick(i < 50, 0, -1.2)) }, "kept 0-49, trim not settled 50-79, kept 80-99"},
	} {
		list, _ := reasons(t, logtest.CSV(t, c.header, 100, c.row), "", FilterOptions{Use: []Filter{Settled}})
		if got := runs(list); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.why, got, c.want)
		}
	}
}

// TestLearnedOverAGap: what the long trim was before a gap in the log is no learned cell
// that the controller left.
func TestLearnedOverAGap(t *testing.T) {
	text := "time (s),RPM,LTFT (%)\n"
	for i := range 100 {
		text += fmt.Sprintf("%.1f,1000,%v\n", float64(i)/10+logtest.Pick(i < 50, 0, 60), logtest.Pick(i < 50, 0, 5))
	}
	path := filepath.Join(t.TempDir(), "gap.csv")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	log, err := drivelog.Open(path, nil, drivelog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close()
	var list []Reason
	_, err = selectFrom(context.Background(), log, []string{"engine_speed"}, "", FilterOptions{Use: []Filter{Settled}}, func(_ *drivelog.Frame, why []Reason) error {
		list = append(list, why...)
		return nil
	})
	if got := runs(list); err != nil || got != "kept 0-99" {
		t.Error(got, err)
	}
}

// TestEventsOnAMap: the cell of an event is its peak's row and column; where an axis
// has no reading there is none.
func TestEventsOnAMap(t *testing.T) {
	path := logtest.CSV(t, "RPM,MAP,KR (deg)", 30, func(i int) string {
		return fmt.Sprintf("%v,%s,%v", logtest.Pick(i < 15, 1000, 3000), pickText(i < 9, "", pickText(i < 20, "40", "90")), []float64{0, 0, 4, 0, 0}[i%5])
	})
	got := ""
	for _, e := range eventsOf(t, path, "knock_retard", 1, logtest.Axis(t, "engine_speed", 1000, 2000, 3000), logtest.Axis(t, "manifold_pressure", 40, 60, 80)) {
		got += fmt.Sprintf("%.1f s:", e.Start)
		if e.Cell != nil {
			got += fmt.Sprint(*e.Cell)
		}
		got += " "
	}
	if want := "0.2 s: 0.7 s: 1.2 s:[0 0] 1.7 s:[0 2] 2.2 s:[2 2] 2.7 s:[2 2] "; got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	path = logtest.CSV(t, "MAP,KR (deg)", 10, func(i int) string { return fmt.Sprintf("80,%d", i/5) })
	if e := eventsOf(t, path, "knock_retard", 0, logtest.Axis(t, "manifold_pressure", 40, 60, 80), nil); len(e) != 1 || *e[0].Cell != [2]int{0, 2} {
		t.Errorf("along a curve: %+v", e)
	}
}

// TestPeakOfACell: events under load have the word before those after a lift, in
// whatever order they come; an event without a cell is in none.
func TestPeakOfACell(t *testing.T) {
	lift, load := true, false
	for _, c := range []struct {
		why  string
		list []Event
		peak float64
	}{
		{"a lift, then load", []Event{{Peak: 9, AfterLift: &lift}, {Peak: 3, AfterLift: &load}}, 3},
		{"load, then a lift", []Event{{Peak: 3, AfterLift: &load}, {Peak: 9, AfterLift: &lift}}, 3},
		{"load twice", []Event{{Peak: 3, AfterLift: &load}, {Peak: 5}}, 5},
		{"the other way round", []Event{{Peak: 5}, {Peak: 3, AfterLift: &load}}, 5},
		{"lifts alone", []Event{{Peak: 7, AfterLift: &lift}, {Peak: 9, AfterLift: &lift}}, 9},
		{"the other way round", []Event{{Peak: 9, AfterLift: &lift}, {Peak: 7, AfterLift: &lift}}, 9},
		{"in turn", []Event{{Peak: 9, AfterLift: &lift}, {Peak: 2}, {Peak: 8, AfterLift: &lift}, {Peak: 3}}, 3},
	} {
		for i := range c.list {
			c.list[i].Cell, c.list[i].Duration = &[2]int{1, 2}, 2
		}
		s := summaryOf(append(c.list, Event{Peak: 11, Duration: 1}))
		if cells := s.Cells(); len(cells) != 1 || cells[0].Peak != c.peak || cells[0].Events != len(c.list) || cells[0].Seconds != float64(2*len(c.list)) || s.Peak != 11 || s.Events != len(c.list)+1 {
			t.Errorf("%s: %+v, want a peak of %v", c.why, s, c.peak)
		}
	}
}

// TestWorstCellFirst: the worst cell has the most events under load, among equals the
// longest, and then the first on the grid.
func TestWorstCellFirst(t *testing.T) {
	lift := true
	event := func(row, column int, seconds float64, after *bool) Event {
		return Event{Cell: &[2]int{row, column}, Duration: seconds, AfterLift: after}
	}
	s := summaryOf([]Event{event(0, 0, 9, &lift), event(0, 0, 9, &lift), event(0, 0, 9, &lift), event(2, 1, 1, nil), event(2, 0, 1, nil), event(1, 1, 2, nil), event(3, 3, 0.1, nil), event(3, 3, 0.1, nil)})
	got := ""
	for _, c := range s.Cells() {
		got += fmt.Sprint(c.Cell)
	}
	if got != "[3 3][1 1][2 0][2 1][0 0]" {
		t.Error(got)
	}
}

// TestThrottleReadInTurn: where throttle and knock are read in turn, the lowest throttle
// of an event is what is read in it, and not what came before.
func TestThrottleReadInTurn(t *testing.T) {
	row := []string{"2,,0", "60,,0", "60,,0", "60,,0", "60,,0", "60,,0", "60,,0", "60,,0", "60,,0", "60,,0", "60,,0", "60,,0", "60,,0", "20,,", ",,1", "20,,", "25,,3", ",,0"}
	path := logtest.CSV(t, "TPS (%),RPM,KR (deg)", len(row), func(i int) string { return row[i] })
	age := 0.
	log, err := drivelog.Open(path, nil, drivelog.Options{MaxAge: &age})
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close()
	list, err := listed(log, "knock_retard", 0.5, nil, nil)
	for _, e := range list {
		if e.Peak == 3 && (e.AfterLift == nil || !*e.AfterLift) {
			t.Errorf("%+v", e)
		}
	}
	if err != nil || len(list) == 0 {
		t.Errorf("%+v, %v", list, err)
	}
}

// TestCutByTheThrottle: without a pulse, and where no status is asked, a cut is told by
// throttle and speed, and needs a reading of both; a mixture of 0.4 is never asked for.
func TestCutByTheThrottle(t *testing.T) {
	for _, c := range []struct {
		header string
		row    func(i int) string
	}{
		{"RPM,Throttle (%)", func(i int) string { return "1000," + pickText(i < 50, "", "20") }}, {"RPM,Throttle (%)", func(i int) string { return pickText(i < 50, "", "1000") + ",20" }},
	} {
		list, _ := reasons(t, logtest.CSV(t, c.header, 100, c.row), "", FilterOptions{Use: []Filter{Overrun}})
		if got, want := runs(list), "no reading of a channel that a filter needs 0-49, kept 50-99"; got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	log, err := drivelog.Open(logtest.CSV(t, "Throttle (%)", 20, func(int) string { return "5" }), nil, drivelog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close()
	if _, err := selectFrom(context.Background(), log, nil, "", FilterOptions{Use: []Filter{Overrun}}, nil); err == nil || err.Error() != "filter overrun needs pulse_width, or throttle and engine_speed, which the log does not have" {
		t.Errorf("without a speed: %v", err)
	}
	cut := logtest.CSV(t, "RPM,Throttle (%),Fuel status", 100, func(i int) string { return "2500," + pickText(i < 50, "20,2", "3,4") })
	for _, c := range []struct {
		use  []Filter
		want string
	}{{[]Filter{Overrun}, "kept 0-49, fuel cut on the overrun 50-99"}, {[]Filter{ClosedLoop, Overrun}, "kept 0-49, not closed loop 50-99"}} {
		if list, _ := reasons(t, cut, "", FilterOptions{Use: c.use}); runs(list) != c.want {
			t.Errorf("%v with a status: %s, want %s", c.use, runs(list), c.want)
		}
	}
	list, _ := reasons(t, logtest.CSV(t, "RPM,Commanded lambda", 100, func(i int) string { return fmt.Sprintf("1000,%v", logtest.Pick(i < 50, 0.4, 0.41)) }), "", FilterOptions{Use: []Filter{Enrichment}})
	if got, want := runs(list), "kept 0-49, commanded enrichment 50-99"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if !Delayed("lambda") || !Delayed("mixture_error") || Delayed("trim") || Delayed("lambda_commanded") {
		t.Error("what is read in the exhaust is lambda and the mixture's error")
	}
}

// TestLogTwice: a log is there twice by what is in it, under one name or two; the list
// itself stays in its order.
func TestLogTwice(t *testing.T) {
	for _, c := range []struct {
		logs []LogID
		want string
	}{
		{nil, ""},
		{[]LogID{{"f", "a.csv"}}, ""},
		{[]LogID{{"f", "a.csv"}, {"g", "a.csv"}}, ""},
		{[]LogID{{"f", "b.csv"}, {"g", "c.csv"}, {"f", "a.csv"}}, "logs a.csv and b.csv are the same log: its samples would count twice"},
		{[]LogID{{"f", "a.csv"}, {"g", "b.csv"}, {"f", "a.csv"}}, "log a.csv is there twice: its samples would count twice"},
	} {
		before := slices.Clone(c.logs)
		err := Twice(c.logs)
		if got := fmt.Sprint(err); (err != nil) != (c.want != "") || err != nil && got != c.want || !slices.Equal(before, c.logs) {
			t.Errorf("%v: %v, want %s", before, err, c.want)
		}
	}
}

// TestLearned: a long trim has gone as far as it wants where its short one moves and
// asks for less than a step of 0.78 % on that side.
func TestLearned(t *testing.T) {
	for _, c := range []struct {
		why           string
		sum, min, max float64
		want          bool
	}{
		{"moves about 0", 0, -1, 1, true}, {"asks for a step", 7.8125, 0, 2, false}, {"for a little less", 7.8, 0, 2, true}, {"stands still", 0, 0, 0, false}, {"takes some back", -40, -5, -3, true},
	} {
		s := &side{readings: 10, beside: moving{c.sum, c.min, c.max}}
		if got := s.learned(); got != c.want {
			t.Errorf("%s: %v", c.why, got)
		}
	}
}

// TestFromSkipsNothing: what is passed over on the way to the next instant of interest
// stands for nothing: the first instant at which a trim reaches as far as so far, or
// as a given limit, is where it stops, also past 64 instants.
func TestFromSkipsNothing(t *testing.T) {
	for _, c := range []struct {
		why      string
		limit    float64
		at       int
		v        float64
		want     int
		standing bool
	}{
		{"8 %", 0, 70, 8, 70, false}, {"−8 %", 0, 70, -8, 70, false}, {"7.9 %", 0, 70, 7.9, 200, false}, {"a given 5 %", 5, 64, 5, 64, false}, {"a given 5 %, downwards", 5, 63, -5, 63, false},
		{"4.9 %", 5, 63, 4.9, 200, false}, {"standing", 0, 70, 8, 3, true},
	} {
		trim := make([]float64, 200)
		trim[c.at], trim[c.at+2], trim[150] = c.v, c.v, c.v
		l := NewLimiter(c.limit, []uint8{1}, [4]int{0, -1, -1, -1})
		if c.standing {
			l.standing = 1
		}
		if got := l.From(frameOf(trim), 3); got != c.want {
			t.Errorf("%s: instant %d, want %d", c.why, got, c.want)
		}
	}
	l := NewLimiter(0, []uint8{1}, [4]int{0, -1, -1, -1})
	l.sides[0].extreme, l.sides[1].extreme = 12, 9
	for v, want := range map[float64]int{12: 70, 11.9: 200, -9: 70, -8.9: 200} {
		trim := make([]float64, 200)
		trim[70] = v
		if got := l.From(frameOf(trim), 0); got != want {
			t.Errorf("%v %% after 12 and −9: instant %d, want %d", v, got, want)
		}
	}
	if got := l.From(frameOf(make([]float64, 200)), 200); got != 200 {
		t.Errorf("past the end: %d", got)
	}
}

// TestRunsAtALimit: a run at a limit is of new readings, without a gap, a reading that
// is none, or a long trim that is where it wants to be.
func TestRunsAtALimit(t *testing.T) {
	const n = 60
	for _, c := range []struct {
		why  string
		how  func(f *drivelog.Frame)
		gap  int // instant of a new stretch
		want float64
	}{
		{"unbroken", func(*drivelog.Frame) {}, -1, n},
		{"a gap amid, each part long enough", func(*drivelog.Frame) {}, 30, n},
		{"a gap that leaves one part too short", func(*drivelog.Frame) {}, 9, n - 9},
		{"no reading amid", func(f *drivelog.Frame) { f.Columns[1].Value[9] = math.NaN() }, -1, n - 10},
		{"nine readings", func(f *drivelog.Frame) {
			for i := range f.Columns[1].Fresh {
				f.Columns[1].Fresh[i] = i%6 == 0 && i > 0
			}
		}, -1, 0},
		{"ten readings", func(f *drivelog.Frame) {
			for i := range f.Columns[1].Fresh {
				f.Columns[1].Fresh[i] = i%6 == 0
			}
		}, -1, n},
		{"the short one swings about 0", func(f *drivelog.Frame) {
			for i := range n {
				f.Columns[0].Value[i] = float64(i%3 - 1)
			}
		}, -1, 0},
		{"the short one swings, and is needed", func(f *drivelog.Frame) {
			for i := range n {
				f.Columns[0].Value[i] = float64(i%3 + 3)
			}
		}, -1, n},
		{"the short one is never read", func(f *drivelog.Frame) {
			for i := range n {
				f.Columns[0].Value[i] = math.NaN()
			}
		}, -1, n},
	} {
		f := frameOf(make([]float64, n), slices.Repeat([]float64{9.9}, n))
		c.how(f)
		l := NewLimiter(0, []uint8{0b0010}, [4]int{0, 1, -1, -1})
		for i := range n {
			l.Next(f, i, i == c.gap)
			if f.Columns[1].Value[i] == 9.9 {
				l.Sample(0, 0, 1)
			}
		}
		got := 0.0
		l.Finish(func(_, _ int, weight float64) { got += weight })
		if got != c.want {
			t.Errorf("%s: %v samples at the limit, want %v", c.why, got, c.want)
		}
	}
}

// TestForgottenRunParts: what was recorded before a run that is forgotten is a record of
// its own: bank 1 leaves its extreme for five instants and comes back for too short a
// time while bank 2 passes through its own.
func TestForgottenRunParts(t *testing.T) {
	one := slices.Concat(slices.Repeat([]float64{-12}, 27), slices.Repeat([]float64{-9}, 5), slices.Repeat([]float64{-12}, 10))
	two := slices.Concat(slices.Repeat([]float64{-12}, 16), slices.Repeat([]float64{9}, 16), slices.Repeat([]float64{-9}, 10))
	l := NewLimiter(0, []uint8{0b0101}, [4]int{0, -1, 1, -1})
	f := frameOf(one, two)
	for i := range f.N {
		l.Next(f, i, i == 0)
		l.Sample(0, 0, 1)
	}
	got := 0.0
	l.Finish(func(_, _ int, weight float64) { got += weight })
	if got != 27 {
		t.Errorf("%v samples at the limit, want 27: those of bank 1's first run", got)
	}
}

// TestNoFilterNoLine: bounds of filters that are not asked for are no part of a
// question.
func TestNoFilterNoLine(t *testing.T) {
	if got := (FilterOptions{SpeedRate: 99}).String(); got != "" {
		t.Errorf("%q", got)
	}
	if got := (FilterOptions{Steady: true, Not: []Filter{Cycles, Settled, Rates, Purge, Enrichment}}).String(); got != "closed-loop warm overrun" {
		t.Errorf("%q", got)
	}
	if err := (FilterOptions{Not: []Filter{"wram"}}).Validate(); err == nil || !strings.HasPrefix(err.Error(), `there is no filter "wram": there are closed-loop, warm,`) {
		t.Errorf("%v", err)
	}
}

// TestEffectivePulse: the pulse less the offset at the reading's pressure and voltage,
// in ms whatever the table's unit; nothing where there is no one table of offsets that
// can be computed with.
func TestEffectivePulse(t *testing.T) {
	axis := func(q, u string, points ...float64) *tables.Axis {
		a, err := tables.NewAxis(q, u, points)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	cal := func(list ...tables.Fields) *tables.Calibration {
		var c tables.Contents
		for i, f := range list {
			f.ID, f.Role = fmt.Sprintf("t%d", i), tables.InjectorOffset
			table, err := tables.NewTable(f)
			if err != nil {
				t.Fatal(err)
			}
			c.Tables = append(c.Tables, table)
		}
		doc, err := tables.NewCalibration(c)
		if err != nil {
			t.Fatal(err)
		}
		return doc
	}
	volts := tables.Fields{Unit: "us", X: axis("battery voltage", "V", 10, 14), Values: []float64{1500, 1000}}
	both := volts
	both.Y, both.Values = axis("differential pressure", "kPa", 200, 400), []float64{1500, 1000, 2500, 2000}
	for _, c := range []struct {
		why    string
		cal    *tables.Calibration
		inputs string
		in     []float64
		want   float64
	}{
		{"along voltage", cal(volts), "[pulse_width battery]", []float64{4, 12}, 2.75},
		{"along both", cal(both), "[pulse_width battery differential_pressure]", []float64{4, 12, 300}, 2.25},
		{"a scalar", cal(tables.Fields{Unit: "ms", Values: []float64{0.5}}), "[pulse_width]", []float64{4}, 3.5},
	} {
		d := EffectivePulse(c.cal)
		if d == nil || fmt.Sprint(d.Inputs) != c.inputs || math.Abs(d.Func(c.in)-c.want) > 1e-12 {
			t.Errorf("%s: %+v", c.why, d)
		}
	}
	for why, c := range map[string]*tables.Calibration{"none": cal(), "two": cal(volts, volts), "an axis of what it gives": cal(tables.Fields{Unit: "ms", X: axis(tables.EffectivePulse, "ms", 1, 2), Values: []float64{1, 2}}),
		"an axis of another kind": cal(tables.Fields{Unit: "ms", X: axis("mood", "", 1, 2), Values: []float64{1, 2}})} {
		if d := EffectivePulse(c); d != nil {
			t.Errorf("%s: %+v", why, d)
		}
	}
}
