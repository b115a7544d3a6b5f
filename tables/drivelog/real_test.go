package drivelog

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"calsplice/tables/drivelog/channel"
	"calsplice/tables/unit"
)

const realLogs = "../../testdata/logs/"

type expectedStats struct {
	N, Missing     int
	Min, Max, Mean *float64
}

func survey(t *testing.T, path string, opt Options) *Survey {
	t.Helper()
	l, err := Open(path, nil, opt)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	sv, err := l.Survey(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return sv
}

// TestRealLogs reads open logs as published and compares every column with
// figures that an independent program computed with exact sums
// (testdata/logs/expected.json).
func TestRealLogs(t *testing.T) {
	raw, err := os.ReadFile(realLogs + "expected.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Files map[string]struct {
			Rows     int
			Stats    map[string]expectedStats
			Channels map[string]expectedStats
		}
	}
	if err := json.Unmarshal(raw, &ref); err != nil {
		t.Fatal(err)
	}
	checked := 0
	for file, want := range ref.Files {
		sv := survey(t, realLogs+file, Options{})
		if sv.Rows != want.Rows {
			t.Errorf("%s: %d rows, want %d", file, sv.Rows, want.Rows)
		}
		for key, st := range want.Stats {
			checked++
			compare(t, file, sv, func(c *Channel) bool { return c.Header == key }, key, st)
		}
		for key, st := range want.Channels { // long form: name | unit
			checked++
			name, u, _ := strings.Cut(key, " | ")
			compare(t, file, sv, func(c *Channel) bool { return c.Header == strings.TrimSpace(name) }, key, inOwnUnit(t, name, u, st))
		}
	}
	if checked < 60 {
		t.Errorf("only %d columns were compared", checked)
	}
}

// inOwnUnit converts expected figures as the reader converts readings.
func inOwnUnit(t *testing.T, name, u string, st expectedStats) expectedStats {
	h := channel.ReadHeading(strings.TrimSpace(name))
	own := channel.UnitOf(h.Channel)
	conv := func(v float64) float64 {
		switch {
		case own == "" || h.Lesser:
			return v
		case own == "lambda":
			return v / 14.7
		}
		w, err := unit.Convert(v, u, own)
		if err != nil {
			t.Fatal(err)
		}
		return w
	}
	for _, p := range []**float64{&st.Min, &st.Max, &st.Mean} {
		v := conv(**p)
		*p = &v
	}
	return st
}

func compare(t *testing.T, file string, sv *Survey, is func(*Channel) bool, key string, want expectedStats) {
	t.Helper()
	for i := range sv.Channels {
		c := &sv.Channels[i]
		if !is(c) {
			continue
		}
		if c.Count != want.N || want.Mean != nil && c.Missing != want.Missing {
			t.Errorf("%s %s: %d readings, %d missing, want %d, %d", file, key, c.Count, c.Missing, want.N, want.Missing)
		}
		for _, p := range []struct {
			got  float64
			want *float64
		}{{float64(c.Min), want.Min}, {float64(c.Max), want.Max}, {float64(c.Mean), want.Mean}} {
			if p.want != nil && math.Abs(p.got-*p.want) > 1e-9*math.Max(1, math.Abs(*p.want)) {
				t.Errorf("%s %s: got %v, want %v", file, key, p.got, *p.want)
			}
		}
		return
	}
	t.Errorf("%s: no column %s", file, key)
}

// TestRealDefects counts the defects that testdata/logs/SOURCE.md lists.
func TestRealDefects(t *testing.T) {
	for _, c := range []struct {
		file, kind string
		count      int
		why        string
	}{
		{"log-a.csv", "clock-repeat", 2751, "a clock of whole seconds under two rows a second"},
		{"log-a.csv", "ragged", 0, "a comma at the end of every row but the header is the logger's habit"},
		{"log-b.csv", "clock-repeat", 865, "the same clock"},
		{"log-c.csv", "ragged", 2287, "24 fields under 27 headings"},
		{"log-e.csv", "gap", 7, "gaps up to 62 s in 11 rows a second"},
		{"log-f.csv", "gap", 16, "gaps up to 73 s"},
		{"log-h.csv", "clock-back", 2, "four drivers in one file"},
		{"log-h.csv", "clock-missing", 2, "rows without a run time"},
		{"log-i.csv", "clock-back", 17, "eighteen trips in one file"},
	} {
		n := 0
		for _, f := range survey(t, realLogs+c.file, Options{}).Faults {
			if f.Kind == c.kind {
				n = f.Count
			}
		}
		if n != c.count {
			t.Errorf("%s: %d %s, want %d: %s", c.file, n, c.kind, c.count, c.why)
		}
	}
	for _, f := range survey(t, realLogs+"log-d.csv", Options{}).Faults {
		t.Errorf("log-d.csv is clean, found %v", f)
	}
}
