package sift

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"calsplice/interp/cells/logtest"
	"calsplice/tables/drivelog"

	"pgregory.net/rapid"
)

// reasons runs the filters over a log and is the reason of each row.
func reasons(t testing.TB, path, where string, opt FilterOptions) ([]Reason, *Selection) {
	t.Helper()
	log, err := drivelog.Open(path, nil, drivelog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close()
	var list []Reason
	sel, err := selectFrom(context.Background(), log, []string{"engine_speed"}, where, opt, func(f *drivelog.Frame, why []Reason) error {
		for i := range f.N {
			if want := float64(len(list)) / 10; math.Abs(f.Time[i]-want) > 1e-9 {
				return fmt.Errorf("instant %d is at %v s, want %v", len(list), f.Time[i], want)
			}
			list = append(list, why[i])
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return list, sel
}

// runs writes a list of reasons as runs: "kept 0-49, cold 50-99".
func runs(list []Reason) string {
	var s []string
	for i := 0; i < len(list); {
		j := i
		for j < len(list) && list[j] == list[i] {
			j++
		}
		s = append(s, fmt.Sprintf("%s %d-%d", list[i], i, j-1))
		i = j
	}
	return strings.Join(s, ", ")
}

func TestFilters(t *testing.T) {
	for _, tc := range []struct {
		why, header string
		row         func(i int) string
		where       string
		opt         FilterOptions
		want        string
	}{
		{"no filter but those asked for", "RPM,ECT,Fuel status,Purge (%)",
			func(i int) string { return fmt.Sprintf("%d,20,1,50", 800+i*20) }, "", FilterOptions{}, "kept 0-99"},
		{"a condition", "RPM", func(i int) string { return fmt.Sprint(1000 + i) }, "engine_speed >= 1050", FilterOptions{},
			"outside --where 0-49, kept 50-99"},
		{"status 2 and 16 are closed loop, text too", "RPM,Fuel status",
			func(i int) string { return "1000," + []string{"1", "2", "4", "8", "16"}[i/20] }, "", FilterOptions{Use: []Filter{ClosedLoop}},
			"not closed loop 0-19, kept 20-39, not closed loop 40-79, kept 80-99"},
		{"70 degrees are warm", "RPM,ECT", func(i int) string { return fmt.Sprintf("1000,%d", 20+i) }, "", FilterOptions{Use: []Filter{Warm}},
			"cold 0-49, kept 50-99"},
		{"0 degrees are 0, and not the usual 70", "RPM,ECT", func(i int) string { return fmt.Sprintf("1000,%d", i-50) }, "",
			FilterOptions{Use: []Filter{Warm}, WarmAt: new(float64)}, "cold 0-49, kept 50-99"},
		{"the first filter that leaves a row out counts", "RPM,ECT,Fuel status",
			func(i int) string { return fmt.Sprintf("1000,%d,%v", 20+i, logtest.Pick(i < 60, 1, 2)) }, "",
			FilterOptions{Use: []Filter{Warm, ClosedLoop}}, "not closed loop 0-59, kept 60-99"},
		{"no pulse is a fuel cut", "RPM,Injector PW (ms)", func(i int) string { return fmt.Sprintf("1000,%v", logtest.Pick(i < 30 || i > 49, 3, 0)) }, "",
			FilterOptions{Use: []Filter{Overrun}}, "kept 0-29, fuel cut on the overrun 30-49, kept 50-99"},
		{"without a pulse, a closed throttle at speed", "RPM,Throttle (%)",
			func(i int) string {
				return fmt.Sprintf("%v,%v", logtest.Pick(i < 80, 2500, 900), logtest.Pick(i < 30, 20, 3))
			}, "",
			FilterOptions{Use: []Filter{Overrun}}, "kept 0-29, fuel cut on the overrun 30-79, kept 80-99"},
		{"a mixture commanded rich", "RPM,Commanded lambda", func(i int) string { return fmt.Sprintf("1000,%v", logtest.Pick(i < 50, 1, .88)) }, "",
			FilterOptions{Use: []Filter{Enrichment}}, "kept 0-49, commanded enrichment 50-99"},
		{"purge", "RPM,Purge (%)", func(i int) string { return fmt.Sprintf("1000,%v", logtest.Pick(i < 50, 0, 12)) }, "",
			FilterOptions{Use: []Filter{Purge}}, "kept 0-49, purge 50-99"},
		{"a step of speed, and a second after it; a slow rise is steady", "RPM", func(i int) string { return fmt.Sprintf("%v", logtest.Pick(i < 50, 1000+5*float64(i), 2000)) }, "",
			FilterOptions{Use: []Filter{Rates}}, "not steady 0-9, kept 10-49, not steady 50-62, kept 63-99"},
		{"the loop closes, and the trim winds up to what it needs", "RPM,Fuel status,STFT (%),LTFT (%)",
			func(i int) string {
				return fmt.Sprintf("1000,%v,%.2f,0", logtest.Pick(i < 20, 1, 2), min(max(float64(i-20), 0)*.2, 12))
			}, "", FilterOptions{Use: []Filter{Settled}}, "kept 0-19, trim not settled 20-90, kept 91-199"},
		{"a learned cell changes: the long trim jumps, the short one takes it back", "RPM,Fuel status,STFT (%),LTFT (%)",
			func(i int) string {
				return fmt.Sprintf("1000,2,%.2f,%v", logtest.Pick(i < 100, 6, max(6-float64(i-100)*.15, 0)), logtest.Pick(i < 100, 0, 6))
			}, "", FilterOptions{Use: []Filter{Settled}}, "kept 0-99, trim not settled 100-149, kept 150-199"},
		{"whole limit cycles of two seconds; part of one at either end goes", "RPM,STFT (%)",
			func(i int) string { return fmt.Sprintf("1000,%.3f", 3*math.Sin(2*math.Pi*float64(i)/20)) }, "",
			FilterOptions{Use: []Filter{Cycles}}, "incomplete limit cycle 0-14, kept 15-194, incomplete limit cycle 195-199"},
		{"a trim that stands still is no limit cycle", "RPM,STFT (%)", func(i int) string { return "1000,4" }, "",
			FilterOptions{Use: []Filter{Cycles}}, "kept 0-99"},
	} {
		n := 100
		if strings.Contains(tc.header, "STFT") && !strings.Contains(tc.why, "stands") {
			n = 200
		}
		list, _ := reasons(t, logtest.CSV(t, tc.header, n, tc.row), tc.where, tc.opt)
		if got := runs(list); got != tc.want {
			t.Errorf("%s:\n got %s\nwant %s", tc.why, got, tc.want)
		}
	}
}

// A coolant and a status that are polled every eight seconds stand between
// their readings, though a reading is too old for evidence after two.
func TestFiltersSeldomPolled(t *testing.T) {
	path := logtest.CSV(t, "RPM,ECT,Fuel status", 300, func(i int) string {
		if i%80 == 0 {
			return "1000,88,2"
		}
		return "1000,,"
	})
	list, _ := reasons(t, path, "", FilterOptions{Use: []Filter{Warm, ClosedLoop}})
	if got := runs(list); got != "kept 0-299" {
		t.Errorf("polled every eight seconds: %s", got)
	}
	path = logtest.CSV(t, "RPM,ECT,Fuel status", 300, func(i int) string { return "1000," + []string{"88,2", ","}[min(i, 1)] })
	list, _ = reasons(t, path, "", FilterOptions{Use: []Filter{Warm, ClosedLoop}})
	if got := runs(list); got != "kept 0-120, no reading of a channel that a filter needs 121-299" {
		t.Errorf("read once: %s", got)
	}
}

// Every frame arrives whole and in order though limit cycles hold some back,
// over more instants than the scanner hands out at once.
func TestCyclesHoldFramesBack(t *testing.T) {
	path := logtest.CSV(t, "RPM,STFT (%)", 40_000, func(i int) string {
		return fmt.Sprintf("1000,%.3f", 3*math.Sin(2*math.Pi*float64(i)/37))
	})
	list, sel := reasons(t, path, "", FilterOptions{Use: []Filter{Cycles}})
	if len(list) != 40_000 || sel.Instants != 40_000 {
		t.Fatalf("%d instants arrived, %d counted, want 40000", len(list), sel.Instants)
	}
	if n := dropped(sel, PartCycle); n == 0 || n > 74 {
		t.Errorf("%d instants are part of a cycle, want those of two ends only", n)
	}
}

func TestFilterMissing(t *testing.T) {
	path := logtest.CSV(t, "RPM,ECT", 20, func(int) string { return "1000,90" })
	_, sel := reasons(t, path, "", FilterOptions{Steady: true})
	for _, f := range []string{"closed-loop", "overrun", "enrichment", "purge", "settled", "cycles"} {
		if !strings.Contains(strings.Join(sel.Notes, "\n"), "filter "+f+" skipped: the log has no ") {
			t.Errorf("nothing said of filter %s: %q", f, sel.Notes)
		}
	}
	log, err := drivelog.Open(path, nil, drivelog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close()
	_, err = selectFrom(context.Background(), log, nil, "", FilterOptions{Steady: true, Use: []Filter{Purge}}, nil)
	if want := "filter purge needs purge, which the log does not have"; err == nil || err.Error() != want {
		t.Errorf("error is %v, want %s", err, want)
	}
}

// TestClockLaw: which rows are evidence does not depend on where a log's clock begins, in
// steps of a tenth of a second, whose doubles differ.
func TestClockLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		of := func(label string, of ...string) string { return rapid.SampledFrom(of).Draw(t, label) }
		var rows []string
		var tenths []int
		now := 0
		for range rapid.IntRange(20, 120).Draw(t, "rows") {
			now += rapid.IntRange(1, 4).Draw(t, "step")
			tenths = append(tenths, now)
			rows = append(rows, strings.Join([]string{of("speed", "2000", "2000", "2060", "2120", ""), of("load", "40", "40", "40", "48"), of("status", "2", "2", "2", "2", "4"),
				of("short", "-2", "0", "2"), of("long", "1", "1", "1", "1", "2.2")}, ","))
		}
		by := func(begin float64) []Reason {
			var b strings.Builder
			b.WriteString("Time (s),RPM,Load (%),Fuel status,STFT (%),LTFT (%)\n")
			for i, row := range rows {
				fmt.Fprintf(&b, "%.1f,%s\n", begin+float64(tenths[i])/10, row)
			}
			log, err := drivelog.Open("-", strings.NewReader(b.String()), drivelog.Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer log.Close()
			var list []Reason
			if _, err = selectFrom(context.Background(), log, []string{"engine_speed"}, "", FilterOptions{Steady: true}, func(_ *drivelog.Frame, why []Reason) error {
				list = append(list, why...)
				return nil
			}); err != nil {
				t.Fatal(err)
			}
			return list
		}
		want := by(0)
		for _, begin := range []float64{0.3, 1234.5, 43199.7, 1764500000.1} {
			if got := by(begin); !slices.Equal(got, want) {
				t.Fatalf("by a clock that began at %v s:\n%s, want\n%s", begin, runs(got), runs(want))
			}
		}
	})
}
