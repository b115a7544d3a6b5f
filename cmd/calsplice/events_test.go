package main

import (
	"bytes"
	"os"
	"runtime"
	"testing"

	"calsplice/interp/cells/sift"
	"calsplice/tables/strictjson"
)

// TestEventListAsPrinted: events that go through a file are printed as a list in memory
// would be, and leave no file behind.
func TestEventListAsPrinted(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	t.Setenv("TMP", temp)
	lift := true
	events := []sift.Event{{Start: 1, Peak: 2, At: map[string]float64{}}, {Start: 3, AfterLift: &lift, At: map[string]float64{"engine_speed": 900, "load": 1.5}}, {Cell: &[2]int{1, 2}, Line: 7}}
	for n := range len(events) + 1 {
		l := newEventList()
		for i := range events[:n] {
			l.add(&events[i])
		}
		if left := entries(t, temp); len(left) > 0 && runtime.GOOS != "windows" {
			t.Errorf("a program that is killed leaves %v behind", left)
		}
		var got, want bytes.Buffer
		if err := l.print(&got); err != nil {
			t.Fatal(err)
		}
		l.remove()
		strictjson.Print(&want, map[string][]sift.Event{"events": append([]sift.Event{}, events[:n]...)})
		if got.String() != want.String() {
			t.Errorf("%d events: %s, want %s", n, got.String(), want.String())
		}
	}
	if left := entries(t, temp); len(left) > 0 {
		t.Errorf("%v is left behind", left)
	}
	(*eventList)(nil).add(&events[0]) // which nobody asked for: it keeps nothing
}

func entries(t *testing.T, folder string) (names []string) {
	t.Helper()
	list, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		names = append(names, e.Name())
	}
	return names
}
