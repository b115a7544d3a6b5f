package sift

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/interp/cells/logtest"
	"calsplice/tables/drivelog"
)

// selectFrom scans a log through a selector of its own.
func selectFrom(ctx context.Context, log *drivelog.Log, columns []string, where string, opt FilterOptions, fn func(*drivelog.Frame, []Reason) error) (*Selection, error) {
	s, err := NewSelector(log, drivelog.Query{Columns: columns}, where, opt, fn)
	if err != nil {
		return nil, err
	}
	reading, err := log.ScanFor(ctx, s.Reader())
	if err != nil {
		return nil, err
	}
	return s.End(reading)
}

// dropped is how many instants were left out for a reason.
func dropped(sel *Selection, why Reason) (n int) {
	for _, d := range sel.Dropped {
		if d.Reason == why.String() {
			n += d.Count
		}
	}
	return n
}

// TestFilterGuards: each filter leaves out what it is for and nothing beside it.
func TestFilterGuards(t *testing.T) {
	step := func(from, to int) func(i int) string {
		return func(i int) string { return fmt.Sprint(logtest.Pick(i < 50, float64(from), float64(to))) }
	}
	status := func(i int) string { return fmt.Sprint(logtest.Pick(i < 20, 1, 2)) }
	for _, tc := range []struct {
		why, header string
		row         func(i int) string
		opt         FilterOptions
		want        string
	}{
		{"a deceleration is as unsteady as an acceleration", "RPM", step(2000, 1000), FilterOptions{Use: []Filter{Rates}}, "not steady 0-9, kept 10-49, not steady 50-62, kept 63-99"},
		{"a throttle lift is as unsteady as tipping in", "RPM,Throttle (%)", func(i int) string { return "2000," + step(40, 5)(i) }, FilterOptions{Use: []Filter{Rates}},
			"not steady 0-9, kept 10-49, not steady 50-62, kept 63-99"},
		{"a manifold that empties is unsteady where no load is logged", "RPM,MAP", func(i int) string { return "2000," + step(90, 30)(i) }, FilterOptions{Use: []Filter{Rates}},
			"not steady 0-9, kept 10-49, not steady 50-62, kept 63-99"},
		{"a step within the bound is steady", "RPM", step(2000, 2010), FilterOptions{Use: []Filter{Rates}}, "not steady 0-9, kept 10-99"},
		{"a little purge is purge", "RPM,Purge (%)", func(i int) string { return "1000," + fmt.Sprint(logtest.Pick(i < 50, 0, 0.4)) }, FilterOptions{Use: []Filter{Purge}}, "kept 0-49, purge 50-99"},
		{"4.9 % of purge too", "RPM,Purge (%)", func(i int) string { return "1000," + fmt.Sprint(logtest.Pick(i < 50, 0, 4.9)) }, FilterOptions{Use: []Filter{Purge}}, "kept 0-49, purge 50-99"},
		{"a pulse of 0.04 ms is a cut, one of 0.05 not", "RPM,Injector PW (ms)", func(i int) string { return "1000," + fmt.Sprint(logtest.Pick(i < 50, 0.05, 0.04)) },
			FilterOptions{Use: []Filter{Overrun}}, "kept 0-49, fuel cut on the overrun 50-99"},
		{"a trim settles after a cut that the pulse tells", "RPM,Injector PW (ms),LTFT (%)",
			func(i int) string { return fmt.Sprintf("1000,%v,0", logtest.Pick(i < 20 || i >= 40, 3, 0.04)) }, FilterOptions{Use: []Filter{Settled}}, "kept 0-39, trim not settled 40-69, kept 70-99"},
		{"no cut, no settling", "RPM,Injector PW (ms),LTFT (%)", func(i int) string { return "1000,3,0" }, FilterOptions{Use: []Filter{Settled}}, "kept 0-99"},
		{"a trim settles after the loop closes", "RPM,Fuel status,LTFT (%)", func(i int) string { return "1000," + status(i) + ",0" }, FilterOptions{Use: []Filter{Settled}},
			"kept 0-19, trim not settled 20-49, kept 50-99"},
		{"a mixture of 0 is a column that is never filled", "RPM,Commanded lambda", func(i int) string { return fmt.Sprintf("1000,%v", logtest.Pick(i < 50, 0, 0.5)) },
			FilterOptions{Use: []Filter{Enrichment}}, "kept 0-49, commanded enrichment 50-99"},
		{"a closed throttle at idle is no cut", "RPM,Throttle (%)", func(i int) string {
			return fmt.Sprintf("%v,%v", logtest.Pick(i < 50, 1500, 1501), logtest.Pick(i < 10, 20, 3))
		},
			FilterOptions{Use: []Filter{Overrun}}, "kept 0-49, fuel cut on the overrun 50-99"},
		{"nor is one that was never opened", "RPM,Throttle (%)", func(i int) string { return fmt.Sprintf("2500,%v", logtest.Pick(i < 10, 7.9, 3)) }, FilterOptions{Use: []Filter{Overrun}}, "kept 0-99"},
	} {
		list, _ := reasons(t, logtest.CSV(t, tc.header, 100, tc.row), "", tc.opt)
		if got := runs(list); got != tc.want {
			t.Errorf("%s:\n got %s\nwant %s", tc.why, got, tc.want)
		}
	}
}

// TestStatus16IsSaid: closed loop with a fault counts, and that is said where it
// did, and only there.
func TestStatus16IsSaid(t *testing.T) {
	for status, want := range map[int]bool{2: false, 16: true} {
		_, sel := reasons(t, logtest.CSV(t, "RPM,Fuel status", 100, func(i int) string { return fmt.Sprintf("1000,%d", status) }), "", FilterOptions{Use: []Filter{ClosedLoop}})
		if got := strings.Contains(strings.Join(sel.Notes, "\n"), "fuel status 16 (closed loop with a fault) counts as closed loop here"); got != want {
			t.Errorf("status %d: %q", status, sel.Notes)
		}
	}
}

// TestNothingHeldAcrossARestart: a coolant read once before a gap stands for a
// minute, but not past the gap: the engine may have cooled down.
func TestNothingHeldAcrossARestart(t *testing.T) {
	for gap, want := range map[float64]string{0.2: "kept 0-39", 20: "kept 0-19, no reading of a channel that a filter needs 20-39"} {
		var b strings.Builder
		b.WriteString("Time (s),RPM,ECT\n0,1000,88\n")
		for i := 1; i < 40; i++ {
			fmt.Fprintf(&b, "%.1f,1000,\n", float64(i)/5+logtest.Pick(i < 20, 0, gap))
		}
		path := filepath.Join(t.TempDir(), "drive.csv")
		if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
			t.Fatal(err)
		}
		log, err := drivelog.Open(path, nil, drivelog.Options{})
		if err != nil {
			t.Fatal(err)
		}
		defer log.Close()
		var list []Reason
		_, err = selectFrom(context.Background(), log, []string{"engine_speed"}, "", FilterOptions{Use: []Filter{Warm}}, func(f *drivelog.Frame, why []Reason) error {
			list = append(list, why[:f.N]...)
			return nil
		})
		if got := runs(list); err != nil || got != want {
			t.Errorf("a gap of %v s: %s, want %s (%v)", gap, got, want, err)
		}
	}
}

// TestWhereOfWhatIsNotRead: a condition on a channel without a reading does not
// hold; one that is a number holds where it is not 0.
func TestWhereOfWhatIsNotRead(t *testing.T) {
	path := logtest.CSV(t, "RPM,ECT", 100, func(i int) string { return "1000," + pickText(i < 50, "", "80") })
	for where, want := range map[string]string{
		"coolant > 70": "outside --where 0-49, kept 50-99", "coolant - 80": "outside --where 0-99", "coolant - 79": "outside --where 0-49, kept 50-99", "coolant / 40": "outside --where 0-49, kept 50-99",
	} {
		list, _ := reasons(t, path, where, FilterOptions{})
		if got := runs(list); got != want {
			t.Errorf("%s: %s, want %s", where, got, want)
		}
	}
}

func pickText(ok bool, a, b string) string {
	if ok {
		return a
	}
	return b
}

// TestFollowsLift: an event of which nobody knows whether a lift came before follows none.
func TestFollowsLift(t *testing.T) {
	yes, no := true, false
	for _, e := range []Event{{AfterLift: &yes}, {AfterLift: &no}, {}} {
		if e.FollowsLift() != (e.AfterLift == &yes) {
			t.Errorf("%+v", e)
		}
	}
}

// TestSideBySide: selectors of one log judge side by side as each does alone, whatever
// bounds they go by.
func TestSideBySide(t *testing.T) {
	file := logtest.CSV(t, "RPM,ECT,Throttle (%),Fuel status,LTFT (%)", 400, func(i int) string {
		return fmt.Sprintf("%v,%v,%v,%v,0", 1000+400*(i/50%2), 50+i/10, logtest.Pick(i%200 < 100, 5, 40), logtest.Pick(i%130 < 20, 1, 2))
	})
	cold := 60.0
	long := 12.0
	options := []FilterOptions{{Steady: true}, {Steady: true, SpeedRate: 1500}, {Steady: true, WarmAt: &cold}, {Steady: true, SettleTrim: &long},
		{Steady: true, Not: []Filter{ClosedLoop, Rates}}}
	log, err := drivelog.Open(file, nil, drivelog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close()
	beside := make([][]Reason, len(options))
	var readers []drivelog.Reader
	var selectors []*Selector
	for k, opt := range options {
		s, err := NewSelector(log, drivelog.Query{}, "", opt, func(_ *drivelog.Frame, why []Reason) error {
			beside[k] = append(beside[k], why...)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		selectors, readers = append(selectors, s), append(readers, s.Reader())
	}
	reading, err := log.ScanFor(context.Background(), readers...)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	for k, s := range selectors {
		if _, err := s.End(reading); err != nil {
			t.Fatal(err)
		}
		alone, _ := reasons(t, file, "", options[k])
		got, want := runs(beside[k]), runs(alone)
		if got != want {
			t.Errorf("%v:\n got %s\nwant %s", options[k], got, want)
		}
		if seen[want]++; seen[want] > 1 {
			t.Errorf("%v: as another, so nothing is told: %s", options[k], want)
		}
	}
}
