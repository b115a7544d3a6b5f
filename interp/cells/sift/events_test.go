package sift

import (
	"context"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/logtest"
	"calsplice/tables/drivelog"
)

func eventsOf(t *testing.T, path, channel string, above float64, x, y *axes.Axis) []Event {
	t.Helper()
	log, err := drivelog.Open(path, nil, drivelog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer log.Close()
	list, err := listed(log, channel, above, x, y)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// listed keeps every event of a log.
func listed(log *drivelog.Log, channel string, above float64, x, y *axes.Axis) (list []Event, err error) {
	_, err = Events(context.Background(), log, channel, above, x, y, func(e *Event) {
		kept := *e
		kept.At = maps.Clone(e.At)
		list = append(list, kept)
	})
	return list, err
}

func summaryOf(events []Event) (s EventSummary) {
	for i := range events {
		s.Add(&events[i])
	}
	return s
}

// Events are those of the definition, found by brute force: for every run of
// rows strictly above the threshold that no longer one holds, its first and
// last time, its peak with the context of its first row, and whether it follows
// a lift: two throttle readings of the second before it that fall by ten points,
// and a peak without the throttle reopened by ten, and under 60 %.
func TestEventsByDefinition(t *testing.T) {
	for seed := range uint64(30) {
		r := rand.New(rand.NewPCG(seed, 3))
		n := 300
		knock, throttle := make([]float64, n), make([]float64, n)
		at := 40.0
		for i := range n {
			if r.IntN(3) > 0 && i > 0 {
				knock[i] = knock[i-1]
			} else if r.IntN(2) == 0 {
				knock[i] = float64(r.IntN(6))
			}
			if r.IntN(8) == 0 {
				at = float64(r.IntN(10) * 10)
			}
			throttle[i] = at
		}
		path := logtest.CSV(t, "RPM,TPS (%),KR (deg)", n, func(i int) string {
			return fmt.Sprintf("%d,%v,%v", 1000+i, throttle[i], knock[i])
		})
		above := float64(seed % 4)
		var want []string
		for i := 0; i < n; i++ {
			if !(knock[i] > above) || i > 0 && knock[i-1] > above {
				continue
			}
			j, peak := i, i
			for j+1 < n && knock[j+1] > above {
				if j++; knock[j] > knock[peak] {
					peak = j
				}
			}
			fell, lowest := false, throttle[i]
			for a := max(i-10, 0); a <= i; a++ {
				for b := a; b <= i; b++ {
					fell = fell || throttle[a]-throttle[b] >= 10
				}
			}
			for a := i; a <= peak; a++ {
				lowest = min(lowest, throttle[a])
			}
			lift := fell && throttle[peak]-lowest < 10 && throttle[peak] < 60
			want = append(want, fmt.Sprintf("%.1f %.1f %.1f %v %d %v %v", float64(i)/10, float64(j)/10, float64(j)/10-float64(i)/10,
				knock[peak], 1000+peak, throttle[peak], lift))
		}
		var got []string
		for _, e := range eventsOf(t, path, "knock_retard", above, nil, nil) {
			got = append(got, fmt.Sprintf("%.1f %.1f %.1f %v %v %v %v", e.Start, e.End, e.Duration, e.Peak, e.At["engine_speed"], e.At["throttle"], *e.AfterLift))
		}
		if strings.Join(got, "\n") != strings.Join(want, "\n") {
			t.Fatalf("seed %d:\n%s\nwant\n%s", seed, strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
	}
}

// A gap ends an event, a reading that is too old ends one, an event has its
// cell where axes are given, and a log without a throttle leaves open whether it
// was lifted.
func TestEventsEnd(t *testing.T) {
	path := filepath.Join(t.TempDir(), "drive.csv")
	text := "Time (s),RPM,KR (deg)\n0,1000,2\n1,1900,3\n2,1000,2\n60,1000,2\n61,1000,\n62,1000,\n63,1000,\n64,1000,\n65,1000,4\n"
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	list := eventsOf(t, path, "knock_retard", 0, logtest.Axis(t, "engine_speed", 1000, 2000), nil)
	if len(list) != 3 || list[0].End != 2 || list[1].Start != 60 || list[1].Duration != 0 || list[2].Start != 65 {
		t.Fatalf("events are %+v", list)
	}
	if *list[0].Cell != [2]int{0, 1} || list[0].AfterLift != nil || list[0].Line != 3 || math.Abs(list[0].Peak-3) > 0 {
		t.Errorf("the first event is %+v", list[0])
	}
}

// TestDurationIsDecimal: a duration has the digits of its log's clock, also where that
// counts from 1970 and a double of it holds no more than those.
func TestDurationIsDecimal(t *testing.T) {
	path := filepath.Join(t.TempDir(), "drive.csv")
	text := "Time,RPM,KR (deg)\n2026-05-12T08:00:03.2,1000,0\n2026-05-12T08:00:03.3,1000,2\n2026-05-12T08:00:03.4,1000,2\n2026-05-12T08:00:03.5,1000,0\n"
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if list := eventsOf(t, path, "knock_retard", 0, nil, nil); len(list) != 1 || list[0].Duration != 0.1 {
		t.Errorf("events are %+v, want one of 0.1 s", list)
	}
}

// A lift is no lift once the throttle is open again: under load at the peak, or
// wide open there.
func TestAfterLift(t *testing.T) {
	for _, row := range []struct {
		name     string
		throttle [8]float64 // knock at the rows 3 to 6, its peak at row 5
		want     bool
	}{
		{"lifted and shut", [8]float64{50, 50, 30, 10, 10, 10, 10, 10}, true},
		{"no lift", [8]float64{50, 50, 50, 50, 50, 50, 50, 50}, false},
		{"a lift of 9 points", [8]float64{50, 50, 41, 41, 41, 41, 41, 41}, false},
		{"opened again by 10 points at the peak", [8]float64{50, 50, 30, 10, 10, 20, 20, 20}, false},
		{"opened again by 9", [8]float64{50, 50, 30, 10, 10, 19, 19, 19}, true},
		{"opened again only after the peak", [8]float64{50, 50, 30, 10, 10, 10, 60, 60}, true},
		{"lifted from full throttle to 60 %", [8]float64{100, 100, 80, 60, 60, 60, 60, 60}, false},
		{"to just under 60 %", [8]float64{100, 100, 80, 59, 59, 59, 59, 59}, true},
	} {
		path := logtest.CSV(t, "RPM,TPS (%),KR (deg)", 8, func(i int) string {
			return fmt.Sprintf("3000,%v,%v", row.throttle[i], [8]float64{0, 0, 0, 1, 2, 3, 1, 0}[i])
		})
		list := eventsOf(t, path, "knock_retard", 0.5, nil, nil)
		if len(list) != 1 || *list[0].AfterLift != row.want {
			t.Errorf("%s: %+v, want one event, after_lift %v", row.name, list, row.want)
		}
	}
}

func TestSummariseEvents(t *testing.T) {
	yes, no := true, false
	at := func(row, column int) *[2]int { return &[2]int{row, column} }
	s := summaryOf([]Event{
		{Duration: 1, Peak: 2, AfterLift: &yes, Cell: at(0, 0)},
		{Duration: 2, Peak: 3, AfterLift: &no, Cell: at(1, 2)},
		{Duration: 4, Peak: 5, AfterLift: &no, Cell: at(0, 1)},
		{Duration: 3, Peak: 4, AfterLift: &no, Cell: at(1, 2)},
		{Duration: 1, Peak: 9, AfterLift: &yes, Cell: at(1, 2)},
	})
	if s.Events != 5 || s.Lifts != 2 || s.Seconds != 11 || s.Peak != 9 {
		t.Errorf("summary %+v", s)
	}
	if cells := s.Cells(); len(cells) != 3 || cells[0] != (EventCell{Cell: [2]int{1, 2}, Events: 3, Lifts: 1, Seconds: 6, Peak: 4}) ||
		cells[1].Cell != [2]int{0, 1} || cells[2].Cell != [2]int{0, 0} {
		t.Errorf("cells, worst first: %+v", cells)
	}
}
